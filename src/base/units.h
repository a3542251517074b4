/*
 * units: the one table between the trade's units and SI.
 *
 * Inside, every quantity is SI (N, m, J, kg, m/s, N/m, rad). Numbers change unit only here, at the
 * edges: when a file or an option is read, and when a number is shown.
 * Factors are exact: lb = 0.45359237 kg, in = 25.4 mm, g = 9.80665 m/s2, gr = lb/7000
 * (definitions as in the GNU units database; rounded forms in NIST SP 811 B.8).
 */
#ifndef PULLCURVE_BASE_UNITS_H
#define PULLCURVE_BASE_UNITS_H

#include <stdbool.h>
#include <stddef.h>

enum quantity {
    QUANTITY_NONE, /* a pure number */
    QUANTITY_FORCE,
    QUANTITY_LENGTH,
    QUANTITY_ENERGY,
    QUANTITY_STIFFNESS,
    QUANTITY_MASS,
    QUANTITY_SPEED,
    QUANTITY_TIME,
    QUANTITY_PERCENT,
    QUANTITY_ENERGY_PER_FORCE, /* J/N = m; the trade's ft.lbf/lbf */
    QUANTITY_MOMENTUM,
    QUANTITY_ANGLE,
};

/* id, name as written and read, quantity, factor to SI */
#define UNIT_LIST(X)                                                                  \
    X(UNIT_NONE, "", QUANTITY_NONE, 1.0)                                              \
    X(UNIT_N, "N", QUANTITY_FORCE, 1.0)                                               \
    X(UNIT_KN, "kN", QUANTITY_FORCE, 1000.0)                                          \
    X(UNIT_LBF, "lbf", QUANTITY_FORCE, 0.45359237 * 9.80665)                          \
    X(UNIT_KGF, "kgf", QUANTITY_FORCE, 9.80665)                                       \
    X(UNIT_M, "m", QUANTITY_LENGTH, 1.0)                                              \
    X(UNIT_CM, "cm", QUANTITY_LENGTH, 0.01)                                           \
    X(UNIT_MM, "mm", QUANTITY_LENGTH, 0.001)                                          \
    X(UNIT_IN, "in", QUANTITY_LENGTH, 0.0254)                                         \
    X(UNIT_FT, "ft", QUANTITY_LENGTH, 0.3048)                                         \
    X(UNIT_YD, "yd", QUANTITY_LENGTH, 0.9144)                                         \
    X(UNIT_J, "J", QUANTITY_ENERGY, 1.0)                                              \
    X(UNIT_FT_LBF, "ft.lbf", QUANTITY_ENERGY, 0.3048 * (0.45359237 * 9.80665))        \
    X(UNIT_N_PER_M, "N/m", QUANTITY_STIFFNESS, 1.0)                                   \
    X(UNIT_LBF_PER_IN, "lbf/in", QUANTITY_STIFFNESS, (0.45359237 * 9.80665) / 0.0254) \
    X(UNIT_KG, "kg", QUANTITY_MASS, 1.0)                                              \
    X(UNIT_G, "g", QUANTITY_MASS, 0.001)                                              \
    X(UNIT_GR, "gr", QUANTITY_MASS, 0.45359237 / 7000.0)                              \
    X(UNIT_LB, "lb", QUANTITY_MASS, 0.45359237)                                       \
    X(UNIT_M_PER_S, "m/s", QUANTITY_SPEED, 1.0)                                       \
    X(UNIT_FT_PER_S, "ft/s", QUANTITY_SPEED, 0.3048)                                  \
    X(UNIT_S, "s", QUANTITY_TIME, 1.0)                                                \
    X(UNIT_MS, "ms", QUANTITY_TIME, 0.001)                                            \
    X(UNIT_PERCENT, "%", QUANTITY_PERCENT, 1.0)                                       \
    X(UNIT_J_PER_N, "J/N", QUANTITY_ENERGY_PER_FORCE, 1.0)                            \
    X(UNIT_FT_LBF_PER_LBF, "ft.lbf/lbf", QUANTITY_ENERGY_PER_FORCE, 0.3048)           \
    X(UNIT_KG_M_PER_S, "kg.m/s", QUANTITY_MOMENTUM, 1.0)                              \
    X(UNIT_SLUG_FT_PER_S, "slug.ft/s", QUANTITY_MOMENTUM, 0.45359237 * 9.80665)       \
    X(UNIT_RAD, "rad", QUANTITY_ANGLE, 1.0)                                           \
    X(UNIT_DEG, "deg", QUANTITY_ANGLE, 3.14159265358979323846 / 180.0)

enum unit {
#define UNIT_ENUM(id, name, quantity, factor) id,
    UNIT_LIST(UNIT_ENUM)
#undef UNIT_ENUM
        UNIT_COUNT
};

/* The AMO/ATA draw axis adds 1 3/4 in to the distance from the grip pivot point
 * (AMO FP-3; ASTM F1880-09 3.2.1). */
#define ATA_AXIS_OFFSET_M (1.75 * 0.0254)

/* Standard gravity, exact (CGPM 1901). */
#define STANDARD_GRAVITY_M_S2 9.80665

/* value in `unit` to SI, and back. */
double unit_to_si(enum unit unit, double value);
double unit_from_si(enum unit unit, double value_si);

/* The unit's written name ("" for UNIT_NONE); a constant string. */
const char *unit_name(enum unit unit);

enum quantity unit_quantity(enum unit unit);

/* Finds the unit with this name, whatever its case, over
 * name[0..length). Returns false and leaves *unit alone where there is none. */
bool unit_parse(const char *name, size_t length, enum unit *unit);

#endif
