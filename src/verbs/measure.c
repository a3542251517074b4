/* measure: the figures of a table file or a capture. */
#include "show/corrections.h"
#include "show/escape.h"
#include "show/figures_csv.h"
#include "show/figures_json.h"
#include "show/figures_text.h"
#include "show/json.h"
#include "show/plot_curve.h"
#include "verbs/error_options.h"
#include "verbs/measure_options.h"
#include "verbs/options.h"
#include "verbs/subject.h"
#include "verbs/verb.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

static const struct option_spec spec[] = {
    SUBJECT_OPTIONS,
    MEASURE_OPTIONS,
    ERROR_OPTIONS,
    {"budget", NULL, "also what each source of error gives to the uncertainties"},
    {"json", NULL, "print one JSON object"},
    {"csv", NULL, "print one row a figure"},
    {"png", "FILE", "draw the curve into this file"},
    {"svg", "FILE", "the same as SVG"},
    {"plot", NULL, "draw the curve in the terminal, made of characters"},
    {"title", "TEXT", "what stands above the picture (default: the file's note 'title', the bow)"},
    {NULL, NULL, NULL},
};

struct job {
    struct subject subject;
    struct measure_settings settings;
    struct measurement measurement;
    enum unit_system units;
    const char *title;
};

static enum status read_settings(const struct options *options, struct job *job, struct err *err)
{
    enum status status = measure_options_read(options, &job->settings, &job->units, err);
    job->settings.want_budget = options_has(options, "budget");
    int printed =
        options_has(options, "json") + options_has(options, "csv") + options_has(options, "plot");
    if (status == STATUS_OK && printed > 1)
        return err_set(err, STATUS_USAGE,
                       "--json, --csv and --plot print different things; take "
                       "one of them");
    return status;
}

static json_t *budget_json(const struct job *job)
{
    json_t *budget = json_object();
    for (int f = 0; f < FIGURE_COUNT; f++) {
        enum figure_id id = (enum figure_id)f;
        if (!job->measurement.figures.f[id].present)
            continue;
        json_t *sources = json_object();
        for (int s = 0; s < SOURCE_COUNT; s++)
            json_put(sources, source_name((enum source)s),
                     json_real(unit_from_si(shown_figure_unit(id, job->units),
                                            job->measurement.budget.u_si[s][f])));
        json_put(budget, figure_info(id)->name, sources);
    }
    return budget;
}

static void write_json(struct buf *out, const struct job *job)
{
    const struct measurement *m = &job->measurement;
    json_t *root = json_object(), *pulls = json_array();
    for (size_t i = 0; i < m->n_pulls; i++)
        json_add(pulls, figures_json(&m->pulls[i].figures, job->units));
    json_put(root, "schema", json_integer(1));
    json_put(root, "source", subject_json(&job->subject));
    json_put(root, "settings", settings_json(&job->settings, m, job->units));
    json_put(root, "pulls", pulls);
    json_put(root, "figures", figures_json(&m->figures, job->units));
    if (m->has_budget)
        json_put(root, "budget", budget_json(job));
    json_put(root, "warnings", warnings_json(&m->warnings, job->units));
    json_render(out, root);
    json_decref(root);
}

/* Which file, which pulls, which full draw: what the figures below are of. */
static void write_heading(struct buf *out, const struct job *job)
{
    const struct measurement *m = &job->measurement;
    escape_terminal(out, job->title);
    if (strcmp(job->title, job->subject.title) != 0 || job->subject.kind == SUBJECT_TABLE) {
        buf_text(out, " (");
        escape_terminal(out, job->subject.name);
        buf_char(out, ')');
    }
    buf_printf(out, "\n%zu pull%s, %zu readings; full draw: %s\n", m->n_pulls,
               m->n_pulls == 1 ? "" : "s", job->subject.readings.n,
               full_draw_rule_name(m->full_draw));
    corrections_text(out, &job->settings.fixture, job->units);
    buf_char(out, '\n');
}

/* A terminal's size, or nothing where it can't be known. */
static void terminal_size(int *columns, int *rows)
{
    struct winsize size;
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col >= 40 && size.ws_row >= 16) {
        *columns = size.ws_col < 160 ? size.ws_col : 160;
        *rows = size.ws_row < 50 ? size.ws_row - 1 : 49;
    }
}

