#include "show/verdict.h"

#include "base/number.h"
#include "show/escape.h"
#include "show/figures_text.h"
#include "show/wrap.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LABEL_COLUMNS = 26, DETAIL_INDENT = 6 };

/* --- one row -------------------------------------------------------------------------------- */

/* As it was stated, near enough: up to three decimals without the zeros behind. */
static void add_limit_number(struct buf *out, enum unit unit, double value_si)
{
    char text[NUMBER_TEXT_MAX];
    (void)number_fixed(text, unit_from_si(unit, value_si), unit == UNIT_M ? 5 : 3);
    if (strchr(text, '.') != NULL) {
        size_t length = strlen(text);
        while (text[length - 1] == '0')
            length--;
        length -= text[length - 1] == '.';
        text[length] = '\0';
    }
    buf_text(out, text);
}

static void add_unit(struct buf *out, enum unit unit)
{
    buf_printf(out, "%s%s", unit == UNIT_NONE ? "" : " ", unit_name(unit));
}

/* "at most 60 lbf", "26 to 30 in". */
static void add_tolerance(struct buf *out, const struct tolerance *tolerance, enum unit unit)
{
    if (!tolerance->has_low || !tolerance->has_high)
        buf_text(out, tolerance->has_low ? "at least " : "at most ");
    if (tolerance->has_low)
        add_limit_number(out, unit, tolerance->low);
    if (tolerance->has_low && tolerance->has_high)
        buf_text(out, " to ");
    if (tolerance->has_high)
        add_limit_number(out, unit, tolerance->high);
    add_unit(out, unit);
}

static void add_probability(struct buf *out, const struct spec_verdict *verdict)
{
    char text[NUMBER_TEXT_MAX];
    double percent = 100 * verdict->probability;
    if (!verdict->has_probability)
        buf_char(out, '-');
    else if (percent > 99.9)
        buf_text(out, ">99.9 %");
    else if (percent < 0.1)
        buf_text(out, "<0.1 %");
    else
        buf_printf(out, "%s %%", number_fixed(text, percent, 1));
}

static const char *verdict_word(enum verdict verdict)
{
    static const char *const words[] = {
        [VERDICT_MEETS] = "meets", [VERDICT_FAILS] = "FAILS", [VERDICT_NOT_PROVEN] = "not proven"};
    return words[verdict];
}

/* A number with as many digits as its uncertainty allows. */
static void add_value(struct buf *out, bool has, double value, int decimals)
{
    char text[NUMBER_TEXT_MAX];
    buf_text(out, has ? number_fixed(text, value, decimals) : "-");
}

enum column {
    COLUMN_LABEL,
    COLUMN_VALUE,
    COLUMN_U,
    COLUMN_LIMIT,
    COLUMN_P,
    COLUMN_VERDICT,
    N_COLUMNS
};

struct row {
    struct buf cell[N_COLUMNS];
};

static struct row heading(void)
{
    static const char *const texts[N_COLUMNS] = {"", "measured", "u", "limit", "p", "verdict"};
    struct row row = {0};
    for (size_t i = 0; i < N_COLUMNS; i++)
        buf_text(&row.cell[i], texts[i]);
    return row;
}

static struct row make_row(const struct spec_verdict *verdict, enum unit_system units)
{
    struct row row = {0};
    const struct figure *figure = &verdict->figure;
    enum figure_id id = verdict->limit.figure;
    enum unit unit = shown_figure_unit(id, units);
    bool has_u = figure->present && figure->has_u;
    double u = has_u ? unit_from_si(unit, figure->u_si) : 0;
    int decimals = shown_decimals_for_u(unit, u);
    buf_printf(&row.cell[COLUMN_LABEL], "  %s", figure_info(id)->label);
    add_value(&row.cell[COLUMN_VALUE], figure->present, unit_from_si(unit, figure->value_si),
              decimals);
    add_value(&row.cell[COLUMN_U], has_u, u > 0 ? fmax(u, pow(10, -decimals)) : u, decimals);
    add_tolerance(&row.cell[COLUMN_LIMIT], &verdict->limit.tolerance, unit);
    add_probability(&row.cell[COLUMN_P], verdict);
    buf_text(&row.cell[COLUMN_VERDICT], verdict_word(verdict->verdict));
    return row;
}

static void row_clear(struct row *row)
{
    for (size_t i = 0; i < N_COLUMNS; i++)
        buf_clear(&row->cell[i]);
}

