/*
 * smoothing: how well ways to smooth a draw keep its course and its figures, for one bow.
 *
 *     smoothing BOW.ini [CAPTURES [SEED]]
 *
 * Simulated draws with their hand and noise, converters without error. Every course is read in the
 * same way (read_course); the last row is what the program does. Prints rows of a Markdown table.
 */
#include "base/mem.h"
#include "bench/simbench.h"
#include "bench/simbow.h"
#include "bench/simhand.h"
#include "bench/simtruth.h"
#include "curve/measure.h"
#include "curve/smooth.h"
#include "curve/sweep.h"
#include "smoothers.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What is read of a course. */
enum {
    COURSE,      /* miss of the force before the wall, root mean square */
    WALL_COURSE, /* and on the wall */
    PEAK,
    HOLDING,
    VALLEY,
    ONSET,
    SLOPE,
    ENERGY,
    READ_COUNT
};

struct way {
    const char *name;
    smoother *smooth; /* NULL: the program's course (SPLIT) or its figures (FIGURES) */
    int size;
};

enum { SPLIT = -1, FIGURES = -2 };

static const struct way ways[] = {
    {"the points themselves", smooth_not, 0},
    {"moving average, 5", smooth_mean, 5},
    {"moving average, 11", smooth_mean, 11},
    {"moving average, 31", smooth_mean, 31},
    {"local quadratic, 11", smooth_quadratic, 11},
    {"local quadratic, 21", smooth_quadratic, 21},
    {"local quadratic, 41", smooth_quadratic, 41},
    {"local quartic, 21", smooth_quartic, 21},
    {"local quartic, 41", smooth_quartic, 41},
    {"P-spline, 100 intervals, GCV", smooth_pspline, 100},
    {"P-spline, 400 intervals, GCV", smooth_pspline, 400},
    {"adaptive local quadratic", smooth_whole, 0},
    {"the same, split at the corner", NULL, SPLIT},
    {"**figures from their own fits**", NULL, FIGURES},
};
enum { WAYS_COUNT = sizeof ways / sizeof ways[0] };

/* Unit and factor from SI of each reading; wall slope as a share of the true one. */
static const double lbf = 4.4482216152605, in = 0.0254, ft_lbf = 0.3048 * 4.4482216152605;

/* The line through the wall is fitted above this share of its rise, the largest left out, as in
 * curve/feature.c. */
static const double FOOT_SHARE = 0.3;
/* A bow without a wall is drawn a little beyond the stated full draw. */
static const double BEYOND_STATED_M = 0.004;
static const double MERGE_SHARE = 1.0 / 4000.0;

struct study {
    struct simbow *bow;
    struct simtruth truth;
    double brace_m, wall_m; /* where the first stop lands */
    gsl_rng *rng;
};

struct capture {
    struct readings readings;
    double *draw_m, *force_n;
    struct points points; /* of the draw */
    double *true_n;       /* force at each point */
};

struct tally {
    int n;
    double sum, squares;
};

static void must(enum status status, const struct err *err)
{
    if (status == STATUS_OK)
        return;
    fprintf(stderr, "smoothing: %s\n", err->text);
    exit(status_exit_code(status));
}

static double force_at(const struct study *s, double draw_m)
{
    struct simbow_state state;
    struct err err;
    must(simbow_at(s->bow, fmin(draw_m, simbow_limit_m(s->bow)), 1.0, &state, &err), &err);
    return state.force_n;
}

