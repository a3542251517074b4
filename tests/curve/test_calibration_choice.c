#include "curve/calibration_choice.h"

#include "check.h"
#include "python.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

static struct err err;

enum { N_MAX = 64 };

/* Loads 0, 20, 40 ... N on a cell of 300 counts per N, bent by this many counts at 200 N. */
static size_t cell(struct calibration_point *points, size_t n, double bend, double noise,
                   gsl_rng *rng)
{
    for (size_t i = 0; i < n; i++) {
        double load = 20.0 * (double)i;
        double count = 8388608.0 + 300.0 * load + bend * load * load / 40000.0;
        points[i] = (struct calibration_point){.reference_si = load, .count = count, .run = 1};
        if (rng != NULL)
            points[i].count += gsl_ran_gaussian(rng, noise);
    }
    return n;
}

static struct calibration_choice choose(const struct calibration_point *points, size_t n)
{
    struct calibration_choice choice;
    check_ok(calibration_choose(points, n, QUANTITY_FORCE, CALIBRATION_REFERENCES_COMMON, &choice,
                                &err));
    return choice;
}

/* --- line or quadratic ---------------------------------------------------------------------- */

static void load_cell_of_the_published_data_needs_a_quadratic(void **state)
{
    (void)state;
    /* NIST StRD Pontius: the calibration of a load cell, whose certified model is quadratic */
    static const double y[40] = {
        .11019,  .21956,  .32949,  .43899,  .54803,  .65694,  .76562,  .87487,  .98292,  1.09146,
        1.20001, 1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844,
        .11052,  .22018,  .32939,  .43886,  .54798,  .65739,  .76596,  .87474,  .98300,  1.09150,
        1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829};
    struct calibration_point points[40];
    for (size_t i = 0; i < 40; i++)
        points[i] = (struct calibration_point){
            .count = 150000.0 * (double)(i % 20 + 1), .reference_si = y[i], .run = i < 20 ? 1 : 2};
    struct calibration_choice choice = choose(points, 40);
    assert_int_equal(choice.n_terms, 3);
    assert_int_equal(choice.reason, CALIBRATION_QUADRATIC_NEEDED);
    assert_int_equal(choice.n_loads, 40); /* deflection is what is fitted here */
    /* F = (B2 / its sd)^2 of the certified values */
    check_near(choice.f, pow(0.316081871345029E-14 / 0.486652849992036E-16, 2.0), 1e-5);
    check_near(choice.quadratic_sd_si, 0.205177424076185E-03, 1e-14);
}

static void f_test_agrees_with_scipy(void **state)
{
    (void)state;
    const double y[8] = {0.0, 10.1, 20.3, 30.2, 40.6, 50.3, 61.1, 71.5};
    struct calibration_point points[8];
    for (size_t i = 0; i < 8; i++)
        points[i] = (struct calibration_point){.count = (double)i, .reference_si = y[i]};
    double truth[4];
    python_numbers("x = np.arange(8.)\n"
                   "y = np.array([0, 10.1, 20.3, 30.2, 40.6, 50.3, 61.1, 71.5])\n"
                   "r = [((y - np.polyval(np.polyfit(x, y, k), x)) ** 2).sum() for k in (1, 2)]\n"
                   "f = (r[0] - r[1]) / (r[1] / 5)\n"
                   "print(*[repr(float(v)) for v in (f, st.f.sf(f, 1, 5), "
                   "np.sqrt(r[0] / 6), np.sqrt(r[1] / 5))])\n",
                   truth, 4);
    struct calibration_choice choice = choose(points, 8);
    assert_true(choice.tested);
    check_near(choice.f / truth[0], 1.0, 1e-9);
    check_near(choice.p / truth[1], 1.0, 1e-9);
    check_near(choice.line_sd_si / truth[2], 1.0, 1e-10);
    check_near(choice.quadratic_sd_si / truth[3], 1.0, 1e-10);
}

static void few_loads_never_make_a_quadratic(void **state)
{
    (void)state;
    struct calibration_point points[40];
    for (size_t i = 0; i < 40; i++) /* plainly bent, many readings, five loads */
        points[i] = (struct calibration_point){.reference_si = (double)(i % 5),
                                               .count = (double)((i % 5) * (i % 5) + 3 * (i % 5)) +
                                                        0.01 * (double)(i % 3)};
    struct calibration_choice choice = choose(points, 40);
    assert_int_equal(choice.n_loads, 5);
    assert_int_equal(choice.n_terms, 2);
    assert_int_equal(choice.reason, CALIBRATION_LINE_FEW_LOADS);
    assert_false(choice.tested);
}

static void exact_line_stays_a_line(void **state)
{
    (void)state;
    struct calibration_point points[10];
    struct calibration_choice choice = choose(points, cell(points, 10, 0.0, 0.0, NULL));
    assert_int_equal(choice.n_terms, 2);
    assert_int_equal(choice.reason, CALIBRATION_LINE_ENOUGH);
}

static void exact_bend_is_found(void **state)
{
    (void)state;
    struct calibration_point points[10];
    struct calibration_choice choice = choose(points, cell(points, 10, 40.0, 0.0, NULL));
    assert_int_equal(choice.n_terms, 3);
}

