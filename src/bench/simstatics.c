#include "bench/simstatics.h"

#include <math.h>

/* Geometry at a state and its derivatives along the draw (names that end in _d). */
struct kinematics {
    double cam_d, limb_d, string_d, cable_d;
    struct simtrack_point string, cable;
    double limb_string_m, limb_string_d; /* lever arm of the string about the hinge */
    double limb_cable_m, limb_cable_d;   /* of the cables, taken as above */
};

static void kinematics_of_cable(const struct simpose *pose, struct kinematics *k)
{
    const struct simbow *bow = pose->bow;
    const struct simangles *at = &pose->at;
    double limb_s = sin(at->limb_rad), limb_c = cos(at->limb_rad);
    double cable_s = sin(at->cable_rad), cable_c = cos(at->cable_rad), lever_m = bow->lever_m;
    k->cable = simpose_cable(pose);
    k->cable_d = (k->cable.slope_m * k->cam_d - 2.0 * lever_m * limb_s * cable_s * k->limb_d) /
                 (-2.0 * simpose_axle_y_m(bow, at->limb_rad) * cable_c - k->cable.slope_m);
    k->limb_cable_m = -2.0 * lever_m * limb_s * cable_c;
    k->limb_cable_d =
        2.0 * lever_m * (limb_s * cable_s * k->cable_d - limb_c * cable_c * k->limb_d);
}

static struct kinematics kinematics_of(const struct simpose *pose)
{
    const struct simbow *bow = pose->bow;
    const struct simangles *at = &pose->at;
    double dx_m = pose->draw_m - simpose_axle_x_m(bow, at->limb_rad);
    double dy_m = -simpose_axle_y_m(bow, at->limb_rad);
    double s = sin(at->string_rad), c = cos(at->string_rad);
    double hinge_c_m = bow->lever_m * cos(at->string_rad + at->limb_rad);
    struct kinematics k = {.string = simpose_string(pose)};
    double free_m = k.string.slope_m + s * dx_m - c * dy_m;
    k.cam_d = s / simpose_string_per_cam_m(pose);
    k.limb_d = simpose_limb_per_cam(pose) * k.cam_d;
    k.string_d = (c - hinge_c_m * k.limb_d - k.string.slope_m * k.cam_d) / free_m;
    k.limb_string_m = bow->lever_m * sin(at->string_rad + at->limb_rad);
    k.limb_string_d = hinge_c_m * (k.string_d + k.limb_d);
    if (simpose_is_compound(bow))
        kinematics_of_cable(pose, &k);
    return k;
}

/* Torques on one half of the bow that do not depend on the tensions, with derivatives. */
struct torques {
    double limb_nm, limb_d, stop_nm, stop_d;
};

static struct torques torques_of(const struct simpose *pose, const struct kinematics *k,
                                 double friction)
{
    const struct simbow *bow = pose->bow;
    double limb_share = 1.0 + friction * bow->design->limb_loss;
    struct torques torques = {.limb_d = bow->hinge_nm_per_rad * k->limb_d * limb_share};
    for (int side = 0; side < 2; side++) {
        torques.limb_nm +=
            bow->hinge_nm_per_rad * (pose->at.limb_rad - bow->free_rad[side]) * limb_share / 2.0;
        double past_rad = pose->at.cam_rad - bow->stop_rad[side];
        if (bow->design->has_stops && past_rad > 0.0) {
            torques.stop_nm += bow->stop_nm_per_rad * past_rad / 2.0;
            torques.stop_d += bow->stop_nm_per_rad * k->cam_d / 2.0;
        }
    }
    return torques;
}

/* Tensions of string and cable and their derivatives along the draw. */
struct tensions {
    double string_n, string_d, cable_n, cable_d;
};

/* The load on the cam's bearing and its derivative, as far as it does not come from the tensions'
 * own change; along_string and along_cable are its derivatives by the two tensions. */
struct bearing {
    double load_n, load_d, along_string, along_cable;
};

static struct bearing bearing_of(const struct simangles *at, const struct kinematics *k,
                                 const struct tensions *t)
{
    double ss = sin(at->string_rad), sc = cos(at->string_rad);
    double cs = sin(at->cable_rad), cc = cos(at->cable_rad);
    double x_n = t->string_n * ss - t->cable_n * cs, y_n = t->cable_n * cc - t->string_n * sc;
    double load_n = hypot(x_n, y_n);
    double x_d = t->string_n * sc * k->string_d - t->cable_n * cc * k->cable_d;
    double y_d = t->string_n * ss * k->string_d - t->cable_n * cs * k->cable_d;
    return (struct bearing){.load_n = load_n,
                            .load_d = (x_n * x_d + y_n * y_d) / load_n,
                            .along_string = (x_n * ss - y_n * sc) / load_n,
                            .along_cable = (y_n * cc - x_n * cs) / load_n};
}

