#include "curve/calibration.h"

#include "base/mem.h"
#include "curve/interval.h"

#include <assert.h>
#include <float.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The share of the references' scatter that the counts must explain at least. */
static const double explained_min = 0.5;

/* Stated uncertainties are consistent with the residuals unless chance would give so large a
 * weighted sum of squares less often than this. */
static const double inconsistent_p = 0.05;

/* Singular values below this share of the largest count as none. */
static const double rank_tolerance = 1e-12;

/* The curve stands still when it changes by less than this share of the range; the second is the
 * worst that is accepted when the steps run out. */
static const double settled = 1e-14, settled_enough = 1e-9;

enum { BISECTIONS = 200, CURVE_STEPS_MAX = 200 };

/* The fit as arrays. Rows of x are 1, z, z^2. */
struct design {
    size_t n, p;
    gsl_matrix *x;
    gsl_vector *y, *weight, *solution;
    gsl_matrix *covariance;
    gsl_multifit_linear_workspace *work;
    double *variance; /* what is stated of each point, si^2; 0 where nothing is */
    double *count;    /* of each point, moved by its error where u_count is stated */
    bool stated;      /* some variance is above 0 */
};

static void design_close(struct design *design)
{
    gsl_matrix_free(design->x);
    gsl_vector_free(design->y);
    gsl_vector_free(design->weight);
    gsl_vector_free(design->solution);
    gsl_matrix_free(design->covariance);
    gsl_multifit_linear_free(design->work);
    free(design->variance);
    free(design->count);
}

static enum status design_open(struct design *design, size_t n, size_t p, struct err *err)
{
    *design = (struct design){
        .n = n,
        .p = p,
        .x = gsl_matrix_alloc(n, p),
        .y = gsl_vector_alloc(n),
        .weight = gsl_vector_alloc(n),
        .solution = gsl_vector_alloc(p),
        .covariance = gsl_matrix_alloc(p, p),
        .work = gsl_multifit_linear_alloc(n, p),
        .variance = mem_calloc(n, sizeof *design->variance),
        .count = mem_calloc(n, sizeof *design->count),
    };
    if (design->x != NULL && design->y != NULL && design->weight != NULL &&
        design->solution != NULL && design->covariance != NULL && design->work != NULL)
        return STATUS_OK;
    design_close(design);
    return err_set(err, STATUS_INTERNAL, "no memory to fit %zu calibration points", n);
}

static enum status check_points(const struct calibration_point *points, size_t n, size_t n_terms,
                                struct err *err)
{
    if (n < n_terms)
        return err_set(err, STATUS_TOO_FEW,
                       "%zu calibration point(s) can't carry a fit of %zu terms: add loads", n,
                       n_terms);
    for (size_t i = 0; i < n; i++) {
        const struct calibration_point *point = &points[i];
        if (!isfinite(point->reference_si) || !isfinite(point->count))
            return err_set(err, STATUS_NO_FIT,
                           "calibration point %zu: reference or count is not a finite number",
                           i + 1);
        if (!(isfinite(point->u_reference_si) && point->u_reference_si >= 0.0) ||
            !(isfinite(point->u_count) && point->u_count >= 0.0))
            return err_set(err, STATUS_NO_FIT,
                           "calibration point %zu: a standard uncertainty must be 0 or more",
                           i + 1);
    }
    return STATUS_OK;
}

/* Ranges, centre and scale. Finite points are taken for granted. */
static enum status set_scale(struct calibration *calibration,
                             const struct calibration_point *points, size_t n, struct err *err)
{
    calibration->count_low = calibration->count_high = points[0].count;
    calibration->value_low_si = calibration->value_high_si = points[0].reference_si;
    for (size_t i = 1; i < n; i++) {
        calibration->count_low = fmin(calibration->count_low, points[i].count);
        calibration->count_high = fmax(calibration->count_high, points[i].count);
        calibration->value_low_si = fmin(calibration->value_low_si, points[i].reference_si);
        calibration->value_high_si = fmax(calibration->value_high_si, points[i].reference_si);
    }
    double half_low = calibration->count_low / 2.0, half_high = calibration->count_high / 2.0;
    calibration->count_middle = half_low + half_high;
    calibration->count_scale = half_high - half_low;
    double size = fmax(fabs(calibration->count_low), fabs(calibration->count_high));
    if (!(calibration->count_scale > 64.0 * DBL_EPSILON * size))
        return err_set(err, STATUS_NO_FIT,
                       "the %zu calibration points all show the same count: was the sensor "
                       "connected, was it loaded?",
                       n);
    double span_si = calibration->value_high_si - calibration->value_low_si;
    if (!(span_si > 0.0) || !isfinite(span_si))
        return err_set(err, STATUS_NO_FIT,
                       "the %zu calibration points all have the same reference: add loads", n);
    return STATUS_OK;
}

