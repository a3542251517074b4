#include "show/calibration_record.h"

#include "base/number.h"
#include "show/escape.h"
#include "show/wrap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* How the page writes its numbers: unit, and digits that leave the residual sd two. */
struct style {
    enum unit unit;
    int decimals;
};

static struct style style_of(const struct calibration_record *record)
{
    enum unit unit = shown_unit(record->calibration->quantity, record->units);
    double sd = unit_from_si(unit, record->calibration->residual_sd_si);
    int decimals = shown_decimals_for_u(unit, sd);
    int least = shown_decimals(unit);
    return (struct style){.unit = unit, .decimals = decimals > least ? decimals : least};
}

/* A text right-aligned in a column. */
static void add_cell(struct buf *out, int width, const char *text)
{
    buf_printf(out, " %*s", width - 1, text);
}

static void add_number(struct buf *out, int width, double value, int decimals)
{
    char text[NUMBER_TEXT_MAX];
    add_cell(out, width, number_fixed(text, value, decimals));
}

static void add_value(struct buf *out, int width, struct style style, double value_si)
{
    add_number(out, width, unit_from_si(style.unit, value_si), style.decimals);
}

/* With two meaningful digits of its own; "-" for nothing. */
static void add_u(struct buf *out, int width, struct style style, double u_si)
{
    double u = unit_from_si(style.unit, u_si);
    if (u > 0.0)
        add_number(out, width, u, shown_decimals_for_u(style.unit, u));
    else
        add_cell(out, width, "-");
}

static void add_pct(struct buf *out, int width, struct criterion_value value)
{
    if (value.present)
        add_number(out, width, value.pct, 3);
    else
        add_cell(out, width, "-");
}

/* "0.0123 lbf" in running text. */
static void say_u(struct buf *out, struct style style, double u_si)
{
    char text[NUMBER_TEXT_MAX];
    double u = unit_from_si(style.unit, u_si);
    buf_printf(out, "%s %s", number_fixed(text, u, shown_decimals_for_u(style.unit, u)),
               unit_name(style.unit));
}

static void say_value(struct buf *out, struct style style, double value_si)
{
    char text[NUMBER_TEXT_MAX];
    buf_printf(out, "%s %s",
               number_fixed(text, unit_from_si(style.unit, value_si), shown_decimals(style.unit)),
               unit_name(style.unit));
}

/* Adds a line of the list at the head: a label, then the text broken into lines. */
static void add_item(struct buf *out, const char *label, struct buf *text)
{
    enum { INDENT = 13 };
    buf_printf(out, "  %-*s", INDENT - 2, label);
    wrap_text(out, buf_string(text), INDENT);
    buf_clear(text);
}

/* --- head ----------------------------------------------------------------------------------- */

static void add_head(struct buf *out, const struct calibration_record *record)
{
    struct buf text = {0};
    char due[CALIBRATION_DATE_SIZE];
    long days = 0;
    buf_printf(out, "%s calibration, ",
               record->calibration->quantity == QUANTITY_FORCE ? "Force" : "Travel");
    escape_terminal(out, record->bench);
    buf_text(out, "\n");
    escape_terminal(&text, record->made_at);
    add_item(out, "made", &text);
    if (calibration_record_due(record, due, &days)) {
        long size = labs(days);
        buf_printf(&text, "%s (%s%ld day%s%s)", due, days < 0 ? "" : "in ", size,
                   size == 1 ? "" : "s", days < 0 ? " ago" : "");
        add_item(out, "due", &text);
    }
    if (record->key[0] != '\0') {
        escape_terminal(&text, record->key);
        add_item(out, "key", &text);
    }
    if (record->note[0] != '\0') {
        escape_terminal(&text, record->note);
        add_item(out, "note", &text);
    }
}

