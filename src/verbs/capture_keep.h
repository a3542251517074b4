/*
 * capture_keep: brings the readings of a running capture into the record, and holds them where the
 * record does not take them, so that nothing measured is lost.
 *
 * Not for: reading the bench (capture_run), the record's own safety (record).
 */
#ifndef PULLCURVE_VERBS_CAPTURE_KEEP_H
#define PULLCURVE_VERBS_CAPTURE_KEEP_H

#include "base/buf.h"
#include "base/reading.h"
#include "base/status.h"
#include "record/record.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Fields are private, but n and failing may be read. Begin with keep_init, end with keep_clear. */
struct keep {
    struct record *record;
    const char *capture_key;
    struct raw_reading *readings; /* not in the record yet */
    size_t n, capacity;
    bool failing; /* the record did not take the last lot */
    int64_t tried_us;
};

enum keep_result {
    KEEP_QUIET,     /* nothing to say */
    KEEP_FAILED,    /* the record does not take readings; they are held. *err says why */
    KEEP_RECOVERED, /* it takes them again; all are in */
};

/* record and capture_key are borrowed until keep_clear. */
void keep_init(struct keep *keep, struct record *record, const char *capture_key);

/* Takes readings in. */
void keep_add(struct keep *keep, const struct raw_reading *readings, size_t n);

/* Writes what is held when it is time: readings are in the record at most a quarter of a second
 * after they came, or are tried again twice a second where it does not take them. now_us is on the
 * clock of arrival_us. */
enum keep_result keep_tick(struct keep *keep, int64_t now_us, struct err *err);

/* Writes what is held now. STATUS_OK where nothing is left. */
enum status keep_flush(struct keep *keep, struct err *err);

/* Where the record does not take the readings to the end: writes those that are held to a CSV file
 * beside the record (or, where that is not possible, in the working or the temporary folder) and
 * appends its path to *path. The columns are those of struct raw_reading (docs/bench.md).
 * Errors: STATUS_CANT_WRITE: none of the places takes it. */
enum status keep_spill(const struct keep *keep, const char *record_path, int64_t capture_number,
                       struct buf *path, struct err *err);

void keep_clear(struct keep *keep);

#endif
