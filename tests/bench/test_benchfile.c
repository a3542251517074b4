/* benchfile: what the shop says about a bench, and where it is wrong. */
#include "base/buf.h"
#include "base/units.h"
#include "bench/benchfile.h"
#include "check.h"
#include "run.h"

#include <string.h>
#include <unistd.h>

static const char path[] = "/tmp/test_benchfile.ini";

static enum status read_text(struct bench *bench, const char *text, struct err *err)
{
    struct buf file = {0};
    char name[64];
    (void)snprintf(name, sizeof name, "/tmp/test_benchfile_%ld.ini", (long)getpid());
    buf_text(&file, text);
    assert_int_equal(buf_write_file(&file, name, err), STATUS_OK);
    enum status status = benchfile_read(bench, name, err);
    unlink(name);
    buf_clear(&file);
    return status;
}

static struct bench read_good(const char *text)
{
    struct bench bench;
    struct err err;
    check_ok(read_text(&bench, text, &err));
    return bench;
}

/* The text is refused with a message that holds `part`, and nothing is left in the bench. */
static void check_refused(const char *text, const char *part)
{
    struct bench bench;
    struct err err = {.code = STATUS_OK};
    assert_int_equal(read_text(&bench, text, &err), STATUS_BAD_INPUT);
    if (strstr(err.text, part) == NULL)
        fail_msg("'%s' is not in '%s'", part, err.text);
    assert_null(bench.name);
    assert_null(bench.port);
}

static void a_name_is_enough(void **state)
{
    (void)state;
    struct bench bench = read_good("[bench]\nname = shop\n");
    assert_string_equal(bench.name, "shop");
    assert_string_equal(bench.port, "");
    assert_int_equal(bench.line.baud, 115200);
    assert_int_equal(bench.line.data_bits, 8);
    assert_int_equal(bench.line.parity, PORT_PARITY_NONE);
    assert_int_equal(bench.line.stop_bits, 1);
    assert_int_equal(bench.stream.force.low, INT32_MIN);
    assert_int_equal(bench.stream.travel.high, INT32_MAX);
    assert_int_equal(bench.datum, BENCH_DATUM_BRACE);
    assert_true(isinf(bench.guard.force_n) && isinf(bench.guard.draw_m));
    assert_true(isinf(bench.guard.speed_m_s));
    check_near(bench.guard.silence_s, 1.5, 0);
    check_near(bench.start_wait_s, 5, 0);
    check_near(bench.reopen_s, 10, 0);
    bench_clear(&bench);
}

static void a_fixture_is_corrected_for_only_where_it_is_described(void **state)
{
    (void)state;
    struct bench bench = read_good("[bench]\nname = shop\n");
    const struct fixture *fixture = &bench.fixture;
    check_near(fixture->give_m_per_n, 0, 0);
    check_near(fixture->u_give_m_per_n, 0, 0);
    check_near(fixture->angle_rad, 0, 0);
    check_near(fixture->u_angle_rad, 0, 0);
    check_near(fixture->hook_n, 0, 0);
    check_near(fixture->u_hook_n, 0, 0);
    assert_false(fixture->tare || fixture->drift);
    /* but a brace height is never exact: half a millimetre, our own assumption */
    check_near(fixture->u_brace_m, 0.02 * 0.0254, 1e-18);
    bench_clear(&bench);
}

static void a_fixture_is_described_in_units_of_the_trade(void **state)
{
    (void)state;
    struct bench bench =
        read_good("[bench]\nname = shop\n[fixture]\ngive_length = 0.040 in\ngive_force = 100 lbf\n"
                  "u_give_length = 0.1 mm\npull_angle = -2\nu_pull_angle = 0.01 rad\n"
                  "hook_weight = 0.5 lbf\nu_hook_weight = 0.2 N\ntare = yes\ndrift = yes\n"
                  "u_brace = 0.5 mm\n");
    const struct fixture *fixture = &bench.fixture;
    /* 0.040 x 0.0254 m over 100 x 0.45359237 x 9.80665 N, and 0.0001 m over the same */
    check_near(fixture->give_m_per_n, 0.001016 / 444.82216152605, 1e-18);
    check_near(fixture->u_give_m_per_n, 0.0001 / 444.82216152605, 1e-18);
    check_near(fixture->angle_rad, -2.0 * acos(-1.0) / 180.0, 1e-15);
    check_near(fixture->u_angle_rad, 0.01, 0);
    check_near(fixture->hook_n, 2.22411080763025, 1e-12);
    check_near(fixture->u_hook_n, 0.2, 0);
    assert_true(fixture->tare && fixture->drift);
    check_near(fixture->u_brace_m, 0.0005, 1e-18);
    bench_clear(&bench);
}

