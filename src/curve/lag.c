#include "curve/lag.h"
#include "base/mem.h"
#include "curve/smooth.h"

#include <assert.h>
#include <gsl/gsl_bspline.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    ORDER = 4,             /* of f: cubic */
    INTERVALS = 40,        /* of f, at most */
    INTERVAL_READINGS = 8, /* in each at least */
    FRICTION_TERMS = 13,   /* of g */
    FEWER_TERMS = 9,       /* and of a g that must agree */
    READINGS_MIN = 150,
    ROUNDS = 15,
    REACH_MIN = 2,
    STRETCHES = 12, /* in which the misses may go together */
    UNKNOWNS_MAX = INTERVALS + ORDER - 1 + FRICTION_TERMS + 1
};

/* Position and speed are taken from this much time to each side, and times may be as far apart. */
static const double REACH_S = 0.05, INTERVAL_MAX_S = 0.05;
/* Shares of the travel: where friction is at its full after rest and reversal. */
static const double LOW_SHARE = 0.03, HIGH_SHARE = 0.97, WALL_SHARE = 0.02, MARGIN_SHARE = 0.02;
/* A force that falls below this share of its peak has a valley, and behind it may be a wall. */
static const double VALLEY_SHARE = 0.9;
static const double SETTLED_S = 1e-6;
/* A correction must stand this far out of its uncertainty, and matter. */
static const double SIGMAS_MIN = 4.0, LAG_MIN_S = 0.002;

/* Position over time as points. */
static struct points track_of(const struct readings *r)
{
    struct points track = points_new(r->n);
    track.n = r->n;
    memcpy(track.x, r->time_s, r->n * sizeof *track.x);
    memcpy(track.y, r->draw_m, r->n * sizeof *track.y);
    for (size_t i = 0; i < r->n; i++)
        track.weight[i] = 1.0;
    return track;
}

static size_t nearest_in_time(const struct points *track, double time_s)
{
    size_t low = 0, high = track->n - 1;
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        if (track->x[middle] <= time_s)
            low = middle;
        else
            high = middle;
    }
    return time_s - track->x[low] <= track->x[high] - time_s ? low : high;
}

/* Position c[0] and speed c[1] at a time. */
static struct local_fit moment(const struct points *track, double time_s)
{
    size_t at = nearest_in_time(track, time_s), first = at, last = at;
    while (first > 0 && (at - first < REACH_MIN || track->x[first - 1] >= track->x[at] - REACH_S))
        first--;
    while (last + 1 < track->n &&
           (last - at < REACH_MIN || track->x[last + 1] <= track->x[at] + REACH_S))
        last++;
    return smooth_local_fit(track, first, last, time_s);
}

static double median_interval_s(const double *time_s, size_t n)
{
    double *interval = mem_calloc(n - 1, sizeof *interval);
    for (size_t i = 1; i < n; i++)
        interval[i - 1] = time_s[i] - time_s[i - 1];
    double median = gsl_stats_median(interval, 1, n - 1);
    free(interval);
    return median;
}

/* The same number of readings before each one, so that no reading is taken twice, unless readings
 * are missing there. */
void lag_delay_travel(const struct readings *r, double lag_s, double *draw_m)
{
    assert(r->time_s != NULL && r->n > 1);
    struct points track = track_of(r);
    double interval_s = median_interval_s(r->time_s, r->n);
    long before = lround(lag_s / interval_s), n = (long)r->n;
    for (size_t i = 0; i < r->n; i++) {
        double time_s = track.x[i] - lag_s;
        long then = (long)i - before;
        size_t at = then >= 0 && then < n ? (size_t)then : nearest_in_time(&track, time_s);
        if (fabs(track.x[at] - time_s) > interval_s)
            at = nearest_in_time(&track, time_s);
        draw_m[i] = track.y[at];
        if (time_s > track.x[0] && time_s < track.x[track.n - 1])
            draw_m[i] += moment(&track, track.x[at]).c[1] * (time_s - track.x[at]);
    }
    points_clear(&track);
}

/* The readings of a pull that the model is fitted to, and the model. */
struct work {
    const struct readings *readings;
    const struct points *track;
    size_t n;
    size_t *index;
    double *direction;    /* +1, -1 */
    double *x, *speed;    /* at the lag that is tried; x NAN: left out */
    double low_m, high_m; /* between which readings are used */
    double from_m, to_m;  /* f is defined */
    size_t n_spline, n_friction, n_unknown;
    gsl_bspline_workspace *basis;
    gsl_matrix *derivative;
    gsl_vector *values;
    double coefficient[UNKNOWNS_MAX];
};

