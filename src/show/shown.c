#include "show/shown.h"

#include "base/number.h"

#include <math.h>
#include <string.h>
#include <strings.h>

/* quantity, unit of the trade, SI unit */
#define SHOWN_LIST(X)                                               \
    X(QUANTITY_NONE, UNIT_NONE, UNIT_NONE)                          \
    X(QUANTITY_FORCE, UNIT_LBF, UNIT_N)                             \
    X(QUANTITY_LENGTH, UNIT_IN, UNIT_M)                             \
    X(QUANTITY_ENERGY, UNIT_FT_LBF, UNIT_J)                         \
    X(QUANTITY_STIFFNESS, UNIT_LBF_PER_IN, UNIT_N_PER_M)            \
    X(QUANTITY_MASS, UNIT_GR, UNIT_KG)                              \
    X(QUANTITY_SPEED, UNIT_FT_PER_S, UNIT_M_PER_S)                  \
    X(QUANTITY_TIME, UNIT_MS, UNIT_MS)                              \
    X(QUANTITY_PERCENT, UNIT_PERCENT, UNIT_PERCENT)                 \
    X(QUANTITY_ENERGY_PER_FORCE, UNIT_FT_LBF_PER_LBF, UNIT_J_PER_N) \
    X(QUANTITY_MOMENTUM, UNIT_SLUG_FT_PER_S, UNIT_KG_M_PER_S)       \
    X(QUANTITY_ANGLE, UNIT_DEG, UNIT_RAD)

static const enum unit shown_table[][2] = {
#define SHOWN_ROW(quantity, trade, si) [quantity] = {trade, si},
    SHOWN_LIST(SHOWN_ROW)
#undef SHOWN_ROW
};

static const char *const system_names[] = {[UNITS_TRADE] = "trade", [UNITS_SI] = "si"};

bool unit_system_parse(const char *text, enum unit_system *system)
{
    for (int i = UNITS_TRADE; i <= UNITS_SI; i++) {
        if (strcasecmp(text, system_names[i]) == 0) {
            *system = (enum unit_system)i;
            return true;
        }
    }
    return false;
}

const char *unit_system_name(enum unit_system system)
{
    return system_names[system];
}

enum unit shown_unit(enum quantity quantity, enum unit_system system)
{
    return shown_table[quantity][system];
}

enum unit shown_figure_unit(enum figure_id id, enum unit_system system)
{
    const struct figure_info *info = figure_info(id);
    return system == UNITS_SI ? info->si_unit : info->trade_unit;
}

int shown_decimals(enum unit unit)
{
    switch (unit) {
    case UNIT_NONE:
    case UNIT_FT_LBF_PER_LBF:
        return 3;
    case UNIT_M:
    case UNIT_J_PER_N:
    case UNIT_KG:
    case UNIT_RAD:
        return 4;
    case UNIT_N:
    case UNIT_PERCENT:
    case UNIT_LBF_PER_IN:
    case UNIT_MM:
    case UNIT_MS:
    case UNIT_GR:
    case UNIT_FT_PER_S:
        return 1;
    case UNIT_N_PER_M:
        return 0;
    default:
        return 2;
    }
}

int shown_decimals_for_u(enum unit unit, double u)
{
    if (!(u > 0) || !isfinite(u))
        return shown_decimals(unit);
    int decimals = 1 - (int)floor(log10(u));
    if (round(u * pow(10, decimals)) >= 100)
        decimals--; /* 0.0996 is 0.10 */
    int most = shown_decimals(unit) + 2;
    return decimals < 0 ? 0 : decimals > most ? most : decimals;
}

void shown_value(struct buf *out, enum unit unit, double value_si)
{
    char text[NUMBER_TEXT_MAX];
    buf_text(out, number_fixed(text, unit_from_si(unit, value_si), shown_decimals(unit)));
    buf_printf(out, "%s%s", unit == UNIT_NONE ? "" : " ", unit_name(unit));
}
