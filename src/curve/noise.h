/*
 * noise: how much readings scatter, and which of them stand out, told from the readings alone.
 */
#ifndef PULLCURVE_CURVE_NOISE_H
#define PULLCURVE_CURVE_NOISE_H

#include <stdbool.h>
#include <stddef.h>

/* Standard deviation of the scatter of evenly sampled values about a smooth course: the median of
 * |second difference| over 0.6745 * sqrt(6) (for normal noise). 0 for n < 3. O(n log n). */
double noise_from_differences(const double *values, size_t n);

/* Marks single and double readings that stand out from their course. A reading is a spike where
 * the course predicted from the two before, from the two after and from its neighbours all miss it
 * to the same side by more than 6 times max(scatter, least_step). spike[i] is only ever set, never
 * cleared. Returns how many were set. A steep corner is not a spike: there the three differ in
 * sign.
 */
size_t noise_mark_spikes(const double *values, size_t n, double least_step, bool *spike);

#endif
