#include "curve/stagger.h"
#include "base/mem.h"
#include "curve/poly.h"

#include <gsl/gsl_linalg.h>
#include <gsl/gsl_matrix.h>
#include <gsl/gsl_sort.h>
#include <math.h>
#include <stdlib.h>

static const double NINE_IN_TEN = 1.2815515655446004, LIMIT_MAX_M = 0.5 * 0.0254;

/* A step of the rise is steep where it takes at most this many times the travel of the upper part.
 */
static const double STEEP_SHARE = 0.2;
/* The course before the rise is read from this far before it to this near. */
static const double FOOT_REACH_M = 0.12 * 0.0254, FOOT_GAP_M = 0.012 * 0.0254;

enum {
    FORCE_STEPS = 12,
    FOOT_ROUNDS = 3,
    LIMIT_STEPS = 100,
    POINTS_MIN = 12,
    POINTS_EACH_SIDE = 3,
    TERMS_MAX = 4
};

/* The knee must lower the sum of squares of the parabola by this many variances. Set by the study
 * of false alarms (make coverage-study). */
static const double CLEARLY_BETTER = 9.0;
/* With both stops on, the rise is steeper by this factor at least and at most (two like stops: 2).
 */
static const double STEEPER_MIN = 1.3, STEEPER_MAX = 5.0;
/* Never claimed below this many standard uncertainties. */
static const double CLAIM_SIGMAS = 4.0;

/* The points in rising force. */
struct rise {
    double *x, *f, *w; /* position from first_m, force from the foot in rises, readings */
    size_t n;
    double first_m;
};

/* A least-squares fit with up to four terms. */
struct fit {
    double c[TERMS_MAX];
    double inverse[TERMS_MAX * TERMS_MAX]; /* of the normal matrix */
    double squares;
    bool ok;
};

typedef void basis_function(double f, double knee, double basis[TERMS_MAX]);

static void parabola(double f, double knee, double basis[TERMS_MAX])
{
    (void)knee;
    basis[0] = 1.0;
    basis[1] = f;
    basis[2] = f * f;
}

static void bent_line(double f, double knee, double basis[TERMS_MAX])
{
    basis[0] = 1.0;
    basis[1] = f;
    basis[2] = f > knee ? f - knee : 0.0;
}

static struct fit fit_terms(const struct rise *r, basis_function *basis_of, double knee)
{
    enum { TERMS = 3 };
    struct fit fit = {.ok = false};
    double normal[TERMS * TERMS] = {0}, right[TERMS] = {0};
    for (size_t i = 0; i < r->n; i++) {
        double basis[TERMS_MAX];
        basis_of(r->f[i], knee, basis);
        for (size_t a = 0; a < TERMS; a++) {
            right[a] += r->w[i] * basis[a] * r->x[i];
            for (size_t b = 0; b < TERMS; b++)
                normal[a * TERMS + b] += r->w[i] * basis[a] * basis[b];
        }
    }
    gsl_matrix_view m = gsl_matrix_view_array(normal, TERMS, TERMS);
    gsl_vector_view v = gsl_vector_view_array(right, TERMS);
    if (gsl_linalg_cholesky_decomp1(&m.matrix) != GSL_SUCCESS ||
        gsl_linalg_cholesky_svx(&m.matrix, &v.vector) != GSL_SUCCESS)
        return fit;
    fit.ok = true;
    for (size_t a = 0; a < TERMS; a++)
        fit.c[a] = right[a];
    for (size_t i = 0; i < r->n; i++) {
        double basis[TERMS_MAX], miss = r->x[i];
        basis_of(r->f[i], knee, basis);
        for (size_t a = 0; a < TERMS; a++)
            miss -= fit.c[a] * basis[a];
        fit.squares += r->w[i] * miss * miss;
    }
    return fit;
}

/* Variance of distance = c1 (knee - foot) for position scatter 1, with the knee itself as a fourth
 * parameter (Gauss-Newton). Negative where it can't be told. */
