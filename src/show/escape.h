/*
 * escape: the one way by which text that a person, a file or a device made reaches an output.
 *
 * One function a format. Each takes any bytes, makes valid output of it and shows what can't be
 * shown as U+FFFD; none lets its text act on the reader (no command, no mark-up, no control).
 */
#ifndef PULLCURVE_SHOW_ESCAPE_H
#define PULLCURVE_SHOW_ESCAPE_H

#include "base/buf.h"

/* Terminal and log: control characters, invalid bytes and bidirectional overrides become U+FFFD;
 * tab and newline become a space. */
void escape_terminal(struct buf *out, const char *text);

/* A gnuplot string expression, double-quoted, every byte but a-z A-Z and space as a 3-digit octal
 * escape. Use only where `noenhanced` holds. */
void escape_gnuplot(struct buf *out, const char *text);

/* HTML and XML text and quoted attribute values: & < > " ' as entities. */
void escape_html(struct buf *out, const char *text);

/* One CSV cell, quoted where needed; a cell that begins with = + - @ tab or CR gets a leading
 * apostrophe so that no spreadsheet runs it. */
void escape_csv(struct buf *out, const char *text);

#endif
