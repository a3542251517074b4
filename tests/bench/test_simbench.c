#include "bench/simbench.h"

#include "base/units.h"
#include "check.h"

#include <gsl/gsl_errno.h>
#include <stdbool.h>
#include <string.h>

static struct simbench *open_bench(const struct simbench_settings *settings)
{
    struct err err;
    struct simbench *bench = NULL;
    check_ok(simbench_open(&bench, settings, &err));
    return bench;
}

static struct simbench_settings quiet(void)
{
    struct simbench_settings settings = simbench_defaults();
    settings.force.noise_si = settings.travel.noise_si = 0.0;
    settings.clock_ppm = 0.0;
    return settings;
}

static struct simbench *open_with_fault(const char *text)
{
    struct err err;
    struct simbench_settings settings = quiet();
    check_ok(simfault_parse(text, &settings.faults[0], &err));
    settings.n_faults = 1;
    return open_bench(&settings);
}

static struct wire_line read_at(struct simbench *bench, double time_s, double draw_m,
                                double force_n)
{
    struct wire_line line;
    simbench_read(bench, time_s, draw_m, force_n, &line);
    return line;
}

static bool is_same(const struct wire_line *a, const struct wire_line *b)
{
    return a->sequence == b->sequence && a->device_us == b->device_us &&
           a->force_count == b->force_count && a->travel_count == b->travel_count;
}

/* ---- converters ---- */

static void counts_are_zero_plus_gain_times_value(void **state)
{
    (void)state;
    struct simbench_settings settings = quiet();
    struct simbench *bench = open_bench(&settings);
    struct wire_line line = read_at(bench, 0.0, 0.5, 100.0);
    assert_int_equal(line.force_count, 41000 + 3700 * 100);
    assert_int_equal(line.travel_count, 1200 + 20000);
    simbench_close(bench);
}

static void counts_are_rounded_to_the_nearest(void **state)
{
    (void)state;
    struct simbench_settings settings = quiet();
    struct simbench *bench = open_bench(&settings);
    assert_int_equal(read_at(bench, 0.0, 0.0, 0.4 / 3700).force_count, 41000);
    assert_int_equal(read_at(bench, 0.0, 0.0, 0.6 / 3700).force_count, 41001);
    assert_int_equal(read_at(bench, 0.0, 0.0, -0.6 / 3700).force_count, 40999);
    simbench_close(bench);
}

static void converters_end_at_their_range(void **state)
{
    (void)state;
    struct simbench_settings settings = quiet();
    struct simbench *bench = open_bench(&settings);
    assert_int_equal(read_at(bench, 0.0, 0.0, 1e9).force_count, 8388607);
    assert_int_equal(read_at(bench, 0.0, 0.0, -1e9).force_count, -8388608);
    assert_int_equal(read_at(bench, 0.0, 1e9, 0.0).travel_count, 8388607);
    simbench_close(bench);
}

static void value_undoes_the_count(void **state)
{
    (void)state;
    struct simbench_settings settings = quiet();
    struct simbench *bench = open_bench(&settings);
    struct wire_line line = read_at(bench, 0.0, 0.4321, 234.5);
    check_near(simbench_value_si(&settings.force, line.force_count), 234.5, 0.5001 / 3700);
    check_near(simbench_value_si(&settings.travel, line.travel_count), 0.4321, 0.5001 / 40000);
    simbench_close(bench);
}

static void noise_has_the_standard_deviation_asked_for(void **state)
{
    (void)state;
    struct simbench_settings settings = simbench_defaults();
    struct simbench *bench = open_bench(&settings);
    enum { N = 20000 };
    double sum[2] = {0}, squares[2] = {0};
    for (int i = 0; i < N; i++) {
        struct wire_line line = read_at(bench, 0.0, 0.5, 100.0);
        double off[2] = {simbench_value_si(&settings.force, line.force_count) - 100.0,
                         simbench_value_si(&settings.travel, line.travel_count) - 0.5};
        for (int k = 0; k < 2; k++) {
            sum[k] += off[k];
            squares[k] += off[k] * off[k];
        }
    }
    /* Six standard deviations of a mean and of a standard deviation (sd/sqrt(2N)). */
    double expected[2] = {unit_to_si(UNIT_LBF, 0.05), unit_to_si(UNIT_IN, 0.002)};
    expected[1] = hypot(expected[1], 1.0 / 40000 / sqrt(12)); /* and rounding's own */
    for (int k = 0; k < 2; k++) {
        check_near(sum[k] / N, 0.0, 6 * expected[k] / sqrt(N));
        check_near(sqrt(squares[k] / N), expected[k], 6 * expected[k] / sqrt(2.0 * N));
    }
    simbench_close(bench);
}

