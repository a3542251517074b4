#include "base/mem.h"
#include "record/document_private.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A merge under way. */
struct merge {
    struct record *record;
    struct merge_report *report;
};

static void count(struct merge_count *count, enum merged merged)
{
    count->n_same += merged == MERGED_SAME;
    count->n_added += merged == MERGED_ADDED;
    count->n_extended += merged == MERGED_EXTENDED;
    count->n_conflicts += merged == MERGED_CONFLICT;
}

/* Takes text over. */
static enum merged add_conflict(struct merge *merge, const char *kind, const char *key, char *text)
{
    struct merge_report *report = merge->report;
    report->conflicts =
        mem_realloc(report->conflicts, report->n_conflicts + 1, sizeof *report->conflicts);
    struct merge_conflict *conflict = &report->conflicts[report->n_conflicts++];
    *conflict = (struct merge_conflict){.kind = kind, .text = text};
    (void)snprintf(conflict->key, sizeof conflict->key, "%s", key);
    return MERGED_CONFLICT;
}

char *document_differences(json_t *ours, json_t *theirs)
{
    struct buf names = {0};
    const char *name;
    json_t *value;
    json_object_foreach(ours, name, value)
    {
        if (json_equal(value, json_object_get(theirs, name)))
            continue;
        buf_text(&names, names.length > 0 ? ", " : "");
        buf_text(&names, name);
    }
    json_decref(ours);
    json_decref(theirs);
    char *text = names.length > 0 ? mem_strdup(names.text) : NULL;
    buf_clear(&names);
    return text;
}

/* Compares two entries by the fields of both; releases the objects. */
static enum merged compare(struct merge *merge, const char *kind, const char *key, json_t *ours,
                           json_t *theirs)
{
    char *text = document_differences(ours, theirs);
    return text == NULL ? MERGED_SAME : add_conflict(merge, kind, key, text);
}

enum status document_query(const struct record *record, const char *sql, const char *text,
                           int64_t number, int64_t absent, int64_t *value, struct err *err)
{
    sqlite3_stmt *statement;
    bool row = false;
    enum status status = record_prepare(record, sql, &statement, err);
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, text);
        if (sqlite3_bind_parameter_count(statement) > 1)
            record_bind_int(statement, 2, number);
        status = record_step(record, statement, &row, err);
    }
    if (status == STATUS_OK)
        *value = row ? sqlite3_column_int64(statement, 0) : absent;
    sqlite3_finalize(statement);
    return status;
}

/* --- bows --------------------------------------------------------------------------------- */

static const struct record_bow *find_statement(const struct record_bow *bows, size_t n,
                                               const char *statement_key)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(bows[i].statement_key, statement_key) == 0)
            return &bows[i];
    return NULL;
}

static json_t *statement_to_json(const struct record_bow *bow)
{
    json_t *object = json_object();
    fields_to_json(object, bow_fields, bow);
    json_object_del(object, "number"); /* a record's own count */
    return object;
}

/* Adds a statement that is not here; its number may be taken by another one that is. */
static enum status insert_statement(struct merge *merge, struct record_bow *bow, struct err *err)
{
    int64_t free_number = 0;
    enum status status = document_query(
        merge->record,
        "SELECT CASE WHEN ?2 > 0 AND NOT EXISTS (SELECT 1 FROM bow_statement"
        "  WHERE bow_key = ?1 AND number = ?2) THEN ?2"
        " ELSE (SELECT coalesce(max(number), 0) + 1 FROM bow_statement WHERE bow_key = ?1)"
        " END",
        bow->key, bow->statement, 0, &free_number, err);
    if (status != STATUS_OK)
        return status;
    bow->statement = free_number;
    return record_bow_statement_insert(merge->record, bow, err);
}

