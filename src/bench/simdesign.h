/*
 * simdesign: the description of a simulated bow, read from a bow file (fixtures/bows).
 *
 * Geometry is that of the nominal state: standing at brace height, limb bolts bottomed, nominal cam
 * setting, no added twists. Cord lengths and the limbs' lever follow from it. All SI, angles in
 * radians; positions as in bench/simbow.h. docs/simulated-bench.md lists the keys.
 */
#ifndef PULLCURVE_BENCH_SIMDESIGN_H
#define PULLCURVE_BENCH_SIMDESIGN_H

#include "base/status.h"
#include "bench/simtrack.h"

#include <stdbool.h>

enum simdesign_kind { SIMDESIGN_COMPOUND, SIMDESIGN_RECURVE };

struct simdesign {
    char *name;
    enum simdesign_kind kind;
    double axle_to_axle_m; /* recurve: between the two reference points at the limb tips */
    double brace_m;
    double hinge_x_m, hinge_y_m; /* the upper limb's elastic hinge, from the grip pivot point */
    double cam_angle_rad;        /* turns both tracks' frames at nominal brace */
    double full_draw_m;          /* recurve: the stated full draw, true; 0 for a compound */
    double tip_stiffness_n_per_m;
    double tip_preload_m; /* how far the tip is bent along its arc at nominal brace */
    double bolt_rad_per_turn;
    double bolt_arm_m; /* how far from the limb pocket's pivot the hinge lies */
    double bolt_turns_low, bolt_turns_high;
    struct simtrack *string_track;
    struct simtrack *cable_track;                    /* NULL for a recurve */
    double setting_m, setting_low_m, setting_high_m; /* cam settings as labelled, ATA draw length */
    double module_rad_per_m;                         /* module's turn for a labelled length */
    bool has_stops;
    double stop_rad; /* cam angle from nominal brace at which the stops land */
    double stop_stiffness_n_per_m, stop_radius_m;
    double string_twist_m, cable_twist_m; /* shortening of the whole cord by one twist */
    double axle_radius_m, axle_friction;
    double limb_loss;    /* share of the limb's torque that is lost each way */
    double presliding_m; /* draw over which a reversal of friction is 95 % complete */
};

/* Reads a bow file. Caller ends it with simdesign_close. Errors: STATUS_NO_INPUT, STATUS_BAD_INPUT
 * with file:line (value missing or out of range, unknown key, a track that no cord would follow).
 * *design is NULL on failure. */
enum status simdesign_open(struct simdesign **design, const char *path, struct err *err);

/* Releases it; NULL is allowed. */
void simdesign_close(struct simdesign *design);

#endif
