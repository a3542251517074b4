#include "bench/simtruth.h"
#include "base/mem.h"

#include <assert.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_math.h>
#include <gsl/gsl_roots.h>
#include <math.h>

enum { GRID = 4000, INTEGRATION_INTERVALS = 400 };

static const double valley_band_n = 2.0 * 4.4482216152605;
static const double plateau_share = 0.95;

/* "Before the wall" ends this far before the first landing, so that rounding can't bring the stop's
 * own slope in. */
static const double before_landing_m = 1e-10;

/* The wall's line is fitted above this share of the rise from the holding force. */
static const double WALL_FOOT_SHARE = 0.3;
enum { WALL_STEPS = 4000 };

/* A walk over the curve: the draw, or the let-down that began at top_m. */
struct walk {
    const struct simbow *bow;
    bool let_down;
    double top_m;
    double level_n; /* what force_above subtracts */
    struct err *err;
    enum status status; /* the first fault; values after it are zero */
};

/* The places that the figures are made from. */
struct places {
    double brace_m, end_m; /* before the wall (first landing) */
    double peak_m, valley_m, top_m;
    bool has_valley;
};

static const struct simtruth_info infos[SIMTRUTH_COUNT] = {
#define SIMTRUTH_ROW(id, name, trade, si) {name, trade, si},
    SIMTRUTH_LIST(SIMTRUTH_ROW)
#undef SIMTRUTH_ROW
};

const struct simtruth_info *simtruth_info(enum simtruth_id id)
{
    assert(id < SIMTRUTH_COUNT);
    return &infos[id];
}

static struct simbow_state state_at(struct walk *walk, double draw_m)
{
    struct simbow_state state = {0};
    double direction = 1.0;
    if (walk->let_down)
        direction = simbow_friction(walk->bow, 1.0, draw_m - walk->top_m);
    if (walk->status == STATUS_OK)
        walk->status = simbow_at(walk->bow, draw_m, direction, &state, walk->err);
    return state;
}

static double force_at(double draw_m, void *context)
{
    return state_at(context, draw_m).force_n;
}

static double slope_at(double draw_m, void *context)
{
    return state_at(context, draw_m).slope_n_per_m;
}

static double force_above(double draw_m, void *context)
{
    struct walk *walk = context;
    return force_at(draw_m, walk) - walk->level_n;
}

static void fail(struct walk *walk, const char *what, int code)
{
    if (walk->status == STATUS_OK)
        walk->status = err_set(walk->err, STATUS_INTERNAL, "%s: %s did not converge: %s",
                               simbow_name(walk->bow), what, gsl_strerror(code));
}

/* A root between two places of opposite sign (Brent). */
static double root_between(struct walk *walk, double (*function)(double, void *), double low_m,
                           double high_m)
{
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    gsl_function f = {.function = function, .params = walk};
    int code = solver == NULL ? GSL_ENOMEM : gsl_root_fsolver_set(solver, &f, low_m, high_m);
    double root_m = low_m;
    for (int i = 0; i < 200 && code == GSL_SUCCESS; i++) {
        code = gsl_root_fsolver_iterate(solver);
        root_m = gsl_root_fsolver_root(solver);
        double width_m = gsl_root_fsolver_x_upper(solver) - gsl_root_fsolver_x_lower(solver);
        if (width_m <= 1e-14 || fabs(function(root_m, walk)) <= 0.0)
            break;
    }
    if (code != GSL_SUCCESS)
        fail(walk, "a root", code);
    gsl_root_fsolver_free(solver);
    return root_m;
}

static double integral_j(struct walk *walk, double low_m, double high_m)
{
    if (!(high_m > low_m))
        return 0.0;
    gsl_integration_cquad_workspace *space =
        gsl_integration_cquad_workspace_alloc(INTEGRATION_INTERVALS);
    gsl_function f = {.function = force_at, .params = walk};
    double result_j = 0.0, error_j = 0.0;
    size_t evaluations = 0;
    int code = space == NULL ? GSL_ENOMEM
                             : gsl_integration_cquad(&f, low_m, high_m, 1e-12, 1e-12, space,
                                                     &result_j, &error_j, &evaluations);
    if (code != GSL_SUCCESS && !(error_j <= 1e-10 * fabs(result_j)))
        fail(walk, "an integral", code);
    gsl_integration_cquad_workspace_free(space);
    return result_j;
}

