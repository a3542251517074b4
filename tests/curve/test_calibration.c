#include "curve/calibration.h"

#include "check.h"
#include "python.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <stdlib.h>
#include <string.h>

static struct err err;

/* x are the counts, y the references; no stated uncertainties. */
static size_t points_of(struct calibration_point *points, const double *x, const double *y,
                        size_t n)
{
    for (size_t i = 0; i < n; i++)
        points[i] = (struct calibration_point){.count = x[i], .reference_si = y[i], .run = 1};
    return n;
}

static void check_relative(double got, double expected, double share)
{
    check_near(got, expected, share * fabs(expected));
}

/* --- published fits ------------------------------------------------------------------------- */

/* NIST StRD, linear least squares, "Norris" (ozone monitors), lower level of difficulty */
static const double norris_x[36] = {0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                                    777.0, 558.2, 0.4,   0.6,   775.5, 666.9, 338.0, 447.5, 11.6,
                                    556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1,
                                    887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
static const double norris_y[36] = {0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                                    778.9, 559.2, 0.3,   0.1,   778.1, 668.8, 339.3, 448.9, 10.8,
                                    557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3,
                                    888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};

static void norris_line_has_the_certified_values(void **state)
{
    (void)state;
    struct calibration_point points[36];
    points_of(points, norris_x, norris_y, 36);
    struct calibration calibration;
    check_ok(calibration_fit(points, 36, QUANTITY_FORCE, 2, &calibration, &err));
    struct calibration_polynomial at_zero = calibration_about(&calibration, 0.0);
    /* NIST StRD Norris, certified values */
    check_relative(at_zero.coefficient[0], -0.262323073774029, 1e-12);
    check_relative(at_zero.coefficient[1], 1.00211681802045, 1e-13);
    check_relative(calibration.residual_sd_si, 0.884796396144373, 1e-12);
    /* NIST StRD Norris, certified standard deviations; from memory, and recomputed */
    check_relative(sqrt(at_zero.covariance[0][0]), 0.232818234301152, 1e-12);
    check_relative(sqrt(at_zero.covariance[1][1]), 0.429796848199937e-3, 1e-12);
    /* NIST StRD Norris, certified residual sum of squares; from memory, and recomputed */
    check_relative(calibration.sum_of_squares_si2, 26.6173985294224, 1e-12);
    assert_int_equal(calibration.dof, 34);
}

/* NIST StRD, linear least squares, "Pontius": the calibration of a load cell, deflection against
 * load, two runs of 20 loads */
static const double pontius_y[40] = {
    .11019,  .21956,  .32949,  .43899,  .54803,  .65694,  .76562,  .87487,  .98292,  1.09146,
    1.20001, 1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844,
    .11052,  .22018,  .32939,  .43886,  .54798,  .65739,  .76596,  .87474,  .98300,  1.09150,
    1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829};

static struct calibration pontius(void)
{
    struct calibration_point points[40];
    for (size_t i = 0; i < 40; i++)
        points[i] = (struct calibration_point){.count = 150000.0 * (double)(i % 20 + 1),
                                               .reference_si = pontius_y[i],
                                               .run = i < 20 ? 1 : 2};
    struct calibration calibration;
    check_ok(calibration_fit(points, 40, QUANTITY_FORCE, 3, &calibration, &err));
    return calibration;
}

static void pontius_quadratic_has_the_certified_values(void **state)
{
    (void)state;
    struct calibration calibration = pontius();
    struct calibration_polynomial at_zero = calibration_about(&calibration, 0.0);
    /* NIST StRD Pontius, certified values and standard deviations */
    check_relative(at_zero.coefficient[0], 0.673565789473684E-03, 1e-11);
    check_relative(at_zero.coefficient[1], 0.732059160401003E-06, 1e-13);
    check_relative(at_zero.coefficient[2], -0.316081871345029E-14, 1e-11);
    check_relative(sqrt(at_zero.covariance[0][0]), 0.107938612033077E-03, 1e-11);
    check_relative(sqrt(at_zero.covariance[1][1]), 0.157817399981659E-09, 1e-11);
    check_relative(sqrt(at_zero.covariance[2][2]), 0.486652849992036E-16, 1e-11);
    check_relative(calibration.residual_sd_si, 0.205177424076185E-03, 1e-11);
    check_relative(calibration.sum_of_squares_si2, 0.155761768796992E-05, 1e-11);
    assert_int_equal(calibration.dof, 37);
}

static void pontius_load_for_a_deflection_has_the_published_limits(void **state)
{
    (void)state;
    struct calibration calibration = pontius();
    struct calibration_inverse inverse;
    check_ok(calibration_invert(&calibration, 1.239722, 0.95, &inverse, &err));
    /* NIST/SEMATECH e-Handbook of Statistical Methods, 4.6.1.7 and 4.6.1.8: load 1 705 106 with
     * limits 1 704 513 and 1 705 698; from memory, and recomputed to three more digits */
    check_near(inverse.count, 1705105.569, 0.001);
    check_near(inverse.low, 1704513.373, 0.001);
    check_near(inverse.high, 1705697.764, 0.001);
}

/* JCGM 100:2008 (GUM), annex H.3, table H.6: a thermometer's corrections */
static struct calibration thermometer(void)
{
    static const double t[11] = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                                 24.513, 25.002, 25.503, 26.010, 26.511};
    static const double b[11] = {-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                                 -0.156, -0.157, -0.159, -0.161, -0.160};
    struct calibration_point points[11];
    points_of(points, t, b, 11);
    struct calibration calibration;
    check_ok(calibration_fit(points, 11, QUANTITY_FORCE, 2, &calibration, &err));
    return calibration;
}