static double scaled(const struct calibration *calibration, double count)
{
    return (count - calibration->count_middle) / calibration->count_scale;
}

/* Rows at the moved counts; a reference is carried along the slope by as much as its count was
 * moved. Before the first fit nothing is moved. */
static void fill_design(struct design *design, const struct calibration *calibration,
                        const struct calibration_point *points)
{
    for (size_t i = 0; i < design->n; i++) {
        double z = scaled(calibration, design->count[i]);
        double power = 1.0;
        for (size_t k = 0; k < design->p; k++) {
            gsl_matrix_set(design->x, i, k, power);
            power *= z;
        }
        double moved = design->count[i] - points[i].count;
        gsl_vector_set(design->y, i,
                       points[i].reference_si +
                           calibration_slope(calibration, design->count[i]) * moved);
    }
}

/* Solves with weights 1/(variance + scatter2), or equal weights where both are 0 everywhere. The
 * covariance is that of y with these variances. *chi2 is the weighted sum of squares. */
static enum status solve(struct design *design, const gsl_vector *y, double scatter2, double *chi2,
                         struct err *err)
{
    double smallest = INFINITY;
    for (size_t i = 0; i < design->n; i++)
        smallest = fmin(smallest, design->variance[i] + scatter2);
    bool equal = !(smallest > 0.0);
    for (size_t i = 0; i < design->n; i++)
        gsl_vector_set(design->weight, i,
                       equal ? 1.0 : smallest / (design->variance[i] + scatter2));
    size_t rank = 0;
    int code =
        gsl_multifit_wlinear_tsvd(design->x, design->weight, y, rank_tolerance, design->solution,
                                  design->covariance, chi2, &rank, design->work);
    if (code != GSL_SUCCESS)
        return err_set(err, STATUS_NO_FIT, "the calibration could not be fitted: %s",
                       gsl_strerror(code));
    if (rank < design->p)
        return err_set(err, STATUS_TOO_FEW,
                       "the calibration points hold fewer different counts than the %zu terms of "
                       "the fit: add loads",
                       design->p);
    if (!equal) {
        gsl_matrix_scale(design->covariance, smallest);
        *chi2 /= smallest;
    }
    return STATUS_OK;
}

/* The residuals' sum of squares without weights, of the last solution. */
static double sum_of_squares(const struct design *design)
{
    double sum = 0.0;
    for (size_t i = 0; i < design->n; i++) {
        double residual = gsl_vector_get(design->y, i);
        for (size_t k = 0; k < design->p; k++)
            residual -= gsl_matrix_get(design->x, i, k) * gsl_vector_get(design->solution, k);
        sum += residual * residual;
    }
    return sum;
}

/* Solves with the smallest scatter that makes chi2 equal to the degrees of freedom, none where what
 * is stated explains the residuals. */
static enum status solve_with_scatter(struct design *design, double *scatter2, struct err *err)
{
    double dof = (double)(design->n - design->p), chi2 = 0.0;
    *scatter2 = 0.0;
    enum status status = solve(design, design->y, 0.0, &chi2, err);
    if (status != STATUS_OK)
        return status;
    if (!design->stated) {
        *scatter2 = design->n > design->p ? sum_of_squares(design) / dof : 0.0;
        gsl_matrix_scale(design->covariance, *scatter2);
        return STATUS_OK;
    }
    if (design->n == design->p || chi2 <= gsl_cdf_chisq_Pinv(1.0 - inconsistent_p, dof))
        return STATUS_OK;
    /* chi2 falls with the scatter; with this one it is at most dof */
    double low = 0.0, high = sum_of_squares(design) / dof;
    for (int step = 0; step < BISECTIONS && high - low > 4.0 * DBL_EPSILON * high; step++) {
        double middle = low + (high - low) / 2.0;
        status = solve(design, design->y, middle, &chi2, err);
        if (status != STATUS_OK)
            return status;
        if (chi2 > dof)
            low = middle;
        else
            high = middle;
    }
    *scatter2 = high;
    return solve(design, design->y, high, &chi2, err);
}

