/*
 * lagging: how well a lag of the force behind the travel is found, and what it does to figures that
 * are corrected for it and to figures that are not, for one bow.
 *
 *     lagging BOW.ini LAG_MS [CAPTURES [FRICTION_SCALE [UNEVENNESS [SEED]]]]
 *
 * Prints Markdown.
 */
#include "base/mem.h"
#include "bench/simbench.h"
#include "bench/simbow.h"
#include "bench/simhand.h"
#include "bench/simrig.h"
#include "bench/simtruth.h"
#include "curve/lag.h"
#include "curve/measure.h"
#include "curve/sweep.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const enum figure_id shown[] = {
    FIGURE_PEAK_FORCE, FIGURE_HOLDING_FORCE,  FIGURE_VALLEY_POSITION, FIGURE_WALL_ONSET,
    FIGURE_WALL_STIFFNESS, FIGURE_STORED_ENERGY, FIGURE_HYSTERESIS_PCT};
static const char *const rules[] = {"off", "find"};
enum { SHOWN_COUNT = sizeof shown / sizeof shown[0], RULES_COUNT = 2 };

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

static void study_lag(struct study *s, const struct readings *readings)
{
    struct sweeps sweeps;
    struct err err;
    must(sweeps_find(readings, &sweeps, &err), &err);
    struct lag lag = lag_find(readings, &sweeps);
    sweeps_clear(&sweeps);
    s->known += lag.known;
    s->significant += lag.significant;
    if (!(lag.u_lag_s > 0.0))
        return;
    add(&s->lag, lag.lag_s);
    add(&s->u, lag.u_lag_s);
    s->beyond += fabs(lag.lag_s - s->lag_s) > 2.0 * lag.u_lag_s;
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
    uint64_t seed = argc > 6 ? strtoul(argv[6], NULL, 10) : 1;
    struct err err;
    must(simbow_open(&s.bow, argv[1], &settings, &err), &err);
    must(simtruth_find(s.bow, SIMTRUTH_PRESS_N, &s.truth, &err), &err);
    for (int i = 0; i < captures; i++) {
        s.hand.seed = seed + (uint64_t)i;
        struct capture c = capture_new(&s);
        struct readings readings = {c.n, c.draw_m, c.force_n, c.time_s};
        study_lag(&s, &readings);
        free(c.draw_m);
        free(c.force_n);
        free(c.time_s);
    }
    printf("| %s | %.1f | %.1f | %+.2f, %.2f | %.2f | %d | %d | %d | %d |\n", simbow_name(s.bow),
           s.truth.value_si[SIMTRUTH_HYSTERESIS_PCT], 1e3 * s.lag_s, 1e3 * mean(&s.lag),
           1e3 * sd(&s.lag), 1e3 * mean(&s.u), captures, s.known, s.significant, s.beyond);
    simbow_close(s.bow);
    (void)rules;(void)shown;
    return 0;
}