static void read_pull(const struct study *s, struct capture *c)
{
    struct simbench_settings bench_settings = simbench_defaults();
    struct simhand_settings hand_settings = simhand_defaults();
    bench_settings.seed = gsl_rng_get(s->rng);
    hand_settings.seed = gsl_rng_get(s->rng);
    struct simbench *bench;
    struct simhand *hand;
    struct err err;
    double top_m = s->truth.value_si[SIMTRUTH_LARGEST_DRAW];
    if (!simbow_has_stops(s->bow))
        top_m += BEYOND_STATED_M;
    must(simbench_open(&bench, &bench_settings, &err), &err);
    must(simhand_open(&hand, &hand_settings, s->brace_m, top_m, &err), &err);
    size_t n = (size_t)(simhand_duration_s(hand) * bench_settings.rate_hz);
    c->draw_m = mem_calloc(n, sizeof *c->draw_m);
    c->force_n = mem_calloc(n, sizeof *c->force_n);
    double direction = 1.0, last_m = s->brace_m;
    for (size_t k = 0; k < n; k++) {
        struct simbow_state state;
        struct wire_line line;
        double time_s = simbench_time_s(bench, k), draw_m = simhand_at_m(hand, time_s);
        direction = simbow_friction(s->bow, direction, draw_m - last_m);
        last_m = draw_m;
        must(simbow_at(s->bow, draw_m, direction, &state, &err), &err);
        simbench_read(bench, time_s, draw_m, state.force_n, &line);
        c->draw_m[k] = simbench_value_si(&bench_settings.travel, line.travel_count);
        c->force_n[k] = simbench_value_si(&bench_settings.force, line.force_count);
    }
    c->readings = (struct readings){.n = n, .draw_m = c->draw_m, .force_n = c->force_n};
    simhand_close(hand);
    simbench_close(bench);
}

/* The points of the draw as the program makes them: rest in front, what goes back left out. */
static void pick_points(const struct study *s, struct capture *c)
{
    struct sweeps sweeps;
    struct err err;
    must(sweeps_find(&c->readings, &sweeps, &err), &err);
    const struct sweep *sweep = &sweeps.sweep[0];
    size_t room = sweep->last - sweep->first + 1, kept = 1, n_rest = sweep->first + 1;
    size_t *index = mem_calloc(room, sizeof *index);
    size_t n = sweep_pick_draw(&c->readings, sweep, sweeps.tolerance_m, index, NULL);
    double *x = mem_calloc(n + 1, sizeof *x), *f = mem_calloc(n + 1, sizeof *f);
    double least_m = MERGE_SHARE * (c->draw_m[sweep->top_first] - s->brace_m);
    x[0] = gsl_stats_mean(c->draw_m, 1, n_rest);
    f[0] = gsl_stats_mean(c->force_n, 1, n_rest);
    for (size_t k = 0; k < n; k++) {
        if (c->draw_m[index[k]] <= x[0] + least_m)
            continue;
        x[kept] = c->draw_m[index[k]];
        f[kept++] = c->force_n[index[k]];
    }
    c->points = points_merge(x, f, kept, least_m);
    c->points.weight[0] += (double)n_rest - 1.0;
    c->true_n = mem_calloc(c->points.n, sizeof *c->true_n);
    for (size_t i = 0; i < c->points.n; i++)
        c->true_n[i] = force_at(s, c->points.x[i]);
    free(x);
    free(f);
    free(index);
    sweeps_clear(&sweeps);
}

static struct capture capture_new(const struct study *s)
{
    struct capture c = {.draw_m = NULL};
    read_pull(s, &c);
    pick_points(s, &c);
    return c;
}

static void capture_clear(struct capture *c)
{
    points_clear(&c->points);
    free(c->true_n);
    free(c->draw_m);
    free(c->force_n);
}

/* Line of position over force through the upper part of the wall: noise of the position rules
 * there. */
static void read_wall(const struct points *p, const double *course_n, size_t valley, double *read)
{
    double top_n = course_n[valley], n = 0.0, mx = 0.0, mf = 0.0, sff = 0.0, sfx = 0.0;
    for (size_t i = valley; i < p->n; i++)
        top_n = fmax(top_n, course_n[i]);
    for (size_t i = valley; i + 1 < p->n; i++) {
        if (course_n[i] < course_n[valley] + FOOT_SHARE * (top_n - course_n[valley]))
            continue;
        double df = course_n[i] - mf, dx = p->x[i] - mx;
        n += p->weight[i];
        mf += p->weight[i] / n * df;
        mx += p->weight[i] / n * dx;
        sff += p->weight[i] * df * (course_n[i] - mf);
        sfx += p->weight[i] * df * (p->x[i] - mx);
    }
    read[SLOPE] = sff / sfx;
    read[ONSET] = mx + (course_n[valley] - mf) / read[SLOPE];
}