/* What is stated of each point, with the slope of *calibration at it. */
static void set_variances(struct design *design, const struct calibration *calibration,
                          const struct calibration_point *points,
                          enum calibration_references references)
{
    double sum = 0.0;
    size_t n_stated = 0;
    for (size_t i = 0; i < design->n; i++) {
        double u_si = calibration_slope(calibration, design->count[i]) * points[i].u_count;
        if (references == CALIBRATION_REFERENCES_INDEPENDENT)
            u_si = hypot(u_si, points[i].u_reference_si);
        design->variance[i] = u_si * u_si;
        sum += design->variance[i];
        n_stated += design->variance[i] > 0.0;
    }
    design->stated = n_stated > 0;
    for (size_t i = 0; i < design->n && design->stated; i++)
        if (!(design->variance[i] > 0.0))
            design->variance[i] = sum / (double)n_stated;
}

/* Moves each count by its share of the residual: the most likely place on the curve, to first
 * order, where both count and reference are uncertain (Britt and Luecke, Technometrics 15 (1973)
 * 233). */
static void move_counts(struct design *design, const struct calibration *calibration,
                        const struct calibration_point *points, double scatter2)
{
    for (size_t i = 0; i < design->n; i++) {
        double slope = calibration_slope(calibration, design->count[i]);
        double residual_si = points[i].reference_si -
                             calibration_value(calibration, design->count[i]) +
                             slope * (design->count[i] - points[i].count);
        double all_si2 = design->variance[i] + scatter2, u = points[i].u_count;
        if (u > 0.0 && all_si2 > 0.0)
            design->count[i] = points[i].count + slope * u * u / all_si2 * residual_si;
    }
}

/* Keeps the solution; returns its largest change against the one before, as a share. */
static double keep_solution(struct calibration *calibration, const struct design *design)
{
    double change = 0.0;
    for (size_t k = 0; k < design->p; k++) {
        double coefficient = gsl_vector_get(design->solution, k);
        change = fmax(change, fabs(coefficient - calibration->coefficient[k]));
        calibration->coefficient[k] = coefficient;
        for (size_t l = 0; l < design->p; l++)
            calibration->covariance[k][l] = gsl_matrix_get(design->covariance, k, l);
    }
    double span_si = calibration->value_high_si - calibration->value_low_si;
    return change / span_si;
}

/* Fits, sets weights by what is stated, and fits again until the curve stands still. */
static enum status iterate(struct design *design, struct calibration *calibration,
                           const struct calibration_point *points,
                           enum calibration_references references, struct err *err)
{
    double scatter2 = 0.0, change = INFINITY;
    for (int step = 0; step < CURVE_STEPS_MAX && change > settled; step++) {
        fill_design(design, calibration, points);
        enum status status = solve_with_scatter(design, &scatter2, err);
        if (status != STATUS_OK)
            return status;
        change = keep_solution(calibration, design);
        set_variances(design, calibration, points, references);
        if (!design->stated)
            break;
        if (step == 0)
            change = INFINITY; /* the first fit had no weights */
        else
            move_counts(design, calibration, points, scatter2);
    }
    if (design->stated && !(change <= settled_enough))
        return err_set(err, STATUS_NO_FIT,
                       "the weighted fit of the calibration does not settle: are the stated "
                       "uncertainties larger than the steps between the points?");
    calibration->weighted = design->stated;
    calibration->scatter_si = sqrt(scatter2);
    return STATUS_OK;
}

/* Residuals of the points as they were read. */
static void set_residuals(struct calibration *calibration, const struct calibration_point *points)
{
    for (size_t i = 0; i < calibration->n_points; i++) {
        double residual_si =
            points[i].reference_si - calibration_value(calibration, points[i].count);
        calibration->sum_of_squares_si2 += residual_si * residual_si;
        calibration->largest_residual_si =
            fmax(calibration->largest_residual_si, fabs(residual_si));
    }
    if (calibration->dof > 0)
        calibration->residual_sd_si =
            sqrt(calibration->sum_of_squares_si2 / (double)calibration->dof);
}

/* One error of all references alike, u_i of each, moves the coefficients by the fit of the u_i. */
static enum status add_common_references(struct design *design, struct calibration *calibration,
                                         const struct calibration_point *points, struct err *err)
{
    gsl_vector *u = gsl_vector_alloc(design->n);
    if (u == NULL)
        return err_set(err, STATUS_INTERNAL, "no memory to fit %zu calibration points", design->n);
    for (size_t i = 0; i < design->n; i++)
        gsl_vector_set(u, i, points[i].u_reference_si);
    double chi2 = 0.0;
    enum status status =
        solve(design, u, calibration->scatter_si * calibration->scatter_si, &chi2, err);
    gsl_vector_free(u);
    if (status != STATUS_OK)
        return status;
    for (size_t k = 0; k < design->p; k++)
        for (size_t l = 0; l < design->p; l++)
            calibration->covariance[k][l] +=
                gsl_vector_get(design->solution, k) * gsl_vector_get(design->solution, l);
    return STATUS_OK;
}