static double distance_variance(const struct rise *r, const struct fit *fit, double knee,
                                double foot)
{
    double normal[TERMS_MAX * TERMS_MAX] = {0};
    for (size_t i = 0; i < r->n; i++) {
        double basis[TERMS_MAX];
        bent_line(r->f[i], knee, basis);
        basis[3] = r->f[i] > knee ? -fit->c[2] : 0.0;
        for (size_t a = 0; a < TERMS_MAX; a++)
            for (size_t b = 0; b < TERMS_MAX; b++)
                normal[a * TERMS_MAX + b] += r->w[i] * basis[a] * basis[b];
    }
    double gradient[TERMS_MAX] = {0.0, knee - foot, 0.0, fit->c[1]};
    double solved[TERMS_MAX] = {0.0, knee - foot, 0.0, fit->c[1]};
    gsl_matrix_view m = gsl_matrix_view_array(normal, TERMS_MAX, TERMS_MAX);
    gsl_vector_view v = gsl_vector_view_array(solved, TERMS_MAX);
    if (gsl_linalg_cholesky_decomp1(&m.matrix) != GSL_SUCCESS ||
        gsl_linalg_cholesky_svx(&m.matrix, &v.vector) != GSL_SUCCESS)
        return -1.0;
    double variance = 0.0;
    for (size_t a = 0; a < TERMS_MAX; a++)
        variance += gradient[a] * solved[a];
    return variance;
}

/* Force in units of the rise above the foot, so that the normal matrices are well scaled. */
static struct rise rise_new(const struct points *p, double foot_n, double *scale_n)
{
    struct rise r = {.x = mem_calloc(p->n, sizeof(double)),
                     .f = mem_calloc(p->n, sizeof(double)),
                     .w = mem_calloc(p->n, sizeof(double)),
                     .n = p->n};
    size_t *order = mem_calloc(p->n, sizeof *order);
    gsl_sort_index(order, p->y, 1, p->n);
    *scale_n = p->y[order[p->n - 1]] - foot_n;
    r.first_m = p->x[order[0]];
    for (size_t k = 0; k < p->n; k++) {
        r.x[k] = p->x[order[k]] - p->x[order[0]];
        r.f[k] = (p->y[order[k]] - foot_n) / *scale_n;
        r.w[k] = p->weight[order[k]];
    }
    free(order);
    return r;
}

static void rise_clear(struct rise *r)
{
    free(r->x);
    free(r->f);
    free(r->w);
}

static struct fit best_bent_line(const struct rise *r, double *knee)
{
    struct fit best = {.ok = false, .squares = INFINITY};
    for (size_t k = POINTS_EACH_SIDE; k + POINTS_EACH_SIDE <= r->n; k++) {
        double at = 0.5 * (r->f[k - 1] + r->f[k]);
        struct fit fit = fit_terms(r, bent_line, at);
        if (fit.ok && fit.squares < best.squares) {
            best = fit;
            *knee = at;
        }
    }
    return best;
}

/* How many variances the parabola leaves of an ideal two-slope rise with the second landing at
 * distance_m, at the forces that were read: what a search for the knee has to go by. */
static double ideal_evidence(const struct rise *r, double slope_m, double distance_m,
                             double variance)
{
    struct rise ideal = {.x = mem_calloc(r->n, sizeof(double)), .f = r->f, .w = r->w, .n = r->n};
    double knee = distance_m / (2.0 * slope_m);
    for (size_t i = 0; i < r->n; i++)
        ideal.x[i] = slope_m * (r->f[i] + fmin(r->f[i], knee));
    struct fit fit = fit_terms(&ideal, parabola, 0.0);
    free(ideal.x);
    return fit.ok ? fit.squares / variance : 0.0;
}

/* The smallest stagger whose evidence, with the second landing at that distance and the forces that
 * were read, exceeds the threshold by 1.28 standard deviations of its square root: nine in ten such
 * pulls would show it, if the second slope is as well covered as here. */
static double detection_limit_m(const struct rise *r, double variance)
{
    double slope_m = (r->x[r->n - 1] - r->x[0]) / (r->f[r->n - 1] - r->f[0]);
    double needed = pow(sqrt(CLEARLY_BETTER) + NINE_IN_TEN, 2.0);
    for (int i = 1; i <= LIMIT_STEPS; i++) {
        double distance_m = LIMIT_MAX_M * i / LIMIT_STEPS;
        if (ideal_evidence(r, slope_m, distance_m, variance) >= needed)
            return distance_m;
    }
    return 0.0;
}

/* The rise in steps of force: mean position of the readings in each. */
struct steps {
    double x[FORCE_STEPS], weight[FORCE_STEPS];
    double step_n;
};

static struct steps force_steps(const struct points *p, size_t first, double holding_n,
                                double top_n)
{
    struct steps s = {.step_n = (top_n - holding_n) / FORCE_STEPS};
    for (size_t i = first; i < p->n; i++) {
        double k = floor((p->y[i] - holding_n) / s.step_n);
        if (k < 0.0 || k >= FORCE_STEPS)
            continue;
        size_t b = (size_t)k;
        s.weight[b] += p->weight[i];
        s.x[b] += p->weight[i] * (p->x[i] - s.x[b]) / s.weight[b];
    }
    return s;
}

