/*
 * import_table: a table file becomes a capture of the record.
 *
 * Counts (raw_table) stay counts; draw position and force, which have no counts, are kept as
 * values.
 */
#ifndef PULLCURVE_VERBS_IMPORT_TABLE_H
#define PULLCURVE_VERBS_IMPORT_TABLE_H

#include "base/status.h"
#include "base/table.h"
#include "record/record.h"
#include "verbs/options.h"

#include <stdbool.h>
#include <stddef.h>

enum import_outcome {
    IMPORT_NEW,      /* a capture that was not there */
    IMPORT_SAME,     /* all of it is in the record already: nothing was added */
    IMPORT_CONTINUED /* the readings went on from an open capture, which they have completed */
};

/* What has become of the table. */
struct imported {
    enum import_outcome outcome;
    struct record_capture capture; /* as it is in the record */
    size_t n_readings;             /* of the table */
    size_t n_bad_rows;
    char **remarks; /* what the technician should know, one sentence each */
    size_t n_remarks;
};

/* Imports an open table, which is taken over. Options: SUBJECT_OPTIONS, bow, bench, note. Caller
 * ends *imported with imported_clear, also on failure. Errors: STATUS_BAD_INPUT, STATUS_USAGE,
 * STATUS_NO_INPUT (--bow), STATUS_CANT_WRITE; nothing is imported then. */
enum status import_table(struct imported *imported, struct record *record,
                         const struct options *options, struct table *table, struct err *err);

void imported_clear(struct imported *imported);

#endif
