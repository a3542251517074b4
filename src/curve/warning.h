/*
 * warning: what a reader of the figures must know. A code, and up to two numbers; the show room
 * puts them into words.
 */
#ifndef PULLCURVE_CURVE_WARNING_H
#define PULLCURVE_CURVE_WARNING_H

#include "base/units.h"

#include <stddef.h>

/* id, code in JSON, quantity of the numbers, text; {} stands for the numbers in turn, {n} for the
 * count */
#define WARNING_LIST(X)                                                                            \
    X(WARNING_NO_LET_DOWN, "no_let_down", QUANTITY_NONE,                                           \
      "There is no let-down: returned energy, hysteresis, static efficiency and the let-off of "   \
      "the let-down side can't be known.")                                                         \
    X(WARNING_NO_VALLEY, "no_valley", QUANTITY_FORCE,                                              \
      "No valley was reached after the peak of {}: holding weight, let-off and valley can't be "   \
      "known. Draw to the wall, or state a draw length for a bow without let-off.")                \
    X(WARNING_NO_WALL, "no_wall", QUANTITY_NONE,                                                   \
      "No wall was met: wall onset and stiffness, stop stagger and valley width can't be known.")  \
    X(WARNING_VALLEY_AT_END, "valley_at_end", QUANTITY_LENGTH,                                     \
      "The smallest force is at the last draw position, {}: the true valley may lie beyond it.")   \
    X(WARNING_NO_STAGGER, "no_stagger", QUANTITY_LENGTH,                                           \
      "The rise at the wall shows one slope. About {} is the smallest stop stagger that could "    \
      "show in this pull; a larger one can stay hidden too, where few readings lie on the rise "   \
      "or "                                                                                        \
      "the second stop was hardly reached.")                                                       \
    X(WARNING_STAGGER_NOT_SEEN, "stagger_not_seen", QUANTITY_NONE,                                 \
      "There are too few readings on a wall to look for stop stagger.")                            \
    X(WARNING_STAGGER, "stagger", QUANTITY_LENGTH,                                                 \
      "The rise at the wall has two slopes: the stops may land {} apart. Check the cam timing.")   \
    X(WARNING_BRACE_ASSUMED, "brace_assumed", QUANTITY_LENGTH,                                     \
      "The readings hold no rest: the first position, {}, is taken as the brace height.")          \
    X(WARNING_SLACK, "slack", QUANTITY_LENGTH,                                                     \
      "The force stayed at zero over {} of travel before the draw: slack in the hook. Brace "      \
      "height is where the force begins.")                                                         \
    X(WARNING_SHORT_OF_STATED, "short_of_stated", QUANTITY_LENGTH,                                 \
      "The draw ended at {}, short of the stated full draw of {}: what needs full draw can't be "  \
      "known.")                                                                                    \
    X(WARNING_LET_DOWN_SHORT, "let_down_short", QUANTITY_LENGTH,                                   \
      "The let-down ended at {}, before brace height: returned energy can't be known.")            \
    X(WARNING_PULLS_UNFINISHED, "pulls_unfinished", QUANTITY_NONE,                                 \
      "{n} movement(s) were too short to be a pull and are not in the figures.")                   \
    X(WARNING_SPIKES, "spikes", QUANTITY_NONE,                                                     \
      "{n} reading(s) stand out as spikes: kept in the data, not used in the curve.")              \
    X(WARNING_REVERSALS, "reversals", QUANTITY_LENGTH,                                             \
      "The draw went back {n} time(s), at most by {}: readings taken while going back are not on " \
      "the draw curve.")                                                                           \
    X(WARNING_LEFT_OUT, "left_out", QUANTITY_NONE,                                                 \
      "{n} reading(s) were incomplete or saturated and are left out.")                             \
    X(WARNING_BAD_ROWS, "bad_rows", QUANTITY_NONE, "{n} bad row(s) of the file were skipped.")     \
    X(WARNING_SINGLE_PULL, "single_pull", QUANTITY_NONE,                                           \
      "One pull: how well pulls repeat is not in the uncertainties.")                              \
    X(WARNING_UNCERTAINTY_READINGS_ONLY, "uncertainty_readings_only", QUANTITY_NONE,               \
      "The uncertainties hold only what the readings show: the calibration behind these readings " \
      "is not known here.")                                                                        \
    X(WARNING_COARSE, "coarse", QUANTITY_LENGTH,                                                   \
      "The readings are {} apart: taken as they are, joined by straight lines.")                   \
    X(WARNING_LAG, "lag", QUANTITY_TIME,                                                           \
      "The force stands {} behind the travel: corrected. Look at the filter of the load cell's "   \
      "converter.")                                                                                \
    X(WARNING_FLAT_VALLEY, "flat_valley", QUANTITY_LENGTH,                                         \
      "The valley is flat within noise over {}: its middle is taken as the valley position.")

enum warning_code {
#define WARNING_ENUM(id, name, quantity, text) id,
    WARNING_LIST(WARNING_ENUM)
#undef WARNING_ENUM
        WARNING_COUNT
};

struct warning_info {
    const char *name;
    enum quantity quantity;
    const char *text;
};

const struct warning_info *warning_info(enum warning_code code);

struct warning {
    enum warning_code code;
    size_t count;
    double value_si[2];
};

/* At most one of each code; a later one of the same code adds its count and keeps the values. */
struct warnings {
    size_t n;
    struct warning w[WARNING_COUNT];
};

void warnings_add(struct warnings *warnings, struct warning warning);

#endif
