/* export: a capture as a table file, or the whole record as one JSON document. */
#include "base/number.h"
#include "record/document.h"
#include "record/record.h"
#include "show/shown.h"
#include "verbs/capture_notes.h"
#include "verbs/file_sink.h"
#include "verbs/options.h"
#include "verbs/raw_table.h"
#include "verbs/subject.h"
#include "verbs/verb.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#define BRACE_LOW_M 0.0
#define BRACE_HIGH_M 1.0

static const struct option_spec spec[] = {
    {"csv", NULL, "a table of draw position and force, calibrated (this is what is done anyway)"},
    {"raw", NULL, "a table of counts and times as the bench gave them, nothing left out"},
    {"json", NULL,
     "a JSON document: with a capture that one, with its bow and calibrations; with --all the "
     "whole record"},
    {"all", NULL, "the whole record as one JSON document; FILE may stand behind it"},
    {"output", "FILE", "write there instead of to standard output"},
    {"units", "trade|si", "draw_in and force_lbf, or draw_m and force_n (default trade)"},
    {"brace", "LENGTH", "brace height, from the pivot point to the string (default: as captured)"},
    {"skip-damaged", NULL, "with --raw: leave out damaged chunks, and go on"},
    {"record", "FILE", "the shop's record"},
    {NULL, NULL, NULL},
};

/* What is to be exported, and where to. */
struct job {
    const struct options *options;
    struct record *record;
    char *record_path;
    const char *text; /* the capture */
    enum unit_system units;
    struct file_sink sink;
};

static enum status check_options(const struct options *options, struct err *err)
{
    bool all = options_has(options, "all"), raw = options_has(options, "raw"),
         json = options_has(options, "json"), csv = options_has(options, "csv");
    if (all && (raw || csv))
        return err_set(err, STATUS_USAGE, "--all gives JSON; --csv and --raw are for one capture");
    if (json && (raw || csv))
        return err_set(err, STATUS_USAGE, "--json stands for itself, without --csv and --raw");
    if ((raw || json || all) && (options_has(options, "units") || options_has(options, "brace")))
        return err_set(err, STATUS_USAGE, "--units and --brace are for the calibrated table");
    if (options_has(options, "skip-damaged") && !raw)
        return err_set(err, STATUS_USAGE, "--skip-damaged goes with --raw");
    if (!all && options_n_operands(options) == 0)
        return err_set(err, STATUS_USAGE,
                       "which capture? `pullcurve history` lists them; `last` is the newest");
    return STATUS_OK;
}

/* Where the text goes: --output, or with --all what stands behind it; NULL for standard output. */
static enum status find_output(const struct options *options, const char **output, struct err *err)
{
    *output = options_text(options, "output", NULL);
    if (!options_has(options, "all") || options_n_operands(options) == 0)
        return STATUS_OK;
    if (*output != NULL)
        return err_set(err, STATUS_USAGE, "'%s' and --output '%s': one file is enough",
                       options_operand(options, 0), *output);
    *output = options_operand(options, 0);
    return STATUS_OK;
}

/* An export over the record itself would be the end of it. */
static enum status check_output(const struct job *job, const char *output, struct err *err)
{
    struct stat record, other;
    if (output == NULL || stat(output, &other) != 0 || stat(job->record_path, &record) != 0 ||
        record.st_dev != other.st_dev || record.st_ino != other.st_ino)
        return STATUS_OK;
    return err_set(err, STATUS_USAGE, "%s: is the record itself; choose another file", output);
}

/* Hands the text on and empties it. */
static enum status flush(struct job *job, struct buf *text, struct err *err)
{
    enum status status = file_sink_write(&job->sink, text, err);
    text->length = 0;
    return status;
}

static enum status write_raw(struct job *job, const struct record_capture *capture, struct err *err)
{
    struct raw_reading *readings = NULL;
    size_t n = 0, n_damaged = 0;
    enum status status =
        options_has(job->options, "skip-damaged")
            ? record_capture_salvage_readings(job->record, capture->key, &readings, &n, &n_damaged,
                                              err)
            : record_capture_readings(job->record, capture->key, &readings, &n, err);
    struct buf text = {0};
    if (status == STATUS_OK) {
        capture_notes_write(&text, capture, "raw readings");
        if (n_damaged > 0)
            buf_printf(&text, "# damaged: %zu readings are left out\n", n_damaged);
        raw_table_write(&text, readings, n);
        status = flush(job, &text, err);
    }
    buf_clear(&text);
    free(readings);
    return status;
}

static enum status export_raw(struct job *job, struct err *err)
{
    struct record_capture capture;
    enum status status = record_capture_find(job->record, job->text, &capture, err);
    if (status == STATUS_OK)
        status = write_raw(job, &capture, err);
    record_capture_clear(&capture);
    return status;
}

