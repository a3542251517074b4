#include "show/calibration_record.h"

#include "show/json.h"

#include <math.h>
#include <string.h>

static json_t *number(double value)
{
    return json_number_or_null(true, value);
}

/* A quantity in the unit shown. */
static json_t *shown(enum unit unit, double value_si)
{
    return number(unit_from_si(unit, value_si));
}

/* An uncertainty, null where it is not known. */
static json_t *shown_u(enum unit unit, double u_si)
{
    return json_number_or_null(u_si > 0.0, unit_from_si(unit, u_si));
}

static json_t *criterion(struct criterion_value value)
{
    return json_number_or_null(value.present, value.pct);
}

static json_t *choice_json(const struct calibration_choice *choice, enum unit unit)
{
    json_t *object = json_object();
    json_put(object, "terms", json_integer((json_int_t)choice->n_terms));
    json_put(object, "reason", json_text(calibration_reason_text(choice->reason)));
    json_put(object, "references", json_integer((json_int_t)choice->n_loads));
    json_put(object, "f", json_number_or_null(choice->tested, choice->f));
    json_put(object, "p", json_number_or_null(choice->tested, choice->p));
    json_put(object, "line_sd", shown(unit, choice->line_sd_si));
    json_put(object, "quadratic_sd",
             json_number_or_null(choice->tested, unit_from_si(unit, choice->quadratic_sd_si)));
    return object;
}

static json_t *fit_json(const struct calibration_record *record, enum unit unit)
{
    const struct calibration *calibration = record->calibration;
    double origin = round(calibration->count_middle);
    struct calibration_polynomial about = calibration_about(calibration, origin);
    json_t *object = json_object(), *coefficients = json_array(), *u = json_array();
    for (size_t k = 0; k < calibration->n_terms; k++) {
        json_add(coefficients, shown(unit, about.coefficient[k]));
        json_add(u, shown_u(unit, sqrt(about.covariance[k][k])));
    }
    json_put(object, "terms", json_integer((json_int_t)calibration->n_terms));
    json_put(object, "about_count", number(origin));
    json_put(object, "coefficients", coefficients);
    json_put(object, "u", u);
    json_put(object, "points", json_integer((json_int_t)calibration->n_points));
    json_put(object, "dof", json_integer((json_int_t)calibration->dof));
    json_put(
        object, "residual_sd",
        json_number_or_null(calibration->dof > 0, unit_from_si(unit, calibration->residual_sd_si)));
    json_put(object, "largest_residual", shown(unit, calibration->largest_residual_si));
    json_put(object, "count_low", number(calibration->count_low));
    json_put(object, "count_high", number(calibration->count_high));
    json_put(object, "low", shown(unit, calibration->value_low_si));
    json_put(object, "high", shown(unit, calibration->value_high_si));
    json_put(
        object, "references",
        json_text(record->references == CALIBRATION_REFERENCES_COMMON ? "common" : "independent"));
    json_put(object, "weighted", json_boolean(calibration->weighted));
    json_put(object, "choice", choice_json(record->choice, unit));
    return object;
}

static json_t *points_json(const struct calibration_record *record, enum unit unit)
{
    json_t *array = json_array();
    for (size_t i = 0; i < record->n_points; i++) {
        const struct calibration_point *point = &record->points[i];
        double value_si = calibration_value(record->calibration, point->count);
        bool outlier = false;
        for (size_t k = 0; k < record->n_outliers; k++)
            outlier = outlier || record->outliers[k].point == i;
        json_t *object = json_object();
        json_put(object, "reference", shown(unit, point->reference_si));
        json_put(object, "u_reference", shown_u(unit, point->u_reference_si));
        json_put(object, "count", number(point->count));
        json_put(object, "u_count", json_number_or_null(point->u_count > 0.0, point->u_count));
        json_put(object, "run", json_integer(point->run));
        json_put(object, "direction", json_text(point->decreasing ? "down" : "up"));
        json_put(object, "residual", shown(unit, point->reference_si - value_si));
        json_put(object, "outlier", json_boolean(outlier));
        json_add(array, object);
    }
    return array;
}

static json_t *uncertainty_json(const struct calibration_record *record, enum unit unit)
{
    json_t *array = json_array();
    for (int row = 0; row < CALIBRATION_RECORD_ROWS; row++) {
        double count = 0.0;
        struct calibration_prediction prediction;
        if (!calibration_record_prediction(record, row, &count, &prediction))
            continue;
        bool known = record->calibration->dof > 0;
        json_t *object = json_object();
        json_put(object, "value", shown(unit, prediction.value_si));
        json_put(object, "count", number(count));
        json_put(object, "u", shown_u(unit, prediction.u_mean_si));
        json_put(object, "low",
                 json_number_or_null(known, unit_from_si(unit, prediction.mean_low_si)));
        json_put(object, "high",
                 json_number_or_null(known, unit_from_si(unit, prediction.mean_high_si)));
        json_put(object, "reading_low",
                 json_number_or_null(known, unit_from_si(unit, prediction.single_low_si)));
        json_put(object, "reading_high",
                 json_number_or_null(known, unit_from_si(unit, prediction.single_high_si)));
        json_add(array, object);
    }
    return array;
}

