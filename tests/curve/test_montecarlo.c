/* montecarlo: the uncertainty of each figure held against the law of propagation (JCGM 100). */
#include "check.h"
#include "curve/simpull.h"

#include "curve/interval.h"
#include "curve/measure.h"
#include "curve/montecarlo.h"

#include <gsl/gsl_errno.h>
#include <math.h>

static struct simpull pull;

static int set_up(void **state)
{
    (void)state;
    struct simbow *bow = simpull_bow("hunting_compound", 0.0);
    simpull_make(&pull, bow, simbow_stop_top_m(bow) + 0.0022);
    simbow_close(bow);
    return 0;
}

static struct measurement measure_with(const struct uncertainty_inputs *inputs, bool budget)
{
    struct readings readings = simpull_readings(&pull);
    struct measure_settings settings = measure_defaults();
    struct measurement m;
    struct err err;
    settings.uncertainty = *inputs;
    settings.uncertainty.trials = 4000;
    settings.uncertainty.seed = 3;
    settings.want_budget = budget;
    check_ok(measure_run(&readings, &settings, &m, &err));
    return m;
}

static double u_of(const struct measurement *m, enum figure_id id)
{
    assert_true(m->figures.f[id].present && m->figures.f[id].has_u);
    return m->figures.f[id].u_si;
}

static double value(const struct measurement *m, enum figure_id id)
{
    return m->figures.f[id].value_si;
}

/* the relative scatter of a standard deviation of 4000 trials is 1.1 %; 5 % is more than four of it
 */
#define check_u(m, id, expected) check_near(u_of(&(m), id), (expected), 0.05 * (expected))

static void a_zero_error_moves_forces_and_its_share_of_energy_and_let_off(void **state)
{
    (void)state;
    struct uncertainty_inputs inputs = {.trials = 0};
    inputs.force.covariance[0][0] = 0.3 * 0.3;
    struct measurement m = measure_with(&inputs, false);
    double peak_n = value(&m, FIGURE_PEAK_FORCE), hold_n = value(&m, FIGURE_HOLDING_FORCE);
    check_u(m, FIGURE_PEAK_FORCE, 0.3);
    check_u(m, FIGURE_HOLDING_FORCE, 0.3);
    check_u(m, FIGURE_STORED_ENERGY, 0.3 * value(&m, FIGURE_POWER_STROKE));
    /* let-off = 100 (1 - H/P): d/dzero = -100 (P - H)/P^2 */
    check_u(m, FIGURE_LET_OFF, 100.0 * (peak_n - hold_n) / (peak_n * peak_n) * 0.3);
    /* draw and let-down move alike: what is left comes from the distance of the readings */
    assert_true(u_of(&m, FIGURE_HYSTERESIS) < 1e-2 * u_of(&m, FIGURE_STORED_ENERGY));
    measurement_clear(&m);
}

static void the_datum_moves_lengths_but_not_the_power_stroke(void **state)
{
    (void)state;
    struct uncertainty_inputs inputs = {.u_datum_m = 5e-4};
    struct measurement m = measure_with(&inputs, false);
    check_u(m, FIGURE_BRACE_HEIGHT, 5e-4);
    check_u(m, FIGURE_DRAW_LENGTH_ATA, 5e-4);
    check_u(m, FIGURE_WALL_ONSET, 5e-4);
    assert_true(u_of(&m, FIGURE_POWER_STROKE) < 1e-5);
    assert_true(u_of(&m, FIGURE_STORED_ENERGY) < 1e-2);
    measurement_clear(&m);
}

static void a_scale_error_of_travel_moves_stroke_and_energy_alike(void **state)
{
    (void)state;
    struct uncertainty_inputs inputs = {.trials = 0};
    inputs.travel.covariance[1][1] = 1e-3 * 1e-3;
    struct measurement m = measure_with(&inputs, false);
    check_u(m, FIGURE_POWER_STROKE, 1e-3 * value(&m, FIGURE_POWER_STROKE));
    check_u(m, FIGURE_STORED_ENERGY, 1e-3 * value(&m, FIGURE_STORED_ENERGY));
    check_u(m, FIGURE_WALL_STIFFNESS, 1e-3 * value(&m, FIGURE_WALL_STIFFNESS));
    measurement_clear(&m);
}

static void give_moves_positions_by_the_force_there(void **state)
{
    (void)state;
    struct uncertainty_inputs inputs = {.u_compliance_m_per_n = 2e-6};
    struct measurement m = measure_with(&inputs, false);
    double hold_n = value(&m, FIGURE_HOLDING_FORCE), k = value(&m, FIGURE_WALL_STIFFNESS);
    check_u(m, FIGURE_PEAK_POSITION, 2e-6 * value(&m, FIGURE_PEAK_FORCE));
    check_u(m, FIGURE_FULL_DRAW, 2e-6 * hold_n);
    /* 1/k_true = 1/k - give, so dk = k^2 dgive */
    check_u(m, FIGURE_WALL_STIFFNESS, 2e-6 * k * k);
    measurement_clear(&m);
}

