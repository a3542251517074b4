#include "study/study.h"

#include "base/mem.h"
#include "curve/calibration.h"
#include "curve/convert.h"
#include "curve/montecarlo.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Common relative error of the reference loads, as a shop with good weights has it. */
static const double U_LOADS = 3e-4;

/* A bow without a wall is drawn a little beyond the stated full draw. */
static const double BEYOND_STATED_M = 0.004;

enum { AVERAGED = 240 }; /* readings a known load: three seconds at 80 a second */

static void must(enum status status, const struct err *err)
{
    if (status == STATUS_OK)
        return;
    fprintf(stderr, "study: %s\n", err->text);
    exit(status_exit_code(status));
}

struct study study_open(const char *bow_path, const struct simbow_settings *settings,
                        unsigned long seed)
{
    gsl_set_error_handler_off();
    struct study s = {.hand = simhand_defaults(),
                      .bench = simbench_defaults(),
                      .u_brace_m = 0.0005,
                      .press_n = SIMTRUTH_PRESS_N,
                      .trials = 2000,
                      .rng = gsl_rng_alloc(gsl_rng_mt19937)};
    struct err err;
    gsl_rng_set(s.rng, seed);
    must(simbow_open(&s.bow, bow_path, settings, &err), &err);
    must(simtruth_find(s.bow, s.press_n, &s.truth, &err), &err);
    return s;
}

void study_close(struct study *study)
{
    simbow_close(study->bow);
    gsl_rng_free(study->rng);
}

/* Calibrates with references that are all wrong by the same share, which is stated as u_share. */
static struct calibration calibrate(struct simbench *bench, const struct simbench_channel *channel,
                                    enum quantity quantity, const double *values_si, size_t n,
                                    double share, double u_share)
{
    struct calibration_point *points = mem_calloc(2 * n, sizeof *points);
    struct calibration calibration;
    struct err err;
    for (size_t i = 0; i < 2 * n; i++) {
        double value_si = values_si[i < n ? i : 2 * n - 1 - i];
        points[i] = (struct calibration_point){
            .reference_si = value_si,
            .u_reference_si = u_share * value_si,
            .count = simbench_mean_count(bench, channel, value_si * (1.0 + share), AVERAGED),
            .run = 1,
            .decreasing = i >= n};
    }
    must(calibration_fit(points, 2 * n, quantity, 2, &calibration, &err), &err);
    free(points);
    return calibration;
}

/* Takes all readings of one hand's pull into raw counts. */
static size_t read_pull(struct study *s, struct simbench *bench, const struct simhand *hand,
                        struct raw_reading **raw)
{
    size_t n = (size_t)(simhand_duration_s(hand) * s->bench.rate_hz), kept = 0;
    double direction = 1.0, last_m = simbow_brace_m(s->bow);
    *raw = mem_calloc(n, sizeof **raw);
    for (size_t k = 0; k < n; k++) {
        struct simbow_state state;
        struct wire_line line;
        struct err err;
        double time_s = simbench_time_s(bench, k), draw_m = simhand_at_m(hand, time_s);
        direction = simbow_friction(s->bow, direction, draw_m - last_m);
        last_m = draw_m;
        must(simbow_at(s->bow, draw_m, direction, &state, &err), &err);
        simbench_read(bench, time_s, draw_m, state.force_n, &line);
        (*raw)[kept++] =
            (struct raw_reading){.device_us = (int64_t)(time_s * 1e6),
                                 .force_count = line.force_count,
                                 .travel_count = line.travel_count,
                                 .flags = RAW_HAS_FORCE | RAW_HAS_TRAVEL | RAW_HAS_DEVICE_TIME};
    }
    return kept;
}

static struct measure_settings settings_of(struct study *s, const struct calibration *force,
                                           const struct calibration *travel)
{
    struct measure_settings settings = measure_defaults();
    settings.uncertainty.trials = s->trials;
    settings.uncertainty.seed = gsl_rng_get(s->rng);
    settings.uncertainty.force = error_model_of(force, 0.0);
    settings.uncertainty.travel = error_model_of(travel, simbow_brace_m(s->bow));
    settings.uncertainty.datum_from_brace = true;
    settings.uncertainty.u_datum_m = s->u_brace_m;
    if (!simbow_is_compound(s->bow)) {
        settings.full_draw = FULL_DRAW_STATED;
        settings.full_draw_m = simbow_stated_draw_m(s->bow);
    }
    return settings;
}

struct measurement study_capture(struct study *s)
{
    static const double loads_n[] = {0.0, 45.0, 90.0, 180.0, 270.0, 360.0};
    static const double lengths_m[] = {0.1, 0.3, 0.5, 0.7, 0.9};
    struct err err;
    struct simbench *bench;
    struct simhand *hand;
    s->bench.seed = gsl_rng_get(s->rng);
    s->hand.seed = gsl_rng_get(s->rng);
    must(simbench_open(&bench, &s->bench, &err), &err);
    double top_m = s->truth.value_si[SIMTRUTH_LARGEST_DRAW];
    if (!simbow_has_stops(s->bow))
        top_m += BEYOND_STATED_M;
    must(simhand_open(&hand, &s->hand, simbow_brace_m(s->bow), top_m, &err), &err);
    struct calibration force =
        calibrate(bench, &s->bench.force, QUANTITY_FORCE, loads_n,
                  sizeof loads_n / sizeof loads_n[0], gsl_ran_gaussian(s->rng, U_LOADS), U_LOADS);
    struct calibration travel = calibrate(bench, &s->bench.travel, QUANTITY_LENGTH, lengths_m,
                                          sizeof lengths_m / sizeof lengths_m[0], 0.0, 0.0);
    struct raw_reading *raw;
    size_t n = read_pull(s, bench, hand, &raw);
    struct datum datum = {true, simbow_brace_m(s->bow) + gsl_ran_gaussian(s->rng, s->u_brace_m)};
    struct converted converted;
    must(convert_raw(raw, n, &force, &travel, &datum, &converted, &err), &err);
    struct measure_settings settings = settings_of(s, &force, &travel);
    struct measurement measurement;
    must(measure_run(&converted.readings, &settings, &measurement, &err), &err);
    converted_clear(&converted);
    free(raw);
    simhand_close(hand);
    simbench_close(bench);
    return measurement;
}

bool study_truth(const struct study *study, enum figure_id id, double *value_si)
{
    for (int t = 0; t < SIMTRUTH_COUNT; t++) {
        if (strcmp(simtruth_info((enum simtruth_id)t)->name, figure_info(id)->name) == 0) {
            *value_si = study->truth.value_si[t];
            return study->truth.present[t];
        }
    }
    return false;
}
