/*
 * simtrack: the outline of a cam's track as its support function, for the simulated bench.
 *
 * A cord that leaves a convex track is tangent to it. The distance of that tangent line from the
 * axle, as a function of the direction of the line's outward normal in the cam's own frame, is the
 * support function p(alpha) of the outline (geometry of convex bodies: Minkowski). It gives
 *   lever arm of the cord about the axle      p
 *   where the cord leaves the track           p n + p' t    (n normal, t = dn/dalpha)
 *   radius of curvature there                 p + p''       (must not be negative)
 *   cord lying on the track between a and b   integral of p from a to b, plus p'(b) - p'(a)
 * so that lever arm and cord length can't contradict each other. Angles in radians, lengths in
 * metres. Not for: what the cords do to the bow (bench/simbow.h).
 */
#ifndef PULLCURVE_BENCH_SIMTRACK_H
#define PULLCURVE_BENCH_SIMTRACK_H

#include "base/status.h"

#include <stdbool.h>
#include <stddef.h>

enum { SIMTRACK_TABLE_MIN = 4 };

struct simtrack;

/* What holds at one direction of the normal. */
struct simtrack_point {
    double lever_m;     /* p */
    double slope_m;     /* p' */
    double curvature_m; /* p'' */
    double wound_m;     /* integral of p from direction 0 */
};

/* A track through a table of lever arms: the C2 natural cubic spline, straight beyond both ends.
 * normal_rad rises strictly, n >= SIMTRACK_TABLE_MIN, all lever arms > 0.
 * Errors: STATUS_BAD_INPUT (table too short, not rising, a lever arm not above zero, or the outline
 * is hollow somewhere, so that a cord would not lie on it). *track is NULL on failure. */
enum status simtrack_open_table(struct simtrack **track, const double *normal_rad,
                                const double *lever_m, size_t n, struct err *err);

/* A circle whose centre lies eccentricity_m from the axle in direction toward_rad:
 * p = radius + eccentricity cos(alpha - toward). With has_end the cord is made fast at direction
 * end_rad: beyond, it hangs straight from that point of the circle.
 * Errors: STATUS_BAD_INPUT (radius or eccentricity not possible). *track is NULL on failure. */
enum status simtrack_open_circle(struct simtrack **track, double radius_m, double eccentricity_m,
                                 double toward_rad, bool has_end, double end_rad, struct err *err);

/* Releases it; NULL is allowed. */
void simtrack_close(struct simtrack *track);

/* The track at one direction; never fails. */
struct simtrack_point simtrack_at(const struct simtrack *track, double normal_rad);

/* Does the track say what happens in this direction (false beyond the ends of a table)? */
bool simtrack_covers(const struct simtrack *track, double normal_rad);

#endif
