#include "curve/conformity.h"

#include "check.h"
#include "python.h"

#include <gsl/gsl_errno.h>

static struct err err;

static struct tolerance between(double low, double high)
{
    return (struct tolerance){.has_low = true, .has_high = true, .low = low, .high = high};
}

static struct tolerance at_most(double high)
{
    return (struct tolerance){.has_high = true, .high = high};
}

static struct tolerance at_least(double low)
{
    return (struct tolerance){.has_low = true, .low = low};
}

static struct measured normal(double value, double u)
{
    return (struct measured){.value = value, .u = u, .dof = INFINITY};
}

static double probability(struct tolerance tolerance, struct measured measured)
{
    return conformity_probability(&tolerance, &measured);
}

static struct conformity decide(struct tolerance tolerance, struct measured measured)
{
    struct conformity_settings settings = conformity_defaults();
    return conformity_decide(&tolerance, &measured, &settings);
}

/* --- published probabilities ---------------------------------------------------------------- */

static void breakdown_voltage_has_the_published_probability(void **state)
{
    (void)state;
    /* JCGM 106:2012 7.4, example 1: 0.92; from memory, recomputed: Phi(1.40) */
    check_near(probability(at_most(-5.40), normal(-5.47, 0.05)), 0.9192433407662284, 1e-10);
}

static void bursting_pressure_has_the_published_probability(void **state)
{
    (void)state;
    /* JCGM 106:2012 7.4, example 2: 0.99; from memory, recomputed: Phi(19.7/8.6) */
    check_near(probability(at_least(490.0), normal(509.7, 8.6)), 0.9890, 0.0001);
}

static void oil_viscosity_has_the_published_probability(void **state)
{
    (void)state;
    /* JCGM 106:2012 7.5: 0.66; from memory, recomputed 0.6626 */
    check_near(probability(between(12.5, 16.3), normal(13.6, 1.8)), 0.6626, 0.0001);
}

static void precision_resistors_have_the_published_risks(void **state)
{
    (void)state;
    struct tolerance tolerance = between(1499.80, 1500.20);
    struct tolerance guarded = between(1499.82, 1500.18);
    struct conformity_risks simple_risks, guarded_risks;
    check_ok(
        conformity_global_risks(1500.0, 0.12, 0.04, &tolerance, &tolerance, &simple_risks, &err));
    check_ok(
        conformity_global_risks(1500.0, 0.12, 0.04, &tolerance, &guarded, &guarded_risks, &err));
    /* JCGM 106:2012 9.5.4, precision resistors (numbers from memory, risks recomputed): with the
     * guard band consumer 1 %, producer 7 %; without 1.89 % and 3.72 %; process 0.9044 */
    check_near(guarded_risks.consumer, 0.0099, 0.00005);
    check_near(guarded_risks.producer, 0.0690, 0.00005);
    check_near(simple_risks.consumer, 0.0189, 0.00005);
    check_near(simple_risks.producer, 0.0372, 0.00005);
    check_near(simple_risks.good, 0.9044, 0.00005);
}

