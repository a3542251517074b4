#include "curve/pull.h"
#include "base/mem.h"
#include "curve/noise.h"
#include "curve/shape.h"

#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SMOOTH_READINGS_MIN = 40, REST_READINGS_MIN = 3, REST_SCATTER_MIN = 20 };

/* Readings closer than this share of the travel become one point. */
static const double MERGE_SHARE = 1.0 / 4000.0;
/* A let-down that ends this share of the power stroke before brace height is taken to go on
 * straight to zero. */
static const double CLOSE_SHARE = 0.02;
/* The force has begun above this share of the largest; slack is reported from this length on. */
static const double BEGUN_SHARE = 0.005, SLACK_MIN_M = 0.1 * 0.0254;

/* Scatter of a median over that of a mean, normal noise: sqrt(pi/2). */
static const double MEDIAN_FACTOR = 1.2533141373155003;

/* Where the curve begins. */
struct rest {
    double draw_m, force_n;
    size_t n; /* readings it is the mean of; 0: none, the first position was taken */
};

/* What the steps of one pull share. */
struct work {
    const struct readings *readings;
    const struct sweep *sweep;
    const struct measure_settings *settings;
    double tolerance_m;
    double position_sd_m;
    const bool *spike; /* one for each reading */
    size_t n_spikes;   /* that would have been on a curve */
    struct rest rest;
    struct shape draw, let_down;
    struct warnings *warnings;
};

static void warn(struct work *work, enum warning_code code, double a, double b)
{
    warnings_add(work->warnings, (struct warning){.code = code, .count = 1, .value_si = {a, b}});
}

static struct rest find_rest(const struct work *w)
{
    const struct sweep *s = w->sweep;
    const double *x = w->readings->draw_m, *f = w->readings->force_n;
    size_t room = s->first - s->rest_first + 1, n = 0;
    double *rest_m = mem_calloc(room, sizeof *rest_m), sum_n = 0.0;
    for (size_t i = s->rest_first; i <= s->first; i++) {
        if (x[i] > s->base_m + 2.0 * w->tolerance_m || w->spike[i])
            continue;
        rest_m[n++] = x[i];
        sum_n += f[i];
    }
    struct rest rest = {.draw_m = x[s->first], .force_n = f[s->first]};
    if (n >= REST_READINGS_MIN)
        rest = (struct rest){gsl_stats_median(rest_m, 1, n), sum_n / (double)n, n};
    free(rest_m);
    return rest;
}

/* Copies the picked readings that are no spikes and lie beyond the rest into points, with the rest
 * itself in front. */
static struct points side_points(struct work *w, const size_t *index, size_t n, double least_step_m,
                                 bool rest_in_front)
{
    double *x = mem_calloc(n + 1, sizeof *x), *f = mem_calloc(n + 1, sizeof *f);
    size_t kept = 0;
    for (size_t k = 0; k < n; k++) {
        size_t i = index[k];
        if (w->spike[i]) {
            w->n_spikes++;
            continue;
        }
        if (rest_in_front && w->readings->draw_m[i] <= w->rest.draw_m + least_step_m)
            continue;
        x[kept] = w->readings->draw_m[i];
        f[kept++] = w->readings->force_n[i];
    }
    if (rest_in_front) {
        x[kept] = w->rest.draw_m;
        f[kept++] = w->rest.force_n;
    }
    struct points points = points_merge(x, f, kept, least_step_m);
    if (rest_in_front && points.n > 0 && w->rest.n > 0)
        points.weight[0] += (double)w->rest.n - 1.0;
    free(x);
    free(f);
    return points;
}

static double median_step_m(const struct points *points)
{
    double *step = mem_calloc(points->n, sizeof *step);
    for (size_t i = 1; i < points->n; i++)
        step[i - 1] = points->x[i] - points->x[i - 1];
    double median = gsl_stats_median(step, 1, points->n - 1);
    free(step);
    return median;
}

