/*
 * line: assemble bytes from a serial stream into lines.
 *
 * The stream may start in the middle of a line, split lines anywhere and hold garbage. A line ends
 * at CR or LF (so CR LF gives an empty line more, which means nothing). A line longer than
 * LINE_LENGTH_MAX is dropped up to its end and counted. The caller feeds bytes; nothing is read
 * here. Not for: what a line means (bench/wire.h).
 */
#ifndef PULLCURVE_BENCH_LINE_H
#define PULLCURVE_BENCH_LINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { LINE_LENGTH_MAX = 128 };

/* Fields are private. Starts as all zero. */
struct line {
    char text[LINE_LENGTH_MAX + 1];
    size_t length;
    bool dropping;  /* the line was too long; skip to its end */
    bool ended;     /* text was handed out; the next byte begins a new line */
    int64_t n_long; /* lines dropped because they were too long */
};

/* Consumes bytes[0..n) until a line is complete or all are used; returns how many were consumed.
 * When a line is complete, *text is set to it, NUL-terminated at *length and without its CR or LF,
 * valid until the next call; otherwise *text is NULL. A line may hold NUL bytes. */
size_t line_feed(struct line *line, const void *bytes, size_t n, const char **text, size_t *length);

/* Lines dropped because they were too long, since the start. */
int64_t line_n_long(const struct line *line);

/* Forgets a line that is begun: the stream was cut. */
void line_cut(struct line *line);

#endif
