/*
 * source: readings from a bench: the port is opened, read and decoded here, and found again when
 * it went away. What both capture and calibrate stand on.
 *
 * Not for: keeping readings (record), what they mean (curve).
 */
#ifndef PULLCURVE_BENCH_SOURCE_H
#define PULLCURVE_BENCH_SOURCE_H

#include "base/reading.h"
#include "base/status.h"
#include "bench/benchfile.h"
#include "bench/stream.h"

#include <stddef.h>
#include <stdint.h>

struct source;

enum source_event {
    SOURCE_READINGS, /* some came */
    SOURCE_QUIET,    /* none within the time (bytes that are no reading may have come) */
    SOURCE_GONE,     /* the port went away; source_reopen may bring it back */
};

/* Opens the bench's port, or `port` where it is not NULL. arrival_us of the readings counts from
 * here. *bench is borrowed until source_close. Errors: as port_open; STATUS_USAGE where neither
 * names a port. */
enum status source_open(struct source **source, const struct bench *bench, const char *port,
                        struct err *err);

/* Closes; NULL is allowed. */
void source_close(struct source *source);

/* Waits up to timeout_ms, returns at the first bytes that hold a reading, and sets *readings
 * (borrowed until the next call) and *n. A signal ends the wait early with SOURCE_QUIET. */
enum source_event source_read(struct source *source, int timeout_ms,
                              const struct raw_reading **readings, size_t *n);

/* Reads until the first readings are there, for the bench's start_wait_s at most, or until *stop is
 * not 0 (stop may be NULL). Errors: STATUS_NO_BENCH: silence, nothing but garbage (speed and
 * framing are the likely cause), or the port went away; STATUS_INTERRUPTED. */
enum status source_wait(struct source *source, const volatile int *stop,
                        const struct raw_reading **readings, size_t *n, struct err *err);

/* Tries once to open the port again, a USB adapter under its new name too. Counts and clocks go on.
 * Errors: as port_open. */
enum status source_reopen(struct source *source, struct err *err);

/* The stream's counts and restarts; borrowed. */
const struct stream *source_stream(const struct source *source);

/* Microseconds since source_open, host's monotonic clock. */
int64_t source_now_us(const struct source *source);

/* The real path of the port that is or was open; borrowed until the next reopen or close. */
const char *source_path(const struct source *source);

/* The name of the port's transport (port_transport_name); a constant string. */
const char *source_transport(const struct source *source);

#endif
