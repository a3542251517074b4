#include "show/figures_json.h"

#include "show/corrections.h"
#include "show/figures_text.h"
#include "show/json.h"

json_t *figure_json(const struct figure *figure, enum unit unit)
{
    bool present = figure->present, has_u = present && figure->has_u;
    json_t *object = json_object();
    json_put(object, "value", json_number_or_null(present, unit_from_si(unit, figure->value_si)));
    json_put(object, "unit", json_text(unit_name(unit)));
    json_put(object, "u", json_number_or_null(has_u, unit_from_si(unit, figure->u_si)));
    json_put(object, "low", json_number_or_null(has_u, unit_from_si(unit, figure->low_si)));
    json_put(object, "high", json_number_or_null(has_u, unit_from_si(unit, figure->high_si)));
    return object;
}

json_t *figures_json(const struct figures *figures, enum unit_system units)
{
    json_t *object = json_object();
    for (int i = 0; i < FIGURE_COUNT; i++) {
        enum figure_id id = (enum figure_id)i;
        json_put(object, figure_info(id)->name,
                 figure_json(&figures->f[id], shown_figure_unit(id, units)));
    }
    return object;
}

json_t *warnings_json(const struct warnings *warnings, enum unit_system units)
{
    json_t *array = json_array();
    for (size_t i = 0; i < warnings->n; i++) {
        struct buf text = {0};
        warning_text(&text, &warnings->w[i], units);
        json_t *object = json_object();
        json_put(object, "code", json_text(warning_info(warnings->w[i].code)->name));
        json_put(object, "text", json_text(buf_string(&text)));
        json_add(array, object);
        buf_clear(&text);
    }
    return array;
}

static json_t *quantity_json(bool has, enum unit unit, double value_si)
{
    json_t *object = json_object();
    json_put(object, "value", json_number_or_null(has, unit_from_si(unit, value_si)));
    json_put(object, "unit", json_text(unit_name(unit)));
    return object;
}

static json_t *lag_json(const struct measure_settings *settings, const struct lag *lag,
                        enum unit_system units)
{
    enum unit unit = shown_unit(QUANTITY_TIME, units);
    json_t *object = quantity_json(lag->known, unit, lag->lag_s);
    json_put(object, "u", json_number_or_null(lag->known, unit_from_si(unit, lag->u_lag_s)));
    json_put(object, "rule", json_text(lag_rule_name(settings->lag)));
    json_put(object, "corrected", json_boolean(lag->significant));
    return object;
}

json_t *settings_json(const struct measure_settings *settings,
                      const struct measurement *measurement, enum unit_system units)
{
    enum unit length = shown_unit(QUANTITY_LENGTH, units);
    enum unit force = shown_unit(QUANTITY_FORCE, units);
    json_t *object = json_object();
    json_put(object, "units", json_text(unit_system_name(units)));
    json_put(object, "full_draw_rule", json_text(full_draw_rule_name(measurement->full_draw)));
    json_put(object, "full_draw_stated",
             quantity_json(settings->full_draw == FULL_DRAW_STATED, length, settings->full_draw_m));
    json_put(object, "brace_height_stated",
             quantity_json(settings->has_brace, length, settings->brace_m));
    json_put(object, "valley_band", quantity_json(true, force, settings->valley_band_n));
    json_put(object, "plateau_share", json_real(settings->plateau_share));
    json_put(object, "smooth", json_boolean(settings->smooth));
    json_put(object, "lag", lag_json(settings, &measurement->lag, units));
    json_put(object, "corrections", corrections_json(&settings->fixture, units));
    json_put(object, "u_brace_height",
             quantity_json(true, length, settings->uncertainty.u_datum_m));
    json_put(object, "trials", json_integer((json_int_t)settings->uncertainty.trials));
    json_put(object, "seed", json_integer((json_int_t)settings->uncertainty.seed));
    return object;
}
