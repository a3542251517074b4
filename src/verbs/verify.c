/* verify: does a bow meet its spec, as far as a measurement can prove it? */
#include "base/mem.h"
#include "base/number.h"
#include "show/corrections.h"
#include "show/escape.h"
#include "show/figures_json.h"
#include "show/json.h"
#include "show/verdict.h"
#include "verbs/error_options.h"
#include "verbs/figure_text.h"
#include "verbs/measure_options.h"
#include "verbs/options.h"
#include "verbs/subject.h"
#include "verbs/verb.h"
#include "verbs/verify_limits.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const struct option_spec spec[] = {
    LIMIT_OPTIONS,
    {"decision", "simple|guarded",
     "guarded: a verdict must be proven (default); simple: the measured number decides alone"},
    {"probability", "P", "how well a guarded verdict must be proven, 0.5 to 1 (default 0.95)"},
    {"add-u", "FIGURE=AMOUNT",
     "add this standard uncertainty to the figure's own, in squares, may be repeated: "
     "peak_force=0.3"},
    SUBJECT_OPTIONS,
    MEASURE_OPTIONS,
    ERROR_OPTIONS,
    {"json", NULL, "print one JSON object"},
    {NULL, NULL, NULL},
};

struct job {
    struct subject subject;
    struct limits limits;
    struct measure_settings settings;
    struct conformity_settings decision;
    struct measurement measurement;
    struct spec_subject judged;
    struct spec_verdict *verdicts; /* one a limit */
    enum unit_system units;
};

/* --- options -------------------------------------------------------------------------------- */

static enum status read_decision(const struct options *options,
                                 struct conformity_settings *decision, struct err *err)
{
    const char *rule = options_text(options, "decision", "guarded");
    const char *probability = options_text(options, "probability", NULL);
    *decision = conformity_defaults();
    if (strcasecmp(rule, "simple") == 0)
        decision->rule = CONFORMITY_SIMPLE;
    else if (strcasecmp(rule, "guarded") != 0)
        return err_set(err, STATUS_USAGE, "--decision: '%s' is neither simple nor guarded", rule);
    if (probability == NULL)
        return STATUS_OK;
    if (decision->rule == CONFORMITY_SIMPLE)
        return err_set(err, STATUS_USAGE, "--probability goes with a guarded decision only");
    if (!number_parse(probability, &decision->probability) || !(decision->probability > 0.5) ||
        !(decision->probability < 1))
        return err_set(err, STATUS_USAGE,
                       "--probability: '%s' is no number between 0.5 and 1, such as 0.95",
                       probability);
    return STATUS_OK;
}

/* Tells a fault in any --add-u before anything is measured. */
static enum status read_added_u(const struct options *options, size_t i, enum figure_id *figure,
                                double *u_si, struct err *err)
{
    const char *amount;
    enum status status = figure_text_split(options_nth(options, "add-u", i), figure, &amount, err);
    if (status == STATUS_OK)
        status = figure_text_amount(amount, *figure, u_si, err);
    return status == STATUS_OK ? STATUS_OK : err_prefix(err, "--add-u");
}

static enum status read_options(const struct options *options, struct job *job, struct err *err)
{
    enum status status = measure_options_read(options, &job->settings, &job->units, err);
    if (status == STATUS_OK)
        status = read_decision(options, &job->decision, err);
    for (size_t i = 0; status == STATUS_OK && i < options_count(options, "add-u"); i++) {
        enum figure_id figure;
        double u_si;
        status = read_added_u(options, i, &figure, &u_si, err);
    }
    if (status == STATUS_OK)
        status = limits_read(&job->limits, options, err);
    return status;
}

/* --- judging -------------------------------------------------------------------------------- */

/* Is the brace height known from a person alone? Where it is just the maker's number, as where the
 * bench was not told another, its uncertainty is no measurement's either. */
static bool brace_is_entered(const struct job *job)
{
    const struct subject *subject = &job->subject;
    if (!subject->positions_at_brace && !subject->has_brace)
        return false;
    double brace_m = subject->brace_m > 0 ? subject->brace_m : subject->capture.brace_m;
    return !(job->settings.uncertainty.u_datum_m > 0) || brace_m == job->limits.bow.brace_height_m;
}

static enum status judge(struct job *job, const struct options *options, struct err *err)
{
    const struct spec *limits = &job->limits.spec;
    job->judged = spec_subject_of(&job->measurement, &job->settings, brace_is_entered(job));
    for (size_t i = 0; i < options_count(options, "add-u"); i++) {
        enum figure_id figure;
        double u_si;
        enum status status = read_added_u(options, i, &figure, &u_si, err);
        if (status != STATUS_OK)
            return status;
        spec_add_u(&job->judged, figure, u_si);
    }
    job->verdicts = mem_calloc(limits->n, sizeof *job->verdicts);
    for (size_t i = 0; i < limits->n; i++)
        job->verdicts[i] = spec_decide(&limits->limits[i], &job->judged, &job->decision);
    return STATUS_OK;
}

/* --- showing -------------------------------------------------------------------------------- */

