#include "smoothers.h"

#include "base/mem.h"
#include "curve/poly.h"

#include <gsl/gsl_bspline.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { QUARTIC_TERMS = 5, ORDER = 4 };

static const double HALF_WIDTH_MAX_M = 0.04; /* as curve/shape.c has it */

/* Steps of the penalty's strength, and how far they go about the balance of the two matrices. */
static const double STRENGTH_LOW = 1e-10, STRENGTH_HIGH = 1e4, STRENGTH_STEP = 3.0;

void smooth_not(const struct points *points, int size, double *course_n)
{
    (void)size;
    memcpy(course_n, points->y, points->n * sizeof *course_n);
}

static size_t smaller(size_t a, size_t b)
{
    return a < b ? a : b;
}

void smooth_mean(const struct points *p, int size, double *course_n)
{
    for (size_t i = 0; i < p->n; i++) {
        size_t reach = smaller((size_t)size / 2, smaller(i, p->n - 1 - i));
        double sum = 0.0;
        for (size_t k = i - reach; k <= i + reach; k++)
            sum += p->y[k];
        course_n[i] = sum / (double)(2 * reach + 1);
    }
}

static void window_about(const struct points *p, size_t i, int size, size_t *first, size_t *last)
{
    size_t reach = (size_t)size / 2;
    *first = i > reach ? i - reach : 0;
    *last = smaller(i + reach, p->n - 1);
}

void smooth_quadratic(const struct points *p, int size, double *course_n)
{
    for (size_t i = 0; i < p->n; i++) {
        size_t first, last;
        window_about(p, i, size, &first, &last);
        course_n[i] = smooth_local_fit(p, first, last, p->x[i]).c[0];
    }
}

void smooth_quartic(const struct points *p, int size, double *course_n)
{
    for (size_t i = 0; i < p->n; i++) {
        size_t first, last;
        struct poly poly;
        window_about(p, i, size, &first, &last);
        course_n[i] =
            poly_fit(p, first, last, QUARTIC_TERMS, &poly) ? poly_value(&poly, p->x[i]) : p->y[i];
    }
}

void smooth_whole(const struct points *p, int size, double *course_n)
{
    (void)size;
    double *sigma = mem_calloc(p->n, sizeof *sigma);
    struct smoothed smoothed = smoothed_new(p->n);
    smooth_scatter(p, sigma);
    smooth_adaptive(p, sigma, 0, p->n - 1, HALF_WIDTH_MAX_M, &smoothed);
    for (size_t i = 0; i < p->n; i++)
        course_n[i] = smoothed.value[i].c[0];
    smoothed_clear(&smoothed);
    free(sigma);
}

/* A symmetric matrix with three diagonals below the main one: element (row + k, row) is at (row,
 * k), as GSL's banded Cholesky wants it. */
struct spline {
    size_t n; /* coefficients */
    gsl_bspline_workspace *basis;
    gsl_vector *values, *right, *coefficients;
    gsl_matrix *gram, *penalty, *sum, *inverse;
};

static void must(int gsl_status)
{
    if (gsl_status == GSL_SUCCESS)
        return;
    fprintf(stderr, "smoothers: %s\n", gsl_strerror(gsl_status));
    exit(70);
}

static struct spline spline_new(const struct points *p, size_t intervals)
{
    struct spline s = {.n = intervals + ORDER - 1};
    s.basis = gsl_bspline_alloc(ORDER, intervals + 1);
    s.values = gsl_vector_alloc(ORDER);
    s.right = gsl_vector_calloc(s.n);
    s.coefficients = gsl_vector_alloc(s.n);
    s.gram = gsl_matrix_calloc(s.n, ORDER);
    s.penalty = gsl_matrix_calloc(s.n, ORDER);
    s.sum = gsl_matrix_alloc(s.n, ORDER);
    s.inverse = gsl_matrix_alloc(s.n, s.n);
    if (s.basis == NULL || s.values == NULL || s.right == NULL || s.coefficients == NULL ||
        s.gram == NULL || s.penalty == NULL || s.sum == NULL || s.inverse == NULL)
        mem_exhausted();
    must(gsl_bspline_knots_uniform(p->x[0], p->x[p->n - 1], s.basis));
    return s;
}

