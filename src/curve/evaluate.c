#include "curve/evaluate.h"

#include <math.h>

static void put(struct values *values, enum figure_id id, double si)
{
    values->present[id] = true;
    values->si[id] = si;
}

static void put_energies(const struct basics *b, struct values *v)
{
    double stroke_m = b->full_draw_m - b->brace_m;
    put(v, FIGURE_POWER_STROKE, stroke_m);
    put(v, FIGURE_STORED_ENERGY, b->stored_j);
    put(v, FIGURE_ENERGY_PER_PEAK, b->stored_j / b->peak_n);
    put(v, FIGURE_FULLNESS, b->stored_j / (b->peak_n * stroke_m));
    if (!b->has_returned)
        return;
    double lost_j = b->stored_j - b->returned_j;
    put(v, FIGURE_RETURNED_ENERGY, b->returned_j);
    put(v, FIGURE_HYSTERESIS, lost_j);
    put(v, FIGURE_HYSTERESIS_PCT, 100.0 * lost_j / b->stored_j);
    put(v, FIGURE_STATIC_EFFICIENCY, 100.0 * b->returned_j / b->stored_j);
}

void evaluate_figures(const struct basics *b, struct values *v)
{
    *v = (struct values){{false}, {0.0}};
    put(v, FIGURE_PEAK_FORCE, b->peak_n);
    put(v, FIGURE_PEAK_POSITION, b->peak_m);
    put(v, FIGURE_BRACE_HEIGHT, b->brace_m);
    put(v, FIGURE_PLATEAU, b->plateau_m);
    put(v, FIGURE_STEEPEST_RISE, b->rise_n_per_m);
    put(v, FIGURE_STEEPEST_DROP, b->drop_n_per_m);
    if (b->has_valley) {
        put(v, FIGURE_HOLDING_FORCE, b->holding_n);
        put(v, FIGURE_VALLEY_POSITION, b->valley_m);
        put(v, FIGURE_LET_OFF, 100.0 * (b->peak_n - b->holding_n) / b->peak_n);
    }
    if (b->has_valley && b->has_width)
        put(v, FIGURE_VALLEY_WIDTH, b->width_m);
    if (b->has_valley && b->has_let_down_valley)
        put(v, FIGURE_LET_OFF_LET_DOWN, 100.0 * (b->peak_n - b->let_down_holding_n) / b->peak_n);
    if (b->has_wall) {
        put(v, FIGURE_WALL_ONSET, b->onset_m);
        put(v, FIGURE_WALL_STIFFNESS, b->stiffness_n_per_m);
    }
    if (b->has_wall && b->has_stagger)
        put(v, FIGURE_STOP_STAGGER, b->stagger_m);
    if (b->has_full_draw) {
        put(v, FIGURE_FULL_DRAW, b->full_draw_m);
        put(v, FIGURE_DRAW_LENGTH_ATA, b->full_draw_m + ATA_AXIS_OFFSET_M);
    }
    if (b->has_full_draw && b->has_stored)
        put_energies(b, v);
}

static struct poly shaken(const struct feature *feature, const double z[POLY_TERMS_MAX])
{
    return poly_shaken(&feature->poly, z);
}

enum { SHAKE_PEAK, SHAKE_BOTTOM, SHAKE_RISE, SHAKE_DROP, SHAKE_END };

static double line_x_m(const struct wall_line *wall, double force_n, const struct shake *shake)
{
    return wall->middle_m + shake->wall_middle * wall->u_middle_m +
           (force_n - wall->middle_n) *
               (wall->slope_m_per_n + shake->wall_slope * wall->u_slope_m_per_n);
}

/* Where the bottom meets the wall line: x = line(bottom(x)), from the end of the bottom's stretch.
 * The wall is steep, so the iteration settles at once; it is held near the stretch. */
static double corner_m(const struct side *side, const struct poly *bottom,
                       const struct shake *shake)
{
    double x = side->bottom.to_m, reach = 0.25 * bottom->half;
    for (int i = 0; i < 6; i++) {
        double force_n = poly_value(bottom, x), slope = poly_slope(bottom, x);
        double line_slope =
            side->wall.slope_m_per_n + shake->wall_slope * side->wall.u_slope_m_per_n;
        double miss_m = line_x_m(&side->wall, force_n, shake) - x;
        x += miss_m / (1.0 - slope * line_slope);
        x = fmin(fmax(x, side->bottom.from_m), side->bottom.to_m + reach);
    }
    return x;
}

static struct poly_extreme bottom_of(const struct side *side, const struct poly *bottom,
                                     const struct shake *shake, double *end_m)
{
    *end_m = side->wall.present ? corner_m(side, bottom, shake) : side->bottom.to_m;
    return poly_extreme(bottom, side->bottom.from_m, *end_m, -1);
}

