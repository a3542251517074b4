/*
 * poly: a polynomial fitted to a stretch of a curve, with the uncertainty of its coefficients.
 *
 * The figures are read off such fits (top of the peak, bottom of the valley, steepest slope), so
 * that noise goes into them by a known law. Not for: finding the stretch (curve/feature.h).
 */
#ifndef PULLCURVE_CURVE_POLY_H
#define PULLCURVE_CURVE_POLY_H

#include "curve/smooth.h"

#include <stdbool.h>
#include <stddef.h>

enum { POLY_TERMS_MAX = 7 };

/* y = sum of c[k] t^k, t = (x - middle)/half, |t| <= 1 within the stretch. */
struct poly {
    double middle, half;
    size_t terms; /* 0: not fitted */
    double c[POLY_TERMS_MAX];
    /* covariance of c = factor * transposed factor, from the scatter of the points about the fit */
    double factor[POLY_TERMS_MAX][POLY_TERMS_MAX];
    double residual_sd; /* of one reading */
    size_t dof;
};

/* Least squares over points first..last with `terms` terms, weighted by the points' weights, by
 * way of Legendre polynomials (well conditioned). False, and *poly without terms, where the points
 * do not support it (fewer points than terms, or coinciding ones). */
bool poly_fit(const struct points *points, size_t first, size_t last, size_t terms,
              struct poly *poly);

double poly_value(const struct poly *poly, double x);
double poly_slope(const struct poly *poly, double x);
double poly_curvature(const struct poly *poly, double x);

/* Standard uncertainty of poly_value from the scatter. */
double poly_value_u(const struct poly *poly, double x);

/* The same polynomial with its coefficients moved by factor * z: a draw from their distribution
 * where z holds `terms` independent standard normal numbers. */
struct poly poly_shaken(const struct poly *poly, const double z[POLY_TERMS_MAX]);

struct poly_extreme {
    double x, value;
};

/* Largest (sign +1) or smallest (sign -1) value between from and to, ends included; within the
 * stretch. */
struct poly_extreme poly_extreme(const struct poly *poly, double from, double to, int sign);

/* Largest or smallest slope between from and to; value is the slope. */
struct poly_extreme poly_steepest(const struct poly *poly, double from, double to, int sign);

#endif
