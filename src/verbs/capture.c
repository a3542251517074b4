/* capture: draw a bow on the bench and keep every reading. */
#include "base/mem.h"
#include "bench/benchfile.h"
#include "curve/calibration.h"
#include "record/record.h"
#include "verbs/capture_run.h"
#include "verbs/capture_show.h"
#include "verbs/options.h"
#include "verbs/verb.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BRACE_LOW_M 0.05
#define BRACE_HIGH_M 0.5
#define SECONDS_MOST 86400.0
enum { PULLS_MOST = 1000 };

/* A movement that reaches this share of the bow's shortest power stroke is a pull. */
#define PULL_SHARE 0.75

static const struct option_spec spec[] = {
    {"bench", "FILE", "the bench file: port, speed, limits (docs/bench.md)"},
    {"port", "PATH", "use this port in place of the one in the bench file"},
    {"bow", "NAME", "the bow on the bench, as `pullcurve bow` knows it"},
    {"brace", "LENGTH",
     "brace height as measured at the bench, from the pivot point to the string; "
     "the rest position becomes this (default: the bow's, if known)"},
    {"pulls", "N", "end by itself after this many complete pulls (default 1; 0: until Ctrl-C)"},
    {"seconds", "TIME", "end after this time at the latest"},
    {"note", "TEXT", "kept with the capture"},
    {"record", "FILE", "the shop's record"},
    {"json", NULL, "print the summary as JSON"},
    {NULL, NULL, NULL},
};

/* What capture_plan borrows. */
struct work {
    struct bench bench;
    struct record *record;
    char *record_path;
    struct record_calibration force_points, travel_points;
    struct calibration force, travel;
    struct record_bow bow;
    bool has_bow;
};

static void work_clear(struct work *work)
{
    record_calibration_clear(&work->force_points);
    record_calibration_clear(&work->travel_points);
    record_bow_clear(&work->bow);
    record_close(work->record);
    free(work->record_path);
    bench_clear(&work->bench);
}

static enum status read_calibration(struct work *work, enum quantity quantity,
                                    struct record_calibration *points,
                                    struct calibration *calibration, struct err *err)
{
    enum status status =
        record_calibration_newest(work->record, work->bench.name, quantity, points, err);
    if (status != STATUS_OK)
        return status;
    status = calibration_fit_references(points->points, points->n_points, quantity, points->n_terms,
                                        points->references_independent
                                            ? CALIBRATION_REFERENCES_INDEPENDENT
                                            : CALIBRATION_REFERENCES_COMMON,
                                        calibration, err);
    if (status != STATUS_OK)
        return err_prefix(err, "the newest %s calibration of %s",
                          quantity == QUANTITY_FORCE ? "force" : "travel", work->bench.name);
    return STATUS_OK;
}

static enum status prepare(struct work *work, const struct options *options, struct err *err)
{
    const char *bench_path = options_text(options, "bench", NULL);
    if (bench_path == NULL)
        return err_set(err, STATUS_USAGE, "say which bench: --bench FILE");
    enum status status = benchfile_read(&work->bench, bench_path, err);
    if (status == STATUS_OK)
        status = options_record_path(options, &work->record_path, err);
    if (status == STATUS_OK)
        status = record_open(&work->record, work->record_path, RECORD_CREATE, err);
    if (status == STATUS_OK)
        status = read_calibration(work, QUANTITY_FORCE, &work->force_points, &work->force, err);
    if (status == STATUS_OK)
        status = read_calibration(work, QUANTITY_LENGTH, &work->travel_points, &work->travel, err);
    const char *bow = options_text(options, "bow", NULL);
    if (status != STATUS_OK || bow == NULL)
        return status;
    status = record_bow_find(work->record, bow, &work->bow, err);
    work->has_bow = status == STATUS_OK;
    return status;
}

/* The brace height: as measured, else the maker's where the bench needs one. */
static enum status plan_brace(struct capture_plan *plan, const struct work *work,
                              const struct options *options, struct err *err)
{
    double brace_m;
    enum status status = options_quantity(options, "brace", QUANTITY_LENGTH, UNIT_IN, BRACE_LOW_M,
                                          BRACE_HIGH_M, NAN, &brace_m, err);
    if (status != STATUS_OK)
        return status;
    if (isnan(brace_m) && work->has_bow && work->bench.datum == BENCH_DATUM_BRACE)
        brace_m = work->bow.brace_height_m;
    plan->head.has_brace = !isnan(brace_m);
    plan->head.brace_m = plan->head.has_brace ? brace_m : 0;
    return STATUS_OK;
}

