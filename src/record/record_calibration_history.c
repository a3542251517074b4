#include "base/mem.h"
#include "record/record.h"
#include "record/record_private.h"

#include <stdlib.h>

/* Finds the key of the one before; "" where there is none. */
static enum status find_before(const struct record *record, const char *key,
                               char before[RECORD_KEY_MAX], struct err *err)
{
    sqlite3_stmt *statement;
    bool row = false;
    enum status status =
        record_prepare(record,
                       "SELECT older.key FROM calibration AS this JOIN calibration AS older"
                       " ON older.bench = this.bench AND older.quantity = this.quantity"
                       " WHERE this.key = ?1"
                       " AND (older.made_at, older.rowid) < (this.made_at, this.rowid)"
                       " ORDER BY older.made_at DESC, older.rowid DESC LIMIT 1",
                       &statement, err);
    before[0] = '\0';
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, key);
        status = record_step(record, statement, &row, err);
    }
    if (status == STATUS_OK && row)
        record_column_field(statement, 0, before, RECORD_KEY_MAX);
    sqlite3_finalize(statement);
    return status;
}

enum status record_calibration_before(struct record *record, const char *key,
                                      struct record_calibration *calibration, struct err *err)
{
    *calibration = (struct record_calibration){0};
    char before[RECORD_KEY_MAX];
    enum status status = find_before(record, key, before, err);
    if (status != STATUS_OK)
        return status;
    if (before[0] == '\0')
        return err_set(err, STATUS_NOT_CALIBRATED, "%s: there is no calibration before %s",
                       record->path, key);
    return record_calibration_get(record, before, calibration, err);
}

enum status record_calibration_in_force(struct record *record, const char *bench,
                                        char (**keys)[RECORD_KEY_MAX], size_t *n, struct err *err)
{
    *keys = NULL;
    *n = 0;
    sqlite3_stmt *statement;
    enum status status = record_prepare(
        record,
        "SELECT key FROM calibration AS this WHERE (?1 = '' OR bench = ?1) AND NOT EXISTS"
        " (SELECT 1 FROM calibration AS newer WHERE newer.bench = this.bench"
        "  AND newer.quantity = this.quantity"
        "  AND (newer.made_at, newer.rowid) > (this.made_at, this.rowid))"
        " ORDER BY bench, quantity",
        &statement, err);
    if (status == STATUS_OK)
        record_bind_text(statement, 1, bench);
    size_t capacity = 0;
    bool row = true;
    while (status == STATUS_OK) {
        status = record_step(record, statement, &row, err);
        if (status != STATUS_OK || !row)
            break;
        if (*n == capacity) {
            capacity = mem_grown(capacity, capacity + 1);
            *keys = mem_realloc(*keys, capacity, sizeof **keys);
        }
        record_column_field(statement, 0, (*keys)[(*n)++], RECORD_KEY_MAX);
    }
    sqlite3_finalize(statement);
    if (status != STATUS_OK) {
        free(*keys);
        *keys = NULL;
        *n = 0;
    }
    return status;
}