static void the_parts_of_the_budget_add_up_in_squares(void **state)
{
    (void)state;
    struct uncertainty_inputs inputs = {.u_datum_m = 3e-4, .u_drift_n = 0.4};
    inputs.force.covariance[1][1] = 1e-6;
    inputs.travel.covariance[1][1] = 1e-6;
    struct measurement m = measure_with(&inputs, true);
    assert_true(m.has_budget);
    static const enum figure_id ids[] = {FIGURE_PEAK_FORCE, FIGURE_STORED_ENERGY, FIGURE_FULL_DRAW,
                                         FIGURE_RETURNED_ENERGY};
    for (size_t i = 0; i < sizeof ids / sizeof ids[0]; i++) {
        double squares = 0.0;
        for (int source = 0; source < SOURCE_COUNT; source++)
            squares += m.budget.u_si[source][ids[i]] * m.budget.u_si[source][ids[i]];
        check_u(m, ids[i], sqrt(squares));
    }
    /* a drift even in time: a quarter of it on the draw, three quarters on the let-down */
    check_near(m.budget.u_si[SOURCE_DRIFT][FIGURE_PEAK_FORCE], 0.1, 0.006);
    check_near(m.budget.u_si[SOURCE_DRIFT][FIGURE_RETURNED_ENERGY],
               0.3 * value(&m, FIGURE_POWER_STROKE), 0.02);
    measurement_clear(&m);
}

/* The error of a line at any force is what the calibration says of itself there. */
static void the_error_model_is_the_uncertainty_of_the_calibration(void **state)
{
    (void)state;
    struct calibration_point points[] = {
        {.reference_si = 0, .count = 1000},    {.reference_si = 100, .count = 11003},
        {.reference_si = 200, .count = 20995}, {.reference_si = 300, .count = 31004},
        {.reference_si = 400, .count = 40998},
    };
    struct calibration line;
    struct err err;
    check_ok(calibration_fit(points, 5, QUANTITY_FORCE, 2, &line, &err));
    struct error_model model = error_model_of(&line, 50.0);
    static const double at_n[] = {0.0, 120.0, 390.0};
    for (int i = 0; i < 3; i++) {
        double v = at_n[i] - 50.0, powers[3] = {1.0, v, v * v}, variance = 0.0;
        for (int a = 0; a < 3; a++)
            for (int b = 0; b < 3; b++)
                variance += powers[a] * model.covariance[a][b] * powers[b];
        double count = (at_n[i] - line.coefficient[0]) / line.coefficient[1] * line.count_scale +
                       line.count_middle;
        double expected = calibration_u(&line, count);
        check_near(sqrt(variance), expected, 1e-9 * expected);
    }
}

/* Three pulls whose forces differ by a scale: s/sqrt(3), and an interval with t(0.975, 2)
 * = 4.302653 (Student's t; NIST/SEMATECH e-Handbook 1.3.6.7.2 gives 4.303). */
static void pulls_that_differ_widen_the_interval_by_students_t(void **state)
{
    (void)state;
    static double draw_m[3 * SIMPULL_MAX], force_n[3 * SIMPULL_MAX];
    static const double scale[3] = {0.99, 1.00, 1.01};
    size_t n = 0;
    for (int k = 0; k < 3; k++) {
        for (size_t i = 0; i < pull.n; i++, n++) {
            draw_m[n] = pull.draw_m[i];
            force_n[n] = scale[k] * pull.force_n[i];
        }
    }
    struct readings readings = {.n = n, .draw_m = draw_m, .force_n = force_n};
    struct measure_settings settings = measure_defaults();
    struct measurement m;
    struct err err;
    check_ok(measure_run(&readings, &settings, &m, &err));
    assert_int_equal(m.n_pulls, 3);
    double peak_n = value(&m, FIGURE_PEAK_FORCE), expected = 0.01 * peak_n / sqrt(3.0);
    check_u(m, FIGURE_PEAK_FORCE, expected);
    check_near(m.figures.f[FIGURE_PEAK_FORCE].high_si - peak_n, 4.302653 * expected,
               0.02 * expected);
    /* the let-off does not care about scale */
    assert_true(u_of(&m, FIGURE_LET_OFF) < 0.01);
    measurement_clear(&m);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_zero_error_moves_forces_and_its_share_of_energy_and_let_off),
        cmocka_unit_test(the_datum_moves_lengths_but_not_the_power_stroke),
        cmocka_unit_test(a_scale_error_of_travel_moves_stroke_and_energy_alike),
        cmocka_unit_test(give_moves_positions_by_the_force_there),
        cmocka_unit_test(the_parts_of_the_budget_add_up_in_squares),
        cmocka_unit_test(the_error_model_is_the_uncertainty_of_the_calibration),
        cmocka_unit_test(pulls_that_differ_widen_the_interval_by_students_t),
    };
    return cmocka_run_group_tests_name("montecarlo", tests, set_up, NULL);
}
