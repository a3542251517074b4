#include "verbs/subject.h"

#include "show/json.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#define BRACE_LOW_M 0.0
#define BRACE_HIGH_M 1.0

static bool is_there(const char *path)
{
    struct stat about;
    return strcmp(path, "-") == 0 || (stat(path, &about) == 0 && !S_ISDIR(about.st_mode));
}

/* A name with a dot or a slash is never meant as a capture. */
static bool looks_like_a_file(const char *text)
{
    return strpbrk(text, "./") != NULL;
}

static enum status open_kind(struct subject *subject, const struct options *options,
                             const char *operand, struct err *err)
{
    if (operand != NULL && (is_there(operand) || looks_like_a_file(operand)))
        return subject_open_table(subject, options, operand, err);
    enum status status =
        subject_open_capture(subject, options, operand != NULL ? operand : "last", err);
    if (status == STATUS_NO_INPUT && operand != NULL)
        return err_prefix(err, "'%s' is no file, and as a capture it is not to be had", operand);
    return status;
}

enum status subject_open(struct subject *subject, const struct options *options,
                         const char *operand, struct err *err)
{
    *subject = (struct subject){.has_brace = options_has(options, "brace")};
    enum status status = options_quantity(options, "brace", QUANTITY_LENGTH, UNIT_IN, BRACE_LOW_M,
                                          BRACE_HIGH_M, 0, &subject->brace_m, err);
    if (status == STATUS_OK)
        status = open_kind(subject, options, operand, err);
    if (status != STATUS_OK)
        subject_close(subject);
    return status;
}

void subject_close(struct subject *subject)
{
    free(subject->name);
    free(subject->title);
    free(subject->draw_m);
    free(subject->force_n);
    free(subject->time_s);
    table_close(subject->table);
    record_capture_clear(&subject->capture);
    *subject = (struct subject){0};
}

void subject_settings(const struct subject *subject, struct measure_settings *settings)
{
    if (subject->has_brace) {
        settings->has_brace = true;
        settings->brace_m = subject->brace_m;
    }
    settings->uncertainty.force = subject->force_error;
    settings->uncertainty.travel = subject->travel_error;
    settings->fixture = subject->fixture;
    settings->uncertainty.datum_from_brace = subject->positions_at_brace;
    if (subject->positions_at_brace)
        settings->uncertainty.u_datum_m = subject->fixture.u_brace_m;
}

void subject_warnings(const struct subject *subject, struct warnings *warnings)
{
    if (subject->n_bad_rows > 0)
        warnings_add(warnings,
                     (struct warning){.code = WARNING_BAD_ROWS, .count = subject->n_bad_rows});
    if (subject->n_left_out > 0)
        warnings_add(warnings,
                     (struct warning){.code = WARNING_LEFT_OUT, .count = subject->n_left_out});
    if (subject->errors_unknown)
        warnings_add(warnings, (struct warning){.code = WARNING_UNCERTAINTY_READINGS_ONLY});
}

static void put_table(json_t *source, const struct subject *subject)
{
    json_put(source, "kind", json_text("table"));
    json_put(source, "name", json_text(subject->name));
    json_put(source, "rows", json_integer((json_int_t)subject->readings.n));
    json_put(source, "bad_rows", json_integer((json_int_t)subject->n_bad_rows));
    json_put(source, "first_bad_row",
             subject->n_bad_rows > 0 ? json_text(subject->first_bad_row.text) : json_null());
    json_put(source, "axis", json_text(subject->ata_axis ? "ata" : "pivot"));
    json_put(source, "draw_unit", json_text(unit_name(subject->draw_unit)));
    json_put(source, "force_unit", json_text(unit_name(subject->force_unit)));
    json_t *notes = json_object();
    for (size_t i = 0; i < table_n_notes(subject->table); i++) {
        const char *key, *value;
        table_note_at(subject->table, i, &key, &value);
        json_put(notes, key, json_text(value));
    }
    json_put(source, "notes", notes);
}

static const char *state_name(enum capture_state state)
{
    static const char *const names[] = {[CAPTURE_OPEN] = "open",
                                        [CAPTURE_COMPLETE] = "complete",
                                        [CAPTURE_INCOMPLETE] = "incomplete"};
    return names[state];
}

static void put_capture(json_t *source, const struct subject *subject)
{
    const struct record_capture *capture = &subject->capture;
    json_put(source, "kind", json_text("capture"));
    json_put(source, "name", json_text(subject->name));
    json_put(source, "number", json_integer((json_int_t)capture->number));
    json_put(source, "key", json_text(capture->key));
    json_put(source, "started_at", json_text(capture->started_at));
    json_put(source, "state", json_text(state_name(capture->state)));
    json_put(source, "bow", json_text(capture->bow_name));
    json_put(source, "bench", json_text(capture->bench));
    json_put(source, "note", json_text(capture->note));
    json_put(source, "readings", json_integer((json_int_t)subject->readings.n));
    json_put(source, "left_out", json_integer((json_int_t)subject->n_left_out));
    json_put(source, "force_calibration", json_text(capture->force_calibration_key));
    json_put(source, "travel_calibration", json_text(capture->travel_calibration_key));
}

json_t *subject_json(const struct subject *subject)
{
    json_t *source = json_object();
    if (subject->kind == SUBJECT_TABLE)
        put_table(source, subject);
    else
        put_capture(source, subject);
    return source;
}
