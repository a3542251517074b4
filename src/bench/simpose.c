#include "bench/simpose.h"
#include "bench/simroot.h"

#include <math.h>

bool simpose_is_compound(const struct simbow *bow)
{
    return bow->design->kind == SIMDESIGN_COMPOUND;
}

double simpose_axle_x_m(const struct simbow *bow, double limb_rad)
{
    return bow->hinge_x_m + bow->lever_m * sin(limb_rad);
}

double simpose_axle_y_m(const struct simbow *bow, double limb_rad)
{
    return bow->hinge_y_m + bow->lever_m * cos(limb_rad);
}

/* How far the cam's frame has turned against the room. */
static double turned_rad(const struct simpose *pose)
{
    return pose->at.cam_rad + pose->bow->design->cam_angle_rad;
}

struct simtrack_point simpose_string(const struct simpose *pose)
{
    return simtrack_at(pose->bow->design->string_track, pose->at.string_rad + turned_rad(pose));
}

struct simtrack_point simpose_cable(const struct simpose *pose)
{
    const struct simbow *bow = pose->bow;
    const struct simtrack *track = bow->design->cable_track;
    struct simtrack_point point =
        simtrack_at(track, pose->at.cable_rad + turned_rad(pose) - bow->module_rad);
    point.wound_m -= simtrack_at(track, bow->anchor_rad - bow->module_rad).wound_m;
    return point;
}

bool simpose_on_tracks(const struct simpose *pose)
{
    const struct simdesign *design = pose->bow->design;
    return simtrack_covers(design->string_track, pose->at.string_rad + turned_rad(pose)) &&
           (design->cable_track == NULL ||
            simtrack_covers(design->cable_track,
                            pose->at.cable_rad + turned_rad(pose) - pose->bow->module_rad));
}

/* The other axle lies on the cable's tangent line. Root: the normal of the cable. */
static double cable_tangent(double cable_rad, double *slope, void *context)
{
    struct simpose *pose = context;
    pose->at.cable_rad = cable_rad;
    double ata_m = 2.0 * simpose_axle_y_m(pose->bow, pose->at.limb_rad);
    struct simtrack_point track = simpose_cable(pose);
    *slope = -ata_m * cos(cable_rad) - track.slope_m;
    return -ata_m * sin(cable_rad) - track.lever_m;
}

bool simpose_solve_cable(struct simpose *pose)
{
    double cable_rad;
    if (!simroot_find(cable_tangent, pose, true, M_PI_2, 1.5 * M_PI, pose->at.cable_rad,
                      &cable_rad))
        return false;
    pose->at.cable_rad = cable_rad;
    return true;
}

double simpose_cable_error_m(const struct simpose *pose)
{
    const struct simbow *bow = pose->bow;
    if (!simpose_is_compound(bow))
        return 0.0;
    return -2.0 * simpose_axle_y_m(bow, pose->at.limb_rad) * cos(pose->at.cable_rad) +
           simpose_cable(pose).wound_m - bow->cable_m;
}

/* Free length and wound length make up the cable. Root: the limb's angle at a cam angle. */
static double cable_closure(double limb_rad, double *slope, void *context)
{
    struct simpose *pose = context;
    pose->at.limb_rad = limb_rad;
    if (!simpose_solve_cable(pose))
        return NAN;
    *slope = 2.0 * pose->bow->lever_m * sin(limb_rad) * cos(pose->at.cable_rad);
    return simpose_cable_error_m(pose);
}

/* The limb's angle (and the cable's) that belong to a cam angle. */
static bool solve_limb(struct simpose *pose)
{
    const struct simbow *bow = pose->bow;
    if (!simpose_is_compound(bow)) {
        pose->at.limb_rad = bow->brace_limb_rad + pose->at.cam_rad;
        return true;
    }
    double low_rad = fmax(0.02, bow->brace_limb_rad - 0.7);
    double high_rad = fmin(M_PI - 0.02, bow->brace_limb_rad + 1.2);
    double limb_rad;
    if (!simroot_find(cable_closure, pose, false, low_rad, high_rad, pose->at.limb_rad, &limb_rad))
        return false;
    pose->at.limb_rad = limb_rad;
    return simpose_solve_cable(pose);
}

double simpose_limb_per_cam(const struct simpose *pose)
{
    if (!simpose_is_compound(pose->bow))
        return 1.0;
    return simpose_cable(pose).lever_m /
           (-2.0 * pose->bow->lever_m * sin(pose->at.limb_rad) * cos(pose->at.cable_rad));
}

