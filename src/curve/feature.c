#include "curve/feature.h"

#include <assert.h>
#include <math.h>

/* The cap of the peak and the bottom of the valley: how far below and above, at first and at most,
 * and in how many standard deviations of the scatter. */
static const double CAP_SHARE = 1e-4, CAP_SHARE_MAX = 0.15, CAP_SIGMAS = 10.0, CAP_REACH = 0.12;
static const double BOTTOM_SHARE = 1e-3, BOTTOM_SIGMAS = 15.0, GROW = 1.3;
enum {
    PEAK_TERMS = 7,
    RISING_PEAK_TERMS = 4,
    BOTTOM_TERMS = 5,
    SLOPE_TERMS = 6,
    END_TERMS = 3,
    SLOPE_PLACES = 100
};
enum {
    GROW_MAX = 40,
    CAP_POINTS_MIN = 16,
    BOTTOM_POINTS_MIN = 12,
    SLOPE_POINTS_MIN = 14,
    END_POINTS_MIN = 10,
    WALL_POINTS_ENOUGH = 6
};
/* Half widths of the other stretches, as a share of the power stroke. */
static const double RISE_SHARE = 0.06, DROP_SHARE = 0.07, CROSS_SHARE = 0.02, END_SHARE = 0.025;
/* The line through the steep rise is fitted above this share of it. */
static const double WALL_FOOT_SHARE = 0.3;
/* Scatter of the position at the wall is also known from the rest of the curve, to this many
 * degrees of freedom. */
static const double PRIOR_DOF = 8.0;

struct stretch {
    size_t first, last;
};

static double scatter_at(const struct shape *s, size_t i)
{
    return s->sigma[i];
}

/* The points about `at` whose course lies on the inner side of level (sign +1: at or above), within
 * low..high. */
static struct stretch stretch_at_level(const struct shape *s, size_t at, size_t low, size_t high,
                                       double level_n, int sign)
{
    struct stretch found = {at, at};
    while (found.first > low && sign * (shape_course_n(s, found.first - 1) - level_n) >= 0.0)
        found.first--;
    while (found.last < high && sign * (shape_course_n(s, found.last + 1) - level_n) >= 0.0)
        found.last++;
    return found;
}

static size_t nearest_point(const struct points *p, double x_m, size_t high)
{
    size_t best = 0;
    for (size_t i = 0; i <= high; i++)
        if (fabs(p->x[i] - x_m) < fabs(p->x[best] - x_m))
            best = i;
    return best;
}

static struct stretch stretch_about(const struct points *p, double x_m, double half_m, size_t high,
                                    size_t points_min)
{
    size_t at = nearest_point(p, x_m, high);
    struct stretch s = {at, at};
    while (s.first > 0 && p->x[s.first - 1] >= x_m - half_m)
        s.first--;
    while (s.last < high && p->x[s.last + 1] <= x_m + half_m)
        s.last++;
    while (s.last - s.first + 1 < points_min && (s.first > 0 || s.last < high)) {
        if (s.first > 0)
            s.first--;
        if (s.last < high)
            s.last++;
    }
    return s;
}

static void fit_feature(const struct shape *s, struct stretch stretch, size_t terms,
                        struct feature *feature)
{
    while (terms > 1 && !poly_fit(&s->points, stretch.first, stretch.last, terms, &feature->poly))
        terms--;
    feature->from_m = s->points.x[stretch.first];
    feature->to_m = s->points.x[stretch.last];
}

static void find_peak(const struct shape *s, double limit_m, struct side *side)
{
    struct extreme pilot = shape_peak(s, limit_m);
    size_t high = s->n_before_wall - 1;
    while (high > 0 && s->points.x[high] > limit_m)
        high--;
    size_t at = nearest_point(&s->points, pilot.draw_m, high);
    double share = fmax(CAP_SHARE, CAP_SIGMAS * scatter_at(s, at) / pilot.value);
    struct stretch cap;
    for (;; share *= GROW) {
        cap = stretch_at_level(s, at, 0, high, pilot.value * (1.0 - share), 1);
        if (cap.last - cap.first + 1 >= CAP_POINTS_MIN || share > CAP_SHARE_MAX)
            break;
    }
    double reach_m = CAP_REACH * (limit_m - s->points.x[0]);
    while (cap.first < at && s->points.x[cap.first] < pilot.draw_m - reach_m)
        cap.first++;
    while (cap.last > at && s->points.x[cap.last] > pilot.draw_m + reach_m)
        cap.last--;
    fit_feature(s, cap, cap.last == high ? RISING_PEAK_TERMS : PEAK_TERMS, &side->peak);
    if (cap.last == high)
        side->peak.to_m = fmax(side->peak.to_m, limit_m);
}

