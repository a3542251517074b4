/*
 * live: where a pull stands while it is being captured: rest, drawing, letting down, rest.
 *
 * Reads one reading after the other, in N and m, and counts the pulls that are complete: from rest
 * through a top back to rest. Pauses, noise, small reversals and slow drift of the load cell's zero
 * do not end a pull or begin one; a single reading that stands out is passed over (the middle one
 * of three in a row is taken). A draw that stops short and goes back is a movement, not a pull: it
 * is shorter than settings.travel_min_m, or much shorter than the longest of this capture.
 *
 * Not for: figures. Where draw and let-down begin and end in the record is found again, with all
 * readings at hand, by the curve room.
 */
#ifndef PULLCURVE_BENCH_LIVE_H
#define PULLCURVE_BENCH_LIVE_H

#include <stdbool.h>
#include <stddef.h>

enum live_state { LIVE_START, LIVE_REST, LIVE_DRAWING, LIVE_LET_DOWN };

struct live_settings {
    double travel_min_m; /* a movement shorter than this is no pull */
    double force_min_n;  /* force above rest that begins a draw, unless the noise asks for more */
    double rest_s;       /* how long it must rest before a pull counts as ended */
};

/* 0.15 m, 8 N, 0.5 s. */
struct live_settings live_defaults(void);

enum { LIVE_TOPS_MAX = 1000 };

/* For how long something holds. */
struct spell {
    bool on;
    double since_s;
};

struct live_point {
    double force_n, travel_m;
};

/* Fields are private, but state, rest_force_n, rest_travel_m and n_movements may be read. */
struct live {
    enum live_state state;
    double rest_force_n, rest_travel_m; /* where the bow rests, from the first reading on */
    size_t n_movements;                 /* all movements that ended, short ones included */
    struct live_settings settings;
    size_t n_before;             /* how many of before are set */
    struct live_point before[2]; /* the last two readings as they came, the newest first */
    bool has_last;
    double start_s, last_s, last_force_n;
    double noise_n; /* estimated standard deviation of the force's noise */
    double peak_n, top_m, turn_m, still_m;
    struct spell unloaded, still, slack;
    size_t n_tops;
    double tops_m[LIVE_TOPS_MAX]; /* travel of each movement that came back to rest */
};

void live_init(struct live *live, const struct live_settings *settings);

/* A reading: time of the bench (s, not falling), force (N), travel (m, rising with the draw). */
void live_reading(struct live *live, double time_s, double force_n, double travel_m);

/* Complete pulls so far: movements back at rest that reached at least 0.75 of the longest. */
size_t live_n_pulls(const struct live *live);

/* Is a movement under way? */
bool live_moving(const struct live *live);

/* "waiting", "at rest", "drawing", "letting down". */
const char *live_state_text(enum live_state state);

#endif
