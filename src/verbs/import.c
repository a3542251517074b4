/* import: a table becomes a capture; a JSON document merges another record into this one. */
#include "base/mem.h"
#include "record/document.h"
#include "record/record.h"
#include "show/escape.h"
#include "show/json.h"
#include "show/wrap.h"
#include "verbs/columns.h"
#include "verbs/import_table.h"
#include "verbs/options.h"
#include "verbs/subject.h"
#include "verbs/verb.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct option_spec spec[] = {
    {"bow", "BOW", "a table: which bow it is of (default: the file's note 'bow')"},
    {"bench", "NAME", "a table: which bench it comes from (default: the file's note 'bench')"},
    {"note", "TEXT", "a table: kept with the capture (default: the file's note 'note')"},
    SUBJECT_OPTIONS,
    {"json", NULL, "print the result as JSON"},
    {NULL, NULL, NULL},
};

static const char *const table_options[] = {"bow",     "bench", "note",         "brace",
                                            "columns", "axis",  "skip-bad-rows"};

/* --- a JSON document ---------------------------------------------------------------------- */

/* The kinds of entries in a report, for both ways of showing it. */
static struct merge_count count_of(const struct merge_report *report, size_t kind)
{
    return kind == 0 ? report->bows : kind == 1 ? report->calibrations : report->captures;
}

static const char *const kind_names[] = {"bows", "calibrations", "captures"};

enum { N_KINDS = sizeof kind_names / sizeof kind_names[0] };

static void merge_text(struct buf *out, const struct merge_report *report)
{
    static const struct column_head heads[] = {
        {"", false}, {"Added", true}, {"Extended", true}, {"Same", true}, {"In conflict", true},
    };
    struct columns columns;
    columns_init(&columns, heads, sizeof heads / sizeof heads[0]);
    for (size_t kind = 0; kind < N_KINDS; kind++) {
        struct merge_count count = count_of(report, kind);
        const size_t cells[] = {count.n_added, count.n_extended, count.n_same, count.n_conflicts};
        columns_cell(&columns, kind_names[kind]);
        for (size_t i = 0; i < sizeof cells / sizeof cells[0]; i++) {
            char text[24];
            (void)snprintf(text, sizeof text, "%zu", cells[i]);
            columns_cell(&columns, text);
        }
    }
    columns_render(&columns, out);
    columns_clear(&columns);
    for (size_t i = 0; i < report->n_conflicts; i++) {
        const struct merge_conflict *conflict = &report->conflicts[i];
        buf_printf(out, "In conflict: %s %s differs in ", conflict->kind, conflict->key);
        escape_terminal(out, conflict->text);
        buf_char(out, '\n');
    }
}

static void merge_json(struct buf *out, const struct merge_report *report, const char *name)
{
    json_t *root = json_object(), *conflicts = json_array();
    json_put(root, "schema", json_integer(1));
    json_put(root, "source", json_text(name));
    for (size_t kind = 0; kind < N_KINDS; kind++) {
        struct merge_count count = count_of(report, kind);
        json_t *object = json_object();
        json_put(object, "added", json_integer((json_int_t)count.n_added));
        json_put(object, "extended", json_integer((json_int_t)count.n_extended));
        json_put(object, "same", json_integer((json_int_t)count.n_same));
        json_put(object, "conflicts", json_integer((json_int_t)count.n_conflicts));
        json_put(root, kind_names[kind], object);
    }
    for (size_t i = 0; i < report->n_conflicts; i++) {
        json_t *object = json_object();
        json_put(object, "kind", json_text(report->conflicts[i].kind));
        json_put(object, "key", json_text(report->conflicts[i].key));
        json_put(object, "differs_in", json_text(report->conflicts[i].text));
        json_add(conflicts, object);
    }
    json_put(root, "conflicts", conflicts);
    json_render(out, root);
    json_decref(root);
}

static enum status check_no_table_options(const struct options *options, const char *name,
                                          struct err *err)
{
    for (size_t i = 0; i < sizeof table_options / sizeof table_options[0]; i++)
        if (options_has(options, table_options[i]))
            return err_set(err, STATUS_USAGE, "--%s is for a table; '%s' is a JSON document",
                           table_options[i], name);
    return STATUS_OK;
}

static enum status import_document(struct record *record, const struct options *options,
                                   const char *name, const struct buf *text, struct err *err)
{
    struct merge_report report = {0};
    struct buf out = {0};
    enum status status = check_no_table_options(options, name, err);
    if (status == STATUS_OK)
        status = document_merge(record, name, text, &report, err);
    if (status == STATUS_OK && options_has(options, "json"))
        merge_json(&out, &report, name);
    else if (status == STATUS_OK)
        merge_text(&out, &report);
    if (status == STATUS_OK)
        status = buf_write_stdout(&out, err);
    if (status == STATUS_OK && report.n_conflicts > 0)
        status = err_set(err, STATUS_ANSWER_NO,
                         "%s: %zu entr%s in conflict with what is here under the same key; the "
                         "record keeps its own, all others are merged",
                         name, report.n_conflicts, report.n_conflicts == 1 ? "y is" : "ies are");
    buf_clear(&out);
    merge_report_clear(&report);
    return status;
}