static enum status merge_statement(struct merge *merge, const json_t *object, const char *bow_key,
                                   const struct record_bow *here, size_t n_here,
                                   enum merged *merged, struct err *err)
{
    struct record_bow bow = record_bow_blank();
    enum status status = fields_from_json(object, bow_fields, &bow, err);
    if (status == STATUS_OK) {
        (void)snprintf(bow.key, sizeof bow.key, "%s", bow_key);
        const struct record_bow *ours = find_statement(here, n_here, bow.statement_key);
        if (ours != NULL) {
            *merged =
                compare(merge, "bow", bow_key, statement_to_json(ours), statement_to_json(&bow));
        } else {
            *merged = MERGED_ADDED;
            status = insert_statement(merge, &bow, err);
        }
    }
    record_bow_clear(&bow);
    return status;
}

static enum status merge_statements(struct merge *merge, json_t *statements, const char *bow_key,
                                    enum merged *merged, struct err *err)
{
    struct record_bow *here;
    size_t n_here;
    enum status status = record_bow_statements(merge->record, bow_key, &here, &n_here, err);
    if (status == STATUS_OK && n_here == 0)
        status = record_bow_key_insert(merge->record, bow_key, err);
    size_t n_added = 0, n_conflicts = 0;
    for (size_t i = 0; status == STATUS_OK && i < json_array_size(statements); i++) {
        enum merged one = MERGED_SAME;
        status =
            merge_statement(merge, json_array_get(statements, i), bow_key, here, n_here, &one, err);
        n_added += one == MERGED_ADDED;
        n_conflicts += one == MERGED_CONFLICT;
    }
    *merged = n_conflicts > 0 ? MERGED_CONFLICT
              : n_added == 0  ? MERGED_SAME
              : n_here == 0   ? MERGED_ADDED
                              : MERGED_EXTENDED;
    for (size_t i = 0; i < n_here; i++)
        record_bow_clear(&here[i]);
    free(here);
    return status;
}

static enum status merge_bow(struct merge *merge, const json_t *value, struct err *err)
{
    const char *key = json_string_value(json_object_get(value, "key"));
    json_t *statements;
    if (key == NULL || !record_key_valid(key))
        return err_set(err, STATUS_BAD_INPUT, "a bow without a valid 'key'");
    enum status status = json_take_array(value, "statements", &statements, err);
    if (status == STATUS_OK && json_array_size(statements) == 0)
        status = err_set(err, STATUS_BAD_INPUT, "a bow without statements");
    enum merged merged = MERGED_SAME;
    if (status == STATUS_OK)
        status = merge_statements(merge, statements, key, &merged, err);
    count(&merge->report->bows, merged);
    return status;
}

/* --- calibrations ------------------------------------------------------------------------- */

static enum status merge_calibration(struct merge *merge, const json_t *value, struct err *err)
{
    struct record_calibration theirs, ours = {0};
    int64_t is_here = 0;
    enum merged merged = MERGED_ADDED;
    enum status status = calibration_from_json(value, &theirs, err);
    if (status == STATUS_OK)
        status = document_query(merge->record, "SELECT 1 FROM calibration WHERE key = ?1",
                                theirs.key, 0, 0, &is_here, err);
    if (status == STATUS_OK && is_here == 0)
        status = record_calibration_insert(merge->record, &theirs, err);
    if (status == STATUS_OK && is_here != 0)
        status = record_calibration_get(merge->record, theirs.key, &ours, err);
    if (status == STATUS_OK && is_here != 0)
        merged = compare(merge, "calibration", theirs.key, calibration_to_json(&ours),
                         calibration_to_json(&theirs));
    count(&merge->report->calibrations, merged);
    record_calibration_clear(&theirs);
    record_calibration_clear(&ours);
    return status;
}

/* --- the document ------------------------------------------------------------------------- */

static enum status merge_capture(struct merge *merge, const json_t *value, struct err *err)
{
    enum merged merged = MERGED_SAME;
    char *difference = NULL;
    char key[RECORD_KEY_MAX] = "";
    enum status status =
        document_merge_capture(merge->record, value, key, &merged, &difference, err);
    if (difference != NULL)
        add_conflict(merge, "capture", key, difference);
    count(&merge->report->captures, merged);
    return status;
}

