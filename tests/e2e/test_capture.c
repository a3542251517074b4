/* capture: the program as a technician meets it when all goes well, on a bench that a script plays.
 */
#include "check.h"
#include "stand.h"

#include <stdlib.h>
#include <string.h>

static struct err err;

static int32_t largest_travel(const struct kept *kept)
{
    int32_t largest = INT32_MIN;
    for (size_t i = 0; i < kept->n; i++)
        if (kept->readings[i].travel_count > largest)
            largest = kept->readings[i].travel_count;
    return largest;
}

static void a_pull_is_kept_reading_by_reading(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    int code = stand_run(&stand, &(struct controller_script){.speed = 10, .n_pulls = 1},
                         WITH("--brace", "7 in", "--note", "new string"));
    stand_check_exit(&stand, code, 0);
    struct kept kept = kept_look(&stand);
    kept_check_unbroken(&kept);
    assert_int_equal(kept.readings[0].sequence, 0);
    /* Rest, pull and the half second of rest that ends it: 10 s, 80 in a second. */
    assert_in_range(kept.n, 780, 960);
    assert_int_equal(largest_travel(&kept), 48500);
    assert_int_equal(kept.readings[kept.n - 1].travel_count, 0);
    assert_int_equal(kept.capture.state, CAPTURE_COMPLETE);
    assert_int_equal(kept.capture.counts.n_readings, kept.n);
    assert_int_equal(kept.capture.counts.n_lost, 0);
    assert_string_equal(kept.capture.bench, "test bench");
    assert_string_equal(kept.capture.note, "new string");
    assert_true(kept.capture.has_brace);
    check_near(kept.capture.brace_m, 7 * 0.0254, 1e-12);
    assert_int_equal(strlen(kept.capture.force_calibration_key), RECORD_KEY_MAX - 1);
    assert_int_equal(strlen(kept.capture.travel_calibration_key), RECORD_KEY_MAX - 1);
    stand_check_said(&stand, "capture 1: complete");
    stand_check_said(&stand, "1 complete pull\n");
    stand_check_said(&stand, "Next: pullcurve measure last");
    kept_clear(&kept);
    stand_close(&stand);
}

static void the_fixture_of_the_bench_file_is_kept_and_corrected_for(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "[fixture]\ngive_length = 1 mm\ngive_force = 100 N\nu_brace = 0.5 mm\n");
    int code = stand_run(&stand, &(struct controller_script){.speed = 20, .n_pulls = 1},
                         WITH("--brace", "7 in"));
    stand_check_exit(&stand, code, 0);
    struct kept kept = kept_look(&stand);
    check_near(kept.capture.fixture.give_m_per_n, 1e-5, 1e-18);
    check_near(kept.capture.fixture.u_brace_m, 0.0005, 1e-15);
    kept_clear(&kept);
    const char *const argv[] = {child_program(), "measure", "--record", stand.record, NULL};
    child_clear(&stand.program);
    child_start(&stand.program, argv);
    stand_check_exit(&stand, child_wait(&stand.program, PATIENCE_S), 0);
    stand_check_said(&stand, "Corrected for: give 0.1751 in at 100 lbf\n");
    stand_close(&stand);
}

static void it_goes_on_until_all_pulls_are_done(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    int code = stand_run(&stand, &(struct controller_script){.speed = 20, .n_pulls = 3},
                         WITH("--pulls", "3", "--json"));
    stand_check_exit(&stand, code, 0);
    stand_check_said(&stand, "\"pulls\": 3,");
    stand_check_said(&stand, "\"state\": \"complete\"");
    struct kept kept = kept_look(&stand);
    kept_check_unbroken(&kept);
    assert_false(kept.capture.has_brace);
    kept_clear(&kept);
    stand_close(&stand);
}

static void the_brace_height_of_the_bow_is_the_datum(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "");
    struct record *record;
    char name[] = "Old Crooked", owner[] = "", kind[] = "compound", none[] = "";
    struct record_bow bow = record_bow_blank();
    bow.name = name;
    bow.owner = owner;
    bow.kind = kind;
    bow.serial = bow.note = none;
    bow.brace_height_m = 0.175;
    check_ok(record_open(&record, stand.record, RECORD_WRITE, &err));
    check_ok(record_bow_add(record, &bow, &err));
    record_close(record);
    int code = stand_run(&stand, &(struct controller_script){.speed = 20, .n_pulls = 1},
                         WITH("--bow", "crooked"));
    stand_check_exit(&stand, code, 0);
    struct kept kept = kept_look(&stand);
    assert_string_equal(kept.capture.bow_name, "Old Crooked");
    assert_string_equal(kept.capture.bow_key, bow.key);
    check_near(kept.capture.brace_m, 0.175, 1e-12);
    kept_clear(&kept);
    stand_close(&stand);
}

/* libserialport takes the pseudo-terminal for a real port (tests/preload/serial_on_pty.c). */
static void libserialport_reads_the_same(void **state)
{
    (void)state;
    const char *preload = getenv("SERIAL_ON_PTY_SO");
    if (preload == NULL)
        skip();
    struct stand stand;
    stand_open(&stand, "baud = 230400\nframing = 8N1\n");
    controller_start(&stand.controller, &(struct controller_script){.speed = 20, .n_pulls = 1});
    char setting[512];
    (void)snprintf(setting, sizeof setting, "LD_PRELOAD=%s", preload);
    const char *const argv[] = {
        "env",       setting,    child_program(), "capture", "--bench",
        stand.bench, "--record", stand.record,    "--port",  stand.controller.port,
        "--json",    NULL};
    child_start(&stand.program, argv);
    stand_check_exit(&stand, child_wait(&stand.program, PATIENCE_S), 0);
    stand_check_said(&stand, "\"transport\": \"libserialport\"");
    struct kept kept = kept_look(&stand);
    kept_check_unbroken(&kept);
    kept_clear(&kept);
    stand_close(&stand);
}

static void a_limit_that_is_passed_is_told_and_stops_nothing(void **state)
{
    (void)state;
    struct stand stand;
    stand_open(&stand, "[guard]\nforce_limit = 200 N\ntravel_limit = 26 in\n");
    int code = stand_run(&stand, &(struct controller_script){.speed = 20, .n_pulls = 1},
                         WITH("--brace", "7 in"));
    stand_check_exit(&stand, code, 0);
    stand_check_said(&stand, "!!! FORCE is over its limit");
    stand_check_said(&stand, "!!! DRAW POSITION is over its limit");
    struct kept kept = kept_look(&stand);
    kept_check_unbroken(&kept);
    kept_clear(&kept);
    stand_close(&stand);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_pull_is_kept_reading_by_reading),
        cmocka_unit_test(the_fixture_of_the_bench_file_is_kept_and_corrected_for),
        cmocka_unit_test(it_goes_on_until_all_pulls_are_done),
        cmocka_unit_test(the_brace_height_of_the_bow_is_the_datum),
        cmocka_unit_test(libserialport_reads_the_same),
        cmocka_unit_test(a_limit_that_is_passed_is_told_and_stops_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