static enum status plan_end(struct capture_plan *plan, const struct options *options,
                            struct err *err)
{
    int64_t pulls;
    enum status status = options_int(options, "pulls", 0, PULLS_MOST, 1, &pulls, err);
    if (status != STATUS_OK)
        return status;
    plan->n_pulls = (size_t)pulls;
    plan->pulls_stated = options_has(options, "pulls");
    return options_quantity(options, "seconds", QUANTITY_TIME, UNIT_S, 0.1, SECONDS_MOST, INFINITY,
                            &plan->seconds, err);
}

/* What the maker says of the bow tells a pull from a movement that stopped short. */
static double pull_travel_min_m(const struct work *work)
{
    if (!work->has_bow)
        return 0;
    double stroke_m = work->bow.draw_length_low_m - ATA_AXIS_OFFSET_M - work->bow.brace_height_m;
    return stroke_m > 0 ? PULL_SHARE * stroke_m : 0; /* 0 where NAN too */
}

static enum status make_plan(struct capture_plan *plan, struct work *work,
                             const struct options *options, struct err *err)
{
    static char no_text[] = "", program[] = "pullcurve " PULLCURVE_VERSION;
    *plan = (struct capture_plan){.bench = &work->bench,
                                  .port = options_text(options, "port", NULL),
                                  .record = work->record,
                                  .record_path = work->record_path,
                                  .record_stated = options_text(options, "record", NULL),
                                  .force = &work->force,
                                  .travel = &work->travel,
                                  .travel_min_m = pull_travel_min_m(work)};
    struct record_capture *head = &plan->head;
    head->bow_name = work->has_bow ? work->bow.name : no_text;
    head->bench = work->bench.name;
    head->program = program;
    if (work->has_bow)
        memcpy(head->bow_key, work->bow.key, sizeof head->bow_key);
    head->fixture = work->bench.fixture;
    memcpy(head->force_calibration_key, work->force_points.key, RECORD_KEY_MAX);
    memcpy(head->travel_calibration_key, work->travel_points.key, RECORD_KEY_MAX);
    enum status status = plan_brace(plan, work, options, err);
    return status == STATUS_OK ? plan_end(plan, options, err) : status;
}

static enum status show_summary(const struct capture_plan *plan,
                                const struct capture_result *result, bool json, struct err *err)
{
    struct buf text = {0};
    if (json)
        capture_summary_json(&text, plan, result);
    else
        capture_summary_text(&text, plan, result);
    enum status status = buf_write_stdout(&text, err);
    buf_clear(&text);
    return status;
}

static enum status run(const struct options *options, struct err *err)
{
    struct work work = {.bow = record_bow_blank()};
    struct capture_plan plan;
    enum status status = prepare(&work, options, err);
    if (status == STATUS_OK)
        status = make_plan(&plan, &work, options, err);
    if (status == STATUS_OK) {
        char *note = mem_strdup(options_text(options, "note", ""));
        plan.head.note = note;
        struct capture_result result;
        status = capture_run(&plan, &result, err);
        if (result.begun) {
            struct err show_err;
            enum status shown =
                show_summary(&plan, &result, options_has(options, "json"), &show_err);
            if (status == STATUS_OK && shown != STATUS_OK)
                status = err_set(err, shown, "%s", show_err.text);
        }
        capture_result_clear(&result);
        free(note);
    }
    work_clear(&work);
    return status;
}

const struct verb verb_capture = {
    .name = "capture",
    .operands = "",
    .summary = "draw a bow on the bench and keep every reading",
    .description =
        "Reads the bench while the bow is drawn and let down, and keeps every reading in\n"
        "the record as it comes: after a power cut all but the last quarter second is\n"
        "there. Ends by itself when the bow is back at rest after the last pull. Ctrl-C\n"
        "ends it at once; what was measured is kept, marked as incomplete.\n"
        "\n"
        "A port that goes away is waited for and read on by itself. Limits of the bench\n"
        "file (force, draw position, speed, silence) are watched, and passing one is\n"
        "told loudly.\n"
        "\n"
        "SAFETY: this program is never the safety stop of a bench. Software may hang, a\n"
        "cable may come off. Have mechanical or hard-wired stops for force and for\n"
        "travel, never draw past the bow maker's limits, and never let go of the string\n"
        "without an arrow.",
    .spec = spec,
    .operands_min = 0,
    .operands_max = 0,
    .run = run,
};
