#include "curve/smooth.h"
#include "base/mem.h"

#include <assert.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* Windows reach this many points to each side. */
static const size_t ladder[] = {2, 3, 4, 6, 8, 12, 18, 27, 40, 60, 90, 135, 200, 300};
enum { LADDER_N = sizeof ladder / sizeof ladder[0], SCATTER_REACH = 20 };

/* Intervals of +- this many standard deviations must intersect. */
static const double ICI_SIGMAS = 1.2;
static const double NORMAL_QUARTILE = 0.674489750196082;

struct points points_new(size_t capacity)
{
    return (struct points){.x = mem_calloc(capacity, sizeof(double)),
                           .y = mem_calloc(capacity, sizeof(double)),
                           .weight = mem_calloc(capacity, sizeof(double))};
}

void points_clear(struct points *points)
{
    free(points->x);
    free(points->y);
    free(points->weight);
    *points = (struct points){0};
}

struct points points_merge(const double *x, const double *y, size_t n, double least_step)
{
    struct points points = points_new(n);
    size_t *order = mem_calloc(n, sizeof *order);
    gsl_sort_index(order, x, 1, n);
    double start = 0.0;
    for (size_t k = 0; k < n; k++) {
        size_t i = order[k], last = points.n - 1;
        if (points.n > 0 && x[i] - start <= least_step) {
            points.x[last] += x[i];
            points.y[last] += y[i];
            points.weight[last] += 1.0;
            continue;
        }
        start = x[i];
        points.x[points.n] = x[i];
        points.y[points.n] = y[i];
        points.weight[points.n++] = 1.0;
    }
    for (size_t i = 0; i < points.n; i++) {
        points.x[i] /= points.weight[i];
        points.y[i] /= points.weight[i];
    }
    free(order);
    return points;
}

/* Weighted sums of powers of t = (x - x0)/scale over a window. */
struct moments {
    double s[5]; /* sum w t^k */
    double r[3]; /* sum w y t^k, y less its value in the middle (keeps the digits) */
};

static struct moments window_moments(const struct points *p, size_t first, size_t last, double x0,
                                     double scale, double y0)
{
    struct moments m = {{0}, {0}};
    for (size_t i = first; i <= last; i++) {
        double t = (p->x[i] - x0) / scale, w = p->weight[i], y = p->y[i] - y0;
        double wt = w * t, wtt = wt * t;
        m.s[0] += w;
        m.s[1] += wt;
        m.s[2] += wtt;
        m.s[3] += wtt * t;
        m.s[4] += wtt * t * t;
        m.r[0] += w * y;
        m.r[1] += wt * y;
        m.r[2] += wtt * y;
    }
    return m;
}

/* Inverse of the symmetric moment matrix of `terms` rows by cofactors; false where it is singular
 * to working precision. */
static bool invert(const double s[5], size_t terms, double inverse[3][3])
{
    memset(inverse, 0, 9 * sizeof(double));
    if (terms == 1) {
        inverse[0][0] = 1.0 / s[0];
        return s[0] > 0.0;
    }
    if (terms == 2) {
        double det = s[0] * s[2] - s[1] * s[1];
        if (!(det > 1e-10 * s[0] * s[2]))
            return false;
        inverse[0][0] = s[2] / det;
        inverse[0][1] = inverse[1][0] = -s[1] / det;
        inverse[1][1] = s[0] / det;
        return true;
    }
    double c00 = s[2] * s[4] - s[3] * s[3], c01 = s[2] * s[3] - s[1] * s[4],
           c02 = s[1] * s[3] - s[2] * s[2];
    double det = s[0] * c00 + s[1] * c01 + s[2] * c02;
    if (!(det > 1e-9 * s[0] * s[2] * s[4]))
        return false;
    inverse[0][0] = c00 / det;
    inverse[0][1] = inverse[1][0] = c01 / det;
    inverse[0][2] = inverse[2][0] = c02 / det;
    inverse[1][1] = (s[0] * s[4] - s[2] * s[2]) / det;
    inverse[1][2] = inverse[2][1] = (s[1] * s[2] - s[0] * s[3]) / det;
    inverse[2][2] = (s[0] * s[2] - s[1] * s[1]) / det;
    return true;
}

struct local_fit smooth_local_fit(const struct points *points, size_t first, size_t last, double x0)
{
    assert(first <= last && last < points->n);
    double scale = fmax(points->x[last] - x0, x0 - points->x[first]);
    if (!(scale > 0.0))
        scale = 1.0;
    double y0 = points->y[first + (last - first) / 2];
    struct moments m = window_moments(points, first, last, x0, scale, y0);
    struct local_fit fit = {.first = first, .last = last, .terms = last - first + 1};
    if (fit.terms > 3)
        fit.terms = 3;
    double inverse[3][3];
    while (!invert(m.s, fit.terms, inverse) && fit.terms > 1)
        fit.terms--;
    double c[3];
    for (size_t k = 0; k < 3; k++)
        c[k] = inverse[k][0] * m.r[0] + inverse[k][1] * m.r[1] + inverse[k][2] * m.r[2];
    fit.c[0] = c[0] + y0;
    fit.c[1] = c[1] / scale;
    fit.c[2] = c[2] / (scale * scale);
    fit.var_value = inverse[0][0];
    fit.var_slope = inverse[1][1] / (scale * scale);
    fit.var_curvature = inverse[2][2] / (scale * scale * scale * scale);
    return fit;
}

