/*
 * correct: the readings as a perfect fixture would have given them.
 *
 *   force:    F = F_read cos(angle) - hook - zero(t)
 *   position: x = x_read - give F
 *
 * zero(t): the mean force at rest before the first pull (tare), or a straight line from each rest
 * to the next (drift). Every correction is optional and brings its uncertainty.
 */
#ifndef PULLCURVE_CURVE_CORRECT_H
#define PULLCURVE_CURVE_CORRECT_H

#include "base/fixture.h"
#include "curve/convert.h"
#include "curve/sweep.h"
#include "curve/uncertainty.h"

struct corrected {
    struct readings readings; /* points into the arrays below and to the given times */
    double *draw_m, *force_n;
    double zero_n;   /* force at rest before the first pull */
    double drift_n;  /* largest change of the zero over one pull */
    double u_zero_n; /* of zero_n, from scatter */
    bool zero_known; /* there were readings at rest */
};

/* Corrects the readings; sweeps as found on them. Caller ends it with corrected_clear. */
void correct_readings(const struct readings *readings, const struct sweeps *sweeps,
                      const struct fixture *fixture, struct corrected *corrected);

void corrected_clear(struct corrected *corrected);

/* Adds what the fixture's corrections leave to the uncertainty inputs. */
void correct_uncertainty(const struct fixture *fixture, const struct corrected *corrected,
                         struct uncertainty_inputs *inputs);

#endif