static void global_risks_agree_with_scipy(void **state)
{
    (void)state;
    double truth[4];
    python_numbers("from scipy.integrate import quad\n"
                   "def risks(m, s, u, low, high, a, b):\n"
                   "  acc = lambda x: st.norm.cdf((b - x) / u) - st.norm.cdf((a - x) / u)\n"
                   "  g = lambda x: st.norm.pdf(x, m, s)\n"
                   "  q = lambda f, i, j: quad(f, i, j, epsabs=1e-13, epsrel=1e-12, limit=500)[0]\n"
                   "  bad = lambda x: g(x) * acc(x)\n"
                   "  c = q(bad, m - 10 * s, low) + q(bad, high, m + 10 * s)\n"
                   "  return c, q(lambda x: g(x) * (1 - acc(x)), low, high)\n"
                   "print(*[repr(float(v)) for v in risks(59.4, .5, .2, 58.8, 60., 59., 59.8)])\n"
                   "print(*[repr(float(v)) for v in risks(0., 1., .5, -1., 1.5, -1.2, 1.7)])\n",
                   truth, 4);
    struct tolerance tolerance = between(58.8, 60.0), accept = between(59.0, 59.8);
    struct conformity_risks risks;
    check_ok(conformity_global_risks(59.4, 0.5, 0.2, &tolerance, &accept, &risks, &err));
    check_near(risks.consumer, truth[0], 1e-9);
    check_near(risks.producer, truth[1], 1e-9);
    tolerance = between(-1.0, 1.5);
    accept = between(-1.2, 1.7);
    check_ok(conformity_global_risks(0.0, 1.0, 0.5, &tolerance, &accept, &risks, &err));
    check_near(risks.consumer, truth[2], 1e-9);
    check_near(risks.producer, truth[3], 1e-9);
}

static void sharp_measurement_leaves_no_risk(void **state)
{
    (void)state;
    struct tolerance tolerance = between(-1.0, 1.0);
    struct conformity_risks risks;
    check_ok(conformity_global_risks(0.0, 1.0, 1e-6, &tolerance, &tolerance, &risks, &err));
    check_near(risks.consumer, 0.0, 1e-6);
    check_near(risks.producer, 0.0, 1e-6);
}

static void student_probability_agrees_with_scipy(void **state)
{
    (void)state;
    double truth[2];
    python_numbers("print(repr(float(st.t.cdf(1.5, 4) - st.t.cdf(-2.5, 4))))\n"
                   "print(repr(float(st.t.cdf(2., 9))))\n",
                   truth, 2);
    struct measured four = {.value = 59.0, .u = 0.4, .dof = 4.0};
    check_near(probability(between(58.0, 59.6), four), truth[0], 1e-12);
    struct measured nine = {.value = 59.2, .u = 0.4, .dof = 9.0};
    check_near(probability(at_most(60.0), nine), truth[1], 1e-12);
}

/* --- verdicts ------------------------------------------------------------------------------- */

static void peak_near_the_limit_is_not_proven(void **state)
{
    (void)state;
    /* limit 60 lbf, measured 59.6, u 0.3: p = Phi(1.333) = 0.9088; proven at 95 % only up to
     * 60 - 1.6449 x 0.3 = 59.507 lbf (derived from ISO 14253-1's rule) */
    struct conformity got = decide(at_most(60.0), normal(59.6, 0.3));
    check_near(got.probability, 0.9088, 0.0001);
    check_near(got.acceptance.high, 59.507, 0.001);
    assert_true(isinf(got.acceptance.low) && got.acceptance.low < 0.0);
    assert_int_equal(got.verdict, VERDICT_NOT_PROVEN);
}

static void verdict_changes_at_the_acceptance_limit(void **state)
{
    (void)state;
    double guard = 1.6448536269514722 * 0.3;
    assert_int_equal(decide(at_most(60.0), normal(60.0 - guard - 1e-9, 0.3)).verdict,
                     VERDICT_MEETS);
    assert_int_equal(decide(at_most(60.0), normal(60.0 - guard + 1e-9, 0.3)).verdict,
                     VERDICT_NOT_PROVEN);
    assert_int_equal(decide(at_most(60.0), normal(60.0 + guard - 1e-9, 0.3)).verdict,
                     VERDICT_NOT_PROVEN);
    assert_int_equal(decide(at_most(60.0), normal(60.0 + guard + 1e-9, 0.3)).verdict,
                     VERDICT_FAILS);
    assert_int_equal(decide(at_least(60.0), normal(60.0 + guard + 1e-9, 0.3)).verdict,
                     VERDICT_MEETS);
    assert_int_equal(decide(at_least(60.0), normal(60.0 - guard - 1e-9, 0.3)).verdict,
                     VERDICT_FAILS);
}