static json_t *criteria_json(const struct criterion_value value[CRITERION_COUNT])
{
    json_t *object = json_object();
    for (int k = 0; k < CRITERION_COUNT; k++)
        json_put(object, criterion_info((enum criterion)k)->name, criterion(value[k]));
    return object;
}

static json_t *loads_json(const struct calibration_summary *summary, enum unit unit)
{
    json_t *array = json_array();
    for (size_t i = 0; i < summary->n_loads; i++) {
        const struct calibration_load *load = &summary->loads[i];
        json_t *object = json_object();
        json_put(object, "reference", shown(unit, load->reference_si));
        json_put(object, "up", json_integer((json_int_t)load->n_increasing));
        json_put(object, "down", json_integer((json_int_t)load->n_decreasing));
        json_put(object, "off", shown(unit, load->mean_error_si));
        json_put(object, "pct", criteria_json(load->value));
        json_put(object, "class",
                 summary->classified ? json_text(load_class_name(load->load_class)) : json_null());
        json_add(array, object);
    }
    return array;
}

static json_t *summary_json(const struct calibration_record *record, enum unit unit)
{
    const struct calibration_summary *summary = record->summary;
    json_t *object = json_object(), *classes = json_object();
    json_put(object, "runs", json_integer((json_int_t)summary->n_runs));
    json_put(object, "loads", loads_json(summary, unit));
    json_put(object, "worst_pct", criteria_json(summary->worst));
    if (record->calibration->quantity == QUANTITY_FORCE) {
        for (int c = 0; c < LOAD_CLASS_COUNT; c++)
            json_put(classes, load_class_name((enum load_class)c),
                     json_number_or_null(summary->class_range[c].reached,
                                         unit_from_si(unit, summary->class_range[c].from_si)));
        json_put(object, "class_from", classes);
    } else {
        json_decref(classes);
    }
    if (summary->has_e74) {
        json_t *e74 = json_object();
        json_put(e74, "llf", shown(unit, summary->e74.llf_si));
        json_put(e74, "class_a_from", shown(unit, summary->e74.class_a_from_si));
        json_put(e74, "class_aa_from", shown(unit, summary->e74.class_aa_from_si));
        json_put(e74, "enough_readings", json_boolean(summary->e74.enough));
        json_put(object, "e74", e74);
    }
    return object;
}

static json_t *due_json(const struct calibration_record *record)
{
    char due[CALIBRATION_DATE_SIZE];
    long days = 0;
    if (!calibration_record_due(record, due, &days))
        return json_null();
    json_t *object = json_object();
    json_put(object, "date", json_text(due));
    json_put(object, "days", json_integer(days));
    json_put(object, "months", json_integer(record->months));
    json_put(object, "overdue", json_boolean(days < 0));
    return object;
}

static json_t *drift_json(const struct calibration_record *record, enum unit unit)
{
    if (record->previous == NULL)
        return json_null();
    json_t *object = json_object(), *rows = json_array();
    for (int row = 0; row < CALIBRATION_RECORD_ROWS; row++) {
        struct calibration_drift drift;
        if (!calibration_record_drift(record, row, &drift))
            continue;
        json_t *line = json_object();
        json_put(line, "value", shown(unit, drift.value_si));
        json_put(line, "count", number(drift.count));
        json_put(line, "difference", shown(unit, drift.difference_si));
        json_put(line, "u", shown_u(unit, drift.u_si));
        json_put(line, "low", json_number_or_null(drift.has_u, unit_from_si(unit, drift.low_si)));
        json_put(line, "high", json_number_or_null(drift.has_u, unit_from_si(unit, drift.high_si)));
        json_put(line, "significant", drift.has_u ? json_boolean(drift.significant) : json_null());
        json_add(rows, line);
    }
    json_put(object, "previous_made_at", json_text(record->previous_made_at));
    json_put(object, "rows", rows);
    return object;
}

json_t *calibration_record_json(const struct calibration_record *record)
{
    enum unit unit = shown_unit(record->calibration->quantity, record->units);
    bool holds[CALIBRATION_NOTE_COUNT];
    json_t *object = json_object(), *warnings = json_array();
    json_put(object, "channel",
             json_text(record->calibration->quantity == QUANTITY_FORCE ? "force" : "travel"));
    json_put(object, "bench", json_text(record->bench));
    json_put(object, "key", record->key[0] != '\0' ? json_text(record->key) : json_null());
    json_put(object, "made_at", json_text(record->made_at));
    json_put(object, "note", json_text(record->note));
    json_put(object, "unit", json_text(unit_name(unit)));
    json_put(object, "due", due_json(record));
    json_put(object, "fit", fit_json(record, unit));
    json_put(object, "uncertainty", uncertainty_json(record, unit));
    json_put(object, "summary", summary_json(record, unit));
    json_put(object, "drift", drift_json(record, unit));
    json_put(object, "points", points_json(record, unit));
    calibration_record_notes(record, holds);
    for (int i = 0; i < CALIBRATION_NOTE_COUNT; i++) {
        if (!holds[i])
            continue;
        json_t *warning = json_object();
        json_put(warning, "code", json_text(calibration_note_name((enum calibration_note)i)));
        json_put(warning, "text", json_text(calibration_note_text((enum calibration_note)i)));
        json_add(warnings, warning);
    }
    json_put(object, "warnings", warnings);
    return object;
}
