/*
 * controller: a bench controller on a pseudo-terminal, played by a process of its own. It sends
 * what a script says, no more: for what must happen at an exact reading. The simulated bench of the
 * program (verb simulate) is tested as itself.
 */
#ifndef PULLCURVE_TESTS_E2E_CONTROLLER_H
#define PULLCURVE_TESTS_E2E_CONTROLLER_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#define CONTROLLER_RATE_HZ 80.0
/* Counts of the force converter in a newton, of the encoder in a metre. */
#define CONTROLLER_FORCE_COUNTS_PER_N 1000.0
#define CONTROLLER_TRAVEL_COUNTS_PER_M 100000.0

struct controller_script {
    double speed;        /* times real time */
    int n_pulls;         /* of 9 s each, with rests before and behind */
    int hang_up_at;      /* closes the port before this line (0: never) ... */
    double back_after_s; /* ... and is back after this time, skipping lines (0: never) */
    int garble_every;    /* every n-th line has a flipped digit (0: none) */
    int leave_out_every; /* every n-th line is not sent (0: none) */
    int restart_at;      /* its number and clock begin anew before this line (0: never) */
    bool garbage;        /* sends bytes that are no lines, for ever */
    bool silent;         /* sends nothing, for ever */
};

struct controller {
    pid_t pid;
    char folder[32];
    char port[64];      /* the same name even when it comes back as another device */
    volatile int *sent; /* lines sent so far */
};

/* Starts it; it waits until its port is opened. Ends the test where that fails. */
void controller_start(struct controller *controller, const struct controller_script *script);

/* Ends it and takes its files away. */
void controller_end(struct controller *controller);

/* The force that the controller's bow has so far beyond brace: 230 N plateau, 60 N valley. */
double controller_bow_n(double beyond_m);

#endif
