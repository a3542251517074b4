#include "verbs/figure_text.h"

#include "base/mem.h"
#include "base/number.h"
#include "verbs/suggest.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum status figure_text_split(const char *text, enum figure_id *figure, const char **rest,
                              struct err *err)
{
    const char *equals = strchr(text, '=');
    if (equals == NULL)
        return err_set(err, STATUS_USAGE, "'%s' has no '='; write FIGURE=...", text);
    char *name = mem_strndup(text, (size_t)(equals - text));
    enum status status = STATUS_OK;
    if (!figure_find(name, figure)) {
        struct suggest suggest = suggest_start(name, strlen(name));
        for (int i = 0; i < FIGURE_COUNT; i++)
            suggest_try(&suggest, figure_info((enum figure_id)i)->name);
        status =
            suggest.best != NULL
                ? err_set(err, STATUS_USAGE, "there is no figure '%s'; is '%s' meant?", name,
                          suggest.best)
                : err_set(err, STATUS_USAGE,
                          "there is no figure '%s'; `pullcurve measure --csv` lists them", name);
    }
    free(name);
    *rest = equals + 1;
    return status;
}

/* One end of a range, as it is written: a number, a unit, both or neither. */
struct end {
    bool has_number, has_unit;
    enum unit unit;
};

static struct end look_at(const char *text)
{
    struct end end = {.unit = UNIT_NONE};
    const char *stop = text + strlen(text);
    while (stop > text && (stop[-1] == ' ' || stop[-1] == '\t'))
        stop--;
    text += strspn(text, " \t");
    if (text >= stop)
        return end;
    double ignored;
    const char *behind = number_scan(text, stop, '.', &ignored);
    const char *unit = behind != NULL ? behind : text;
    unit += strspn(unit, " \t");
    end.has_unit = unit < stop && unit_parse(unit, (size_t)(stop - unit), &end.unit);
    end.has_number = behind != NULL || !end.has_unit; /* nonsense is a number that can't be read */
    return end;
}

/* No bow comes near; larger numbers would only overflow. */
static const double LARGEST_SI = 1e9;

static enum status check_size(const char *text, double value_si, struct err *err)
{
    if (fabs(value_si) <= LARGEST_SI)
        return STATUS_OK;
    return err_set(err, STATUS_USAGE, "'%s' is larger than anything on a bow", text);
}

/* Reads an end; a unit that stands at the other one alone holds here too. */
static enum status parse_end(const char *text, const char *other, enum figure_id figure,
                             const char *what, bool *has, double *value_si, struct err *err)
{
    enum unit assumed = figure_info(figure)->trade_unit;
    struct end end = look_at(text), beyond = look_at(other);
    *has = end.has_number;
    if (!end.has_number && end.has_unit && unit_quantity(end.unit) != unit_quantity(assumed))
        return err_set(err, STATUS_USAGE, "%s: %s is not a unit that fits here", what,
                       unit_name(end.unit));
    if (!end.has_number)
        return STATUS_OK;
    if (beyond.has_unit && unit_quantity(beyond.unit) == unit_quantity(assumed))
        assumed = beyond.unit;
    enum status status =
        number_parse_quantity(text, unit_quantity(assumed), assumed, what, value_si, err);
    return status == STATUS_OK ? check_size(text, *value_si, err) : status;
}

static enum status check_range(const char *text, const struct tolerance *tolerance, struct err *err)
{
    if (!tolerance->has_low && !tolerance->has_high)
        return err_set(err, STATUS_USAGE, "'%s' has neither end", text);
    if (tolerance->has_low && tolerance->has_high && tolerance->low > tolerance->high)
        return err_set(err, STATUS_USAGE, "'%s': the low end is above the high end", text);
    if (tolerance->has_low && tolerance->has_high && !(tolerance->low < tolerance->high))
        return err_set(err, STATUS_USAGE,
                       "'%s' leaves no room between its ends; nothing can be proven to meet it",
                       text);
    return STATUS_OK;
}

enum status figure_text_range(const char *text, enum figure_id figure, struct tolerance *tolerance,
                              struct err *err)
{
    const char *colon = strchr(text, ':');
    *tolerance = (struct tolerance){0};
    if (colon == NULL)
        return err_set(err, STATUS_USAGE,
                       "'%s' is no range; write LOW:HIGH, with one side left empty where there is "
                       "no limit",
                       text);
    char *low = mem_strndup(text, (size_t)(colon - text));
    const char *high = colon + 1;
    enum status status =
        parse_end(low, high, figure, "the low end", &tolerance->has_low, &tolerance->low, err);
    if (status == STATUS_OK)
        status = parse_end(high, low, figure, "the high end", &tolerance->has_high,
                           &tolerance->high, err);
    if (status == STATUS_OK)
        status = check_range(text, tolerance, err);
    free(low);
    return status;
}

enum status figure_text_amount(const char *text, enum figure_id figure, double *value_si,
                               struct err *err)
{
    enum unit trade = figure_info(figure)->trade_unit;
    enum status status =
        number_parse_quantity(text, unit_quantity(trade), trade, "the amount", value_si, err);
    if (status == STATUS_OK && !(*value_si > 0))
        return err_set(err, STATUS_USAGE, "'%s' is not above 0", text);
    return status == STATUS_OK ? check_size(text, *value_si, err) : status;
}
