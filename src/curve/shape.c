#include "curve/shape.h"
#include "base/mem.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

/* A fall of this share of the peak is a drop, not scatter; a rise behind the valley of this share
 * may be a wall. */
static const double DROP_SHARE = 0.03, PEAK_SHARE_MIN = 0.25;
static const double SIGMAS_MIN = 6.0;
/* The wall is steeper than anything before the peak by this factor. */
static const double WALL_STEEPER = 1.5;
/* The line through the rise is fitted above this share of the rise. */
static const double WALL_FOOT_SHARE = 0.35;
static const double HALF_WIDTH_MAX_M = 0.04;
/* At the end of a dense draw the force has flattened out if it falls by less than this share of its
 * steepest fall. */
static const double FLATTENED_SHARE = 0.25;
/* A valley has a clear bottom where its curvature is this many times its uncertainty. */
static const double CURVED_SIGMAS = 3.0;
static const double CORNER_STEPS_MAX = 60.0;
enum { CORNER_ROUNDS = 4, CORNER_POINTS_MIN = 6 };

double shape_course_n(const struct shape *s, size_t i)
{
    return s->coarse ? s->points.y[i] : s->smoothed.value[i].c[0];
}

double shape_course_sd_n(const struct shape *s, size_t i)
{
    return s->coarse ? 0.0 : s->sigma[i] * sqrt(s->smoothed.value[i].var_value);
}

static double secant(const struct points *p, size_t a, size_t b)
{
    return (p->y[b] - p->y[a]) / (p->x[b] - p->x[a]);
}

double shape_slope_n_per_m(const struct shape *s, size_t i)
{
    if (!s->coarse)
        return s->smoothed.slope[i].c[1];
    size_t a = i > 0 ? i - 1 : 0, b = i + 1 < s->points.n ? i + 1 : i;
    return secant(&s->points, a, b);
}

static void smooth_side(struct shape *s, size_t first, size_t last)
{
    if (!s->coarse && first <= last)
        smooth_adaptive(&s->points, s->sigma, first, last, HALF_WIDTH_MAX_M, &s->smoothed);
}

/* The first maximum from which the course falls clearly; n where there is none. */
static size_t first_peak(const struct shape *s)
{
    size_t n = s->points.n, best = 0;
    double largest = 0.0;
    for (size_t i = 0; i < n; i++)
        largest = fmax(largest, shape_course_n(s, i));
    for (size_t i = 0; i < n; i++) {
        if (shape_course_n(s, i) > shape_course_n(s, best))
            best = i;
        double fall = shape_course_n(s, best) - shape_course_n(s, i);
        double clear =
            fmax(DROP_SHARE * shape_course_n(s, best), SIGMAS_MIN * shape_course_sd_n(s, i));
        if (fall > clear && shape_course_n(s, best) > PEAK_SHARE_MIN * largest)
            return best;
    }
    return n;
}

static size_t lowest(const struct shape *s, size_t first, size_t last)
{
    size_t low = first;
    for (size_t i = first; i <= last; i++)
        if (shape_course_n(s, i) < shape_course_n(s, low))
            low = i;
    return low;
}

/* The line through the steep rise: position regressed on force, since on a steep wall the scatter
 * of the position outweighs that of the force. False where fewer than two points lie on it. */
static bool fit_wall_line(struct shape *s, size_t foot, double foot_n)
{
    const struct points *p = &s->points;
    double top_n = foot_n;
    for (size_t i = foot; i < p->n; i++)
        top_n = fmax(top_n, p->y[i]);
    double least_n = foot_n + WALL_FOOT_SHARE * (top_n - foot_n);
    double sum_w = 0.0, mean_x = 0.0, mean_f = 0.0, sff = 0.0, sfx = 0.0;
    size_t count = 0;
    for (size_t i = foot; i < p->n; i++) {
        if (p->y[i] < least_n)
            continue;
        count++;
        sum_w += p->weight[i];
        double df = p->y[i] - mean_f, dx = p->x[i] - mean_x, share = p->weight[i] / sum_w;
        mean_f += share * df;
        mean_x += share * dx;
        sff += p->weight[i] * df * (p->y[i] - mean_f);
        sfx += p->weight[i] * df * (p->x[i] - mean_x);
    }
    if (count < 2 || !(sfx > 0.0))
        return false;
    s->wall.stiffness_n_per_m = sff / sfx;
    s->wall.line_x_m = mean_x;
    s->wall.line_force_n = mean_f;
    return true;
}

