#include "bench/simbow.h"
#include "base/mem.h"
#include "base/number.h"
#include "base/units.h"
#include "bench/simdesign.h"
#include "bench/simpose.h"
#include "bench/simstatics.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

static const double limit_force_n = 1000.0;
static const double march_m = 0.002;
static const double string_steepest_rad = 1.4;

enum status simbow_at(const struct simbow *bow, double draw_m, double direction,
                      struct simbow_state *state, struct err *err)
{
    if (!isfinite(draw_m) || draw_m > bow->limit_m * (1.0 + 1e-12)) {
        char text[NUMBER_TEXT_MAX], limit[NUMBER_TEXT_MAX];
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: %s in is beyond %s in, where this bow's cams or force end",
                       bow->design->name,
                       isfinite(draw_m) ? number_fixed(text, unit_from_si(UNIT_IN, draw_m), 3)
                                        : "not a number of",
                       number_fixed(limit, unit_from_si(UNIT_IN, bow->limit_m), 3));
    }
    struct simpose pose = {.bow = bow, .draw_m = fmax(draw_m, bow->brace_m)};
    double share = (pose.draw_m - bow->brace_m) / (bow->limit_m - bow->brace_m);
    size_t nearest = (size_t)(share * (double)(SIMPOSE_GUESSES - 1) + 0.5);
    pose.at = bow->guess[nearest < SIMPOSE_GUESSES ? nearest : SIMPOSE_GUESSES - 1];
    if (!simpose_solve(&pose))
        return err_set(err, STATUS_INTERNAL, "%s: no equilibrium found at %.9g m",
                       bow->design->name, draw_m);
    *state = simstatics_state(&pose, direction);
    return STATUS_OK;
}

double simbow_friction(const struct simbow *bow, double direction, double move_m)
{
    if (!(fabs(move_m) > 0.0))
        return direction;
    double toward = move_m > 0.0 ? 1.0 : -1.0;
    double length_m = bow->design->presliding_m / log(20.0);
    return toward - (toward - direction) * exp(-fabs(move_m) / length_m);
}

struct simbow_settings simbow_nominal(void)
{
    return (struct simbow_settings){.friction_scale = 1.0};
}

static enum status check_range(const struct simbow *bow, const char *what, double value, double low,
                               double high, const char *unit, struct err *err)
{
    if (value >= low && value <= high)
        return STATUS_OK;
    char text[3][NUMBER_TEXT_MAX];
    if (!isfinite(value))
        return err_set(err, STATUS_USAGE, "%s: %s is not a number", bow->design->name, what);
    return err_set(err, STATUS_USAGE, "%s: %s %s %s is outside of what this bow allows, %s to %s",
                   bow->design->name, what, number_fixed(text[0], value, 3), unit,
                   number_fixed(text[1], low, 3), number_fixed(text[2], high, 3));
}

static enum status check_settings(const struct simbow *bow, struct err *err)
{
    const struct simdesign *design = bow->design;
    const struct simbow_settings *set = &bow->settings;
    double in = unit_to_si(UNIT_IN, 1.0), degree = M_PI / 180.0;
    bool compound = simpose_is_compound(bow);
    if (set->has_cam_setting && !compound)
        return err_set(err, STATUS_USAGE, "%s: a recurve has no cam setting", design->name);
    if (set->has_cam_setting &&
        check_range(bow, "cam setting", set->cam_setting_m / in, design->setting_low_m / in,
                    design->setting_high_m / in, "in", err) != STATUS_OK)
        return STATUS_USAGE;
    if (!compound && fabs(set->cable_twists) > 0.0)
        return err_set(err, STATUS_USAGE, "%s: a recurve has no cables to twist", design->name);
    if (!design->has_stops && fabs(set->stop_top_rad) + fabs(set->stop_bottom_rad) > 0.0)
        return err_set(err, STATUS_USAGE, "%s: this bow has no draw stops", design->name);
    const struct {
        const char *what;
        double value, low, high;
        const char *unit;
    } ranges[] = {
        {"top limb bolt", set->bolt_turns_top, design->bolt_turns_low, design->bolt_turns_high,
         "turns"},
        {"bottom limb bolt", set->bolt_turns_bottom, design->bolt_turns_low,
         design->bolt_turns_high, "turns"},
        {"string", set->string_twists, -40, 40, "twists"},
        {"cable", set->cable_twists, -40, 40, "twists"},
        {"top stop", set->stop_top_rad / degree, -40, 40, "degrees"},
        {"bottom stop", set->stop_bottom_rad / degree, -40, 40, "degrees"},
        {"friction scale", set->friction_scale, 0, 5, ""},
    };
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++)
        if (check_range(bow, ranges[i].what, ranges[i].value, ranges[i].low, ranges[i].high,
                        ranges[i].unit, err) != STATUS_OK)
            return STATUS_USAGE;
    return STATUS_OK;
}

