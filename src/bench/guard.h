/*
 * guard: watches limits while a bow is drawn and says when one is passed. Pure: values in, alarms
 * out.
 *
 * It only tells. Software is never the safety stop: a bench needs mechanical or hard-wired stops of
 * its own. An alarm is raised once when a limit is passed and again only after the value has come
 * back inside (by two parts in a hundred), so that it does not chatter.
 */
#ifndef PULLCURVE_BENCH_GUARD_H
#define PULLCURVE_BENCH_GUARD_H

#include <stdbool.h>

enum guard_alarm {
    GUARD_FORCE = 1,   /* force beyond force_n */
    GUARD_TRAVEL = 2,  /* draw position beyond draw_m */
    GUARD_SPEED = 4,   /* the draw moves faster than speed_m_s, either way */
    GUARD_SILENCE = 8, /* no reading for silence_s */
    GUARD_BLIND = 16,  /* a count is saturated: the true force or travel is not seen */
};

/* INFINITY where there is no limit. */
struct guard_limits {
    double force_n;
    double draw_m;
    double speed_m_s;
    double silence_s;
};

/* Fields are private, but `active` (or-ed alarms that hold now), n_raised and speed_m_s may be
 * read. */
struct guard {
    unsigned active;
    int n_raised;     /* alarms raised since the start */
    double speed_m_s; /* last estimate, over GUARD_SPEED_WINDOW_S at least */
    struct guard_limits limits;
    bool has_mark;
    double mark_s, mark_m; /* where the speed window began */
};

#define GUARD_SPEED_WINDOW_S 0.1

void guard_init(struct guard *guard, const struct guard_limits *limits);

/* A reading: time of the bench (s), force (N), draw position (m), and whether one of them is
 * saturated. Returns the alarms that are raised by it, or-ed, 0 for none. */
unsigned guard_reading(struct guard *guard, double time_s, double force_n, double draw_m,
                       bool saturated);

/* No reading has come for this long (host's clock). Returns GUARD_SILENCE when that is raised. */
unsigned guard_quiet(struct guard *guard, double quiet_s);

/* What an alarm says, for a loud line: a constant string. */
const char *guard_text(enum guard_alarm alarm);

#endif