static void add_row(struct buf *out, const struct readings *readings, size_t i, enum unit draw_unit,
                    enum unit force_unit)
{
    char number[NUMBER_TEXT_MAX];
    if (readings->time_s != NULL) {
        buf_text(out, number_exact(number, readings->time_s[i]));
        buf_char(out, ',');
    }
    buf_text(out, number_exact(number, unit_from_si(draw_unit, readings->draw_m[i])));
    buf_char(out, ',');
    buf_text(out, number_exact(number, unit_from_si(force_unit, readings->force_n[i])));
    buf_char(out, '\n');
}

static enum status write_calibrated(struct job *job, const struct subject *subject, struct err *err)
{
    bool si = job->units == UNITS_SI;
    enum unit draw_unit = shown_unit(QUANTITY_LENGTH, job->units);
    enum unit force_unit = shown_unit(QUANTITY_FORCE, job->units);
    struct buf text = {0};
    capture_notes_write(&text, &subject->capture, "draw position and force");
    buf_text(&text, "# axis: pivot\n");
    if (subject->n_left_out > 0)
        buf_printf(&text, "# left_out: %zu readings, incomplete or saturated\n",
                   subject->n_left_out);
    buf_printf(&text, "%s%s,%s\n", subject->readings.time_s != NULL ? "time_s," : "",
               si ? "draw_m" : "draw_in", si ? "force_n" : "force_lbf");
    for (size_t i = 0; i < subject->readings.n; i++)
        add_row(&text, &subject->readings, i, draw_unit, force_unit);
    enum status status = flush(job, &text, err);
    buf_clear(&text);
    return status;
}

static enum status export_calibrated(struct job *job, struct err *err)
{
    struct subject subject = {.has_brace = options_has(job->options, "brace")};
    enum status status = options_quantity(job->options, "brace", QUANTITY_LENGTH, UNIT_IN,
                                          BRACE_LOW_M, BRACE_HIGH_M, 0, &subject.brace_m, err);
    double brace_m = subject.brace_m;
    bool stated = subject.has_brace;
    if (status == STATUS_OK)
        status = subject_read_capture(&subject, job->record, job->text, err);
    if (status == STATUS_OK && stated) { /* the notes say what the positions are from */
        subject.capture.has_brace = true;
        subject.capture.brace_m = brace_m;
    }
    if (status == STATUS_OK)
        status = write_calibrated(job, &subject, err);
    subject_close(&subject);
    return status;
}

static enum status export_document(struct job *job, struct err *err)
{
    const struct document_sink sink = {file_sink_write, &job->sink};
    if (options_has(job->options, "all"))
        return document_write(job->record, &sink, err);
    struct record_capture capture;
    enum status status = record_capture_find(job->record, job->text, &capture, err);
    if (status == STATUS_OK)
        status = document_write_capture(job->record, capture.key, &sink, err);
    record_capture_clear(&capture);
    return status;
}

static enum status export_it(struct job *job, struct err *err)
{
    if (options_has(job->options, "all") || options_has(job->options, "json"))
        return export_document(job, err);
    return options_has(job->options, "raw") ? export_raw(job, err) : export_calibrated(job, err);
}

static enum status open_job(struct job *job, const char **output, struct err *err)
{
    const char *units = options_text(job->options, "units", "trade");
    enum status status = check_options(job->options, err);
    if (status == STATUS_OK && !unit_system_parse(units, &job->units))
        status = err_set(err, STATUS_USAGE, "--units: '%s' is neither trade nor si", units);
    if (status == STATUS_OK)
        status = find_output(job->options, output, err);
    if (status == STATUS_OK)
        status = options_record_path(job->options, &job->record_path, err);
    if (status == STATUS_OK)
        status = record_open(&job->record, job->record_path, RECORD_READ, err);
    if (status == STATUS_OK)
        status = check_output(job, *output, err);
    return status;
}

static enum status run(const struct options *options, struct err *err)
{
    struct job job = {.options = options};
    const char *output;
    enum status status = open_job(&job, &output, err);
    if (status == STATUS_OK && options_n_operands(options) > 0)
        job.text = options_operand(options, 0);
    if (status == STATUS_OK)
        status = file_sink_open(&job.sink, output, err);
    if (status == STATUS_OK)
        status = file_sink_close(&job.sink, export_it(&job, err), err);
    record_close(job.record);
    free(job.record_path);
    return status;
}

const struct verb verb_export = {
    .name = "export",
    .operands = "CAPTURE | --all [FILE]",
    .summary = "write a capture as a table, or the whole record as JSON",
    .description =
        "CAPTURE is a number, a key or the beginning of one, or `last`. The calibrated table can "
        "be measured and imported like any other; notes at its top say where it comes from. "
        "--raw and JSON lose nothing: `pullcurve import` makes the same capture, or the same "
        "record, of them.\n"
        "Everything is kept in SI units; a table in trade units is rounded where it must be, one "
        "in si is exact.",
    .spec = spec,
    .operands_min = 0,
    .operands_max = 1,
    .run = run,
};