static void gum_thermometer_line_has_the_published_values(void **state)
{
    (void)state;
    struct calibration calibration = thermometer();
    struct calibration_polynomial at_20 = calibration_about(&calibration, 20.0);
    double u_intercept = sqrt(at_20.covariance[0][0]), u_slope = sqrt(at_20.covariance[1][1]);
    /* JCGM 100:2008 H.3.3: y1 -0.1712 with u 0.0029, y2 0.002 18 with u 0.000 67, r -0.930,
     * s 0.0035 */
    check_near(at_20.coefficient[0], -0.1712, 0.00005);
    check_near(u_intercept, 0.0029, 0.00005);
    check_near(at_20.coefficient[1], 0.00218, 0.000005);
    check_near(u_slope, 0.00067, 0.000005);
    check_near(at_20.covariance[0][1] / (u_intercept * u_slope), -0.930, 0.0005);
    check_near(calibration.residual_sd_si, 0.0035, 0.00005);
    /* the same, recomputed to more digits */
    check_relative(at_20.coefficient[0], -0.17120379013135, 1e-12);
    check_relative(at_20.coefficient[1], 0.00218269773988728, 1e-11);
    check_relative(u_intercept, 0.00287759783516, 1e-11);
    check_relative(u_slope, 0.000667938773228, 1e-11);
    check_relative(at_20.covariance[0][1] / (u_intercept * u_slope), -0.93042960309, 1e-10);
    check_relative(calibration.residual_sd_si, 0.00349756396351, 1e-11);
    /* Sum of squared residuals as restated in a national laboratory's worked example */
    check_relative(calibration.sum_of_squares_si2, 0.000110096583109, 1e-10);
}

static void gum_thermometer_predicts_the_published_correction(void **state)
{
    (void)state;
    struct calibration calibration = thermometer();
    /* JCGM 100:2008 H.3.4: b(30 degC) -0.1494 with u 0.0041 */
    check_near(calibration_value(&calibration, 30.0), -0.1494, 0.00005);
    check_near(calibration_u(&calibration, 30.0), 0.0041, 0.00005);
    /* the same, recomputed to more digits */
    check_relative(calibration_value(&calibration, 30.0), -0.149376812732, 1e-11);
    check_relative(calibration_u(&calibration, 30.0), 0.00413859575285, 1e-11);
}