static void spline_free(struct spline *s)
{
    gsl_bspline_free(s->basis);
    gsl_vector_free(s->values);
    gsl_vector_free(s->right);
    gsl_vector_free(s->coefficients);
    gsl_matrix_free(s->gram);
    gsl_matrix_free(s->penalty);
    gsl_matrix_free(s->sum);
    gsl_matrix_free(s->inverse);
}

static void add_to(gsl_matrix *banded, size_t row, size_t column, double value)
{
    if (row >= column)
        *gsl_matrix_ptr(banded, column, row - column) += value;
}

static void fill_normal_equations(const struct points *p, struct spline *s)
{
    for (size_t i = 0; i < p->n; i++) {
        size_t first, last;
        must(gsl_bspline_eval_nonzero(p->x[i], s->values, &first, &last, s->basis));
        for (size_t a = 0; a < ORDER; a++) {
            double weighted = p->weight[i] * gsl_vector_get(s->values, a);
            *gsl_vector_ptr(s->right, first + a) += weighted * p->y[i];
            for (size_t b = 0; b <= a; b++)
                add_to(s->gram, first + a, first + b, weighted * gsl_vector_get(s->values, b));
        }
    }
    static const double difference[3] = {1.0, -2.0, 1.0};
    for (size_t k = 0; k + 2 < s->n; k++)
        for (size_t a = 0; a < 3; a++)
            for (size_t b = 0; b <= a; b++)
                add_to(s->penalty, k + a, k + b, difference[a] * difference[b]);
}

/* Trace of inverse * gram: how many free numbers the course has. */
static double free_numbers(const struct spline *s)
{
    double trace = 0.0;
    for (size_t i = 0; i < s->n; i++) {
        trace += gsl_matrix_get(s->inverse, i, i) * gsl_matrix_get(s->gram, i, 0);
        for (size_t k = 1; k < ORDER && i + k < s->n; k++)
            trace += 2.0 * gsl_matrix_get(s->inverse, i + k, i) * gsl_matrix_get(s->gram, i, k);
    }
    return trace;
}

/* Solves for one strength of the penalty; the course goes to course_n. Returns the score of
 * generalised cross-validation, INFINITY where the equations can't be solved. */
static double solve(const struct points *p, struct spline *s, double strength, double *course_n)
{
    must(gsl_matrix_memcpy(s->sum, s->penalty));
    must(gsl_matrix_scale(s->sum, strength));
    must(gsl_matrix_add(s->sum, s->gram));
    if (gsl_linalg_cholesky_band_decomp(s->sum) != GSL_SUCCESS ||
        gsl_linalg_cholesky_band_solve(s->sum, s->right, s->coefficients) != GSL_SUCCESS ||
        gsl_linalg_cholesky_band_invert(s->sum, s->inverse) != GSL_SUCCESS)
        return INFINITY;
    double squares = 0.0, n = (double)p->n;
    for (size_t i = 0; i < p->n; i++) {
        size_t first, last;
        must(gsl_bspline_eval_nonzero(p->x[i], s->values, &first, &last, s->basis));
        course_n[i] = 0.0;
        for (size_t a = 0; a < ORDER; a++)
            course_n[i] +=
                gsl_vector_get(s->values, a) * gsl_vector_get(s->coefficients, first + a);
        squares += p->weight[i] * (p->y[i] - course_n[i]) * (p->y[i] - course_n[i]);
    }
    double left = n - free_numbers(s);
    return left > 0.0 ? n * squares / (left * left) : INFINITY;
}

void smooth_pspline(const struct points *p, int size, double *course_n)
{
    struct spline s = spline_new(p, (size_t)size);
    fill_normal_equations(p, &s);
    double gram = 0.0, best = INFINITY, chosen = STRENGTH_HIGH;
    for (size_t i = 0; i < s.n; i++)
        gram += gsl_matrix_get(s.gram, i, 0) / (double)s.n;
    for (double strength = STRENGTH_LOW; strength <= STRENGTH_HIGH; strength *= STRENGTH_STEP) {
        double score = solve(p, &s, strength * gram, course_n);
        if (score < best) {
            best = score;
            chosen = strength;
        }
    }
    (void)solve(p, &s, chosen * gram, course_n);
    spline_free(&s);
}
