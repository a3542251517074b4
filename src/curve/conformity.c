#include "curve/conformity.h"

#include "curve/interval.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_randist.h>
#include <math.h>

struct conformity_settings conformity_defaults(void)
{
    return (struct conformity_settings){.rule = CONFORMITY_GUARDED, .probability = 0.95};
}

const char *verdict_name(enum verdict verdict)
{
    static const char *const names[] = {"meets", "fails", "not_proven"};
    return names[verdict];
}

static void check_tolerance(const struct tolerance *tolerance)
{
    assert(tolerance->has_low || tolerance->has_high);
    assert(!tolerance->has_low || isfinite(tolerance->low));
    assert(!tolerance->has_high || isfinite(tolerance->high));
    assert(!tolerance->has_low || !tolerance->has_high || tolerance->low < tolerance->high);
    (void)tolerance;
}

static bool inside(const struct tolerance *tolerance, double value)
{
    return !(tolerance->has_low && value < tolerance->low) &&
           !(tolerance->has_high && value > tolerance->high);
}

double conformity_probability(const struct tolerance *tolerance, const struct measured *measured)
{
    check_tolerance(tolerance);
    assert(isfinite(measured->value) && measured->u >= 0.0 && measured->dof > 0.0);
    if (!(measured->u > 0.0))
        return inside(tolerance, measured->value) ? 1.0 : 0.0;
    /* tails are added up, not subtracted from 1: small ones keep their digits */
    double below = 0.0, above = 0.0;
    if (tolerance->has_low)
        below =
            interval_student_cdf((tolerance->low - measured->value) / measured->u, measured->dof);
    if (tolerance->has_high)
        above =
            interval_student_cdf((measured->value - tolerance->high) / measured->u, measured->dof);
    return fmax(0.0, 1.0 - (below + above));
}

/* One-sided: the limit moved inwards by the one-sided quantile. Two-sided: from the middle, where
 * the probability is largest, towards a limit until it falls below. */
static struct acceptance acceptance_of(const struct tolerance *tolerance, double u, double dof,
                                       double probability)
{
    struct acceptance acceptance = {.possible = true, .low = -INFINITY, .high = INFINITY};
    double guard = u > 0.0 ? u * interval_coverage_factor(2.0 * probability - 1.0, dof) : 0.0;
    if (!tolerance->has_low || !tolerance->has_high) {
        if (tolerance->has_low)
            acceptance.low = tolerance->low + guard;
        if (tolerance->has_high)
            acceptance.high = tolerance->high - guard;
        return acceptance;
    }
    double middle = tolerance->low + (tolerance->high - tolerance->low) / 2.0;
    struct measured trial = {.value = middle, .u = u, .dof = dof};
    if (conformity_probability(tolerance, &trial) < probability)
        return (struct acceptance){.possible = false};
    double good = 0.0, bad = tolerance->high - middle; /* distance from the middle */
    for (int i = 0; i < 100 && u > 0.0; i++) {
        double half = good + (bad - good) / 2.0;
        trial.value = middle + half;
        if (conformity_probability(tolerance, &trial) >= probability)
            good = half;
        else
            bad = half;
    }
    if (!(u > 0.0))
        good = bad;
    acceptance.low = middle - good;
    acceptance.high = middle + good;
    return acceptance;
}

struct conformity conformity_decide(const struct tolerance *tolerance,
                                    const struct measured *measured,
                                    const struct conformity_settings *settings)
{
    assert(settings->probability > 0.5 && settings->probability < 1.0);
    struct conformity conformity = {.probability = conformity_probability(tolerance, measured)};
    if (settings->rule == CONFORMITY_SIMPLE) {
        conformity.verdict = inside(tolerance, measured->value) ? VERDICT_MEETS : VERDICT_FAILS;
        conformity.acceptance = acceptance_of(tolerance, 0.0, INFINITY, settings->probability);
        return conformity;
    }
    conformity.acceptance =
        acceptance_of(tolerance, measured->u, measured->dof, settings->probability);
    if (conformity.probability >= settings->probability)
        conformity.verdict = VERDICT_MEETS;
    else if (conformity.probability <= 1.0 - settings->probability)
        conformity.verdict = VERDICT_FAILS;
    else
        conformity.verdict = VERDICT_NOT_PROVEN;
    return conformity;
}

