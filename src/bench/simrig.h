/*
 * simrig: the bow on the fixture with the hand at the crank: draw position and force over time.
 *
 * Not for: counts and lines (bench/simbench.h).
 */
#ifndef PULLCURVE_BENCH_SIMRIG_H
#define PULLCURVE_BENCH_SIMRIG_H

#include "base/status.h"
#include "bench/simbow.h"
#include "bench/simhand.h"

struct simrig;

/* Draws `bow` (borrowed; it must outlive the rig) to where it presses into the wall with press_n
 * above holding, a recurve to its stated draw. The load cell's zero drifts by drift_n from the
 * beginning of the first rest to the end of the last. Caller ends it with simrig_close.
 * Errors: those of simhand_open and simtruth_find. *rig is NULL on failure. */
enum status simrig_open(struct simrig **rig, const struct simbow *bow,
                        const struct simhand_settings *hand, double press_n, double drift_n,
                        struct err *err);

/* Holds a known load and length instead, for ever. */
void simrig_open_constant(struct simrig **rig, double draw_m, double force_n);

/* Releases it; NULL is allowed. */
void simrig_close(struct simrig *rig);

/* How long the pulls last; 0 for a constant load. */
double simrig_duration_s(const struct simrig *rig);

/* Goes back to the beginning. */
void simrig_restart(struct simrig *rig);

/* Draw and force on the load cell at a time, not earlier than the one before (friction remembers
 * the way). Before 0 and after the end the string rests. Errors: those of simbow_at. */
enum status simrig_at(struct simrig *rig, double time_s, double *draw_m, double *force_n,
                      struct err *err);

#endif
