/*
 * table: CSV files in, whole columns out.
 *
 * Reads what instruments and spreadsheets write: notes, a header, comma, semicolon or tab between
 * the cells, a decimal point or comma. Separator and decimal mark are found from the file itself
 * and never guessed: what could be read in two ways is refused. Not for: what the columns mean and
 * their units (verbs/source.h), writing tables.
 *
 *     # key: value        notes, any number, before everything else
 *     draw_in,force_lbf   the header; where the first row holds only numbers there is none
 *     7.1,0.4             rows; blank lines and lines of separators alone are passed over
 *
 * UTF-8 with or without BOM, LF or CRLF, a separator at the end of a row and cells in double quotes
 * (within one line, a quote inside doubled) are accepted. A decimal comma needs a semicolon or a
 * tab between the cells. Thousands are never grouped.
 */
#ifndef PULLCURVE_BASE_TABLE_H
#define PULLCURVE_BASE_TABLE_H

#include "base/buf.h"
#include "base/status.h"

#include <stdbool.h>
#include <stddef.h>

struct table; /* an open table file, its notes and its header */

/* Reads a file ("-" is standard input). Caller ends it with table_close. *table is NULL on failure.
 * Errors: STATUS_NO_INPUT; STATUS_BAD_INPUT (not text, no row at all). */
enum status table_open(struct table **table, const char *path, struct err *err);

/* The same for text that is in memory; takes *text over, also on failure. name is what messages
 * call it. */
enum status table_open_text(struct table **table, const char *name, struct buf *text,
                            struct err *err);

/* Releases it; NULL is allowed. */
void table_close(struct table *table);

/* The file's name as it was given; borrowed. */
const char *table_name(const struct table *table);

/* The value of a note (the last of that key, whatever the case of the key), or NULL; borrowed. */
const char *table_note(const struct table *table, const char *key);

/* Notes in the order of the file; i < table_n_notes. Borrowed. */
size_t table_n_notes(const struct table *table);
void table_note_at(const struct table *table, size_t i, const char **key, const char **value);

/* False where the first row holds only numbers: then columns have numbers and no names. */
bool table_has_header(const struct table *table);

size_t table_n_columns(const struct table *table);

/* The header's name of a column, "" without a header; column < table_n_columns. Borrowed. */
const char *table_column_name(const struct table *table, size_t column);

/* Finds the first column with this name, whatever its case; false where there is none. */
bool table_find(const struct table *table, const char *name, size_t *column);

/* Finds a column that must be there, by name or by its number ("1" is the first).
 * Errors: STATUS_BAD_INPUT (no such column, the name stands twice, a name where there is no
 * header); the message lists the columns that there are. */
enum status table_column(const struct table *table, const char *name, size_t *column,
                         struct err *err);

enum table_kind { TABLE_NUMBER, TABLE_TEXT };

/* One wanted column. The caller sets the first three; table_read the others. */
struct table_column {
    size_t column; /* 0 is the file's first; each at most once in a table_read */
    enum table_kind kind;
    bool may_be_empty; /* an empty cell is NAN instead of a fault (TABLE_NUMBER) */
    double *number;    /* n_rows values, finite but for empty cells; NULL for TABLE_TEXT */
    const char **text; /* n_rows NUL-terminated texts without quotes and outer blanks */
    char *text_bytes;  /* where text points to */
};

enum table_flag {
    TABLE_SKIP_BAD_ROWS = 1, /* leave rows with a bad cell out and count them */
    TABLE_KEEP_LINES = 2,    /* fill rows->line */
};

/* What the message of a bad row ends with, where it is not skipped. */
#define TABLE_SKIP_HINT "; correct it, or let bad rows be skipped"

struct table_rows {
    size_t n;             /* rows that were read */
    size_t *line;         /* the line of the file of each row (1 is the first), or NULL */
    size_t n_bad;         /* rows that were skipped */
    struct err first_bad; /* the message of the first skipped row, where n_bad > 0 */
};

/* Reads the wanted columns of all rows. A cell that is no number is an error with file, line,
 * column and the text found. flags: enum table_flag, or-ed. Caller ends it with table_rows_clear,
 * also on failure (columns and rows are then empty). Errors: STATUS_BAD_INPUT. Cost: one pass over
 * the file; two more where the decimal mark is a comma. */
enum status table_read(const struct table *table, struct table_column *columns, size_t n_columns,
                       unsigned flags, struct table_rows *rows, struct err *err);

void table_rows_clear(struct table_rows *rows, struct table_column *columns, size_t n_columns);

#endif
