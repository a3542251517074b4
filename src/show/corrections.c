#include "show/corrections.h"

#include "base/number.h"
#include "show/json.h"
#include "show/wrap.h"

#include <math.h>

/* The give is said as a length at a force that a bow has. */
static const struct {
    enum unit length, force;
    const char *name; /* of the quotient */
    double at_force;
    int decimals;
} give_table[] = {
    [UNITS_TRADE] = {UNIT_IN, UNIT_LBF, "in/lbf", 100, 4},
    [UNITS_SI] = {UNIT_MM, UNIT_N, "mm/N", 500, 3},
};

static void add_part(struct buf *out, const char *part)
{
    buf_printf(out, "%s%s", out->length > 0 ? ", " : "Corrected for: ", part);
}

static void add_value(struct buf *out, const char *name, enum unit unit, double value_si)
{
    add_part(out, name);
    buf_char(out, ' ');
    shown_value(out, unit, value_si);
}

static void add_give(struct buf *out, double give_m_per_n, enum unit_system units)
{
    char number[NUMBER_TEXT_MAX];
    enum unit length = give_table[units].length, force = give_table[units].force;
    double at = give_table[units].at_force;
    double give = unit_from_si(length, give_m_per_n * unit_to_si(force, at));
    add_part(out, "give ");
    buf_printf(out, "%s %s at ", number_fixed(number, give, give_table[units].decimals),
               unit_name(length));
    buf_printf(out, "%s %s", number_fixed(number, at, 0), unit_name(force));
}

void corrections_text(struct buf *out, const struct fixture *fixture, enum unit_system units)
{
    struct buf line = {0};
    if (fabs(fixture->give_m_per_n) > 0)
        add_give(&line, fixture->give_m_per_n, units);
    if (fabs(fixture->angle_rad) > 0)
        add_value(&line, "pull angle", UNIT_DEG, fixture->angle_rad);
    if (fabs(fixture->hook_n) > 0)
        add_value(&line, "hook", shown_unit(QUANTITY_FORCE, units), fixture->hook_n);
    if (fixture->tare)
        add_part(&line, "tare");
    if (fixture->drift)
        add_part(&line, "drift");
    if (line.length > 0)
        wrap_text(out, buf_string(&line), 0);
    buf_clear(&line);
}

static json_t *value_json(double value, double u, const char *unit)
{
    if (!(fabs(value) > 0))
        return json_null();
    json_t *object = json_object();
    json_put(object, "value", json_real(value));
    json_put(object, "u", json_real(u));
    json_put(object, "unit", json_text(unit));
    return object;
}

static json_t *quantity_json(double value_si, double u_si, enum unit unit)
{
    return value_json(unit_from_si(unit, value_si), unit_from_si(unit, u_si), unit_name(unit));
}

json_t *corrections_json(const struct fixture *fixture, enum unit_system units)
{
    double give_si =
        unit_to_si(give_table[units].length, 1) / unit_to_si(give_table[units].force, 1);
    json_t *object = json_object();
    json_put(object, "give",
             value_json(fixture->give_m_per_n / give_si, fixture->u_give_m_per_n / give_si,
                        give_table[units].name));
    json_put(object, "angle", quantity_json(fixture->angle_rad, fixture->u_angle_rad, UNIT_DEG));
    json_put(object, "hook",
             quantity_json(fixture->hook_n, fixture->u_hook_n, shown_unit(QUANTITY_FORCE, units)));
    json_put(object, "tare", json_boolean(fixture->tare));
    json_put(object, "drift", json_boolean(fixture->drift));
    return object;
}
