#include "show/calibration_record.h"

#include <assert.h>
#include <math.h>

static const struct {
    const char *name, *text;
} note_table[] = {
#define CALIBRATION_NOTE_ROW(id, name, text) [id] = {name, text},
    CALIBRATION_NOTE_LIST(CALIBRATION_NOTE_ROW)
#undef CALIBRATION_NOTE_ROW
};

const char *calibration_note_name(enum calibration_note note)
{
    assert(note < CALIBRATION_NOTE_COUNT);
    return note_table[note].name;
}

const char *calibration_note_text(enum calibration_note note)
{
    assert(note < CALIBRATION_NOTE_COUNT);
    return note_table[note].text;
}

double calibration_record_row_si(const struct calibration_record *record, int row)
{
    const struct calibration *calibration = record->calibration;
    double share = (double)row / (CALIBRATION_RECORD_ROWS - 1);
    return calibration->value_low_si +
           share * (calibration->value_high_si - calibration->value_low_si);
}

bool calibration_record_prediction(const struct calibration_record *record, int row, double *count,
                                   struct calibration_prediction *prediction)
{
    struct calibration_inverse inverse;
    if (calibration_invert(record->calibration, calibration_record_row_si(record, row), 0.95,
                           &inverse, NULL) != STATUS_OK)
        return false;
    *count = inverse.count;
    *prediction = calibration_predict(record->calibration, inverse.count, 0.95);
    return true;
}

bool calibration_record_drift(const struct calibration_record *record, int row,
                              struct calibration_drift *drift)
{
    const double margin = 0.05; /* of its range: zero may have moved */
    const struct calibration *previous = record->previous;
    if (previous == NULL ||
        calibration_drift_at(previous, record->calibration, calibration_record_row_si(record, row),
                             drift, NULL) != STATUS_OK)
        return false;
    double reach = (previous->count_high - previous->count_low) * (0.5 + margin);
    return fabs(drift->count - previous->count_middle) <= reach;
}

bool calibration_record_due(const struct calibration_record *record,
                            char due[CALIBRATION_DATE_SIZE], long *days)
{
    return calibration_due(record->made_at, record->months, due) &&
           calibration_days_between(record->today, due, days);
}

void calibration_record_notes(const struct calibration_record *record,
                              bool holds[CALIBRATION_NOTE_COUNT])
{
    const double zero_share = 0.005; /* of the range: as in the summary */
    const struct calibration *calibration = record->calibration;
    double range_si = calibration->value_high_si - calibration->value_low_si;
    bool has_zero = false, has_falling = false, has_u = false, drifted = false;
    for (size_t i = 0; i < record->n_points; i++) {
        const struct calibration_point *point = &record->points[i];
        bool zero = fabs(point->reference_si) < zero_share * range_si;
        has_zero = has_zero || zero;
        has_falling = has_falling || (point->decreasing && !zero);
        has_u = has_u || point->u_reference_si > 0.0;
    }
    for (int row = 0; row < CALIBRATION_RECORD_ROWS; row++) {
        struct calibration_drift drift;
        drifted = drifted || (calibration_record_drift(record, row, &drift) && drift.significant);
    }
    char due[CALIBRATION_DATE_SIZE];
    long days = 0;
    holds[CALIBRATION_NOTE_OVERDUE] = calibration_record_due(record, due, &days) && days < 0;
    holds[CALIBRATION_NOTE_DRIFT] = drifted;
    holds[CALIBRATION_NOTE_OUTLIERS] = record->n_outliers > 0;
    holds[CALIBRATION_NOTE_NO_SCATTER] = calibration->dof == 0;
    holds[CALIBRATION_NOTE_FEW_LOADS] = record->choice->n_loads < 5;
    holds[CALIBRATION_NOTE_NO_ZERO] = !has_zero && calibration->quantity == QUANTITY_FORCE;
    holds[CALIBRATION_NOTE_NO_FALLING] = !has_falling;
    holds[CALIBRATION_NOTE_NO_REFERENCE_U] = !has_u;
    holds[CALIBRATION_NOTE_PLACE_UNKNOWN] = record->place_unknown;
    holds[CALIBRATION_NOTE_TERMS] = record->choice->n_terms != calibration->n_terms;
}