/* The nominal state gives the limb's lever and the lengths of the cords. */
static bool set_nominal(struct simbow *bow)
{
    const struct simdesign *design = bow->design;
    struct simpose pose = {.bow = bow, .at = {.cable_rad = M_PI}};
    struct simtrack_point string = simpose_string(&pose);
    double dx_m = design->brace_m - string.lever_m - design->hinge_x_m;
    double dy_m = design->axle_to_axle_m / 2.0 - design->hinge_y_m;
    bow->hinge_x_m = design->hinge_x_m;
    bow->hinge_y_m = design->hinge_y_m;
    bow->lever_m = hypot(dx_m, dy_m);
    bow->brace_limb_rad = atan2(dx_m, dy_m);
    bow->hinge_nm_per_rad = design->tip_stiffness_n_per_m * bow->lever_m * bow->lever_m;
    bow->string_m = design->axle_to_axle_m / 2.0 - string.wound_m;
    if (!simpose_is_compound(bow))
        return true;
    pose.at.limb_rad = bow->brace_limb_rad;
    if (!simpose_solve_cable(&pose))
        return false;
    bow->anchor_rad = pose.at.cable_rad + design->cam_angle_rad;
    bow->cable_m = -design->axle_to_axle_m * cos(pose.at.cable_rad);
    return true;
}

/* The set-up changes preloads, stops, cord lengths and the module. */
static void apply_settings(struct simbow *bow)
{
    const struct simdesign *design = bow->design;
    const struct simbow_settings *set = &bow->settings;
    double turns[2] = {set->bolt_turns_top, set->bolt_turns_bottom};
    double stops[2] = {set->stop_top_rad, set->stop_bottom_rad};
    if (set->has_cam_setting)
        bow->module_rad = (set->cam_setting_m - design->setting_m) * design->module_rad_per_m;
    for (int side = 0; side < 2; side++) {
        bow->free_rad[side] = bow->brace_limb_rad - design->tip_preload_m / bow->lever_m -
                              turns[side] * design->bolt_rad_per_turn;
        bow->stop_rad[side] = design->stop_rad + bow->module_rad + stops[side];
    }
    double turned_m = design->bolt_arm_m * design->bolt_rad_per_turn * (turns[0] + turns[1]) / 2.0;
    bow->hinge_x_m -= turned_m * cos(bow->brace_limb_rad);
    bow->hinge_y_m += turned_m * sin(bow->brace_limb_rad);
    bow->stop_nm_per_rad =
        design->stop_stiffness_n_per_m * design->stop_radius_m * design->stop_radius_m;
    bow->string_m -= set->string_twists * design->string_twist_m / 2.0;
    bow->cable_m -= set->cable_twists * design->cable_twist_m;
}

static bool find_brace(struct simbow *bow, struct simangles *at)
{
    struct simpose pose = {.bow = bow, .at = {.limb_rad = bow->brace_limb_rad, .cable_rad = M_PI}};
    if (!simpose_solve_brace(&pose))
        return false;
    *at = pose.at;
    bow->brace_m = pose.draw_m;
    bow->brace_energy_j = simstatics_energy_j(&pose);
    return true;
}

