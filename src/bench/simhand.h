/*
 * simhand: how a technician cranks a bow on the fixture: draw position over time.
 *
 * Rest at brace height, draw with crank strokes that come and go, a landing at the largest draw, a
 * hold, a let-down, rest; as often as there are pulls. The same seed gives the same hand. Not for:
 * forces (bench/simbow.h), where the largest draw lies (bench/simtruth.h).
 */
#ifndef PULLCURVE_BENCH_SIMHAND_H
#define PULLCURVE_BENCH_SIMHAND_H

#include "base/status.h"

#include <stdint.h>

struct simhand_settings {
    uint64_t seed;
    int n_pulls;                       /* >= 0; none: the string only rests */
    double rest_s;                     /* before the first and after each pull */
    double draw_s, hold_s, let_down_s; /* as they would last at even speed; > 0, >= 0, > 0 */
    double unevenness;                 /* 0 even; 1: stands still between strokes; above, up to
                                        * 1.5: the string runs back a little between them */
    double strokes_per_s;              /* of the crank */
    int n_pauses;                      /* in each draw, at random places */
    double pause_s;                    /* how long each lasts, on average */
    double slip_m;                     /* the string slips back once in each draw; 0: never */
    double bounce_m;                   /* swings back from the largest draw; 0: none */
    double short_of_m;                 /* each pull turns round this far before */
};

struct simhand;

/* One pull as a careful technician does it: 8 s, 1.5 s, 7 s, a second of rest, unevenness 0.5. */
struct simhand_settings simhand_defaults(void);

/* A hand that draws from brace_m to top_m, top_m - short_of_m > brace_m. Caller ends it with
 * simhand_close. Errors: STATUS_USAGE (a setting out of its range). *hand is NULL on failure. */
enum status simhand_open(struct simhand **hand, const struct simhand_settings *settings,
                         double brace_m, double top_m, struct err *err);

/* Releases it; NULL is allowed. */
void simhand_close(struct simhand *hand);

/* How long all of it lasts, from the first rest to the last. */
double simhand_duration_s(const struct simhand *hand);

/* Draw position at a time; at rest before 0 and after the end. */
double simhand_at_m(const struct simhand *hand, double time_s);

#endif