static double wall_line_x(const struct wall *wall, double force_n)
{
    return wall->line_x_m + (force_n - wall->line_force_n) / wall->stiffness_n_per_m;
}

static size_t count_before(const struct points *p, double x)
{
    size_t n = 0;
    while (n < p->n && p->x[n] < x)
        n++;
    return n;
}

static double fit_at(const struct local_fit *fit, double t)
{
    return fit->c[0] + t * (fit->c[1] + t * fit->c[2]);
}

/* Where the local course about x0 meets the wall line, by Newton's method from `near_m`. */
static double meet_wall(const struct local_fit *fit, double x0, const struct wall *wall,
                        double near_m)
{
    double t = near_m - x0;
    for (int i = 0; i < 20; i++) {
        double line_n = wall->line_force_n + wall->stiffness_n_per_m * (x0 + t - wall->line_x_m);
        double slope = fit->c[1] + 2.0 * t * fit->c[2] - wall->stiffness_n_per_m;
        t -= (fit_at(fit, t) - line_n) / slope;
    }
    return x0 + t;
}

/* Smoothing across the corner fills the valley, so the corner is found in rounds: the near side is
 * smoothed alone, up to the last guess, and carried on until it meets the wall line. */
static void find_corner(struct shape *s, size_t valley)
{
    const struct points *p = &s->points;
    s->wall.corner_m = p->x[valley];
    s->n_before_wall = valley + 1;
    if (s->coarse)
        return;
    double margin_m = (p->x[p->n - 1] - p->x[0]) / 1500.0;
    double corner_m = wall_line_x(&s->wall, shape_course_n(s, valley)) - 2.0 * margin_m;
    for (int round = 0; round < CORNER_ROUNDS; round++) {
        size_t n = count_before(p, corner_m - margin_m);
        if (n < CORNER_POINTS_MIN)
            return;
        smooth_side(s, 0, n - 1);
        double next_m = meet_wall(&s->smoothed.value[n - 1], p->x[n - 1], &s->wall, corner_m);
        if (!isfinite(next_m) || fabs(next_m - corner_m) > CORNER_STEPS_MAX * margin_m)
            return;
        corner_m = next_m;
        s->wall.corner_m = corner_m;
        s->n_before_wall = n;
    }
}

static double steepest_before(const struct shape *s, size_t limit, int sign)
{
    double steepest = -INFINITY;
    for (size_t i = 0; i < limit; i++)
        steepest = fmax(steepest, sign * shape_slope_n_per_m(s, i));
    return steepest;
}

static void find_wall(struct shape *s, size_t peak, size_t valley)
{
    size_t n = s->points.n;
    s->n_before_wall = n;
    double rise_n = 0.0, foot_n = shape_course_n(s, valley);
    for (size_t i = valley; i < n; i++)
        rise_n = fmax(rise_n, shape_course_n(s, i) - foot_n);
    double clear_n =
        fmax(DROP_SHARE * shape_course_n(s, peak), SIGMAS_MIN * shape_course_sd_n(s, n - 1));
    if (rise_n < clear_n || !fit_wall_line(s, valley, foot_n))
        return;
    if (s->wall.stiffness_n_per_m < WALL_STEEPER * steepest_before(s, peak + 1, 1))
        return;
    s->wall.present = true;
    find_corner(s, valley);
    smooth_side(s, s->n_before_wall, n - 1);
}

