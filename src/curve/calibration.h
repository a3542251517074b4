/*
 * calibration: from converter counts to force or travel, as a calibration laboratory does it.
 *
 * Works for one channel (load cell or encoder) on known loads or lengths. Pure: values in, values
 * out. Not for: applying it to a whole capture (curve/convert.h), keeping it (record).
 */
#ifndef PULLCURVE_CURVE_CALIBRATION_H
#define PULLCURVE_CURVE_CALIBRATION_H

#include "base/calibration_point.h"
#include "base/status.h"
#include "base/units.h"

#include <stdbool.h>
#include <stddef.h>

enum { CALIBRATION_TERMS_MAX = 3, CALIBRATION_POINTS_MIN = 2 };

/* value_si = sum over k < n_terms of coefficient[k] * z^k, z = (count - count_middle)/count_scale.
 * Centring and scaling keep the digits (see the NIST Pontius case in the tests). */
struct calibration {
    enum quantity quantity; /* QUANTITY_FORCE or QUANTITY_LENGTH */
    size_t n_terms;         /* 2: straight line, 3: quadratic */
    double coefficient[CALIBRATION_TERMS_MAX];
    double covariance[CALIBRATION_TERMS_MAX][CALIBRATION_TERMS_MAX]; /* of the coefficients */
    double count_middle, count_scale;
    double count_low, count_high; /* range of the points; beyond it is extrapolation */
    size_t n_points;
    size_t dof;            /* n_points - n_terms */
    double residual_sd_si; /* 0 where dof is 0 */
    double largest_residual_si;
};

/* Fits the points by least squares. n_terms 2 or 3.
 * Errors: STATUS_TOO_FEW (fewer points than terms), STATUS_NO_FIT (counts all alike, not finite,
 * slope zero). */
enum status calibration_fit(const struct calibration_point *points, size_t n,
                            enum quantity quantity, size_t n_terms, struct calibration *calibration,
                            struct err *err);

/* The quantity at a count, and its standard uncertainty from the fit alone. */
double calibration_value(const struct calibration *calibration, double count);
double calibration_u(const struct calibration *calibration, double count);

#endif
