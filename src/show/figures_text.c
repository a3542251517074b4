#include "show/figures_text.h"

#include "base/number.h"
#include "show/wrap.h"

#include <math.h>
#include <string.h>

enum { PULLS_SHOWN_MAX = 4, LABEL_COLUMNS = 26, NUMBER_COLUMNS = 12 };

/* Adds a number so that the marks of a column stand under each other: NUMBER_COLUMNS wide, the mark
 * always at the same place. */
static void add_number(struct buf *out, bool present, double value, int decimals)
{
    enum { BEFORE_MARK = 5 };
    char text[NUMBER_TEXT_MAX] = "-";
    if (present)
        (void)number_fixed(text, value, decimals);
    int before = (int)strcspn(text, "."), all = (int)strlen(text);
    int left = before < BEFORE_MARK ? BEFORE_MARK - before : 0;
    int right = NUMBER_COLUMNS - left - all;
    buf_printf(out, "%*s%s%*s", left, "", text, right > 0 ? right : 0, "");
}

/* An uncertainty that is smaller than the last digit shown is shown as one of it, never as 0. */
static double shown_up(double u, int decimals)
{
    double last = pow(10, -decimals);
    return u > 0 && u < last ? last : u;
}

static void end_line(struct buf *out)
{
    while (out->length > 0 && out->text[out->length - 1] == ' ')
        out->length--;
    buf_char(out, '\n');
}

static void add_row(struct buf *out, const struct measurement *measurement, enum figure_id id,
                    enum unit_system units, size_t n_shown)
{
    const struct figure *figure = &measurement->figures.f[id];
    enum unit unit = shown_figure_unit(id, units);
    bool has_u = figure->present && figure->has_u;
    double u = has_u ? unit_from_si(unit, figure->u_si) : 0;
    int decimals = shown_decimals_for_u(unit, u);
    buf_printf(out, "%-*s", LABEL_COLUMNS, figure_info(id)->label);
    add_number(out, figure->present, unit_from_si(unit, figure->value_si), decimals);
    add_number(out, has_u, shown_up(u, decimals), decimals);
    buf_printf(out, " %-10s", unit_name(unit));
    for (size_t i = 0; i < n_shown; i++) {
        const struct figure *one = &measurement->pulls[i].figures.f[id];
        add_number(out, one->present, unit_from_si(unit, one->value_si), decimals);
    }
    end_line(out);
}

void figures_text(struct buf *out, const struct measurement *measurement, enum unit_system units)
{
    size_t n = measurement->n_pulls;
    size_t n_shown = n < 2 ? 0 : n < PULLS_SHOWN_MAX ? n : PULLS_SHOWN_MAX;
    buf_printf(out, "%-*s%8s    %8s     %-10s", LABEL_COLUMNS, "", n < 2 ? "value" : "mean", "u",
               "unit");
    for (size_t i = 0; i < n_shown; i++)
        buf_printf(out, "   pull %-2zu  ", i + 1);
    end_line(out);
    for (int i = 0; i < FIGURE_COUNT; i++)
        add_row(out, measurement, (enum figure_id)i, units, n_shown);
}

/* Sources that give less than this share of the largest are not worth a word. */
static const double worth_saying = 0.01;

/* The source that gives the most after those that are done; -1 where none is worth saying. */
static int next_source(const struct budget *budget, enum figure_id id, const bool *done)
{
    int largest = -1;
    double most = 0;
    for (int s = 0; s < SOURCE_COUNT; s++) {
        most = fmax(most, budget->u_si[s][id]);
        if (!done[s] && budget->u_si[s][id] > 0 &&
            (largest < 0 || budget->u_si[s][id] > budget->u_si[largest][id]))
            largest = s;
    }
    return largest >= 0 && budget->u_si[largest][id] >= worth_saying * most ? largest : -1;
}

static void add_budget_line(struct buf *out, const struct budget *budget, enum figure_id id,
                            enum unit unit)
{
    bool done[SOURCE_COUNT] = {false};
    struct buf line = {0};
    for (int s; (s = next_source(budget, id, done)) >= 0; done[s] = true) {
        double u = unit_from_si(unit, budget->u_si[s][id]);
        int decimals = shown_decimals_for_u(unit, u);
        char text[NUMBER_TEXT_MAX];
        buf_printf(&line, "%s%s %s", line.length > 0 ? ", " : "", source_label((enum source)s),
                   number_fixed(text, shown_up(u, decimals), decimals));
    }
    buf_printf(out, "%-*s", LABEL_COLUMNS, figure_info(id)->label);
    if (line.length > 0 && unit != UNIT_NONE)
        buf_printf(&line, " %s", unit_name(unit));
    wrap_text(out, line.length > 0 ? buf_string(&line) : "-", LABEL_COLUMNS);
    buf_clear(&line);
}

void budget_text(struct buf *out, const struct measurement *measurement, enum unit_system units)
{
    for (int i = 0; i < FIGURE_COUNT; i++) {
        enum figure_id id = (enum figure_id)i;
        if (measurement->figures.f[id].present)
            add_budget_line(out, &measurement->budget, id, shown_figure_unit(id, units));
    }
}

void warning_text(struct buf *out, const struct warning *warning, enum unit_system units)
{
    const struct warning_info *info = warning_info(warning->code);
    enum unit unit = shown_unit(info->quantity, units);
    size_t n_values = sizeof warning->value_si / sizeof warning->value_si[0], next = 0;
    for (const char *at = info->text; *at != '\0';) {
        if (strncmp(at, "{}", 2) == 0 && next < n_values) {
            shown_value(out, unit, warning->value_si[next++]);
            at += 2;
        } else if (strncmp(at, "{n}", 3) == 0) {
            buf_printf(out, "%zu", warning->count);
            at += 3;
        } else {
            buf_char(out, *at++);
        }
    }
}

void warnings_text(struct buf *out, const struct warnings *warnings, enum unit_system units)
{
    for (size_t i = 0; i < warnings->n; i++) {
        struct buf text = {0};
        warning_text(&text, &warnings->w[i], units);
        buf_text(out, "* ");
        wrap_text(out, buf_string(&text), 2);
        buf_clear(&text);
    }
}