static void a_give_of_zero_may_be_uncertain(void **state)
{
    (void)state;
    struct bench bench =
        read_good("[bench]\nname = shop\n[fixture]\ngive_force = 100 N\nu_give_length = 0.1 mm\n");
    check_near(bench.fixture.give_m_per_n, 0, 0);
    check_near(bench.fixture.u_give_m_per_n, 1e-6, 1e-20);
    bench_clear(&bench);
}

static void everything_can_be_said(void **state)
{
    (void)state;
    struct bench bench = read_good("[bench]\nname = shop\nport = /dev/ttyUSB0\nbaud = 9600\n"
                                   "framing = 7E2\nline = pullcurve\nrate = 10\n"
                                   "start_wait = 2 s\nreopen = 500 ms\n"
                                   "[force]\ncount_min = -8388608\ncount_max = 8388607\n"
                                   "[travel]\ncount_min = 0\ncount_max = 65535\ndatum = pivot\n"
                                   "[guard]\nforce_limit = 100 lbf\ntravel_limit = 30 in\n"
                                   "speed_limit = 1 ft/s\nsilence = 0.25 s\n");
    assert_string_equal(bench.port, "/dev/ttyUSB0");
    assert_int_equal(bench.line.baud, 9600);
    assert_int_equal(bench.line.data_bits, 7);
    assert_int_equal(bench.line.parity, PORT_PARITY_EVEN);
    assert_int_equal(bench.line.stop_bits, 2);
    check_near(bench.stream.rate_hz, 10, 0);
    assert_int_equal(bench.stream.force.low, -8388608);
    assert_int_equal(bench.stream.travel.high, 65535);
    assert_int_equal(bench.datum, BENCH_DATUM_PIVOT);
    check_near(bench.guard.force_n, unit_to_si(UNIT_LBF, 100), 1e-9);
    check_near(bench.guard.draw_m, unit_to_si(UNIT_IN, 30), 1e-12);
    check_near(bench.guard.speed_m_s, 0.3048, 1e-12);
    check_near(bench.guard.silence_s, 0.25, 1e-12);
    check_near(bench.start_wait_s, 2, 0);
    check_near(bench.reopen_s, 0.5, 1e-12);
    bench_clear(&bench);
}

static void what_is_wrong_is_told_with_its_line(void **state)
{
    (void)state;
    check_refused("[bench]\nport = /dev/ttyUSB0\n", "[bench] name: is missing");
    check_refused("[bench]\nname =\n", ":2: [bench] name:");
    check_refused("[bench]\nname = x\nbaud = 250000\n", ":3: [bench] baud: 250000 is not a usual");
    check_refused("[bench]\nname = x\nbaud = 0\n", ":3: [bench] baud:");
    check_refused("[bench]\nname = x\nbaud = fast\n", ":3: [bench] baud: 'fast' is not a whole");
    check_refused("[bench]\nname = x\nframing = 8X1\n", ":3: [bench] framing: '8X1'");
    check_refused("[bench]\nname = x\nframing = 8N\n", ":3: [bench] framing: '8N'");
    check_refused("[bench]\nname = x\nframing = 9N1\n", ":3: [bench] framing: '9N1'");
    check_refused("[bench]\nname = x\nframing = 8N3\n", ":3: [bench] framing: '8N3'");
    check_refused("[bench]\nname = x\nline = other\n", ":3: [bench] line: 'other' is not known");
    check_refused("[bench]\nname = x\nrate = -80\n", ":3: [bench] rate:");
    check_refused("[bench]\nname = x\n[force]\ncount_min = 5\ncount_max = 5\n",
                  ":5: [force] count_max: must be more");
    check_refused("[bench]\nname = x\n[force]\ncount_max = 3000000000\n", ":4: [force] count_max:");
    check_refused("[bench]\nname = x\n[travel]\ndatum = floor\n", ":4: [travel] datum: 'floor'");
    check_refused("[bench]\nname = x\n[guard]\nforce_limit = 30 in\n", ":4: [guard] force_limit:");
    check_refused("[bench]\nname = x\n[guard]\nsilence = 0\n", ":4: [guard] silence:");
}

