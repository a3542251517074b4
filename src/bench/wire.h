/*
 * wire: pullcurve's own one-line controller format, pure text to numbers and back.
 *
 * A controller sends one line a reading (docs/wire-format.md):
 *
 *     $PCRD,<sequence>,<device_us>,<force_count>,<travel_count>*HH\r\n
 *
 *   sequence      0..65535, one more with each line, wraps to 0
 *   device_us     0..4294967295, the controller's microsecond clock, wraps to 0
 *   force_count   signed whole number, -2147483648..2147483647
 *   travel_count  the same
 *   HH            checksum: XOR of all bytes between '$' and '*', two hex digits (as NMEA 0183)
 *
 * Lines that begin with '#' are remarks from the controller (its name, its version) and carry no
 * reading. Not for: assembling lines from bytes (bench/line.h), unwrapping and losses
 * (bench/stream.h).
 */
#ifndef PULLCURVE_BENCH_WIRE_H
#define PULLCURVE_BENCH_WIRE_H

#include <stddef.h>
#include <stdint.h>

enum wire_result {
    WIRE_READING,      /* a good line; *line is set */
    WIRE_REMARK,       /* a remark or an empty line: nothing to read, nothing wrong */
    WIRE_NOT_OURS,     /* does not look like this format at all */
    WIRE_MALFORMED,    /* begins like it, but a field is missing or is no number in range */
    WIRE_BAD_CHECKSUM, /* well formed, but the checksum differs or is missing */
};

struct wire_line {
    uint16_t sequence;
    uint32_t device_us;
    int32_t force_count;
    int32_t travel_count;
};

enum { WIRE_LINE_MAX = 96 };

/* Reads one line of text[0..length), without its CR and LF. *line is written for WIRE_READING
 * only. Any bytes are allowed in text. */
enum wire_result wire_decode(const char *text, size_t length, struct wire_line *line);

/* Writes the line with CR LF and a NUL behind; returns its length without the NUL. */
size_t wire_encode(const struct wire_line *line, char text[WIRE_LINE_MAX]);

/* What a result means, for a report; a constant string. */
const char *wire_result_text(enum wire_result result);

#endif
