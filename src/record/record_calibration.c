#include "base/mem.h"
#include "record/record.h"
#include "record/record_private.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What read_one reads, in its order. */
#define SELECT_CALIBRATION \
    "SELECT key, made_at, bench, quantity, n_terms, references_independent, note FROM calibration"

static const char *quantity_text(enum quantity quantity)
{
    assert(quantity == QUANTITY_FORCE || quantity == QUANTITY_LENGTH);
    return quantity == QUANTITY_FORCE ? "force" : "length";
}

static enum status check_calibration(const struct record_calibration *calibration, struct err *err)
{
    if (calibration->bench == NULL || calibration->bench[0] == '\0')
        return err_set(err, STATUS_BAD_INPUT, "a calibration needs the name of its bench");
    if (calibration->n_points == 0)
        return err_set(err, STATUS_BAD_INPUT, "a calibration needs points");
    for (size_t i = 0; i < calibration->n_points; i++) {
        const struct calibration_point *point = &calibration->points[i];
        if (!isfinite(point->reference_si) || !isfinite(point->u_reference_si) ||
            !isfinite(point->count) || !isfinite(point->u_count))
            return err_set(err, STATUS_BAD_INPUT,
                           "point %zu of the calibration is not a finite number", i + 1);
    }
    return STATUS_OK;
}

static enum status insert_point(const struct record *record, sqlite3_stmt *statement,
                                const char *key, size_t number,
                                const struct calibration_point *point, struct err *err)
{
    record_bind_text(statement, 1, key);
    record_bind_int(statement, 2, (int64_t)number);
    record_bind_double(statement, 3, point->reference_si);
    record_bind_double(statement, 4, point->u_reference_si);
    record_bind_double(statement, 5, point->count);
    record_bind_double(statement, 6, point->u_count);
    record_bind_int(statement, 7, point->run);
    record_bind_int(statement, 8, point->decreasing);
    enum status status = record_run(record, statement, err);
    (void)sqlite3_reset(statement); /* its fault is the one that record_run has told */
    return status;
}

static enum status insert_points(const struct record *record,
                                 const struct record_calibration *calibration, struct err *err)
{
    sqlite3_stmt *statement;
    enum status status = record_prepare(
        record, "INSERT INTO calibration_point VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)", &statement,
        err);
    for (size_t i = 0; status == STATUS_OK && i < calibration->n_points; i++)
        status =
            insert_point(record, statement, calibration->key, i + 1, &calibration->points[i], err);
    sqlite3_finalize(statement);
    return status;
}

enum status record_calibration_insert(const struct record *record,
                                      const struct record_calibration *calibration, struct err *err)
{
    enum status status = check_calibration(calibration, err);
    if (status != STATUS_OK)
        return status;
    sqlite3_stmt *statement;
    status = record_prepare(record,
                            "INSERT INTO calibration (key, made_at, bench, quantity, n_terms, "
                            "references_independent, note)"
                            " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                            &statement, err);
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, calibration->key);
        record_bind_text(statement, 2, calibration->made_at);
        record_bind_text(statement, 3, calibration->bench);
        record_bind_text(statement, 4, quantity_text(calibration->quantity));
        record_bind_int(statement, 5, (int64_t)calibration->n_terms);
        record_bind_int(statement, 6, calibration->references_independent);
        record_bind_text(statement, 7, calibration->note);
        status = record_run(record, statement, err);
    }
    sqlite3_finalize(statement);
    if (status == STATUS_OK)
        status = insert_points(record, calibration, err);
    return status;
}

/* Now, but not before the newest one of this bench and quantity. */
static enum status date_new(const struct record *record, struct record_calibration *calibration,
                            struct err *err)
{
    sqlite3_stmt *statement;
    enum status status =
        record_prepare(record,
                       "SELECT max(?3, coalesce(max(made_at), '')) FROM calibration"
                       " WHERE bench = ?1 AND quantity = ?2",
                       &statement, err);
    bool row = false;
    char now[RECORD_TIME_MAX];
    record_now(now);
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, calibration->bench);
        record_bind_text(statement, 2, quantity_text(calibration->quantity));
        record_bind_text(statement, 3, now);
        status = record_step(record, statement, &row, err);
    }
    if (status == STATUS_OK)
        record_column_field(statement, 0, calibration->made_at, sizeof calibration->made_at);
    sqlite3_finalize(statement);
    return status;
}

