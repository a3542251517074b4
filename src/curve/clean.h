/*
 * clean: readings that stand out, marked before anything is made of them.
 *
 * A marked reading is kept and told of, but not used in a curve. A marked position is replaced by
 * the middle of its neighbours, so that one wild encoder reading does not decide where a pull
 * begins or ends.
 */
#ifndef PULLCURVE_CURVE_CLEAN_H
#define PULLCURVE_CURVE_CLEAN_H

#include "curve/convert.h"

#include <stdbool.h>

struct cleaned {
    struct readings readings; /* points into draw_m and to the given force and time */
    double *draw_m;
    bool *spike; /* one for each reading */
};

/* Marks spikes of force and position (curve/noise.h) among n readings; none where look is false or
 * there are too few readings to tell. Caller ends it with cleaned_clear. */
void clean_readings(const struct readings *readings, bool look, struct cleaned *cleaned);

void cleaned_clear(struct cleaned *cleaned);

#endif
