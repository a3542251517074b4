#include "stand.h"
#include "check.h"

#include <stdlib.h>
#include <string.h>

static const char bench_name[] = "test bench";
static struct err err;

void stand_write(const char *path, const char *text)
{
    struct buf file = {0};
    buf_text(&file, text);
    check_ok(buf_write_file(&file, path, &err));
    buf_clear(&file);
}

static void calibrate(const char *path)
{
    struct calibration_point force[] = {
        {.reference_si = 0, .count = 0, .run = 1},
        {.reference_si = 100, .count = 100 * CONTROLLER_FORCE_COUNTS_PER_N, .run = 1}};
    struct calibration_point travel[] = {
        {.reference_si = 0, .count = 0, .run = 1},
        {.reference_si = 0.5, .count = 0.5 * CONTROLLER_TRAVEL_COUNTS_PER_M, .run = 1}};
    char name[sizeof bench_name], note[] = "";
    memcpy(name, bench_name, sizeof name);
    struct record_calibration of_force = {.bench = name,
                                          .quantity = QUANTITY_FORCE,
                                          .n_terms = 2,
                                          .note = note,
                                          .points = force,
                                          .n_points = 2};
    struct record_calibration of_travel = of_force;
    of_travel.quantity = QUANTITY_LENGTH;
    of_travel.points = travel;
    struct record *record;
    check_ok(record_open(&record, path, RECORD_CREATE, &err));
    check_ok(record_calibration_add(record, &of_force, &err));
    check_ok(record_calibration_add(record, &of_travel, &err));
    record_close(record);
}

void stand_open(struct stand *stand, const char *more)
{
    *stand = (struct stand){.folder = "/tmp/test_capture_XXXXXX"};
    assert_non_null(mkdtemp(stand->folder));
    (void)snprintf(stand->record, sizeof stand->record, "%s/record.db", stand->folder);
    (void)snprintf(stand->bench, sizeof stand->bench, "%s/bench.ini", stand->folder);
    struct buf text = {0};
    buf_printf(&text, "[bench]\nname = %s\nstart_wait = 0.5 s\nreopen = 2 s\n%s", bench_name, more);
    stand_write(stand->bench, buf_string(&text));
    buf_clear(&text);
    calibrate(stand->record);
}

void stand_close(struct stand *stand)
{
    child_clear(&stand->program);
    if (stand->controller.pid > 0)
        controller_end(&stand->controller);
    const char *const sweep[] = {"rm", "-rf", stand->folder, NULL};
    struct child rm;
    child_start(&rm, sweep);
    assert_int_equal(child_wait(&rm, PATIENCE_S), 0);
    child_clear(&rm);
}

void stand_start(struct stand *stand, const struct controller_script *script,
                 const char *const more[6])
{
    controller_start(&stand->controller, script);
    const char *arguments[16] = {"capture",     "--bench", stand->bench,          "--record",
                                 stand->record, "--port",  stand->controller.port};
    for (size_t i = 0; i < 6; i++)
        arguments[7 + i] = more[i];
    child_start_program(&stand->program, arguments);
}

int stand_run(struct stand *stand, const struct controller_script *script,
              const char *const more[6])
{
    stand_start(stand, script, more);
    return child_wait(&stand->program, PATIENCE_S);
}

void stand_check_exit(const struct stand *stand, int code, int expected)
{
    if (code != expected)
        fail_msg("exit %d, expected %d; it said: %s%s", code, expected,
                 buf_string(&stand->program.out), buf_string(&stand->program.err));
}

void stand_check_said(const struct stand *stand, const char *part)
{
    if (strstr(buf_string(&stand->program.err), part) == NULL &&
        strstr(buf_string(&stand->program.out), part) == NULL)
        fail_msg("'%s' was not said: %s%s", part, buf_string(&stand->program.out),
                 buf_string(&stand->program.err));
}

struct kept kept_look(const struct stand *stand)
{
    struct kept kept = {0};
    struct record *record;
    check_ok(record_open(&record, stand->record, RECORD_READ, &err));
    check_ok(record_capture_find(record, "last", &kept.capture, &err));
    check_ok(record_capture_readings(record, kept.capture.key, &kept.readings, &kept.n, &err));
    record_close(record);
    return kept;
}

void kept_clear(struct kept *kept)
{
    record_capture_clear(&kept->capture);
    free(kept->readings);
}

void stand_check_no_capture(const struct stand *stand)
{
    struct record *record;
    struct record_capture capture;
    check_ok(record_open(&record, stand->record, RECORD_READ, &err));
    assert_int_equal(record_capture_find(record, "last", &capture, &err), STATUS_NO_INPUT);
    record_close(record);
}

void kept_check_unbroken(const struct kept *kept)
{
    assert_true(kept->n > 0);
    for (size_t i = 0; i < kept->n; i++) {
        assert_int_equal(kept->readings[i].sequence, kept->readings[0].sequence + i);
        assert_int_equal(kept->readings[i].device_us - kept->readings[0].device_us, i * 12500);
        assert_true(i == 0 || kept->readings[i].arrival_us >= kept->readings[i - 1].arrival_us);
        assert_int_equal(kept->readings[i].flags,
                         RAW_HAS_FORCE | RAW_HAS_TRAVEL | RAW_HAS_DEVICE_TIME | RAW_HAS_SEQUENCE);
    }
}
