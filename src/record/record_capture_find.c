#include "base/mem.h"
#include "base/number.h"
#include "record/record.h"
#include "record/record_private.h"

#include <assert.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

/* What read_capture reads, in its order. No row of chunk is touched unless a capture is open. */
#define SELECT_CAPTURE                                                             \
    "SELECT c.number, c.key, c.started_at, c.bow_key,"                             \
    " (SELECT name FROM bow_statement s WHERE s.bow_key = c.bow_key"               \
    "  ORDER BY s.made_at DESC, s.number DESC LIMIT 1),"                           \
    " c.bench, c.note, c.program, c.force_calibration_key,"                        \
    " c.travel_calibration_key, c.brace_m, c.content, e.ended_at, e.state,"        \
    " coalesce(e.n_readings, (SELECT first_reading + n_readings FROM chunk"        \
    "  WHERE capture_key = c.key ORDER BY number DESC LIMIT 1), 0),"               \
    " e.n_malformed, e.n_bad_checksum, e.n_lost, e.n_out_of_order, e.n_saturated," \
    " c.fixture"                                                                   \
    " FROM capture c LEFT JOIN capture_end e ON e.capture_key = c.key "

static enum capture_state read_state(sqlite3_stmt *statement, int column)
{
    const char *text = (const char *)sqlite3_column_text(statement, column);
    if (text == NULL)
        return CAPTURE_OPEN;
    return strcmp(text, "complete") == 0 ? CAPTURE_COMPLETE : CAPTURE_INCOMPLETE;
}

/* Caller ends *read with record_capture_clear, also on failure. */
static enum status read_capture(const struct record *record, sqlite3_stmt *statement,
                                struct record_capture *read, struct err *err)
{
    struct record_capture capture = {
        .number = sqlite3_column_int64(statement, 0),
        .bow_name = record_column_text(statement, 4),
        .bench = record_column_text(statement, 5),
        .note = record_column_text(statement, 6),
        .program = record_column_text(statement, 7),
        .has_brace = sqlite3_column_type(statement, 10) != SQLITE_NULL,
        .brace_m = sqlite3_column_double(statement, 10),
        .state = read_state(statement, 13),
        .counts =
            {
                .n_readings = sqlite3_column_int64(statement, 14),
                .n_malformed = sqlite3_column_int64(statement, 15),
                .n_bad_checksum = sqlite3_column_int64(statement, 16),
                .n_lost = sqlite3_column_int64(statement, 17),
                .n_out_of_order = sqlite3_column_int64(statement, 18),
                .n_saturated = sqlite3_column_int64(statement, 19),
            },
    };
    record_column_field(statement, 1, capture.key, sizeof capture.key);
    record_column_field(statement, 2, capture.started_at, sizeof capture.started_at);
    record_column_field(statement, 3, capture.bow_key, sizeof capture.bow_key);
    record_column_field(statement, 8, capture.force_calibration_key,
                        sizeof capture.force_calibration_key);
    record_column_field(statement, 9, capture.travel_calibration_key,
                        sizeof capture.travel_calibration_key);
    const char *content = (const char *)sqlite3_column_text(statement, 11);
    capture.content =
        content != NULL && strcmp(content, "values") == 0 ? CAPTURE_VALUES : CAPTURE_RAW;
    record_column_field(statement, 12, capture.ended_at, sizeof capture.ended_at);
    char *fixture = record_column_text(statement, 20);
    enum status status = record_fixture_parse(fixture, &capture.fixture, err);
    free(fixture);
    *read = capture;
    if (status != STATUS_OK)
        (void)err_prefix(err, "%s: capture %" PRId64, record->path, capture.number);
    return status;
}

static void clear_all(struct record_capture *captures, size_t n)
{
    for (size_t i = 0; i < n; i++)
        record_capture_clear(&captures[i]);
    free(captures);
}

