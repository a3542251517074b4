/*
 * lagging: how well a lag of the force behind the travel is found, and what it does to figures that
 * are corrected for it and to figures that are not, for one bow.
 *
 *     lagging BOW.ini LAG_MS [CAPTURES [FRICTION_SCALE [UNEVENNESS [SEED]]]]
 *
 * Prints Markdown.
 */
#include "base/mem.h"
#include "base/units.h"
#include "bench/simbench.h"
#include "bench/simbow.h"
#include "bench/simhand.h"
#include "bench/simrig.h"
#include "bench/simtruth.h"
#include "curve/measure.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const enum figure_id shown[] = {
    FIGURE_PEAK_FORCE,     FIGURE_HOLDING_FORCE, FIGURE_VALLEY_POSITION, FIGURE_WALL_ONSET,
    FIGURE_WALL_STIFFNESS, FIGURE_STORED_ENERGY, FIGURE_HYSTERESIS_PCT};
static const enum lag_rule rules[] = {LAG_OFF, LAG_FIND};
enum { SHOWN_COUNT = sizeof shown / sizeof shown[0], RULES_COUNT = sizeof rules / sizeof rules[0] };

struct tally {
    int n;
    double sum, squares;
};

struct study {
    struct simbow *bow;
    struct simtruth truth;
    struct simhand_settings hand;
    double lag_s;
    struct tally lag, u, miss[RULES_COUNT][SHOWN_COUNT];
    int known, significant, beyond;
};

struct capture {
    size_t n;
    double *draw_m, *force_n, *time_s;
};

static void must(enum status status, const struct err *err)
{
    if (status == STATUS_OK)
        return;
    fprintf(stderr, "lagging: %s\n", err->text);
    exit(status_exit_code(status));
}

static void add(struct tally *tally, double value)
{
    tally->n++;
    tally->sum += value;
    tally->squares += value * value;
}

static double mean(const struct tally *t)
{
    return t->sum / t->n;
}

static double sd(const struct tally *t)
{
    return sqrt(fmax(t->squares / t->n - mean(t) * mean(t), 0.0));
}

/* Travel as it is, force as it was lag_s before: a rig each, as friction remembers the way. */
static struct capture capture_new(const struct study *s)
{
    struct simbench_settings settings = simbench_defaults();
    settings.seed = s->hand.seed;
    struct simbench *bench;
    struct simrig *now, *before;
    struct err err;
    must(simbench_open(&bench, &settings, &err), &err);
    must(simrig_open(&now, s->bow, &s->hand, SIMTRUTH_PRESS_N, 0.0, &err), &err);
    must(simrig_open(&before, s->bow, &s->hand, SIMTRUTH_PRESS_N, 0.0, &err), &err);
    struct capture c = {.n = (size_t)(simrig_duration_s(now) * settings.rate_hz)};
    c.draw_m = mem_calloc(c.n, sizeof *c.draw_m);
    c.force_n = mem_calloc(c.n, sizeof *c.force_n);
    c.time_s = mem_calloc(c.n, sizeof *c.time_s);
    for (size_t k = 0; k < c.n; k++) {
        double draw_m, force_n, ignored;
        struct wire_line line;
        c.time_s[k] = simbench_time_s(bench, k);
        must(simrig_at(now, c.time_s[k], &draw_m, &ignored, &err), &err);
        must(simrig_at(before, c.time_s[k] - s->lag_s, &ignored, &force_n, &err), &err);
        simbench_read(bench, c.time_s[k], draw_m, force_n, &line);
        c.draw_m[k] = simbench_value_si(&settings.travel, line.travel_count);
        c.force_n[k] = simbench_value_si(&settings.force, line.force_count);
    }
    simrig_close(now);
    simrig_close(before);
    simbench_close(bench);
    return c;
}

static struct measurement measure(const struct study *s, const struct readings *readings,
                                  enum lag_rule rule)
{
    struct measure_settings settings = measure_defaults();
    settings.uncertainty.trials = 0;
    settings.lag = rule;
    if (!simbow_is_compound(s->bow))
        settings.full_draw = FULL_DRAW_LARGEST;
    struct measurement m;
    struct err err;
    must(measure_run(readings, &settings, &m, &err), &err);
    return m;
}

