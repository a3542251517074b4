/* capture: the program as a technician meets it when something goes wrong, on a bench that a script
 * plays. What was measured is kept, and what happened is told. */
#include "check.h"
#include "stand.h"

#include <signal.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>

static struct err err;

/* --- it goes wrong -------------------------------------------------------------------------- */

static void garbled_and_missing_lines_are_counted(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    struct controller_script script = {
        .speed = 20, .n_pulls = 1, .garble_every = 50, .leave_out_every = 70};
    stand_check_exit(&stand, stand_run(&stand, &script, ALONE), 0);
    struct kept kept = kept_look(&stand);
    const struct capture_counts *counts = &kept.capture.counts;
    size_t n_sent = kept.readings[kept.n - 1].sequence + 1;
    int64_t garbled = 0, left_out = 0;
    for (size_t i = 0; i < n_sent; i++) {
        left_out += i % 70 == 69;
        garbled += i % 50 == 49 && i % 70 != 69;
    }
    assert_int_equal(counts->n_bad_checksum + counts->n_malformed, garbled);
    assert_int_equal(counts->n_lost, garbled + left_out);
    assert_int_equal(kept.n, n_sent - (size_t)(garbled + left_out));
    assert_int_equal(kept.capture.state, CAPTURE_COMPLETE);
    for (size_t i = 1; i < kept.n; i++)
        assert_int_equal((kept.readings[i].flags & RAW_AFTER_GAP) != 0,
                         kept.readings[i].sequence != kept.readings[i - 1].sequence + 1);
    kept_clear(&kept);
    stand_close(&stand);
}

static void a_restart_of_the_controller_is_a_gap(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    struct controller_script script = {.speed = 20, .n_pulls = 1, .restart_at = 300};
    stand_check_exit(&stand, stand_run(&stand, &script, WITH("--json")), 0);
    stand_check_said(&stand, "\"restarts\": 1");
    struct kept kept = kept_look(&stand);
    size_t n_gaps = 0;
    for (size_t i = 1; i < kept.n; i++) {
        n_gaps += (kept.readings[i].flags & RAW_AFTER_GAP) != 0;
        assert_true(kept.readings[i].device_us > kept.readings[i - 1].device_us);
    }
    assert_int_equal(n_gaps, 1);
    kept_clear(&kept);
    stand_close(&stand);
}

static void silence_is_told(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    stand_check_exit(&stand, stand_run(&stand, &(struct controller_script){.silent = true}, ALONE),
                     69);
    stand_check_said(&stand, "not one byte");
    stand_check_no_capture(&stand);
    stand_close(&stand);
}

static void nothing_but_garbage_points_at_the_speed(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "baud = 57600\n");
    stand_check_exit(&stand, stand_run(&stand, &(struct controller_script){.garbage = true}, ALONE),
                     69);
    stand_check_said(&stand, "The speed is likely wrong (57600 baud");
    assert_null(strchr(buf_string(&stand.program.err), '\x1b'));
    stand_check_no_capture(&stand);
    stand_close(&stand);
}

static void a_hang_up_keeps_what_was_measured(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    struct controller_script script = {.speed = 20, .n_pulls = 1, .hang_up_at = 400};
    stand_check_exit(&stand, stand_run(&stand, &script, ALONE), 75);
    stand_check_said(&stand, "THE PORT WENT AWAY");
    stand_check_said(&stand, "capture 1 is incomplete, its 400 readings are kept");
    struct kept kept = kept_look(&stand);
    kept_check_unbroken(&kept);
    assert_int_equal(kept.n, 400);
    assert_int_equal(kept.capture.state, CAPTURE_INCOMPLETE);
    assert_int_equal(kept.capture.counts.n_readings, 400);
    kept_clear(&kept);
    stand_close(&stand);
}

static void a_port_that_comes_back_is_read_on(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    struct controller_script script = {
        .speed = 10, .n_pulls = 1, .hang_up_at = 300, .back_after_s = 0.1};
    stand_check_exit(&stand, stand_run(&stand, &script, WITH("--json")), 0);
    stand_check_said(&stand, "the port is back");
    stand_check_said(&stand, "\"reopened\": 1");
    struct kept kept = kept_look(&stand);
    assert_int_equal(kept.capture.state, CAPTURE_COMPLETE);
    assert_true(kept.n > 300);
    assert_true(kept.readings[300].flags & RAW_AFTER_GAP);
    assert_int_equal(kept.capture.counts.n_lost,
                     kept.readings[300].sequence - kept.readings[299].sequence - 1);
    kept_clear(&kept);
    stand_close(&stand);
}