/* Force from which the rise is steep all the way to the top: down from the top while every step
 * takes no more travel than a wall would. */
static double steep_from_n(const struct steps *s, double holding_n, double stiffness_n_per_m)
{
    size_t above = FORCE_STEPS - 1;
    while (above > 0 && s->weight[above] <= 0.0)
        above--;
    for (size_t b = above; b-- > 0;) {
        if (s->weight[b] <= 0.0)
            continue;
        double travel_m = s->x[above] - s->x[b];
        double rise_n = (double)(above - b) * s->step_n;
        if (rise_n < STEEP_SHARE * stiffness_n_per_m * travel_m)
            break;
        above = b;
    }
    return holding_n + ((double)above + 0.5) * s->step_n;
}

/* Force of the course just before the rise begins at begin_m: a straight line through the readings
 * there, carried on; holding_n where there are too few. */
static double foot_force_n(const struct points *p, double begin_m, double holding_n)
{
    struct poly line;
    size_t from = 0, to = 0;
    while (to + 1 < p->n && p->x[to + 1] < begin_m - FOOT_GAP_M)
        to++;
    from = to;
    while (from > 0 && p->x[from - 1] > begin_m - FOOT_REACH_M)
        from--;
    if (to - from < 3 || !poly_fit(p, from, to, 2, &line))
        return holding_n;
    return fmax(poly_value(&line, begin_m), holding_n);
}

/* Returns where the first slope meets the foot, from the first of the rise's positions. */
static double judge(const struct rise *r, double foot_n, double scale_n, double position_sd_m,
                    struct stagger *stagger)
{
    double knee = 0.0, dof = (double)r->n - 4.0;
    struct fit bend = fit_terms(r, parabola, 0.0), bent = best_bent_line(r, &knee);
    if (!bend.ok || !bent.ok)
        return 0.0;
    double variance = fmax(bent.squares / dof, position_sd_m * position_sd_m);
    double steeper = bent.c[1] / (bent.c[1] + bent.c[2]);
    double u2 = distance_variance(r, &bent, knee, 0.0);
    stagger->distance_m = bent.c[1] * knee;
    stagger->u_distance_m = u2 > 0.0 ? sqrt(u2 * variance) : INFINITY;
    stagger->knee_n = foot_n + knee * scale_n;
    stagger->limit_m = detection_limit_m(r, variance);
    stagger->found = bend.squares - bent.squares > CLEARLY_BETTER * variance &&
                     steeper > STEEPER_MIN && steeper < STEEPER_MAX &&
                     stagger->distance_m > CLAIM_SIGMAS * stagger->u_distance_m &&
                     stagger->limit_m > 0.0 && stagger->distance_m >= stagger->limit_m;
    return bent.c[0];
}

struct stagger stagger_find(const struct points *points, size_t first, double holding_n,
                            double stiffness_n_per_m, double position_sd_m)
{
    struct stagger stagger = {.found = false};
    double top_n = holding_n;
    for (size_t i = first; i < points->n; i++)
        top_n = fmax(top_n, points->y[i]);
    if (!(top_n > holding_n))
        return stagger;
    struct steps steps = force_steps(points, first, holding_n, top_n);
    double least_n = steep_from_n(&steps, holding_n, stiffness_n_per_m);
    /* The last point is the first that reached the top: it was picked for its noise. */
    struct points taken = points_new(points->n);
    for (size_t i = first; i + 1 < points->n; i++) {
        if (points->y[i] < least_n)
            continue;
        taken.x[taken.n] = points->x[i];
        taken.y[taken.n] = points->y[i];
        taken.weight[taken.n++] = points->weight[i];
    }
    /* Where the first stop lands shows only once the rise is fitted, and the foot's force there
     * moves the fit a little: twice is enough. */
    double foot_n = holding_n;
    for (int round = 0; taken.n >= POINTS_MIN && round < FOOT_ROUNDS; round++) {
        double scale_n;
        struct rise r = rise_new(&taken, foot_n, &scale_n);
        double landing_m = r.first_m + judge(&r, foot_n, scale_n, position_sd_m, &stagger);
        rise_clear(&r);
        foot_n = foot_force_n(points, landing_m, holding_n);
    }
    points_clear(&taken);
    return stagger;
}