static void pressure_sensor_line_agrees_with_numpy(void **state)
{
    (void)state;
    /* W. Kessel's pressure sensor, as restated in a national laboratory's worked examples */
    static const double x[11] = {0,      0.2039, 0.4080, 0.6120, 0.8160, 1.0201,
                                 1.2242, 1.4283, 1.6325, 1.8367, 2.0410};
    struct calibration_point points[11];
    for (size_t i = 0; i < 11; i++)
        points[i] = (struct calibration_point){.count = x[i], .reference_si = 2.0 * (double)i};
    double truth[7];
    python_numbers("x = np.array([0, .2039, .4080, .6120, .8160, 1.0201, 1.2242, 1.4283, 1.6325,"
                   " 1.8367, 2.0410])\n"
                   "y = np.arange(0, 21, 2.)\n"
                   "c, cov = np.polyfit(x, y, 1, cov=True)\n"
                   "print(*[repr(float(v)) for v in (c[1], c[0], *np.sqrt(np.diag(cov))[::-1])])\n"
                   "c, cov = np.polyfit(x - 1, y, 2, cov=True)\n"
                   "print(*[repr(float(v)) for v in (c[2], c[0], np.sqrt(cov[0, 0]))])\n",
                   truth, 7);
    struct calibration line, quadratic;
    check_ok(calibration_fit(points, 11, QUANTITY_FORCE, 2, &line, &err));
    check_ok(calibration_fit(points, 11, QUANTITY_FORCE, 3, &quadratic, &err));
    struct calibration_polynomial at_zero = calibration_about(&line, 0.0);
    struct calibration_polynomial at_one = calibration_about(&quadratic, 1.0);
    check_near(at_zero.coefficient[0], truth[0], 1e-12);
    check_relative(at_zero.coefficient[1], truth[1], 1e-12);
    check_relative(sqrt(at_zero.covariance[0][0]), truth[2], 1e-9);
    check_relative(sqrt(at_zero.covariance[1][1]), truth[3], 1e-9);
    check_relative(at_one.coefficient[0], truth[4], 1e-12);
    check_relative(at_one.coefficient[2], truth[5], 1e-8);
    check_relative(sqrt(at_one.covariance[2][2]), truth[6], 1e-8);
}

/* --- prediction ----------------------------------------------------------------------------- */

static void prediction_intervals_agree_with_the_textbook_formula(void **state)
{
    (void)state;
    struct calibration_point points[36];
    points_of(points, norris_x, norris_y, 36);
    struct calibration calibration;
    check_ok(calibration_fit(points, 36, QUANTITY_FORCE, 2, &calibration, &err));
    struct calibration_prediction got = calibration_predict(&calibration, 500.0, 0.95);
    /* y0 -+ t s sqrt(1/n + d^2/Sxx), and with 1 + under the root (any textbook; Draper and Smith,
     * Applied Regression Analysis, 1.4), in long double from the sums */
    long double mean = 0, sxx = 0;
    for (size_t i = 0; i < 36; i++)
        mean += norris_x[i] / 36.0L;
    for (size_t i = 0; i < 36; i++)
        sxx += (norris_x[i] - mean) * (norris_x[i] - mean);
    double h = (double)(1.0L / 36.0L + (500.0L - mean) * (500.0L - mean) / sxx);
    double s = 0.884796396144373, t = 2.0322445093177; /* t(0.975, 34), scipy 1.10 */
    check_relative(got.u_mean_si, s * sqrt(h), 1e-11);
    check_relative(got.u_single_si, s * sqrt(1.0 + h), 1e-11);
    check_relative(got.mean_high_si - got.value_si, t * s * sqrt(h), 1e-9);
    check_relative(got.single_high_si - got.single_low_si, 2.0 * t * s * sqrt(1.0 + h), 1e-9);
}

static void inverse_of_a_prediction_is_the_count(void **state)
{
    (void)state;
    struct calibration calibration = pontius();
    for (double count = -200000.0; count < 3500000.0; count += 123456.0) {
        struct calibration_inverse inverse;
        check_ok(calibration_invert(&calibration, calibration_value(&calibration, count), 0.95,
                                    &inverse, &err));
        check_near(inverse.count, count, 1e-5);
        assert_true(inverse.low < inverse.count && inverse.count < inverse.high);
    }
}

static void inverse_limits_keep_their_order_on_a_falling_line(void **state)
{
    (void)state;
    const double x[5] = {1000, 2000, 3000, 4000, 5000}, y[5] = {40.1, 29.9, 20.05, 10.02, -0.04};
    struct calibration_point points[5];
    points_of(points, x, y, 5);
    struct calibration calibration;
    check_ok(calibration_fit(points, 5, QUANTITY_FORCE, 2, &calibration, &err));
    struct calibration_inverse inverse;
    check_ok(calibration_invert(&calibration, 20.0, 0.95, &inverse, &err));
    assert_true(inverse.low < inverse.count && inverse.count < inverse.high);
}