/* Which format and version the document says it has. */
struct stated {
    bool has_format;
    int64_t version; /* 0 until it is seen */
};

static enum status look_at_form(void *context, const char *section, const char *name,
                                const json_t *value, struct err *err)
{
    struct stated *stated = context;
    if (section != NULL)
        return STATUS_OK;
    if (strcmp(name, "format") == 0 && json_is_string(value))
        stated->has_format = strcmp(json_string_value(value), DOCUMENT_FORMAT) == 0;
    else if (strcmp(name, "version") == 0 &&
             json_take_int(value, name, 1, INT64_MAX, &stated->version, err) != STATUS_OK)
        return STATUS_BAD_INPUT;
    /* both are known: the rest need not be looked at twice */
    return stated->has_format && stated->version > 0 ? STATUS_ANSWER_NO : STATUS_OK;
}

/* Wherever they stand in the document: other tools may have put its members in another order. */
static enum status check_form(const char *name, const struct buf *text, struct err *err)
{
    struct stated stated = {0};
    const struct document_visitor visitor = {look_at_form, &stated};
    enum status status = document_walk(name, text, &visitor, err);
    if (status != STATUS_OK && status != STATUS_ANSWER_NO)
        return status;
    if (!stated.has_format || stated.version == 0)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: is JSON, but not a record that `pullcurve export --all` wrote", name);
    if (stated.version > DOCUMENT_VERSION)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: was written by a newer version of pullcurve (document version %" PRId64
                       ", this one knows %d); use that version",
                       name, stated.version, DOCUMENT_VERSION);
    return STATUS_OK;
}

static enum status merge_value(void *context, const char *section, const char *name,
                               const json_t *value, struct err *err)
{
    struct merge *merge = context;
    enum status status;
    if (section == NULL)
        return strcmp(name, "format") == 0 || strcmp(name, "version") == 0
                   ? STATUS_OK
                   : err_set(err, STATUS_BAD_INPUT, "'%s' is not known here", name);
    if (strcmp(section, "bows") == 0)
        status = merge_bow(merge, value, err);
    else if (strcmp(section, "calibrations") == 0)
        status = merge_calibration(merge, value, err);
    else if (strcmp(section, "captures") == 0)
        status = merge_capture(merge, value, err);
    else
        status = err_set(err, STATUS_BAD_INPUT, "'%s' is not known here", section);
    /* a bow that no one may add is bad input here */
    return status == STATUS_USAGE ? STATUS_BAD_INPUT : status;
}

static enum status merge_all(struct merge *merge, const char *name, const struct buf *text,
                             struct err *err)
{
    /* entries may come before those they refer to; the commit sees to it that all are there */
    enum status status = record_exec(merge->record, "PRAGMA defer_foreign_keys = ON", err);
    const struct document_visitor visitor = {merge_value, merge};
    if (status == STATUS_OK)
        status = document_walk(name, text, &visitor, err);
    return status;
}

enum status document_merge(struct record *record, const char *name, const struct buf *text,
                           struct merge_report *report, struct err *err)
{
    *report = (struct merge_report){0};
    struct merge merge = {.record = record, .report = report};
    enum status status = check_form(name, text, err);
    if (status == STATUS_OK)
        status = record_transaction_begin(record, err);
    if (status != STATUS_OK)
        return status;
    status = merge_all(&merge, name, text, err);
    bool whole = status == STATUS_OK;
    status = record_transaction_end(record, status, err);
    if (whole && status == STATUS_NO_INPUT)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: an entry refers to a bow or a calibration that is neither in it nor in "
                       "the record; nothing was imported",
                       name);
    return status;
}

void merge_report_clear(struct merge_report *report)
{
    for (size_t i = 0; i < report->n_conflicts; i++)
        free(report->conflicts[i].text);
    free(report->conflicts);
    *report = (struct merge_report){0};
}
