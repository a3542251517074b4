#include "verbs/import_table.h"
#include "base/buf.h"
#include "base/mem.h"
#include "verbs/capture_notes.h"
#include "verbs/raw_table.h"
#include "verbs/subject.h"

#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void remark(struct imported *imported, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void remark(struct imported *imported, const char *format, ...)
{
    char text[ERR_TEXT_MAX];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    imported->remarks =
        mem_realloc(imported->remarks, imported->n_remarks + 1, sizeof *imported->remarks);
    imported->remarks[imported->n_remarks++] = mem_strdup(text);
}

void imported_clear(struct imported *imported)
{
    for (size_t i = 0; i < imported->n_remarks; i++)
        free(imported->remarks[i]);
    free(imported->remarks);
    record_capture_clear(&imported->capture);
    *imported = (struct imported){0};
}

static const char *last_part(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash != NULL && slash[1] != '\0' ? slash + 1 : path;
}

static void set_text(char **text, const char *value)
{
    free(*text);
    *text = mem_strdup(value);
}

static void set_bow(struct record_capture *capture, const struct record_bow *bow)
{
    memcpy(capture->bow_key, bow->key, sizeof bow->key);
    set_text(&capture->bow_name, bow->name);
}

/* The bow of --bow; else that of the notes, if this record knows it by key or by its exact name. */
static enum status find_bow(struct imported *imported, struct record *record,
                            const struct options *options, struct err *err)
{
    struct record_capture *capture = &imported->capture;
    const char *stated = options_text(options, "bow", NULL);
    struct record_bow bow = record_bow_blank();
    enum status status = STATUS_OK;
    if (stated != NULL) {
        status = record_bow_find(record, stated, &bow, err);
        if (status == STATUS_OK)
            set_bow(capture, &bow);
        record_bow_clear(&bow);
        return status;
    }
    bool known = capture->bow_key[0] != '\0' &&
                 record_bow_find(record, capture->bow_key, &bow, NULL) == STATUS_OK;
    if (!known && capture->bow_name[0] != '\0')
        known = record_bow_find(record, capture->bow_name, &bow, NULL) == STATUS_OK &&
                strcmp(bow.name, capture->bow_name) == 0;
    if (known) {
        set_bow(capture, &bow);
    } else {
        if (capture->bow_name[0] != '\0')
            remark(imported,
                   "The file's bow '%.200s' is not in this record: the capture has no bow. "
                   "Register it, or say which it is with --bow.",
                   capture->bow_name);
        capture->bow_key[0] = '\0';
        set_text(&capture->bow_name, "");
    }
    record_bow_clear(&bow);
    return STATUS_OK;
}

static enum status take_brace(struct imported *imported, const struct options *options,
                              struct err *err)
{
    double brace_m;
    enum status status =
        options_quantity(options, "brace", QUANTITY_LENGTH, UNIT_IN, 0.0, 1.0, 0, &brace_m, err);
    if (status == STATUS_OK && options_has(options, "brace")) {
        imported->capture.has_brace = true;
        imported->capture.brace_m = brace_m;
    }
    return status;
}

static enum status apply_options(struct imported *imported, struct record *record,
                                 const struct options *options, const char *name, struct err *err)
{
    struct record_capture *capture = &imported->capture;
    const char *bench = options_text(options, "bench", NULL);
    const char *note = options_text(options, "note", NULL);
    if (bench != NULL)
        set_text(&capture->bench, bench);
    if (note != NULL)
        set_text(&capture->note, note);
    struct buf text = {0};
    if (capture->note[0] == '\0') {
        buf_printf(&text, "imported from %s", last_part(name));
        set_text(&capture->note, buf_string(&text));
        buf_clear(&text);
    }
    if (capture->program[0] == '\0')
        set_text(&capture->program, "pullcurve " PULLCURVE_VERSION " import");
    enum status status = take_brace(imported, options, err);
    return status == STATUS_OK ? find_bow(imported, record, options, err) : status;
}

/* --- counts ------------------------------------------------------------------------------- */

static void drop_unknown_calibration(struct imported *imported, struct record *record, char *key,
                                     const char *what)
{
    struct record_calibration calibration;
    if (key[0] == '\0' || record_calibration_get(record, key, &calibration, NULL) == STATUS_OK) {
        if (key[0] != '\0')
            record_calibration_clear(&calibration);
        return;
    }
    remark(imported,
           "The %s calibration it was captured with (key %.8s) is not in this record: the newest "
           "one of its bench will be used.",
           what, key);
    key[0] = '\0';
}