/* How far point i lies from the cubic through its two neighbours on each side, in units of the
 * scatter of one reading. Negative where the neighbours coincide. */
static double cubic_miss(const struct points *p, size_t i)
{
    static const int offset[4] = {-2, -1, 1, 2};
    double predicted = 0.0, gain = 1.0 / p->weight[i];
    for (int a = 0; a < 4; a++) {
        size_t ia = (size_t)((long)i + offset[a]);
        double factor = 1.0;
        for (int b = 0; b < 4; b++) {
            size_t ib = (size_t)((long)i + offset[b]);
            if (a != b)
                factor *= (p->x[i] - p->x[ib]) / (p->x[ia] - p->x[ib]);
        }
        if (!isfinite(factor))
            return -1.0;
        predicted += factor * p->y[ia];
        gain += factor * factor / p->weight[ia];
    }
    return fabs(p->y[i] - predicted) / sqrt(gain);
}

static double median_of_window(const double *miss, size_t n, size_t i, double *work)
{
    size_t first = i > SCATTER_REACH ? i - SCATTER_REACH : 0;
    size_t last = i + SCATTER_REACH < n ? i + SCATTER_REACH : n - 1;
    size_t count = 0;
    for (size_t k = first; k <= last; k++)
        if (miss[k] >= 0.0)
            work[count++] = miss[k];
    return count > 0 ? gsl_stats_median(work, 1, count) : 0.0;
}

void smooth_scatter(const struct points *points, double *sigma)
{
    size_t n = points->n;
    double *miss = mem_calloc(n, sizeof *miss);
    double work[2 * SCATTER_REACH + 1];
    for (size_t i = 0; i < n; i++)
        miss[i] = i >= 2 && i + 2 < n ? cubic_miss(points, i) : -1.0;
    double mean = 0.0;
    for (size_t i = 0; i < n; i++) {
        sigma[i] = median_of_window(miss, n, i, work) / NORMAL_QUARTILE;
        mean += sigma[i] / (double)n;
    }
    /* Where a converter's steps hide the noise, the rest of the curve tells how much there is. */
    for (size_t i = 0; i < n; i++)
        sigma[i] = fmax(sigma[i], 0.25 * mean);
    free(miss);
}

struct smoothed smoothed_new(size_t n)
{
    return (struct smoothed){.value = mem_calloc(n, sizeof(struct local_fit)),
                             .slope = mem_calloc(n, sizeof(struct local_fit))};
}

void smoothed_clear(struct smoothed *smoothed)
{
    free(smoothed->value);
    free(smoothed->slope);
    *smoothed = (struct smoothed){0};
}

/* One quantity's running intersection of intervals. */
struct intersection {
    double low, high;
    bool open;
};

static bool still_intersects(struct intersection *all, double estimate, double sd)
{
    if (!all->open)
        return false;
    all->low = fmax(all->low, estimate - ICI_SIGMAS * sd);
    all->high = fmin(all->high, estimate + ICI_SIGMAS * sd);
    all->open = all->low <= all->high;
    return all->open;
}

static void smooth_one(const struct points *p, double sigma, size_t first, size_t last, size_t i,
                       double half_width_max, struct local_fit *value, struct local_fit *slope)
{
    struct intersection of_value = {-INFINITY, INFINITY, true}, of_slope = of_value;
    for (size_t k = 0; k < LADDER_N; k++) {
        size_t from = i - first > ladder[k] ? i - ladder[k] : first;
        size_t to = last - i > ladder[k] ? i + ladder[k] : last;
        bool too_wide =
            p->x[i] - p->x[from] > half_width_max || p->x[to] - p->x[i] > half_width_max;
        if (k > 0 && too_wide)
            break;
        struct local_fit fit = smooth_local_fit(p, from, to, p->x[i]);
        bool value_goes_on = still_intersects(&of_value, fit.c[0], sigma * sqrt(fit.var_value));
        bool slope_goes_on = still_intersects(&of_slope, fit.c[1], sigma * sqrt(fit.var_slope));
        if (k == 0 || value_goes_on)
            *value = fit;
        if (k == 0 || slope_goes_on)
            *slope = fit;
        if (!(of_value.open || of_slope.open) || (from == first && to == last))
            break;
    }
}

void smooth_adaptive(const struct points *points, const double *sigma, size_t first, size_t last,
                     double half_width_max, struct smoothed *smoothed)
{
    assert(first <= last && last < points->n);
    for (size_t i = first; i <= last; i++)
        smooth_one(points, sigma[i], first, last, i, half_width_max, &smoothed->value[i],
                   &smoothed->slope[i]);
}
