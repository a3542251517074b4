/*
 * montecarlo: what the figures of one long pull and their uncertainty cost, on one core.
 *
 * A pull of the hunting compound with 10,000 readings and default noise; processor time of the
 * figures alone, and with 2000 trials. The best of five runs each.
 */
#include "base/mem.h"
#include "bench/simbow.h"
#include "bench/simhand.h"
#include "bench/simtruth.h"
#include "curve/measure.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { READINGS = 10000, TRIALS = 2000, RUNS = 5 };
static const double TARGET_S = 0.25;

static void must(enum status status, const struct err *err)
{
    if (status == STATUS_OK)
        return;
    fprintf(stderr, "benchmark: %s\n", err->text);
    exit(70);
}

static void make_pull(const char *path, double *draw_m, double *force_n)
{
    struct simbow *bow;
    struct simtruth truth;
    struct simhand *hand;
    struct simbow_settings settings = simbow_nominal();
    struct simhand_settings how = simhand_defaults();
    struct err err;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    must(simbow_open(&bow, path, &settings, &err), &err);
    must(simtruth_find(bow, SIMTRUTH_PRESS_N, &truth, &err), &err);
    double brace_m = simbow_brace_m(bow), last_m = brace_m, direction = 1.0;
    must(simhand_open(&hand, &how, brace_m, truth.value_si[SIMTRUTH_LARGEST_DRAW], &err), &err);
    for (int i = 0; i < READINGS; i++) {
        struct simbow_state state;
        double x_m = simhand_at_m(hand, simhand_duration_s(hand) * i / READINGS);
        direction = simbow_friction(bow, direction, x_m - last_m);
        last_m = x_m;
        must(simbow_at(bow, x_m, direction, &state, &err), &err);
        draw_m[i] = x_m + gsl_ran_gaussian_ziggurat(rng, unit_to_si(UNIT_IN, 0.002));
        force_n[i] = state.force_n + gsl_ran_gaussian_ziggurat(rng, unit_to_si(UNIT_LBF, 0.05));
    }
    gsl_rng_free(rng);
    simhand_close(hand);
    simbow_close(bow);
}

static double best_time_s(const struct readings *readings, size_t trials)
{
    double best_s = INFINITY;
    for (int run = 0; run < RUNS; run++) {
        struct measure_settings settings = measure_defaults();
        struct measurement m;
        struct err err;
        settings.uncertainty.trials = trials;
        settings.uncertainty.force.covariance[1][1] = 1e-6;
        clock_t begin = clock();
        must(measure_run(readings, &settings, &m, &err), &err);
        best_s = fmin(best_s, (double)(clock() - begin) / CLOCKS_PER_SEC);
        measurement_clear(&m);
    }
    return best_s;
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: montecarlo BOW.ini\n");
        return 64;
    }
    gsl_set_error_handler_off();
    double *draw_m = mem_calloc(READINGS, sizeof *draw_m);
    double *force_n = mem_calloc(READINGS, sizeof *force_n);
    make_pull(argv[1], draw_m, force_n);
    struct readings readings = {.n = READINGS, .draw_m = draw_m, .force_n = force_n};
    double plain_s = best_time_s(&readings, 0), full_s = best_time_s(&readings, TRIALS);
    printf("one pull of %d readings, one core, best of %d\n", READINGS, RUNS);
    printf("  figures alone            %7.1f ms\n", 1e3 * plain_s);
    printf("  with %d trials         %7.1f ms   target %.0f ms: %s\n", TRIALS, 1e3 * full_s,
           1e3 * TARGET_S, full_s < TARGET_S ? "met" : "MISSED");
    free(draw_m);
    free(force_n);
    return 0;
}
