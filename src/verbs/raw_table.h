/*
 * raw_table: readings as the bench gave them, as a table file and back.
 *
 * The columns are the fields of struct raw_reading (docs/bench.md); reading back what was written
 * gives the same readings.
 */
#ifndef PULLCURVE_VERBS_RAW_TABLE_H
#define PULLCURVE_VERBS_RAW_TABLE_H

#include "base/buf.h"
#include "base/reading.h"
#include "base/status.h"
#include "base/table.h"

#include <stdbool.h>
#include <stddef.h>

/* Adds the header and a row a reading. */
void raw_table_write(struct buf *out, const struct raw_reading *readings, size_t n);

/* Does the table hold counts and when they came? */
bool raw_table_is(const struct table *table);

/* What was read. */
struct raw_table {
    struct raw_reading *readings;
    size_t n;
    size_t n_bad; /* rows that were skipped */
};

/* Reads the readings of a table for which raw_table_is. Columns but arrival_us, force_count and
 * travel_count may be missing. Caller ends it with raw_table_clear, also on failure.
 * Errors: STATUS_BAD_INPUT with file, line, column and text, unless skip_bad_rows. */
enum status raw_table_read(struct raw_table *raw, const struct table *table, bool skip_bad_rows,
                           struct err *err);

void raw_table_clear(struct raw_table *raw);

#endif