/* Balance of torques on the cam (string against cable, stop and bearing friction) and on the limb
 * (string and cables against the hinge). Bearing friction depends on the tensions that it changes,
 * a little; the repetition gains about two digits a round. */
static struct tensions compound_tensions(const struct simpose *pose, const struct kinematics *k,
                                         double friction)
{
    const struct simdesign *design = pose->bow->design;
    double rub_m = friction * design->axle_friction * design->axle_radius_m;
    struct torques torques = torques_of(pose, k, friction);
    double ps_m = k->string.lever_m, pc_m = k->cable.lever_m;
    struct tensions t = {0};
    double rub_nm = 0.0;
    for (int round = 0; round < 60; round++) {
        double cam_nm = torques.stop_nm + rub_nm;
        t.cable_n = (torques.limb_nm - k->limb_string_m * cam_nm / ps_m) /
                    (k->limb_string_m * pc_m / ps_m + k->limb_cable_m);
        t.string_n = (t.cable_n * pc_m + cam_nm) / ps_m;
        double before_nm = rub_nm;
        rub_nm = rub_m * bearing_of(&pose->at, k, &t).load_n;
        if (fabs(rub_nm - before_nm) <= 1e-17 * torques.limb_nm)
            break;
    }
    struct bearing bearing = bearing_of(&pose->at, k, &t);
    double ps_d = k->string.slope_m * (k->string_d + k->cam_d);
    double pc_d = k->cable.slope_m * (k->cable_d + k->cam_d);
    double on_cam = torques.stop_d + rub_m * bearing.load_d - t.string_n * ps_d + t.cable_n * pc_d;
    double on_limb = torques.limb_d - t.string_n * k->limb_string_d - t.cable_n * k->limb_cable_d;
    double a = ps_m - rub_m * bearing.along_string, b = -(pc_m + rub_m * bearing.along_cable);
    double determinant = a * k->limb_cable_m - b * k->limb_string_m;
    t.string_d = (on_cam * k->limb_cable_m - b * on_limb) / determinant;
    t.cable_d = (a * on_limb - on_cam * k->limb_string_m) / determinant;
    return t;
}

/* A recurve's string acts on the limb alone, over its lever arm about the hinge. */
static struct tensions recurve_tensions(const struct simpose *pose, const struct kinematics *k,
                                        double friction)
{
    struct torques torques = torques_of(pose, k, friction);
    double arm_m = k->limb_string_m + k->string.lever_m;
    double arm_d = k->limb_string_d + k->string.slope_m * (k->string_d + k->cam_d);
    struct tensions t = {.string_n = torques.limb_nm / arm_m};
    t.string_d = (torques.limb_d - t.string_n * arm_d) / arm_m;
    return t;
}

double simstatics_energy_j(const struct simpose *pose)
{
    const struct simbow *bow = pose->bow;
    double energy_j = 0.0;
    for (int side = 0; side < 2; side++) {
        double bent_rad = pose->at.limb_rad - bow->free_rad[side];
        double past_rad = fmax(0.0, pose->at.cam_rad - bow->stop_rad[side]);
        energy_j += bow->hinge_nm_per_rad * bent_rad * bent_rad / 2.0;
        if (bow->design->has_stops)
            energy_j += bow->stop_nm_per_rad * past_rad * past_rad / 2.0;
    }
    return energy_j;
}

struct simbow_state simstatics_state(const struct simpose *pose, double direction)
{
    const struct simbow *bow = pose->bow;
    const struct simangles *at = &pose->at;
    double friction = direction * bow->settings.friction_scale;
    struct kinematics k = kinematics_of(pose);
    struct tensions t = simpose_is_compound(bow) ? compound_tensions(pose, &k, friction)
                                                 : recurve_tensions(pose, &k, friction);
    double s = sin(at->string_rad), c = cos(at->string_rad);
    return (struct simbow_state){
        .draw_m = pose->draw_m,
        .force_n = 2.0 * t.string_n * s,
        .slope_n_per_m = 2.0 * (t.string_d * s + t.string_n * c * k.string_d),
        .energy_j = simstatics_energy_j(pose) - bow->brace_energy_j,
        .limb_rad = at->limb_rad,
        .cam_rad = at->cam_rad,
        .cam_rate_rad_per_m = k.cam_d,
        .string_angle_rad = at->string_rad,
        .cable_angle_rad = at->cable_rad,
        .string_tension_n = t.string_n,
        .cable_tension_n = t.cable_n,
        .axle_to_axle_m = 2.0 * simpose_axle_y_m(bow, at->limb_rad),
        .string_error_m = simpose_string_error_m(pose),
        .cable_error_m = simpose_cable_error_m(pose),
    };
}
