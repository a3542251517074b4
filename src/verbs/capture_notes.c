#include "verbs/capture_notes.h"
#include "base/mem.h"
#include "base/number.h"
#include "show/escape.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define AT(field) offsetof(struct record_capture, field)

/* Notes that hold a text of the capture, and those that hold a key, a time, a count of it. */
static const struct {
    const char *name;
    size_t offset;
} text_notes[] = {{"bow", AT(bow_name)},
                  {"bench", AT(bench)},
                  {"note", AT(note)},
                  {"program", AT(program)}},
  key_notes[] = {{"capture_key", AT(key)},
                 {"bow_key", AT(bow_key)},
                 {"force_calibration_key", AT(force_calibration_key)},
                 {"travel_calibration_key", AT(travel_calibration_key)}},
  time_notes[] = {{"started_at", AT(started_at)}, {"ended_at", AT(ended_at)}},
  count_notes[] = {{"n_malformed", AT(counts.n_malformed)},
                   {"n_bad_checksum", AT(counts.n_bad_checksum)},
                   {"n_lost", AT(counts.n_lost)},
                   {"n_out_of_order", AT(counts.n_out_of_order)},
                   {"n_saturated", AT(counts.n_saturated)}};

#define LENGTH(array) (sizeof(array) / sizeof(array)[0])

static const char *const state_names[] = {
    [CAPTURE_OPEN] = "open",
    [CAPTURE_COMPLETE] = "complete",
    [CAPTURE_INCOMPLETE] = "incomplete",
};

static void add_note(struct buf *out, const char *name, const char *value)
{
    if (value == NULL || value[0] == '\0')
        return;
    buf_printf(out, "# %s: ", name);
    escape_terminal(out, value); /* one line, whatever the text holds */
    buf_char(out, '\n');
}

void capture_notes_write(struct buf *out, const struct record_capture *capture, const char *what)
{
    const char *at = (const char *)capture;
    buf_printf(out, "# pullcurve: %s of capture %" PRId64 "\n", what, capture->number);
    for (size_t i = 0; i < LENGTH(text_notes); i++) {
        const char *text;
        memcpy(&text, at + text_notes[i].offset, sizeof text);
        add_note(out, text_notes[i].name, text);
    }
    for (size_t i = 0; i < LENGTH(time_notes); i++)
        add_note(out, time_notes[i].name, at + time_notes[i].offset);
    add_note(out, "state", state_names[capture->state]);
    for (size_t i = 0; i < LENGTH(key_notes); i++)
        add_note(out, key_notes[i].name, at + key_notes[i].offset);
    for (size_t i = 0; i < LENGTH(count_notes); i++) {
        int64_t count;
        memcpy(&count, at + count_notes[i].offset, sizeof count);
        if (count != 0)
            buf_printf(out, "# %s: %" PRId64 "\n", count_notes[i].name, count);
    }
    char number[NUMBER_TEXT_MAX];
    if (capture->has_brace)
        add_note(out, "brace_m", number_exact(number, capture->brace_m));
    char *fixture = record_fixture_text(&capture->fixture);
    if (strcmp(fixture, "{}") != 0)
        add_note(out, "fixture", fixture);
    free(fixture);
}

static enum status fault(const struct table *table, const char *name, const char *value,
                         const char *expected, struct err *err)
{
    return err_set(err, STATUS_BAD_INPUT,
                   "%s: the note '%s: %.60s' is not %s; correct it or take the line out",
                   table_name(table), name, value, expected);
}

static enum status read_keys(const struct table *table, char *at, struct err *err)
{
    for (size_t i = 0; i < LENGTH(key_notes); i++) {
        const char *value = table_note(table, key_notes[i].name);
        if (value == NULL || value[0] == '\0')
            continue;
        if (!record_key_valid(value))
            return fault(table, key_notes[i].name, value,
                         "a key like 0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7e", err);
        (void)snprintf(at + key_notes[i].offset, RECORD_KEY_MAX, "%s", value);
    }
    return STATUS_OK;
}

static enum status read_times(const struct table *table, char *at, struct err *err)
{
    for (size_t i = 0; i < LENGTH(time_notes); i++) {
        const char *value = table_note(table, time_notes[i].name);
        if (value == NULL || value[0] == '\0')
            continue;
        if (!record_time_valid(value))
            return fault(table, time_notes[i].name, value, "a time like 2026-11-25T09:20:05Z", err);
        (void)snprintf(at + time_notes[i].offset, RECORD_TIME_MAX, "%s", value);
    }
    return STATUS_OK;
}

static enum status read_counts(const struct table *table, char *at, struct err *err)
{
    for (size_t i = 0; i < LENGTH(count_notes); i++) {
        const char *value = table_note(table, count_notes[i].name);
        int64_t count = 0;
        if (value != NULL && (!number_parse_int(value, &count) || count < 0))
            return fault(table, count_notes[i].name, value, "a count", err);
        memcpy(at + count_notes[i].offset, &count, sizeof count);
    }
    return STATUS_OK;
}

static enum status read_state_and_brace(const struct table *table, struct record_capture *capture,
                                        struct err *err)
{
    const char *state = table_note(table, "state"), *brace = table_note(table, "brace_m");
    /* what is in a file goes on no more; a file of what a record did not take says no state */
    capture->state = CAPTURE_INCOMPLETE;
    if (state != NULL && strcmp(state, state_names[CAPTURE_COMPLETE]) == 0)
        capture->state = CAPTURE_COMPLETE;
    else if (state != NULL && strcmp(state, state_names[CAPTURE_INCOMPLETE]) != 0 &&
             strcmp(state, state_names[CAPTURE_OPEN]) != 0)
        return fault(table, "state", state, "complete, incomplete or open", err);
    capture->has_brace = brace != NULL;
    if (brace != NULL && !(number_parse(brace, &capture->brace_m) && capture->brace_m > 0))
        return fault(table, "brace_m", brace, "a length in metres", err);
    return STATUS_OK;
}

static enum status read_fixture(const struct table *table, struct record_capture *capture,
                                struct err *err)
{
    const char *text = table_note(table, "fixture");
    if (text == NULL)
        return STATUS_OK;
    enum status status = record_fixture_parse(text, &capture->fixture, err);
    if (status != STATUS_OK)
        (void)err_prefix(err, "%s: correct the note or take the line out", table_name(table));
    return status;
}

enum status capture_notes_read(const struct table *table, struct record_capture *capture,
                               struct err *err)
{
    char *at = (char *)capture;
    for (size_t i = 0; i < LENGTH(text_notes); i++) {
        const char *value = table_note(table, text_notes[i].name);
        char *text = mem_strdup(value != NULL ? value : "");
        memcpy(at + text_notes[i].offset, &text, sizeof text);
    }
    capture->state = CAPTURE_COMPLETE;
    if (table_note(table, "pullcurve") == NULL)
        return STATUS_OK;
    enum status status = read_keys(table, at, err);
    if (status == STATUS_OK)
        status = read_times(table, at, err);
    if (status == STATUS_OK)
        status = read_counts(table, at, err);
    if (status == STATUS_OK)
        status = read_state_and_brace(table, capture, err);
    if (status == STATUS_OK)
        status = read_fixture(table, capture, err);
    return status;
}
