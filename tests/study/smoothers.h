/*
 * smoothers: ways to put a smooth course through the points of a draw, for the comparison in
 * docs/validation-smoothing.md.
 *
 * Not for the program itself: it smooths with curve/smooth.h.
 */
#ifndef PULLCURVE_TESTS_STUDY_SMOOTHERS_H
#define PULLCURVE_TESTS_STUDY_SMOOTHERS_H

#include "curve/smooth.h"

/* Fills course_n[0..points->n) with the force of the course at each point. `size`: what the way
 * needs, see below. */
typedef void smoother(const struct points *points, int size, double *course_n);

/* The points themselves. */
smoother smooth_not;

/* Mean of `size` points, fewer (and even to both sides) at the ends. */
smoother smooth_mean;

/* Least-squares parabola, polynomial of fourth degree, through `size` points about each. */
smoother smooth_quadratic, smooth_quartic;

/* curve/smooth: each point chooses its window; over the whole draw, without regard for a corner. */
smoother smooth_whole;

/* Cubic B-splines on `size` even intervals with a penalty on second differences of the
 * coefficients (P. H. C. Eilers, B. D. Marx 1996); how strong, by generalised cross-validation
 * (P. Craven, G. Wahba 1979). */
smoother smooth_pspline;

#endif
