#include "curve/interval.h"

#include "check.h"
#include "python.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <stdlib.h>

static struct err err;

enum { TRIALS = 1000000 };

/* --- factors -------------------------------------------------------------------------------- */

static void coverage_factors_agree_with_scipy(void **state)
{
    (void)state;
    const double dof[8] = {1, 2, 5, 9, 34, 37, 1000, 2.5};
    const double probability[3] = {0.6827, 0.95, 0.999};
    double truth[24];
    python_numbers("for p in (.6827, .95, .999):\n"
                   "  for d in (1, 2, 5, 9, 34, 37, 1000, 2.5):\n"
                   "    print(repr(float(st.t.ppf((1 + p) / 2, d))))\n",
                   truth, 24);
    for (size_t i = 0; i < 24; i++)
        check_near(interval_coverage_factor(probability[i / 8], dof[i % 8]) / truth[i], 1.0,
                   5e-9); /* scipy 1.10 itself is good to 2e-9 (see the exact ones below) */
}

static void factors_with_a_closed_form_are_exact(void **state)
{
    (void)state;
    /* Student t with one degree of freedom is Cauchy: tan(pi p / 2); with two: p sqrt(2/(1-p^2)) */
    for (double p = 0.05; p < 1.0; p += 0.05) {
        check_near(interval_coverage_factor(p, 1.0) / tan(acos(-1.0) * p / 2.0), 1.0, 1e-13);
        check_near(interval_coverage_factor(p, 2.0) / (p * sqrt(2.0 / (1.0 - p * p))), 1.0, 1e-13);
    }
}

static void factors_have_the_tabled_values(void **state)
{
    (void)state;
    /* JCGM 100:2008 table G.2, t for 95 % at 1, 5, 9 and infinite degrees of freedom */
    check_near(interval_coverage_factor(0.95, 1.0), 12.71, 0.005);
    check_near(interval_coverage_factor(0.95, 5.0), 2.57, 0.005);
    check_near(interval_coverage_factor(0.95, 9.0), 2.26, 0.005);
    check_near(interval_coverage_factor(0.95, INFINITY), 1.960, 0.0005);
    /* NIST/SEMATECH e-Handbook 4.6.1, t(0.975, 37) */
    check_near(interval_coverage_factor(0.95, 37.0), 2.026192, 0.000001);
}

static void intervals_lie_around_the_value(void **state)
{
    (void)state;
    struct interval normal = interval_normal(60.0, 0.3, 0.95);
    check_near(normal.low, 60.0 - 0.3 * 1.9599639845400545, 1e-12);
    check_near(normal.high, 60.0 + 0.3 * 1.9599639845400545, 1e-12);
    struct interval none = interval_student(5.0, 0.0, 3.0, 0.95);
    check_near(none.low, 5.0, 0.0);
    check_near(none.high, 5.0, 0.0);
}

static void student_cdf_is_the_inverse_of_the_factor(void **state)
{
    (void)state;
    for (double dof = 1.0; dof < 200.0; dof *= 1.7) {
        double k = interval_coverage_factor(0.95, dof);
        check_near(interval_student_cdf(k, dof), 0.975, 1e-12);
        check_near(interval_student_cdf(-k, dof), 0.025, 1e-12);
    }
    check_near(interval_student_cdf(1.96, INFINITY), 0.9750021048517795, 1e-12);
}

static void effective_dof_follow_the_gum_example(void **state)
{
    (void)state;
    /* JCGM 100:2008 H.1.6, end gauge: 25 nm (18), 9.7 nm (25.6), 2.9 nm (50), 16.6 nm (2) give
     * 16.7 effective degrees of freedom; from memory */
    const double u[5] = {25.0, 9.7, 2.9, 16.6, 0.0};
    const double dof[5] = {18.0, 25.6, 50.0, 2.0, INFINITY};
    check_near(interval_effective_dof(u, dof, 5), 16.7, 0.1);
    /* equal parts: n times the degrees of freedom of each (the formula, G.2b) */
    const double equal[4] = {1e200, 1e200, 1e200, 1e200}, five[4] = {5, 5, 5, 5};
    check_near(interval_effective_dof(equal, five, 4), 20.0, 1e-12);
    const double never[2] = {INFINITY, INFINITY};
    assert_true(isinf(interval_effective_dof(u, never, 2)));
}