static void add_curve(struct buf *out, const struct calibration_record *record, struct style style)
{
    static const char *const powers[] = {"c0", "c1 d", "c2 d^2"};
    const struct calibration *calibration = record->calibration;
    double origin = round(calibration->count_middle);
    struct calibration_polynomial about = calibration_about(calibration, origin);
    char number[NUMBER_TEXT_MAX];
    struct buf text = {0};
    buf_printf(&text, "%s, %zu points, %zu run%s, ",
               calibration->n_terms == 2 ? "straight line" : "quadratic", calibration->n_points,
               record->summary->n_runs, record->summary->n_runs == 1 ? "" : "s");
    say_value(&text, style, calibration->value_low_si);
    buf_text(&text, " to ");
    say_value(&text, style, calibration->value_high_si);
    add_item(out, "curve", &text);
    buf_printf(&text, "%s =", unit_name(style.unit));
    for (size_t k = 0; k < calibration->n_terms; k++)
        buf_printf(&text, "%s %s", k == 0 ? "" : " +", powers[k]);
    buf_printf(&text, ", d = count - (%s)", number_fixed(number, origin, 0));
    add_item(out, "", &text);
    for (size_t k = 0; k < calibration->n_terms; k++) {
        double coefficient = unit_from_si(style.unit, about.coefficient[k]);
        buf_printf(&text, "c%zu = %s", k, number_exact(number, coefficient));
        add_item(out, "", &text);
    }
    double per_unit = 1.0 / unit_from_si(style.unit, about.coefficient[1]);
    buf_printf(&text, "%s counts/%s in the middle of the range",
               number_fixed(number, per_unit, fabs(per_unit) < 1000.0 ? 2 : 0),
               unit_name(style.unit));
    add_item(out, "", &text);
}

static void add_evidence(struct buf *out, const struct calibration_record *record,
                         struct style style)
{
    const struct calibration *calibration = record->calibration;
    const struct calibration_choice *choice = record->choice;
    char number[NUMBER_TEXT_MAX];
    struct buf text = {0};
    buf_printf(&text, "%s%s", choice->n_terms != calibration->n_terms ? "by evidence " : "",
               calibration_reason_text(choice->reason));
    if (choice->tested) {
        buf_printf(&text, " (F %s,", number_fixed(number, choice->f, 2));
        buf_printf(&text, " p %s, a quadratic needs p below 0.05; residual sd ",
                   number_fixed(number, choice->p, 4));
        say_u(&text, style, choice->line_sd_si);
        buf_text(&text, " of the line, ");
        say_u(&text, style, choice->quadratic_sd_si);
        buf_text(&text, " of the quadratic)");
    }
    add_item(out, "chosen", &text);
    if (calibration->dof > 0) {
        buf_text(&text, "residual sd ");
        say_u(&text, style, calibration->residual_sd_si);
        buf_text(&text, ", largest residual ");
        say_u(&text, style, calibration->largest_residual_si);
        buf_printf(&text, ", %zu degrees of freedom", calibration->dof);
        add_item(out, "scatter", &text);
    }
    double u_si = 0.0;
    for (size_t i = 0; i < record->n_points; i++)
        u_si = fmax(u_si, record->points[i].u_reference_si);
    if (u_si > 0.0) {
        buf_text(&text, "standard uncertainty up to ");
        say_u(&text, style, u_si);
        buf_text(&text, record->references == CALIBRATION_REFERENCES_COMMON
                            ? ", their errors taken as common to all"
                            : ", their errors taken as independent of each other");
    } else {
        buf_text(&text, "no uncertainty stated");
    }
    if (calibration->weighted)
        buf_text(&text, "; points are weighted by their stated uncertainty");
    add_item(out, "references", &text);
}

/* --- tables --------------------------------------------------------------------------------- */