/* Splits at the landings, where the force has a kink, and at the end of the turn of friction. */
static double energy_between_j(struct walk *walk, double low_m, double high_m)
{
    double cuts[4] = {high_m, high_m, high_m, high_m};
    if (simbow_has_stops(walk->bow)) {
        cuts[0] = simbow_stop_top_m(walk->bow);
        cuts[1] = simbow_stop_bottom_m(walk->bow);
    }
    if (walk->let_down)
        cuts[2] = walk->top_m - 0.01;
    double sum_j = 0.0, from_m = low_m;
    while (from_m < high_m) {
        double to_m = high_m;
        for (size_t i = 0; i < 4; i++)
            if (cuts[i] > from_m && cuts[i] < to_m)
                to_m = cuts[i];
        sum_j += integral_j(walk, from_m, to_m);
        from_m = to_m;
    }
    return sum_j;
}

static double grid_m(double low_m, double high_m, int i)
{
    return i == GRID ? high_m : low_m + (high_m - low_m) * i / GRID;
}

/* Where the force is largest (sign 1) or smallest (sign -1) between two places; the slope's root
 * where that is inside. */
static double extreme_m(struct walk *walk, double low_m, double high_m, double sign)
{
    int best = 0;
    double best_n = -HUGE_VAL;
    for (int i = 0; i <= GRID; i++) {
        double force_n = sign * force_at(grid_m(low_m, high_m, i), walk);
        if (force_n > best_n) {
            best_n = force_n;
            best = i;
        }
    }
    double left_m = grid_m(low_m, high_m, best > 0 ? best - 1 : 0);
    double right_m = grid_m(low_m, high_m, best < GRID ? best + 1 : GRID);
    bool turns = sign * slope_at(left_m, walk) > 0.0 && sign * slope_at(right_m, walk) < 0.0;
    if (!turns)
        return grid_m(low_m, high_m, best);
    return root_between(walk, slope_at, left_m, right_m);
}

/* The lowest place that has rising force behind and falling force before it, or the first landing
 * where the force still falls there. */
static void find_valley(struct walk *walk, struct places *places)
{
    double lowest_n = HUGE_VAL, before = slope_at(places->brace_m, walk);
    bool fell = false;
    for (int i = 1; i <= GRID; i++) {
        double at_m = grid_m(places->brace_m, places->end_m, i);
        double slope = slope_at(at_m, walk);
        fell = fell || slope < 0.0;
        double valley_m = NAN;
        if (before < 0.0 && slope >= 0.0)
            valley_m =
                root_between(walk, slope_at, grid_m(places->brace_m, places->end_m, i - 1), at_m);
        else if (i == GRID && fell && slope < 0.0 && simbow_has_stops(walk->bow))
            valley_m = at_m;
        before = slope;
        if (isnan(valley_m) || !(force_at(valley_m, walk) < lowest_n))
            continue;
        lowest_n = force_at(valley_m, walk);
        places->valley_m = valley_m;
        places->has_valley = true;
    }
}

/* Length over which the force is at least (sign 1) or at most (sign -1) a level. */
static double length_where_m(struct walk *walk, double low_m, double high_m, double sign,
                             double level_n)
{
    walk->level_n = level_n;
    double length_m = 0.0, left_m = low_m, left = sign * force_above(low_m, walk);
    for (int i = 1; i <= GRID && walk->status == STATUS_OK; i++) {
        double right_m = grid_m(low_m, high_m, i), right = sign * force_above(right_m, walk);
        if (left >= 0.0 && right >= 0.0)
            length_m += right_m - left_m;
        else if (left >= 0.0)
            length_m += root_between(walk, force_above, left_m, right_m) - left_m;
        else if (right >= 0.0)
            length_m += right_m - root_between(walk, force_above, left_m, right_m);
        left_m = right_m;
        left = right;
    }
    return length_m;
}