struct poly_extreme evaluate_bottom(const struct side *side, const struct shake *shake)
{
    struct poly bottom = shaken(&side->bottom, shake->feature[SHAKE_BOTTOM]);
    double end_m;
    return bottom_of(side, &bottom, shake, &end_m);
}

double evaluate_onset_m(const struct side *side, double holding_n, const struct shake *shake)
{
    return line_x_m(&side->wall, holding_n, shake);
}

/* Where a polynomial crosses a level near x0, by Newton, kept within its stretch. */
static double cross_m(const struct poly *poly, double x0, double level_n)
{
    double x = x0;
    for (int i = 0; i < 4; i++)
        x -= (poly_value(poly, x) - level_n) / poly_slope(poly, x);
    double reach = 1.5 * poly->half;
    return isfinite(x) ? fmin(fmax(x, poly->middle - reach), poly->middle + reach) : x0;
}

static double crossed_m(const struct crossing *crossing, double level_n, double z)
{
    double noise_n = z * poly_value_u(&crossing->poly, crossing->at_m);
    return cross_m(&crossing->poly, crossing->at_m, level_n - noise_n);
}

static double band_right_m(const struct side *side, const struct poly *bottom, double at_m,
                           double end_m, double level_n, const struct shake *shake)
{
    double step = (end_m - at_m) / 64.0, x = at_m;
    while (step > 0.0 && x + step <= end_m && poly_value(bottom, x + step) <= level_n)
        x += step;
    if (step > 0.0 && x + 1.5 * step < end_m)
        return cross_m(bottom, x + 0.5 * step, level_n);
    return line_x_m(&side->wall, level_n, shake);
}

/* Slow changes of force and position by the errors that move the whole curve. */
static double moved_n(const struct systematic *e, double force_n)
{
    return force_n + e->force[0] + force_n * (e->force[1] + force_n * e->force[2]);
}

static double moved_m(const struct systematic *e, double brace_m, double x_m, double force_n)
{
    double u = x_m - brace_m;
    return x_m + e->datum_m + e->travel[0] + u * (e->travel[1] + u * e->travel[2]) -
           e->compliance_m_per_n * force_n;
}

/* Change of a slope at a place: by the chain rule of the two maps above. */
static double moved_slope(const struct systematic *e, double brace_m, double x_m, double force_n,
                          double slope)
{
    double u = x_m - brace_m;
    double dforce = 1.0 + e->force[1] + 2.0 * force_n * e->force[2];
    double dx = 1.0 + e->travel[1] + 2.0 * u * e->travel[2] - e->compliance_m_per_n * slope;
    return slope * dforce / dx;
}

/* Energy of a side up to full_draw_m, with the errors of force and position carried through the
 * integral to first order. */
static double moved_energy_j(const struct pull_features *p, const struct side *side,
                             const struct systematic *e, const struct shake *shake,
                             double full_draw_m, double force_at_end_n, double zero_n)
{
    double stroke_m = p->limit_m - p->brace_m;
    double energy_j =
        side->energy_j + shake->energy * side->u_energy_j + shake->sampling * side->u_sampling_j;
    energy_j += force_at_end_n * (full_draw_m - p->limit_m);
    energy_j += (e->force[0] + zero_n) * stroke_m + e->force[1] * side->energy_j +
                e->force[2] * side->force_squared_n2_m;
    energy_j += e->travel[1] * side->energy_j + 2.0 * e->travel[2] * side->moment_n_m2;
    return energy_j - 0.5 * e->compliance_m_per_n * force_at_end_n * force_at_end_n;
}

static double plateau_m(const struct pull_features *p, const struct side *side,
                        const struct shake *shake, double level_n)
{
    double length_m = 0.0;
    if (side->above_at_start)
        length_m -= p->brace_m;
    if (side->above_at_limit)
        length_m += p->limit_m;
    for (size_t i = 0; i < side->n_crossings; i++) {
        const struct crossing *crossing = &side->crossing[i];
        length_m -= crossing->sign * crossed_m(crossing, level_n, shake->crossing[i]);
    }
    return length_m;
}

/* Full draw before the errors that move the whole curve, and the force there. A stated draw length
 * is exact: an error of the positions means that it was reached at another reading. */
static double full_draw_of(const struct pull_features *p, const struct shake *shake,
                           const struct systematic *e, const struct poly_extreme *bottom,
                           double *force_n)
{
    struct poly end = shaken(&p->draw.end, shake->feature[SHAKE_END]);
    switch (p->rule) {
    case FULL_DRAW_VALLEY:
        *force_n = bottom->value;
        return bottom->x;
    case FULL_DRAW_WALL:
        *force_n = bottom->value;
        return evaluate_onset_m(&p->draw, bottom->value, shake);
    case FULL_DRAW_AUTO:
    case FULL_DRAW_STATED:
    case FULL_DRAW_LARGEST:
        break;
    }
    double at_m = p->stated_m;
    if (p->rule == FULL_DRAW_STATED)
        at_m -= moved_m(e, p->brace_m, at_m, poly_value(&end, at_m)) - at_m;
    *force_n = poly_value(&end, at_m);
    return at_m;
}

