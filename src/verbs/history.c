/* history: the captures of the record, newest first. */
#include "base/mem.h"
#include "record/record.h"
#include "show/escape.h"
#include "show/json.h"
#include "verbs/columns.h"
#include "verbs/options.h"
#include "verbs/verb.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { MOST_TEXT = 20 };

static const struct option_spec spec[] = {
    {"bow", "BOW", "of this bow alone: its name, a part of it, or the beginning of its key"},
    {"most", "N", "at most this many (default 20; with --csv and --json all)"},
    {"csv", NULL, "print a table file"},
    {"json", NULL, "print JSON"},
    {"record", "FILE", "the shop's record"},
    {NULL, NULL, NULL},
};

static const char *state_name(enum capture_state state)
{
    static const char *const names[] = {
        [CAPTURE_OPEN] = "open",
        [CAPTURE_COMPLETE] = "complete",
        [CAPTURE_INCOMPLETE] = "incomplete",
    };
    return names[state];
}

/* Lines that did not arrive whole. One that was garbled is missing by its number too, so the larger
 * of both counts, not their sum. */
static int64_t losses(const struct capture_counts *counts)
{
    int64_t garbled = counts->n_malformed + counts->n_bad_checksum;
    return garbled > counts->n_lost ? garbled : counts->n_lost;
}

/* The minute on the clock of the wall, "2026-11-25 10:20". */
static void wall_time(char *text, size_t size, const char *utc)
{
    struct tm broken = {0};
    time_t seconds;
    if (strptime(utc, "%Y-%m-%dT%H:%M:%S", &broken) == NULL ||
        (seconds = timegm(&broken)) == (time_t)-1 || localtime_r(&seconds, &broken) == NULL ||
        strftime(text, size, "%Y-%m-%d %H:%M", &broken) == 0)
        (void)snprintf(text, size, "%s", utc);
}

static void int_cell(struct columns *columns, int64_t value)
{
    char text[24];
    (void)snprintf(text, sizeof text, "%" PRId64, value);
    columns_cell(columns, text);
}

static void add_text(struct buf *out, const struct record_capture *captures, size_t n, bool more)
{
    static const struct column_head heads[] = {
        {"No.", true},      {"Date", false},  {"Bow", false},   {"Bench", false},
        {"Readings", true}, {"Losses", true}, {"State", false}, {"Note", false},
    };
    if (n == 0) {
        buf_text(out, "No capture.\n");
        return;
    }
    struct columns columns;
    columns_init(&columns, heads, sizeof heads / sizeof heads[0]);
    for (size_t i = 0; i < n; i++) {
        char date[RECORD_TIME_MAX];
        wall_time(date, sizeof date, captures[i].started_at);
        int_cell(&columns, captures[i].number);
        columns_cell(&columns, date);
        columns_cell(&columns, captures[i].bow_name);
        columns_cell(&columns, captures[i].bench);
        int_cell(&columns, captures[i].counts.n_readings);
        int_cell(&columns, losses(&captures[i].counts));
        columns_cell(&columns, state_name(captures[i].state));
        columns_cell(&columns, captures[i].note);
    }
    columns_render(&columns, out);
    columns_clear(&columns);
    if (more)
        buf_printf(out, "These are the newest %zu; --most N shows more.\n", n);
}

static json_t *capture_json(const struct record_capture *capture)
{
    const struct capture_counts *counts = &capture->counts;
    json_t *object = json_object();
    json_put(object, "number", json_integer(capture->number));
    json_put(object, "key", json_text(capture->key));
    json_put(object, "started_at", json_text(capture->started_at));
    json_put(object, "ended_at",
             capture->ended_at[0] != '\0' ? json_text(capture->ended_at) : json_null());
    bool has_bow = capture->bow_key[0] != '\0';
    json_put(object, "bow", has_bow ? json_text(capture->bow_name) : json_null());
    json_put(object, "bow_key", has_bow ? json_text(capture->bow_key) : json_null());
    json_put(object, "bench", json_text(capture->bench));
    json_put(object, "content", json_text(capture->content == CAPTURE_RAW ? "raw" : "values"));
    json_put(object, "state", json_text(state_name(capture->state)));
    json_put(object, "n_readings", json_integer(counts->n_readings));
    json_put(object, "n_losses", json_integer(losses(counts)));
    json_put(object, "n_malformed", json_integer(counts->n_malformed));
    json_put(object, "n_bad_checksum", json_integer(counts->n_bad_checksum));
    json_put(object, "n_lost", json_integer(counts->n_lost));
    json_put(object, "n_out_of_order", json_integer(counts->n_out_of_order));
    json_put(object, "n_saturated", json_integer(counts->n_saturated));
    json_put(object, "note", json_text(capture->note));
    return object;
}

