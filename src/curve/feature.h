/*
 * feature: the fits from which figures are read, found on the shape of one side of a pull.
 *
 * The shape (smoothed course) says where things are; each feature is then a polynomial or a line
 * fitted to its own stretch, chosen by the shape and not by the noise, so that noise enters the
 * figures by a known law. Not for: putting figures together (curve/evaluate.h).
 */
#ifndef PULLCURVE_CURVE_FEATURE_H
#define PULLCURVE_CURVE_FEATURE_H

#include "curve/poly.h"
#include "curve/shape.h"
#include "curve/stagger.h"

#include <stdbool.h>
#include <stddef.h>

/* A polynomial and the part of its stretch in which it is asked. */
struct feature {
    struct poly poly; /* terms 0: there is none */
    double from_m, to_m;
};

/* The steep rise as position over force: x = middle_m + (F - middle_n) * slope_m_per_n. */
struct wall_line {
    bool present;
    double middle_m, middle_n, slope_m_per_n;
    double u_middle_m, u_slope_m_per_n; /* independent of each other */
    double dof;                         /* of these uncertainties */
};

/* A place where the course crosses a level: going up (sign +1) or down (-1). */
struct crossing {
    struct poly poly;
    double at_m;
    int sign;
};

enum { CROSSINGS_MAX = 6 };

struct side {
    struct feature peak, bottom, rise, drop, end;
    struct wall_line wall;
    struct stagger stagger;
    struct crossing crossing[CROSSINGS_MAX]; /* of the plateau's level, in rising position */
    size_t n_crossings;
    struct crossing band_left; /* of the level that bounds the valley's width, going down */
    bool above_at_start, above_at_limit; /* does the plateau begin or end at the ends? */
    /* from brace to the nominal full draw */
    double energy_j, u_energy_j; /* and its uncertainty from scatter */
    double u_sampling_j;         /* and from the distance of the readings */
    double force_squared_n2_m;   /* integral of F^2 dx */
    double moment_n_m2;          /* integral of F x dx, x from brace */
};

/* Fits of the valley and the wall; they decide where full draw is. */
void side_find_bottom(const struct shape *shape, double band_n, struct side *side);

/* The others, once brace and full draw are known. limit_m: how far the draw counts (full draw, or
 * the end); level_n: of the plateau. A let-down needs the energies only: draw false. */
void side_find_rest(const struct shape *shape, double brace_m, double limit_m, double plateau_share,
                    bool draw, struct side *side);

#endif