static void evaluate_valley(const struct pull_features *p, const struct shake *shake,
                            const struct shake *let_down, const struct systematic *e,
                            struct poly_extreme *at, struct basics *b)
{
    struct poly bottom = shaken(&p->draw.bottom, shake->feature[SHAKE_BOTTOM]);
    double end_m;
    *at = bottom_of(&p->draw, &bottom, shake, &end_m);
    b->has_valley = true;
    b->holding_n = moved_n(e, at->value);
    b->valley_m = moved_m(e, p->brace_m, at->x, at->value);
    b->has_wall = p->draw.wall.present;
    if (b->has_wall) {
        double level_n = at->value + p->valley_band_n;
        double left_m = p->draw.band_left.poly.terms > 0
                            ? crossed_m(&p->draw.band_left, level_n, shake->band)
                            : p->draw.bottom.from_m;
        double right_m = band_right_m(&p->draw, &bottom, at->x, end_m, level_n, shake);
        b->has_width = true;
        b->width_m =
            moved_m(e, p->brace_m, right_m, level_n) - moved_m(e, p->brace_m, left_m, level_n);
        double onset_m = evaluate_onset_m(&p->draw, at->value, shake);
        b->onset_m = moved_m(e, p->brace_m, onset_m, at->value);
        double slope =
            1.0 / (p->draw.wall.slope_m_per_n + shake->wall_slope * p->draw.wall.u_slope_m_per_n);
        b->stiffness_n_per_m = moved_slope(e, p->brace_m, onset_m, p->draw.wall.middle_n, slope);
    }
    b->has_stagger = p->draw.stagger.found;
    b->stagger_m = (p->draw.stagger.distance_m + shake->stagger * p->draw.stagger.u_distance_m) *
                   (1.0 + e->travel[1]);
    b->has_let_down_valley = p->has_let_down && p->let_down.bottom.poly.terms > 0;
    if (b->has_let_down_valley)
        b->let_down_holding_n =
            moved_n(e, evaluate_bottom(&p->let_down, let_down).value) + e->let_down_n;
}

static double steepest_of(const struct pull_features *p, const struct feature *feature,
                          const double z[POLY_TERMS_MAX], int sign, const struct systematic *e)
{
    struct poly poly = shaken(feature, z);
    struct poly_extreme at = poly_steepest(&poly, feature->from_m, feature->to_m, sign);
    return moved_slope(e, p->brace_m, at.x, poly_value(&poly, at.x), at.value);
}

void evaluate_pull(const struct pull_features *p, const struct shake *draw,
                   const struct shake *let_down, const struct systematic *e, struct basics *b)
{
    *b = (struct basics){.brace_m =
                             p->brace_m + draw->rest * p->u_brace_m + e->datum_m + e->travel[0]};
    struct poly_extreme bottom = {0.0, 0.0};
    if (p->draw.bottom.poly.terms > 0)
        evaluate_valley(p, draw, let_down, e, &bottom, b);
    double force_n = 0.0, full_draw_m = 0.0, to_m = p->draw.peak.to_m;
    if (p->has_full_draw)
        full_draw_m = full_draw_of(p, draw, e, &bottom, &force_n);
    /* A peak at full draw moves with it. */
    if (p->has_full_draw && to_m >= p->limit_m)
        to_m += full_draw_m - p->limit_m;
    struct poly cap = shaken(&p->draw.peak, draw->feature[SHAKE_PEAK]);
    struct poly_extreme peak = poly_extreme(&cap, p->draw.peak.from_m, to_m, 1);
    b->peak_n = moved_n(e, peak.value);
    b->peak_m = moved_m(e, p->brace_m, peak.x, peak.value);
    b->plateau_m = plateau_m(p, &p->draw, draw, p->plateau_share * peak.value);
    b->rise_n_per_m = steepest_of(p, &p->draw.rise, draw->feature[SHAKE_RISE], 1, e);
    b->drop_n_per_m = steepest_of(p, &p->draw.drop, draw->feature[SHAKE_DROP], -1, e);
    b->has_full_draw = p->has_full_draw;
    if (!p->has_full_draw)
        return;
    b->full_draw_m = moved_m(e, p->brace_m, full_draw_m, force_n);
    b->has_stored = true;
    b->stored_j = moved_energy_j(p, &p->draw, e, draw, full_draw_m, force_n, 0.0);
    b->has_returned = p->has_let_down && p->let_down_closed;
    if (b->has_returned) {
        double back_n = poly_value(&p->let_down.end.poly, p->limit_m);
        b->returned_j =
            moved_energy_j(p, &p->let_down, e, let_down, full_draw_m, back_n, e->let_down_n);
    }
}
