/* poly: local polynomials and their uncertainty, held against numpy. */
#include "check.h"
#include "curve/python.h"

#include "curve/poly.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

enum { N = 12 };

static double x[N] = {0.00, 0.05, 0.11, 0.14, 0.22, 0.25, 0.33, 0.41, 0.44, 0.50, 0.58, 0.60};
static double y[N] = {1.02, 1.21, 1.37, 1.52, 1.70, 1.77, 1.79, 1.71, 1.66, 1.41, 1.08, 0.93};
static double w[N] = {1, 2, 1, 1, 3, 1, 1, 2, 1, 1, 1, 4};
static const struct points points = {.n = N, .x = x, .y = y, .weight = w};

/* numpy.polyfit of degree 4 with weights and its covariance scaled by chi2/dof, run live */
static void values_slopes_and_uncertainties_are_those_of_numpy(void **state)
{
    (void)state;
    double expected[15];
    python_numbers("x=np.array([0.00,0.05,0.11,0.14,0.22,0.25,0.33,0.41,0.44,0.50,0.58,0.60])\n"
                   "y=np.array([1.02,1.21,1.37,1.52,1.70,1.77,1.79,1.71,1.66,1.41,1.08,0.93])\n"
                   "w=np.array([1,2,1,1,3,1,1,2,1,1,1,4.0])\n"
                   "c,v=np.polyfit(x,y,4,w=np.sqrt(w),cov=True)\n"
                   "for q in [0.0,0.21,0.6]:\n"
                   "  p=q**np.arange(4,-1,-1)\n"
                   "  print(repr(float(np.polyval(c,q))),repr(float(np.polyval(np.polyder(c),q))),"
                   "repr(float(np.polyval(np.polyder(c,2),q))),repr(float(np.sqrt(p@v@p))),"
                   "repr(float(np.sqrt(np.sum(w*(y-np.polyval(c,x))**2)/7))))\n",
                   expected, 15);
    struct poly poly;
    assert_true(poly_fit(&points, 0, N - 1, 5, &poly));
    assert_int_equal(poly.dof, 7);
    static const double at[] = {0.0, 0.21, 0.6};
    for (int i = 0; i < 3; i++) {
        const double *e = expected + 5 * i;
        check_near(poly_value(&poly, at[i]), e[0], 1e-10);
        check_near(poly_slope(&poly, at[i]), e[1], 1e-8);
        check_near(poly_curvature(&poly, at[i]), e[2], 1e-6);
        check_near(poly_value_u(&poly, at[i]), e[3], 1e-9);
        check_near(poly.residual_sd, e[4], 1e-10);
    }
}

static void shaken_polynomials_spread_as_the_uncertainty_says(void **state)
{
    (void)state;
    enum { SHAKES = 20000 };
    struct poly poly;
    assert_true(poly_fit(&points, 0, N - 1, 4, &poly));
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 11);
    double squares = 0.0;
    for (int i = 0; i < SHAKES; i++) {
        double z[POLY_TERMS_MAX];
        for (int k = 0; k < POLY_TERMS_MAX; k++)
            z[k] = gsl_ran_gaussian_ziggurat(rng, 1.0);
        struct poly shaken = poly_shaken(&poly, z);
        double miss = poly_value(&shaken, 0.3) - poly_value(&poly, 0.3);
        squares += miss * miss / SHAKES;
    }
    /* the relative scatter of a variance of 20000 draws is 1 % */
    check_near(sqrt(squares), poly_value_u(&poly, 0.3), 0.03 * poly_value_u(&poly, 0.3));
    gsl_rng_free(rng);
}

/* 2 + 3 t - t^3 on [-2, 3]: maximum 4 at 1, minimum -16 at the end 3, steepest rise 3 at 0 */
static void extremes_inside_and_at_the_ends_are_found(void **state)
{
    (void)state;
    struct poly poly = {.middle = 0.0, .half = 1.0, .terms = 4, .c = {2.0, 3.0, 0.0, -1.0}};
    struct poly_extreme top = poly_extreme(&poly, -1.5, 3.0, 1);
    check_near(top.x, 1.0, 1e-7);
    check_near(top.value, 4.0, 1e-12);
    struct poly_extreme low = poly_extreme(&poly, -1.5, 3.0, -1);
    check_near(low.x, 3.0, 0.0);
    check_near(low.value, -16.0, 1e-12);
    struct poly_extreme rise = poly_steepest(&poly, -1.5, 2.0, 1);
    check_near(rise.x, 0.0, 1e-6);
    check_near(rise.value, 3.0, 1e-10);
    struct poly_extreme drop = poly_steepest(&poly, -1.5, 2.0, -1);
    check_near(drop.x, 2.0, 0.0);
    check_near(drop.value, -9.0, 1e-12);
}

static void too_few_or_coinciding_points_are_refused(void **state)
{
    (void)state;
    struct poly poly;
    assert_false(poly_fit(&points, 0, 2, 4, &poly));
    assert_int_equal(poly.terms, 0);
    double same[] = {0.1, 0.1, 0.1}, values[] = {1, 2, 3}, ones[] = {1, 1, 1};
    struct points still = {.n = 3, .x = same, .y = values, .weight = ones};
    assert_false(poly_fit(&still, 0, 2, 2, &poly));
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(values_slopes_and_uncertainties_are_those_of_numpy),
        cmocka_unit_test(shaken_polynomials_spread_as_the_uncertainty_says),
        cmocka_unit_test(extremes_inside_and_at_the_ends_are_found),
        cmocka_unit_test(too_few_or_coinciding_points_are_refused),
    };
    return cmocka_run_group_tests_name("poly", tests, NULL, NULL);
}