/* Travel without force before the string is met: the curve begins where the force does. */
static void skip_slack(struct work *w, struct points *points)
{
    double largest_n = 0.0, base_n = points->y[0];
    for (size_t i = 0; i < points->n; i++)
        largest_n = fmax(largest_n, points->y[i]);
    double begun_n = base_n + BEGUN_SHARE * (largest_n - base_n);
    size_t begun = 0;
    while (begun + 1 < points->n && points->y[begun] <= begun_n)
        begun++;
    if (begun + 2 >= points->n || begun < 2)
        return;
    /* Back along the first clear rise to where it began. */
    size_t far = begun + 2 + points->n / 200;
    if (far >= points->n)
        far = points->n - 1;
    double slope = (points->y[far] - points->y[begun]) / (points->x[far] - points->x[begun]);
    double begin_m = points->x[begun] - (points->y[begun] - base_n) / slope;
    double slack_m = begin_m - points->x[0];
    if (!(slope > 0.0) || slack_m < SLACK_MIN_M)
        return;
    size_t skipped = 0;
    while (points->x[skipped + 1] < begin_m)
        skipped++;
    points->x[skipped] = begin_m;
    points->y[skipped] = base_n;
    points->n -= skipped;
    memmove(points->x, points->x + skipped, points->n * sizeof *points->x);
    memmove(points->y, points->y + skipped, points->n * sizeof *points->y);
    memmove(points->weight, points->weight + skipped, points->n * sizeof *points->weight);
    w->rest.draw_m = begin_m;
    warn(w, WARNING_SLACK, slack_m, 0.0);
}

/* Scatter of the positions: from the readings at rest where there are enough of them, else from the
 * whole sweep (an uneven hand then counts as scatter too). */
static double position_scatter_m(const struct work *w)
{
    const struct sweep *s = w->sweep;
    size_t n_rest = s->first - s->rest_first + 1;
    if (n_rest >= REST_SCATTER_MIN)
        return noise_from_differences(w->readings->draw_m + s->rest_first, n_rest);
    return noise_from_differences(w->readings->draw_m + s->first, s->last - s->first + 1);
}

static void set_rest(struct work *w)
{
    w->position_sd_m = position_scatter_m(w);
    w->rest = find_rest(w);
    if (w->settings->has_brace)
        w->rest = (struct rest){w->settings->brace_m, 0.0, 1};
    else if (w->rest.n == 0)
        warn(w, WARNING_BRACE_ASSUMED, w->rest.draw_m, 0.0);
}

static enum status shape_draw(struct work *w, struct err *err)
{
    size_t room = w->sweep->last - w->sweep->first + 1;
    size_t *index = mem_calloc(room, sizeof *index);
    struct ways_back ways;
    size_t n = sweep_pick_draw(w->readings, w->sweep, w->tolerance_m, index, &ways);
    bool coarse = n < SMOOTH_READINGS_MIN || !w->settings->smooth;
    double travel_m = w->readings->draw_m[w->sweep->top_first] - w->rest.draw_m;
    double least_step_m = coarse ? 0.0 : MERGE_SHARE * travel_m;
    struct points points = side_points(w, index, n, least_step_m, w->rest.n > 0);
    free(index);
    if (points.n < 3) {
        points_clear(&points);
        return err_set(err, STATUS_TOO_FEW,
                       "the draw holds fewer than three different draw positions; read more of it");
    }
    if (ways.n > 0)
        warnings_add(w->warnings, (struct warning){.code = WARNING_REVERSALS,
                                                   .count = ways.n,
                                                   .value_si = {ways.largest_m}});
    if (coarse)
        warn(w, WARNING_COARSE, median_step_m(&points), 0.0);
    else if (!w->settings->has_brace && w->rest.n > 0)
        skip_slack(w, &points);
    w->draw = shape_find(points, coarse);
    w->draw.position_sd_m = w->position_sd_m;
    return STATUS_OK;
}

