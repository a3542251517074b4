/* A capture of the record as the subject of a verb. */
#include "base/buf.h"
#include "base/mem.h"
#include "curve/calibration.h"
#include "curve/montecarlo.h"
#include "verbs/subject.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The calibration that the capture was made with, fitted anew from its points. */
static enum status read_calibration(struct record *record, const struct record_capture *capture,
                                    enum quantity quantity, struct calibration *calibration,
                                    struct err *err)
{
    bool force = quantity == QUANTITY_FORCE;
    const char *key = force ? capture->force_calibration_key : capture->travel_calibration_key;
    struct record_calibration points = {0};
    enum status status =
        key[0] != '\0' ? record_calibration_get(record, key, &points, err)
                       : record_calibration_newest(record, capture->bench, quantity, &points, err);
    if (status != STATUS_OK)
        return status;
    status = calibration_fit_references(points.points, points.n_points, quantity, points.n_terms,
                                        points.references_independent
                                            ? CALIBRATION_REFERENCES_INDEPENDENT
                                            : CALIBRATION_REFERENCES_COMMON,
                                        calibration, err);
    record_calibration_clear(&points);
    if (status != STATUS_OK)
        return err_prefix(err, "the %s calibration of %s", force ? "force" : "travel",
                          capture->bench);
    return STATUS_OK;
}

static bool is_usable(const struct raw_reading *reading)
{
    const uint32_t both = RAW_HAS_FORCE | RAW_HAS_TRAVEL;
    return (reading->flags & both) == both &&
           (reading->flags & (RAW_FORCE_SATURATED | RAW_TRAVEL_SATURATED)) == 0;
}

/* How the calibrations' errors move the curve. */
static void set_errors(struct subject *subject, const struct raw_reading *raw, size_t n,
                       const struct calibration *force, const struct calibration *travel)
{
    subject->force_error = error_model_of(force, 0);
    for (size_t i = 0; i < n; i++) {
        if (!is_usable(&raw[i]))
            continue;
        subject->travel_error =
            error_model_of(travel, calibration_value(travel, raw[i].travel_count));
        break;
    }
}

static enum status read_counts(struct subject *subject, struct record *record, struct err *err)
{
    const struct record_capture *capture = &subject->capture;
    struct calibration force, travel;
    struct raw_reading *raw = NULL;
    size_t n = 0;
    enum status status = read_calibration(record, capture, QUANTITY_FORCE, &force, err);
    if (status == STATUS_OK)
        status = read_calibration(record, capture, QUANTITY_LENGTH, &travel, err);
    if (status == STATUS_OK)
        status = record_capture_readings(record, capture->key, &raw, &n, err);
    struct datum datum = {.from_brace = subject->has_brace || capture->has_brace,
                          .brace_m = subject->has_brace ? subject->brace_m : capture->brace_m};
    struct converted converted = {0};
    if (status == STATUS_OK)
        status = convert_raw(raw, n, &force, &travel, &datum, &converted, err);
    if (status == STATUS_OK) {
        set_errors(subject, raw, n, &force, &travel);
        subject->positions_at_brace = datum.from_brace;
        subject->readings = converted.readings;
        subject->draw_m = converted.draw_m;
        subject->force_n = converted.force_n;
        subject->time_s = converted.time_s;
        subject->n_left_out = converted.n_left_out;
        subject->has_brace = false; /* it is in the positions now */
    }
    free(raw);
    return status;
}

static enum status read_values(struct subject *subject, struct record *record, struct err *err)
{
    struct record_value *values = NULL;
    size_t n = 0;
    enum status status = record_capture_values(record, subject->capture.key, &values, &n, err);
    if (status != STATUS_OK)
        return status;
    bool has_time = n > 0;
    subject->draw_m = mem_calloc(n, sizeof(double));
    subject->force_n = mem_calloc(n, sizeof(double));
    subject->time_s = mem_calloc(n, sizeof(double));
    for (size_t i = 0; i < n; i++) {
        subject->draw_m[i] = values[i].draw_m;
        subject->force_n[i] = values[i].force_n;
        subject->time_s[i] = values[i].time_s;
        has_time = has_time && isfinite(values[i].time_s);
    }
    subject->readings = (struct readings){.n = n,
                                          .draw_m = subject->draw_m,
                                          .force_n = subject->force_n,
                                          .time_s = has_time ? subject->time_s : NULL};
    if (!subject->has_brace && subject->capture.has_brace) {
        subject->has_brace = true;
        subject->brace_m = subject->capture.brace_m;
    }
    subject->positions_at_brace = subject->has_brace;
    subject->errors_unknown = true;
    free(values);
    return STATUS_OK;
}

static void name_it(struct subject *subject)
{
    const struct record_capture *capture = &subject->capture;
    struct buf name = {0};
    buf_printf(&name, "capture %" PRId64, capture->number);
    subject->name = mem_strdup(buf_string(&name));
    bool has_bow = capture->bow_name != NULL && capture->bow_name[0] != '\0';
    if (has_bow)
        buf_printf(&name, ": %s", capture->bow_name);
    subject->title = mem_strdup(buf_string(&name));
    buf_clear(&name);
}

enum status subject_read_capture(struct subject *subject, struct record *record, const char *text,
                                 struct err *err)
{
    subject->kind = SUBJECT_CAPTURE;
    enum status status = record_capture_find(record, text, &subject->capture, err);
    if (status != STATUS_OK)
        return status;
    status = subject->capture.content == CAPTURE_VALUES ? read_values(subject, record, err)
                                                        : read_counts(subject, record, err);
    if (status != STATUS_OK)
        return err_prefix(err, "capture %" PRId64, subject->capture.number);
    subject->fixture = subject->capture.fixture;
    name_it(subject);
    return STATUS_OK;
}

enum status subject_open_capture(struct subject *subject, const struct options *options,
                                 const char *text, struct err *err)
{
    if (options_has(options, "columns") || options_has(options, "axis") ||
        options_has(options, "skip-bad-rows"))
        return err_set(
            err, STATUS_USAGE,
            "--columns, --axis and --skip-bad-rows are for table files; '%s' is taken as "
            "a capture, since no file is called so",
            text);
    char *path = NULL;
    struct record *record = NULL;
    enum status status = options_record_path(options, &path, err);
    if (status == STATUS_OK)
        status = record_open(&record, path, RECORD_READ, err);
    if (status == STATUS_OK)
        status = subject_read_capture(subject, record, text, err);
    record_close(record);
    free(path);
    return status;
}
