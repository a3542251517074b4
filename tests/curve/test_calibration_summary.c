#include "curve/calibration_summary.h"

#include "check.h"

#include <gsl/gsl_errno.h>

static struct err err;

/* A cell of 1000 counts per N without any error but the ones that a test adds: the calibration is
 * stated, not fitted, so that what is off is known exactly. */
static const struct calibration exact_cell = {
    .quantity = QUANTITY_FORCE,
    .n_terms = 2,
    .coefficient = {50.0, 50.0},
    .count_middle = 50000.0,
    .count_scale = 50000.0,
    .count_low = 0.0,
    .count_high = 100000.0,
    .n_points = 10,
    .dof = 8,
    .residual_sd_si = 0.01,
    .value_low_si = 0.0,
    .value_high_si = 100.0,
};

/* A reading that is off by this much (N). */
static struct calibration_point reading(double load, double off, int run, bool decreasing)
{
    return (struct calibration_point){
        .reference_si = load, .count = 1000.0 * (load + off), .run = run, .decreasing = decreasing};
}

static void check_value(struct criterion_value value, double pct)
{
    assert_true(value.present);
    check_near(value.pct, pct, 1e-9);
}

/* --- each criterion ------------------------------------------------------------------------- */

static void interpolation_error_is_the_mean_of_what_is_off(void **state)
{
    (void)state;
    const struct calibration_point points[] = {reading(0, 0, 1, false), reading(50, 0.02, 1, false),
                                               reading(100, -0.03, 1, false),
                                               reading(50, 0.06, 1, true)};
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, 4, NULL, &summary);
    assert_int_equal(summary.n_loads, 2);
    check_value(summary.loads[0].value[CRITERION_INTERPOLATION], 100.0 * 0.04 / 50.0);
    check_value(summary.loads[1].value[CRITERION_INTERPOLATION], -100.0 * 0.03 / 100.0);
    check_near(summary.loads[0].mean_error_si, 0.04, 1e-9);
    check_value(summary.worst[CRITERION_INTERPOLATION], 0.08);
    calibration_summary_clear(&summary);
}

static void zero_return_is_the_change_of_zero_over_a_pass(void **state)
{
    (void)state;
    const struct calibration_point points[] = {
        reading(0, 0.10, 1, false), reading(50, 0.10, 1, false), reading(100, 0.10, 1, false),
        reading(50, 0.10, 1, true), reading(0, 0.07, 1, true),   reading(50, 0.07, 1, false),
        reading(0, 0.08, 1, true),  reading(0, 0.50, 2, false),  reading(50, 0.50, 2, false),
    };
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, 9, NULL, &summary);
    /* -0.03 N and then +0.01 N of 100 N; a new run begins with a zero of its own */
    check_value(summary.zero, -0.03);
    assert_int_equal(summary.n_runs, 2);
    calibration_summary_clear(&summary);
}

static void no_zero_after_the_loads_means_no_zero_return(void **state)
{
    (void)state;
    const struct calibration_point points[] = {reading(0, 0, 1, false), reading(50, 0, 1, false),
                                               reading(100, 0, 1, false)};
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, 3, NULL, &summary);
    assert_false(summary.zero.present);
    assert_false(summary.classified);
    calibration_summary_clear(&summary);
}

static void reversibility_is_falling_less_rising(void **state)
{
    (void)state;
    const struct calibration_point points[] = {
        reading(0, 0, 1, false),     reading(50, 0.01, 1, false), reading(100, 0, 1, false),
        reading(50, 0.05, 1, true),  reading(0, 0, 1, true),      reading(0, 0, 2, false),
        reading(50, 0.02, 2, false), reading(100, 0, 2, false),   reading(50, 0.04, 2, true),
    };
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, 9, NULL, &summary);
    check_value(summary.loads[0].value[CRITERION_REVERSIBILITY],
                100.0 * (0.04 + 0.02) / 2.0 / 50.0);
    assert_false(summary.loads[1].value[CRITERION_REVERSIBILITY].present);
    assert_int_equal(summary.loads[0].n_increasing, 2);
    assert_int_equal(summary.loads[0].n_decreasing, 2);
    calibration_summary_clear(&summary);
}