/* Peak: the largest force of the course; valley: the smallest behind it. Energy: trapezoids from
 * brace to the valley (no valley: to the stated full draw). */
static void read_course(const struct study *s, const struct points *p, const double *course_n,
                        double *read)
{
    double full_draw_m = simbow_stated_draw_m(s->bow);
    size_t peak = 0;
    for (size_t i = 0; i < p->n; i++)
        if (course_n[i] > course_n[peak] && (full_draw_m == 0.0 || p->x[i] <= full_draw_m))
            peak = i;
    read[PEAK] = course_n[peak];
    if (simbow_has_stops(s->bow)) {
        size_t valley = peak;
        for (size_t i = peak; i < p->n; i++)
            if (course_n[i] < course_n[valley])
                valley = i;
        read[HOLDING] = course_n[valley];
        read[VALLEY] = full_draw_m = p->x[valley];
        read_wall(p, course_n, valley, read);
    }
    double energy_j = 0.0;
    for (size_t i = 1; i < p->n && p->x[i - 1] < full_draw_m; i++) {
        double share = fmin(1.0, (full_draw_m - p->x[i - 1]) / (p->x[i] - p->x[i - 1]));
        double end_n = course_n[i - 1] + share * (course_n[i] - course_n[i - 1]);
        energy_j += 0.5 * share * (p->x[i] - p->x[i - 1]) * (course_n[i - 1] + end_n);
    }
    read[ENERGY] = energy_j;
}

static void read_misses(const struct study *s, const struct capture *c, const double *course_n,
                        double *read)
{
    double squares[2] = {0.0, 0.0};
    int n[2] = {0, 0};
    for (size_t i = 0; i < c->points.n; i++) {
        int wall = c->points.x[i] > s->wall_m;
        squares[wall] += (course_n[i] - c->true_n[i]) * (course_n[i] - c->true_n[i]);
        n[wall]++;
    }
    read[COURSE] = sqrt(squares[0] / n[0]);
    if (n[1] > 0)
        read[WALL_COURSE] = sqrt(squares[1] / n[1]);
}

static struct measurement measure(const struct study *s, const struct capture *c)
{
    struct measure_settings settings = measure_defaults();
    settings.uncertainty.trials = 0;
    if (!simbow_is_compound(s->bow)) {
        settings.full_draw = FULL_DRAW_STATED;
        settings.full_draw_m = simbow_stated_draw_m(s->bow);
    }
    struct measurement m;
    struct err err;
    must(measure_run(&c->readings, &settings, &m, &err), &err);
    return m;
}

/* The program's course at the points of this study: its own points are the same but for their
 * rest. */
static void program_course(const struct capture *c, const struct branch *branch, double *course_n)
{
    size_t k = 0;
    for (size_t i = 0; i < c->points.n; i++) {
        while (k + 1 < branch->n && fabs(branch->draw_m[k + 1] - c->points.x[i]) <=
                                        fabs(branch->draw_m[k] - c->points.x[i]))
            k++;
        course_n[i] =
            branch->force_n[k] + branch->slope_n_per_m[k] * (c->points.x[i] - branch->draw_m[k]);
    }
}

static void read_figures(const struct measurement *m, double *read)
{
    static const struct {
        int id;
        enum figure_id figure;
    } pairs[] = {{PEAK, FIGURE_PEAK_FORCE},        {HOLDING, FIGURE_HOLDING_FORCE},
                 {VALLEY, FIGURE_VALLEY_POSITION}, {ONSET, FIGURE_WALL_ONSET},
                 {SLOPE, FIGURE_WALL_STIFFNESS},   {ENERGY, FIGURE_STORED_ENERGY}};
    for (size_t k = 0; k < sizeof pairs / sizeof pairs[0]; k++)
        if (m->figures.f[pairs[k].figure].present)
            read[pairs[k].id] = m->figures.f[pairs[k].figure].value_si;
}