static void find_places(struct walk *draw, double press_n, struct places *places)
{
    const struct simbow *bow = draw->bow;
    places->brace_m = simbow_brace_m(bow);
    places->end_m = simbow_limit_m(bow);
    if (simbow_has_stops(bow))
        places->end_m =
            fmin(places->end_m,
                 fmin(simbow_stop_top_m(bow), simbow_stop_bottom_m(bow)) - before_landing_m);
    if (!simbow_is_compound(bow)) {
        places->end_m = fmin(places->end_m, simbow_stated_draw_m(bow));
        places->top_m = places->end_m;
    } else {
        find_valley(draw, places);
        double low_m = places->has_valley ? places->valley_m : places->end_m;
        places->top_m = simbow_limit_m(bow);
        draw->level_n = force_at(low_m, draw) + press_n;
        if (force_above(places->top_m, draw) > 0.0)
            places->top_m = root_between(draw, force_above, low_m, places->top_m);
        places->end_m = fmin(places->end_m, places->top_m);
    }
    places->peak_m = extreme_m(draw, places->brace_m,
                               places->has_valley ? places->valley_m : places->end_m, 1.0);
}

static void put(struct simtruth *truth, enum simtruth_id id, double value_si)
{
    truth->present[id] = true;
    truth->value_si[id] = value_si;
}

static void put_forces(struct walk *draw, struct walk *let_down, const struct places *places,
                       struct simtruth *truth)
{
    double peak_n = force_at(places->peak_m, draw);
    put(truth, SIMTRUTH_PEAK_FORCE, peak_n);
    put(truth, SIMTRUTH_PEAK_POSITION, places->peak_m);
    put(truth, SIMTRUTH_PLATEAU,
        length_where_m(draw, places->brace_m, places->has_valley ? places->valley_m : places->end_m,
                       1.0, plateau_share * peak_n));
    if (!places->has_valley)
        return;
    double holding_n = force_at(places->valley_m, draw);
    double valley_n = force_at(extreme_m(let_down, places->peak_m, places->end_m, -1.0), let_down);
    put(truth, SIMTRUTH_HOLDING_FORCE, holding_n);
    put(truth, SIMTRUTH_VALLEY_POSITION, places->valley_m);
    put(truth, SIMTRUTH_LET_OFF, 100.0 * (peak_n - holding_n) / peak_n);
    put(truth, SIMTRUTH_LET_OFF_LET_DOWN, 100.0 * (peak_n - valley_n) / peak_n);
    put(truth, SIMTRUTH_VALLEY_WIDTH,
        length_where_m(draw, places->peak_m, places->end_m, -1.0, holding_n + valley_band_n) +
            length_where_m(draw, places->end_m, places->top_m, -1.0, holding_n + valley_band_n));
}

static void put_energies(struct walk *draw, struct walk *let_down, double full_m,
                         const struct places *places, struct simtruth *truth)
{
    double stroke_m = full_m - places->brace_m, peak_n = force_at(places->peak_m, draw);
    double stored_j = energy_between_j(draw, places->brace_m, full_m);
    double returned_j = energy_between_j(let_down, places->brace_m, full_m);
    put(truth, SIMTRUTH_FULL_DRAW, full_m);
    put(truth, SIMTRUTH_DRAW_LENGTH_ATA, full_m + ATA_AXIS_OFFSET_M);
    put(truth, SIMTRUTH_POWER_STROKE, stroke_m);
    put(truth, SIMTRUTH_STORED_ENERGY, stored_j);
    put(truth, SIMTRUTH_RETURNED_ENERGY, returned_j);
    put(truth, SIMTRUTH_HYSTERESIS, stored_j - returned_j);
    put(truth, SIMTRUTH_HYSTERESIS_PCT, 100.0 * (stored_j - returned_j) / stored_j);
    put(truth, SIMTRUTH_STATIC_EFFICIENCY, 100.0 * returned_j / stored_j);
    put(truth, SIMTRUTH_ENERGY_PER_PEAK, stored_j / peak_n);
    put(truth, SIMTRUTH_FULLNESS, stored_j / (peak_n * stroke_m));
    put(truth, SIMTRUTH_AXLE_TO_AXLE_FULL_DRAW, state_at(draw, full_m).axle_to_axle_m);
}

