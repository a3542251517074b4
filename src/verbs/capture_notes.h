/*
 * capture_notes: what the record knows of a capture, as notes at the top of a table file and back.
 */
#ifndef PULLCURVE_VERBS_CAPTURE_NOTES_H
#define PULLCURVE_VERBS_CAPTURE_NOTES_H

#include "base/buf.h"
#include "base/status.h"
#include "base/table.h"
#include "record/record.h"

/* Adds a line "# key: value" for each thing that is known. what says what stands below them. */
void capture_notes_write(struct buf *out, const struct record_capture *capture, const char *what);

/* Sets what the notes of a table say in a capture that is empty; its texts are allocated (end it
 * with record_capture_clear, also on failure). number is not taken: it is another record's. Of a
 * table without the note `pullcurve` only bow, bench and note are taken: elsewhere the other keys
 * may mean something else.
 * Errors: STATUS_BAD_INPUT (a key, a time or a number that is none). */
enum status capture_notes_read(const struct table *table, struct record_capture *capture,
                               struct err *err);

#endif