static void add_json(struct buf *out, const struct record_capture *captures, size_t n, bool more)
{
    json_t *root = json_object(), *array = json_array();
    for (size_t i = 0; i < n; i++)
        json_add(array, capture_json(&captures[i]));
    json_put(root, "schema", json_integer(1));
    json_put(root, "captures", array);
    json_put(root, "more", json_boolean(more));
    json_render(out, root);
    json_decref(root);
}

static void add_csv(struct buf *out, const struct record_capture *captures, size_t n)
{
    buf_text(out, "number,key,started_at,ended_at,bow,bench,content,state,n_readings,n_losses,"
                  "n_malformed,n_bad_checksum,n_lost,n_out_of_order,n_saturated,note\n");
    for (size_t i = 0; i < n; i++) {
        const struct record_capture *capture = &captures[i];
        const struct capture_counts *counts = &capture->counts;
        buf_printf(out, "%" PRId64 ",%s,%s,%s,", capture->number, capture->key, capture->started_at,
                   capture->ended_at);
        escape_csv(out, capture->bow_name);
        buf_char(out, ',');
        escape_csv(out, capture->bench);
        buf_printf(out,
                   ",%s,%s,%" PRId64 ",%" PRId64 ",%" PRId64 ",%" PRId64 ",%" PRId64 ",%" PRId64
                   ",%" PRId64 ",",
                   capture->content == CAPTURE_RAW ? "raw" : "values", state_name(capture->state),
                   counts->n_readings, losses(counts), counts->n_malformed, counts->n_bad_checksum,
                   counts->n_lost, counts->n_out_of_order, counts->n_saturated);
        escape_csv(out, capture->note);
        buf_char(out, '\n');
    }
}

static enum status find_bow(struct record *record, const struct options *options,
                            char key[RECORD_KEY_MAX], struct err *err)
{
    key[0] = '\0';
    const char *text = options_text(options, "bow", NULL);
    if (text == NULL)
        return STATUS_OK;
    struct record_bow bow;
    enum status status = record_bow_find(record, text, &bow, err);
    if (status == STATUS_OK)
        memcpy(key, bow.key, RECORD_KEY_MAX);
    record_bow_clear(&bow);
    return status;
}

/* One more than asked for is looked for: whether it is there tells if there are more. */
static enum status list(struct record *record, const struct options *options, struct buf *out,
                        struct err *err)
{
    char key[RECORD_KEY_MAX];
    bool json = options_has(options, "json"), csv = options_has(options, "csv");
    int64_t most;
    struct record_capture *captures = NULL;
    size_t n = 0;
    enum status status = find_bow(record, options, key, err);
    if (status == STATUS_OK)
        status = options_int(options, "most", 1, INT64_MAX - 1,
                             json || csv ? INT64_MAX - 1 : MOST_TEXT, &most, err);
    if (status == STATUS_OK)
        status = record_capture_list(record, key, (size_t)most + 1, &captures, &n, err);
    if (status != STATUS_OK)
        return status;
    bool more = n > (size_t)most;
    size_t shown = more ? (size_t)most : n;
    if (json)
        add_json(out, captures, shown, more);
    else if (csv)
        add_csv(out, captures, shown);
    else
        add_text(out, captures, shown, more);
    for (size_t i = 0; i < n; i++)
        record_capture_clear(&captures[i]);
    free(captures);
    return STATUS_OK;
}

static enum status run(const struct options *options, struct err *err)
{
    char *path = NULL;
    struct record *record = NULL;
    struct buf out = {0};
    enum status status = STATUS_OK;
    if (options_has(options, "json") && options_has(options, "csv"))
        status = err_set(err, STATUS_USAGE, "--json or --csv, not both");
    if (status == STATUS_OK)
        status = options_record_path(options, &path, err);
    if (status == STATUS_OK)
        status = record_open(&record, path, RECORD_READ, err);
    if (status == STATUS_OK)
        status = list(record, options, &out, err);
    if (status == STATUS_OK)
        status = buf_write_stdout(&out, err);
    buf_clear(&out);
    record_close(record);
    free(path);
    return status;
}

const struct verb verb_history = {
    .name = "history",
    .operands = "",
    .summary = "list the captures of the record, newest first",
    .description =
        "`No.` is what other verbs take as CAPTURE. `Losses` counts lines of the bench that did "
        "not arrive whole. A capture is `open` while it runs, or where it ended without goodbye "
        "(a kill, a power cut); it is `incomplete` where a fault or Ctrl-C ended it. Either way "
        "all readings up to there are kept. Dates are local here, UTC in CSV and JSON.",
    .spec = spec,
    .operands_min = 0,
    .operands_max = 0,
    .run = run,
};