static struct verdict_page make_page(const struct job *job)
{
    const struct limits *limits = &job->limits;
    return (struct verdict_page){.verdicts = job->verdicts,
                                 .n = limits->spec.n,
                                 .subject = &job->judged,
                                 .decision = &job->decision,
                                 .bow_name = limits->has_bow ? limits->bow.name : NULL,
                                 .bow_key = limits->bow.key,
                                 .bow_statement = limits->bow.statement,
                                 .bow_made_at = limits->bow.made_at,
                                 .rules = limits->rules.rules,
                                 .n_rules = limits->rules.n,
                                 .nominals = limits->nominals,
                                 .n_nominals = limits->n_nominals,
                                 .warnings = &job->measurement.warnings,
                                 .units = job->units};
}

static void write_json(struct buf *out, const struct job *job, const struct verdict_page *page)
{
    json_t *root = json_object();
    json_t *settings = settings_json(&job->settings, &job->measurement, job->units);
    bool guarded = job->decision.rule == CONFORMITY_GUARDED;
    json_put(settings, "decision", json_text(guarded ? "guarded" : "simple"));
    json_put(settings, "probability", json_number_or_null(guarded, job->decision.probability));
    json_put(root, "schema", json_integer(1));
    json_put(root, "source", subject_json(&job->subject));
    json_put(root, "settings", settings);
    verdict_json(root, page);
    json_render(out, root);
    json_decref(root);
}

static void write_text(struct buf *out, const struct job *job, const struct verdict_page *page)
{
    const struct measurement *m = &job->measurement;
    escape_terminal(out, job->subject.title);
    buf_printf(out, "\n%zu pull%s, %zu readings; full draw: %s\n", m->n_pulls,
               m->n_pulls == 1 ? "" : "s", job->subject.readings.n,
               full_draw_rule_name(m->full_draw));
    corrections_text(out, &job->settings.fixture, job->units);
    verdict_text(out, page);
}

/* The verdict is the result, on standard output; the exit code says it again, without a message. */
static enum status tell(const struct job *job, const struct options *options, struct err *err)
{
    static const enum status answers[] = {[VERDICT_MEETS] = STATUS_OK,
                                          [VERDICT_FAILS] = STATUS_ANSWER_NO,
                                          [VERDICT_NOT_PROVEN] = STATUS_NOT_PROVEN};
    struct verdict_page page = make_page(job);
    struct buf out = {0};
    if (options_has(options, "json"))
        write_json(&out, job, &page);
    else
        write_text(&out, job, &page);
    enum status status = buf_write_stdout(&out, err);
    buf_clear(&out);
    return status == STATUS_OK ? answers[spec_overall(job->verdicts, page.n)] : status;
}

static enum status measure_and_judge(struct job *job, const struct options *options,
                                     struct err *err)
{
    subject_settings(&job->subject, &job->settings);
    enum status status = error_options_read(options, &job->subject, &job->settings, err);
    if (status == STATUS_OK)
        status = limits_add_bow(&job->limits, options, &job->subject, err);
    if (status != STATUS_OK)
        return status;
    status = measure_run(&job->subject.readings, &job->settings, &job->measurement, err);
    if (status != STATUS_OK)
        return err_prefix(err, "%s", job->subject.name);
    subject_warnings(&job->subject, &job->measurement.warnings);
    status = judge(job, options, err);
    if (status == STATUS_OK)
        status = tell(job, options, err);
    free(job->verdicts);
    measurement_clear(&job->measurement);
    return status;
}

static enum status run(const struct options *options, struct err *err)
{
    struct job job = {0};
    const char *operand = options_n_operands(options) > 0 ? options_operand(options, 0) : NULL;
    enum status status = read_options(options, &job, err);
    if (status == STATUS_OK)
        status = subject_open(&job.subject, options, operand, err);
    if (status == STATUS_OK) {
        status = measure_and_judge(&job, options, err);
        subject_close(&job.subject);
    }
    limits_clear(&job.limits);
    return status;
}

const struct verb verb_verify = {
    .name = "verify",
    .operands = "[FILE | CAPTURE]",
    .summary = "say whether a bow meets its spec, as far as the measurement proves it",
    .description =
        "Measures a table file or a capture like `measure` and judges its figures by limits: the "
        "maker's, which the entry of the capture's bow holds, those of --limit, and those of rule "
        "files. Each limit is met, broken, or not proven either way, with the probability that it "
        "is met. Limits are in trade units (lbf, in, ft.lbf, %) where no unit is written; a side "
        "that is left empty is no limit.\n\n"
        "A guarded verdict must be proven at 95 % in spite of the uncertainty (JCGM 106, ISO "
        "14253-1); a figure whose uncertainty is not known proves nothing. With --decision simple "
        "the number decides alone.\n\n"
        "The exit code is 0 where all limits are met, 1 where one is broken, 2 where none is "
        "broken but something is not proven. Rule files are no rule books: check the current "
        "one.\n\n"
        "SAFETY: the maker's limits hold. A bow outside of its spec goes to its maker or a "
        "qualified technician.",
    .spec = spec,
    .operands_min = 0,
    .operands_max = 1,
    .run = run,
};
