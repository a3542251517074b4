#include "curve/poly.h"

#include <assert.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_matrix.h>
#include <math.h>
#include <string.h>

/* Step of the second derivative, as a share of the half stretch. */
static const double STEP_SHARE = 1e-4;
enum { SCAN_STEPS = 48, NEWTON_STEPS = 4 };

/* Values of the Legendre polynomials P_0..P_{terms-1} at t. */
static void legendre(double t, size_t terms, double p[POLY_TERMS_MAX])
{
    p[0] = 1.0;
    if (terms > 1)
        p[1] = t;
    for (size_t k = 1; k + 1 < terms; k++)
        p[k + 1] = ((double)(2 * k + 1) * t * p[k] - (double)k * p[k - 1]) / (double)(k + 1);
}

/* matrix[i][k]: coefficient of t^i in P_k, by the same recurrence. */
static void legendre_in_powers(size_t terms, double matrix[POLY_TERMS_MAX][POLY_TERMS_MAX])
{
    memset(matrix, 0, sizeof(double[POLY_TERMS_MAX][POLY_TERMS_MAX]));
    matrix[0][0] = 1.0;
    if (terms > 1)
        matrix[1][1] = 1.0;
    for (size_t k = 1; k + 1 < terms; k++) {
        for (size_t i = 0; i <= k + 1; i++) {
            double shifted = i > 0 ? matrix[i - 1][k] : 0.0;
            matrix[i][k + 1] =
                ((double)(2 * k + 1) * shifted - (double)k * matrix[i][k - 1]) / (double)(k + 1);
        }
    }
}

/* Normal equations in the Legendre basis. */
struct normal {
    double gram[POLY_TERMS_MAX * POLY_TERMS_MAX];
    double right[POLY_TERMS_MAX];
};

static void accumulate(const struct points *p, size_t first, size_t last, const struct poly *poly,
                       double y0, struct normal *normal)
{
    size_t terms = poly->terms;
    memset(normal, 0, sizeof *normal);
    for (size_t i = first; i <= last; i++) {
        double basis[POLY_TERMS_MAX];
        legendre((p->x[i] - poly->middle) / poly->half, terms, basis);
        for (size_t a = 0; a < terms; a++) {
            double weighted = p->weight[i] * basis[a];
            normal->right[a] += weighted * (p->y[i] - y0);
            for (size_t b = 0; b <= a; b++)
                normal->gram[a * terms + b] += weighted * basis[b];
        }
    }
    for (size_t a = 0; a < terms; a++)
        for (size_t b = 0; b < a; b++)
            normal->gram[b * terms + a] = normal->gram[a * terms + b];
}

static double sum_of_squares(const struct points *p, size_t first, size_t last,
                             const struct poly *poly)
{
    double sum = 0.0;
    for (size_t i = first; i <= last; i++) {
        double miss = p->y[i] - poly_value(poly, p->x[i]);
        sum += p->weight[i] * miss * miss;
    }
    return sum;
}

/* covariance = s^2 (L L^T)^-1 = (s L^-T)(s L^-T)^T, so the factor is s L^-T, put into powers. */
static void set_factor(const double *lower, double sd, struct poly *poly)
{
    size_t n = poly->terms;
    double inverse[POLY_TERMS_MAX][POLY_TERMS_MAX] = {{0}};
    for (size_t column = 0; column < n; column++) {
        for (size_t row = column; row < n; row++) {
            double sum = row == column ? 1.0 : 0.0;
            for (size_t k = column; k < row; k++)
                sum -= lower[row * n + k] * inverse[k][column];
            inverse[row][column] = sum / lower[row * n + row];
        }
    }
    double powers[POLY_TERMS_MAX][POLY_TERMS_MAX];
    legendre_in_powers(n, powers);
    for (size_t i = 0; i < n; i++) {
        for (size_t column = 0; column < n; column++) {
            double sum = 0.0;
            for (size_t k = 0; k < n; k++)
                sum += powers[i][k] * inverse[column][k];
            poly->factor[i][column] = sd * sum;
        }
    }
}

