/*
 * benchfile: what the shop says about a bench, read from an INI file (docs/bench.md).
 *
 * Not for: calibrations, which are measured and kept in the record under the bench's name.
 */
#ifndef PULLCURVE_BENCH_BENCHFILE_H
#define PULLCURVE_BENCH_BENCHFILE_H

#include "base/fixture.h"
#include "base/status.h"
#include "bench/guard.h"
#include "bench/port.h"
#include "bench/stream.h"

/* Where draw position zero comes from. */
enum bench_datum {
    BENCH_DATUM_BRACE, /* the encoder's zero is anywhere: the rest position is the brace height */
    BENCH_DATUM_PIVOT, /* the travel calibration counts from the grip pivot point */
};

struct bench {
    char *name; /* as calibrations and captures call it */
    char *port; /* path; "" where only --port says it */
    struct port_settings line;
    struct stream_settings stream; /* converter ranges and rate */
    enum bench_datum datum;
    struct guard_limits guard;
    struct fixture fixture;
    double start_wait_s; /* patience for the first reading */
    double reopen_s;     /* patience for a port that went away */
};

/* Reads a bench file. Errors: STATUS_NO_INPUT, STATUS_BAD_INPUT with file:line. Caller ends it with
 * bench_clear; on failure *bench is empty. */
enum status benchfile_read(struct bench *bench, const char *path, struct err *err);

void bench_clear(struct bench *bench);

#endif
