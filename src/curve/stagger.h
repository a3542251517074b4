/*
 * stagger: do the two stops land one after the other? Told from a rise with two slopes.
 *
 * After the first landing one stop carries, after the second both, so the rise becomes steeper at
 * the second. Position over force is then two straight lines with a knee. The knee is claimed only
 * where it explains the points clearly better than a smooth bend (a parabola) does, and where the
 * distance is beyond the detection limit. A hint to check cam timing, never a verdict.
 * docs/validation.md gives detection limit and false alarms on simulated bows.
 */
#ifndef PULLCURVE_CURVE_STAGGER_H
#define PULLCURVE_CURVE_STAGGER_H

#include "curve/smooth.h"

#include <stdbool.h>
#include <stddef.h>

struct stagger {
    bool found;
    double distance_m;   /* along the draw, from the first landing to the second */
    double u_distance_m; /* from scatter */
    double knee_n;       /* force at the second landing */
    double limit_m;      /* the smallest stagger that could be claimed with these readings, if both
                            slopes are well covered; not a proof that none larger is there. 0
                            where there are too few readings on the rise to look */
};

/* Looks at the points from first (at the valley) to the last. holding_n: force in the valley.
 * stiffness_n_per_m: slope of the upper part of the rise. position_sd_m: known scatter of one
 * position, 0 where not known. */
struct stagger stagger_find(const struct points *points, size_t first, double holding_n,
                            double stiffness_n_per_m, double position_sd_m);

#endif