static void widen(size_t width[N_COLUMNS], struct row row)
{
    for (size_t i = 0; i < N_COLUMNS; i++)
        if (row.cell[i].length > width[i])
            width[i] = row.cell[i].length;
    row_clear(&row);
}

static void add_row(struct buf *out, const size_t width[N_COLUMNS], struct row row)
{
    for (size_t i = 0; i < N_COLUMNS; i++) {
        bool number = i == COLUMN_VALUE || i == COLUMN_U || i == COLUMN_P;
        const char *text = buf_string(&row.cell[i]);
        int pad = (int)(width[i] - row.cell[i].length);
        if (i > 0)
            buf_text(out, i == COLUMN_U ? " " : "  ");
        buf_printf(out, "%*s%s", number ? pad : 0, "", text);
        if (!number && i + 1 < N_COLUMNS)
            buf_printf(out, "%*s", pad, "");
    }
    buf_char(out, '\n');
    row_clear(&row);
}

/* --- what stands below a row ---------------------------------------------------------------- */

static void add_wrapped(struct buf *out, const struct buf *text, size_t indent)
{
    buf_printf(out, "%*s", (int)indent, "");
    wrap_text(out, buf_string(text), indent);
}

/* "Proven between 57.5 and 59.51 lbf.": where a value with this uncertainty would do. */
static void add_acceptance(struct buf *out, const struct spec_verdict *verdict, enum unit unit)
{
    const struct acceptance *acceptance = &verdict->acceptance;
    char text[NUMBER_TEXT_MAX];
    int decimals = shown_decimals_for_u(unit, unit_from_si(unit, verdict->figure.u_si));
    buf_text(out, " With this uncertainty it would be proven to meet it at ");
    if (!isfinite(acceptance->low) || !isfinite(acceptance->high))
        buf_text(out, isfinite(acceptance->low) ? "no less than " : "no more than ");
    if (isfinite(acceptance->low))
        buf_text(out, number_fixed(text, unit_from_si(unit, acceptance->low), decimals));
    if (isfinite(acceptance->low) && isfinite(acceptance->high))
        buf_text(out, " to ");
    if (isfinite(acceptance->high))
        buf_text(out, number_fixed(text, unit_from_si(unit, acceptance->high), decimals));
    add_unit(out, unit);
    buf_char(out, '.');
}

static void add_reason(struct buf *out, const struct spec_verdict *verdict, enum unit_system units)
{
    struct buf text = {0};
    if (verdict->reason == SPEC_REASON_NONE)
        return;
    buf_text(&text, spec_reason_text(verdict->reason));
    if (verdict->verdict != VERDICT_NOT_PROVEN)
        buf_text(&text, " The number alone was compared.");
    if (verdict->reason == SPEC_REASON_UNCERTAINTY)
        add_acceptance(&text, verdict, shown_figure_unit(verdict->limit.figure, units));
    add_wrapped(out, &text, DETAIL_INDENT);
    buf_clear(&text);
}

/* --- where limits come from ----------------------------------------------------------------- */

static void add_maker(struct buf *out, const struct verdict_page *page)
{
    buf_text(out, "Maker's limits of ");
    escape_terminal(out, page->bow_name);
    buf_printf(out, " (statement %" PRId64 ", %.10s)\n", page->bow_statement, page->bow_made_at);
}

static void add_rule(struct buf *out, const struct verdict_rule *rule)
{
    struct buf text = {0};
    buf_text(&text, "Rule: ");
    escape_terminal(&text, rule->name);
    wrap_text(out, buf_string(&text), 0);
    buf_clear(&text);
    escape_terminal(&text, rule->source);
    if (rule->status != NULL) {
        buf_text(&text, " (");
        escape_terminal(&text, rule->status);
        buf_char(&text, ')');
    }
    buf_text(&text, "; as of ");
    escape_terminal(&text, rule->date);
    buf_char(&text, '.');
    add_wrapped(out, &text, 2);
    buf_text(out, "  Rules change: check the current rule book.\n");
    buf_clear(&text);
}

static bool is_of(const struct spec_verdict *verdict, enum spec_origin origin, size_t rule)
{
    return verdict->limit.origin == origin && (origin != SPEC_RULE || verdict->limit.rule == rule);
}

/* The limits of one origin, below what says so. */
static void add_group(struct buf *out, const struct verdict_page *page,
                      const size_t width[N_COLUMNS], enum spec_origin origin, size_t rule)
{
    bool begun = false;
    for (size_t i = 0; i < page->n; i++) {
        const struct spec_verdict *verdict = &page->verdicts[i];
        if (!is_of(verdict, origin, rule))
            continue;
        if (!begun && origin == SPEC_MAKER)
            add_maker(out, page);
        else if (!begun && origin == SPEC_RULE)
            add_rule(out, &page->rules[rule]);
        else if (!begun)
            buf_text(out, "Limits as asked for\n");
        begun = true;
        add_row(out, width, make_row(verdict, page->units));
        add_reason(out, verdict, page->units);
    }
}

