/*
 * calibrate_live: takes calibration points on the bench itself, load by load, with the person who
 * puts the loads on. Part of the verb calibrate.
 *
 * Says which load to put on, waits until the count has moved and come to rest, averages, shows mean
 * and spread, and asks: Enter keeps the point, r repeats it, q stops. Questions go to standard
 * error and answers come from standard input; where that is no terminal it is read at the questions
 * only, and its end counts as Enter.
 */
#ifndef PULLCURVE_VERBS_CALIBRATE_LIVE_H
#define PULLCURVE_VERBS_CALIBRATE_LIVE_H

#include "base/calibration_point.h"
#include "base/status.h"
#include "bench/benchfile.h"
#include "verbs/calibrate_reference.h"
#include "verbs/options.h"

#include <stdbool.h>
#include <stddef.h>

struct calibrate_live {
    struct calibration_point *points;
    size_t n;
    bool masses;   /* the references are masses */
    bool complete; /* all loads were taken, or the person agreed to keep those that were */
};

/* Reads --port, --loads, --runs, --average. Errors: STATUS_USAGE, STATUS_NO_BENCH (the port, or no
 * reading), STATUS_INTERRUPTED (Ctrl-C, or stopped and not agreed to; the points are there all the
 * same). Caller ends it with calibrate_live_clear, also on failure. */
enum status calibrate_live_run(struct calibrate_live *live, const struct options *options,
                               const struct bench *bench, enum quantity quantity,
                               const struct reference_settings *settings, struct err *err);

void calibrate_live_clear(struct calibrate_live *live);

#endif
