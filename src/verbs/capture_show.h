/*
 * capture_show: what a capture tells the technician: progress and alarms on standard error while it
 * runs, the summary on standard output at its end.
 */
#ifndef PULLCURVE_VERBS_CAPTURE_SHOW_H
#define PULLCURVE_VERBS_CAPTURE_SHOW_H

#include "base/buf.h"
#include "base/status.h"
#include "bench/live.h"
#include "bench/stream.h"
#include "verbs/capture_run.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The line at the bottom of the screen. */
struct capture_show {
    bool terminal;      /* standard error is one: the line is written over, alarms ring its bell */
    bool on_line;       /* a progress line stands there without a line end */
    int64_t shown_us;   /* when it was last written */
    int64_t n_readings; /* then */
};

/* What the progress line says. */
struct capture_moment {
    int64_t now_us;
    double time_s;
    double force_n, draw_m;
    enum live_state state;
    size_t n_pulls, n_wanted;
    const struct bench_counts *counts;
};

void capture_show_init(struct capture_show *show);

/* Writes the progress line about once a second (a terminal: four times). */
void capture_show_progress(struct capture_show *show, const struct capture_moment *moment);

/* Writes a line of its own; any bytes are allowed in what is formatted. */
void capture_show_line(struct capture_show *show, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* The same, loud. */
void capture_show_alarm(struct capture_show *show, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Ends the progress line. */
void capture_show_end(struct capture_show *show);

/* The summary as text, and as a JSON object. */
void capture_summary_text(struct buf *out, const struct capture_plan *plan,
                          const struct capture_result *result);
void capture_summary_json(struct buf *out, const struct capture_plan *plan,
                          const struct capture_result *result);

#endif
