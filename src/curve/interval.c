#include "curve/interval.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

double interval_coverage_factor(double probability, double dof)
{
    assert(probability > 0.0 && probability < 1.0 && dof > 0.0);
    double tail = (1.0 - probability) / 2.0;
    return isinf(dof) ? gsl_cdf_ugaussian_Qinv(tail) : gsl_cdf_tdist_Qinv(tail, dof);
}

double interval_student_cdf(double t, double dof)
{
    assert(dof > 0.0);
    return isinf(dof) ? gsl_cdf_ugaussian_P(t) : gsl_cdf_tdist_P(t, dof);
}

struct interval interval_student(double value, double u, double dof, double probability)
{
    assert(u >= 0.0);
    double half = interval_coverage_factor(probability, dof) * u;
    return (struct interval){.low = value - half, .high = value + half};
}

struct interval interval_normal(double value, double u, double probability)
{
    return interval_student(value, u, INFINITY, probability);
}

double interval_effective_dof(const double *u, const double *dof, size_t n)
{
    double largest = 0.0;
    for (size_t i = 0; i < n; i++)
        largest = fmax(largest, fabs(u[i]));
    double variance = 0.0, spread = 0.0;
    for (size_t i = 0; i < n && largest > 0.0; i++) {
        double share = u[i] / largest; /* keeps the fourth power within range */
        assert(dof[i] > 0.0);
        variance += share * share;
        spread += share * share * share * share / dof[i];
    }
    return spread > 0.0 ? variance * variance / spread : INFINITY;
}

struct interval_sample interval_sample_summary(const double *values, size_t n)
{
    assert(n >= 2);
    struct interval_sample summary = {0};
    double sum_of_squares = 0.0;
    for (size_t i = 0; i < n; i++) { /* Welford: no digits lost to the mean's size */
        double before = values[i] - summary.mean;
        summary.mean += before / (double)(i + 1);
        sum_of_squares += before * (values[i] - summary.mean);
    }
    summary.sd = sqrt(sum_of_squares / (double)(n - 1));
    return summary;
}

static int compare(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

void interval_sort(double *values, size_t n)
{
    qsort(values, n, sizeof *values, compare);
}

/* q of JCGM 101 7.7.1: how many steps of the ordered sample the interval spans. */
static enum status steps(size_t n, double probability, size_t *q, struct err *err)
{
    assert(probability > 0.0 && probability < 1.0);
    if (n < 2 || (double)n * (1.0 - probability) < 1.0)
        return err_set(err, STATUS_TOO_FEW,
                       "%zu Monte Carlo trials are too few for a %g %% coverage interval", n,
                       100.0 * probability);
    *q = (size_t)floor(probability * (double)n + 0.5);
    return *q < n ? STATUS_OK
                  : err_set(err, STATUS_TOO_FEW, "%zu Monte Carlo trials are too few", n);
}

enum status interval_symmetric(const double *sorted, size_t n, double probability,
                               struct interval *interval, struct err *err)
{
    size_t q = 0;
    enum status status = steps(n, probability, &q, err);
    if (status != STATUS_OK)
        return status;
    size_t r = (n - q + 1) / 2; /* counted from 1, as in 7.7.2 */
    *interval = (struct interval){.low = sorted[r - 1], .high = sorted[r - 1 + q]};
    return STATUS_OK;
}

enum status interval_shortest(const double *sorted, size_t n, double probability,
                              struct interval *interval, struct err *err)
{
    size_t q = 0;
    enum status status = steps(n, probability, &q, err);
    if (status != STATUS_OK)
        return status;
    size_t best = 0;
    for (size_t r = 1; r + q < n; r++)
        if (sorted[r + q] - sorted[r] < sorted[best + q] - sorted[best])
            best = r;
    *interval = (struct interval){.low = sorted[best], .high = sorted[best + q]};
    return STATUS_OK;
}

double interval_tolerance(double u, int n_digits)
{
    assert(u > 0.0 && n_digits >= 1 && n_digits <= 2);
    return pow(10.0, floor(log10(u)) + 1.0 - n_digits) / 2.0;
}
