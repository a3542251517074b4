/*
 * document: the whole record as one JSON document, and the merging of such a document into a
 * record.
 *
 * Nothing is lost on the way: a record that is made from the document gives the same document
 * again. What the fields mean: docs/record.md. Not for: single captures as tables (verbs/export).
 */
#ifndef PULLCURVE_RECORD_DOCUMENT_H
#define PULLCURVE_RECORD_DOCUMENT_H

#include "base/buf.h"
#include "base/status.h"
#include "record/record.h"

#include <stdbool.h>
#include <stddef.h>

/* Takes the document piece by piece, so that a large record needs little memory. */
struct document_sink {
    enum status (*write)(void *context, const struct buf *piece, struct err *err);
    void *context;
};

/* Writes the record as it stands at this moment, also while another program captures. Errors: what
 * the sink gives; STATUS_BAD_INPUT (the record is damaged). */
enum status document_write(struct record *record, const struct document_sink *sink,
                           struct err *err);

/* The same of one capture, with the bow and the calibrations that it refers to. */
enum status document_write_capture(struct record *record, const char *capture_key,
                                   const struct document_sink *sink, struct err *err);

/* What a merge did with the entries of one kind. */
struct merge_count {
    size_t n_added;
    size_t n_extended; /* were here, and got newer statements or readings */
    size_t n_same;
    size_t n_conflicts;
};

/* An entry whose key is here with other content; it is left as it is. */
struct merge_conflict {
    const char *kind; /* "bow", "calibration", "capture" */
    char key[RECORD_KEY_MAX];
    char *text; /* what differs */
};

struct merge_report {
    struct merge_count bows, calibrations, captures;
    struct merge_conflict *conflicts;
    size_t n_conflicts;
};

/* Merges a document by the keys of its entries, in one transaction: what is not here is added, what
 * is here already stays. A capture keeps its number where that is free, else it gets the next one.
 * A capture that is open here and has gone on in the document is completed from it. name is what
 * messages call the text. Caller ends the report with merge_report_clear, also on failure.
 * Errors, with nothing changed: STATUS_BAD_INPUT (no such document, made by a newer version, an
 * entry that is not whole, with its line), STATUS_CANT_WRITE. */
enum status document_merge(struct record *record, const char *name, const struct buf *text,
                           struct merge_report *report, struct err *err);

void merge_report_clear(struct merge_report *report);

#endif
