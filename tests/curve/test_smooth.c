/* smooth and noise: local polynomials held against numpy and scipy, and against their own claims.
 */
#include "check.h"
#include "curve/python.h"

#include "base/mem.h"
#include "curve/noise.h"
#include "curve/smooth.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { N = 101 };

static struct points course(size_t n, double (*f)(double), double spread)
{
    struct points p = points_new(n);
    p.n = n;
    for (size_t i = 0; i < n; i++) {
        double even = (double)i / (double)(n - 1);
        p.x[i] = even + spread * sin(7.0 * even) / (double)n;
        p.y[i] = f(p.x[i]);
        p.weight[i] = 1.0;
    }
    return p;
}

static double quadratic(double x)
{
    return 3.0 - 2.0 * x + 5.0 * x * x;
}

static double hump(double x)
{
    return 50.0 * exp(-0.5 * (x - 0.5) * (x - 0.5) / 0.04);
}

static double with_corner(double x)
{
    return x < 0.7 ? 20.0 - 20.0 * x : 6.0 + 300.0 * (x - 0.7);
}

static void a_quadratic_on_uneven_points_comes_back_exactly(void **state)
{
    (void)state;
    struct points p = course(N, quadratic, 0.9);
    struct local_fit fit = smooth_local_fit(&p, 30, 60, p.x[45]);
    assert_int_equal(fit.terms, 3);
    check_near(fit.c[0], quadratic(p.x[45]), 1e-12);
    check_near(fit.c[1], -2.0 + 10.0 * p.x[45], 1e-10);
    check_near(fit.c[2], 5.0, 1e-8);
    points_clear(&p);
}

/* scipy.signal.savgol_filter(y, 11, 2) and its first derivative, run live */
static void an_even_window_is_the_savitzky_golay_filter_of_scipy(void **state)
{
    (void)state;
    double expected[2 * N];
    python_numbers("from scipy.signal import savgol_filter\n"
                   "x=np.arange(101)/100\n"
                   "y=50*np.exp(-0.5*(x-0.5)**2/0.04)\n"
                   "print(*[repr(float(v)) for v in savgol_filter(y,11,2)])\n"
                   "print(*[repr(float(v)) for v in savgol_filter(y,11,2,deriv=1,delta=0.01)])\n",
                   expected, 2 * N);
    struct points p = course(N, hump, 0.0);
    for (size_t i = 5; i + 5 < N; i++) {
        struct local_fit fit = smooth_local_fit(&p, i - 5, i + 5, p.x[i]);
        check_near(fit.c[0], expected[i], 1e-11);
        check_near(fit.c[1], expected[N + i], 1e-9);
    }
    points_clear(&p);
}

/* numpy.polyfit with weights and its unscaled covariance, run live */
static void a_weighted_fit_and_its_variances_are_those_of_numpy(void **state)
{
    (void)state;
    double expected[6];
    python_numbers("x=np.array([0.0,0.1,0.25,0.3,0.55,0.6,0.8])-0.3\n"
                   "y=np.array([1.0,1.5,1.2,2.0,3.5,3.1,5.0])\n"
                   "w=np.array([1,4,1,2,1,3,1.0])\n"
                   "c,v=np.polyfit(x,y,2,w=np.sqrt(w),cov='unscaled')\n"
                   "print(*[repr(float(q)) for q in [*c[::-1],v[2,2],v[1,1],v[0,0]]])\n",
                   expected, 6);
    double x[] = {0.0, 0.1, 0.25, 0.3, 0.55, 0.6, 0.8}, y[] = {1.0, 1.5, 1.2, 2.0, 3.5, 3.1, 5.0};
    double w[] = {1, 4, 1, 2, 1, 3, 1};
    struct points p = {.n = 7, .x = x, .y = y, .weight = w};
    struct local_fit fit = smooth_local_fit(&p, 0, 6, 0.3);
    double got[6] = {fit.c[0], fit.c[1], fit.c[2], fit.var_value, fit.var_slope, fit.var_curvature};
    for (int i = 0; i < 6; i++)
        check_near(got[i], expected[i], 1e-10 * fabs(expected[i]));
}

static void points_that_coincide_give_a_lower_order_and_no_nan(void **state)
{
    (void)state;
    double x[] = {0.2, 0.2, 0.2}, y[] = {1.0, 2.0, 6.0}, w[] = {1, 1, 1};
    struct points p = {.n = 3, .x = x, .y = y, .weight = w};
    struct local_fit fit = smooth_local_fit(&p, 0, 2, 0.2);
    assert_int_equal(fit.terms, 1);
    check_near(fit.c[0], 3.0, 1e-12);
    check_near(fit.c[1], 0.0, 0.0);
}

static void merging_keeps_means_and_counts(void **state)
{
    (void)state;
    double x[] = {0.3, 0.1, 0.1001, 0.2, 0.3001}, y[] = {3.0, 1.0, 2.0, 7.0, 5.0};
    struct points p = points_merge(x, y, 5, 0.001);
    assert_int_equal(p.n, 3);
    check_near(p.x[0], 0.10005, 1e-15);
    check_near(p.y[0], 1.5, 1e-15);
    check_near(p.weight[2], 2.0, 0.0);
    check_near(p.y[2], 4.0, 1e-15);
    points_clear(&p);
}

static void add_noise(struct points *p, gsl_rng *rng, double sd)
{
    for (size_t i = 0; i < p->n; i++)
        p->y[i] += gsl_ran_gaussian_ziggurat(rng, sd);
}