static void numerical_tolerance_follows_the_supplement(void **state)
{
    (void)state;
    /* JCGM 101:2008 7.9.2 examples: u(m) 0.000 35 with two digits 0.000 005, and 2 K with one digit
     * 0.5 K; from memory */
    check_near(interval_tolerance(0.00035, 2), 0.000005, 1e-15);
    check_near(interval_tolerance(0.00035, 1), 0.00005, 1e-14);
    check_near(interval_tolerance(2.0, 1), 0.5, 1e-12);
}

/* --- Monte Carlo ---------------------------------------------------------------------------- */

/* A rectangular distribution with mean 0 and this standard deviation. */
static double rectangular(gsl_rng *rng, double sd)
{
    return gsl_ran_flat(rng, -sqrt(3.0) * sd, sqrt(3.0) * sd);
}

static double *sample(double (*draw)(gsl_rng *), unsigned long seed)
{
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    assert_non_null(rng);
    gsl_rng_set(rng, seed);
    double *values = malloc(TRIALS * sizeof *values);
    assert_non_null(values);
    for (size_t i = 0; i < TRIALS; i++)
        values[i] = draw(rng);
    gsl_rng_free(rng);
    interval_sort(values, TRIALS);
    return values;
}

static double four_normal(gsl_rng *rng)
{
    double sum = 0.0;
    for (int i = 0; i < 4; i++)
        sum += gsl_ran_gaussian_ziggurat(rng, 1.0);
    return sum;
}

static double four_rectangular(gsl_rng *rng)
{
    double sum = 0.0;
    for (int i = 0; i < 4; i++)
        sum += rectangular(rng, 1.0);
    return sum;
}

static double one_wide_rectangular(gsl_rng *rng)
{
    double sum = rectangular(rng, 10.0);
    for (int i = 0; i < 3; i++)
        sum += rectangular(rng, 1.0);
    return sum;
}

static void check_symmetric(double (*draw)(gsl_rng *), double u, double u_within, double half,
                            double half_within)
{
    double *values = sample(draw, 101);
    struct interval_sample summary = interval_sample_summary(values, TRIALS);
    check_near(summary.mean, 0.0, 4.0 * u / sqrt(TRIALS));
    check_near(summary.sd, u, u_within);
    struct interval symmetric, shortest;
    check_ok(interval_symmetric(values, TRIALS, 0.95, &symmetric, &err));
    check_ok(interval_shortest(values, TRIALS, 0.95, &shortest, &err));
    check_near(symmetric.low, -half, half_within);
    check_near(symmetric.high, half, half_within);
    assert_true(shortest.high - shortest.low <= symmetric.high - symmetric.low);
    free(values);
}

static void four_normals_have_the_published_interval(void **state)
{
    (void)state;
    /* JCGM 101:2008 9.2.2 (values from memory; recomputed): u 2.0, +-3.92. The numerical tolerance
     * at 1e6 trials, 4 standard deviations: 4 sqrt(p (1 - p) / M) / density */
    check_symmetric(four_normal, 2.0, 0.006, 3.9199, 0.022);
}

static void four_rectangulars_have_the_published_interval(void **state)
{
    (void)state;
    /* JCGM 101:2008 9.2.3 (values from memory; recomputed exactly +-3.8794): u 2.0, +-3.88 */
    check_symmetric(four_rectangular, 2.0, 0.006, 3.8794, 0.022);
}

static void one_wide_rectangular_has_the_published_interval(void **state)
{
    (void)state;
    /* JCGM 101:2008 9.2.4 (values from memory; recomputed 10.149 and +-17.016): u 10.1, +-17.0;
     * the normal approximation would say +-19.9 */
    check_symmetric(one_wide_rectangular, 10.149, 0.02, 17.016, 0.03);
    check_near(interval_normal(0.0, 10.149, 0.95).high, 19.891, 0.001);
}

/* JCGM 101:2008 9.3: calibration of a mass, deviation from nominal in mg. */
static double mass_deviation(gsl_rng *rng)
{
    double reference = 100000.0 + gsl_ran_gaussian_ziggurat(rng, 0.050);
    double added = 1.234 + gsl_ran_gaussian_ziggurat(rng, 0.020);
    double air = gsl_ran_flat(rng, 1.10, 1.30);
    double weight = gsl_ran_flat(rng, 7000.0, 9000.0);
    double standard = gsl_ran_flat(rng, 7950.0, 8050.0);
    return (reference + added) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / standard)) - 100000.0;
}

