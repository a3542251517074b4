/*
 * simserve: runs the simulated bench on a pseudo terminal, in time, until it is told to stop.
 *
 * The controller reads all the time, whether somebody listens or not. When a reader opens the port
 * the hand begins: a rest, the pulls, then rest for as long as the reader stays. The next reader
 * begins a new round; one that comes back in the middle finds the pulls going on.
 */
#ifndef PULLCURVE_BENCH_SIMSERVE_H
#define PULLCURVE_BENCH_SIMSERVE_H

#include "base/status.h"
#include "bench/simbench.h"
#include "bench/simrig.h"

struct simserve_settings {
    const char *link;         /* NULL or where to put a symbolic link to the port */
    double speed_up;          /* > 0: so much faster than life */
    const volatile int *stop; /* ends when this is not zero */
    /* Told the path of the port when it is ready, again when it comes back after a hang-up. What it
     * returns other than STATUS_OK ends the run. */
    enum status (*announce)(const char *path, void *context, struct err *err);
    void *context;
};

/* Errors: those of simpty_open, simrig_at and announce. STATUS_OK when it was told to stop. */
enum status simserve_run(struct simrig *rig, struct simbench *bench,
                         const struct simserve_settings *settings, struct err *err);

#endif