static void repeatability_compares_within_a_run_and_direction(void **state)
{
    (void)state;
    const struct calibration_point points[] = {
        reading(0, 0, 1, false),   reading(50, 0.01, 1, false), reading(50, 0.04, 1, true),
        reading(0, 0.00, 1, true), reading(50, 0.03, 1, false), reading(50, 0.09, 1, true),
        reading(100, 0, 1, false), reading(50, 0.50, 2, false),
    };
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, 8, NULL, &summary);
    /* rising 0.01 and 0.03, falling 0.04 and 0.09: the larger spread counts */
    check_value(summary.loads[0].value[CRITERION_REPEATABILITY], 100.0 * 0.05 / 50.0);
    calibration_summary_clear(&summary);
}

static void reproducibility_compares_runs_less_their_zero(void **state)
{
    (void)state;
    const struct calibration_point points[] = {
        reading(0, 0, 1, false),     reading(50, 0.01, 1, false), reading(0, 1.00, 2, false),
        reading(50, 1.04, 2, false), reading(0, -2.0, 3, false),  reading(50, -1.98, 3, false),
        reading(100, 0, 1, false)};
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, 7, NULL, &summary);
    check_value(summary.loads[0].value[CRITERION_REPRODUCIBILITY], 100.0 * 0.03 / 50.0);
    assert_false(summary.loads[1].value[CRITERION_REPRODUCIBILITY].present);
    calibration_summary_clear(&summary);
}

static void creep_is_a_share_of_the_largest_load(void **state)
{
    (void)state;
    const struct calibration_point points[] = {reading(0, 0, 1, false), reading(100, 0, 1, false)};
    const struct calibration_creep creep = {true, 100000.0, 100020.0};
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, 2, &creep, &summary);
    check_value(summary.creep, 0.02);
    calibration_summary_clear(&summary);
}

static void reference_counts_twice_its_standard_uncertainty(void **state)
{
    (void)state;
    struct calibration_point points[] = {reading(0, 0, 1, false), reading(50, 0, 1, false),
                                         reading(100, 0, 1, false)};
    points[1].u_reference_si = 0.01;
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, 3, NULL, &summary);
    check_value(summary.loads[0].value[CRITERION_REFERENCE], 0.04);
    assert_false(summary.loads[1].value[CRITERION_REFERENCE].present);
    calibration_summary_clear(&summary);
}

static void nearly_equal_loads_count_as_one(void **state)
{
    (void)state;
    const struct calibration_point points[] = {
        reading(0, 0, 1, false), reading(50.2, 0.01, 1, false), reading(49.9, 0.02, 2, false),
        reading(100, 0, 1, false), reading(99.4, 0, 2, false)};
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, 5, NULL, &summary);
    assert_int_equal(summary.n_loads, 3); /* 49.9 with 50.2; 99.4; 100 */
    check_near(summary.loads[0].reference_si, 50.05, 1e-9);
    calibration_summary_clear(&summary);
}

/* --- classes -------------------------------------------------------------------------------- */

/* Two runs up and down, all readings off by the same share of the load in run 2. */
static void classified(double share, double zero_off, struct calibration_summary *summary)
{
    struct calibration_point points[20];
    size_t n = 0;
    for (int run = 1; run <= 2; run++) {
        double off = run == 2 ? share : 0.0;
        points[n++] = reading(0, 0, run, false);
        for (double load = 20.0; load <= 100.0; load += 20.0)
            points[n++] = reading(load, off * load, run, false);
        points[n++] = reading(60, off * 60.0, run, true);
        points[n++] = reading(0, zero_off, run, true);
    }
    calibration_summarise(&exact_cell, points, n, NULL, summary);
}