/* Readings of the capture that is here and has the table's key. */
struct present {
    struct record_capture capture;
    struct raw_reading *readings;
    size_t n;
};

static void clear_present(struct present *present)
{
    record_capture_clear(&present->capture);
    free(present->readings);
}

static enum status read_present(struct present *present, struct record *record, const char *key,
                                bool *is_here, struct err *err)
{
    *present = (struct present){0};
    struct err own;
    enum status status = record_capture_find(record, key, &present->capture, &own);
    *is_here = status == STATUS_OK && present->capture.content == CAPTURE_RAW;
    if (*is_here)
        return record_capture_readings(record, key, &present->readings, &present->n, err);
    return status == STATUS_OK || status == STATUS_NO_INPUT ? STATUS_OK
                                                            : err_set(err, status, "%s", own.text);
}

static bool same_readings(const struct raw_reading *a, const struct raw_reading *b, size_t n)
{
    return n == 0 || memcmp(a, b, n * sizeof *a) == 0;
}

/* The file of a running capture holds its beginning, a spill file its end. */
static bool is_part_of(const struct raw_table *raw, const struct present *present)
{
    return raw->n <= present->n &&
           (same_readings(raw->readings, present->readings, raw->n) ||
            same_readings(raw->readings, present->readings + (present->n - raw->n), raw->n));
}

static bool goes_on(const struct raw_table *raw, const struct present *present)
{
    return present->n == 0 ||
           raw->readings[0].arrival_us >= present->readings[present->n - 1].arrival_us;
}

/* The capture was left open: the file's readings complete it. */
static enum status complete_present(struct imported *imported, struct record *record,
                                    const struct present *present, const struct raw_table *raw,
                                    struct err *err)
{
    struct capture_counts counts = present->capture.counts;
    counts.n_readings = (int64_t)(present->n + raw->n);
    imported->outcome = IMPORT_CONTINUED;
    enum status status =
        record_capture_append(record, present->capture.key, raw->readings, raw->n, err);
    if (status == STATUS_OK)
        status = record_capture_end(record, present->capture.key, CAPTURE_INCOMPLETE, &counts, err);
    return status;
}

/* The capture has ended and is not changed: a new one holds its readings and those of the file. */
static void join_present(struct imported *imported, struct present *present, struct raw_table *raw,
                         const char *name)
{
    struct record_capture *capture = &imported->capture;
    int64_t number = present->capture.number;
    struct buf note = {0};
    buf_printf(&note, "%s%scapture %" PRId64 " with the readings of %s", present->capture.note,
               present->capture.note[0] != '\0' ? "; " : "", number, last_part(name));
    record_capture_clear(capture);
    *capture = present->capture; /* its texts move */
    present->capture = (struct record_capture){0};
    set_text(&capture->note, buf_string(&note));
    buf_clear(&note);
    capture->key[0] = '\0';
    present->readings =
        mem_realloc(present->readings, present->n + raw->n, sizeof *present->readings);
    memcpy(present->readings + present->n, raw->readings, raw->n * sizeof *raw->readings);
    free(raw->readings);
    raw->readings = present->readings;
    raw->n += present->n;
    present->readings = NULL;
    remark(imported,
           "The readings go on from those of capture %" PRId64 ", which stays as it is; the new "
           "capture holds both.",
           number);
}

/* Adds the capture; imported->capture is what is to be known of it. */
static enum status add_raw(struct imported *imported, struct record *record,
                           const struct raw_table *raw, struct err *err)
{
    struct record_capture *capture = &imported->capture;
    drop_unknown_calibration(imported, record, capture->force_calibration_key, "force");
    drop_unknown_calibration(imported, record, capture->travel_calibration_key, "travel");
    if (capture->bench[0] == '\0')
        remark(imported, "No bench is named: it can't be measured, for want of a calibration. "
                         "Import it again with --bench.");
    capture->counts.n_readings = (int64_t)raw->n;
    return record_capture_add(record, capture, raw->readings, NULL, raw->n, err);
}

