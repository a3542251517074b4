#include "curve/noise.h"
#include "base/mem.h"

#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

/* median |N(0,1)|: the 0.75 quantile of the normal distribution */
static const double NORMAL_QUARTILE = 0.674489750196082;
static const double SPIKE_LIMIT = 6.0;

double noise_from_differences(const double *values, size_t n)
{
    if (n < 3)
        return 0.0;
    double *size = mem_calloc(n - 2, sizeof *size);
    for (size_t i = 1; i + 1 < n; i++)
        size[i - 1] = fabs(values[i - 1] - 2.0 * values[i] + values[i + 1]);
    double median = gsl_stats_median(size, 1, n - 2);
    free(size);
    return median / (NORMAL_QUARTILE * sqrt(6.0));
}

/* The smallest of the three misses if they agree in sign, else 0. */
static double agreed_miss(const double *v, size_t i, size_t gap)
{
    double from_left = v[i] - (2.0 * v[i - gap] - v[i - gap - 1]);
    double from_right = v[i] - (2.0 * v[i + gap] - v[i + gap + 1]);
    double from_both = v[i] - 0.5 * (v[i - gap] + v[i + gap]);
    if (from_left > 0.0 && from_right > 0.0 && from_both > 0.0)
        return fmin(from_left, fmin(from_right, from_both));
    if (from_left < 0.0 && from_right < 0.0 && from_both < 0.0)
        return fmin(-from_left, fmin(-from_right, -from_both));
    return 0.0;
}

size_t noise_mark_spikes(const double *values, size_t n, double least_step, bool *spike)
{
    double limit = SPIKE_LIMIT * fmax(noise_from_differences(values, n), least_step);
    size_t found = 0;
    for (size_t gap = 1; gap <= 2; gap++) {
        for (size_t i = gap + 1; i + gap + 1 < n; i++) {
            if (!spike[i] && agreed_miss(values, i, gap) > limit) {
                spike[i] = true;
                found++;
            }
        }
    }
    return found;
}
