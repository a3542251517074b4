/*
 * sample: a measurement made by hand, whose figures are known because they are written down.
 */
#ifndef PULLCURVE_TESTS_SHOW_SAMPLE_H
#define PULLCURVE_TESTS_SHOW_SAMPLE_H

#include "curve/measure.h"

/* A compound-like pull of n points a side: a plateau at 60 lbf, a valley of 15 lbf at 28 in, a wall
 * at 28.5 in, a let-down 8 % lower. All figures are present, with u. Ended with sample_clear. */
struct measurement sample_measurement(size_t n);

void sample_clear(struct measurement *measurement);

/* Sets a figure in its trade unit; low and high are value -+ 2 u. */
void sample_figure(struct figures *figures, enum figure_id id, double value, double u);

/* Makes a figure not known. */
void sample_absent(struct measurement *measurement, enum figure_id id);

#endif