/* Before the wall where there is one, else short of the largest draw. */
static double high_limit_m(const struct readings *r, const struct sweep *sweep)
{
    double travel_m = r->draw_m[sweep->top_first] - sweep->base_m;
    double peak_n = 0.0, least_n = INFINITY, high_m = sweep->base_m + HIGH_SHARE * travel_m;
    double valley_m = high_m;
    for (size_t i = sweep->first + 2; i + 2 <= sweep->top_first; i++) {
        double mean_n = gsl_stats_mean(r->force_n + i - 2, 1, 5);
        if (mean_n > peak_n && r->draw_m[i] < sweep->base_m + 0.8 * travel_m) {
            peak_n = mean_n;
            least_n = INFINITY;
        }
        if (mean_n < least_n) {
            least_n = mean_n;
            valley_m = r->draw_m[i];
        }
    }
    bool falls = least_n < VALLEY_SHARE * peak_n;
    return falls ? fmin(high_m, valley_m - WALL_SHARE * travel_m) : high_m;
}

static void keep_between(struct work *w, const bool *spike, const size_t *picked, size_t n,
                         double direction)
{
    for (size_t k = 0; k < n; k++) {
        size_t i = picked[k];
        double x = w->readings->draw_m[i];
        if (spike[i] || x <= w->low_m || x >= w->high_m)
            continue;
        w->index[w->n] = i;
        w->direction[w->n++] = direction;
    }
}

static struct work work_new(const struct readings *r, const struct points *track,
                            const struct sweep *sweep, double tolerance_m, const bool *spike)
{
    size_t room = sweep->last - sweep->first + 1;
    double travel_m = r->draw_m[sweep->top_first] - sweep->base_m;
    struct work w = {.readings = r,
                     .track = track,
                     .index = mem_calloc(room + 1, sizeof *w.index),
                     .direction = mem_calloc(room + 1, sizeof *w.direction),
                     .x = mem_calloc(room + 1, sizeof *w.x),
                     .speed = mem_calloc(room + 1, sizeof *w.speed),
                     .low_m = sweep->base_m + LOW_SHARE * travel_m,
                     .high_m = high_limit_m(r, sweep)};
    w.from_m = w.low_m - MARGIN_SHARE * travel_m;
    w.to_m = w.high_m + MARGIN_SHARE * travel_m;
    size_t *picked = mem_calloc(room, sizeof *picked);
    size_t n = sweep_pick_draw(r, sweep, tolerance_m, picked, NULL);
    keep_between(&w, spike, picked, n, 1.0);
    n = sweep_pick_let_down(r, sweep, tolerance_m, picked, NULL);
    keep_between(&w, spike, picked, n, -1.0);
    free(picked);
    return w;
}

static void work_clear(struct work *w)
{
    gsl_bspline_free(w->basis);
    gsl_matrix_free(w->derivative);
    gsl_vector_free(w->values);
    free(w->index);
    free(w->direction);
    free(w->x);
    free(w->speed);
}