static void what_is_wrong_with_a_fixture_is_told_with_its_line(void **state)
{
    (void)state;
#define FIXTURE "[bench]\nname = x\n[fixture]\n"
    check_refused(FIXTURE "give_length = 0.04 in\n", "[fixture] give_force: is missing");
    check_refused(FIXTURE "u_give_length = 0.04 in\n", "[fixture] give_force: is missing");
    check_refused(FIXTURE "give_force = 0\n", ":4: [fixture] give_force:");
    check_refused(FIXTURE "give_length = -1 mm\ngive_force = 100 N\n",
                  ":4: [fixture] give_length:");
    check_refused(FIXTURE "pull_angle = 60 deg\n", ":4: [fixture] pull_angle:");
    check_refused(FIXTURE "pull_angle = 2 in\n", ":4: [fixture] pull_angle:");
    check_refused(FIXTURE "u_pull_angle = -1\n", ":4: [fixture] u_pull_angle:");
    check_refused(FIXTURE "hook_weight = 1 in\n", ":4: [fixture] hook_weight:");
    check_refused(FIXTURE "u_hook_weight = -0.1\n", ":4: [fixture] u_hook_weight:");
    check_refused(FIXTURE "tare = maybe\n", ":4: [fixture] tare: 'maybe' is neither yes nor no");
    check_refused(FIXTURE "drift = on\n", ":4: [fixture] drift: 'on' is neither");
    check_refused(FIXTURE "u_brace = 3 in\n", ":4: [fixture] u_brace:");
#undef FIXTURE
}

static void a_misspelt_key_is_not_passed_over(void **state)
{
    (void)state;
    check_refused("[bench]\nname = x\n[guard]\nforce_limt = 100 lbf\n", ":4: [guard] force_limt:");
    check_refused("[bench]\nname = x\n[gard]\nforce_limit = 100 lbf\n", ":4: [gard] force_limit:");
}

static void a_file_that_is_not_there_is_no_input(void **state)
{
    (void)state;
    struct bench bench;
    struct err err = {.code = STATUS_OK};
    assert_int_equal(benchfile_read(&bench, path, &err), STATUS_NO_INPUT);
    assert_non_null(strstr(err.text, path));
}

static void the_bench_file_that_is_handed_out_is_good(void **state)
{
    (void)state;
    char name[512];
    struct bench bench;
    struct err err;
    (void)snprintf(name, sizeof name, "%s/fixtures/bench.ini", source_root());
    check_ok(benchfile_read(&bench, name, &err));
    assert_string_equal(bench.name, "Hollow Oak bench 1");
    check_near(bench.guard.force_n, unit_to_si(UNIT_LBF, 120), 1e-9);
    check_near(bench.fixture.give_m_per_n, 0, 0); /* each shop measures its own */
    bench_clear(&bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_name_is_enough),
        cmocka_unit_test(a_fixture_is_corrected_for_only_where_it_is_described),
        cmocka_unit_test(a_fixture_is_described_in_units_of_the_trade),
        cmocka_unit_test(a_give_of_zero_may_be_uncertain),
        cmocka_unit_test(everything_can_be_said),
        cmocka_unit_test(what_is_wrong_is_told_with_its_line),
        cmocka_unit_test(what_is_wrong_with_a_fixture_is_told_with_its_line),
        cmocka_unit_test(a_misspelt_key_is_not_passed_over),
        cmocka_unit_test(a_file_that_is_not_there_is_no_input),
        cmocka_unit_test(the_bench_file_that_is_handed_out_is_good),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
