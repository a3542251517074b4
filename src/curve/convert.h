/*
 * convert: raw readings to draw position and force through the calibrations in force.
 */
#ifndef PULLCURVE_CURVE_CONVERT_H
#define PULLCURVE_CURVE_CONVERT_H

#include "base/reading.h"
#include "base/status.h"
#include "curve/calibration.h"

#include <stdbool.h>
#include <stddef.h>

/* Readings of a capture in time order. The arrays have n elements; time_s is NULL where times are
 * not known. Positions are along the draw from the grip pivot point. */
struct readings {
    size_t n;
    const double *draw_m;
    const double *force_n;
    const double *time_s;
};

struct converted {
    struct readings readings; /* points into the arrays below */
    double *draw_m, *force_n, *time_s;
    size_t n_left_out; /* readings without both channels, or saturated */
};

/* Where draw position zero is. */
struct datum {
    bool from_brace; /* true: the position at rest is brace_m; false: travel is draw position */
    double brace_m;
};

/* Converts raw[0..n). With datum.from_brace the travel at rest (median of the readings before the
 * force first rises) becomes brace_m. Errors: STATUS_TOO_FEW where no usable reading is left.
 * Caller ends it with converted_clear. */
enum status convert_raw(const struct raw_reading *raw, size_t n, const struct calibration *force,
                        const struct calibration *travel, const struct datum *datum,
                        struct converted *converted, struct err *err);

void converted_clear(struct converted *converted);

#endif