/* Length about the lowest point over which the course does not rise clearly above it. */
static struct extreme flat_part(const struct shape *s, size_t low, double level_n)
{
    size_t a = low, b = low;
    while (a > 0 && shape_course_n(s, a - 1) <= level_n)
        a--;
    while (b + 1 < s->n_before_wall && shape_course_n(s, b + 1) <= level_n)
        b++;
    return (struct extreme){.value = s->points.x[b] - s->points.x[a],
                            .draw_m = 0.5 * (s->points.x[b] + s->points.x[a])};
}

/* The lowest point lies between points, at the bottom of the local fit, or at the corner. */
static void refine_valley(struct shape *s, size_t low)
{
    const struct local_fit *fit = &s->smoothed.value[low];
    double x0 = s->points.x[low], sd = shape_course_sd_n(s, low);
    struct valley *v = &s->valley;
    if (low + 1 == s->n_before_wall && s->wall.present && fit->c[1] < 0.0) {
        double t = s->wall.corner_m - x0;
        double bottom = fit->c[2] > 0.0 ? -fit->c[1] / (2.0 * fit->c[2]) : INFINITY;
        t = fmax(fmin(t, bottom), 0.0);
        v->draw_m = x0 + t;
        v->force_n = fit_at(fit, t);
        return;
    }
    bool curved = fit->c[2] > CURVED_SIGMAS * s->sigma[low] * sqrt(fit->var_curvature);
    double t = curved ? -fit->c[1] / (2.0 * fit->c[2]) : 0.0;
    double first_m = s->points.x[fit->first], last_m = s->points.x[fit->last];
    if (curved && x0 + t >= first_m && x0 + t <= last_m) {
        v->draw_m = x0 + t;
        v->force_n = fit_at(fit, t);
        return;
    }
    struct extreme flat = flat_part(s, low, v->force_n + 2.0 * sd);
    v->draw_m = flat.draw_m;
    v->flat_m = flat.value;
}

static void find_valley(struct shape *s, size_t peak)
{
    size_t last = s->n_before_wall - 1;
    if (last <= peak)
        return;
    size_t low = lowest(s, peak, last);
    s->valley = (struct valley){.present = true,
                                .at_end = !s->wall.present && low == last,
                                .force_n = shape_course_n(s, low),
                                .draw_m = s->points.x[low]};
    if (s->coarse)
        return;
    double fall_at_end = -shape_slope_n_per_m(s, last);
    if (s->valley.at_end && fall_at_end > FLATTENED_SHARE * steepest_before(s, last, -1)) {
        s->valley.present = false;
        return;
    }
    refine_valley(s, low);
}

struct shape shape_find(struct points points, bool coarse)
{
    assert(points.n >= 2);
    struct shape s = {.points = points, .coarse = coarse, .n_before_wall = points.n};
    s.sigma = mem_calloc(points.n, sizeof *s.sigma);
    s.smoothed = smoothed_new(points.n);
    if (!coarse)
        smooth_scatter(&s.points, s.sigma);
    smooth_side(&s, 0, points.n - 1);
    size_t peak = first_peak(&s);
    s.drops = peak < points.n;
    if (s.drops) {
        size_t valley = lowest(&s, peak, points.n - 1);
        find_wall(&s, peak, valley);
        find_valley(&s, peak);
    }
    if (s.wall.present)
        s.wall.onset_m = wall_line_x(&s.wall, s.valley.force_n);
    return s;
}

void shape_clear(struct shape *shape)
{
    points_clear(&shape->points);
    smoothed_clear(&shape->smoothed);
    free(shape->sigma);
    *shape = (struct shape){0};
}

/* The last point at or before x; 0 where x lies before all. */
static size_t point_before(const struct points *p, double x)
{
    size_t low = 0, high = p->n;
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        if (p->x[middle] <= x)
            low = middle;
        else
            high = middle;
    }
    return low;
}

