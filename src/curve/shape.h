/*
 * shape: the features of one side of a pull: peak, valley, wall, and the smoothed course itself.
 *
 * Works on a draw and, read in rising position, on a let-down alike. Definitions:
 * docs/definitions.md. Not for: energies and the figures made of both sides (curve/measure.h).
 */
#ifndef PULLCURVE_CURVE_SHAPE_H
#define PULLCURVE_CURVE_SHAPE_H

#include "curve/smooth.h"

#include <stdbool.h>
#include <stddef.h>

struct valley {
    bool present;
    bool at_end; /* no wall behind it: the true one may lie beyond */
    double force_n;
    double draw_m;
    double flat_m; /* length over which it is flat within noise, 0 where it has a clear lowest
                      point */
};

struct wall {
    bool present;
    double corner_m; /* where the steep rise begins: the smoothed course has a corner here */
    double onset_m;  /* where the line through the rise meets the holding level */
    double stiffness_n_per_m;
    double line_x_m, line_force_n; /* a point on that line */
};

/* One side of a pull. The points are kept as they were merged; smoothed holds a fit a point. */
struct shape {
    struct points points;
    double *sigma;        /* scatter of one reading at each point, N; 0 where not smoothed */
    double position_sd_m; /* scatter of one position, as the caller knows it; 0 where not */
    struct smoothed smoothed;
    bool coarse;          /* points are taken as they are, joined by straight lines */
    size_t n_before_wall; /* points before the corner; all where there is no wall */
    bool drops;           /* the force falls clearly after a peak */
    struct valley valley;
    struct wall wall;
};

/* Finds the features. Takes over the points (in rising x, at least two). Caller ends it with
 * shape_clear. */
struct shape shape_find(struct points points, bool coarse);

void shape_clear(struct shape *shape);

/* The course at point i: force, its standard uncertainty from scatter (0 where coarse), slope. */
double shape_course_n(const struct shape *shape, size_t i);
double shape_course_sd_n(const struct shape *shape, size_t i);
double shape_slope_n_per_m(const struct shape *shape, size_t i);

/* Force of the course at draw_m, which is held to the range of the points. Before the corner the
 * course before the wall holds. */
double shape_force_n(const struct shape *shape, double draw_m);

/* A value and where it is. */
struct extreme {
    double value;
    double draw_m;
};

/* Largest force of the course from the first point up to limit_m, not counting the wall. */
struct extreme shape_peak(const struct shape *shape, double limit_m);

/* Largest (sign +1) or smallest (sign -1) slope before the wall and up to limit_m. */
struct extreme shape_steepest(const struct shape *shape, double limit_m, int sign);

/* Length over which the course lies at or above (sign +1) or below (sign -1) level_n, between
 * from_m and to_m. */
double shape_length_n(const struct shape *shape, double from_m, double to_m, double level_n,
                      int sign);

/* Integral of force over draw position from from_m to to_m, J: trapezoids over the points
 * themselves (unbiased under noise), with the course's value at the two ends. */
double shape_energy_j(const struct shape *shape, double from_m, double to_m);

#endif