static void value_beyond_the_turning_point_is_refused(void **state)
{
    (void)state;
    struct calibration calibration = pontius();
    struct calibration_inverse inverse;
    assert_int_equal(calibration_invert(&calibration, 1000.0, 0.95, &inverse, &err), STATUS_NO_FIT);
}

/* --- stated uncertainties ------------------------------------------------------------------- */

static void independent_references_are_weighted_as_numpy_does(void **state)
{
    (void)state;
    const double x[7] = {0, 1, 2, 3, 4, 5, 6}, y[7] = {0.1, 1.9, 4.2, 5.7, 8.4, 9.1, 12.9};
    const double u[7] = {0.2, 0.2, 0.4, 0.3, 0.5, 0.8, 1.1};
    struct calibration_point points[7];
    points_of(points, x, y, 7);
    for (size_t i = 0; i < 7; i++)
        points[i].u_reference_si = u[i];
    double truth[5];
    python_numbers("x = np.arange(7.)\n"
                   "y = np.array([.1, 1.9, 4.2, 5.7, 8.4, 9.1, 12.9])\n"
                   "u = np.array([.2, .2, .4, .3, .5, .8, 1.1])\n"
                   "c, cov = np.polyfit(x, y, 1, w=1 / u, cov='unscaled')\n"
                   "print(*[repr(float(v)) for v in (c[1], c[0], cov[1, 1], cov[0, 0], "
                   "(((y - np.polyval(c, x)) / u) ** 2).sum())])\n",
                   truth, 5);
    assert_true(truth[4] < 5.0); /* chi2 < dof: what is stated explains the scatter */
    struct calibration calibration;
    check_ok(calibration_fit_references(points, 7, QUANTITY_FORCE, 2,
                                        CALIBRATION_REFERENCES_INDEPENDENT, &calibration, &err));
    struct calibration_polynomial at_zero = calibration_about(&calibration, 0.0);
    check_relative(at_zero.coefficient[0], truth[0], 1e-10);
    check_relative(at_zero.coefficient[1], truth[1], 1e-11);
    check_relative(at_zero.covariance[0][0], truth[2], 1e-10);
    check_relative(at_zero.covariance[1][1], truth[3], 1e-10);
    check_near(calibration.scatter_si, 0.0, 0.0);
    assert_true(calibration.weighted);
}

/* Pearson's data with York's weights. */
static void pearson_points(struct calibration_point points[10])
{
    static const double x[10] = {0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4};
    static const double y[10] = {5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5};
    static const double wx[10] = {1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1};
    static const double wy[10] = {1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500};
    for (size_t i = 0; i < 10; i++)
        points[i] = (struct calibration_point){.count = x[i],
                                               .reference_si = y[i],
                                               .u_count = 1.0 / sqrt(wx[i]),
                                               .u_reference_si = 1.0 / sqrt(wy[i])};
}

static void scatter_makes_chi_squared_equal_to_the_degrees_of_freedom(void **state)
{
    (void)state;
    const double x[8] = {0, 1, 2, 3, 4, 5, 6, 7};
    const double y[8] = {0.4, 1.5, 4.4, 5.6, 8.7, 9.5, 12.6, 13.4};
    struct calibration_point points[8];
    points_of(points, x, y, 8);
    for (size_t i = 0; i < 8; i++)
        points[i].u_reference_si = 0.02 + 0.01 * (double)i; /* far less than the scatter */
    struct calibration calibration;
    check_ok(calibration_fit_references(points, 8, QUANTITY_FORCE, 2,
                                        CALIBRATION_REFERENCES_INDEPENDENT, &calibration, &err));
    double chi2 = 0.0;
    for (size_t i = 0; i < 8; i++) {
        double residual = y[i] - calibration_value(&calibration, x[i]);
        double u = points[i].u_reference_si;
        chi2 += residual * residual / (u * u + calibration.scatter_si * calibration.scatter_si);
    }
    check_near(chi2, 6.0, 1e-9);
}