/* Goes along the draw in small steps until the tracks, the string's angle or the force end it. */
static bool find_limit(struct simbow *bow, const struct simangles *brace)
{
    struct simpose pose = {.bow = bow, .at = *brace};
    pose.at.string_rad = 0.01;
    bow->limit_m = bow->brace_m;
    for (double draw_m = bow->brace_m + march_m;; draw_m += march_m) {
        pose.draw_m = draw_m;
        if (!simpose_solve(&pose) || !simpose_on_tracks(&pose) ||
            pose.at.string_rad > string_steepest_rad)
            break;
        struct simbow_state state = simstatics_state(&pose, 1.0);
        if (!(state.force_n <= limit_force_n) || !(state.string_tension_n > 0.0))
            break;
        bow->limit_m = draw_m;
    }
    return bow->limit_m > bow->brace_m + 0.1;
}

static bool fill_guesses(struct simbow *bow, const struct simangles *brace)
{
    struct simpose pose = {.bow = bow, .at = *brace};
    for (size_t i = 0; i < SIMPOSE_GUESSES; i++) {
        double share = (double)i / (SIMPOSE_GUESSES - 1);
        pose.draw_m = bow->brace_m + share * (bow->limit_m - bow->brace_m);
        if (!simpose_solve(&pose))
            return false;
        bow->guess[i] = pose.at;
    }
    return true;
}

static void find_stops(struct simbow *bow)
{
    for (int side = 0; side < 2; side++) {
        struct simpose pose = {.bow = bow, .at = bow->guess[SIMPOSE_GUESSES / 2]};
        pose.at.cam_rad = bow->stop_rad[side];
        bool lands =
            bow->design->has_stops && simpose_solve_draw(&pose) && pose.draw_m <= bow->limit_m;
        bow->stop_m[side] = lands ? pose.draw_m : NAN;
    }
}

enum status simbow_open(struct simbow **out, const char *path,
                        const struct simbow_settings *settings, struct err *err)
{
    *out = NULL;
    struct simbow *bow = mem_calloc(1, sizeof *bow);
    bow->settings = *settings;
    enum status status = simdesign_open(&bow->design, path, err);
    if (status == STATUS_OK)
        status = check_settings(bow, err);
    if (status == STATUS_OK) {
        struct simangles brace = {0};
        bool closes = set_nominal(bow);
        if (closes) {
            apply_settings(bow);
            closes =
                find_brace(bow, &brace) && find_limit(bow, &brace) && fill_guesses(bow, &brace);
        }
        if (closes)
            find_stops(bow);
        else
            status = err_set(err, STATUS_BAD_INPUT,
                             "%s: the geometry does not close in this set-up; check the lengths, "
                             "the tracks and the settings",
                             path);
    }
    if (status == STATUS_OK)
        *out = bow;
    else
        simbow_close(bow);
    return status;
}

void simbow_close(struct simbow *bow)
{
    if (bow == NULL)
        return;
    simdesign_close(bow->design);
    free(bow);
}

const char *simbow_name(const struct simbow *bow)
{
    return bow->design->name;
}

bool simbow_is_compound(const struct simbow *bow)
{
    return simpose_is_compound(bow);
}

bool simbow_has_stops(const struct simbow *bow)
{
    return bow->design->has_stops;
}

double simbow_brace_m(const struct simbow *bow)
{
    return bow->brace_m;
}

double simbow_limit_m(const struct simbow *bow)
{
    return bow->limit_m;
}

double simbow_stated_draw_m(const struct simbow *bow)
{
    return bow->design->full_draw_m;
}

double simbow_stop_top_m(const struct simbow *bow)
{
    assert(bow->design->has_stops);
    return bow->stop_m[0];
}

double simbow_stop_bottom_m(const struct simbow *bow)
{
    assert(bow->design->has_stops);
    return bow->stop_m[1];
}