static void class_follows_the_limits(void **state)
{
    (void)state;
    /* ISO 376 class limits, reproducibility 0.05, 0.10, 0.20, 0.40 %; from memory. Interpolation is
     * half of it and has half the limits. */
    const struct {
        double share;
        enum load_class expected;
    } rows[] = {{0.00049, LOAD_CLASS_00}, {0.00051, LOAD_CLASS_05}, {0.00099, LOAD_CLASS_05},
                {0.0011, LOAD_CLASS_1},   {0.0019, LOAD_CLASS_1},   {0.0021, LOAD_CLASS_2},
                {0.0039, LOAD_CLASS_2},   {0.0041, LOAD_CLASS_NONE}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct calibration_summary summary;
        classified(rows[i].share, 0.0, &summary);
        assert_true(summary.classified);
        assert_int_equal(summary.loads[2].load_class, rows[i].expected);
        for (int c = 0; c < LOAD_CLASS_COUNT; c++)
            assert_int_equal(summary.class_range[c].reached, c >= (int)rows[i].expected);
        calibration_summary_clear(&summary);
    }
}

static void poor_zero_return_lowers_every_load(void **state)
{
    (void)state;
    struct calibration_summary summary;
    classified(0.0, 0.04, &summary); /* 0.04 % of the largest load: class 1 */
    assert_int_equal(summary.loads[4].load_class, LOAD_CLASS_1);
    calibration_summary_clear(&summary);
}

static void class_holds_from_the_load_where_all_larger_ones_reach_it(void **state)
{
    (void)state;
    struct calibration_point points[14];
    size_t n = 0;
    for (int run = 1; run <= 2; run++) {
        double off = run == 2 ? 0.0301 : 0.0; /* N, the same at every load */
        points[n++] = reading(0, 0, run, false);
        for (double load = 20.0; load <= 100.0; load += 20.0)
            points[n++] = reading(load, off, run, false);
        points[n++] = reading(0, 0, run, true);
    }
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, n, NULL, &summary);
    /* 0.0301 N is 0.1505, 0.0753, 0.0502, 0.0376, 0.0301 % of the loads; limits of class 00 to 1
     * are 0.05, 0.10, 0.20 %, and half of it for the interpolation error, which is half */
    check_near(summary.class_range[LOAD_CLASS_00].from_si, 80.0, 1e-9);
    assert_true(summary.class_range[LOAD_CLASS_00].reached);
    check_near(summary.class_range[LOAD_CLASS_05].from_si, 40.0, 1e-9);
    check_near(summary.class_range[LOAD_CLASS_1].from_si, 20.0, 1e-9);
    calibration_summary_clear(&summary);
}

static void one_pass_alone_gives_no_class(void **state)
{
    (void)state;
    const struct calibration_point points[] = {reading(0, 0, 1, false), reading(50, 0, 1, false),
                                               reading(100, 0, 1, false), reading(50, 0, 1, true),
                                               reading(0, 0, 1, true)};
    struct calibration_summary summary;
    calibration_summarise(&exact_cell, points, 5, NULL, &summary);
    assert_false(summary.classified);
    for (int c = 0; c < LOAD_CLASS_COUNT; c++)
        assert_false(summary.class_range[c].reached);
    calibration_summary_clear(&summary);
}

/* --- ASTM E74 ------------------------------------------------------------------------------- */

static const double pontius_y[40] = {
    .11019,  .21956,  .32949,  .43899,  .54803,  .65694,  .76562,  .87487,  .98292,  1.09146,
    1.20001, 1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844,
    .11052,  .22018,  .32939,  .43886,  .54798,  .65739,  .76596,  .87474,  .98300,  1.09150,
    1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829};