static void errors_in_both_agree_with_orthogonal_distance_regression(void **state)
{
    (void)state;
    struct calibration_point points[10];
    pearson_points(points);
    /* stretched so that what is stated explains the scatter and no more is added to it */
    for (size_t i = 0; i < 10; i++) {
        points[i].u_count *= 2.0;
        points[i].u_reference_si *= 2.0;
    }
    double truth[2];
    python_numbers(
        "import scipy.odr as odr\n"
        "x = np.array([0, .9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])\n"
        "y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])\n"
        "wx = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])\n"
        "wy = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])\n"
        "data = odr.RealData(x, y, 2 / np.sqrt(wx), 2 / np.sqrt(wy))\n"
        "model = odr.Model(lambda b, x: b[0] + b[1] * x)\n"
        "r = odr.ODR(data, model, beta0=[5, -.5], sstol=1e-15, partol=1e-15, maxit=500).run()\n"
        "print(repr(float(r.beta[0])), repr(float(r.beta[1])))\n",
        truth, 2);
    /* D. York, Can. J. Phys. 44 (1966) 1079, Pearson's data: intercept 5.47991, slope -0.480533;
     * from memory */
    check_near(truth[0], 5.47991, 0.00001);
    check_near(truth[1], -0.480533, 0.000001);
    struct calibration calibration;
    check_ok(calibration_fit_references(points, 10, QUANTITY_FORCE, 2,
                                        CALIBRATION_REFERENCES_INDEPENDENT, &calibration, &err));
    struct calibration_polynomial at_zero = calibration_about(&calibration, 0.0);
    check_near(calibration.scatter_si, 0.0, 0.0);
    check_near(at_zero.coefficient[0], truth[0], 1e-6); /* its stop is not sharper */
    check_near(at_zero.coefficient[1], truth[1], 1e-7);
    /* York et al., Am. J. Phys. 72 (2004) 367: u(slope) 0.058 with the weights as they are; from
     * memory */
    check_near(sqrt(at_zero.covariance[1][1]) / 2.0, 0.058, 0.0005);
}

static void common_reference_error_does_not_average_out(void **state)
{
    (void)state;
    struct calibration_point points[40];
    for (size_t i = 0; i < 40; i++) {
        double reference = 10.0 * (double)(i % 10);
        points[i] = (struct calibration_point){.reference_si = reference,
                                               .count = 100.0 * reference + 5.0,
                                               .u_reference_si = 0.002 * reference};
    }
    struct calibration calibration;
    check_ok(calibration_fit(points, 40, QUANTITY_FORCE, 2, &calibration, &err));
    /* a set of weights that is 0.2 % wrong makes every force 0.2 % wrong */
    check_near(calibration_u(&calibration, 9005.0), 0.18, 1e-9);
    check_near(calibration_u(&calibration, 4505.0), 0.09, 1e-9);
    check_near(calibration_u(&calibration, 5.0), 0.0, 1e-9);
    assert_false(calibration.weighted);
}

static void stated_count_noise_sets_the_weights(void **state)
{
    (void)state;
    const double x[5] = {0, 100, 200, 300, 400}, y[5] = {0.0, 10.0, 20.0, 30.0, 44.0};
    struct calibration_point points[5];
    points_of(points, x, y, 5);
    for (size_t i = 0; i < 5; i++)
        points[i].u_count = i == 4 ? 100.0 : 0.1;
    struct calibration calibration;
    check_ok(calibration_fit(points, 5, QUANTITY_FORCE, 2, &calibration, &err));
    /* the last point is known to be poor: the line follows the others */
    check_near(calibration_value(&calibration, 300.0), 30.0, 0.001);
}

