/*
 * smooth: a smooth course through scattered points without flattening a peak or filling a valley.
 *
 * Local quadratic least squares in which each point chooses its own window: the widest of a ladder
 * of windows whose confidence intervals still all intersect (rule of intersecting confidence
 * intervals: O. V. Lepski 1990; A. Goldenshluger and A. Nemirovski 1997). Force and slope choose
 * separately. Points need not be evenly spaced. Where the course has a corner, smooth the two sides
 * by two calls. docs/validation.md compares it with other ways.
 */
#ifndef PULLCURVE_CURVE_SMOOTH_H
#define PULLCURVE_CURVE_SMOOTH_H

#include <stddef.h>

/* Points in rising x. weight: how many readings a point is the mean of (its variance is
 * sigma^2/weight). */
struct points {
    size_t n;
    double *x;
    double *y;
    double *weight;
};

/* Room for `capacity` points, n = 0. Caller ends it with points_clear. */
struct points points_new(size_t capacity);
void points_clear(struct points *points);

/* Puts n values in rising order of x and merges runs of points closer than least_step (mean of x
 * and y), so that pauses and fast converters do not cost windows. Result owned by the caller. */
struct points points_merge(const double *x, const double *y, size_t n, double least_step);

/* c[0] + c[1] (x - x0) + c[2] (x - x0)^2 with the variances of the coefficients and the covariance
 * of c[0] and c[1], for readings of standard deviation 1. */
struct local_fit {
    double c[3];
    double var_value, var_slope, var_curvature;
    size_t first, last; /* the points used */
    size_t terms;       /* 3, or fewer where the points do not support a quadratic */
};

/* Fits points first..last (inclusive) about x0. */
struct local_fit smooth_local_fit(const struct points *points, size_t first, size_t last,
                                  double x0);

/* Local scatter of single readings about the course at each point: running median of the misses of
 * a cubic through the four neighbours. sigma has points->n elements. */
void smooth_scatter(const struct points *points, double *sigma);

struct smoothed {
    struct local_fit *value; /* n each: the fit chosen for the value, about the point's own x */
    struct local_fit *slope; /* and the one chosen for the slope */
};

/* Smooths points first..last. sigma as from smooth_scatter. Fills value[i] and slope[i] for
 * first <= i <= last. half_width_max_m bounds the windows. O(n * window). */
void smooth_adaptive(const struct points *points, const double *sigma, size_t first, size_t last,
                     double half_width_max, struct smoothed *smoothed);

struct smoothed smoothed_new(size_t n);
void smoothed_clear(struct smoothed *smoothed);

#endif