static void mean_count_of_many_readings_is_close(void **state)
{
    (void)state;
    struct simbench_settings settings = simbench_defaults();
    struct simbench *bench = open_bench(&settings);
    double sd_count = settings.force.noise_si * settings.force.counts_per_si;
    check_near(simbench_mean_count(bench, &settings.force, 200.0, 400), 41000 + 3700 * 200.0,
               6 * sd_count / 20);
    simbench_close(bench);
}

/* ---- controller ---- */

static void sequence_and_clock_go_on_and_wrap(void **state)
{
    (void)state;
    struct simbench_settings settings = quiet();
    struct simbench *bench = open_bench(&settings);
    for (int i = 0; i < 65536; i++)
        assert_int_equal(read_at(bench, 0.0, 0.0, 0.0).sequence, i);
    assert_int_equal(read_at(bench, 0.0, 0.0, 0.0).sequence, 0);
    assert_int_equal(read_at(bench, 1.25, 0.0, 0.0).device_us, 1250000);
    assert_int_equal(read_at(bench, 4294.967296 + 0.5, 0.0, 0.0).device_us, 500000);
    simbench_close(bench);
}

static void clock_runs_fast_by_its_parts_per_million(void **state)
{
    (void)state;
    struct simbench_settings settings = quiet();
    settings.clock_ppm = 50.0;
    struct simbench *bench = open_bench(&settings);
    assert_int_equal(read_at(bench, 1000.0, 0.0, 0.0).device_us, 1000050000);
    simbench_close(bench);
}

static void readings_come_at_the_rate(void **state)
{
    (void)state;
    struct simbench_settings settings = quiet();
    settings.rate_hz = 10000.0;
    struct simbench *bench = open_bench(&settings);
    check_near(simbench_time_s(bench, 12345), 1.2345, 1e-15);
    simbench_close(bench);
}

static void line_on_the_wire_is_the_reading(void **state)
{
    (void)state;
    struct simbench_settings settings = quiet();
    struct simbench *bench = open_bench(&settings);
    struct wire_line sent = read_at(bench, 3.0, 0.5, 100.0), got;
    struct buf out = {0};
    simbench_send(bench, &sent, &out);
    assert_int_equal(wire_decode(out.text, out.length - 2, &got), WIRE_READING);
    assert_true(is_same(&got, &sent));
    buf_clear(&out);
    simbench_close(bench);
}

static void same_seed_gives_the_same_bytes(void **state)
{
    (void)state;
    struct buf out[3] = {{0}};
    for (int k = 0; k < 3; k++) {
        struct simbench_settings settings = simbench_defaults();
        settings.seed = k < 2 ? 5 : 6;
        settings.n_faults = 1;
        settings.faults[0] = (struct simfault){.kind = SIMFAULT_GARBAGE, .first = 0.3};
        struct simbench *bench = open_bench(&settings);
        for (int i = 0; i < 100; i++) {
            struct wire_line line = read_at(bench, i / 80.0, 0.3, 50.0);
            simbench_send(bench, &line, &out[k]);
        }
        simbench_close(bench);
    }
    assert_int_equal(out[0].length, out[1].length);
    assert_memory_equal(out[0].text, out[1].text, out[0].length);
    assert_true(out[0].length != out[2].length ||
                memcmp(out[0].text, out[2].text, out[0].length) != 0);
    for (int k = 0; k < 3; k++)
        buf_clear(&out[k]);
}

/* ---- faults ---- */

/* How many of n lines come through in good order, each on its own. */
static int count_good(struct simbench *bench, int n)
{
    int good = 0;
    struct buf out = {0};
    for (int i = 0; i < n; i++) {
        struct wire_line line = read_at(bench, i / 80.0, 0.3, 50.0), got;
        out.length = 0;
        simbench_send(bench, &line, &out);
        good += out.length > 2 && wire_decode(out.text, out.length - 2, &got) == WIRE_READING &&
                is_same(&got, &line);
    }
    buf_clear(&out);
    return good;
}

static void faults_strike_as_often_as_asked(void **state)
{
    (void)state;
    static const char *const faults[] = {"garbage:0.2", "gaps:0.2", "checksum:0.2", "flip:0.2"};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        struct simbench *bench = open_with_fault(faults[i]);
        /* 2000 lines, 400 struck on average, sd 17.9; a flipped bit may hit the line end (2 of
         * about 37 bytes) and then does no harm here. */
        int struck = 2000 - count_good(bench, 2000);
        assert_in_range(struck, 290, 490);
        simbench_close(bench);
    }
}

