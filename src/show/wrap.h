/*
 * wrap: sentences broken into lines for a terminal.
 */
#ifndef PULLCURVE_SHOW_WRAP_H
#define PULLCURVE_SHOW_WRAP_H

#include "base/buf.h"

#include <stddef.h>

enum { WRAP_COLUMNS = 80 };

/* Adds the text and a line feed, broken at blanks into lines of at most WRAP_COLUMNS; its first
 * line stands behind `indent` columns that are there already, the others are indented by as much.
 */
void wrap_text(struct buf *out, const char *text, size_t indent);

#endif
