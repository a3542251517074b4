#include "show/figures_csv.h"

#include "base/number.h"
#include "show/escape.h"

#include <math.h>

static void add_cell(struct buf *out, bool has, double value)
{
    char text[NUMBER_TEXT_MAX];
    buf_printf(out, ",%s", has && isfinite(value) ? number_exact(text, value) : "");
}

static void add_row(struct buf *out, const struct measurement *measurement, enum figure_id id,
                    enum unit unit)
{
    const struct figure *figure = &measurement->figures.f[id];
    bool has_u = figure->present && figure->has_u;
    escape_csv(out, figure_info(id)->name);
    add_cell(out, figure->present, unit_from_si(unit, figure->value_si));
    buf_char(out, ',');
    escape_csv(out, unit_name(unit));
    add_cell(out, has_u, unit_from_si(unit, figure->u_si));
    add_cell(out, has_u, unit_from_si(unit, figure->low_si));
    add_cell(out, has_u, unit_from_si(unit, figure->high_si));
    for (size_t i = 0; measurement->n_pulls > 1 && i < measurement->n_pulls; i++) {
        const struct figure *one = &measurement->pulls[i].figures.f[id];
        add_cell(out, one->present, unit_from_si(unit, one->value_si));
    }
    buf_char(out, '\n');
}

void figures_csv(struct buf *out, const struct measurement *measurement, enum unit_system units)
{
    buf_text(out, "figure,value,unit,u,low,high");
    for (size_t i = 0; measurement->n_pulls > 1 && i < measurement->n_pulls; i++)
        buf_printf(out, ",pull_%zu", i + 1);
    buf_char(out, '\n');
    for (int i = 0; i < FIGURE_COUNT; i++) {
        enum figure_id id = (enum figure_id)i;
        add_row(out, measurement, id, shown_figure_unit(id, units));
    }
}