/* All rows of a bound statement; finalizes it. */
static enum status read_all(const struct record *record, sqlite3_stmt *statement,
                            struct record_capture **captures, size_t *n, struct err *err)
{
    struct record_capture *read = NULL;
    size_t length = 0, capacity = 0;
    enum status status;
    for (;;) {
        bool row;
        status = record_step(record, statement, &row, err);
        if (status != STATUS_OK || !row)
            break;
        if (length == capacity) {
            capacity = mem_grown(capacity, capacity + 1);
            read = mem_realloc(read, capacity, sizeof *read);
        }
        status = read_capture(record, statement, &read[length++], err);
        if (status != STATUS_OK)
            break;
    }
    sqlite3_finalize(statement);
    if (status != STATUS_OK) {
        clear_all(read, length);
        return status;
    }
    *captures = read;
    *n = length;
    return STATUS_OK;
}

enum status record_capture_list(struct record *record, const char *bow_key, size_t most,
                                struct record_capture **captures, size_t *n, struct err *err)
{
    *captures = NULL;
    *n = 0;
    const char *sql = bow_key[0] == '\0' ? SELECT_CAPTURE
                          "ORDER BY c.started_at DESC, c.number DESC LIMIT ?2"
                                         : SELECT_CAPTURE
                          "WHERE c.bow_key = ?1 ORDER BY c.started_at DESC, c.number DESC"
                          " LIMIT ?2";
    sqlite3_stmt *statement;
    enum status status = record_prepare(record, sql, &statement, err);
    if (status != STATUS_OK)
        return status;
    if (bow_key[0] != '\0')
        record_bind_text(statement, 1, bow_key);
    record_bind_int(statement, 2, most < INT64_MAX ? (int64_t)most : INT64_MAX);
    return read_all(record, statement, captures, n, err);
}

static enum status find_by(const struct record *record, const char *sql, const char *text,
                           struct record_capture **found, size_t *n, struct err *err)
{
    sqlite3_stmt *statement;
    enum status status = record_prepare(record, sql, &statement, err);
    if (status != STATUS_OK)
        return status;
    if (text != NULL)
        record_bind_text(statement, 1, text);
    return read_all(record, statement, found, n, err);
}

/* Those that the text may mean: the first way that gives any holds. */
static enum status find_candidates(const struct record *record, const char *text,
                                   struct record_capture **found, size_t *n, struct err *err)
{
    if (strcmp(text, "last") == 0)
        return find_by(record, SELECT_CAPTURE "ORDER BY c.started_at DESC, c.number DESC LIMIT 1",
                       NULL, found, n, err);
    enum status status = STATUS_OK;
    int64_t number;
    if (text[0] >= '0' && text[0] <= '9' && number_parse_int(text, &number))
        status = find_by(record, SELECT_CAPTURE "WHERE c.number = cast(?1 AS INTEGER)", text, found,
                         n, err);
    /* 'g' is behind every digit that a key may go on with */
    if (status == STATUS_OK && *n == 0 && record_key_beginning(text))
        status = find_by(record,
                         SELECT_CAPTURE "WHERE c.key >= ?1 AND c.key < ?1 || 'g'"
                                        " ORDER BY c.number LIMIT 6",
                         text, found, n, err);
    return status;
}

static enum status fault_several(const struct record *record, const char *text,
                                 const struct record_capture *found, size_t n, struct err *err)
{
    struct buf list = {0};
    for (size_t i = 0; i < n && i < 5; i++)
        buf_printf(&list, "%s%s (number %" PRId64 ")", i > 0 ? ", " : "", found[i].key,
                   found[i].number);
    err_set(err, STATUS_NO_INPUT, "%s: several captures begin with '%s': %s%s; write more of it",
            record->path, text, buf_string(&list), n > 5 ? ", ..." : "");
    buf_clear(&list);
    return STATUS_NO_INPUT;
}

enum status record_capture_find(struct record *record, const char *text,
                                struct record_capture *capture, struct err *err)
{
    *capture = (struct record_capture){0};
    struct record_capture *found = NULL;
    size_t n = 0;
    enum status status = find_candidates(record, text, &found, &n, err);
    if (status == STATUS_OK && n == 0)
        status = err_set(err, STATUS_NO_INPUT,
                         "%s: no capture '%s'; `pullcurve history` lists them", record->path, text);
    if (status == STATUS_OK && n > 1)
        status = fault_several(record, text, found, n, err);
    if (status == STATUS_OK) {
        *capture = found[0];
        n = 0; /* its texts have moved */
    }
    clear_all(found, n);
    return status;
}
