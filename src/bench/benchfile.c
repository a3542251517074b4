#include "bench/benchfile.h"
#include "base/ini.h"
#include "base/mem.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Limits of what a bench can mean; beyond them it is a slip of the pen. */
#define FORCE_MOST_N 20000.0
#define DRAW_MOST_M 3.0
#define SPEED_MOST_M_S 20.0
#define WAIT_MOST_S 600.0
#define RATE_MOST_HZ 20000.0
#define GIVE_MOST_M 0.2
#define ANGLE_MOST_DEG 45.0
#define HOOK_MOST_N 500.0
#define U_BRACE_MOST_M 0.05

/* Controllers send at least a few lines a second: a pause longer than this is worth a word. */
#define SILENCE_S 1.5
#define START_WAIT_S 5.0
#define REOPEN_S 10.0

/* A brace height taken with a square or a rule, as a standard uncertainty. */
#define U_BRACE_IN 0.02

enum { NAME_LENGTH_MAX = 100 };

static enum status read_names(struct bench *bench, struct ini *ini, struct err *err)
{
    const char *name = ini_text(ini, "bench", "name");
    if (name == NULL || name[0] == '\0')
        return ini_fault(ini, "bench", "name", err,
                         "is missing and needed: calibrations are kept under it");
    if (strlen(name) > NAME_LENGTH_MAX)
        return ini_fault(ini, "bench", "name", err, "is longer than %d bytes", NAME_LENGTH_MAX);
    const char *port = ini_text(ini, "bench", "port");
    const char *line = ini_text(ini, "bench", "line");
    if (line != NULL && strcmp(line, "pullcurve") != 0)
        return ini_fault(ini, "bench", "line", err,
                         "'%s' is not known; 'pullcurve' is (docs/wire-format.md)", line);
    bench->name = mem_strdup(name);
    bench->port = mem_strdup(port != NULL ? port : "");
    return STATUS_OK;
}

/* "8N1": data bits, parity, stop bits. */
static enum status read_framing(struct bench *bench, struct ini *ini, struct err *err)
{
    const char *text = ini_text(ini, "bench", "framing");
    if (text == NULL)
        text = "8N1";
    static const char parities[] = "NOE";
    const char *parity = strlen(text) == 3 ? strchr(parities, text[1]) : NULL;
    if (parity == NULL || (text[0] != '7' && text[0] != '8') || (text[2] != '1' && text[2] != '2'))
        return ini_fault(ini, "bench", "framing", err,
                         "'%s' is not a framing; write 8N1 (data bits 7 or 8, parity N, O or E, "
                         "stop bits 1 or 2)",
                         text);
    bench->line.data_bits = text[0] - '0';
    bench->line.stop_bits = text[2] - '0';
    bench->line.parity = (enum port_parity)(parity - parities);
    return STATUS_OK;
}

static enum status read_line(struct bench *bench, struct ini *ini, struct err *err)
{
    int64_t baud;
    enum status status = ini_int(ini, "bench", "baud", 1, 10000000, 115200, &baud, err);
    if (status != STATUS_OK)
        return status;
    if (!port_baud_known((int)baud))
        return ini_fault(ini, "bench", "baud", err,
                         "%lld is not a usual speed; 9600, 57600, 115200 and 230400 are",
                         (long long)baud);
    bench->line.baud = (int)baud;
    bench->line.transport = PORT_TRANSPORT_AUTO;
    status = read_framing(bench, ini, err);
    if (status != STATUS_OK)
        return status;
    status = ini_quantity(ini, "bench", "rate", QUANTITY_NONE, UNIT_NONE, 0.1, RATE_MOST_HZ, 0,
                          &bench->stream.rate_hz, err);
    if (status != STATUS_OK)
        return status;
    status = ini_quantity(ini, "bench", "start_wait", QUANTITY_TIME, UNIT_S, 0, WAIT_MOST_S,
                          START_WAIT_S, &bench->start_wait_s, err);
    if (status != STATUS_OK)
        return status;
    return ini_quantity(ini, "bench", "reopen", QUANTITY_TIME, UNIT_S, 0, WAIT_MOST_S, REOPEN_S,
                        &bench->reopen_s, err);
}

static enum status read_range(struct count_range *range, struct ini *ini, const char *section,
                              struct err *err)
{
    int64_t low, high;
    enum status status =
        ini_int(ini, section, "count_min", INT32_MIN, INT32_MAX, INT32_MIN, &low, err);
    if (status != STATUS_OK)
        return status;
    status = ini_int(ini, section, "count_max", INT32_MIN, INT32_MAX, INT32_MAX, &high, err);
    if (status != STATUS_OK)
        return status;
    if (low >= high)
        return ini_fault(ini, section, "count_max", err, "must be more than count_min");
    range->low = (int32_t)low;
    range->high = (int32_t)high;
    return STATUS_OK;
}

static enum status read_datum(struct bench *bench, struct ini *ini, struct err *err)
{
    const char *text = ini_text(ini, "travel", "datum");
    if (text == NULL || strcmp(text, "brace") == 0)
        bench->datum = BENCH_DATUM_BRACE;
    else if (strcmp(text, "pivot") == 0)
        bench->datum = BENCH_DATUM_PIVOT;
    else
        return ini_fault(ini, "travel", "datum", err,
                         "'%s' is not known; 'brace' (the rest position is the brace height) and "
                         "'pivot' (the calibration counts from the grip pivot point) are",
                         text);
    return STATUS_OK;
}

