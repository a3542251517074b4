#include "curve/clean.h"
#include "base/mem.h"
#include "curve/noise.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { READINGS_MIN = 40 };

/* What counts as scatter at least: shares of the range of force and of travel. */
static const double FORCE_SHARE = 1e-3, POSITION_SHARE = 1e-3;

static double range(const double *values, size_t n)
{
    double low = values[0], high = values[0];
    for (size_t i = 1; i < n; i++) {
        low = fmin(low, values[i]);
        high = fmax(high, values[i]);
    }
    return high - low;
}

/* Replaces marked positions by the straight line between the good ones around them. */
static void mend(double *draw_m, const bool *bad, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (!bad[i])
            continue;
        size_t end = i;
        while (end < n && bad[end])
            end++;
        double before = i > 0 ? draw_m[i - 1] : draw_m[end < n ? end : i];
        double after = end < n ? draw_m[end] : before;
        for (size_t k = i; k < end; k++)
            draw_m[k] = before + (after - before) * (double)(k - i + 1) / (double)(end - i + 1);
        i = end;
    }
}

void clean_readings(const struct readings *readings, bool look, struct cleaned *cleaned)
{
    size_t n = readings->n;
    *cleaned = (struct cleaned){.readings = *readings,
                                .draw_m = mem_calloc(n, sizeof(double)),
                                .spike = mem_calloc(n, sizeof(bool))};
    memcpy(cleaned->draw_m, readings->draw_m, n * sizeof(double));
    cleaned->readings.draw_m = cleaned->draw_m;
    if (!look || n < READINGS_MIN)
        return;
    const double *x = readings->draw_m, *f = readings->force_n;
    if (noise_mark_spikes(x, n, POSITION_SHARE * range(x, n), cleaned->spike) > 0)
        mend(cleaned->draw_m, cleaned->spike, n);
    (void)noise_mark_spikes(f, n, FORCE_SHARE * range(f, n), cleaned->spike);
}

void cleaned_clear(struct cleaned *cleaned)
{
    free(cleaned->draw_m);
    free(cleaned->spike);
    *cleaned = (struct cleaned){.draw_m = NULL};
}
