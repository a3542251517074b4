#include "record/record.h"
#include "record/record_private.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A whole capture that is added at once is cut into chunks of this many, 160 kB each. */
enum { CHUNK_READINGS_MAX = 5000 };

static const char *content_text(enum capture_content content)
{
    return content == CAPTURE_RAW ? "raw" : "values";
}

enum status record_capture_insert(const struct record *record, struct record_capture *capture,
                                  struct err *err)
{
    sqlite3_stmt *statement;
    enum status status = record_prepare(
        record, "INSERT INTO capture VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
        &statement, err);
    char *fixture = record_fixture_text(&capture->fixture);
    if (status == STATUS_OK) {
        if (capture->number > 0)
            record_bind_int(statement, 1, capture->number);
        record_bind_text(statement, 2, capture->key);
        record_bind_text(statement, 3, capture->started_at);
        record_bind_key(statement, 4, capture->bow_key);
        record_bind_text(statement, 5, capture->bench);
        record_bind_text(statement, 6, capture->note);
        record_bind_text(statement, 7, capture->program);
        record_bind_key(statement, 8, capture->force_calibration_key);
        record_bind_key(statement, 9, capture->travel_calibration_key);
        record_bind_double(statement, 10, capture->has_brace ? capture->brace_m : (double)NAN);
        record_bind_text(statement, 11, content_text(capture->content));
        record_bind_text(statement, 12, fixture);
        status = record_run(record, statement, err);
    }
    sqlite3_finalize(statement);
    free(fixture);
    if (status == STATUS_OK)
        capture->number = sqlite3_last_insert_rowid(record->db);
    return status;
}

enum status record_capture_begin(struct record *record, struct record_capture *capture,
                                 struct err *err)
{
    enum status status = record_key_new(capture->key, err);
    if (status != STATUS_OK)
        return status;
    record_now(capture->started_at);
    capture->ended_at[0] = '\0';
    capture->number = 0;
    capture->state = CAPTURE_OPEN;
    return record_capture_insert(record, capture, err);
}

/* One statement, so one transaction: it finds its place behind the last chunk by itself. */
static const char append_sql[] =
    "INSERT INTO chunk"
    " SELECT c.key, coalesce(last.number, 0) + 1,"
    "  coalesce(last.first_reading + last.n_readings, 0), ?2, ?3, ?4, ?5"
    " FROM capture c LEFT JOIN"
    "  (SELECT number, first_reading, n_readings FROM chunk"
    "   WHERE capture_key = ?1 ORDER BY number DESC LIMIT 1) last"
    " WHERE c.key = ?1 AND c.content = ?6";

static enum status append_packed(struct record *record, const char *capture_key,
                                 enum capture_content content, const struct buf *packed, size_t n,
                                 struct err *err)
{
    if (record->append == NULL) {
        enum status status = record_prepare(record, append_sql, &record->append, err);
        if (status != STATUS_OK)
            return status;
    }
    record_bind_text(record->append, 1, capture_key);
    record_bind_int(record->append, 2, (int64_t)n);
    record_bind_int(record->append, 3, content == CAPTURE_RAW ? CHUNK_RAW : CHUNK_VALUES);
    record_bind_int(record->append, 4, chunk_crc32(packed->text, packed->length));
    record_bind_blob(record->append, 5, packed->text, packed->length);
    record_bind_text(record->append, 6, content_text(content));
    enum status status = record_run(record, record->append, err);
    if (status == STATUS_OK && sqlite3_changes(record->db) != 1)
        status = err_set(err, STATUS_NO_INPUT, "%s: no capture of %s readings has the key '%s'",
                         record->path, content_text(content), capture_key);
    (void)sqlite3_reset(record->append); /* its fault is the one that record_run has told */
    (void)sqlite3_clear_bindings(record->append);
    return status;
}

enum status record_capture_append(struct record *record, const char *capture_key,
                                  const struct raw_reading *readings, size_t n, struct err *err)
{
    assert(n > 0);
    struct buf packed = {0};
    chunk_pack_readings(&packed, readings, n);
    enum status status = append_packed(record, capture_key, CAPTURE_RAW, &packed, n, err);
    buf_clear(&packed);
    return status;
}