/* Leaves w->let_down without points where there is none to be used. */
static void shape_let_down(struct work *w)
{
    size_t room = w->sweep->last - w->sweep->first + 1;
    size_t *index = mem_calloc(room, sizeof *index);
    size_t n = sweep_pick_let_down(w->readings, w->sweep, w->tolerance_m, index, NULL);
    double travel_m = w->readings->draw_m[w->sweep->top_first] - w->rest.draw_m;
    double ends_m = n > 0 ? w->readings->draw_m[index[n - 1]] : 0.0;
    bool closes = n > 0 && ends_m - w->rest.draw_m > w->tolerance_m &&
                  ends_m - w->rest.draw_m < CLOSE_SHARE * travel_m;
    bool coarse = n < SMOOTH_READINGS_MIN || w->draw.coarse;
    double least_step_m = coarse ? 0.0 : MERGE_SHARE * travel_m;
    struct points points = side_points(
        w, index, n, least_step_m,
        n > 0 && (closes || (w->rest.n > 0 && ends_m - w->rest.draw_m <= w->tolerance_m)));
    free(index);
    if (points.n >= 3)
        w->let_down = shape_find(points, coarse);
    else
        points_clear(&points);
    w->let_down.position_sd_m = w->position_sd_m;
    if (w->let_down.points.n == 0)
        warn(w, WARNING_NO_LET_DOWN, 0.0, 0.0);
}

/* Full draw by the rule asked for; false where it can't be known. */
static bool find_full_draw(struct work *w, struct pull *pull, double *full_draw_m)
{
    enum full_draw_rule rule = w->settings->full_draw;
    const struct shape *draw = &w->draw;
    double largest_m = w->readings->draw_m[w->sweep->top_first];
    if (rule == FULL_DRAW_AUTO)
        rule = draw->valley.present ? FULL_DRAW_VALLEY : FULL_DRAW_LARGEST;
    pull->full_draw = rule;
    switch (rule) {
    case FULL_DRAW_VALLEY:
        *full_draw_m = draw->valley.draw_m;
        return draw->valley.present;
    case FULL_DRAW_WALL:
        *full_draw_m = draw->wall.onset_m;
        return draw->wall.present;
    case FULL_DRAW_STATED:
        *full_draw_m = w->settings->full_draw_m;
        if (*full_draw_m <= largest_m + 2.0 * w->tolerance_m)
            return true;
        warn(w, WARNING_SHORT_OF_STATED, largest_m, w->settings->full_draw_m);
        return false;
    case FULL_DRAW_AUTO:
    case FULL_DRAW_LARGEST:
        break;
    }
    *full_draw_m = largest_m;
    return true;
}

static void warn_of_shape(struct work *w, double peak_n, double full_draw_m, bool *closed)
{
    const struct valley *valley = &w->draw.valley;
    if (!valley->present)
        warn(w, WARNING_NO_VALLEY, peak_n, 0.0);
    else if (valley->at_end)
        warn(w, WARNING_VALLEY_AT_END, valley->draw_m, 0.0);
    if (valley->flat_m > 0.0)
        warn(w, WARNING_FLAT_VALLEY, valley->flat_m, 0.0);
    if (!w->draw.wall.present)
        warn(w, WARNING_NO_WALL, 0.0, 0.0);
    const struct points *back = &w->let_down.points;
    *closed = back->n > 0 && back->x[0] <= w->rest.draw_m + w->tolerance_m + 1e-9 &&
              back->x[back->n - 1] > w->rest.draw_m + 0.5 * (full_draw_m - w->rest.draw_m);
    if (back->n > 0 && !*closed)
        warn(w, WARNING_LET_DOWN_SHORT, back->x[0], 0.0);
}