/* Does the result make sense: finite, following the references, rising or falling all the way? */
static enum status check_result(const struct calibration *calibration,
                                const struct calibration_point *points, struct err *err)
{
    for (size_t k = 0; k < calibration->n_terms; k++)
        if (!isfinite(calibration->coefficient[k]) || !isfinite(calibration->covariance[k][k]))
            return err_set(err, STATUS_NO_FIT,
                           "the calibration gives no finite result: numbers too large");
    double mean_si = 0.0, about_mean = 0.0;
    for (size_t i = 0; i < calibration->n_points; i++)
        mean_si += points[i].reference_si / (double)calibration->n_points;
    for (size_t i = 0; i < calibration->n_points; i++)
        about_mean += (points[i].reference_si - mean_si) * (points[i].reference_si - mean_si);
    if (!(calibration->sum_of_squares_si2 <= (1.0 - explained_min) * about_mean))
        return err_set(err, STATUS_NO_FIT,
                       "the counts don't follow the references: check the wiring, the columns and "
                       "their order");
    double at_low = calibration_slope(calibration, calibration->count_low);
    double at_high = calibration_slope(calibration, calibration->count_high);
    if (!(at_low * at_high > 0.0))
        return err_set(err, STATUS_NO_FIT,
                       "the fitted curve turns back within the points: a straight line, or better "
                       "points, are needed");
    return STATUS_OK;
}

enum status calibration_fit_references(const struct calibration_point *points, size_t n,
                                       enum quantity quantity, size_t n_terms,
                                       enum calibration_references references,
                                       struct calibration *calibration, struct err *err)
{
    assert(n_terms >= 2 && n_terms <= CALIBRATION_TERMS_MAX);
    assert(points != NULL || n == 0);
    struct calibration fitted = {.quantity = quantity, .n_terms = n_terms, .n_points = n};
    enum status status = check_points(points, n, n_terms, err);
    if (status == STATUS_OK)
        status = set_scale(&fitted, points, n, err);
    if (status != STATUS_OK)
        return status;
    fitted.dof = n - n_terms;
    struct design design;
    status = design_open(&design, n, n_terms, err);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; i < n; i++)
        design.count[i] = points[i].count;
    status = iterate(&design, &fitted, points, references, err);
    if (status == STATUS_OK && references == CALIBRATION_REFERENCES_COMMON)
        status = add_common_references(&design, &fitted, points, err);
    if (status == STATUS_OK)
        set_residuals(&fitted, points);
    if (status == STATUS_OK)
        status = check_result(&fitted, points, err);
    design_close(&design);
    if (status == STATUS_OK)
        *calibration = fitted;
    return status;
}

enum status calibration_fit(const struct calibration_point *points, size_t n,
                            enum quantity quantity, size_t n_terms, struct calibration *calibration,
                            struct err *err)
{
    return calibration_fit_references(points, n, quantity, n_terms, CALIBRATION_REFERENCES_COMMON,
                                      calibration, err);
}

/* sum of coefficient[k] z^k */
static double polynomial(const double *coefficient, size_t n_terms, double z)
{
    double sum = 0.0;
    for (size_t k = n_terms; k-- > 0;)
        sum = sum * z + coefficient[k];
    return sum;
}

double calibration_value(const struct calibration *calibration, double count)
{
    return polynomial(calibration->coefficient, calibration->n_terms, scaled(calibration, count));
}

double calibration_u(const struct calibration *calibration, double count)
{
    double z = scaled(calibration, count), variance = 0.0, left = 1.0;
    for (size_t k = 0; k < calibration->n_terms; k++) {
        variance += left * polynomial(calibration->covariance[k], calibration->n_terms, z);
        left *= z;
    }
    return sqrt(fmax(variance, 0.0));
}

double calibration_slope(const struct calibration *calibration, double count)
{
    double z = scaled(calibration, count), slope = 0.0;
    for (size_t k = calibration->n_terms; k-- > 1;)
        slope = slope * z + (double)k * calibration->coefficient[k];
    return slope / calibration->count_scale;
}

bool calibration_extrapolates(const struct calibration *calibration, double count)
{
    return fabs(scaled(calibration, count)) > 1.0 + 1e-9;
}