static void add_loads(struct buf *out, const struct calibration_record *record, struct style style)
{
    const struct calibration_summary *summary = record->summary;
    bool classes = record->calibration->quantity == QUANTITY_FORCE && summary->classified;
    if (summary->n_loads == 0)
        return;
    buf_printf(out, "\n%10s %8s %11s %8s %8s %8s %8s%s\n%10s %8s %11s %8s %8s %8s %8s\n",
               "reference", "up/down", "curve off", "interp.", "repeat.", "reprod.", "revers.",
               classes ? "  class" : "", unit_name(style.unit), "", unit_name(style.unit), "%", "%",
               "%", "%");
    for (size_t i = 0; i < summary->n_loads; i++) {
        const struct calibration_load *load = &summary->loads[i];
        char counts[48];
        struct buf text = {0};
        buf_printf(&text, "%zu/%zu", load->n_increasing, load->n_decreasing);
        size_t length = text.length < sizeof counts - 1 ? text.length : sizeof counts - 1;
        memcpy(counts, buf_string(&text), length);
        counts[length] = '\0';
        buf_clear(&text);
        add_number(out, 10, unit_from_si(style.unit, load->reference_si), style.decimals);
        add_cell(out, 9, counts);
        add_value(out, 12, style, load->mean_error_si);
        add_pct(out, 9, load->value[CRITERION_INTERPOLATION]);
        add_pct(out, 9, load->value[CRITERION_REPEATABILITY]);
        add_pct(out, 9, load->value[CRITERION_REPRODUCIBILITY]);
        add_pct(out, 9, load->value[CRITERION_REVERSIBILITY]);
        if (classes)
            add_cell(out, 7, load_class_name(load->load_class));
        buf_char(out, '\n');
    }
}

static void add_whole(struct buf *out, const struct calibration_summary *summary)
{
    static const enum criterion shown[] = {CRITERION_ZERO, CRITERION_CREEP};
    for (size_t i = 0; i < sizeof shown / sizeof shown[0]; i++) {
        char number[NUMBER_TEXT_MAX];
        struct criterion_value value = summary->worst[shown[i]];
        if (value.present)
            buf_printf(out, "%s: %s %% of the largest reference\n", criterion_info(shown[i])->label,
                       number_fixed(number, value.pct, 3));
    }
}

static void add_uncertainty(struct buf *out, const struct calibration_record *record,
                            struct style style)
{
    if (record->calibration->dof == 0)
        return;
    buf_printf(out, "\n%10s %14s %12s %14s %16s\n", "at", "count", "u of curve", "curve +-95 %",
               "one reading +-");
    buf_printf(out, "%10s %14s %12s %14s %16s\n", unit_name(style.unit), "", unit_name(style.unit),
               unit_name(style.unit), unit_name(style.unit));
    for (int row = 0; row < CALIBRATION_RECORD_ROWS; row++) {
        double count = 0.0;
        struct calibration_prediction prediction;
        if (!calibration_record_prediction(record, row, &count, &prediction))
            continue;
        add_value(out, 10, style, prediction.value_si);
        add_number(out, 15, count, 0);
        add_u(out, 13, style, prediction.u_mean_si);
        add_u(out, 15, style, prediction.mean_high_si - prediction.value_si);
        add_u(out, 17, style, prediction.single_high_si - prediction.value_si);
        buf_char(out, '\n');
    }
}

static void add_drift(struct buf *out, const struct calibration_record *record, struct style style)
{
    struct calibration_drift drift;
    if (record->previous == NULL)
        return;
    buf_text(out, "\nDrift: what the one of ");
    escape_terminal(out, record->previous_made_at);
    buf_text(out, " would show now, less this one\n");
    buf_printf(out, "%10s %14s %14s\n", unit_name(style.unit), "difference", "+-95 %");
    for (int row = 0; row < CALIBRATION_RECORD_ROWS; row++) {
        if (!calibration_record_drift(record, row, &drift))
            continue;
        add_value(out, 10, style, drift.value_si);
        add_value(out, 15, style, drift.difference_si);
        add_u(out, 15, style, drift.has_u ? drift.high_si - drift.difference_si : 0.0);
        buf_text(out, drift.significant ? "  significant\n" : "\n");
    }
}

/* --- classes and notes ---------------------------------------------------------------------- */

