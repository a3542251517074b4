/*
 * stream: bytes of a controller to raw readings, with everything counted that is not as it should
 * be. A line that is garbled, twice there or out of its place is never made a reading in silence.
 *
 * Sequence number (16 bit) and device clock (32 bit) are unwrapped. Where lines are missing, the
 * next reading carries RAW_AFTER_GAP. A line that does not follow on the one before is held for
 * suspect and not used; when the line after it follows on the suspect one, the controller has
 * started anew (or paused): its clock is then carried on by the host's clock, and the reading
 * carries RAW_AFTER_GAP. The first line after the start or a cut may be partial: it is no fault.
 *
 * Not for: reading from a port (bench/source.h), what the counts mean (curve).
 */
#ifndef PULLCURVE_BENCH_STREAM_H
#define PULLCURVE_BENCH_STREAM_H

#include "base/reading.h"
#include "bench/line.h"
#include "bench/wire.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What was counted since the start. */
struct bench_counts {
    int64_t n_readings;
    int64_t n_malformed;    /* lines that could not be read, garbage and overlong lines included */
    int64_t n_bad_checksum; /* lines whose checksum differed or was missing */
    int64_t n_lost;         /* lines missing by their numbers; garbled ones are among them */
    int64_t n_out_of_order; /* good lines whose number or time does not follow; not used */
    int64_t n_saturated;    /* readings of which a count is at the end of its converter's range */
};

/* Ends of a converter's range; a count at or beyond them is saturated. */
struct count_range {
    int32_t low, high;
};

struct stream_settings {
    struct count_range force, travel;
    double rate_hz; /* lines a second as the bench file states, 0 where it does not */
};

/* Fields are private, but counts, n_restarts and n_bytes may be read. */
struct stream {
    struct bench_counts counts;
    int64_t n_restarts; /* how often the controller began anew or jumped */
    int64_t n_bytes;    /* all bytes fed */
    struct stream_settings settings;
    struct line line;
    bool partial;   /* the next line may be partial */
    bool cut;       /* the next reading comes after a cut */
    bool has_last;  /* last is set */
    bool doubtful;  /* suspect is set */
    double step_us; /* device time from line to line, 0 while not known */
    struct wire_line last, suspect;
    struct raw_reading last_reading;
    int64_t n_long_seen;
};

void stream_init(struct stream *stream, const struct stream_settings *settings);

/* Consumes bytes[0..n), which came at arrival_us, until a reading is made or all are used. Returns
 * how many were consumed; *made says whether *reading was set. Call again with what is left until
 * all is consumed and *made is false. */
size_t stream_feed(struct stream *stream, const void *bytes, size_t n, int64_t arrival_us,
                   struct raw_reading *reading, bool *made);

/* The port was closed and opened again: the next line may be partial, the next reading comes after
 * a gap. */
void stream_cut(struct stream *stream);

#endif
