#include "curve/calibration_choice.h"

#include "base/mem.h"
#include "curve/interval.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* --- line or quadratic ---------------------------------------------------------------------- */

static int compare(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static size_t count_loads(const struct calibration_point *points, size_t n)
{
    const double apart = 1e-6;
    double *sorted = mem_calloc(n, sizeof *sorted);
    for (size_t i = 0; i < n; i++)
        sorted[i] = points[i].reference_si;
    qsort(sorted, n, sizeof *sorted, compare);
    double span_si = sorted[n - 1] - sorted[0];
    size_t n_loads = 1;
    for (size_t i = 1; i < n; i++)
        n_loads += sorted[i] - sorted[i - 1] > apart * span_si;
    free(sorted);
    return n_loads;
}

/* The quadratic fit with the independent errors alone: what is common to all references is no
 * evidence for or against a term. */
static enum status fit_quadratic(const struct calibration_point *points, size_t n,
                                 enum quantity quantity, enum calibration_references references,
                                 struct calibration *quadratic)
{
    struct calibration_point *copy = mem_calloc(n, sizeof *copy);
    memcpy(copy, points, n * sizeof *copy);
    for (size_t i = 0; i < n && references == CALIBRATION_REFERENCES_COMMON; i++)
        copy[i].u_reference_si = 0.0;
    enum status status =
        calibration_fit_references(copy, n, quantity, 3, references, quadratic, NULL);
    free(copy);
    return status;
}

enum status calibration_choose(const struct calibration_point *points, size_t n,
                               enum quantity quantity, enum calibration_references references,
                               struct calibration_choice *choice, struct err *err)
{
    const double negligible = 1e-9; /* of the range: what rounding leaves of an exact line */
    struct calibration line, quadratic;
    enum status status = calibration_fit_references(points, n, quantity, 2, references, &line, err);
    if (status != STATUS_OK)
        return status;
    *choice = (struct calibration_choice){
        .n_terms = 2,
        .reason = CALIBRATION_LINE_FEW_LOADS,
        .n_loads = count_loads(points, n),
        .line_sd_si = line.residual_sd_si,
    };
    if (choice->n_loads < CALIBRATION_QUADRATIC_LOADS_MIN)
        return STATUS_OK;
    choice->reason = CALIBRATION_LINE_QUADRATIC_FAILS;
    if (fit_quadratic(points, n, quantity, references, &quadratic) != STATUS_OK)
        return STATUS_OK;
    double bend_si = quadratic.coefficient[2], variance_si2 = quadratic.covariance[2][2];
    bool counts = fabs(bend_si) > negligible * (line.value_high_si - line.value_low_si);
    choice->tested = true;
    choice->quadratic_sd_si = quadratic.residual_sd_si;
    /* one term: the ratio of the sums of squares is t squared */
    choice->f = counts && variance_si2 > 0.0 ? bend_si * bend_si / variance_si2 : 0.0;
    choice->p = gsl_cdf_fdist_Q(choice->f, 1.0, (double)quadratic.dof);
    bool needed = choice->p < CALIBRATION_QUADRATIC_P;
    choice->reason = needed ? CALIBRATION_QUADRATIC_NEEDED : CALIBRATION_LINE_ENOUGH;
    choice->n_terms = needed ? 3 : 2;
    return STATUS_OK;
}

const char *calibration_reason_text(enum calibration_reason reason)
{
    static const char *const texts[] = {
        "a straight line: a quadratic needs at least six different loads",
        "a straight line: the quadratic term is not significant",
        "a straight line: no quadratic fits these points",
        "a quadratic: its term is significant",
    };
    return texts[reason];
}

/* --- outliers ------------------------------------------------------------------------------- */

/* Residuals of a robust fit (bisquare) over its scale. */
static enum status robust_residuals(const struct calibration *fit,
                                    const struct calibration_point *points, double *share,
                                    struct err *err)
{
    size_t n = fit->n_points, p = fit->n_terms;
    gsl_matrix *x = gsl_matrix_alloc(n, p), *covariance = gsl_matrix_alloc(p, p);
    gsl_vector *y = gsl_vector_alloc(n), *solution = gsl_vector_alloc(p);
    gsl_multifit_robust_workspace *work =
        gsl_multifit_robust_alloc(gsl_multifit_robust_bisquare, n, p);
    enum status status = err_set(err, STATUS_INTERNAL, "no memory to look for outliers");
    if (x == NULL || covariance == NULL || y == NULL || solution == NULL || work == NULL)
        goto out;
    for (size_t i = 0; i < n; i++) {
        double z = (points[i].count - fit->count_middle) / fit->count_scale, power = 1.0;
        for (size_t k = 0; k < p; k++) {
            gsl_matrix_set(x, i, k, power);
            power *= z;
        }
        gsl_vector_set(y, i, points[i].reference_si);
    }
    int code = gsl_multifit_robust(x, y, solution, covariance, work);
    if (code != GSL_SUCCESS && code != GSL_EMAXITER) {
        status =
            err_set(err, STATUS_NO_FIT, "outliers can't be looked for: %s", gsl_strerror(code));
        goto out;
    }
    double scale_si = gsl_multifit_robust_statistics(work).sigma_mad;
    for (size_t i = 0; i < n; i++) {
        double fitted_si = 0.0;
        for (size_t k = 0; k < p; k++)
            fitted_si += gsl_matrix_get(x, i, k) * gsl_vector_get(solution, k);
        double off_si = fabs(points[i].reference_si - fitted_si);
        share[i] = off_si > 0.0 ? off_si / scale_si : 0.0;
    }
    status = STATUS_OK;
out:
    gsl_multifit_robust_free(work);
    gsl_vector_free(solution);
    gsl_vector_free(y);
    gsl_matrix_free(covariance);
    gsl_matrix_free(x);
    return status;
}

/* The candidate against the curve through the points that are none. */
static struct calibration_outlier judge(const struct calibration *others,
                                        const struct calibration_point *points, size_t candidate)
{
    const struct calibration_point *point = &points[candidate];
    struct calibration_prediction predicted = calibration_predict(others, point->count, 0.95);
    struct calibration_outlier outlier = {
        .point = candidate,
        .residual_si = point->reference_si - predicted.value_si,
    };
    if (fabs(outlier.residual_si) > 0.0)
        outlier.t = outlier.residual_si / predicted.u_single_si;
    return outlier;
}

enum status calibration_find_outliers(const struct calibration_point *points, size_t n,
                                      enum quantity quantity, size_t n_terms,
                                      struct calibration_outlier *outliers, size_t *n_outliers,
                                      struct err *err)
{
    const double candidate_from = 3.0; /* robust standard deviations */
    const double least_counts = 0.5;
    *n_outliers = 0;
    struct calibration all, others;
    enum status status = calibration_fit(points, n, quantity, n_terms, &all, err);
    if (status != STATUS_OK || n < n_terms + 3)
        return status;
    double *share = mem_calloc(n, sizeof *share);
    struct calibration_point *kept = mem_calloc(n, sizeof *kept);
    status = robust_residuals(&all, points, share, err);
    if (status != STATUS_OK)
        goto out;
    size_t n_kept = 0;
    for (size_t i = 0; i < n; i++) {
        if (share[i] > candidate_from)
            continue;
        kept[n_kept] = points[i];
        kept[n_kept++].u_reference_si = 0.0; /* common to all: no reason to stand out */
    }
    if (n_kept == n || n_kept < n_terms + 2 ||
        calibration_fit(kept, n_kept, quantity, n_terms, &others, NULL) != STATUS_OK)
        goto out;
    double limit =
        interval_coverage_factor(1.0 - CALIBRATION_OUTLIER_P / (double)n, (double)others.dof);
    for (size_t i = 0; i < n; i++) {
        if (share[i] <= candidate_from)
            continue;
        struct calibration_outlier outlier = judge(&others, points, i);
        double count_si = fabs(calibration_slope(&others, points[i].count));
        if (fabs(outlier.t) > limit && fabs(outlier.residual_si) > least_counts * count_si)
            outliers[(*n_outliers)++] = outlier;
    }
out:
    free(kept);
    free(share);
    return status;
}
