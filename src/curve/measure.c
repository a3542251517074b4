#include "curve/measure.h"
#include "base/mem.h"
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

struct measure_settings measure_defaults(void)
{
    return (struct measure_settings){.full_draw = FULL_DRAW_AUTO,
                                     .valley_band_n = unit_to_si(UNIT_LBF, 2.0),
                                     .plateau_share = 0.95,
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

static enum status measure_sweeps(const struct readings *readings, const struct sweeps *sweeps,
                                  const struct measure_settings *settings, struct measurement *m,
                                  struct err *err)
{
    m->pulls = mem_calloc(sweeps->n, sizeof *m->pulls);
    for (size_t i = 0; i < sweeps->n; i++) {
        enum status status = pull_measure(readings, &sweeps->sweep[i], sweeps->tolerance_m,
                                          settings, &m->pulls[i], &m->warnings, err);
        if (status != STATUS_OK)
            return status;
        m->n_pulls++;
    }
    m->full_draw = m->pulls[0].full_draw;
    average(m);
    return STATUS_OK;
}

enum status measure_run(const struct readings *readings, const struct measure_settings *settings,
                        struct measurement *measurement, struct err *err)
{
    *measurement = (struct measurement){0};
    enum status status = check_readings(readings, err);
    struct sweeps sweeps = {0};
    if (status == STATUS_OK)
        status = sweeps_find(readings, &sweeps, err);
    if (status == STATUS_OK && sweeps.n == 0)
        status = err_set(err, STATUS_BAD_INPUT, "no pull is in these %zu readings", readings->n);
    if (status == STATUS_OK && sweeps.n_unfinished > 0)
        warnings_add(&measurement->warnings, (struct warning){.code = WARNING_PULLS_UNFINISHED,
                                                              .count = sweeps.n_unfinished});
    if (status == STATUS_OK)
        status = measure_sweeps(readings, &sweeps, settings, measurement, err);
    if (status == STATUS_OK)
        warnings_add(&measurement->warnings, (struct warning){.code = WARNING_NO_STAGGER});
    else
        measurement_clear(measurement);
    sweeps_clear(&sweeps);
    return status;
}

void measurement_clear(struct measurement *measurement)
{
    for (size_t i = 0; i < measurement->n_pulls; i++)
        pull_clear(&measurement->pulls[i]);
    free(measurement->pulls);
    *measurement = (struct measurement){0};
}