static void add_nominals(struct buf *out, const struct verdict_page *page)
{
    struct buf text = {0};
    if (page->n_nominals == 0)
        return;
    buf_text(&text, "Not judged, since the bow's entry has one number and no tolerance for it "
                    "(--tolerance gives one): ");
    for (size_t i = 0; i < page->n_nominals; i++) {
        const struct verdict_nominal *nominal = &page->nominals[i];
        const struct figure *figure = &page->subject->figures.f[nominal->figure];
        enum unit unit = shown_figure_unit(nominal->figure, page->units);
        buf_printf(&text, "%s%s ", i > 0 ? ", " : "", figure_info(nominal->figure)->name);
        add_limit_number(&text, unit, nominal->value_si);
        add_unit(&text, unit);
        if (figure->present) {
            buf_text(&text, ", here ");
            shown_value(&text, unit, figure->value_si);
        }
    }
    buf_char(&text, '.');
    add_wrapped(out, &text, 0);
    buf_clear(&text);
}

/* --- the whole ------------------------------------------------------------------------------ */

static void add_rule_of_decision(struct buf *out, const struct conformity_settings *decision)
{
    struct buf text = {0};
    char percent[NUMBER_TEXT_MAX];
    if (decision->rule == CONFORMITY_GUARDED)
        buf_printf(&text,
                   "Guarded decision: a limit is met, or broken, only where that has a probability "
                   "of %s %% or more; p is that of meeting it.",
                   number_exact(percent, round(1e8 * decision->probability) / 1e6));
    else
        buf_text(&text, "Simple acceptance: the measured number decides alone, whatever its "
                        "uncertainty; p is the probability that the limit is met.");
    add_wrapped(out, &text, 0);
    buf_clear(&text);
}

static size_t count(const struct verdict_page *page, enum verdict verdict)
{
    size_t n = 0;
    for (size_t i = 0; i < page->n; i++)
        n += page->verdicts[i].verdict == verdict;
    return n;
}

static void add_overall(struct buf *out, const struct verdict_page *page)
{
    struct buf text = {0};
    size_t n = page->n, fails = count(page, VERDICT_FAILS), open = count(page, VERDICT_NOT_PROVEN);
    const char *s = n == 1 ? "" : "s";
    switch (spec_overall(page->verdicts, page->n)) {
    case VERDICT_MEETS:
        buf_printf(&text, "MEETS its spec: %zu limit%s of %zu met.", n, s, n);
        break;
    case VERDICT_FAILS:
        buf_printf(&text, "DOES NOT MEET its spec: %zu limit%s of %zu broken", fails,
                   fails == 1 ? "" : "s", n);
        if (open > 0)
            buf_printf(&text, ", %zu not proven either way", open);
        buf_char(&text, '.');
        break;
    case VERDICT_NOT_PROVEN:
        buf_printf(&text,
                   "NOT PROVEN: no limit is broken for certain, but %zu of %zu can be proven "
                   "neither way.",
                   open, n);
        break;
    }
    add_wrapped(out, &text, 0);
    buf_clear(&text);
}

#define SAFETY_TEXT                                                                               \
    "What is safe is decided by the maker's limits, not by a verdict here. A bow outside of its " \
    "spec goes to its maker or a qualified technician before it is drawn or shot again."

void verdict_text(struct buf *out, const struct verdict_page *page)
{
    size_t width[N_COLUMNS] = {LABEL_COLUMNS};
    widen(width, heading());
    for (size_t i = 0; i < page->n; i++)
        widen(width, make_row(&page->verdicts[i], page->units));
    add_rule_of_decision(out, page->decision);
    buf_char(out, '\n');
    add_row(out, width, heading());
    add_group(out, page, width, SPEC_MAKER, 0);
    add_group(out, page, width, SPEC_STATED, 0);
    for (size_t i = 0; i < page->n_rules; i++)
        add_group(out, page, width, SPEC_RULE, i);
    add_nominals(out, page);
    buf_char(out, '\n');
    add_overall(out, page);
    wrap_text(out, SAFETY_TEXT, 0);
    if (page->warnings->n > 0)
        buf_char(out, '\n');
    warnings_text(out, page->warnings, page->units);
}
