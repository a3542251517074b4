/*
 * simbow: the physics of a bow being drawn slowly, for the simulated bench.
 *
 * An equilibrium model, not a drawn curve. The upper half stands for both (the lower one is its
 * mirror image). Each limb is a rigid lever on an elastic hinge (C. N. Hickman's model of the bow);
 * its tip carries the axle. A compound's cam has a string track and a cable track
 * (bench/simtrack.h); the string runs from the nocking point on the axis of symmetry to the string
 * track, the cable from the cable track to the other limb's axle. Cords do not stretch. For a draw
 * position the lengths of the two cords give the angles of limb and cam, and the torques on cam and
 * limb give the tensions and the draw force. A recurve has no cam: the string lies on the nose of
 * the limb tip until it lifts off.
 *
 * Positions: x along the draw, from the grip pivot point towards the archer; y up from the axis of
 * symmetry. Limb and cam angles grow while the bow is drawn. The two limbs and the two stops may
 * differ in preload and position; their torques add, the motion stays symmetric.
 * Not for: noise, converters (bench/simbench.h), the hand (bench/simhand.h).
 */
#ifndef PULLCURVE_BENCH_SIMBOW_H
#define PULLCURVE_BENCH_SIMBOW_H

#include "base/status.h"

#include <stdbool.h>
#include <stddef.h>

/* How the bow is set up. simbow_nominal gives the nominal set-up of any bow. */
struct simbow_settings {
    double bolt_turns_top, bolt_turns_bottom; /* from bottomed; backed out is negative */
    bool has_cam_setting;
    double cam_setting_m; /* labelled draw length, ATA; compounds only */
    double string_twists; /* added to the string; each shortens it */
    double cable_twists;  /* added to each cable */
    double stop_top_rad;  /* the top stop lands this much of cam angle later */
    double stop_bottom_rad;
    double friction_scale; /* 1 as in the bow file, 0 none */
};

struct simbow;

/* One state of equilibrium. */
struct simbow_state {
    double draw_m;
    double force_n;           /* on the string at the nocking point */
    double slope_n_per_m;     /* its derivative along the draw, friction's direction held */
    double energy_j;          /* in limbs and stops, above that at brace */
    double limb_rad, cam_rad; /* limb: from the vertical; cam: from nominal brace */
    double cam_rate_rad_per_m;
    double string_angle_rad, cable_angle_rad; /* normals of the cords where they leave the tracks */
    double string_tension_n, cable_tension_n; /* cable: 0 for a recurve */
    double axle_to_axle_m;
    double string_error_m, cable_error_m; /* what is left of the constraints on the cord lengths */
};

struct simbow_settings simbow_nominal(void);

/* Reads a bow file and sets the bow up. Caller ends it with simbow_close.
 * Errors: those of simdesign_open; STATUS_USAGE (a setting beyond what the bow allows);
 * STATUS_BAD_INPUT (the geometry does not close: cords too short or too long, tracks used up).
 * *bow is NULL on failure. */
enum status simbow_open(struct simbow **bow, const char *path,
                        const struct simbow_settings *settings, struct err *err);

/* Releases it; NULL is allowed. */
void simbow_close(struct simbow *bow);

/* The bow's name, borrowed. */
const char *simbow_name(const struct simbow *bow);

bool simbow_is_compound(const struct simbow *bow);
bool simbow_has_stops(const struct simbow *bow);

/* Brace height in this set-up (zero force). */
double simbow_brace_m(const struct simbow *bow);

/* The farthest draw position the model answers for: the tracks or the force end there. */
double simbow_limit_m(const struct simbow *bow);

/* The recurve's stated full draw, true; 0 for a compound. */
double simbow_stated_draw_m(const struct simbow *bow);

/* Draw positions at which the stops land. Only where simbow_has_stops. Beyond the limit: NAN. */
double simbow_stop_top_m(const struct simbow *bow);
double simbow_stop_bottom_m(const struct simbow *bow);

/* The state at draw_m, which is taken as brace where it lies below. direction is that of friction:
 * +1 drawing, -1 letting down, between while it reverses (simbow_friction).
 * Errors: STATUS_BAD_INPUT where draw_m lies beyond the limit or is not finite. */
enum status simbow_at(const struct simbow *bow, double draw_m, double direction,
                      struct simbow_state *state, struct err *err);

/* Friction's direction after a move by move_m from `direction`: pre-sliding after P. R. Dahl,
 * exponential, 95 % complete after the bow's pre-sliding displacement. */
double simbow_friction(const struct simbow *bow, double direction, double move_m);

#endif
