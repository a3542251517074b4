#include "base/units.h"

#include <string.h>
#include <strings.h>

static const struct {
    const char *name;
    enum quantity quantity;
    double factor;
} unit_table[UNIT_COUNT] = {
#define UNIT_ROW(id, name, quantity, factor) {name, quantity, factor},
    UNIT_LIST(UNIT_ROW)
#undef UNIT_ROW
};

double unit_to_si(enum unit unit, double value)
{
    return value * unit_table[unit].factor;
}

double unit_from_si(enum unit unit, double value_si)
{
    return value_si / unit_table[unit].factor;
}

const char *unit_name(enum unit unit)
{
    return unit_table[unit].name;
}

enum quantity unit_quantity(enum unit unit)
{
    return unit_table[unit].quantity;
}

bool unit_parse(const char *name, size_t length, enum unit *unit)
{
    for (int i = UNIT_NONE + 1; i < UNIT_COUNT; i++) {
        if (strlen(unit_table[i].name) == length &&
            strncasecmp(unit_table[i].name, name, length) == 0) {
            *unit = (enum unit)i;
            return true;
        }
    }
    return false;
}