static enum status read_guard(struct guard_limits *limits, struct ini *ini, struct err *err)
{
    enum status status = ini_quantity(ini, "guard", "force_limit", QUANTITY_FORCE, UNIT_LBF, 0,
                                      FORCE_MOST_N, INFINITY, &limits->force_n, err);
    if (status != STATUS_OK)
        return status;
    status = ini_quantity(ini, "guard", "travel_limit", QUANTITY_LENGTH, UNIT_IN, 0, DRAW_MOST_M,
                          INFINITY, &limits->draw_m, err);
    if (status != STATUS_OK)
        return status;
    status = ini_quantity(ini, "guard", "speed_limit", QUANTITY_SPEED, UNIT_M_PER_S, 0,
                          SPEED_MOST_M_S, INFINITY, &limits->speed_m_s, err);
    if (status != STATUS_OK)
        return status;
    return ini_quantity(ini, "guard", "silence", QUANTITY_TIME, UNIT_S, 0.05, WAIT_MOST_S,
                        SILENCE_S, &limits->silence_s, err);
}

/* A length that the fixture gives under a force; its uncertainty is of that length. */
static enum status read_give(struct fixture *fixture, struct ini *ini, struct err *err)
{
    double give_m, u_give_m, force_n;
    enum status status = ini_quantity(ini, "fixture", "give_length", QUANTITY_LENGTH, UNIT_IN, 0,
                                      GIVE_MOST_M, 0, &give_m, err);
    if (status == STATUS_OK)
        status = ini_quantity(ini, "fixture", "u_give_length", QUANTITY_LENGTH, UNIT_IN, 0,
                              GIVE_MOST_M, 0, &u_give_m, err);
    if (status == STATUS_OK)
        status = ini_quantity(ini, "fixture", "give_force", QUANTITY_FORCE, UNIT_LBF, 1,
                              FORCE_MOST_N, 0, &force_n, err);
    if (status != STATUS_OK)
        return status;
    bool has_length = give_m > 0 || u_give_m > 0;
    if (has_length && force_n <= 0)
        return ini_fault(ini, "fixture", "give_force", err,
                         "is missing: say at which force the frame gives the length of "
                         "give_length");
    if (force_n > 0) {
        fixture->give_m_per_n = give_m / force_n;
        fixture->u_give_m_per_n = u_give_m / force_n;
    }
    return STATUS_OK;
}

static enum status read_yes(bool *yes, struct ini *ini, const char *key, struct err *err)
{
    const char *text = ini_text(ini, "fixture", key);
    *yes = text != NULL && strcmp(text, "yes") == 0;
    if (text == NULL || *yes || strcmp(text, "no") == 0)
        return STATUS_OK;
    return ini_fault(ini, "fixture", key, err, "'%s' is neither yes nor no", text);
}

static enum status read_fixture(struct fixture *fixture, struct ini *ini, struct err *err)
{
    const struct {
        const char *key;
        enum quantity quantity;
        enum unit unit;
        double low_si, high_si, absent_si;
        double *value_si;
    } row[] = {
        {"pull_angle", QUANTITY_ANGLE, UNIT_DEG, -unit_to_si(UNIT_DEG, ANGLE_MOST_DEG),
         unit_to_si(UNIT_DEG, ANGLE_MOST_DEG), 0, &fixture->angle_rad},
        {"u_pull_angle", QUANTITY_ANGLE, UNIT_DEG, 0, unit_to_si(UNIT_DEG, ANGLE_MOST_DEG), 0,
         &fixture->u_angle_rad},
        {"hook_weight", QUANTITY_FORCE, UNIT_LBF, -HOOK_MOST_N, HOOK_MOST_N, 0, &fixture->hook_n},
        {"u_hook_weight", QUANTITY_FORCE, UNIT_LBF, 0, HOOK_MOST_N, 0, &fixture->u_hook_n},
        {"u_brace", QUANTITY_LENGTH, UNIT_IN, 0, U_BRACE_MOST_M, unit_to_si(UNIT_IN, U_BRACE_IN),
         &fixture->u_brace_m},
    };
    enum status status = read_give(fixture, ini, err);
    for (size_t i = 0; i < sizeof row / sizeof row[0] && status == STATUS_OK; i++)
        status =
            ini_quantity(ini, "fixture", row[i].key, row[i].quantity, row[i].unit, row[i].low_si,
                         row[i].high_si, row[i].absent_si, row[i].value_si, err);
    if (status == STATUS_OK)
        status = read_yes(&fixture->tare, ini, "tare", err);
    if (status == STATUS_OK)
        status = read_yes(&fixture->drift, ini, "drift", err);
    return status;
}

static enum status read_all(struct bench *bench, struct ini *ini, struct err *err)
{
    enum status status = read_names(bench, ini, err);
    if (status == STATUS_OK)
        status = read_line(bench, ini, err);
    if (status == STATUS_OK)
        status = read_range(&bench->stream.force, ini, "force", err);
    if (status == STATUS_OK)
        status = read_range(&bench->stream.travel, ini, "travel", err);
    if (status == STATUS_OK)
        status = read_datum(bench, ini, err);
    if (status == STATUS_OK)
        status = read_guard(&bench->guard, ini, err);
    if (status == STATUS_OK)
        status = read_fixture(&bench->fixture, ini, err);
    if (status == STATUS_OK)
        status = ini_check_all_known(ini, err);
    return status;
}

enum status benchfile_read(struct bench *bench, const char *path, struct err *err)
{
    *bench = (struct bench){0};
    struct ini *ini = NULL;
    enum status status = ini_open(&ini, path, err);
    if (status == STATUS_OK)
        status = read_all(bench, ini, err);
    ini_close(ini);
    if (status != STATUS_OK)
        bench_clear(bench);
    return status;
}

void bench_clear(struct bench *bench)
{
    free(bench->name);
    free(bench->port);
    *bench = (struct bench){0};
}