static void read_way(const struct study *s, const struct capture *c, const struct way *way,
                     double *read)
{
    for (int id = 0; id < READ_COUNT; id++)
        read[id] = NAN;
    double *course_n = mem_calloc(c->points.n, sizeof *course_n);
    struct measurement m = {0};
    if (way->smooth != NULL) {
        way->smooth(&c->points, way->size, course_n);
    } else {
        m = measure(s, c);
        program_course(c, &m.pulls[0].draw, course_n);
    }
    if (way->size != FIGURES) {
        read_misses(s, c, course_n, read);
        read_course(s, &c->points, course_n, read);
    } else {
        read_figures(&m, read);
    }
    measurement_clear(&m);
    free(course_n);
}

static void count(const struct study *s, const double *read, struct tally *tally)
{
    static const enum simtruth_id truths[READ_COUNT] = {
        [PEAK] = SIMTRUTH_PEAK_FORCE,        [HOLDING] = SIMTRUTH_HOLDING_FORCE,
        [VALLEY] = SIMTRUTH_VALLEY_POSITION, [ONSET] = SIMTRUTH_WALL_ONSET,
        [SLOPE] = SIMTRUTH_WALL_STIFFNESS,   [ENERGY] = SIMTRUTH_STORED_ENERGY};
    for (int id = 0; id < READ_COUNT; id++) {
        if (!isfinite(read[id]))
            continue;
        double miss = id >= PEAK ? read[id] - s->truth.value_si[truths[id]] : read[id];
        tally[id].n++;
        tally[id].sum += miss;
        tally[id].squares += miss * miss;
    }
}

static void print_row(const struct study *s, const struct way *way, const struct tally *tally)
{
    const double unit[READ_COUNT] = {
        lbf, lbf, lbf, lbf, in, in, 0.01 * s->truth.value_si[SIMTRUTH_WALL_STIFFNESS], ft_lbf};
    static const int decimals[READ_COUNT] = {3, 2, 3, 3, 3, 4, 2, 3};
    printf("| %s |", way->name);
    for (int id = 0; id < READ_COUNT; id++) {
        const struct tally *t = &tally[id];
        double n = t->n, mean = t->sum / n;
        if (t->n == 0)
            printf(" |");
        else if (id < PEAK)
            printf(" %.*f |", decimals[id], sqrt(t->squares / n) / unit[id]);
        else
            printf(" %+.*f, %.*f |", decimals[id], mean / unit[id], decimals[id],
                   sqrt(fmax(t->squares / n - mean * mean, 0.0)) / unit[id]);
    }
    printf("\n");
}

int main(int argc, char **argv)
{
    if (argc < 2) {
        fprintf(stderr, "usage: smoothing BOW.ini [CAPTURES [SEED]]\n");
        return 64;
    }
    gsl_set_error_handler_off();
    int captures = argc > 2 ? atoi(argv[2]) : 200;
    struct simbow_settings settings = simbow_nominal();
    struct study s = {.rng = gsl_rng_alloc(gsl_rng_mt19937)};
    struct err err;
    gsl_rng_set(s.rng, argc > 3 ? strtoul(argv[3], NULL, 10) : 1);
    must(simbow_open(&s.bow, argv[1], &settings, &err), &err);
    must(simtruth_find(s.bow, SIMTRUTH_PRESS_N, &s.truth, &err), &err);
    s.brace_m = simbow_brace_m(s.bow);
    s.wall_m = simbow_has_stops(s.bow) ? fmin(simbow_stop_top_m(s.bow), simbow_stop_bottom_m(s.bow))
                                       : INFINITY;
    struct tally tally[WAYS_COUNT][READ_COUNT] = {{{0}}};
    for (int i = 0; i < captures; i++) {
        struct capture c = capture_new(&s);
        for (int w = 0; w < WAYS_COUNT; w++) {
            double read[READ_COUNT];
            read_way(&s, &c, &ways[w], read);
            count(&s, read, tally[w]);
        }
        capture_clear(&c);
    }
    for (int w = 0; w < WAYS_COUNT; w++)
        print_row(&s, &ways[w], tally[w]);
    simbow_close(s.bow);
    gsl_rng_free(s.rng);
    return 0;
}