static void two_sided_acceptance_agrees_with_the_probability(void **state)
{
    (void)state;
    struct tolerance tolerance = between(58.0, 60.0);
    struct conformity got = decide(tolerance, normal(59.0, 0.45));
    assert_true(got.acceptance.possible);
    check_near(probability(tolerance, normal(got.acceptance.low, 0.45)), 0.95, 1e-9);
    check_near(probability(tolerance, normal(got.acceptance.high, 0.45)), 0.95, 1e-9);
    /* where both tails count, it is narrower than with one-sided guard bands */
    assert_true(got.acceptance.high < 60.0 - 1.6448536 * 0.45);
}

static void too_uncertain_a_value_proves_nothing(void **state)
{
    (void)state;
    struct conformity got = decide(between(58.0, 60.0), normal(59.0, 1.0));
    assert_int_equal(got.verdict, VERDICT_NOT_PROVEN);
    assert_false(got.acceptance.possible);
}

static void exact_value_is_inside_or_outside(void **state)
{
    (void)state;
    assert_int_equal(decide(at_most(60.0), normal(60.0, 0.0)).verdict, VERDICT_MEETS);
    assert_int_equal(decide(at_most(60.0), normal(60.000001, 0.0)).verdict, VERDICT_FAILS);
    check_near(decide(between(1.0, 2.0), normal(1.5, 0.0)).acceptance.high, 2.0, 0.0);
}

static void simple_acceptance_takes_the_value_alone(void **state)
{
    (void)state;
    struct conformity_settings simple = {.rule = CONFORMITY_SIMPLE, .probability = 0.95};
    struct tolerance tolerance = at_most(60.0);
    struct measured inside = normal(59.99, 0.3), outside = normal(60.01, 0.3);
    assert_int_equal(conformity_decide(&tolerance, &inside, &simple).verdict, VERDICT_MEETS);
    assert_int_equal(conformity_decide(&tolerance, &outside, &simple).verdict, VERDICT_FAILS);
}

static void few_degrees_of_freedom_ask_for_more_room(void **state)
{
    (void)state;
    struct measured few = {.value = 59.4, .u = 0.3, .dof = 2.0};
    assert_int_equal(decide(at_most(60.0), normal(59.4, 0.3)).verdict, VERDICT_MEETS);
    assert_int_equal(decide(at_most(60.0), few).verdict, VERDICT_NOT_PROVEN);
}

static void verdicts_have_the_names_of_the_contract(void **state)
{
    (void)state;
    assert_string_equal(verdict_name(VERDICT_MEETS), "meets");
    assert_string_equal(verdict_name(VERDICT_FAILS), "fails");
    assert_string_equal(verdict_name(VERDICT_NOT_PROVEN), "not_proven");
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(breakdown_voltage_has_the_published_probability),
        cmocka_unit_test(bursting_pressure_has_the_published_probability),
        cmocka_unit_test(oil_viscosity_has_the_published_probability),
        cmocka_unit_test(precision_resistors_have_the_published_risks),
        cmocka_unit_test(global_risks_agree_with_scipy),
        cmocka_unit_test(sharp_measurement_leaves_no_risk),
        cmocka_unit_test(student_probability_agrees_with_scipy),
        cmocka_unit_test(peak_near_the_limit_is_not_proven),
        cmocka_unit_test(verdict_changes_at_the_acceptance_limit),
        cmocka_unit_test(two_sided_acceptance_agrees_with_the_probability),
        cmocka_unit_test(too_uncertain_a_value_proves_nothing),
        cmocka_unit_test(exact_value_is_inside_or_outside),
        cmocka_unit_test(simple_acceptance_takes_the_value_alone),
        cmocka_unit_test(few_degrees_of_freedom_ask_for_more_room),
        cmocka_unit_test(verdicts_have_the_names_of_the_contract),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
