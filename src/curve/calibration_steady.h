/*
 * calibration_steady: has a count come to rest under a load, and what is its mean worth?
 *
 * Pure: the counts of a stretch of time in, mean and uncertainty out.
 */
#ifndef PULLCURVE_CURVE_CALIBRATION_STEADY_H
#define PULLCURVE_CURVE_CALIBRATION_STEADY_H

#include <stdbool.h>
#include <stddef.h>

enum { CALIBRATION_STEADY_MIN = 16 };

struct calibration_steady {
    bool steady; /* the two halves agree within a count, or half the standard deviation (more where
                    the readings are few), and no eighth lies apart from the others */
    double mean, sd; /* of the counts */
    double u_mean; /* standard uncertainty of the mean, from the means of eight parts one after the
                      other, so that a weight that swings is not taken for many independent
                      readings; at least that of a converter's step where the count stands still */
    double drift;  /* mean of the second half less that of the first */
};

/* n >= CALIBRATION_STEADY_MIN counts, evenly spaced in time. */
struct calibration_steady calibration_steady(const double *counts, size_t n);

#endif
