#include "verbs/figure_text.h"

#include "base/mem.h"
#include "base/number.h"
#include "verbs/suggest.h"

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

static bool is_blank(const char *text)
{
    return text[strspn(text, " \t")] == '\0';
}

/* The unit that stands behind the number in text, else `absent`. */
static enum unit unit_behind(const char *text, enum unit absent)
{
    const char *end = text + strlen(text);
    double ignored;
    text += strspn(text, " \t");
    const char *stop = number_scan(text, end, '.', &ignored);
    enum unit unit = absent;
    if (stop == NULL)
        return absent;
    stop += strspn(stop, " \t");
    while (end > stop && (end[-1] == ' ' || end[-1] == '\t'))
        end--;
    (void)unit_parse(stop, (size_t)(end - stop), &unit);
    return unit;
}

static enum status parse_end(const char *text, enum figure_id figure, enum unit assumed,
                             const char *what, bool *has, double *value_si, struct err *err)
{
    enum quantity quantity = unit_quantity(figure_info(figure)->trade_unit);
    *has = !is_blank(text);
    if (unit_quantity(assumed) != quantity)
        assumed = figure_info(figure)->trade_unit; /* the other end's fault is told there */
    return *has ? number_parse_quantity(text, quantity, assumed, what, value_si, err) : STATUS_OK;
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
    enum unit trade = figure_info(figure)->trade_unit;
    *tolerance = (struct tolerance){0};
    if (colon == NULL)
        return err_set(err, STATUS_USAGE,
                       "'%s' is no range; write LOW:HIGH, with one side left empty where there is "
                       "no limit",
                       text);
    char *low = mem_strndup(text, (size_t)(colon - text));
    const char *high = colon + 1;
    enum status status = parse_end(low, figure, unit_behind(high, trade), "the low end",
                                   &tolerance->has_low, &tolerance->low, err);
    if (status == STATUS_OK)
        status = parse_end(high, figure, unit_behind(low, trade), "the high end",
                           &tolerance->has_high, &tolerance->high, err);
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
    return status;
}