/* A table of a few points: figures straight from the points, joined by straight lines. */
static void coarse_basics(struct work *w, const struct pull_features *p, struct basics *b)
{
    const struct shape *draw = &w->draw;
    struct extreme peak = shape_peak(draw, p->limit_m);
    *b = (struct basics){.peak_n = peak.value,
                         .peak_m = peak.draw_m,
                         .brace_m = p->brace_m,
                         .rise_n_per_m = shape_steepest(draw, p->limit_m, 1).value,
                         .drop_n_per_m = shape_steepest(draw, p->limit_m, -1).value,
                         .has_valley = draw->valley.present,
                         .has_wall = draw->wall.present,
                         .has_full_draw = p->has_full_draw};
    b->plateau_m = shape_length_n(draw, p->brace_m, p->limit_m, p->plateau_share * peak.value, 1);
    if (b->has_valley) {
        b->holding_n = draw->valley.force_n;
        b->valley_m = draw->valley.draw_m;
        b->has_width = b->has_wall;
        b->width_m = shape_length_n(draw, peak.draw_m, draw->points.x[draw->points.n - 1],
                                    b->holding_n + p->valley_band_n, -1);
        b->has_let_down_valley = w->let_down.points.n > 0 && w->let_down.valley.present;
        b->let_down_holding_n = w->let_down.valley.force_n;
    }
    b->onset_m = draw->wall.onset_m;
    b->stiffness_n_per_m = draw->wall.stiffness_n_per_m;
    if (!p->has_full_draw)
        return;
    b->full_draw_m = p->limit_m;
    b->has_stored = true;
    b->stored_j = shape_energy_j(draw, p->brace_m, p->limit_m);
    b->has_returned = p->let_down_closed;
    if (b->has_returned)
        b->returned_j = shape_energy_j(&w->let_down, p->brace_m, p->limit_m);
}

/* Full draw in the features is the one that the fits give, so that a trial moves away from it by
 * noise alone. */
static void set_limit(struct pull_features *p)
{
    static const struct shake still;
    if (p->draw.bottom.poly.terms == 0)
        return;
    struct poly_extreme bottom = evaluate_bottom(&p->draw, &still);
    if (p->rule == FULL_DRAW_VALLEY)
        p->limit_m = bottom.x;
    if (p->rule == FULL_DRAW_WALL)
        p->limit_m = evaluate_onset_m(&p->draw, bottom.value, &still);
}

static void find_features(struct work *w, struct pull_features *p)
{
    side_find_bottom(&w->draw, p->valley_band_n, &p->draw);
    set_limit(p);
    side_find_rest(&w->draw, p->brace_m, p->limit_m, p->plateau_share, true, &p->draw);
    if (!p->has_let_down)
        return;
    side_find_bottom(&w->let_down, p->valley_band_n, &p->let_down);
    side_find_rest(&w->let_down, p->brace_m, p->limit_m, p->plateau_share, false, &p->let_down);
}

static void warn_of_stagger(struct work *w, const struct stagger *stagger)
{
    if (!w->draw.wall.present)
        return; /* told by the warning about the wall */
    if (stagger->found)
        warn(w, WARNING_STAGGER, stagger->distance_m, 0.0);
    else if (stagger->limit_m > 0.0)
        warn(w, WARNING_NO_STAGGER, stagger->limit_m, 0.0);
    else
        warn(w, WARNING_STAGGER_NOT_SEEN, 0.0, 0.0);
}

