#include "curve/convert.h"
#include "base/mem.h"

#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The force has risen where it stays this share of its largest value above where it began. */
static const double RISEN_SHARE = 0.02;
enum { RISEN_FOR = 3, BASE_READINGS = 20 };

static bool usable(const struct raw_reading *reading)
{
    uint32_t both = RAW_HAS_FORCE | RAW_HAS_TRAVEL;
    uint32_t saturated = RAW_FORCE_SATURATED | RAW_TRAVEL_SATURATED;
    return (reading->flags & both) == both && (reading->flags & saturated) == 0;
}

/* Readings before the force first rises for good; at least one. */
static size_t count_at_rest(const double *force_n, size_t n)
{
    double base_n = 0.0, largest_n = force_n[0];
    size_t n_base = n < BASE_READINGS ? n : BASE_READINGS;
    for (size_t i = 0; i < n_base; i++)
        base_n += force_n[i] / (double)n_base;
    for (size_t i = 0; i < n; i++)
        largest_n = fmax(largest_n, force_n[i]);
    double risen_n = base_n + RISEN_SHARE * (largest_n - base_n);
    size_t run = 0;
    for (size_t i = 0; i < n; i++) {
        run = force_n[i] > risen_n ? run + 1 : 0;
        if (run == RISEN_FOR)
            return i + 1 > RISEN_FOR ? i + 1 - RISEN_FOR : 1;
    }
    return n;
}

static void shift_to_brace(struct converted *converted, double brace_m)
{
    size_t n_rest = count_at_rest(converted->force_n, converted->readings.n);
    double *rest_m = mem_calloc(n_rest, sizeof *rest_m);
    memcpy(rest_m, converted->draw_m, n_rest * sizeof *rest_m);
    double shift_m = brace_m - gsl_stats_median(rest_m, 1, n_rest);
    free(rest_m);
    for (size_t i = 0; i < converted->readings.n; i++)
        converted->draw_m[i] += shift_m;
}

enum status convert_raw(const struct raw_reading *raw, size_t n, const struct calibration *force,
                        const struct calibration *travel, const struct datum *datum,
                        struct converted *converted, struct err *err)
{
    *converted = (struct converted){.draw_m = mem_calloc(n, sizeof(double)),
                                    .force_n = mem_calloc(n, sizeof(double)),
                                    .time_s = mem_calloc(n, sizeof(double))};
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        if (!usable(&raw[i]))
            continue;
        bool device = (raw[i].flags & RAW_HAS_DEVICE_TIME) != 0;
        converted->draw_m[kept] = calibration_value(travel, (double)raw[i].travel_count);
        converted->force_n[kept] = calibration_value(force, (double)raw[i].force_count);
        converted->time_s[kept] = 1e-6 * (double)(device ? raw[i].device_us : raw[i].arrival_us);
        kept++;
    }
    converted->n_left_out = n - kept;
    if (kept == 0) {
        converted_clear(converted);
        return err_set(err, STATUS_TOO_FEW,
                       "none of %zu readings holds both force and travel within the converters' "
                       "ranges; check the cables and the ranges in the bench file",
                       n);
    }
    converted->readings = (struct readings){.n = kept,
                                            .draw_m = converted->draw_m,
                                            .force_n = converted->force_n,
                                            .time_s = converted->time_s};
    if (datum->from_brace)
        shift_to_brace(converted, datum->brace_m);
    return STATUS_OK;
}

void converted_clear(struct converted *converted)
{
    free(converted->draw_m);
    free(converted->force_n);
    free(converted->time_s);
    *converted = (struct converted){0};
}