/* Where each force was read if it stands lag_s behind. */
static void place(struct work *w, double lag_s)
{
    for (size_t k = 0; k < w->n; k++) {
        struct local_fit at = moment(w->track, w->readings->time_s[w->index[k]] - lag_s);
        bool within = at.c[0] > w->from_m && at.c[0] < w->to_m;
        w->x[k] = within ? at.c[0] : NAN;
        w->speed[k] = at.c[1];
    }
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Knots of f: even ones, less those that would leave too few readings between them. */
static bool set_spline(struct work *w)
{
    double *sorted = mem_calloc(w->n + 1, sizeof *sorted), knot[INTERVALS + 1];
    size_t n = 0, knots = 1, since = 0, next = 0;
    for (size_t k = 0; k < w->n; k++)
        if (isfinite(w->x[k]))
            sorted[n++] = w->x[k];
    qsort(sorted, n, sizeof *sorted, by_size);
    knot[0] = w->from_m;
    for (int i = 1; i <= INTERVALS; i++) {
        double at_m = w->from_m + (w->to_m - w->from_m) * i / INTERVALS;
        for (; next < n && sorted[next] < at_m; next++)
            since++;
        if (since < INTERVAL_READINGS || (n - next < INTERVAL_READINGS && i < INTERVALS))
            continue;
        knot[knots++] = at_m;
        since = 0;
    }
    free(sorted);
    if (knots < 8)
        return false;
    knot[knots - 1] = w->to_m;
    w->n_spline = knots + ORDER - 2;
    w->basis = gsl_bspline_alloc(ORDER, knots);
    w->derivative = gsl_matrix_alloc(ORDER, 2);
    w->values = gsl_vector_alloc(ORDER);
    if (w->basis == NULL || w->derivative == NULL || w->values == NULL)
        mem_exhausted();
    gsl_vector_view breaks = gsl_vector_view_array(knot, knots);
    return gsl_bspline_knots(&breaks.vector, w->basis) == GSL_SUCCESS;
}

/* What one reading has to do with the unknowns: f's few that matter there, g's, the lag. */
struct row {
    size_t spline; /* the first of ORDER */
    size_t n;
    double value[ORDER + FRICTION_TERMS + 1];
};

static size_t unknown_of(const struct work *w, const struct row *row, size_t k)
{
    return k < ORDER ? row->spline + k : w->n_spline + k - ORDER;
}

static bool set_row(const struct work *w, size_t k, struct row *row)
{
    size_t last;
    if (!isfinite(w->x[k]) ||
        gsl_bspline_deriv_eval_nonzero(w->x[k], 1, w->derivative, &row->spline, &last, w->basis) !=
            GSL_SUCCESS)
        return false;
    double slope = 0.0;
    for (size_t a = 0; a < ORDER; a++) {
        row->value[a] = gsl_matrix_get(w->derivative, a, 0);
        slope += gsl_matrix_get(w->derivative, a, 1) * w->coefficient[row->spline + a];
    }
    /* Legendre polynomials of the position, by their recurrence */
    double t = 2.0 * (w->x[k] - w->from_m) / (w->to_m - w->from_m) - 1.0;
    double *g = row->value + ORDER;
    g[0] = w->direction[k];
    g[1] = w->direction[k] * t;
    for (int i = 1; i + 1 < (int)w->n_friction; i++)
        g[i + 1] = ((2 * i + 1) * t * g[i] - i * g[i - 1]) / (i + 1);
    row->n = ORDER + w->n_friction + 1;
    row->value[row->n - 1] = -w->speed[k] * slope;
    return true;
}

struct outcome {
    bool done;
    double lag_s, u_lag_s;
};

/* Sums of squares and products over all readings. Returns how many there are. */
static size_t fill(const struct work *w, gsl_matrix *gram, gsl_vector *right)
{
    size_t used = 0;
    gsl_matrix_set_zero(gram);
    gsl_vector_set_zero(right);
    for (size_t k = 0; k < w->n; k++) {
        struct row row;
        if (!set_row(w, k, &row))
            continue;
        used++;
        for (size_t a = 0; a < row.n; a++) {
            size_t i = unknown_of(w, &row, a);
            *gsl_vector_ptr(right, i) += row.value[a] * w->readings->force_n[w->index[k]];
            for (size_t b = 0; b <= a; b++)
                *gsl_matrix_ptr(gram, i, unknown_of(w, &row, b)) += row.value[a] * row.value[b];
        }
    }
    return used;
}

/* The larger of two standard uncertainties: of independent misses, and of misses that go together
 * within a stretch of one side (what f and g do not follow). weight: the last column of the inverse
 * of the normal equations. */
static double lag_uncertainty_s(const struct work *w, const gsl_vector *weight, size_t used)
{
    double together[2 * STRETCHES] = {0.0}, squares = 0.0, sum = 0.0;
    for (size_t k = 0; k < w->n; k++) {
        struct row row;
        if (!set_row(w, k, &row))
            continue;
        double miss = w->readings->force_n[w->index[k]], share = 0.0;
        for (size_t a = 0; a < row.n; a++) {
            size_t i = unknown_of(w, &row, a);
            /* The last unknown is the step of the lag, which has gone to nothing. */
            miss -= a + 1 < row.n ? row.value[a] * w->coefficient[i] : 0.0;
            share += row.value[a] * gsl_vector_get(weight, i);
        }
        double place = (w->x[k] - w->from_m) / (w->to_m - w->from_m);
        size_t stretch = (size_t)fmin(STRETCHES - 1, STRETCHES * place);
        together[2 * stretch + (w->direction[k] > 0.0)] += share * miss;
        squares += miss * miss;
    }
    for (size_t i = 0; i < 2 * STRETCHES; i++)
        sum += together[i] * together[i] * (2.0 * STRETCHES) / (2.0 * STRETCHES - 1.0);
    double variance =
        squares / (double)(used - w->n_unknown) * gsl_vector_get(weight, w->n_unknown - 1);
    return sqrt(fmax(variance, sum));
}

/* One round of Gauss and Newton. without_lag: the first one, which has no slope of f yet. On
 * success weight holds the last column of the inverse. */
static bool solve(struct work *w, bool without_lag, gsl_vector *weight, size_t *used)
{
    size_t n = w->n_unknown;
    bool solved = false;
    gsl_matrix *gram = gsl_matrix_alloc(n, n);
    gsl_vector *right = gsl_vector_alloc(n);
    if (gram == NULL || right == NULL)
        mem_exhausted();
    *used = fill(w, gram, right);
    if (without_lag)
        gsl_matrix_set(gram, n - 1, n - 1, 1.0);
    if (*used >= READINGS_MIN && gsl_linalg_cholesky_decomp1(gram) == GSL_SUCCESS &&
        gsl_linalg_cholesky_svx(gram, right) == GSL_SUCCESS) {
        solved = true;
        for (size_t i = 0; i < n; i++) {
            w->coefficient[i] = gsl_vector_get(right, i);
            solved = solved && isfinite(w->coefficient[i]);
        }
        gsl_vector_set_basis(weight, n - 1);
        solved = solved && gsl_linalg_cholesky_svx(gram, weight) == GSL_SUCCESS;
    }
    gsl_matrix_free(gram);
    gsl_vector_free(right);
    return solved;
}

/* Gauss and Newton from start_s, with so many terms of g. The first round has no slope of f yet. */
static struct outcome fit_with(struct work *w, size_t n_friction, double start_s)
{
    struct outcome outcome = {.lag_s = start_s};
    w->n_friction = n_friction;
    w->n_unknown = w->n_spline + n_friction + 1;
    memset(w->coefficient, 0, sizeof w->coefficient);
    gsl_vector *weight = gsl_vector_alloc(w->n_unknown);
    if (weight == NULL)
        mem_exhausted();
    size_t used;
    place(w, start_s);
    bool goes_on = solve(w, true, weight, &used);
    for (int round = 0; round < ROUNDS && goes_on && !outcome.done; round++) {
        goes_on = solve(w, false, weight, &used);
        double step_s = w->coefficient[w->n_unknown - 1];
        outcome.lag_s += step_s;
        goes_on = goes_on && fabs(outcome.lag_s) <= LAG_MAX_S;
        outcome.done = goes_on && fabs(step_s) < SETTLED_S;
        if (outcome.done)
            outcome.u_lag_s = lag_uncertainty_s(w, weight, used);
        else if (goes_on)
            place(w, outcome.lag_s);
    }
    gsl_vector_free(weight);
    return outcome;
}

/* A g that can bend less gives the same lag where the hand tells it, and another where friction
 * passes for lag: the difference goes into the uncertainty. */
static struct outcome fit_lag(struct work *w)
{
    struct outcome outcome = {.done = false};
    place(w, 0.0);
    if (w->n < READINGS_MIN || !set_spline(w))
        return outcome;
    outcome = fit_with(w, FRICTION_TERMS, 0.0);
    if (!outcome.done)
        return outcome;
    struct outcome stiffer = fit_with(w, FEWER_TERMS, outcome.lag_s);
    outcome.done = stiffer.done;
    outcome.u_lag_s = hypot(outcome.u_lag_s, stiffer.lag_s - outcome.lag_s);
    return outcome;
}

static bool times_serve(const struct readings *r)
{
    if (r->time_s == NULL || r->n < READINGS_MIN)
        return false;
    for (size_t i = 0; i < r->n; i++)
        if (!isfinite(r->time_s[i]) || (i > 0 && !(r->time_s[i] > r->time_s[i - 1])))
            return false;
    return (r->time_s[r->n - 1] - r->time_s[0]) / (double)(r->n - 1) <= INTERVAL_MAX_S;
}

struct lag lag_find(const struct readings *r, const bool *spike, const struct sweeps *sweeps)
{
    struct lag lag = {.known = false};
    if (!times_serve(r))
        return lag;
    struct points track = track_of(r);
    double sum_w = 0.0, sum = 0.0, squares = 0.0;
    size_t n = 0;
    for (size_t i = 0; i < sweeps->n; i++) {
        const struct sweep *sweep = &sweeps->sweep[i];
        if (!sweep->has_let_down)
            continue;
        struct work work = work_new(r, &track, sweep, sweeps->tolerance_m, spike);
        struct outcome one = fit_lag(&work);
        work_clear(&work);
        if (!one.done || !(one.u_lag_s > 0.0))
            continue;
        double weight = 1.0 / (one.u_lag_s * one.u_lag_s);
        n++;
        sum_w += weight;
        sum += weight * one.lag_s;
        squares += weight * one.lag_s * one.lag_s;
    }
    points_clear(&track);
    if (n == 0)
        return lag;
    /* Pulls that disagree more than they should make the mean less certain (Birge's ratio). */
    double excess = n > 1 ? (squares - sum * sum / sum_w) / (double)(n - 1) : 1.0;
    lag.lag_s = sum / sum_w;
    lag.u_lag_s = sqrt(fmax(1.0, excess) / sum_w);
    lag.known = lag.u_lag_s <= LAG_U_MAX_S;
    lag.significant =
        lag.known && fabs(lag.lag_s) >= LAG_MIN_S && fabs(lag.lag_s) >= SIGMAS_MIN * lag.u_lag_s;
    return lag;
}