static void make_figures(struct work *w, struct pull *pull, struct pull_outcome *outcome)
{
    static const struct shake still;
    static const struct systematic no_error;
    struct pull_features *p = &outcome->features;
    *p = (struct pull_features){.has_let_down = w->let_down.points.n > 0,
                                .brace_m = w->rest.draw_m,
                                .valley_band_n = w->settings->valley_band_n,
                                .plateau_share = w->settings->plateau_share};
    if (w->rest.n > 1)
        p->u_brace_m = MEDIAN_FACTOR * w->draw.position_sd_m / sqrt((double)w->rest.n);
    double largest_m = w->draw.points.x[w->draw.points.n - 1];
    p->has_full_draw = find_full_draw(w, pull, &p->limit_m);
    p->rule = pull->full_draw;
    if (!p->has_full_draw)
        p->limit_m = largest_m;
    p->stated_m = p->limit_m;
    warn_of_shape(w, shape_peak(&w->draw, p->limit_m).value, p->limit_m, &p->let_down_closed);
    struct basics basics;
    outcome->has_features = !w->draw.coarse && !(p->has_let_down && w->let_down.coarse);
    if (!outcome->has_features && w->draw.wall.present)
        warn(w, WARNING_STAGGER_NOT_SEEN, 0.0, 0.0);
    if (outcome->has_features) {
        find_features(w, p);
        warn_of_stagger(w, &p->draw.stagger);
        evaluate_pull(p, &still, &still, &no_error, &basics);
    } else {
        coarse_basics(w, p, &basics);
    }
    evaluate_figures(&basics, &outcome->values);
    for (int id = 0; id < FIGURE_COUNT; id++)
        pull->figures.f[id] = (struct figure){.present = outcome->values.present[id],
                                              .value_si = outcome->values.si[id]};
}

static struct branch branch_of(const struct shape *shape)
{
    size_t n = shape->points.n;
    struct branch branch = {.n = n,
                            .draw_m = mem_calloc(n, sizeof(double)),
                            .force_n = mem_calloc(n, sizeof(double)),
                            .force_sd_n = mem_calloc(n, sizeof(double)),
                            .slope_n_per_m = mem_calloc(n, sizeof(double))};
    for (size_t i = 0; i < n; i++) {
        branch.draw_m[i] = shape->points.x[i];
        branch.force_n[i] = shape_course_n(shape, i);
        branch.force_sd_n[i] = shape_course_sd_n(shape, i);
        branch.slope_n_per_m[i] = shape_slope_n_per_m(shape, i);
    }
    return branch;
}

enum status pull_measure(const struct readings *readings, const bool *spike,
                         const struct sweep *sweep, double tolerance_m,
                         const struct measure_settings *settings, struct pull *pull,
                         struct pull_outcome *outcome, struct warnings *warnings, struct err *err)
{
    *outcome = (struct pull_outcome){.has_features = false};
    *pull = (struct pull){.first = sweep->first, .top = sweep->top_last, .last = sweep->last};
    struct work work = {.readings = readings,
                        .spike = spike,
                        .sweep = sweep,
                        .settings = settings,
                        .tolerance_m = tolerance_m,
                        .warnings = warnings};
    set_rest(&work);
    enum status status = shape_draw(&work, err);
    if (status == STATUS_OK) {
        double largest_n = shape_peak(&work.draw, work.draw.points.x[work.draw.points.n - 1]).value;
        if (!(largest_n > 0.0))
            status = err_set(err, STATUS_BAD_INPUT,
                             "the force never rises along the draw: no pull is in these readings; "
                             "check the load cell and which column is the force");
    }
    if (status == STATUS_OK) {
        shape_let_down(&work);
        if (work.n_spikes > 0)
            warnings_add(warnings,
                         (struct warning){.code = WARNING_SPIKES, .count = work.n_spikes});
        make_figures(&work, pull, outcome);
        pull->draw = branch_of(&work.draw);
        if (work.let_down.points.n > 0)
            pull->let_down = branch_of(&work.let_down);
    }
    shape_clear(&work.draw);
    shape_clear(&work.let_down);
    return status;
}

static void branch_clear(struct branch *branch)
{
    free(branch->draw_m);
    free(branch->force_n);
    free(branch->force_sd_n);
    free(branch->slope_n_per_m);
}

void pull_clear(struct pull *pull)
{
    branch_clear(&pull->draw);
    branch_clear(&pull->let_down);
    *pull = (struct pull){0};
}
