/*
 * table_private: what table.c (notes, header, separator) and table_read.c (rows) share.
 * Nobody else includes it.
 */
#ifndef PULLCURVE_BASE_TABLE_PRIVATE_H
#define PULLCURVE_BASE_TABLE_PRIVATE_H

#include "base/table.h"

struct table_note {
    char *key;
    char *value;
};

struct table {
    char *name;
    struct buf text;
    struct table_note *notes;
    size_t n_notes;
    bool has_header;
    char **column_names; /* "" without a header */
    size_t n_columns;
    char separator;
    size_t first_row; /* offset in text where the rows begin */
    size_t first_line;
};

/* A stretch of the file; not NUL-terminated. */
struct span {
    const char *at;
    const char *end;
};

/* The cell that starts at `at`: its text without outer blanks and quotes, and where it stops (at
 * the separator, the line feed or the end). closed is false where a quote is not closed or text
 * follows it; the text is then the whole cell as it stands. */
struct cell {
    struct span text;
    const char *stop;
    bool quoted, closed;
};

struct cell table_cell(const char *at, const char *end, char separator);

/* Adds the cell's text; a doubled quote of a quoted cell becomes one. */
void table_cell_text(struct buf *out, const struct cell *cell);

#endif