static void ctrl_c_ends_it_in_good_order(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    stand_start(&stand, &(struct controller_script){.speed = 2, .n_pulls = 1}, ALONE);
    assert_true(child_says(&stand.program, PATIENCE_S, "drawing"));
    child_signal(&stand.program, SIGINT);
    stand_check_exit(&stand, child_wait(&stand.program, PATIENCE_S), 75);
    stand_check_said(&stand, "interrupted; capture 1 is incomplete");
    struct kept kept = kept_look(&stand);
    kept_check_unbroken(&kept);
    assert_int_equal(kept.capture.state, CAPTURE_INCOMPLETE);
    assert_int_equal(kept.capture.counts.n_readings, kept.n);
    kept_clear(&kept);
    stand_close(&stand);
}

static void a_kill_loses_a_quarter_second_at_most(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    stand_start(&stand, &(struct controller_script){.speed = 1, .n_pulls = 1}, ALONE);
    assert_true(child_says(&stand.program, PATIENCE_S, "at rest"));
    int sent = *stand.controller.sent;
    child_signal(&stand.program, SIGKILL);
    assert_int_equal(child_wait(&stand.program, PATIENCE_S), 128 + SIGKILL);
    struct kept kept = kept_look(&stand);
    kept_check_unbroken(&kept);
    assert_int_equal(kept.capture.state, CAPTURE_OPEN);
    assert_true((int)kept.n >= sent - (int)(0.25 * CONTROLLER_RATE_HZ) - 1);
    kept_clear(&kept);
    stand_close(&stand);
}

static void too_few_pulls_in_the_time_is_not_as_asked(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    int code = stand_run(&stand, &(struct controller_script){.speed = 20, .n_pulls = 1},
                         WITH("--pulls", "2", "--seconds", "0.8"));
    stand_check_exit(&stand, code, 75);
    stand_check_said(&stand, "the time was over before the pulls were done");
    stand_close(&stand);
}

static void the_time_may_be_all_that_was_asked(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    int code = stand_run(&stand, &(struct controller_script){.speed = 1, .n_pulls = 0},
                         WITH("--pulls", "0", "--seconds", "0.3"));
    stand_check_exit(&stand, code, 0);
    struct kept kept = kept_look(&stand);
    kept_check_unbroken(&kept);
    assert_int_equal(kept.capture.state, CAPTURE_COMPLETE);
    kept_clear(&kept);
    stand_close(&stand);
}

/* --- the record does not take it ------------------------------------------------------------ */

