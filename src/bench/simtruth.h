/*
 * simtruth: the figures of a simulated bow without noise, straight from the model.
 *
 * What a perfect bench would find in one slow pull, by the handbook's definitions (docs/
 * definitions.md), from root finding and quadrature on the model itself. It shares no code with
 * the curve room, so that each can check the other.
 *
 * The draw curve is the force with friction fully against the draw. The let-down curve begins at
 * the largest draw (a push of some force into the wall; a recurve's stated full draw) and friction
 * turns over along it (simbow_friction). Full draw is the valley, for a recurve the stated draw.
 */
#ifndef PULLCURVE_BENCH_SIMTRUTH_H
#define PULLCURVE_BENCH_SIMTRUTH_H

#include "base/status.h"
#include "base/units.h"
#include "bench/simbow.h"

#include <stdbool.h>

/* id, name, trade unit, SI unit. The names that measure gives too mean the same. */
#define SIMTRUTH_LIST(X)                                                              \
    X(SIMTRUTH_PEAK_FORCE, "peak_force", UNIT_LBF, UNIT_N)                            \
    X(SIMTRUTH_PEAK_POSITION, "peak_position", UNIT_IN, UNIT_M)                       \
    X(SIMTRUTH_HOLDING_FORCE, "holding_force", UNIT_LBF, UNIT_N)                      \
    X(SIMTRUTH_VALLEY_POSITION, "valley_position", UNIT_IN, UNIT_M)                   \
    X(SIMTRUTH_LET_OFF, "let_off", UNIT_PERCENT, UNIT_PERCENT)                        \
    X(SIMTRUTH_LET_OFF_LET_DOWN, "let_off_let_down", UNIT_PERCENT, UNIT_PERCENT)      \
    X(SIMTRUTH_BRACE_HEIGHT, "brace_height", UNIT_IN, UNIT_M)                         \
    X(SIMTRUTH_FULL_DRAW, "full_draw", UNIT_IN, UNIT_M)                               \
    X(SIMTRUTH_DRAW_LENGTH_ATA, "draw_length_ata", UNIT_IN, UNIT_M)                   \
    X(SIMTRUTH_POWER_STROKE, "power_stroke", UNIT_IN, UNIT_M)                         \
    X(SIMTRUTH_STORED_ENERGY, "stored_energy", UNIT_FT_LBF, UNIT_J)                   \
    X(SIMTRUTH_RETURNED_ENERGY, "returned_energy", UNIT_FT_LBF, UNIT_J)               \
    X(SIMTRUTH_HYSTERESIS, "hysteresis", UNIT_FT_LBF, UNIT_J)                         \
    X(SIMTRUTH_HYSTERESIS_PCT, "hysteresis_pct", UNIT_PERCENT, UNIT_PERCENT)          \
    X(SIMTRUTH_STATIC_EFFICIENCY, "static_efficiency", UNIT_PERCENT, UNIT_PERCENT)    \
    X(SIMTRUTH_ENERGY_PER_PEAK, "energy_per_peak", UNIT_FT_LBF_PER_LBF, UNIT_J_PER_N) \
    X(SIMTRUTH_FULLNESS, "fullness", UNIT_NONE, UNIT_NONE)                            \
    X(SIMTRUTH_WALL_ONSET, "wall_onset", UNIT_IN, UNIT_M)                             \
    X(SIMTRUTH_WALL_STIFFNESS, "wall_stiffness", UNIT_LBF_PER_IN, UNIT_N_PER_M)       \
    X(SIMTRUTH_STOP_STAGGER, "stop_stagger", UNIT_IN, UNIT_M)                         \
    X(SIMTRUTH_VALLEY_WIDTH, "valley_width", UNIT_IN, UNIT_M)                         \
    X(SIMTRUTH_PLATEAU, "plateau", UNIT_IN, UNIT_M)                                   \
    X(SIMTRUTH_STEEPEST_RISE, "steepest_rise", UNIT_LBF_PER_IN, UNIT_N_PER_M)         \
    X(SIMTRUTH_STEEPEST_DROP, "steepest_drop", UNIT_LBF_PER_IN, UNIT_N_PER_M)         \
    X(SIMTRUTH_STOP_TOP_POSITION, "stop_top_position", UNIT_IN, UNIT_M)               \
    X(SIMTRUTH_STOP_BOTTOM_POSITION, "stop_bottom_position", UNIT_IN, UNIT_M)         \
    X(SIMTRUTH_LARGEST_DRAW, "largest_draw", UNIT_IN, UNIT_M)                         \
    X(SIMTRUTH_AXLE_TO_AXLE, "axle_to_axle", UNIT_IN, UNIT_M)                         \
    X(SIMTRUTH_AXLE_TO_AXLE_FULL_DRAW, "axle_to_axle_full_draw", UNIT_IN, UNIT_M)

enum simtruth_id {
#define SIMTRUTH_ENUM(id, name, trade, si) id,
    SIMTRUTH_LIST(SIMTRUTH_ENUM)
#undef SIMTRUTH_ENUM
        SIMTRUTH_COUNT
};

struct simtruth_info {
    const char *name;
    enum unit trade_unit, si_unit;
};

/* What this bow has no such figure for (a recurve's valley) is not present. */
struct simtruth {
    bool present[SIMTRUTH_COUNT];
    double value_si[SIMTRUTH_COUNT];
};

/* How hard a pull presses into the wall unless stated, above the holding force. */
#define SIMTRUTH_PRESS_N (20.0 * 4.4482216152605)

const struct simtruth_info *simtruth_info(enum simtruth_id id);

/* The figures, to about 1e-9 relative. press_n > 0. The wall's line is the least-squares line
 * of position over force, even in force, over the upper 70 % of the rise. Errors: those of
 * simbow_at; STATUS_INTERNAL where the quadrature does not converge. */
enum status simtruth_find(const struct simbow *bow, double press_n, struct simtruth *truth,
                          struct err *err);

#endif
