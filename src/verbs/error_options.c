#include "verbs/error_options.h"

#include "bench/benchfile.h"

#define U_BRACE_HIGH_M 0.05
#define U_SCALE_HIGH_PCT 50.0
enum { TRIALS_LEAST = 100, TRIALS_MOST = 200000 };

static enum status read_trials(const struct options *options, struct uncertainty_inputs *inputs,
                               struct err *err)
{
    int64_t trials, seed;
    enum status status =
        options_int(options, "trials", 0, TRIALS_MOST, (int64_t)inputs->trials, &trials, err);
    if (status == STATUS_OK && trials > 0 && trials < TRIALS_LEAST)
        status = err_set(err, STATUS_USAGE,
                         "--trials: %d are too few to say anything; take %d or more, or 0 for no "
                         "uncertainty",
                         (int)trials, TRIALS_LEAST);
    if (status == STATUS_OK)
        status = options_int(options, "seed", 1, UINT32_MAX, (int64_t)inputs->seed, &seed, err);
    if (status != STATUS_OK)
        return status;
    inputs->trials = (size_t)trials;
    inputs->seed = (unsigned long)seed;
    return STATUS_OK;
}

/* Positions of a table count from brace height where those of the bench do. */
static enum status read_bench(const struct options *options, const struct subject *subject,
                              struct measure_settings *settings, struct err *err)
{
    const char *path = options_text(options, "bench", NULL);
    struct bench bench;
    enum status status = path != NULL ? benchfile_read(&bench, path, err) : STATUS_OK;
    if (status != STATUS_OK || path == NULL)
        return status;
    settings->fixture = bench.fixture;
    if (settings->uncertainty.datum_from_brace ||
        (subject->kind == SUBJECT_TABLE && bench.datum == BENCH_DATUM_BRACE))
        settings->uncertainty.u_datum_m = bench.fixture.u_brace_m;
    bench_clear(&bench);
    return STATUS_OK;
}

static enum status read_scale(const struct options *options, const char *name,
                              struct error_model *model, struct err *err)
{
    double u_pct;
    enum status status = options_quantity(options, name, QUANTITY_PERCENT, UNIT_PERCENT, 0,
                                          U_SCALE_HIGH_PCT, 0, &u_pct, err);
    if (status == STATUS_OK)
        model->covariance[1][1] += u_pct / 100.0 * (u_pct / 100.0);
    return status;
}

enum status error_options_read(const struct options *options, struct subject *subject,
                               struct measure_settings *settings, struct err *err)
{
    struct uncertainty_inputs *inputs = &settings->uncertainty;
    enum status status = read_trials(options, inputs, err);
    if (status == STATUS_OK)
        status = read_bench(options, subject, settings, err);
    if (status == STATUS_OK)
        status = options_quantity(options, "u-brace", QUANTITY_LENGTH, UNIT_IN, 0, U_BRACE_HIGH_M,
                                  inputs->u_datum_m, &inputs->u_datum_m, err);
    if (status == STATUS_OK)
        status = read_scale(options, "u-force", &inputs->force, err);
    if (status == STATUS_OK)
        status = read_scale(options, "u-travel", &inputs->travel, err);
    if (inputs->trials == 0 ||
        (options_has(options, "u-force") && options_has(options, "u-travel")))
        subject->errors_unknown = false;
    return status;
}