/* The straight line through the steep rise: position over force. */
struct wall_line {
    double middle_m, middle_n, slope_m_per_n;
};

/* Least squares over the upper 70 % of the rise, even in force: a sum over even steps of position,
 * each weighted by the force it takes. */
static struct wall_line wall_line(struct walk *draw, double first_m, double top_m, double holding_n)
{
    double foot_n = holding_n + WALL_FOOT_SHARE * (force_at(top_m, draw) - holding_n);
    double sum = 0.0, mean_m = 0.0, mean_n = 0.0, sff = 0.0, sfx = 0.0;
    for (int i = 0; i <= WALL_STEPS; i++) {
        double x_m = first_m + (top_m - first_m) * i / WALL_STEPS, force_n = force_at(x_m, draw);
        double weight = slope_at(x_m, draw);
        if (force_n < foot_n || !(weight > 0.0))
            continue;
        sum += weight;
        double df = force_n - mean_n, dx = x_m - mean_m;
        mean_n += weight / sum * df;
        mean_m += weight / sum * dx;
        sff += weight * df * (force_n - mean_n);
        sfx += weight * df * (x_m - mean_m);
    }
    return (struct wall_line){mean_m, mean_n, sfx / sff};
}

static void put_wall(struct walk *draw, const struct places *places, struct simtruth *truth)
{
    double top_m = simbow_stop_top_m(draw->bow), bottom_m = simbow_stop_bottom_m(draw->bow);
    if (top_m <= places->top_m)
        put(truth, SIMTRUTH_STOP_TOP_POSITION, top_m);
    if (bottom_m <= places->top_m)
        put(truth, SIMTRUTH_STOP_BOTTOM_POSITION, bottom_m);
    if (top_m <= places->top_m && bottom_m <= places->top_m)
        put(truth, SIMTRUTH_STOP_STAGGER, fabs(top_m - bottom_m));
    double first_m = fmin(top_m, bottom_m);
    if (!(first_m < places->top_m) || !places->has_valley)
        return;
    double holding_n = force_at(places->valley_m, draw);
    struct wall_line line = wall_line(draw, first_m, places->top_m, holding_n);
    put(truth, SIMTRUTH_WALL_STIFFNESS, 1.0 / line.slope_m_per_n);
    put(truth, SIMTRUTH_WALL_ONSET,
        line.middle_m + (holding_n - line.middle_n) * line.slope_m_per_n);
}

static void put_slopes(struct walk *draw, const struct places *places, struct simtruth *truth)
{
    double steepest = -HUGE_VAL, drop = HUGE_VAL;
    for (int i = 0; i <= GRID; i++) {
        double slope = slope_at(grid_m(places->brace_m, places->end_m, i), draw);
        steepest = fmax(steepest, slope);
        drop = fmin(drop, slope);
    }
    put(truth, SIMTRUTH_STEEPEST_RISE, steepest);
    put(truth, SIMTRUTH_STEEPEST_DROP, drop);
}

enum status simtruth_find(const struct simbow *bow, double press_n, struct simtruth *truth,
                          struct err *err)
{
    assert(press_n > 0.0);
    struct walk draw = {.bow = bow, .err = err};
    struct places places = {0};
    *truth = (struct simtruth){0};
    find_places(&draw, press_n, &places);
    struct walk let_down = {.bow = bow, .let_down = true, .top_m = places.top_m, .err = err};
    double full_m = places.has_valley ? places.valley_m : places.top_m;
    put(truth, SIMTRUTH_BRACE_HEIGHT, places.brace_m);
    put(truth, SIMTRUTH_LARGEST_DRAW, places.top_m);
    put(truth, SIMTRUTH_AXLE_TO_AXLE, state_at(&draw, places.brace_m).axle_to_axle_m);
    put_forces(&draw, &let_down, &places, truth);
    put_energies(&draw, &let_down, full_m, &places, truth);
    put_slopes(&draw, &places, truth);
    if (simbow_has_stops(bow))
        put_wall(&draw, &places, truth);
    if (draw.status != STATUS_OK)
        return draw.status;
    return let_down.status;
}
