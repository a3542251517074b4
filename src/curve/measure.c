#include "curve/measure.h"
#include "base/mem.h"
#include "curve/clean.h"
#include "curve/correct.h"
#include "curve/montecarlo.h"
#include "curve/pull.h"
#include "curve/sweep.h"

#include <math.h>
#include <stdlib.h>

static const char *const rule_names[] = {
    [FULL_DRAW_AUTO] = "auto",     [FULL_DRAW_VALLEY] = "valley",   [FULL_DRAW_WALL] = "wall",
    [FULL_DRAW_STATED] = "stated", [FULL_DRAW_LARGEST] = "largest",
};

const char *full_draw_rule_name(enum full_draw_rule rule)
{
    return rule_names[rule];
}

const char *lag_rule_name(enum lag_rule rule)
{
    return rule == LAG_OFF ? "off" : "find";
}

struct measure_settings measure_defaults(void)
{
    return (struct measure_settings){.full_draw = FULL_DRAW_AUTO,
                                     .valley_band_n = unit_to_si(UNIT_LBF, 2.0),
                                     .plateau_share = 0.95,
                                     .lag = LAG_FIND,
                                     .uncertainty = {.trials = 2000, .seed = 1},
                                     .smooth = true};
}

static enum status check_readings(const struct readings *readings, struct err *err)
{
    if (readings->n < 3)
        return err_set(err, STATUS_TOO_FEW,
                       "%zu reading(s) are not enough for a curve; at least three are needed",
                       readings->n);
    for (size_t i = 0; i < readings->n; i++)
        if (!isfinite(readings->draw_m[i]) || !isfinite(readings->force_n[i]))
            return err_set(err, STATUS_BAD_INPUT, "reading %zu is not a finite number", i + 1);
    return STATUS_OK;
}

/* The mean over the pulls in which a figure is present. */
static void average(struct measurement *m)
{
    for (int id = 0; id < FIGURE_COUNT; id++) {
        double sum = 0.0;
        size_t n = 0;
        for (size_t i = 0; i < m->n_pulls; i++) {
            if (m->pulls[i].figures.f[id].present) {
                sum += m->pulls[i].figures.f[id].value_si;
                n++;
            }
        }
        if (n > 0)
            m->figures.f[id] = (struct figure){.present = true, .value_si = sum / (double)n};
    }
}

/* Uncertainty of the mean and, where there are several, of each pull by itself. */
static void add_uncertainty(const struct measure_settings *settings,
                            const struct pull_outcome *outcomes, struct measurement *m)
{
    size_t n = m->n_pulls;
    struct pull_features *features = mem_calloc(n, sizeof *features);
    struct values *values = mem_calloc(n, sizeof *values);
    bool known = settings->uncertainty.trials >= 2;
    for (size_t i = 0; i < n; i++) {
        known = known && outcomes[i].has_features;
        features[i] = outcomes[i].features;
        values[i] = outcomes[i].values;
    }
    if (known) {
        if (n == 1)
            warnings_add(&m->warnings, (struct warning){.code = WARNING_SINGLE_PULL});
        montecarlo_run(features, values, n, &settings->uncertainty, &m->figures);
        for (size_t i = 0; i < n; i++) {
            if (n == 1)
                m->pulls[i].figures = m->figures;
            else
                montecarlo_run(&features[i], &values[i], 1, &settings->uncertainty,
                               &m->pulls[i].figures);
        }
        if (settings->want_budget) {
            montecarlo_budget(features, values, n, &settings->uncertainty, &m->budget);
            m->has_budget = true;
        }
    }
    free(features);
    free(values);
}

static enum status measure_sweeps(const struct readings *readings, const bool *spike,
                                  const struct sweeps *sweeps,
                                  const struct measure_settings *settings, struct measurement *m,
                                  struct err *err)
{
    m->pulls = mem_calloc(sweeps->n, sizeof *m->pulls);
    struct pull_outcome *outcomes = mem_calloc(sweeps->n, sizeof *outcomes);
    enum status status = STATUS_OK;
    for (size_t i = 0; i < sweeps->n && status == STATUS_OK; i++) {
        status = pull_measure(readings, spike, &sweeps->sweep[i], sweeps->tolerance_m, settings,
                              &m->pulls[i], &outcomes[i], &m->warnings, err);
        m->n_pulls += status == STATUS_OK;
    }
    if (status == STATUS_OK) {
        m->full_draw = m->pulls[0].full_draw;
        average(m);
        add_uncertainty(settings, outcomes, m);
    }
    free(outcomes);
    return status;
}

static enum status measure_corrected(const struct cleaned *cleaned, const struct sweeps *sweeps,
                                     const struct measure_settings *settings,
                                     struct measurement *measurement, struct err *err)
{
    struct measure_settings known = *settings;
    struct corrected corrected;
    correct_readings(&cleaned->readings, sweeps, &settings->fixture, &corrected);
    correct_uncertainty(&settings->fixture, &corrected, &known.uncertainty);
    measurement->drift_n = corrected.drift_n;
    enum status status =
        measure_sweeps(&corrected.readings, cleaned->spike, sweeps, &known, measurement, err);
    corrected_clear(&corrected);
    return status;
}

/* Takes a lag that is clearly there out of the positions and finds the pulls again. */
static enum status correct_lag(const struct measure_settings *settings, struct cleaned *cleaned,
                               struct sweeps *sweeps, struct measurement *m, struct err *err)
{
    if (settings->lag == LAG_OFF || !settings->smooth)
        return STATUS_OK;
    m->lag = lag_find(&cleaned->readings, cleaned->spike, sweeps);
    if (!m->lag.significant)
        return STATUS_OK;
    warnings_add(&m->warnings, (struct warning){.code = WARNING_LAG, .value_si = {m->lag.lag_s}});
    lag_delay_travel(&cleaned->readings, m->lag.lag_s, cleaned->draw_m);
    sweeps_clear(sweeps);
    return sweeps_find(&cleaned->readings, sweeps, err);
}

enum status measure_run(const struct readings *readings, const struct measure_settings *settings,
                        struct measurement *measurement, struct err *err)
{
    *measurement = (struct measurement){0};
    enum status status = check_readings(readings, err);
    struct sweeps sweeps = {0};
    struct cleaned cleaned = {.draw_m = NULL};
    if (status == STATUS_OK)
        clean_readings(readings, settings->smooth, &cleaned);
    if (status == STATUS_OK)
        status = sweeps_find(&cleaned.readings, &sweeps, err);
    if (status == STATUS_OK && sweeps.n == 0)
        status = err_set(err, STATUS_BAD_INPUT, "no pull is in these %zu readings", readings->n);
    if (status == STATUS_OK && sweeps.n_unfinished > 0)
        warnings_add(&measurement->warnings, (struct warning){.code = WARNING_PULLS_UNFINISHED,
                                                              .count = sweeps.n_unfinished});
    if (status == STATUS_OK)
        status = correct_lag(settings, &cleaned, &sweeps, measurement, err);
    if (status == STATUS_OK)
        status = measure_corrected(&cleaned, &sweeps, settings, measurement, err);
    if (status != STATUS_OK)
        measurement_clear(measurement);
    sweeps_clear(&sweeps);
    cleaned_clear(&cleaned);
    return status;
}

void measurement_clear(struct measurement *measurement)
{
    for (size_t i = 0; i < measurement->n_pulls; i++)
        pull_clear(&measurement->pulls[i]);
    free(measurement->pulls);
    *measurement = (struct measurement){0};
}