struct calibration_polynomial calibration_about(const struct calibration *calibration,
                                                double origin_count)
{
    /* z = shift + rate * (count - origin): row k holds z^k in powers of (count - origin) */
    double shift = scaled(calibration, origin_count), rate = 1.0 / calibration->count_scale;
    const double power[CALIBRATION_TERMS_MAX][CALIBRATION_TERMS_MAX] = {
        {1.0, 0.0, 0.0},
        {shift, rate, 0.0},
        {shift * shift, 2.0 * shift * rate, rate * rate},
    };
    struct calibration_polynomial about = {0};
    for (size_t k = 0; k < calibration->n_terms; k++)
        for (size_t i = 0; i < calibration->n_terms; i++) {
            about.coefficient[i] += calibration->coefficient[k] * power[k][i];
            for (size_t l = 0; l < calibration->n_terms; l++)
                for (size_t j = 0; j < calibration->n_terms; j++)
                    about.covariance[i][j] +=
                        power[k][i] * calibration->covariance[k][l] * power[l][j];
        }
    return about;
}

/* The factor of the fit's intervals: Student t; normal where no degree of freedom is left. */
static double factor_of(const struct calibration *calibration, double probability)
{
    double dof = calibration->dof > 0 ? (double)calibration->dof : INFINITY;
    return interval_coverage_factor(probability, dof);
}

static double u_single_si(const struct calibration *calibration, double count)
{
    return hypot(calibration_u(calibration, count), calibration->residual_sd_si);
}

struct calibration_prediction calibration_predict(const struct calibration *calibration,
                                                  double count, double probability)
{
    double factor = factor_of(calibration, probability);
    struct calibration_prediction prediction = {
        .value_si = calibration_value(calibration, count),
        .u_mean_si = calibration_u(calibration, count),
        .u_single_si = u_single_si(calibration, count),
    };
    prediction.mean_low_si = prediction.value_si - factor * prediction.u_mean_si;
    prediction.mean_high_si = prediction.value_si + factor * prediction.u_mean_si;
    prediction.single_low_si = prediction.value_si - factor * prediction.u_single_si;
    prediction.single_high_si = prediction.value_si + factor * prediction.u_single_si;
    return prediction;
}

/* The count where curve + shift_factor * u_single meets the value, looked for from the curve's own
 * count in the direction that leads there; NAN where it is not met within `reach` half ranges. */
static double meet_band(const struct calibration *calibration, double value_si, double count,
                        double shift_factor)
{
    const double reach = 64.0;
    double shift_si = shift_factor * u_single_si(calibration, count);
    if (!(fabs(shift_si) > 0.0))
        return count;
    double step = -shift_si / calibration_slope(calibration, count);
    double inside = count, outside = count + step;
    for (;; outside = count + step) {
        if (!(fabs(step) <= reach * calibration->count_scale))
            return NAN;
        double over_si = calibration_value(calibration, outside) +
                         shift_factor * u_single_si(calibration, outside) - value_si;
        if (over_si * shift_si <= 0.0)
            break;
        inside = outside;
        step *= 2.0;
    }
    for (int i = 0; i < BISECTIONS; i++) {
        double middle = inside + (outside - inside) / 2.0;
        double over_si = calibration_value(calibration, middle) +
                         shift_factor * u_single_si(calibration, middle) - value_si;
        if (over_si * shift_si <= 0.0)
            outside = middle;
        else
            inside = middle;
    }
    return outside;
}

enum status calibration_invert(const struct calibration *calibration, double value_si,
                               double probability, struct calibration_inverse *inverse,
                               struct err *err)
{
    /* the root on the branch of the points: the one nearest to their middle */
    double c = calibration->coefficient[0] - value_si, b = calibration->coefficient[1];
    double a = calibration->n_terms > 2 ? calibration->coefficient[2] : 0.0;
    double discriminant = b * b - 4.0 * a * c;
    if (!(discriminant > 0.0))
        return err_set(err, STATUS_NO_FIT,
                       "the calibration curve never reaches this value: it lies far outside of the "
                       "calibrated range");
    double z = -2.0 * c / (b + copysign(sqrt(discriminant), b));
    double count = calibration->count_middle + calibration->count_scale * z;
    double factor = factor_of(calibration, probability);
    double above = meet_band(calibration, value_si, count, factor);
    double below = meet_band(calibration, value_si, count, -factor);
    bool rising = calibration_slope(calibration, count) > 0.0;
    *inverse = (struct calibration_inverse){
        .count = count,
        .low = rising ? above : below,
        .high = rising ? below : above,
    };
    return STATUS_OK;
}