static void find_wall_line(const struct shape *s, double foot_n, struct wall_line *wall)
{
    const struct points *p = &s->points;
    double top_n = foot_n, k = s->wall.stiffness_n_per_m;
    for (size_t i = s->n_before_wall; i < p->n; i++)
        top_n = fmax(top_n, p->y[i]);
    double least_n = foot_n + WALL_FOOT_SHARE * (top_n - foot_n);
    double sw = 0.0, mx = 0.0, mf = 0.0, sff = 0.0, sfx = 0.0, sxx = 0.0, scatter = 0.0;
    size_t n = 0;
    /* The last point is the first that reached the top: it was picked for its noise. */
    size_t end = p->n - s->n_before_wall > WALL_POINTS_ENOUGH ? p->n - 1 : p->n;
    for (size_t i = s->n_before_wall; i < end; i++) {
        if (p->y[i] < least_n)
            continue;
        double w = p->weight[i], df = p->y[i] - mf, dx = p->x[i] - mx;
        n++;
        sw += w;
        mf += w / sw * df;
        mx += w / sw * dx;
        sff += w * df * (p->y[i] - mf);
        sfx += w * df * (p->x[i] - mx);
        sxx += w * dx * (p->x[i] - mx);
    }
    if (n < 2 || !(sfx > 0.0))
        return;
    for (size_t i = 0; i < s->n_before_wall; i++)
        scatter += s->sigma[i] / (double)s->n_before_wall;
    double slope = sfx / sff, squares = fmax(sxx - slope * sfx, 0.0);
    double prior_m = fmax(s->position_sd_m, scatter / k);
    double dof = (double)n - 2.0;
    double variance = (squares + PRIOR_DOF * prior_m * prior_m) / (dof + PRIOR_DOF);
    *wall = (struct wall_line){.present = true,
                               .middle_m = mx,
                               .middle_n = mf,
                               .slope_m_per_n = slope,
                               .u_middle_m = sqrt(variance / sw),
                               .u_slope_m_per_n = sqrt(variance / sff),
                               .dof = dof + PRIOR_DOF};
}

/* Where the slope is largest, by a parabola over the same width everywhere: the place must not be
 * where the noise of a narrow window happens to be largest. */
static size_t steepest_point(const struct shape *s, size_t high, double half_m, int sign)
{
    size_t best = 0;
    double steepest = -INFINITY;
    for (size_t i = 0; i <= high; i += 1 + high / SLOPE_PLACES) {
        double x_m = s->points.x[i];
        struct stretch about = stretch_about(&s->points, x_m, half_m, high, SLOPE_POINTS_MIN);
        struct local_fit fit = smooth_local_fit(&s->points, about.first, about.last, x_m);
        if (sign * fit.c[1] > steepest) {
            steepest = sign * fit.c[1];
            best = i;
        }
    }
    return best;
}

static void find_slope(const struct shape *s, double limit_m, double stroke_m, int sign,
                       struct feature *feature)
{
    size_t high = s->n_before_wall - 1;
    while (high > 0 && s->points.x[high] > limit_m)
        high--;
    double half_m = (sign > 0 ? RISE_SHARE : DROP_SHARE) * stroke_m;
    double at_m = s->points.x[steepest_point(s, high, 0.5 * half_m, sign)];
    struct stretch about = stretch_about(&s->points, at_m, half_m, high, SLOPE_POINTS_MIN);
    fit_feature(s, about, SLOPE_TERMS, feature);
    /* Within the middle of the stretch only, but up to the very ends of the curve. */
    if (about.first > 0)
        feature->from_m = fmax(feature->from_m, at_m - 0.5 * half_m);
    if (about.last < high)
        feature->to_m = fmin(feature->to_m, at_m + 0.5 * half_m);
}

static bool make_crossing(const struct shape *s, double at_m, int sign, double stroke_m,
                          struct crossing *crossing)
{
    struct stretch about = stretch_about(&s->points, at_m, CROSS_SHARE * stroke_m,
                                         s->n_before_wall - 1, END_POINTS_MIN);
    crossing->at_m = at_m;
    crossing->sign = sign;
    return poly_fit(&s->points, about.first, about.last, 3, &crossing->poly);
}

static void add_crossing(const struct shape *s, double at_m, int sign, double stroke_m,
                         struct side *side)
{
    if (side->n_crossings < CROSSINGS_MAX &&
        make_crossing(s, at_m, sign, stroke_m, &side->crossing[side->n_crossings]))
        side->n_crossings++;
}

/* Where the course comes down to a level between points i and i + 1. */
static double interpolated_m(const struct shape *s, size_t i, double level_n)
{
    double before = shape_course_n(s, i), after = shape_course_n(s, i + 1);
    double share = (level_n - before) / (after - before);
    return s->points.x[i] + share * (s->points.x[i + 1] - s->points.x[i]);
}

static void find_band_left(const struct shape *s, size_t low, size_t valley, double level_n,
                           struct side *side)
{
    size_t i = valley;
    while (i > low && shape_course_n(s, i) <= level_n)
        i--;
    double stroke_m = s->points.x[s->points.n - 1] - s->points.x[0];
    if (i < valley && shape_course_n(s, i) > level_n)
        (void)make_crossing(s, interpolated_m(s, i, level_n), -1, stroke_m, &side->band_left);
}