static void lost_lines_show_in_the_sequence(void **state)
{
    (void)state;
    struct simbench *bench = open_with_fault("gaps:1");
    struct buf out = {0};
    struct wire_line line = read_at(bench, 0.0, 0.3, 50.0);
    simbench_send(bench, &line, &out);
    assert_int_equal(out.length, 0);
    assert_int_equal(read_at(bench, 0.0, 0.3, 50.0).sequence, 1);
    simbench_close(bench);
}

static void wrong_checksum_is_nothing_but_that(void **state)
{
    (void)state;
    struct simbench *bench = open_with_fault("checksum:1");
    for (int i = 0; i < 100; i++) {
        struct buf out = {0};
        struct wire_line line = read_at(bench, i, 0.3, i), got;
        simbench_send(bench, &line, &out);
        assert_int_equal(wire_decode(out.text, out.length - 2, &got), WIRE_BAD_CHECKSUM);
        buf_clear(&out);
    }
    simbench_close(bench);
}

static void saturation_begins_at_its_force(void **state)
{
    (void)state;
    struct simbench *bench = open_with_fault("saturation:30");
    double limit_n = unit_to_si(UNIT_LBF, 30.0);
    assert_true(read_at(bench, 0.0, 0.3, limit_n - 0.1).force_count < 8388607);
    assert_int_equal(read_at(bench, 0.0, 0.3, limit_n + 0.1).force_count, 8388607);
    assert_true(read_at(bench, 0.0, 0.3, limit_n - 0.1).force_count < 8388607);
    simbench_close(bench);
}

static void silence_begins_at_its_draw_and_ends_after_its_time(void **state)
{
    (void)state;
    struct simbench *bench = open_with_fault("silence:10,2");
    (void)read_at(bench, 5.0, unit_to_si(UNIT_IN, 9.9), 0.0);
    assert_false(simbench_is_silent(bench, 5.0));
    (void)read_at(bench, 6.0, unit_to_si(UNIT_IN, 10.1), 0.0);
    assert_true(simbench_is_silent(bench, 6.0));
    assert_true(simbench_is_silent(bench, 7.9));
    assert_false(simbench_is_silent(bench, 8.1));
    assert_false(simbench_is_gone(bench, 6.0));
    /* It comes once. */
    (void)read_at(bench, 20.0, unit_to_si(UNIT_IN, 10.1), 0.0);
    assert_false(simbench_is_silent(bench, 20.0));
    simbench_close(bench);
}

static void hang_up_without_a_time_lasts(void **state)
{
    (void)state;
    struct simbench *bench = open_with_fault("hang-up:10");
    (void)read_at(bench, 6.0, unit_to_si(UNIT_IN, 10.1), 0.0);
    assert_true(simbench_is_gone(bench, 1e6));
    simbench_close(bench);
}

static void senseless_settings_are_refused(void **state)
{
    (void)state;
    struct err err;
    struct simbench *bench = NULL;
    struct simbench_settings settings = simbench_defaults();
    settings.rate_hz = 0.0;
    assert_int_equal(simbench_open(&bench, &settings, &err), STATUS_USAGE);
    assert_null(bench);
    settings = simbench_defaults();
    settings.force.noise_si = NAN;
    assert_int_equal(simbench_open(&bench, &settings, &err), STATUS_USAGE);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counts_are_zero_plus_gain_times_value),
        cmocka_unit_test(counts_are_rounded_to_the_nearest),
        cmocka_unit_test(converters_end_at_their_range),
        cmocka_unit_test(value_undoes_the_count),
        cmocka_unit_test(noise_has_the_standard_deviation_asked_for),
        cmocka_unit_test(mean_count_of_many_readings_is_close),
        cmocka_unit_test(sequence_and_clock_go_on_and_wrap),
        cmocka_unit_test(clock_runs_fast_by_its_parts_per_million),
        cmocka_unit_test(readings_come_at_the_rate),
        cmocka_unit_test(line_on_the_wire_is_the_reading),
        cmocka_unit_test(same_seed_gives_the_same_bytes),
        cmocka_unit_test(faults_strike_as_often_as_asked),
        cmocka_unit_test(lost_lines_show_in_the_sequence),
        cmocka_unit_test(wrong_checksum_is_nothing_but_that),
        cmocka_unit_test(saturation_begins_at_its_force),
        cmocka_unit_test(silence_begins_at_its_draw_and_ends_after_its_time),
        cmocka_unit_test(hang_up_without_a_time_lasts),
        cmocka_unit_test(senseless_settings_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