static enum status check_values(const struct record_value *values, size_t n, struct err *err)
{
    for (size_t i = 0; i < n; i++)
        if (!isfinite(values[i].draw_m) || !isfinite(values[i].force_n) || isinf(values[i].time_s))
            return err_set(err, STATUS_BAD_INPUT, "value %zu is not a finite number", i + 1);
    return STATUS_OK;
}

enum status record_capture_append_values(struct record *record, const char *capture_key,
                                         const struct record_value *values, size_t n,
                                         struct err *err)
{
    assert(n > 0);
    enum status status = check_values(values, n, err);
    if (status != STATUS_OK)
        return status;
    struct buf packed = {0};
    chunk_pack_values(&packed, values, n);
    status = append_packed(record, capture_key, CAPTURE_VALUES, &packed, n, err);
    buf_clear(&packed);
    return status;
}

enum status record_capture_end_insert(const struct record *record,
                                      const struct record_capture *capture, struct err *err)
{
    assert(capture->state != CAPTURE_OPEN);
    sqlite3_stmt *statement;
    enum status status = record_prepare(
        record, "INSERT INTO capture_end VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)", &statement,
        err);
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, capture->key);
        record_bind_text(statement, 2, capture->ended_at);
        record_bind_text(statement, 3,
                         capture->state == CAPTURE_COMPLETE ? "complete" : "incomplete");
        record_bind_int(statement, 4, capture->counts.n_readings);
        record_bind_int(statement, 5, capture->counts.n_malformed);
        record_bind_int(statement, 6, capture->counts.n_bad_checksum);
        record_bind_int(statement, 7, capture->counts.n_lost);
        record_bind_int(statement, 8, capture->counts.n_out_of_order);
        record_bind_int(statement, 9, capture->counts.n_saturated);
        status = record_run(record, statement, err);
    }
    sqlite3_finalize(statement);
    return status;
}

enum status record_capture_end(struct record *record, const char *capture_key,
                               enum capture_state state, const struct capture_counts *counts,
                               struct err *err)
{
    struct record_capture capture = {.state = state, .counts = *counts};
    (void)snprintf(capture.key, sizeof capture.key, "%s", capture_key);
    record_now(capture.ended_at);
    return record_capture_end_insert(record, &capture, err);
}

static enum status append_all(struct record *record, const struct record_capture *capture,
                              const struct raw_reading *readings, const struct record_value *values,
                              size_t n, struct err *err)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < n; i += CHUNK_READINGS_MAX) {
        size_t here = n - i < CHUNK_READINGS_MAX ? n - i : CHUNK_READINGS_MAX;
        if (capture->content == CAPTURE_RAW)
            status = record_capture_append(record, capture->key, readings + i, here, err);
        else
            status = record_capture_append_values(record, capture->key, values + i, here, err);
    }
    return status;
}

enum status record_capture_add(struct record *record, struct record_capture *capture,
                               const struct raw_reading *readings,
                               const struct record_value *values, size_t n, struct err *err)
{
    assert(n == 0 || (capture->content == CAPTURE_RAW ? readings != NULL : values != NULL));
    enum status status = STATUS_OK;
    if (capture->key[0] == '\0')
        status = record_key_new(capture->key, err);
    if (status == STATUS_OK)
        status = record_transaction_begin(record, err);
    if (status != STATUS_OK)
        return status;
    if (capture->started_at[0] == '\0')
        record_now(capture->started_at);
    capture->number = 0;
    status = record_capture_insert(record, capture, err);
    if (status == STATUS_OK)
        status = append_all(record, capture, readings, values, n, err);
    if (status == STATUS_OK && capture->state != CAPTURE_OPEN) {
        if (capture->ended_at[0] == '\0')
            record_now(capture->ended_at);
        status = record_capture_end_insert(record, capture, err);
    }
    return record_transaction_end(record, status, err);
}

void record_capture_clear(struct record_capture *capture)
{
    free(capture->bow_name);
    free(capture->bench);
    free(capture->note);
    free(capture->program);
    *capture = (struct record_capture){0};
}