double simpose_string_per_cam_m(const struct simpose *pose)
{
    return simpose_string(pose).lever_m + pose->bow->lever_m *
                                              sin(pose->at.string_rad + pose->at.limb_rad) *
                                              simpose_limb_per_cam(pose);
}

/* The nocking point lies on the string's tangent line. Root: the normal of the string. */
static double string_tangent(double string_rad, double *slope, void *context)
{
    struct simpose *pose = context;
    pose->at.string_rad = string_rad;
    double dx_m = pose->draw_m - simpose_axle_x_m(pose->bow, pose->at.limb_rad);
    double dy_m = -simpose_axle_y_m(pose->bow, pose->at.limb_rad);
    double c = cos(string_rad), s = sin(string_rad);
    struct simtrack_point track = simpose_string(pose);
    *slope = -s * dx_m + c * dy_m - track.slope_m;
    return c * dx_m + s * dy_m - track.lever_m;
}

double simpose_string_error_m(const struct simpose *pose)
{
    const struct simbow *bow = pose->bow;
    double dx_m = pose->draw_m - simpose_axle_x_m(bow, pose->at.limb_rad);
    double dy_m = -simpose_axle_y_m(bow, pose->at.limb_rad);
    return sin(pose->at.string_rad) * dx_m - cos(pose->at.string_rad) * dy_m -
           simpose_string(pose).wound_m - bow->string_m;
}

/* Limb, cable and string for one cam angle at draw_m. */
static bool solve_for_cam(struct simpose *pose, double cam_rad)
{
    double string_rad;
    pose->at.cam_rad = cam_rad;
    if (!solve_limb(pose) ||
        !simroot_find(string_tangent, pose, false, -0.5, M_PI_2, pose->at.string_rad, &string_rad))
        return false;
    pose->at.string_rad = string_rad;
    return true;
}

/* Free length and wound length make up the string. Root: the cam's angle at a draw position. */
static double string_closure(double cam_rad, double *slope, void *context)
{
    struct simpose *pose = context;
    if (!solve_for_cam(pose, cam_rad))
        return NAN;
    *slope = -simpose_string_per_cam_m(pose);
    return simpose_string_error_m(pose);
}

bool simpose_solve(struct simpose *pose)
{
    double guess_rad = pose->at.cam_rad, cam_rad;
    return simroot_find(string_closure, pose, false, guess_rad - 1.0, guess_rad + 1.0, guess_rad,
                        &cam_rad) &&
           solve_for_cam(pose, cam_rad);
}

/* The string from the axis of symmetry straight up to its track. Root: the cam's angle at rest. */
static double brace_closure(double cam_rad, double *slope, void *context)
{
    struct simpose *pose = context;
    pose->at.cam_rad = cam_rad;
    pose->at.string_rad = 0.0;
    if (!solve_limb(pose))
        return NAN;
    *slope = -simpose_string_per_cam_m(pose);
    return simpose_string_error_m(pose);
}

bool simpose_solve_brace(struct simpose *pose)
{
    double cam_rad, slope;
    if (!simroot_find(brace_closure, pose, false, -1.0, 1.0, 0.0, &cam_rad) ||
        isnan(brace_closure(cam_rad, &slope, pose)))
        return false;
    pose->draw_m = simpose_axle_x_m(pose->bow, pose->at.limb_rad) + simpose_string(pose).lever_m;
    return true;
}

/* The string's tangent line meets the axis of symmetry at the end of the free length. Root: the
 * normal of the string at a cam angle. */
static double string_on_axis(double string_rad, double *slope, void *context)
{
    struct simpose *pose = context;
    pose->at.string_rad = string_rad;
    struct simtrack_point track = simpose_string(pose);
    double along_m = -(pose->bow->string_m + track.wound_m);
    *slope = (track.slope_m - along_m) * sin(string_rad);
    return track.lever_m * sin(string_rad) + along_m * cos(string_rad) +
           simpose_axle_y_m(pose->bow, pose->at.limb_rad);
}

bool simpose_solve_draw(struct simpose *pose)
{
    double string_rad;
    if (!solve_limb(pose) ||
        !simroot_find(string_on_axis, pose, true, 1e-4, M_PI_2, pose->at.string_rad, &string_rad))
        return false;
    pose->at.string_rad = string_rad;
    struct simtrack_point track = simpose_string(pose);
    pose->draw_m = simpose_axle_x_m(pose->bow, pose->at.limb_rad) +
                   track.lever_m * cos(string_rad) +
                   (pose->bow->string_m + track.wound_m) * sin(string_rad);
    return true;
}