static void mass_calibration_has_the_published_interval(void **state)
{
    (void)state;
    double *values = sample(mass_deviation, 101);
    struct interval_sample summary = interval_sample_summary(values, TRIALS);
    struct interval shortest;
    check_ok(interval_shortest(values, TRIALS, 0.95, &shortest, &err));
    free(values);
    /* JCGM 101:2008 9.3.2.3, Monte Carlo: 1.2340 mg, u 0.0754 mg, shortest 95 % interval
     * [1.0834, 1.3825] mg (values from memory). The shortest interval's place is soft, its ends
     * scatter together: 0.0025 for each end, 0.001 for the width */
    check_near(summary.mean, 1.2340, 0.0003);
    check_near(summary.sd, 0.0754, 0.0002);
    check_near(shortest.low, 1.0834, 0.0025);
    check_near(shortest.high, 1.3825, 0.0025);
    check_near(shortest.high - shortest.low, 0.2991, 0.001);
}

/* --- the orders of a sample ----------------------------------------------------------------- */

static void symmetric_interval_takes_the_ranks_of_the_supplement(void **state)
{
    (void)state;
    double values[100];
    for (size_t i = 0; i < 100; i++)
        values[i] = (double)(i + 1);
    struct interval interval;
    check_ok(interval_symmetric(values, 100, 0.95, &interval, &err));
    /* JCGM 101:2008 7.7.2: q = 95, r = (100 - 95 + 1)/2 = 3: from the 3rd to the 98th value */
    check_near(interval.low, 3.0, 0.0);
    check_near(interval.high, 98.0, 0.0);
}

static void shortest_interval_lies_where_the_values_are_dense(void **state)
{
    (void)state;
    double values[1000];
    for (size_t i = 0; i < 1000; i++)
        values[i] = -log(1.0 - ((double)i + 0.5) / 1000.0); /* exponential */
    struct interval interval;
    check_ok(interval_shortest(values, 1000, 0.95, &interval, &err));
    check_near(interval.low, values[0], 0.0);
    check_near(interval.high, 2.9957, 0.02); /* -ln 0.05 */
}

static void too_small_a_sample_is_refused(void **state)
{
    (void)state;
    double values[19] = {0};
    struct interval interval;
    assert_int_equal(interval_symmetric(values, 19, 0.95, &interval, &err), STATUS_TOO_FEW);
    assert_int_equal(interval_shortest(values, 1, 0.5, &interval, &err), STATUS_TOO_FEW);
}

static void summary_keeps_the_digits_of_a_large_mean(void **state)
{
    (void)state;
    double values[3] = {1e9 + 4.0, 1e9 + 7.0, 1e9 + 13.0};
    struct interval_sample summary = interval_sample_summary(values, 3);
    check_near(summary.mean, 1e9 + 8.0, 1e-6);
    check_near(summary.sd, sqrt(21.0), 1e-9);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coverage_factors_agree_with_scipy),
        cmocka_unit_test(factors_with_a_closed_form_are_exact),
        cmocka_unit_test(factors_have_the_tabled_values),
        cmocka_unit_test(intervals_lie_around_the_value),
        cmocka_unit_test(student_cdf_is_the_inverse_of_the_factor),
        cmocka_unit_test(effective_dof_follow_the_gum_example),
        cmocka_unit_test(numerical_tolerance_follows_the_supplement),
        cmocka_unit_test(four_normals_have_the_published_interval),
        cmocka_unit_test(four_rectangulars_have_the_published_interval),
        cmocka_unit_test(one_wide_rectangular_has_the_published_interval),
        cmocka_unit_test(mass_calibration_has_the_published_interval),
        cmocka_unit_test(symmetric_interval_takes_the_ranks_of_the_supplement),
        cmocka_unit_test(shortest_interval_lies_where_the_values_are_dense),
        cmocka_unit_test(too_small_a_sample_is_refused),
        cmocka_unit_test(summary_keeps_the_digits_of_a_large_mean),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
