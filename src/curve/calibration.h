/*
 * calibration: from converter counts to force or travel, as a calibration laboratory does it.
 *
 * Works for one channel (load cell or encoder) on known loads or lengths. Pure: values in, values
 * out. Not for: choosing the terms and finding outliers (curve/calibration_choice.h), the summary
 * of a calibration (curve/calibration_summary.h), applying it to a whole capture (curve/convert.h),
 * keeping it (record).
 *
 * Direction: the reference is fitted as a polynomial of the count, value = f(count), since that is
 * the way it is used at the bench. The classical direction (count as a function of load, then
 * solved for the load) differs from it by about (residual sd / range of loads)^2 of the value,
 * which for a load cell is far below the uncertainty. calibration_inverse goes the other way.
 */
#ifndef PULLCURVE_CURVE_CALIBRATION_H
#define PULLCURVE_CURVE_CALIBRATION_H

#include "base/calibration_point.h"
#include "base/status.h"
#include "base/units.h"

#include <stdbool.h>
#include <stddef.h>

enum { CALIBRATION_TERMS_MAX = 3, CALIBRATION_POINTS_MIN = 2 };

/* What the stated uncertainties of the references (u_reference_si of the points) have to do with
 * each other. */
enum calibration_references {
    /* One error moves them all alike: one set of weights, one value of gravity, one reference
     * instrument. It can't be weighed or averaged away, so it is not in the weights and is carried
     * in full into the covariance. The safe side, and nearly always true; the default. */
    CALIBRATION_REFERENCES_COMMON,
    /* Each was calibrated by itself: they are weighted by it and it averages out. */
    CALIBRATION_REFERENCES_INDEPENDENT,
};

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
    double residual_sd_si; /* sqrt(sum of squared residuals / dof); 0 where dof is 0 */
    double largest_residual_si;
    double scatter_si; /* the part of the scatter that the stated uncertainties don't explain;
                          residual_sd_si where none is stated */
    double sum_of_squares_si2;          /* of the residuals, not weighted */
    bool weighted;                      /* stated uncertainties of the points set weights */
    double value_low_si, value_high_si; /* range of the references */
};

/* Fits the points by least squares. n_terms 2 or 3. References are taken as
 * CALIBRATION_REFERENCES_COMMON.
 *
 * Weights: 1/(v + scatter^2), v = (slope u_count)^2; a point without u_count takes the root mean
 * square of the others. Where u_count is stated the curve is the most likely one with errors in
 * both, found by iteration (Britt and Luecke, Technometrics 15 (1973) 233; for a line it is
 * York's). scatter is 0 where the weighted sum of squares is no larger than chance allows
 * (chi-squared, 5 %); else it is the smallest that makes that sum equal to the degrees of freedom
 * (Mandel and Paule, Anal. Chem. 42 (1970) 1194). Where no u is stated that is ordinary least
 * squares.
 *
 * With n == n_terms nothing is known of the scatter: the covariance holds what was stated, else 0.
 * Errors: STATUS_TOO_FEW (fewer points, or fewer different counts, than terms), STATUS_NO_FIT
 * (not finite, counts all alike, references all alike, the counts don't follow the references, a
 * quadratic that turns back within the points). *calibration is written on success only. */
enum status calibration_fit(const struct calibration_point *points, size_t n,
                            enum quantity quantity, size_t n_terms, struct calibration *calibration,
                            struct err *err);

/* The same with a stated kind of reference. With CALIBRATION_REFERENCES_INDEPENDENT
 * v = u_reference^2 + (slope u_count)^2. */
enum status calibration_fit_references(const struct calibration_point *points, size_t n,
                                       enum quantity quantity, size_t n_terms,
                                       enum calibration_references references,
                                       struct calibration *calibration, struct err *err);

/* The quantity at a count, and its standard uncertainty from the fit (with the stated uncertainty
 * of the references): that of the curve, not of one more reading. */
double calibration_value(const struct calibration *calibration, double count);
double calibration_u(const struct calibration *calibration, double count);

/* d value / d count at a count, in N or m per count. */
double calibration_slope(const struct calibration *calibration, double count);

/* Is the count outside of the range of the points (by more than a billionth of it)? */
bool calibration_extrapolates(const struct calibration *calibration, double count);

/* The same polynomial written in powers of (count - origin_count), for people and for checks:
 * value_si = sum of coefficient[k] * (count - origin_count)^k. */
struct calibration_polynomial {
    double coefficient[CALIBRATION_TERMS_MAX];
    double covariance[CALIBRATION_TERMS_MAX][CALIBRATION_TERMS_MAX];
};

struct calibration_polynomial calibration_about(const struct calibration *calibration,
                                                double origin_count);

/* A predicted value: of the curve (mean), and of one more reading like the points (single). */
struct calibration_prediction {
    double value_si;
    double u_mean_si, mean_low_si, mean_high_si;
    double u_single_si, single_low_si, single_high_si;
};

/* Prediction at a count with intervals at `probability` (0.95), Student t with the degrees of
 * freedom of the fit; with dof 0 the normal distribution stands in.
 * u_single^2 = u_mean^2 + residual_sd^2. probability in (0, 1), asserted. */
struct calibration_prediction calibration_predict(const struct calibration *calibration,
                                                  double count, double probability);

/* The count that belongs to a value. */
struct calibration_inverse {
    double count;
    double low, high; /* limits: where the single-reading band at this probability meets the value
                         (NIST/SEMATECH e-Handbook 4.6.1); NAN where it does not */
};

/* Errors: STATUS_NO_FIT where the curve never reaches the value (beyond the turning point of a
 * quadratic). *inverse is written on success only. */
enum status calibration_invert(const struct calibration *calibration, double value_si,
                               double probability, struct calibration_inverse *inverse,
                               struct err *err);

#endif