static void coefficients_scatter_as_their_covariance_says(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 20261);
    size_t n_trials = 4000, n_inside = 0;
    double sum = 0.0;
    for (size_t trial = 0; trial < n_trials; trial++) {
        struct calibration_point points[12];
        for (size_t i = 0; i < 12; i++) {
            double load = 30.0 * (double)i;
            double count = 200.0 * load + 1e-4 * load * load;
            points[i] =
                (struct calibration_point){.reference_si = load, .count = count, .u_count = 0};
            points[i].count += gsl_ran_gaussian(rng, 20.0);
        }
        struct calibration calibration;
        check_ok(calibration_fit(points, 12, QUANTITY_FORCE, 3, &calibration, &err));
        double count = 200.0 * 250.0 + 1e-4 * 250.0 * 250.0;
        struct calibration_prediction got = calibration_predict(&calibration, count, 0.95);
        n_inside += got.mean_low_si <= 250.0 && 250.0 <= got.mean_high_si;
        sum += got.value_si;
    }
    gsl_rng_free(rng);
    /* 95 % within 4 standard deviations of a binomial count */
    double share = (double)n_inside / (double)n_trials;
    check_near(share, 0.95, 4.0 * sqrt(0.95 * 0.05 / (double)n_trials));
    check_near(sum / (double)n_trials, 250.0, 0.01);
}

/* --- what it must refuse -------------------------------------------------------------------- */

static enum status fit_status(const double *x, const double *y, size_t n, size_t n_terms)
{
    struct calibration_point points[8];
    points_of(points, x, y, n);
    struct calibration calibration;
    memset(&calibration, 0x5a, sizeof calibration);
    struct calibration before = calibration;
    enum status status = calibration_fit(points, n, QUANTITY_FORCE, n_terms, &calibration, &err);
    if (status != STATUS_OK) /* nothing was written */
        assert_memory_equal(&before, &calibration, sizeof before);
    return status;
}

static void too_few_points_are_refused(void **state)
{
    (void)state;
    const double x[3] = {0, 1, 1}, y[3] = {0, 2, 2};
    assert_int_equal(fit_status(x, y, 0, 2), STATUS_TOO_FEW);
    assert_int_equal(fit_status(x, y, 1, 2), STATUS_TOO_FEW);
    assert_int_equal(fit_status(x, y, 2, 3), STATUS_TOO_FEW);
    assert_int_equal(fit_status(x, y, 3, 3), STATUS_TOO_FEW); /* two different counts */
}

static void points_without_spread_are_refused(void **state)
{
    (void)state;
    const double same[3] = {5, 5, 5}, rising[3] = {0, 1, 2};
    assert_int_equal(fit_status(same, rising, 3, 2), STATUS_NO_FIT);
    assert_int_equal(fit_status(rising, same, 3, 2), STATUS_NO_FIT);
}

static void values_that_are_not_finite_are_refused(void **state)
{
    (void)state;
    const double x[3] = {0, 1, 2}, bad_y[3] = {0, NAN, 4}, bad_x[3] = {0, INFINITY, 2};
    const double y[3] = {0, 2, 4}, huge[3] = {-1e308, 0, 1.5e308};
    assert_int_equal(fit_status(x, bad_y, 3, 2), STATUS_NO_FIT);
    assert_non_null(strstr(err.text, "point 2"));
    assert_int_equal(fit_status(bad_x, y, 3, 2), STATUS_NO_FIT);
    assert_int_equal(fit_status(x, huge, 3, 2), STATUS_NO_FIT);
}

static void negative_uncertainty_is_refused(void **state)
{
    (void)state;
    struct calibration_point points[3] = {{.count = 0},
                                          {.count = 1, .reference_si = 2},
                                          {.count = 2, .reference_si = 4, .u_count = -1}};
    struct calibration calibration;
    assert_int_equal(calibration_fit(points, 3, QUANTITY_FORCE, 2, &calibration, &err),
                     STATUS_NO_FIT);
}

static void counts_that_do_not_follow_the_loads_are_refused(void **state)
{
    (void)state;
    const double x[6] = {5, 3, 6, 4, 5.5, 3.5}, y[6] = {0, 10, 20, 30, 40, 50};
    assert_int_equal(fit_status(x, y, 6, 2), STATUS_NO_FIT);
}

static void curve_that_turns_back_within_the_points_is_refused(void **state)
{
    (void)state;
    const double x[6] = {0, 1, 2, 3, 4, 5}, y[6] = {0, 9, 16, 21, 20, 19};
    assert_int_equal(fit_status(x, y, 6, 3), STATUS_NO_FIT);
}

/* --- edges ---------------------------------------------------------------------------------- */

