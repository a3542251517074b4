#include "curve/calibration_steady.h"

#include "curve/interval.h"

#include <assert.h>
#include <math.h>
#include <string.h>

enum { PARTS = 8 };

static double mean_of(const double *counts, size_t n)
{
    double sum = 0.0; /* about the first: no digits lost to the size of the counts */
    for (size_t i = 0; i < n; i++)
        sum += counts[i] - counts[0];
    return counts[0] + sum / (double)n;
}

/* Does a part lie apart from the others by more than their own unrest explains? A load that came
 * on early or late in the stretch moves one part, but hardly the halves. */
static bool part_apart(const double means[PARTS], const double sds[PARTS])
{
    const double apart_sds = 6.0;
    double sorted_means[PARTS], sorted_sds[PARTS];
    memcpy(sorted_means, means, sizeof sorted_means);
    memcpy(sorted_sds, sds, sizeof sorted_sds);
    interval_sort(sorted_means, PARTS);
    interval_sort(sorted_sds, PARTS);
    double middle = (sorted_means[PARTS / 2 - 1] + sorted_means[PARTS / 2]) / 2.0;
    double unrest = (sorted_sds[PARTS / 2 - 1] + sorted_sds[PARTS / 2]) / 2.0;
    double limit = fmax(1.0, apart_sds * unrest);
    return middle - sorted_means[0] > limit || sorted_means[PARTS - 1] - middle > limit;
}

struct calibration_steady calibration_steady(const double *counts, size_t n)
{
    assert(n >= CALIBRATION_STEADY_MIN);
    const double step_u = 1.0 / sqrt(12.0), still_sd = 0.5, half_share = 0.5, few_share = 6.0;
    double means[PARTS], sds[PARTS];
    for (size_t i = 0; i < PARTS; i++) {
        size_t from = i * n / PARTS, to = (i + 1) * n / PARTS;
        means[i] = mean_of(counts + from, to - from);
        sds[i] = interval_sample_summary(counts + from, to - from).sd;
    }
    struct calibration_steady steady = {
        .mean = mean_of(counts, n),
        .sd = interval_sample_summary(counts, n).sd,
        .u_mean = interval_sample_summary(means, PARTS).sd / sqrt(PARTS),
        .drift = mean_of(counts + n / 2, n - n / 2) - mean_of(counts, n / 2),
    };
    if (steady.sd < still_sd)
        steady.u_mean = fmax(steady.u_mean, step_u);
    double limit = fmax(1.0, steady.sd * fmax(half_share, few_share / sqrt((double)n)));
    steady.steady = fabs(steady.drift) <= limit && !part_apart(means, sds);
    return steady;
}
