/*
 * simfault: what can go wrong with the simulated bench, by name.
 */
#ifndef PULLCURVE_BENCH_SIMFAULT_H
#define PULLCURVE_BENCH_SIMFAULT_H

#include "base/status.h"

#include <stddef.h>

enum simfault_kind {
    SIMFAULT_GARBAGE,    /* random bytes between lines; first: chance before each line */
    SIMFAULT_GAPS,       /* lines are lost; first: chance of each line */
    SIMFAULT_FLIP,       /* one bit of a line is wrong; first: chance of each line */
    SIMFAULT_CHECKSUM,   /* a line's checksum is wrong; first: chance of each line */
    SIMFAULT_SATURATION, /* the load cell's converter is at its end; first: from this force, lbf */
    SIMFAULT_SILENCE,    /* no lines; first: from this draw in, in; second: for this many s */
    SIMFAULT_HANG_UP,    /* the port goes away; first: at this draw, in; second: back after s */
    SIMFAULT_COUNT
};

/* first and second as above; second is 0 where the fault does not end by itself. */
struct simfault {
    enum simfault_kind kind;
    double first, second;
};

/* Reads NAME, NAME:FIRST or NAME:FIRST,SECOND. Errors: STATUS_USAGE. */
enum status simfault_parse(const char *text, struct simfault *fault, struct err *err);

/* Name, and what it does with its arguments and defaults; constant strings. */
const char *simfault_name(enum simfault_kind kind);
const char *simfault_help(enum simfault_kind kind);

#endif