static sqlite3 *hold_record(const struct stand *stand)
{
    sqlite3 *other;
    assert_int_equal(sqlite3_open(stand->record, &other), SQLITE_OK);
    (void)sqlite3_busy_timeout(other, 5000);
    assert_int_equal(sqlite3_exec(other, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    return other;
}

static void a_record_that_is_held_for_a_while_loses_nothing(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    stand_start(&stand, &(struct controller_script){.speed = 4, .n_pulls = 1}, ALONE);
    assert_true(child_says(&stand.program, PATIENCE_S, "draw when you are ready"));
    sqlite3 *other = hold_record(&stand);
    assert_true(child_says(&stand.program, PATIENCE_S, "THE RECORD DOES NOT TAKE READINGS"));
    assert_int_equal(sqlite3_close(other), SQLITE_OK);
    stand_check_exit(&stand, child_wait(&stand.program, PATIENCE_S), 0);
    stand_check_said(&stand, "the record takes readings again");
    struct kept kept = kept_look(&stand);
    kept_check_unbroken(&kept);
    assert_int_equal(kept.capture.counts.n_readings, kept.n);
    kept_clear(&kept);
    stand_close(&stand);
}

/* Sequence numbers of a spill file: the first one and how many follow it without a gap. */
static void read_spill(const struct stand *stand, unsigned *first, size_t *n)
{
    struct kept kept = kept_look(stand);
    char path[160];
    (void)snprintf(path, sizeof path, "%s.capture-1-%.8s.csv", stand->record, kept.capture.key);
    struct buf text = {0};
    check_ok(buf_read_file(&text, path, &err));
    const char *row = strstr(buf_string(&text), "flags\n");
    assert_non_null(row);
    for (*n = 0, row = strchr(row, '\n') + 1; *row != '\0'; row = strchr(row, '\n') + 1) {
        const char *field = strchr(strchr(row, ',') + 1, ',') + 1;
        unsigned sequence = (unsigned)strtoul(field, NULL, 10);
        if (*n == 0)
            *first = sequence;
        assert_int_equal(sequence, *first + *n);
        (*n)++;
    }
    buf_clear(&text);
    kept_clear(&kept);
}

/* A limit on the size of files (48 kB) stands for a full disk: the record's log can't grow any
 * more, and a small file still fits. */
static void a_full_disk_puts_the_rest_into_a_file(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    controller_start(&stand.controller, &(struct controller_script){.speed = 8, .n_pulls = 1});
    const char *const argv[] = {"sh",
                                "-c",
                                "trap '' XFSZ; ulimit -f 96; "
                                "exec \"$0\" capture --bench \"$1\" --port \"$2\" --record \"$3\"",
                                child_program(),
                                stand.bench,
                                stand.controller.port,
                                stand.record,
                                NULL};
    child_start(&stand.program, argv);
    stand_check_exit(&stand, child_wait(&stand.program, PATIENCE_S), 73);
    stand_check_said(&stand, "are not in the record but in");
    struct kept kept = kept_look(&stand);
    kept_check_unbroken(&kept);
    unsigned first = 0;
    size_t n = 0;
    read_spill(&stand, &first, &n);
    assert_true(n > 100);
    assert_int_equal(first, kept.n);
    assert_true(kept.n + n >= 780);
    kept_clear(&kept);
    stand_close(&stand);
}

/* --- it does not begin ---------------------------------------------------------------------- */

/* Runs the program with these arguments in an open stand. */
static void check_refused(struct stand *stand, const char *const *arguments, int code,
                          const char *part)
{
    child_start_program(&stand->program, arguments);
    stand_check_exit(stand, child_wait(&stand->program, PATIENCE_S), code);
    stand_check_said(stand, part);
    child_clear(&stand->program);
}

static void what_is_missing_is_told(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    check_refused(&stand, (const char *const[]){"capture", "--record", stand.record, NULL}, 64,
                  "--bench FILE");
    check_refused(&stand,
                  (const char *const[]){"capture", "--record", stand.record, "--bench",
                                        "/nowhere/bench.ini", NULL},
                  66, "/nowhere/bench.ini");
    check_refused(
        &stand,
        (const char *const[]){"capture", "--record", stand.record, "--bench", stand.bench, NULL},
        64, "--port PATH");
    check_refused(&stand,
                  (const char *const[]){"capture", "--record", stand.record, "--bench", stand.bench,
                                        "--port", "/dev/ttyUSB99", NULL},
                  69, "there is no such port");
    check_refused(&stand,
                  (const char *const[]){"capture", "--record", stand.record, "--bench", stand.bench,
                                        "--bow", "no such bow", NULL},
                  66, "no such bow");
    check_refused(&stand,
                  (const char *const[]){"capture", "--record", stand.record, "--bench", stand.bench,
                                        "--brace", "7 lbf", NULL},
                  64, "brace");
    stand_check_no_capture(&stand);
    stand_close(&stand);
}

static void a_bench_that_is_not_calibrated_is_refused(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    stand_write(stand.bench, "[bench]\nname = another bench\nport = /dev/ttyUSB99\n");
    check_refused(
        &stand,
        (const char *const[]){"capture", "--record", stand.record, "--bench", stand.bench, NULL},
        66, "calibrate");
    stand_close(&stand);
}

static void a_port_in_use_is_refused(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    stand_start(&stand, &(struct controller_script){.speed = 1, .n_pulls = 0}, ALONE);
    assert_true(child_says(&stand.program, PATIENCE_S, "draw when you are ready"));
    struct child second;
    child_start_program(&second,
                        (const char *const[]){"capture", "--bench", stand.bench, "--record",
                                              stand.record, "--port", stand.controller.port, NULL});
    assert_int_equal(child_wait(&second, PATIENCE_S), 69);
    assert_non_null(strstr(buf_string(&second.err), "another program uses the port"));
    child_clear(&second);
    stand_close(&stand);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(garbled_and_missing_lines_are_counted),
        cmocka_unit_test(a_restart_of_the_controller_is_a_gap),
        cmocka_unit_test(silence_is_told),
        cmocka_unit_test(nothing_but_garbage_points_at_the_speed),
        cmocka_unit_test(a_hang_up_keeps_what_was_measured),
        cmocka_unit_test(a_port_that_comes_back_is_read_on),
        cmocka_unit_test(ctrl_c_ends_it_in_good_order),
        cmocka_unit_test(a_kill_loses_a_quarter_second_at_most),
        cmocka_unit_test(too_few_pulls_in_the_time_is_not_as_asked),
        cmocka_unit_test(the_time_may_be_all_that_was_asked),
        cmocka_unit_test(a_record_that_is_held_for_a_while_loses_nothing),
        cmocka_unit_test(a_full_disk_puts_the_rest_into_a_file),
        cmocka_unit_test(what_is_missing_is_told),
        cmocka_unit_test(a_bench_that_is_not_calibrated_is_refused),
        cmocka_unit_test(a_port_in_use_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