static void e74_figures_of_the_published_load_cell(void **state)
{
    (void)state;
    struct calibration_point points[40];
    for (size_t i = 0; i < 40; i++)
        points[i] = (struct calibration_point){.count = 150000.0 * (double)(i % 20 + 1),
                                               .reference_si = pontius_y[i],
                                               .run = i < 20 ? 1 : 2};
    struct calibration calibration;
    check_ok(calibration_fit(points, 40, QUANTITY_FORCE, 3, &calibration, &err));
    struct calibration_summary summary;
    calibration_summarise(&calibration, points, 40, NULL, &summary);
    /* NIST StRD Pontius, residual sd 0.000205177424; times ASTM E74's 2.4 (from memory): LLF
     * 0.000492426 in deflection, 672.66 in load by the slope 0.732059160401003E-06, class A from
     * 269 063, class AA from 1 345 317 (derived) */
    double slope = 0.732059160401003E-06;
    check_near(summary.e74.llf_si, 0.000492426, 0.5e-9);
    check_near(summary.e74.llf_si / slope, 672.66, 0.005);
    check_near(summary.e74.class_a_from_si / slope, 269063.0, 0.6);
    check_near(summary.e74.class_aa_from_si / slope, 1345317.0, 0.6);
    assert_false(summary.e74.enough); /* two runs */
    calibration_summary_clear(&summary);
}

static void e74_in_load_units_is_the_same_fitted_our_way(void **state)
{
    (void)state;
    struct calibration_point points[40]; /* load as a function of deflection */
    for (size_t i = 0; i < 40; i++)
        points[i] = (struct calibration_point){.reference_si = 150000.0 * (double)(i % 20 + 1),
                                               .count = pontius_y[i],
                                               .run = i < 20 ? 1 : 2};
    struct calibration calibration;
    check_ok(calibration_fit(points, 40, QUANTITY_FORCE, 3, &calibration, &err));
    struct calibration_summary summary;
    calibration_summarise(&calibration, points, 40, NULL, &summary);
    /* 2.4 s of the quadratic through the same points turned round, by numpy: 675.1 */
    check_near(summary.e74.llf_si, 675.1125592750442, 1e-6);
    calibration_summary_clear(&summary);
}

static void length_has_no_e74(void **state)
{
    (void)state;
    struct calibration travel = exact_cell;
    travel.quantity = QUANTITY_LENGTH;
    const struct calibration_point points[] = {reading(0, 0, 1, false), reading(100, 0, 1, false)};
    struct calibration_summary summary;
    calibration_summarise(&travel, points, 2, NULL, &summary);
    assert_false(summary.has_e74);
    calibration_summary_clear(&summary);
}

/* --- directions ----------------------------------------------------------------------------- */

static void directions_follow_from_the_order_of_the_loads(void **state)
{
    (void)state;
    struct calibration_point points[] = {
        reading(0, 0, 1, true),    reading(50, 0, 1, true),  reading(100, 0, 1, true),
        reading(0, 0, 2, true),    reading(50, 0, 1, false), reading(50, 0, 1, false),
        reading(100, 0, 2, false), reading(0, 0, 1, false),  reading(0, 0, 1, false)};
    const bool expected[] = {false, false, false, false, true, true, false, true, true};
    calibration_set_directions(points, 9);
    for (size_t i = 0; i < 9; i++)
        assert_int_equal(points[i].decreasing, expected[i]);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(interpolation_error_is_the_mean_of_what_is_off),
        cmocka_unit_test(zero_return_is_the_change_of_zero_over_a_pass),
        cmocka_unit_test(no_zero_after_the_loads_means_no_zero_return),
        cmocka_unit_test(reversibility_is_falling_less_rising),
        cmocka_unit_test(repeatability_compares_within_a_run_and_direction),
        cmocka_unit_test(reproducibility_compares_runs_less_their_zero),
        cmocka_unit_test(creep_is_a_share_of_the_largest_load),
        cmocka_unit_test(reference_counts_twice_its_standard_uncertainty),
        cmocka_unit_test(nearly_equal_loads_count_as_one),
        cmocka_unit_test(class_follows_the_limits),
        cmocka_unit_test(poor_zero_return_lowers_every_load),
        cmocka_unit_test(class_holds_from_the_load_where_all_larger_ones_reach_it),
        cmocka_unit_test(one_pass_alone_gives_no_class),
        cmocka_unit_test(e74_figures_of_the_published_load_cell),
        cmocka_unit_test(e74_in_load_units_is_the_same_fitted_our_way),
        cmocka_unit_test(length_has_no_e74),
        cmocka_unit_test(directions_follow_from_the_order_of_the_loads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