static void add_iso(struct buf *out, const struct calibration_record *record, struct style style)
{
    const struct calibration_summary *summary = record->summary;
    struct buf text = {0};
    buf_text(&text, "In the manner of ISO 376 (limits from memory): ");
    if (!summary->classified) {
        buf_text(&text,
                 "no class. It takes zero readings before and after the loads, and each load "
                 "at least twice: in two passes, or in two runs with the sensor taken off "
                 "and put back between them.");
    } else {
        bool any = false;
        for (int c = 0; c < LOAD_CLASS_COUNT; c++) {
            const struct class_range *range = &summary->class_range[c];
            bool told = c > 0 && range[-1].reached && !(range->from_si < range[-1].from_si);
            if (!range->reached || told)
                continue;
            buf_printf(&text, "%sclass %s from ", any ? ", " : "",
                       load_class_name((enum load_class)c));
            say_value(&text, style, range->from_si);
            any = true;
        }
        buf_text(&text,
                 any ? " up to the largest load." : "none of its classes at the largest load.");
    }
    const char *before = " Not measured: ";
    for (int k = 0; k < CRITERION_COUNT; k++)
        if (summary->classified && !summary->worst[k].present) {
            buf_printf(&text, "%s%s", before, criterion_info((enum criterion)k)->name);
            before = ", ";
        }
    if (before[0] == ',')
        buf_char(&text, '.');
    wrap_text(out, buf_string(&text), 0);
    buf_clear(&text);
}

static void add_e74(struct buf *out, const struct calibration_record *record, struct style style)
{
    const struct calibration_e74 *e74 = &record->summary->e74;
    struct buf text = {0};
    buf_text(&text, "In the manner of ASTM E74 (factors from memory): lower limit factor ");
    say_u(&text, style, e74->llf_si);
    buf_text(&text, ", class A from ");
    say_value(&text, style, e74->class_a_from_si);
    buf_text(&text, ", class AA from ");
    say_value(&text, style, e74->class_aa_from_si);
    if (e74->class_aa_from_si > record->calibration->value_high_si)
        buf_text(&text, e74->class_a_from_si > record->calibration->value_high_si
                            ? " (both beyond the largest load)"
                            : " (class AA beyond the largest load)");
    if (!e74->enough)
        buf_text(&text, "; E74 itself asks for at least 30 readings in 3 runs");
    buf_char(&text, '.');
    wrap_text(out, buf_string(&text), 0);
    buf_clear(&text);
}

static void add_outliers(struct buf *out, const struct calibration_record *record,
                         struct style style)
{
    for (size_t i = 0; i < record->n_outliers; i++) {
        const struct calibration_outlier *outlier = &record->outliers[i];
        const struct calibration_point *point = &record->points[outlier->point];
        char number[NUMBER_TEXT_MAX];
        buf_printf(out, "Point %zu stands out: reference ", outlier->point + 1);
        say_value(out, style, point->reference_si);
        buf_printf(out, ", count %s, off by ", number_fixed(number, point->count, 0));
        say_u(out, style, fabs(outlier->residual_si));
        buf_text(out, "\n");
    }
}

void calibration_record_text(struct buf *out, const struct calibration_record *record)
{
    struct style style = style_of(record);
    bool holds[CALIBRATION_NOTE_COUNT];
    add_head(out, record);
    add_curve(out, record, style);
    add_evidence(out, record, style);
    add_loads(out, record, style);
    add_whole(out, record->summary);
    add_uncertainty(out, record, style);
    add_drift(out, record, style);
    buf_char(out, '\n');
    if (record->calibration->quantity == QUANTITY_FORCE)
        add_iso(out, record, style);
    if (record->summary->has_e74)
        add_e74(out, record, style);
    add_outliers(out, record, style);
    calibration_record_notes(record, holds);
    for (int i = 0; i < CALIBRATION_NOTE_COUNT; i++)
        if (holds[i]) {
            buf_text(out, "* ");
            wrap_text(out, calibration_note_text((enum calibration_note)i), 2);
        }
    buf_text(out, "This is the shop's own record. Only an accredited laboratory certifies.\n");
}