enum status record_calibration_add(struct record *record, struct record_calibration *calibration,
                                   struct err *err)
{
    assert(calibration->n_terms == 2 || calibration->n_terms == 3);
    enum status status = STATUS_OK;
    if (calibration->key[0] == '\0')
        status = record_key_new(calibration->key, err);
    if (status == STATUS_OK)
        status = record_transaction_begin(record, err);
    if (status != STATUS_OK)
        return status;
    if (calibration->made_at[0] == '\0')
        status = date_new(record, calibration, err);
    if (status == STATUS_OK)
        status = record_calibration_insert(record, calibration, err);
    return record_transaction_end(record, status, err);
}

static enum status read_points(const struct record *record, struct record_calibration *calibration,
                               struct err *err)
{
    sqlite3_stmt *statement;
    enum status status =
        record_prepare(record,
                       "SELECT reference_si, u_reference_si, count, u_count, run, decreasing"
                       " FROM calibration_point WHERE calibration_key = ?1 ORDER BY number",
                       &statement, err);
    if (status == STATUS_OK)
        record_bind_text(statement, 1, calibration->key);
    size_t capacity = 0;
    bool row = true;
    while (status == STATUS_OK) {
        status = record_step(record, statement, &row, err);
        if (status != STATUS_OK || !row)
            break;
        if (calibration->n_points == capacity) {
            capacity = mem_grown(capacity, capacity + 1);
            calibration->points =
                mem_realloc(calibration->points, capacity, sizeof *calibration->points);
        }
        calibration->points[calibration->n_points++] = (struct calibration_point){
            .reference_si = sqlite3_column_double(statement, 0),
            .u_reference_si = sqlite3_column_double(statement, 1),
            .count = sqlite3_column_double(statement, 2),
            .u_count = sqlite3_column_double(statement, 3),
            .run = sqlite3_column_int(statement, 4),
            .decreasing = sqlite3_column_int(statement, 5) != 0,
        };
    }
    sqlite3_finalize(statement);
    return status;
}

/* The first row of a bound statement; *found is false where there is none. */
static enum status read_one(const struct record *record, sqlite3_stmt *statement,
                            struct record_calibration *calibration, bool *found, struct err *err)
{
    *calibration = (struct record_calibration){0};
    enum status status = record_step(record, statement, found, err);
    if (status == STATUS_OK && *found) {
        record_column_field(statement, 0, calibration->key, sizeof calibration->key);
        record_column_field(statement, 1, calibration->made_at, sizeof calibration->made_at);
        calibration->bench = record_column_text(statement, 2);
        char quantity[16];
        record_column_field(statement, 3, quantity, sizeof quantity);
        calibration->quantity = strcmp(quantity, "force") == 0 ? QUANTITY_FORCE : QUANTITY_LENGTH;
        calibration->n_terms = (size_t)sqlite3_column_int64(statement, 4);
        calibration->references_independent = sqlite3_column_int(statement, 5) != 0;
        calibration->note = record_column_text(statement, 6);
        status = read_points(record, calibration, err);
    }
    if (status != STATUS_OK)
        record_calibration_clear(calibration);
    return status;
}

enum status record_calibration_newest(struct record *record, const char *bench,
                                      enum quantity quantity,
                                      struct record_calibration *calibration, struct err *err)
{
    *calibration = (struct record_calibration){0};
    sqlite3_stmt *statement;
    bool found = false;
    enum status status =
        record_prepare(record,
                       SELECT_CALIBRATION " WHERE bench = ?1 AND quantity = ?2"
                                          " ORDER BY made_at DESC, rowid DESC LIMIT 1",
                       &statement, err);
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, bench);
        record_bind_text(statement, 2, quantity_text(quantity));
        status = read_one(record, statement, calibration, &found, err);
    }
    sqlite3_finalize(statement);
    if (status == STATUS_OK && !found)
        return err_set(err, STATUS_NOT_CALIBRATED,
                       "%s: the record has no %s calibration of the bench '%s'; make one with "
                       "`pullcurve calibrate`",
                       record->path, quantity == QUANTITY_FORCE ? "force" : "travel", bench);
    return status;
}

enum status record_calibration_get(struct record *record, const char *key,
                                   struct record_calibration *calibration, struct err *err)
{
    *calibration = (struct record_calibration){0};
    sqlite3_stmt *statement;
    bool found = false;
    enum status status =
        record_prepare(record, SELECT_CALIBRATION " WHERE key = ?1", &statement, err);
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, key);
        status = read_one(record, statement, calibration, &found, err);
    }
    sqlite3_finalize(statement);
    if (status == STATUS_OK && !found)
        return err_set(err, STATUS_NO_INPUT, "%s: no calibration has the key '%s'", record->path,
                       key);
    return status;
}

void record_calibration_clear(struct record_calibration *calibration)
{
    free(calibration->bench);
    free(calibration->note);
    free(calibration->points);
    *calibration = (struct record_calibration){0};
}
