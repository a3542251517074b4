/* correct: what a fixture that gives, pulls askew, weighs and drifts does to a pull is taken away.
 */
#include "check.h"

#include "curve/correct.h"

#include <math.h>

enum { REST = 40, DRAW = 400, N = 2 * REST + 2 * DRAW };

/* A pull of a linear bow, 0.18 to 0.68 m, 500 N/m, with 40 readings of rest before and after. */
struct pull {
    double draw_m[N], force_n[N];
};

static struct pull true_pull(void)
{
    struct pull p;
    for (int i = 0; i < N; i++) {
        int step = i < REST ? 0 : i < REST + DRAW ? i - REST + 1 : N - REST - i;
        if (step < 0)
            step = 0;
        p.draw_m[i] = 0.18 + 0.5 * step / DRAW;
        p.force_n[i] = 500.0 * (p.draw_m[i] - 0.18);
    }
    return p;
}

static struct corrected correct(const struct pull *read, const struct fixture *fixture)
{
    struct readings readings = {.n = N, .draw_m = read->draw_m, .force_n = read->force_n};
    struct sweeps sweeps;
    struct err err;
    check_ok(sweeps_find(&readings, &sweeps, &err));
    assert_int_equal(sweeps.n, 1);
    struct corrected corrected;
    correct_readings(&readings, &sweeps, fixture, &corrected);
    sweeps_clear(&sweeps);
    return corrected;
}

static void check_same(const struct corrected *got, const struct pull *expected)
{
    for (int i = 0; i < N; i++) {
        check_near(got->force_n[i], expected->force_n[i], 1e-9);
        check_near(got->draw_m[i], expected->draw_m[i], 1e-12);
    }
}

static void without_a_fixture_nothing_changes(void **state)
{
    (void)state;
    struct pull truth = true_pull();
    struct fixture none = {.tare = false};
    struct corrected c = correct(&truth, &none);
    check_same(&c, &truth);
    corrected_clear(&c);
}

static void give_angle_and_hook_are_taken_away(void **state)
{
    (void)state;
    struct fixture fixture = {.give_m_per_n = 1e-5, .angle_rad = 0.1, .hook_n = 2.0};
    struct pull truth = true_pull(), read = truth;
    for (int i = 0; i < N; i++) {
        read.force_n[i] = (truth.force_n[i] + fixture.hook_n) / cos(0.1);
        read.draw_m[i] = truth.draw_m[i] + fixture.give_m_per_n * truth.force_n[i];
    }
    struct corrected c = correct(&read, &fixture);
    check_same(&c, &truth);
    corrected_clear(&c);
}

static void tare_takes_the_rest_away_and_drift_its_change(void **state)
{
    (void)state;
    struct pull truth = true_pull(), read = truth;
    for (int i = 0; i < N; i++)
        read.force_n[i] += 3.0 + 0.01 * i;
    struct fixture both = {.tare = true, .drift = true};
    struct corrected c = correct(&read, &both);
    for (int i = REST; i < N - REST; i++)
        check_near(c.force_n[i], truth.force_n[i], 1e-9);
    /* from the middle of one rest to the middle of the other */
    check_near(c.drift_n, 0.01 * (N - REST), 0.05);
    corrected_clear(&c);

    struct fixture drift_only = {.drift = true};
    c = correct(&read, &drift_only);
    check_near(c.force_n[REST + 10] - truth.force_n[REST + 10], c.zero_n, 1e-9);
    check_near(c.force_n[N - REST - 10] - truth.force_n[N - REST - 10], c.zero_n, 1e-9);
    corrected_clear(&c);
}

static void every_correction_brings_its_uncertainty(void **state)
{
    (void)state;
    struct fixture fixture = {.u_give_m_per_n = 2e-6,
                              .angle_rad = 0.1,
                              .u_angle_rad = 0.01,
                              .u_hook_n = 0.05,
                              .drift = true};
    struct corrected corrected = {.drift_n = 0.8};
    struct uncertainty_inputs inputs = {.trials = 10};
    correct_uncertainty(&fixture, &corrected, &inputs);
    check_near(inputs.u_compliance_m_per_n, 2e-6, 1e-18);
    /* d cos(a)/cos(a) = -tan(a) da, and half da squared of second order */
    check_near(sqrt(inputs.force.covariance[1][1]), hypot(tan(0.1) * 0.01, 0.5e-4), 1e-15);
    check_near(inputs.force.covariance[0][0], 0.0025, 1e-15);
    /* a quarter of the drift either way, rectangular */
    check_near(inputs.u_drift_n, 0.2 / sqrt(3.0), 1e-12);
}

static void tare_leaves_only_the_scatter_of_the_rest_in_the_zero(void **state)
{
    (void)state;
    struct fixture fixture = {.tare = true};
    struct corrected corrected = {.zero_known = true, .u_zero_n = 0.01};
    struct uncertainty_inputs inputs = {
        .force = {{{0.04, 0.001, 0.0}, {0.001, 1e-4, 0.0}, {0.0, 0.0, 0.0}}}};
    correct_uncertainty(&fixture, &corrected, &inputs);
    check_near(inputs.force.covariance[0][0], 1e-4, 1e-18);
    check_near(inputs.force.covariance[0][1], 0.0, 0.0);
    check_near(inputs.force.covariance[1][1], 1e-4, 1e-18);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_a_fixture_nothing_changes),
        cmocka_unit_test(give_angle_and_hook_are_taken_away),
        cmocka_unit_test(tare_takes_the_rest_away_and_drift_its_change),
        cmocka_unit_test(every_correction_brings_its_uncertainty),
        cmocka_unit_test(tare_leaves_only_the_scatter_of_the_rest_in_the_zero),
    };
    return cmocka_run_group_tests_name("correct", tests, NULL, NULL);
}