bool poly_fit(const struct points *points, size_t first, size_t last, size_t terms,
              struct poly *poly)
{
    assert(terms >= 1 && terms <= POLY_TERMS_MAX && last < points->n);
    *poly = (struct poly){0};
    if (first > last || last - first + 1 < terms || !(points->x[last] > points->x[first]))
        return false;
    struct poly fit = {.middle = 0.5 * (points->x[first] + points->x[last]),
                       .half = 0.5 * (points->x[last] - points->x[first]),
                       .terms = terms,
                       .dof = last - first + 1 - terms};
    double y0 = points->y[first];
    struct normal normal;
    accumulate(points, first, last, &fit, y0, &normal);
    gsl_matrix_view gram = gsl_matrix_view_array(normal.gram, terms, terms);
    gsl_vector_view right = gsl_vector_view_array(normal.right, terms);
    if (gsl_linalg_cholesky_decomp1(&gram.matrix) != GSL_SUCCESS ||
        gsl_linalg_cholesky_svx(&gram.matrix, &right.vector) != GSL_SUCCESS)
        return false;
    double powers[POLY_TERMS_MAX][POLY_TERMS_MAX];
    legendre_in_powers(terms, powers);
    for (size_t i = 0; i < terms; i++) {
        for (size_t k = 0; k < terms; k++)
            fit.c[i] += powers[i][k] * normal.right[k];
        if (!isfinite(fit.c[i]))
            return false;
    }
    fit.c[0] += y0;
    double squares = sum_of_squares(points, first, last, &fit);
    fit.residual_sd = fit.dof > 0 ? sqrt(squares / (double)fit.dof) : 0.0;
    set_factor(normal.gram, fit.residual_sd, &fit);
    *poly = fit;
    return true;
}

double poly_value(const struct poly *poly, double x)
{
    double t = (x - poly->middle) / poly->half, value = 0.0;
    for (size_t k = poly->terms; k-- > 0;)
        value = value * t + poly->c[k];
    return value;
}

double poly_slope(const struct poly *poly, double x)
{
    double t = (x - poly->middle) / poly->half, slope = 0.0;
    for (size_t k = poly->terms; k-- > 1;)
        slope = slope * t + (double)k * poly->c[k];
    return slope / poly->half;
}

double poly_curvature(const struct poly *poly, double x)
{
    double t = (x - poly->middle) / poly->half, curvature = 0.0;
    for (size_t k = poly->terms; k-- > 2;)
        curvature = curvature * t + (double)(k * (k - 1)) * poly->c[k];
    return curvature / (poly->half * poly->half);
}

double poly_value_u(const struct poly *poly, double x)
{
    double t = (x - poly->middle) / poly->half, variance = 0.0;
    for (size_t column = 0; column < poly->terms; column++) {
        double part = 0.0;
        for (size_t k = poly->terms; k-- > 0;)
            part = part * t + poly->factor[k][column];
        variance += part * part;
    }
    return sqrt(variance);
}

struct poly poly_shaken(const struct poly *poly, const double z[POLY_TERMS_MAX])
{
    struct poly shaken = *poly;
    for (size_t k = 0; k < poly->terms; k++)
        for (size_t column = 0; column < poly->terms; column++)
            shaken.c[k] += poly->factor[k][column] * z[column];
    return shaken;
}

typedef double poly_function(const struct poly *poly, double x);

/* Scan, then Newton on the derivative, kept within the neighbours of the best scanned place. */
static struct poly_extreme extreme_of(const struct poly *poly, double from, double to, int sign,
                                      poly_function *f, poly_function *df)
{
    double step = (to - from) / SCAN_STEPS;
    struct poly_extreme best = {.x = from, .value = f(poly, from)};
    for (int i = 1; i <= SCAN_STEPS; i++) {
        double x = i == SCAN_STEPS ? to : from + i * step, value = f(poly, x);
        if (sign * value > sign * best.value)
            best = (struct poly_extreme){x, value};
    }
    double low = fmax(from, best.x - step), high = fmin(to, best.x + step), x = best.x;
    for (int i = 0; i < NEWTON_STEPS; i++) {
        double h = STEP_SHARE * poly->half;
        double second = (df(poly, x + h) - df(poly, x - h)) / (2.0 * h);
        if (!(sign * second < 0.0))
            break;
        x = fmin(fmax(x - df(poly, x) / second, low), high);
    }
    double value = f(poly, x);
    return sign * value > sign * best.value ? (struct poly_extreme){x, value} : best;
}

struct poly_extreme poly_extreme(const struct poly *poly, double from, double to, int sign)
{
    return extreme_of(poly, from, to, sign, poly_value, poly_slope);
}

struct poly_extreme poly_steepest(const struct poly *poly, double from, double to, int sign)
{
    return extreme_of(poly, from, to, sign, poly_slope, poly_curvature);
}