/* --- risks over a process ------------------------------------------------------------------- */

struct inspection {
    double process_mean, process_sd, u;
    const struct tolerance *accept;
    bool want_accepted;
};

/* Density of an item's true value times the probability that it is accepted (or rejected). */
static double density(double true_value, void *context)
{
    const struct inspection *inspection = context;
    struct measured measured = {.value = true_value, .u = inspection->u, .dof = INFINITY};
    double accepted = conformity_probability(inspection->accept, &measured);
    return gsl_ran_gaussian_pdf(true_value - inspection->process_mean, inspection->process_sd) *
           (inspection->want_accepted ? accepted : 1.0 - accepted);
}

/* Over low..high, cut to where the process makes anything at all. */
static enum status integrate(const struct inspection *inspection, double low, double high,
                             double *result, struct err *err)
{
    enum { PIECES = 64, PIECES_MAX = 1000 };
    const double reach = 12.0 * inspection->process_sd;
    low = fmax(low, inspection->process_mean - reach);
    high = fmin(high, inspection->process_mean + reach);
    *result = 0.0;
    if (!(low < high))
        return STATUS_OK;
    gsl_integration_workspace *work = gsl_integration_workspace_alloc(PIECES_MAX);
    if (work == NULL)
        return err_set(err, STATUS_INTERNAL, "no memory to integrate a risk");
    struct inspection copy = *inspection;
    gsl_function integrand = {density, &copy};
    int code = GSL_SUCCESS;
    /* in pieces, so that a narrow step of the acceptance can't be jumped over */
    for (int i = 0; i < PIECES && code == GSL_SUCCESS; i++) {
        double from = low + (high - low) * i / PIECES, to = low + (high - low) * (i + 1) / PIECES;
        double part = 0.0, error = 0.0;
        code = gsl_integration_qag(&integrand, from, to, 1e-13, 1e-9, PIECES_MAX, GSL_INTEG_GAUSS21,
                                   work, &part, &error);
        *result += part;
    }
    gsl_integration_workspace_free(work);
    return code == GSL_SUCCESS
               ? STATUS_OK
               : err_set(err, STATUS_NO_FIT, "the risk can't be computed: %s", gsl_strerror(code));
}

enum status conformity_global_risks(double process_mean, double process_sd, double u,
                                    const struct tolerance *tolerance,
                                    const struct tolerance *accept, struct conformity_risks *risks,
                                    struct err *err)
{
    assert(process_sd > 0.0 && u > 0.0);
    check_tolerance(tolerance);
    check_tolerance(accept);
    double low = tolerance->has_low ? tolerance->low : -INFINITY;
    double high = tolerance->has_high ? tolerance->high : INFINITY;
    struct inspection inspection = {process_mean, process_sd, u, accept, true};
    double below = 0.0, above = 0.0, rejected = 0.0;
    enum status status = integrate(&inspection, -INFINITY, low, &below, err);
    if (status == STATUS_OK)
        status = integrate(&inspection, high, INFINITY, &above, err);
    inspection.want_accepted = false;
    if (status == STATUS_OK)
        status = integrate(&inspection, low, high, &rejected, err);
    if (status != STATUS_OK)
        return status;
    struct measured process = {.value = process_mean, .u = process_sd, .dof = INFINITY};
    *risks = (struct conformity_risks){
        .consumer = below + above,
        .producer = rejected,
        .good = conformity_probability(tolerance, &process),
    };
    return STATUS_OK;
}
