/*
 * figures: what a force-draw curve is summed up in. One table drives names, units and labels.
 *
 * Definitions: docs/definitions.md. All values are SI.
 */
#ifndef PULLCURVE_CURVE_FIGURES_H
#define PULLCURVE_CURVE_FIGURES_H

#include "base/units.h"

#include <stdbool.h>
#include <stddef.h>

/* id, name in JSON and CSV, trade unit, SI unit, label for people */
#define FIGURE_LIST(X)                                                                          \
    X(FIGURE_PEAK_FORCE, "peak_force", UNIT_LBF, UNIT_N, "Peak draw force")                     \
    X(FIGURE_PEAK_POSITION, "peak_position", UNIT_IN, UNIT_M, "Peak position")                  \
    X(FIGURE_HOLDING_FORCE, "holding_force", UNIT_LBF, UNIT_N, "Holding weight")                \
    X(FIGURE_VALLEY_POSITION, "valley_position", UNIT_IN, UNIT_M, "Valley position")            \
    X(FIGURE_LET_OFF, "let_off", UNIT_PERCENT, UNIT_PERCENT, "Let-off (draw side)")             \
    X(FIGURE_LET_OFF_LET_DOWN, "let_off_let_down", UNIT_PERCENT, UNIT_PERCENT,                  \
      "Let-off (let-down side)")                                                                \
    X(FIGURE_BRACE_HEIGHT, "brace_height", UNIT_IN, UNIT_M, "Brace height")                     \
    X(FIGURE_FULL_DRAW, "full_draw", UNIT_IN, UNIT_M, "Draw length, true")                      \
    X(FIGURE_DRAW_LENGTH_ATA, "draw_length_ata", UNIT_IN, UNIT_M, "Draw length, ATA")           \
    X(FIGURE_POWER_STROKE, "power_stroke", UNIT_IN, UNIT_M, "Power stroke")                     \
    X(FIGURE_STORED_ENERGY, "stored_energy", UNIT_FT_LBF, UNIT_J, "Stored energy")              \
    X(FIGURE_RETURNED_ENERGY, "returned_energy", UNIT_FT_LBF, UNIT_J, "Returned energy")        \
    X(FIGURE_HYSTERESIS, "hysteresis", UNIT_FT_LBF, UNIT_J, "Static hysteresis")                \
    X(FIGURE_HYSTERESIS_PCT, "hysteresis_pct", UNIT_PERCENT, UNIT_PERCENT,                      \
      "Static hysteresis, share")                                                               \
    X(FIGURE_STATIC_EFFICIENCY, "static_efficiency", UNIT_PERCENT, UNIT_PERCENT,                \
      "Static efficiency")                                                                      \
    X(FIGURE_ENERGY_PER_PEAK, "energy_per_peak", UNIT_FT_LBF_PER_LBF, UNIT_J_PER_N,             \
      "Energy per pound of peak")                                                               \
    X(FIGURE_FULLNESS, "fullness", UNIT_NONE, UNIT_NONE, "Fullness of the curve")               \
    X(FIGURE_WALL_ONSET, "wall_onset", UNIT_IN, UNIT_M, "Wall onset")                           \
    X(FIGURE_WALL_STIFFNESS, "wall_stiffness", UNIT_LBF_PER_IN, UNIT_N_PER_M, "Wall stiffness") \
    X(FIGURE_STOP_STAGGER, "stop_stagger", UNIT_IN, UNIT_M, "Stop stagger")                     \
    X(FIGURE_VALLEY_WIDTH, "valley_width", UNIT_IN, UNIT_M, "Valley width")                     \
    X(FIGURE_PLATEAU, "plateau", UNIT_IN, UNIT_M, "Plateau")                                    \
    X(FIGURE_STEEPEST_RISE, "steepest_rise", UNIT_LBF_PER_IN, UNIT_N_PER_M, "Steepest rise")    \
    X(FIGURE_STEEPEST_DROP, "steepest_drop", UNIT_LBF_PER_IN, UNIT_N_PER_M, "Steepest drop")

enum figure_id {
#define FIGURE_ENUM(id, name, trade, si, label) id,
    FIGURE_LIST(FIGURE_ENUM)
#undef FIGURE_ENUM
        FIGURE_COUNT
};

struct figure_info {
    const char *name;
    enum unit trade_unit;
    enum unit si_unit;
    const char *label;
};

/* One row of the table above. */
const struct figure_info *figure_info(enum figure_id id);

/* Finds a figure by its name; false where there is none. */
bool figure_find(const char *name, enum figure_id *id);

/* A measured value. Where present is false nothing else holds, and a warning says why. Where has_u
 * is false no uncertainty is known. */
struct figure {
    bool present;
    bool has_u;
    double value_si;
    double u_si;            /* standard uncertainty */
    double low_si, high_si; /* 95 % coverage interval */
};

struct figures {
    struct figure f[FIGURE_COUNT];
};

#endif