static void count_lag(struct study *s, const struct lag *lag)
{
    s->known += lag->known;
    s->significant += lag->significant;
    if (!lag->known)
        return;
    add(&s->lag, lag->lag_s);
    add(&s->u, lag->u_lag_s);
    s->beyond += fabs(lag->lag_s - s->lag_s) > 2.0 * lag->u_lag_s;
}

static void count_figures(struct study *s, const struct measurement *m, struct tally *miss)
{
    for (int k = 0; k < SHOWN_COUNT; k++) {
        const struct figure *figure = &m->figures.f[shown[k]];
        for (int t = 0; t < SIMTRUTH_COUNT; t++)
            if (strcmp(simtruth_info((enum simtruth_id)t)->name, figure_info(shown[k])->name) ==
                    0 &&
                figure->present && s->truth.present[t])
                add(&miss[k], figure->value_si - s->truth.value_si[t]);
    }
}

static void study_one(struct study *s)
{
    struct capture c = capture_new(s);
    struct readings readings = {c.n, c.draw_m, c.force_n, c.time_s};
    for (int rule = 0; rule < RULES_COUNT; rule++) {
        struct measurement m = measure(s, &readings, rules[rule]);
        if (rules[rule] == LAG_FIND)
            count_lag(s, &m.lag);
        count_figures(s, &m, s->miss[rule]);
        measurement_clear(&m);
    }
    free(c.draw_m);
    free(c.force_n);
    free(c.time_s);
}

static void print_study(const struct study *s, int captures)
{
    printf("| %s | %.1f | %.2f | %.0f | ", simbow_name(s->bow),
           s->truth.value_si[SIMTRUTH_HYSTERESIS_PCT], s->hand.unevenness, 1e3 * s->lag_s);
    if (s->known > 0)
        printf("%+.2f, %.2f | %.2f", 1e3 * mean(&s->lag), 1e3 * sd(&s->lag), 1e3 * mean(&s->u));
    else
        printf("|");
    printf(" | %d | %d | %d | %d |\n", captures, s->known, s->significant, s->beyond);
    for (int rule = 0; rule < RULES_COUNT; rule++) {
        printf("| %s | %.0f | %s |", simbow_name(s->bow), 1e3 * s->lag_s,
               lag_rule_name(rules[rule]));
        for (int k = 0; k < SHOWN_COUNT; k++) {
            const struct tally *miss = &s->miss[rule][k];
            double unit = unit_to_si(figure_info(shown[k])->trade_unit, 1.0);
            if (miss->n > 0)
                printf(" %+.4f, %.4f |", mean(miss) / unit, sd(miss) / unit);
            else
                printf(" |");
        }
        printf("\n");
    }
}

int main(int argc, char **argv)
{
    if (argc < 3) {
        fprintf(stderr, "usage: lagging BOW.ini LAG_MS [CAPTURES [FRICTION_SCALE [UNEVENNESS "
                        "[SEED]]]]\n");
        return 64;
    }
    gsl_set_error_handler_off();
    int captures = argc > 3 ? atoi(argv[3]) : 100;
    struct simbow_settings settings = simbow_nominal();
    if (argc > 4)
        settings.friction_scale = strtod(argv[4], NULL);
    struct study s = {.hand = simhand_defaults(), .lag_s = strtod(argv[2], NULL) * 1e-3};
    if (argc > 5)
        s.hand.unevenness = strtod(argv[5], NULL);
    unsigned long seed = argc > 6 ? strtoul(argv[6], NULL, 10) : 1;
    struct err err;
    must(simbow_open(&s.bow, argv[1], &settings, &err), &err);
    must(simtruth_find(s.bow, SIMTRUTH_PRESS_N, &s.truth, &err), &err);
    for (int i = 0; i < captures; i++) {
        s.hand.seed = seed + (unsigned long)i;
        study_one(&s);
    }
    print_study(&s, captures);
    simbow_close(s.bow);
    return 0;
}
