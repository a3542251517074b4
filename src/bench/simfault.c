#include "bench/simfault.h"
#include "base/buf.h"
#include "base/number.h"

#include <assert.h>
#include <stdbool.h>
#include <string.h>

static const struct {
    const char *name, *help;
    double low, high, absent;
    bool may_have_second;
} table[SIMFAULT_COUNT] = {
    [SIMFAULT_GARBAGE] = {"garbage", "garbage[:CHANCE]: random bytes between lines", 0, 1, 0.01,
                          false},
    [SIMFAULT_GAPS] = {"gaps", "gaps[:CHANCE]: lines are lost", 0, 1, 0.01, false},
    [SIMFAULT_FLIP] = {"flip", "flip[:CHANCE]: a bit of a line is wrong", 0, 1, 0.01, false},
    [SIMFAULT_CHECKSUM] = {"checksum", "checksum[:CHANCE]: a line's checksum is wrong", 0, 1, 0.01,
                           false},
    [SIMFAULT_SATURATION] = {"saturation",
                             "saturation[:LBF]: the force converter is at its end from this force",
                             0, 1000, 40, false},
    [SIMFAULT_SILENCE] = {"silence",
                          "silence[:INCHES[,SECONDS]]: no lines from this draw on, for so long", 0,
                          100, 20, true},
    [SIMFAULT_HANG_UP] = {"hang-up",
                          "hang-up[:INCHES[,SECONDS]]: the port goes away at this draw, and is "
                          "back after so long",
                          0, 100, 20, true},
};

const char *simfault_name(enum simfault_kind kind)
{
    assert(kind < SIMFAULT_COUNT);
    return table[kind].name;
}

const char *simfault_help(enum simfault_kind kind)
{
    assert(kind < SIMFAULT_COUNT);
    return table[kind].help;
}

static enum status bad_argument(const char *text, enum simfault_kind kind, struct err *err)
{
    char low[NUMBER_TEXT_MAX], high[NUMBER_TEXT_MAX];
    return err_set(err, STATUS_USAGE, "fault '%s': %s (%s to %s)", text, table[kind].help,
                   number_exact(low, table[kind].low), number_exact(high, table[kind].high));
}

static enum status parse_arguments(const char *text, const char *at, struct simfault *fault,
                                   struct err *err)
{
    const char *end = text + strlen(text);
    enum simfault_kind kind = fault->kind;
    const char *stop = number_scan(at, end, '.', &fault->first);
    if (stop == NULL || fault->first < table[kind].low || fault->first > table[kind].high)
        return bad_argument(text, kind, err);
    if (*stop == ',' && table[kind].may_have_second) {
        stop = number_scan(stop + 1, end, '.', &fault->second);
        if (stop == NULL || !(fault->second > 0.0) || !(fault->second <= 3600.0))
            return bad_argument(text, kind, err);
    }
    return *stop == '\0' ? STATUS_OK : bad_argument(text, kind, err);
}

enum status simfault_parse(const char *text, struct simfault *out, struct err *err)
{
    size_t length = strcspn(text, ":");
    for (int kind = 0; kind < SIMFAULT_COUNT; kind++) {
        if (strlen(table[kind].name) != length || strncmp(table[kind].name, text, length) != 0)
            continue;
        struct simfault fault = {.kind = (enum simfault_kind)kind, .first = table[kind].absent};
        enum status status = STATUS_OK;
        if (text[length] == ':')
            status = parse_arguments(text, text + length + 1, &fault, err);
        if (status == STATUS_OK)
            *out = fault;
        return status;
    }
    struct buf names = {0};
    for (int kind = 0; kind < SIMFAULT_COUNT; kind++)
        buf_printf(&names, "%s%s", kind > 0 ? ", " : "", table[kind].name);
    err_set(err, STATUS_USAGE, "there is no fault '%s'; there are %s", text, buf_string(&names));
    buf_clear(&names);
    return STATUS_USAGE;
}