double shape_force_n(const struct shape *s, double draw_m)
{
    const struct points *p = &s->points;
    double x = fmin(fmax(draw_m, p->x[0]), p->x[p->n - 1]);
    size_t i = point_before(p, x);
    if (i + 1 == p->n || p->x[i] == x)
        return shape_course_n(s, i);
    double t = (x - p->x[i]) / (p->x[i + 1] - p->x[i]);
    if (s->coarse)
        return p->y[i] + t * (p->y[i + 1] - p->y[i]);
    /* Across the corner the near side is carried on to it, the far side is the line. */
    if (s->wall.present && i + 1 == s->n_before_wall && x <= s->wall.corner_m)
        return fit_at(&s->smoothed.value[i], x - p->x[i]);
    if (s->wall.present && i + 1 == s->n_before_wall)
        return fit_at(&s->smoothed.value[i + 1], x - p->x[i + 1]);
    return (1.0 - t) * fit_at(&s->smoothed.value[i], x - p->x[i]) +
           t * fit_at(&s->smoothed.value[i + 1], x - p->x[i + 1]);
}

struct extreme shape_peak(const struct shape *s, double limit_m)
{
    struct extreme peak = {.value = shape_force_n(s, limit_m), .draw_m = limit_m};
    size_t best = s->n_before_wall;
    for (size_t i = 0; i < s->n_before_wall && s->points.x[i] <= limit_m; i++) {
        if (shape_course_n(s, i) > peak.value) {
            peak = (struct extreme){shape_course_n(s, i), s->points.x[i]};
            best = i;
        }
    }
    if (s->coarse || best == s->n_before_wall)
        return peak;
    const struct local_fit *fit = &s->smoothed.value[best];
    double t = fit->c[2] < 0.0 ? -fit->c[1] / (2.0 * fit->c[2]) : 0.0;
    double x = peak.draw_m + t;
    if (x > s->points.x[fit->first] && x < fmin(s->points.x[fit->last], limit_m))
        peak = (struct extreme){fit_at(fit, t), x};
    return peak;
}

struct extreme shape_steepest(const struct shape *s, double limit_m, int sign)
{
    struct extreme found = {.value = -INFINITY};
    const struct points *p = &s->points;
    for (size_t i = 0; i + 1 < s->n_before_wall && p->x[i + 1] <= limit_m; i++) {
        double slope = s->coarse ? secant(p, i, i + 1) : shape_slope_n_per_m(s, i);
        if (sign * slope > found.value)
            found = (struct extreme){sign * slope, p->x[i]};
    }
    found.value *= sign;
    return found;
}

/* Share of a straight piece from a to b that lies at or beyond level. */
static double share_beyond(double a, double b, double level, int sign)
{
    double da = sign * (a - level), db = sign * (b - level);
    if (da >= 0.0 && db >= 0.0)
        return 1.0;
    if (da < 0.0 && db < 0.0)
        return 0.0;
    return da >= 0.0 ? da / (da - db) : db / (db - da);
}

double shape_length_n(const struct shape *s, double from_m, double to_m, double level_n, int sign)
{
    const struct points *p = &s->points;
    double length_m = 0.0, x = from_m, f = shape_force_n(s, from_m);
    double corner_m = s->wall.present && !s->coarse ? s->wall.corner_m : INFINITY;
    for (size_t i = point_before(p, from_m); x < to_m;) {
        size_t next_i = i + 1;
        double next = next_i < p->n ? fmin(p->x[next_i], to_m) : to_m;
        if (x < corner_m && corner_m < next)
            next = corner_m;
        else
            i = next_i;
        if (next <= x)
            continue;
        double next_f = shape_force_n(s, next);
        length_m += (next - x) * share_beyond(f, next_f, level_n, sign);
        x = next;
        f = next_f;
    }
    return length_m;
}

double shape_energy_j(const struct shape *s, double from_m, double to_m)
{
    const struct points *p = &s->points;
    double energy_j = 0.0, x = from_m, f = shape_force_n(s, from_m);
    for (size_t i = 0; i < p->n; i++) {
        if (p->x[i] <= x)
            continue;
        if (p->x[i] >= to_m)
            break;
        energy_j += 0.5 * (p->x[i] - x) * (p->y[i] + f);
        x = p->x[i];
        f = p->y[i];
    }
    return energy_j + 0.5 * (to_m - x) * (shape_force_n(s, to_m) + f);
}
