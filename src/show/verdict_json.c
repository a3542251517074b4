#include "show/figures_json.h"
#include "show/json.h"
#include "show/verdict.h"

#include <math.h>

static json_t *reason_json(enum spec_reason reason)
{
    if (reason == SPEC_REASON_NONE)
        return json_null();
    json_t *object = json_object();
    json_put(object, "code", json_text(spec_reason_name(reason)));
    json_put(object, "text", json_text(spec_reason_text(reason)));
    return object;
}

/* Ends that are infinite, or no acceptance at all, are null. */
static json_t *acceptance_json(const struct spec_verdict *verdict, enum unit unit)
{
    const struct acceptance *acceptance = &verdict->acceptance;
    if (!verdict->has_acceptance || !acceptance->possible)
        return json_null();
    json_t *object = json_object();
    json_put(object, "low", json_number_or_null(true, unit_from_si(unit, acceptance->low)));
    json_put(object, "high", json_number_or_null(true, unit_from_si(unit, acceptance->high)));
    return object;
}

static json_t *limit_json(const struct verdict_page *page, const struct spec_verdict *verdict)
{
    const struct spec_limit *limit = &verdict->limit;
    const struct tolerance *tolerance = &limit->tolerance;
    const struct figure *figure = &verdict->figure;
    enum unit unit = shown_figure_unit(limit->figure, page->units);
    bool has_u = figure->present && figure->has_u;
    json_t *object = json_object();
    json_put(object, "figure", json_text(figure_info(limit->figure)->name));
    json_put(object, "origin", json_text(spec_origin_name(limit->origin)));
    json_put(object, "rule",
             limit->origin == SPEC_RULE ? json_integer((json_int_t)limit->rule) : json_null());
    json_put(object, "unit", json_text(unit_name(unit)));
    json_put(object, "low",
             json_number_or_null(tolerance->has_low, unit_from_si(unit, tolerance->low)));
    json_put(object, "high",
             json_number_or_null(tolerance->has_high, unit_from_si(unit, tolerance->high)));
    json_put(object, "value",
             json_number_or_null(figure->present, unit_from_si(unit, figure->value_si)));
    json_put(object, "u", json_number_or_null(has_u, unit_from_si(unit, figure->u_si)));
    json_put(object, "measured", figure_json(figure, unit));
    json_put(object, "probability",
             json_number_or_null(verdict->has_probability, verdict->probability));
    json_put(object, "dof", json_number_or_null(verdict->has_probability, verdict->dof));
    json_put(object, "acceptance", acceptance_json(verdict, unit));
    json_put(object, "verdict", json_text(verdict_name(verdict->verdict)));
    json_put(object, "reason", reason_json(verdict->reason));
    return object;
}

static json_t *bow_json(const struct verdict_page *page)
{
    if (page->bow_name == NULL)
        return json_null();
    json_t *object = json_object();
    json_put(object, "key", json_text(page->bow_key));
    json_put(object, "name", json_text(page->bow_name));
    json_put(object, "statement", json_integer(page->bow_statement));
    json_put(object, "made_at", json_text(page->bow_made_at));
    return object;
}

static json_t *rule_json(const struct verdict_rule *rule)
{
    json_t *object = json_object();
    json_put(object, "file", json_text(rule->file));
    json_put(object, "name", json_text(rule->name));
    json_put(object, "source", json_text(rule->source));
    json_put(object, "status", rule->status != NULL ? json_text(rule->status) : json_null());
    json_put(object, "date", json_text(rule->date));
    json_put(object, "note", json_text("Rules change: check the current rule book."));
    return object;
}

static json_t *nominal_json(const struct verdict_page *page, const struct verdict_nominal *nominal)
{
    const struct figure *figure = &page->subject->figures.f[nominal->figure];
    enum unit unit = shown_figure_unit(nominal->figure, page->units);
    json_t *object = json_object();
    json_put(object, "figure", json_text(figure_info(nominal->figure)->name));
    json_put(object, "unit", json_text(unit_name(unit)));
    json_put(object, "nominal", json_real(unit_from_si(unit, nominal->value_si)));
    json_put(object, "value",
             json_number_or_null(figure->present, unit_from_si(unit, figure->value_si)));
    json_put(object, "reason", json_text("no_tolerance"));
    return object;
}

void verdict_json(json_t *root, const struct verdict_page *page)
{
    json_t *rules = json_array(), *limits = json_array(), *not_judged = json_array();
    for (size_t i = 0; i < page->n_rules; i++)
        json_add(rules, rule_json(&page->rules[i]));
    for (size_t i = 0; i < page->n; i++)
        json_add(limits, limit_json(page, &page->verdicts[i]));
    for (size_t i = 0; i < page->n_nominals; i++)
        json_add(not_judged, nominal_json(page, &page->nominals[i]));
    json_put(root, "bow", bow_json(page));
    json_put(root, "rules", rules);
    json_put(root, "limits", limits);
    json_put(root, "not_judged", not_judged);
    json_put(root, "verdict", json_text(verdict_name(spec_overall(page->verdicts, page->n))));
    json_put(root, "warnings", warnings_json(page->warnings, page->units));
}
