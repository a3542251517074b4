/*
 * give: how far load cell, hook and frame give under load, from readings with a rigid bar in place
 * of the string: what the encoder then shows is the give alone.
 *
 *   position = offset + give force, by least squares
 */
#ifndef PULLCURVE_CURVE_GIVE_H
#define PULLCURVE_CURVE_GIVE_H

#include "base/status.h"

#include <stddef.h>

struct give {
    size_t n;
    double give_m_per_n, u_give_m_per_n; /* slope, and its standard uncertainty by the scatter */
    double offset_m;
    double residual_sd_m;      /* n - 2 degrees of freedom */
    double largest_residual_m; /* with its sign ... */
    double largest_at_n;       /* ... and the force where it is */
    double force_low_n, force_high_n;
    double curved_m; /* how far a parabola through the same readings leaves the line at most, within
                        these forces; 0 where it can't be fitted (fewer than three forces) */
};

/* Fits n pairs, all finite. Errors: STATUS_TOO_FEW (fewer than three), STATUS_BAD_INPUT (one force
 * alone; the position falls while the force rises). */
enum status give_fit(const double *force_n, const double *draw_m, size_t n, struct give *give,
                     struct err *err);

/* Standard uncertainty of the length that is given at this force: the slope's, and what one reading
 * is off the line by (play, friction, a frame that is not straight do not average out). */
double give_u_m(const struct give *give, double force_n);

#endif
