/*
 * simpose: the geometry of the simulated bow: which angles of limb, cam and cords close it.
 *
 * Private to the simulated bow (bench/simbow.c). With A the upper axle, N the nocking point, n the
 * outward normal of a cord where it leaves its track and t = dn/dangle, the constraints are
 *   string:  n.(N - A) = p_s        -t.(N - A) - W_s = string_m
 *   cable:   n.(A' - A) = p_c       t.(A' - A) + W_c = cable_m       (A' the other axle)
 * with p the lever arm and W the integral of p (bench/simtrack.h). By the first of each pair, the
 * second does not change with the normal's angle to first order; all derivatives below rest on
 * that. Limb and cam turn clockwise while the bow is drawn, so that the direction of a normal in
 * the cam's frame is its angle in the room plus the cam's.
 */
#ifndef PULLCURVE_BENCH_SIMPOSE_H
#define PULLCURVE_BENCH_SIMPOSE_H

#include "bench/simbow.h"
#include "bench/simdesign.h"
#include "bench/simtrack.h"

#include <stdbool.h>
#include <stddef.h>

enum { SIMPOSE_GUESSES = 256 };

struct simangles {
    double limb_rad, cam_rad, string_rad, cable_rad;
};

struct simbow {
    struct simdesign *design;
    struct simbow_settings settings;
    double hinge_x_m, hinge_y_m;
    double lever_m;                  /* from hinge to axle */
    double brace_limb_rad;           /* at nominal brace */
    double hinge_nm_per_rad;         /* of one limb */
    double free_rad[2], stop_rad[2]; /* top, bottom: limb without load, stop's landing */
    double stop_nm_per_rad;          /* of one stop */
    double string_m, cable_m;        /* what the constraints come to */
    double anchor_rad;               /* direction at which the cable is made fast to the cam */
    double module_rad;               /* the cable module's turn for the cam setting */
    double brace_m, limit_m;
    double stop_m[2];
    double brace_energy_j;
    struct simangles guess[SIMPOSE_GUESSES]; /* equally spaced from brace to limit */
};

/* One state: the angles are a guess first, then the solution. */
struct simpose {
    const struct simbow *bow;
    double draw_m;
    struct simangles at;
};

bool simpose_is_compound(const struct simbow *bow);

/* The upper axle (recurve: the tip's reference point). */
double simpose_axle_x_m(const struct simbow *bow, double limb_rad);
double simpose_axle_y_m(const struct simbow *bow, double limb_rad);

/* The tracks where the cords leave them. The module turns under the cable, which is made fast to
 * the cam itself at the anchor; its wound length counts from there. */
struct simtrack_point simpose_string(const struct simpose *pose);
struct simtrack_point simpose_cable(const struct simpose *pose);

/* Finds the angles at draw_m, from the guess in pose->at. false: none found. */
bool simpose_solve(struct simpose *pose);

/* The same at rest: the string straight up and down; sets draw_m to the brace height. */
bool simpose_solve_brace(struct simpose *pose);

/* The normal of the cable alone, limb and cam held. */
bool simpose_solve_cable(struct simpose *pose);

/* The draw position at which the cam has turned to pose->at.cam_rad. false: none found. */
bool simpose_solve_draw(struct simpose *pose);

/* Do the tracks say what the cords do here? */
bool simpose_on_tracks(const struct simpose *pose);

/* How far the limb turns for a turn of the cam, and how much string that turn gives up. */
double simpose_limb_per_cam(const struct simpose *pose);
double simpose_string_per_cam_m(const struct simpose *pose);

/* What is left of the two constraints on length. */
double simpose_string_error_m(const struct simpose *pose);
double simpose_cable_error_m(const struct simpose *pose);

#endif