/* --- a table ------------------------------------------------------------------------------ */

static const char *outcome_name(enum import_outcome outcome)
{
    static const char *const names[] = {
        [IMPORT_NEW] = "new", [IMPORT_SAME] = "same", [IMPORT_CONTINUED] = "continued"};
    return names[outcome];
}

static void table_text(struct buf *out, const struct imported *imported, const char *name)
{
    const struct record_capture *capture = &imported->capture;
    struct buf line = {0};
    buf_printf(&line, "Capture %" PRId64, capture->number);
    if (capture->bow_name[0] != '\0') {
        buf_text(&line, " of ");
        escape_terminal(&line, capture->bow_name);
    }
    buf_printf(&line,
               imported->outcome == IMPORT_NEW         ? ": %zu readings from "
               : imported->outcome == IMPORT_CONTINUED ? " is completed with %zu readings from "
                                                       : " holds all %zu readings of ",
               imported->n_readings);
    escape_terminal(&line, name);
    buf_text(&line, imported->outcome == IMPORT_SAME ? " already; nothing was added." : ".");
    if (imported->n_bad_rows > 0)
        buf_printf(&line, " %zu bad row(s) were skipped.", imported->n_bad_rows);
    wrap_text(out, buf_string(&line), 0);
    for (size_t i = 0; i < imported->n_remarks; i++) {
        line.length = 0;
        escape_terminal(&line, imported->remarks[i]);
        wrap_text(out, buf_string(&line), 0);
    }
    buf_clear(&line);
}

static void table_json(struct buf *out, const struct imported *imported, const char *name)
{
    const struct record_capture *capture = &imported->capture;
    json_t *root = json_object(), *remarks = json_array();
    json_put(root, "schema", json_integer(1));
    json_put(root, "source", json_text(name));
    json_put(root, "outcome", json_text(outcome_name(imported->outcome)));
    json_put(root, "number", json_integer(capture->number));
    json_put(root, "key", json_text(capture->key));
    json_put(root, "bow", capture->bow_key[0] != '\0' ? json_text(capture->bow_name) : json_null());
    json_put(root, "content", json_text(capture->content == CAPTURE_RAW ? "raw" : "values"));
    json_put(root, "n_readings", json_integer((json_int_t)imported->n_readings));
    json_put(root, "n_bad_rows", json_integer((json_int_t)imported->n_bad_rows));
    for (size_t i = 0; i < imported->n_remarks; i++)
        json_add(remarks, json_text(imported->remarks[i]));
    json_put(root, "remarks", remarks);
    json_render(out, root);
    json_decref(root);
}

/* Takes *text over. */
static enum status import_file(struct record *record, const struct options *options,
                               const char *name, struct buf *text, struct err *err)
{
    struct table *table;
    struct imported imported = {0};
    struct buf out = {0};
    enum status status = table_open_text(&table, name, text, err);
    if (status == STATUS_OK)
        status = import_table(&imported, record, options, table, err);
    if (status == STATUS_OK && options_has(options, "json"))
        table_json(&out, &imported, name);
    else if (status == STATUS_OK)
        table_text(&out, &imported, name);
    if (status == STATUS_OK)
        status = buf_write_stdout(&out, err);
    buf_clear(&out);
    imported_clear(&imported);
    return status;
}

/* --- which of them ------------------------------------------------------------------------ */

/* The first byte of a JSON document behind a byte order mark and blanks. */
static bool looks_like_json(const struct buf *text)
{
    const char *at = buf_string(text);
    if (strncmp(at, "\xEF\xBB\xBF", 3) == 0)
        at += 3;
    at += strspn(at, " \t\r\n");
    return *at == '{' || *at == '[';
}

static enum status run(const struct options *options, struct err *err)
{
    const char *operand = options_operand(options, 0);
    const char *name = strcmp(operand, "-") == 0 ? "standard input" : operand;
    char *path = NULL;
    struct record *record = NULL;
    struct buf text = {0};
    enum status status = buf_read_file(&text, operand, err);
    if (status == STATUS_OK)
        status = options_record_path(options, &path, err);
    if (status == STATUS_OK)
        status = record_open(&record, path, RECORD_CREATE, err);
    if (status == STATUS_OK && looks_like_json(&text))
        status = import_document(record, options, name, &text, err);
    else if (status == STATUS_OK)
        status = import_file(record, options, name, &text, err);
    buf_clear(&text);
    record_close(record);
    free(path);
    return status;
}

const struct verb verb_import = {
    .name = "import",
    .operands = "FILE",
    .summary = "take a table or another record into this record",
    .description =
        "A table of draw position and force, or of counts (from `export --raw`, or the file that "
        "a capture writes where its record takes no more), becomes a capture. Readings that go on "
        "from a capture that was left open complete it.\n"
        "A JSON document from `export --all` or `export CAPTURE --json` is merged by the keys of "
        "its entries, wholly or not at all; doing it twice makes no doubles. An entry that is here "
        "under the same key with other content is told, and stays as it is here: the exit code is "
        "1 then. FILE `-` is standard input.",
    .spec = spec,
    .operands_min = 1,
    .operands_max = 1,
    .run = run,
};
