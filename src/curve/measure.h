/*
 * measure: from the readings of a capture to its pulls, curves and figures.
 *
 * This is the front of the curve room: sweep, smooth and figures are called from here in order.
 */
#ifndef PULLCURVE_CURVE_MEASURE_H
#define PULLCURVE_CURVE_MEASURE_H

#include "base/fixture.h"
#include "base/status.h"
#include "curve/convert.h"
#include "curve/figures.h"
#include "curve/lag.h"
#include "curve/uncertainty.h"
#include "curve/warning.h"

#include <stdbool.h>
#include <stddef.h>

enum full_draw_rule {
    FULL_DRAW_AUTO,    /* the valley where there is one, else the largest draw position */
    FULL_DRAW_VALLEY,  /* F1544-11: the centre of the valley */
    FULL_DRAW_WALL,    /* the wall onset */
    FULL_DRAW_STATED,  /* full_draw_m of the settings */
    FULL_DRAW_LARGEST, /* the largest draw position reached */
};

/* The rule's name in JSON and on the command line ("valley", "wall", "stated", "largest"). */
const char *full_draw_rule_name(enum full_draw_rule rule);

enum lag_rule {
    LAG_FIND, /* look for a lag between force and travel, and correct one that is clearly there */
    LAG_OFF,
};

/* "find", "off" */
const char *lag_rule_name(enum lag_rule rule);

struct measure_settings {
    enum full_draw_rule full_draw;
    double full_draw_m; /* true draw (from the pivot point), for FULL_DRAW_STATED */
    bool has_brace;     /* brace_m is given and overrides what the readings show */
    double brace_m;
    double valley_band_n;                  /* valley width: F <= holding + this; default 2 lbf */
    double plateau_share;                  /* plateau: F >= this share of the peak; default 0.95 */
    enum lag_rule lag;                     /* default LAG_FIND; without times nothing is done */
    struct fixture fixture;                /* corrections; all zero: none */
    struct uncertainty_inputs uncertainty; /* trials 0: none is worked out */
    bool want_budget;                      /* fill measurement.budget too */
    bool smooth; /* false: take the readings as they are (tables of a few points) */
};

/* The defaults above: auto, 2 lbf, 0.95, lag found, smooth; 2000 trials, seed 1, nothing known but
 * the readings. */
struct measure_settings measure_defaults(void);

/* One side of a pull, in rising draw position: force after smoothing, its standard uncertainty
 * from noise alone (0 where not known) and its slope. */
struct branch {
    size_t n;
    double *draw_m;
    double *force_n;
    double *force_sd_n;
    double *slope_n_per_m;
};

struct pull {
    size_t first, top, last; /* indices into the readings: begin, largest draw, end (inclusive) */
    struct branch draw;
    struct branch let_down; /* n is 0 where there is none */
    struct figures figures;
    enum full_draw_rule full_draw; /* the rule that was used; never AUTO */
};

struct measurement {
    size_t n_pulls;
    struct pull *pulls;
    struct figures figures; /* over all pulls: the mean of each figure where present */
    enum full_draw_rule full_draw;
    struct lag lag; /* as found; corrected where it is significant */
    double drift_n; /* largest change of the force at rest over a pull */
    bool has_budget;
    struct budget budget;
    struct warnings warnings;
};

/* Measures readings with these settings. Caller ends it with measurement_clear.
 * Errors: STATUS_TOO_FEW (fewer than three readings), STATUS_BAD_INPUT (no pull found: the force
 * never rises along the draw; values not finite). */
enum status measure_run(const struct readings *readings, const struct measure_settings *settings,
                        struct measurement *measurement, struct err *err);

void measurement_clear(struct measurement *measurement);

#endif