static void the_scatter_is_told_from_the_points(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 1);
    struct points p = course(2000, hump, 0.5);
    add_noise(&p, rng, 0.3);
    double *sigma = mem_calloc(p.n, sizeof *sigma), mean = 0.0;
    smooth_scatter(&p, sigma);
    for (size_t i = 0; i < p.n; i++)
        mean += sigma[i] / (double)p.n;
    /* a median of 2000: its own scatter is about 3 % */
    check_near(mean, 0.3, 0.03);
    check_near(noise_from_differences(p.y, p.n), 0.3, 0.03);
    free(sigma);
    points_clear(&p);
    gsl_rng_free(rng);
}

struct spread {
    double bias, sd, claimed_sd;
};

/* How the smoothed value at point i of 500 behaves over 400 noisy repeats. */
static struct spread behaviour_at(size_t i, double (*f)(double), double noise)
{
    enum { REPEATS = 400 };
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 7);
    struct spread spread = {0};
    double sum_sq = 0.0;
    for (int k = 0; k < REPEATS; k++) {
        struct points p = course(500, f, 0.5);
        double truth = p.y[i];
        add_noise(&p, rng, noise);
        double *sigma = mem_calloc(p.n, sizeof *sigma);
        smooth_scatter(&p, sigma);
        struct smoothed s = smoothed_new(p.n);
        smooth_adaptive(&p, sigma, 0, p.n - 1, 1.0, &s);
        double miss = s.value[i].c[0] - truth;
        spread.bias += miss / REPEATS;
        sum_sq += miss * miss / REPEATS;
        spread.claimed_sd += sigma[i] * sqrt(s.value[i].var_value) / REPEATS;
        free(sigma);
        smoothed_clear(&s);
        points_clear(&p);
    }
    spread.sd = sqrt(sum_sq - spread.bias * spread.bias);
    gsl_rng_free(rng);
    return spread;
}

static void a_peak_is_neither_flattened_nor_noisy(void **state)
{
    (void)state;
    struct spread at_top = behaviour_at(250, hump, 0.5);
    assert_true(fabs(at_top.bias) < 0.5 * 0.2);
    /* at least three times quieter than the readings, and honest about it within a factor of two */
    assert_true(at_top.sd < 0.5 / 3.0);
    assert_true(at_top.claimed_sd > 0.5 * at_top.sd && at_top.claimed_sd < 2.0 * at_top.sd);
}

static void a_corner_stays_sharp_where_its_sides_are_smoothed_apart(void **state)
{
    (void)state;
    struct points p = course(500, with_corner, 0.0);
    double *sigma = mem_calloc(p.n, sizeof *sigma);
    for (size_t i = 0; i < p.n; i++)
        sigma[i] = 0.5;
    size_t corner = 0;
    while (p.x[corner] < 0.7)
        corner++;
    struct smoothed s = smoothed_new(p.n);
    smooth_adaptive(&p, sigma, 0, corner - 1, 1.0, &s);
    smooth_adaptive(&p, sigma, corner, p.n - 1, 1.0, &s);
    for (size_t i = 0; i < p.n; i++)
        check_near(s.value[i].c[0], with_corner(p.x[i]), 1e-9);
    free(sigma);
    smoothed_clear(&s);
    points_clear(&p);
}

static void single_and_double_spikes_are_marked_and_a_corner_is_not(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 3);
    struct points p = course(500, with_corner, 0.0);
    add_noise(&p, rng, 0.05);
    p.y[100] += 2.0;
    p.y[200] -= 2.0;
    p.y[300] += 2.0;
    p.y[301] += 2.0;
    bool spike[500] = {false};
    size_t found = noise_mark_spikes(p.y, p.n, 0.01, spike);
    assert_int_equal(found, 4);
    assert_true(spike[100] && spike[200] && spike[300] && spike[301]);
    points_clear(&p);
    gsl_rng_free(rng);
}

static void noise_alone_is_hardly_ever_a_spike(void **state)
{
    (void)state;
    enum { MANY = 200000 };
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 5);
    double *y = mem_calloc(MANY, sizeof *y);
    bool *spike = mem_calloc(MANY, sizeof *spike);
    for (size_t i = 0; i < MANY; i++)
        y[i] = gsl_ran_gaussian_ziggurat(rng, 1.0);
    size_t found = noise_mark_spikes(y, MANY, 0.0, spike);
    assert_true(found < MANY / 10000);
    free(y);
    free(spike);
    gsl_rng_free(rng);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_quadratic_on_uneven_points_comes_back_exactly),
        cmocka_unit_test(an_even_window_is_the_savitzky_golay_filter_of_scipy),
        cmocka_unit_test(a_weighted_fit_and_its_variances_are_those_of_numpy),
        cmocka_unit_test(points_that_coincide_give_a_lower_order_and_no_nan),
        cmocka_unit_test(merging_keeps_means_and_counts),
        cmocka_unit_test(the_scatter_is_told_from_the_points),
        cmocka_unit_test(a_peak_is_neither_flattened_nor_noisy),
        cmocka_unit_test(a_corner_stays_sharp_where_its_sides_are_smoothed_apart),
        cmocka_unit_test(single_and_double_spikes_are_marked_and_a_corner_is_not),
        cmocka_unit_test(noise_alone_is_hardly_ever_a_spike),
    };
    return cmocka_run_group_tests_name("smooth", tests, NULL, NULL);
}
