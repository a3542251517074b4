/*
 * sweep: where in a capture draw and let-down begin and end, and which readings lie on each.
 *
 * Holds with a hand on the crank: pauses, small ways back, a bounce at the wall, several pulls in a
 * capture, a draw that stops short. Not for: the shape of the curve (curve/shape.h).
 */
#ifndef PULLCURVE_CURVE_SWEEP_H
#define PULLCURVE_CURVE_SWEEP_H

#include "base/status.h"
#include "curve/convert.h"

#include <stdbool.h>
#include <stddef.h>

/* Indices into the readings, all inclusive; rest_first <= first < top_first <= top_last <= last. */
struct sweep {
    size_t rest_first; /* first reading that can be rest before the draw */
    size_t first;      /* last reading at rest: the draw begins here */
    size_t top_first;  /* the largest draw position is reached for the first time */
    size_t top_last;   /* and left for good: the let-down begins here */
    size_t last;       /* the let-down is over */
    bool has_let_down;
    double base_m; /* draw position at rest */
};

struct sweeps {
    size_t n;
    struct sweep *sweep;
    size_t n_unfinished; /* movements that went back before 60 % of the travel */
    double tolerance_m;  /* a way back smaller than this is scatter */
};

/* Finds the pulls. Positions must be finite; n >= 3.
 * Errors: STATUS_BAD_INPUT where the position never moves. Caller ends it with sweeps_clear. */
enum status sweeps_find(const struct readings *readings, struct sweeps *sweeps, struct err *err);

void sweeps_clear(struct sweeps *sweeps);

struct ways_back {
    size_t n;
    double largest_m;
};

/* Indices of the readings on the draw curve, in time order: those that reach farther than all
 * before (within tolerance). What is read while going back, and until the draw is taken up again,
 * lies between the two curves (friction) and is left out, and so is a hold at the top. `index` has
 * room for last - first + 1. Returns their number; *ways_back may be NULL. */
size_t sweep_pick_draw(const struct readings *readings, const struct sweep *sweep,
                       double tolerance_m, size_t *index, struct ways_back *ways_back);

/* The same for the let-down, in time order (falling position). 0 where there is none. */
size_t sweep_pick_let_down(const struct readings *readings, const struct sweep *sweep,
                           double tolerance_m, size_t *index, struct ways_back *ways_back);

#endif
