/*
 * montecarlo: uncertainty of the figures by propagation of distributions (JCGM 101).
 *
 * Each trial draws the errors that move the whole curve and the noise of every feature, and
 * evaluates all figures; spread and quantiles of the trials are the standard uncertainty and the
 * coverage interval. Seeded: the same seed gives the same digits.
 */
#ifndef PULLCURVE_CURVE_MONTECARLO_H
#define PULLCURVE_CURVE_MONTECARLO_H

#include "curve/calibration.h"
#include "curve/evaluate.h"
#include "curve/figures.h"
#include "curve/uncertainty.h"

#include <stdbool.h>
#include <stddef.h>

/* The error model of a calibration: its coefficients' covariance written as a polynomial of
 * value_si - origin_si, to first order in its curvature. */
struct error_model error_model_of(const struct calibration *calibration, double origin_si);

/* Uncertainty of each figure of the mean of n pulls. nominal[i] are the pulls' figures. Fills
 * has_u, u_si, low_si, high_si of figures that are present. n >= 1. */
void montecarlo_run(const struct pull_features *pulls, const struct values *nominal, size_t n,
                    const struct uncertainty_inputs *inputs, struct figures *figures);

/* Works out what each source alone gives each figure. */
void montecarlo_budget(const struct pull_features *pulls, const struct values *nominal, size_t n,
                       const struct uncertainty_inputs *inputs, struct budget *budget);

#endif
