#include "curve/calibration_drift.h"

#include "check.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

static struct err err;

/* Loads 0..200 N, gain in counts per N, zero in counts, noise in counts. */
static struct calibration cell(double gain, double zero, double noise, gsl_rng *rng)
{
    struct calibration_point points[11];
    for (size_t i = 0; i < 11; i++) {
        double load = 20.0 * (double)i;
        points[i] = (struct calibration_point){.reference_si = load, .count = zero + gain * load};
        if (rng != NULL)
            points[i].count += gsl_ran_gaussian(rng, noise);
    }
    struct calibration calibration;
    check_ok(calibration_fit(points, 11, QUANTITY_FORCE, 2, &calibration, &err));
    return calibration;
}

static struct calibration_drift drift_at(const struct calibration *previous,
                                         const struct calibration *current, double value)
{
    struct calibration_drift drift;
    check_ok(calibration_drift_at(previous, current, value, &drift, &err));
    return drift;
}

static void zero_and_gain_drift_show_as_what_the_old_one_would_read(void **state)
{
    (void)state;
    struct calibration previous = cell(300.0, 1000.0, 0.0, NULL);
    struct calibration current = cell(303.0, 1060.0, 0.0, NULL);
    /* at 100 N the cell now shows 31360 counts, which the old line called 101.2 N */
    check_near(drift_at(&previous, &current, 0.0).difference_si, 0.2, 1e-9);
    check_near(drift_at(&previous, &current, 100.0).difference_si, 1.2, 1e-9);
    check_near(drift_at(&previous, &current, 100.0).count, 31360.0, 1e-6);
}

static void drift_beyond_its_interval_is_significant(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 3);
    struct calibration previous = cell(300.0, 1000.0, 10.0, rng);
    struct calibration current = cell(303.0, 1000.0, 10.0, rng);
    gsl_rng_free(rng);
    struct calibration_drift drift = drift_at(&previous, &current, 150.0);
    assert_true(drift.has_u);
    assert_true(drift.significant);
    check_near(drift.u_si,
               hypot(calibration_u(&previous, drift.count), calibration_u(&current, drift.count)),
               1e-12);
    assert_true(drift.low_si < 1.5 && 1.5 < drift.high_si);
}

static void same_cell_drifts_significantly_in_one_of_twenty(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 4);
    double n_trials = 4000.0, n_significant = 0.0;
    for (int trial = 0; trial < 4000; trial++) {
        struct calibration previous = cell(300.0, 1000.0, 10.0, rng);
        struct calibration current = cell(300.0, 1000.0, 10.0, rng);
        n_significant += drift_at(&previous, &current, 150.0).significant;
    }
    gsl_rng_free(rng);
    /* Welch and Satterthwaite's degrees of freedom keep the level nearly */
    check_near(n_significant / n_trials, 0.05, 0.015);
}

static void exact_calibrations_have_no_interval(void **state)
{
    (void)state;
    struct calibration_point points[2] = {{.count = 0}, {.count = 100, .reference_si = 50}};
    struct calibration line;
    check_ok(calibration_fit(points, 2, QUANTITY_FORCE, 2, &line, &err));
    struct calibration_drift drift = drift_at(&line, &line, 25.0);
    assert_false(drift.has_u);
    assert_false(drift.significant);
}

/* --- dates ---------------------------------------------------------------------------------- */

static void check_due(const char *made_at, int months, const char *expected)
{
    char due[CALIBRATION_DATE_SIZE];
    assert_true(calibration_due(made_at, months, due));
    assert_string_equal(due, expected);
}

static void due_date_is_months_later(void **state)
{
    (void)state;
    check_due("2026-11-25T09:20:05Z", 12, "2027-11-25");
    check_due("2026-11-25", 1, "2026-12-25");
    check_due("2026-12-25", 1, "2027-01-25");
    check_due("2026-01-31", 1, "2026-02-28");
    check_due("2028-02-29", 12, "2029-02-28");
    check_due("2027-02-28", 12, "2028-02-28");
    check_due("1999-12-31", 2, "2000-02-29"); /* a leap year after all */
}

static void texts_that_are_no_dates_have_no_due_date(void **state)
{
    (void)state;
    const char *const bad[] = {"",         "2026",       "2026-13-01", "2026-02-29", "2026-1-1",
                               "26-01-01", "2026-00-10", "2026-01-00", "1500-01-01", "2026-01-011"};
    char due[CALIBRATION_DATE_SIZE];
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_false(calibration_due(bad[i], 12, due));
        assert_string_equal(due, "");
    }
}

static void days_are_counted_over_leap_years(void **state)
{
    (void)state;
    long days = 0;
    assert_true(calibration_days_between("2026-11-25T23:59:59Z", "2027-11-25", &days));
    assert_int_equal(days, 365);
    assert_true(calibration_days_between("2028-02-28", "2028-03-01", &days));
    assert_int_equal(days, 2);
    assert_true(calibration_days_between("2027-11-25", "2026-11-25", &days));
    assert_int_equal(days, -365);
    /* Julian day numbers 2451545 (2000-01-01) and 2299161 (1582-10-15): any almanac; 1583-01-01 is
     * 78 days after the latter */
    assert_true(calibration_days_between("1583-01-01", "2000-01-01", &days));
    assert_int_equal(days, 2451545 - 2299161 - 78);
    assert_false(calibration_days_between("2026-02-30", "2026-03-01", &days));
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(zero_and_gain_drift_show_as_what_the_old_one_would_read),
        cmocka_unit_test(drift_beyond_its_interval_is_significant),
        cmocka_unit_test(same_cell_drifts_significantly_in_one_of_twenty),
        cmocka_unit_test(exact_calibrations_have_no_interval),
        cmocka_unit_test(due_date_is_months_later),
        cmocka_unit_test(texts_that_are_no_dates_have_no_due_date),
        cmocka_unit_test(days_are_counted_over_leap_years),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