static void chance_makes_a_quadratic_in_one_of_twenty(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 7);
    struct calibration_point points[N_MAX];
    double n_trials = 4000.0, n_quadratic = 0.0;
    for (int trial = 0; trial < 4000; trial++)
        n_quadratic += choose(points, cell(points, 12, 0.0, 15.0, rng)).n_terms == 3;
    gsl_rng_free(rng);
    check_near(n_quadratic / n_trials, 0.05, 4.0 * sqrt(0.05 * 0.95 / n_trials));
}

static void error_common_to_all_references_is_no_evidence(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 8);
    struct calibration_point points[10];
    size_t n = cell(points, 10, 100.0, 5.0, rng);
    gsl_rng_free(rng);
    struct calibration_choice without = choose(points, n);
    for (size_t i = 0; i < n; i++)
        points[i].u_reference_si = 0.01 * points[i].reference_si;
    struct calibration_choice with = choose(points, n);
    check_near(with.f, without.f, 1e-9 * without.f);
}

static void points_that_cannot_be_fitted_are_refused(void **state)
{
    (void)state;
    struct calibration_point points[3] = {{.count = 1}, {.count = 1}, {.count = 1}};
    struct calibration_choice choice;
    assert_int_equal(
        calibration_choose(points, 3, QUANTITY_FORCE, CALIBRATION_REFERENCES_COMMON, &choice, &err),
        STATUS_NO_FIT);
}

/* --- outliers ------------------------------------------------------------------------------- */

static size_t find(const struct calibration_point *points, size_t n, size_t n_terms,
                   struct calibration_outlier *outliers)
{
    size_t n_outliers = 0;
    check_ok(
        calibration_find_outliers(points, n, QUANTITY_FORCE, n_terms, outliers, &n_outliers, &err));
    return n_outliers;
}

static void gross_error_is_flagged_wherever_it_is(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 9);
    for (size_t bad = 0; bad < 10; bad++) {
        struct calibration_point points[10];
        struct calibration_outlier outliers[10];
        size_t n = cell(points, 10, 0.0, 3.0, rng);
        points[bad].count += 300.0 * 2.0; /* 2 N too much on it */
        assert_int_equal(find(points, n, 2, outliers), 1);
        assert_int_equal(outliers[0].point, bad);
        check_near(outliers[0].residual_si, -2.0, 0.2);
        assert_true(outliers[0].t < -10.0);
    }
    gsl_rng_free(rng);
}

static void two_gross_errors_do_not_hide_each_other(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 10);
    struct calibration_point points[14];
    struct calibration_outlier outliers[14];
    size_t n = cell(points, 14, 0.0, 3.0, rng);
    gsl_rng_free(rng);
    points[4].count += 400.0;
    points[5].count += 420.0;
    assert_int_equal(find(points, n, 2, outliers), 2);
    assert_int_equal(outliers[0].point, 4);
    assert_int_equal(outliers[1].point, 5);
}

static void good_points_are_seldom_flagged(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 11);
    struct calibration_point points[N_MAX];
    struct calibration_outlier outliers[N_MAX];
    double n_flagged = 0.0;
    for (int trial = 0; trial < 3000; trial++)
        n_flagged +=
            find(points, cell(points, 6 + (size_t)trial % 20, 0.0, 15.0, rng), 2, outliers) > 0;
    gsl_rng_free(rng);
    assert_true(n_flagged / 3000.0 < 0.02);
}

static void rounding_of_whole_counts_is_no_outlier(void **state)
{
    (void)state;
    struct calibration_point points[12];
    struct calibration_outlier outliers[12];
    size_t n = cell(points, 12, 0.0, 0.0, NULL);
    assert_int_equal(find(points, n, 2, outliers), 0); /* exact */
    points[3].count += 0.4;
    assert_int_equal(find(points, n, 2, outliers), 0);
    points[3].count += 30.0; /* all others exact: this one is wrong */
    assert_int_equal(find(points, n, 2, outliers), 1);
}

static void too_few_points_to_tell_flag_nothing(void **state)
{
    (void)state;
    struct calibration_point points[4];
    struct calibration_outlier outliers[4];
    size_t n = cell(points, 4, 0.0, 0.0, NULL);
    points[1].count += 3000.0;
    assert_int_equal(find(points, n, 2, outliers), 0);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(load_cell_of_the_published_data_needs_a_quadratic),
        cmocka_unit_test(f_test_agrees_with_scipy),
        cmocka_unit_test(few_loads_never_make_a_quadratic),
        cmocka_unit_test(exact_line_stays_a_line),
        cmocka_unit_test(exact_bend_is_found),
        cmocka_unit_test(chance_makes_a_quadratic_in_one_of_twenty),
        cmocka_unit_test(error_common_to_all_references_is_no_evidence),
        cmocka_unit_test(points_that_cannot_be_fitted_are_refused),
        cmocka_unit_test(gross_error_is_flagged_wherever_it_is),
        cmocka_unit_test(two_gross_errors_do_not_hide_each_other),
        cmocka_unit_test(good_points_are_seldom_flagged),
        cmocka_unit_test(rounding_of_whole_counts_is_no_outlier),
        cmocka_unit_test(too_few_points_to_tell_flag_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
