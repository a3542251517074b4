/*
 * columns: a table for the terminal, as wide as its cells need.
 */
#ifndef PULLCURVE_VERBS_COLUMNS_H
#define PULLCURVE_VERBS_COLUMNS_H

#include "base/buf.h"

#include <stdbool.h>
#include <stddef.h>

enum { COLUMNS_MAX = 16, COLUMNS_CELL_MAX = 32 };

struct column_head {
    const char *name;
    bool right; /* numbers stand at the right edge */
};

/* Fields are private. Begin with columns_init, end with columns_clear. */
struct columns {
    const struct column_head *heads;
    size_t n_heads, n_cells, capacity;
    size_t width[COLUMNS_MAX];
    struct buf *cells; /* row by row */
};

/* n heads (1..COLUMNS_MAX), borrowed until columns_clear. */
void columns_init(struct columns *columns, const struct column_head *heads, size_t n);

/* The next cell, row by row. Any text: it is made safe for a terminal here, and all but the last
 * column are cut behind COLUMNS_CELL_MAX characters. */
void columns_cell(struct columns *columns, const char *text);

/* Adds the heads and the rows. */
void columns_render(const struct columns *columns, struct buf *out);

void columns_clear(struct columns *columns);

#endif