static void two_points_make_a_line_without_known_scatter(void **state)
{
    (void)state;
    const double x[2] = {8388608, 8512000}, y[2] = {0, 266.9};
    struct calibration_point points[2];
    points_of(points, x, y, 2);
    struct calibration calibration;
    check_ok(calibration_fit(points, 2, QUANTITY_FORCE, 2, &calibration, &err));
    check_near(calibration_value(&calibration, 8388608), 0.0, 1e-12);
    check_near(calibration_value(&calibration, 8512000), 266.9, 1e-12);
    check_near(calibration_u(&calibration, 8400000), 0.0, 0.0);
    assert_int_equal(calibration.dof, 0);
}

static void result_does_not_depend_on_the_order_or_the_counts_offset(void **state)
{
    (void)state;
    struct calibration_point points[36], turned[36];
    points_of(points, norris_x, norris_y, 36);
    for (size_t i = 0; i < 36; i++) {
        turned[i] = points[35 - i];
        turned[i].count += 8388608.0;
    }
    struct calibration first, second;
    check_ok(calibration_fit(points, 36, QUANTITY_FORCE, 3, &first, &err));
    check_ok(calibration_fit(turned, 36, QUANTITY_FORCE, 3, &second, &err));
    for (double count = 0.0; count < 1000.0; count += 90.0) {
        check_near(calibration_value(&second, count + 8388608.0), calibration_value(&first, count),
                   1e-6);
        check_relative(calibration_u(&second, count + 8388608.0), calibration_u(&first, count),
                       1e-6);
    }
}

static void slope_is_the_derivative_of_the_value(void **state)
{
    (void)state;
    struct calibration calibration = pontius();
    for (double count = 0.0; count < 3e6; count += 5e5) {
        double rise = calibration_value(&calibration, count + 50.0) -
                      calibration_value(&calibration, count - 50.0);
        check_relative(calibration_slope(&calibration, count), rise / 100.0, 1e-9);
    }
}

static void extrapolation_is_told(void **state)
{
    (void)state;
    struct calibration calibration = pontius();
    assert_false(calibration_extrapolates(&calibration, 150000.0));
    assert_false(calibration_extrapolates(&calibration, 3000000.0));
    assert_true(calibration_extrapolates(&calibration, 149999.0));
    assert_true(calibration_extrapolates(&calibration, 3000001.0));
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(norris_line_has_the_certified_values),
        cmocka_unit_test(pontius_quadratic_has_the_certified_values),
        cmocka_unit_test(pontius_load_for_a_deflection_has_the_published_limits),
        cmocka_unit_test(gum_thermometer_line_has_the_published_values),
        cmocka_unit_test(gum_thermometer_predicts_the_published_correction),
        cmocka_unit_test(pressure_sensor_line_agrees_with_numpy),
        cmocka_unit_test(prediction_intervals_agree_with_the_textbook_formula),
        cmocka_unit_test(inverse_of_a_prediction_is_the_count),
        cmocka_unit_test(inverse_limits_keep_their_order_on_a_falling_line),
        cmocka_unit_test(value_beyond_the_turning_point_is_refused),
        cmocka_unit_test(independent_references_are_weighted_as_numpy_does),
        cmocka_unit_test(scatter_makes_chi_squared_equal_to_the_degrees_of_freedom),
        cmocka_unit_test(errors_in_both_agree_with_orthogonal_distance_regression),
        cmocka_unit_test(common_reference_error_does_not_average_out),
        cmocka_unit_test(stated_count_noise_sets_the_weights),
        cmocka_unit_test(coefficients_scatter_as_their_covariance_says),
        cmocka_unit_test(too_few_points_are_refused),
        cmocka_unit_test(points_without_spread_are_refused),
        cmocka_unit_test(values_that_are_not_finite_are_refused),
        cmocka_unit_test(negative_uncertainty_is_refused),
        cmocka_unit_test(counts_that_do_not_follow_the_loads_are_refused),
        cmocka_unit_test(curve_that_turns_back_within_the_points_is_refused),
        cmocka_unit_test(two_points_make_a_line_without_known_scatter),
        cmocka_unit_test(result_does_not_depend_on_the_order_or_the_counts_offset),
        cmocka_unit_test(slope_is_the_derivative_of_the_value),
        cmocka_unit_test(extrapolation_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
