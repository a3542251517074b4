/*
 * lag: how far the force channel stands behind the travel in time, told from the readings, and
 * readings without it.
 *
 * A load cell's converter filters, so that its readings come late by a constant (its group delay);
 * while the string moves, each force is then paired with a position reached later. Draw and
 * let-down move apart by it, which looks like friction. The two are told apart by the hand: what
 * comes of a lag follows the speed of each moment, what comes of friction follows the position.
 *
 *   F = f(x) + d g(x) - lag v f'(x)      d = +1 drawing, -1 letting down
 *
 * with f a spline and g a polynomial, both free (least squares, separable: G. H. Golub,
 * V. Pereyra 1973). Friction in proportion to the force, with one or two constants, is not enough:
 * on the simulated compounds it puts the lag wrong by 13 to 46 ms. Where the string moved at an
 * even speed the two can't be told apart, and the uncertainty says so. Not for: a lag that changes,
 * clocks (bench/stream.h).
 */
#ifndef PULLCURVE_CURVE_LAG_H
#define PULLCURVE_CURVE_LAG_H

#include "curve/convert.h"
#include "curve/sweep.h"

#include <stdbool.h>

/* lag_s: positive where the force stands behind the travel. */
struct lag {
    bool known;            /* the readings tell it to within LAG_U_MAX_S */
    bool significant;      /* and it is not zero: worth correcting */
    double lag_s, u_lag_s; /* of the pulls that tell; 0 where none does */
};

/* Larger ones than LAG_MAX_S are not looked for. */
#define LAG_MAX_S 0.15
#define LAG_U_MAX_S 0.003

/* Estimates the lag over all pulls that have a let-down. spike marks readings that are not to be
 * used. Not known without times, or where these are not in order or more than 50 ms apart.
 * O(readings). */
struct lag lag_find(const struct readings *readings, const bool *spike,
                    const struct sweeps *sweeps);

/* Positions as they were lag_s before each reading, so that each belongs to the force beside it.
 * The nearest position read then, moved on by the speed there: so each keeps its own scatter
 * (interpolation would halve it here and there, and the uncertainties with it). Forces stay as they
 * are. draw_m has readings->n elements and may be readings->draw_m; readings->time_s must be there
 * and in order. */
void lag_delay_travel(const struct readings *readings, double lag_s, double *draw_m);

#endif