static enum status draw(const struct job *job, enum picture picture, struct buf *out,
                        struct err *err)
{
    struct plot_curve plot = {.measurement = &job->measurement,
                              .title = job->title,
                              .units = job->units,
                              .picture = picture};
    if (picture == PICTURE_TEXT)
        terminal_size(&plot.width, &plot.height);
    return plot_curve(&plot, out, err);
}

static enum status draw_file(const struct job *job, enum picture picture, const char *path,
                             struct err *err)
{
    struct buf drawn = {0};
    enum status status = path != NULL ? draw(job, picture, &drawn, err) : STATUS_OK;
    if (status == STATUS_OK && path != NULL)
        status = buf_write_file(&drawn, path, err);
    buf_clear(&drawn);
    return status;
}

static enum status write_text(struct buf *out, const struct job *job, bool plot, struct err *err)
{
    const struct measurement *m = &job->measurement;
    enum status status = plot ? draw(job, PICTURE_TEXT, out, err) : STATUS_OK;
    if (plot)
        buf_char(out, '\n');
    write_heading(out, job);
    figures_text(out, m, job->units);
    if (m->has_budget) {
        buf_text(out, "\nStandard uncertainty from each source alone:\n");
        budget_text(out, m, job->units);
    }
    if (m->warnings.n > 0)
        buf_char(out, '\n');
    warnings_text(out, &m->warnings, job->units);
    if (job->subject.n_bad_rows > 0) {
        buf_text(out, "  The first: ");
        escape_terminal(out, job->subject.first_bad_row.text);
        buf_char(out, '\n');
    }
    return status;
}

static enum status write_all(const struct job *job, const struct options *options, struct err *err)
{
    struct buf out = {0}, notes = {0};
    enum status status = STATUS_OK;
    if (options_has(options, "json")) {
        write_json(&out, job);
    } else if (options_has(options, "csv")) {
        figures_csv(&out, &job->measurement, job->units);
        warnings_text(&notes, &job->measurement.warnings, job->units);
    } else {
        status = write_text(&out, job, options_has(options, "plot"), err);
    }
    if (status == STATUS_OK)
        status = draw_file(job, PICTURE_PNG, options_text(options, "png", NULL), err);
    if (status == STATUS_OK)
        status = draw_file(job, PICTURE_SVG, options_text(options, "svg", NULL), err);
    struct err ignored;
    enum status written = buf_write_stdout(&out, status == STATUS_OK ? err : &ignored);
    (void)fputs(buf_string(&notes), stderr);
    buf_clear(&out);
    buf_clear(&notes);
    return status != STATUS_OK ? status : written;
}

static enum status run(const struct options *options, struct err *err)
{
    struct job job = {0};
    const char *operand = options_n_operands(options) > 0 ? options_operand(options, 0) : NULL;
    enum status status = read_settings(options, &job, err);
    if (status == STATUS_OK)
        status = subject_open(&job.subject, options, operand, err);
    if (status != STATUS_OK)
        return status;
    subject_settings(&job.subject, &job.settings);
    job.title = options_text(options, "title", job.subject.title);
    status = error_options_read(options, &job.subject, &job.settings, err);
    if (status != STATUS_OK) {
        subject_close(&job.subject);
        return status;
    }
    status = measure_run(&job.subject.readings, &job.settings, &job.measurement, err);
    if (status == STATUS_OK) {
        subject_warnings(&job.subject, &job.measurement.warnings);
        status = write_all(&job, options, err);
        measurement_clear(&job.measurement);
    } else {
        err_prefix(err, "%s", job.subject.name);
    }
    subject_close(&job.subject);
    return status;
}

const struct verb verb_measure = {
    .name = "measure",
    .operands = "[FILE | CAPTURE]",
    .summary = "compute the figures of a pull, and draw its curve",
    .description =
        "Computes peak draw force, holding weight, let-off, stored energy, hysteresis, wall and "
        "the other figures of a force-draw curve, from a table file (CSV) or from a capture of "
        "the record, given by its number, its key or `last`. Without an operand the last capture "
        "is taken. What is called like a file that exists is a file.\n\n"
        "Each figure comes with its standard uncertainty u, as far as the readings and the "
        "calibrations tell, and what does not exist for this bow or these readings is left out, "
        "with a reason. Several pulls are averaged.",
    .spec = spec,
    .operands_min = 0,
    .operands_max = 1,
    .run = run,
};
