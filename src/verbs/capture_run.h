/*
 * capture_run: the capture itself: readings from the bench into the record until the pulls that
 * were asked for are done, with progress and alarms on the way.
 *
 * Not for: options and calibrations (capture), how it is shown (capture_show).
 */
#ifndef PULLCURVE_VERBS_CAPTURE_RUN_H
#define PULLCURVE_VERBS_CAPTURE_RUN_H

#include "base/buf.h"
#include "base/status.h"
#include "bench/benchfile.h"
#include "curve/calibration.h"
#include "record/record.h"

#include <stdbool.h>
#include <stddef.h>

/* What is to be captured. All pointers are borrowed. */
struct capture_plan {
    const struct bench *bench;
    const char *port; /* instead of the bench's, or NULL */
    struct record *record;
    const char *record_path;
    const char *record_stated; /* as --record said it, or NULL */
    const struct calibration *force, *travel;
    struct record_capture head; /* what record_capture_begin needs: bow, bench, keys, brace */
    double travel_min_m;        /* a movement shorter than this is no pull; 0: the usual */
    size_t n_pulls;             /* 0: until the time is over or Ctrl-C */
    bool pulls_stated;          /* the number was asked for, so fewer is not as asked */
    double seconds;             /* at most; INFINITY where not limited */
};

enum capture_end {
    CAPTURE_END_PULLS,     /* all pulls are done */
    CAPTURE_END_TIME,      /* the time is over */
    CAPTURE_END_STOPPED,   /* Ctrl-C */
    CAPTURE_END_PORT_LOST, /* the port did not come back */
};

/* What came of it. */
struct capture_result {
    bool begun; /* the record has a capture; what follows is set */
    int64_t number;
    char key[RECORD_KEY_MAX];
    enum capture_end end;
    enum capture_state state;
    struct capture_counts counts;
    size_t n_pulls;
    size_t n_movements;    /* pulls, and movements that were none */
    int64_t n_restarts;    /* of the controller */
    int64_t n_reopened;    /* the port came back */
    int n_alarms;          /* of the guard */
    double seconds;        /* host's clock, from the first reading */
    size_t n_spilled;      /* readings that are in the spill file and not in the record */
    struct buf port;       /* its real path */
    const char *transport; /* how it was read: libserialport or tty */
    struct buf spill_path;
};

/* Runs it. SIGINT, SIGTERM and SIGHUP end it in good order. Progress and alarms go to standard
 * error. The result is set whatever is returned; caller ends it with capture_result_clear.
 * STATUS_OK: ended as asked. Errors: STATUS_NO_BENCH (no port, no readings), STATUS_INTERRUPTED
 * (ended before the pulls were done; what was measured is kept), STATUS_CANT_WRITE. */
enum status capture_run(const struct capture_plan *plan, struct capture_result *result,
                        struct err *err);

void capture_result_clear(struct capture_result *result);

#endif