void side_find_bottom(const struct shape *s, double band_n, struct side *side)
{
    *side = (struct side){.n_crossings = 0};
    if (!s->valley.present)
        return;
    size_t high = s->n_before_wall - 1;
    size_t at = nearest_point(&s->points, s->valley.draw_m, high);
    size_t low = nearest_point(&s->points, shape_peak(s, s->valley.draw_m).draw_m, high);
    double above_n = fmax(BOTTOM_SHARE * s->points.y[low], BOTTOM_SIGMAS * scatter_at(s, at));
    struct stretch bottom = {at, at};
    for (int i = 0; i < GROW_MAX; i++, above_n *= GROW) {
        bottom = stretch_at_level(s, at, low, high, s->valley.force_n + above_n, -1);
        if (bottom.last - bottom.first + 1 >= BOTTOM_POINTS_MIN)
            break;
    }
    fit_feature(s, bottom, BOTTOM_TERMS, &side->bottom);
    find_band_left(s, low, at, s->valley.force_n + band_n, side);
    if (s->wall.present)
        find_wall_line(s, s->valley.force_n, &side->wall);
    if (side->wall.present)
        side->stagger = stagger_find(&s->points, at, s->valley.force_n,
                                     1.0 / side->wall.slope_m_per_n, s->position_sd_m);
}

static void find_crossings(const struct shape *s, double brace_m, double limit_m, double level_n,
                           struct side *side)
{
    const struct points *p = &s->points;
    side->above_at_start = shape_force_n(s, brace_m) >= level_n;
    bool above = side->above_at_start;
    for (size_t i = 1; i < s->n_before_wall && p->x[i] <= limit_m; i++) {
        if ((shape_course_n(s, i) >= level_n) == above)
            continue;
        add_crossing(s, interpolated_m(s, i - 1, level_n), above ? -1 : 1, limit_m - brace_m, side);
        above = !above;
    }
    side->above_at_limit = above;
}

/* |I_h - I_2h|/3 (Richardson), from every second point. */
static double sampling_error_j(const struct shape *s, double from_m, double to_m, double energy_j)
{
    const struct points *p = &s->points;
    double coarse_j = 0.0, x = from_m, f = shape_force_n(s, from_m);
    bool take = false;
    for (size_t i = 0; i < p->n && p->x[i] < to_m; i++) {
        if (p->x[i] <= from_m)
            continue;
        if (take) {
            double fi = shape_course_n(s, i);
            coarse_j += 0.5 * (p->x[i] - x) * (fi + f);
            x = p->x[i];
            f = fi;
        }
        take = !take;
    }
    coarse_j += 0.5 * (to_m - x) * (shape_force_n(s, to_m) + f);
    return fabs(energy_j - coarse_j) / 3.0;
}

static void find_energy(const struct shape *s, double brace_m, double limit_m, struct side *side)
{
    const struct points *p = &s->points;
    side->energy_j = shape_energy_j(s, brace_m, limit_m);
    double smooth_j = 0.0, variance = 0.0, x = brace_m, f = shape_force_n(s, brace_m);
    for (size_t i = 0; i < p->n && p->x[i] < limit_m; i++) {
        if (p->x[i] <= brace_m)
            continue;
        double after = i + 1 < p->n ? fmin(p->x[i + 1], limit_m) : limit_m;
        double width = 0.5 * (after - x), fi = shape_course_n(s, i), dx = p->x[i] - x;
        variance += width * width * s->sigma[i] * s->sigma[i] / p->weight[i];
        smooth_j += 0.5 * dx * (fi + f);
        side->force_squared_n2_m += dx * (f * f + f * fi + fi * fi) / 3.0;
        side->moment_n_m2 += 0.5 * dx * (fi + f) * (0.5 * (p->x[i] + x) - brace_m);
        x = p->x[i];
        f = fi;
    }
    smooth_j += 0.5 * (limit_m - x) * (shape_force_n(s, limit_m) + f);
    side->u_energy_j = sqrt(variance);
    side->u_sampling_j = sampling_error_j(s, brace_m, limit_m, smooth_j);
}

/* Force about the nominal full draw. */
static void find_end(const struct shape *s, double limit_m, double stroke_m, struct side *side)
{
    size_t high = s->points.n - 1;
    if (limit_m <= s->points.x[s->n_before_wall - 1] || limit_m < s->wall.corner_m)
        high = s->n_before_wall - 1;
    struct stretch about =
        stretch_about(&s->points, limit_m, END_SHARE * stroke_m, high, END_POINTS_MIN);
    fit_feature(s, about, END_TERMS, &side->end);
}

void side_find_rest(const struct shape *s, double brace_m, double limit_m, double plateau_share,
                    bool draw, struct side *side)
{
    double stroke_m = limit_m - brace_m;
    find_energy(s, brace_m, limit_m, side);
    find_end(s, limit_m, stroke_m, side);
    if (!draw)
        return;
    find_peak(s, limit_m, side);
    find_slope(s, limit_m, stroke_m, 1, &side->rise);
    find_slope(s, limit_m, stroke_m, -1, &side->drop);
    double peak_n = poly_extreme(&side->peak.poly, side->peak.from_m, side->peak.to_m, 1).value;
    find_crossings(s, brace_m, limit_m, plateau_share * peak_n, side);
}