static enum status place_raw(struct imported *imported, struct record *record,
                             const struct options *options, struct raw_table *raw, const char *name,
                             struct err *err)
{
    struct record_capture *capture = &imported->capture;
    struct present present = {0};
    bool is_here = false;
    enum status status = STATUS_OK;
    if (capture->key[0] != '\0')
        status = read_present(&present, record, capture->key, &is_here, err);
    if (status == STATUS_OK && is_here && is_part_of(raw, &present)) {
        imported->outcome = IMPORT_SAME;
    } else if (status == STATUS_OK && is_here && goes_on(raw, &present) &&
               present.capture.state == CAPTURE_OPEN) {
        status = complete_present(imported, record, &present, raw, err);
    } else if (status == STATUS_OK) {
        if (is_here && goes_on(raw, &present))
            join_present(imported, &present, raw, name);
        else if (is_here)
            remark(imported,
                   "Capture %" PRId64 " of this record has the same key but other readings; it "
                   "stays as it is, and this is a new one.",
                   present.capture.number);
        if (is_here)
            capture->key[0] = '\0';
        status = apply_options(imported, record, options, name, err);
        if (status == STATUS_OK)
            status = add_raw(imported, record, raw, err);
    }
    clear_present(&present);
    return status;
}

static enum status import_raw(struct imported *imported, struct record *record,
                              const struct options *options, const struct table *table,
                              struct err *err)
{
    struct raw_table raw = {0};
    enum status status = capture_notes_read(table, &imported->capture, err);
    if (status == STATUS_OK)
        status = raw_table_read(&raw, table, options_has(options, "skip-bad-rows"), err);
    if (status == STATUS_OK && raw.n == 0)
        status = err_set(err, STATUS_TOO_FEW, "%s: holds no reading", table_name(table));
    imported->n_readings = raw.n;
    imported->n_bad_rows = raw.n_bad;
    if (status == STATUS_OK)
        status = place_raw(imported, record, options, &raw, table_name(table), err);
    raw_table_clear(&raw);
    return status;
}

/* --- values ------------------------------------------------------------------------------- */

static enum status add_values(struct imported *imported, struct record *record,
                              const struct readings *readings, struct err *err)
{
    struct record_capture *capture = &imported->capture;
    capture->content = CAPTURE_VALUES;
    capture->counts.n_readings = (int64_t)readings->n;
    /* whatever it was made from, it is a capture of its own, without counts to calibrate */
    capture->key[0] = capture->force_calibration_key[0] = capture->travel_calibration_key[0] = '\0';
    struct record_value *values = mem_calloc(readings->n, sizeof *values);
    for (size_t i = 0; i < readings->n; i++)
        values[i] = (struct record_value){
            .draw_m = readings->draw_m[i],
            .force_n = readings->force_n[i],
            .time_s = readings->time_s != NULL ? readings->time_s[i] : (double)NAN,
        };
    enum status status = record_capture_add(record, capture, NULL, values, readings->n, err);
    free(values);
    return status;
}

static enum status import_values(struct imported *imported, struct record *record,
                                 const struct options *options, struct table *table,
                                 struct err *err)
{
    struct subject subject = {0};
    enum status status = capture_notes_read(table, &imported->capture, err);
    if (status != STATUS_OK) {
        table_close(table);
        return status;
    }
    status = subject_read_table(&subject, options, table, err); /* has taken it over */
    if (status == STATUS_OK && subject.readings.n == 0)
        status = err_set(err, STATUS_TOO_FEW, "%s: holds no reading", subject.name);
    if (status == STATUS_OK)
        status = apply_options(imported, record, options, subject.name, err);
    imported->n_readings = subject.readings.n;
    imported->n_bad_rows = subject.n_bad_rows;
    if (status == STATUS_OK)
        status = add_values(imported, record, &subject.readings, err);
    subject_close(&subject);
    return status;
}

/* --- both --------------------------------------------------------------------------------- */

/* Where the record keeps it now, as the record tells it. */
static enum status read_back(struct imported *imported, struct record *record, struct err *err)
{
    char key[RECORD_KEY_MAX];
    memcpy(key, imported->capture.key, sizeof key);
    record_capture_clear(&imported->capture);
    return record_capture_find(record, key, &imported->capture, err);
}

enum status import_table(struct imported *imported, struct record *record,
                         const struct options *options, struct table *table, struct err *err)
{
    *imported = (struct imported){0};
    enum status status;
    if (raw_table_is(table)) {
        status = import_raw(imported, record, options, table, err);
        table_close(table);
    } else {
        status = import_values(imported, record, options, table, err);
    }
    return status == STATUS_OK ? read_back(imported, record, err) : status;
}
