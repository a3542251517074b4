/*
 * calibration_record: the one-page record of a calibration, for people and for machines.
 *
 * It is the shop's own record and says so; it certifies nothing.
 */
#ifndef PULLCURVE_SHOW_CALIBRATION_RECORD_H
#define PULLCURVE_SHOW_CALIBRATION_RECORD_H

#include "base/buf.h"
#include "curve/calibration.h"
#include "curve/calibration_choice.h"
#include "curve/calibration_drift.h"
#include "curve/calibration_summary.h"
#include "show/shown.h"

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

/* id, code in JSON, text */
#define CALIBRATION_NOTE_LIST(X)                                                                   \
    X(CALIBRATION_NOTE_OVERDUE, "overdue",                                                         \
      "This calibration is overdue: calibrate again before the next measurement that counts.")     \
    X(CALIBRATION_NOTE_DRIFT, "drift",                                                             \
      "It differs significantly from the one before: look for the cause (an overload, a loose "    \
      "mounting, a changed set-up), and mind that what was measured since then may be off by as "  \
      "much.")                                                                                     \
    X(CALIBRATION_NOTE_OUTLIERS, "outliers",                                                       \
      "Points stand out from the others. They are in the fit all the same. Look at how they were " \
      "taken; where a load or a number was wrong, calibrate again.")                               \
    X(CALIBRATION_NOTE_NO_SCATTER, "no_scatter",                                                   \
      "There are no more points than the curve has terms: nothing is known of the scatter, and "   \
      "no uncertainty can be stated. Take more points.")                                           \
    X(CALIBRATION_NOTE_FEW_LOADS, "few_loads",                                                     \
      "Fewer than five different references: that tells little about the shape of the curve.")     \
    X(CALIBRATION_NOTE_NO_ZERO, "no_zero",                                                         \
      "There is no reading at zero among the points: below the smallest reference the curve is "   \
      "extrapolated.")                                                                             \
    X(CALIBRATION_NOTE_NO_FALLING, "no_falling",                                                   \
      "No reference was approached from above: what the sensor shows while a bow is let down is "  \
      "not covered.")                                                                              \
    X(CALIBRATION_NOTE_NO_REFERENCE_U, "no_reference_u",                                           \
      "No uncertainty of the references is stated: the figures hold the scatter of the points "    \
      "alone.")                                                                                    \
    X(CALIBRATION_NOTE_PLACE_UNKNOWN, "place_unknown",                                             \
      "No place was stated, so gravity could be anything on earth: 0.15 % of the load is counted " \
      "for that. State --latitude and --height, or --gravity.")                                    \
    X(CALIBRATION_NOTE_TERMS, "terms_stated",                                                      \
      "The number of terms was stated; the evidence alone would have chosen the other.")

enum calibration_note {
#define CALIBRATION_NOTE_ENUM(id, name, text) id,
    CALIBRATION_NOTE_LIST(CALIBRATION_NOTE_ENUM)
#undef CALIBRATION_NOTE_ENUM
        CALIBRATION_NOTE_COUNT
};

/* All that the page shows; everything is borrowed. Texts may be what a person wrote. */
struct calibration_record {
    const char *key;     /* "" where it is not stored */
    const char *bench;   /* its name */
    const char *made_at; /* ISO 8601 */
    const char *note;    /* "" where none */
    const char *today;   /* ISO 8601, from the caller's clock */
    int months;          /* how long a calibration holds */
    enum unit_system units;
    const struct calibration *calibration;
    enum calibration_references references;
    const struct calibration_point *points;
    size_t n_points;
    const struct calibration_choice *choice;
    const struct calibration_outlier *outliers;
    size_t n_outliers;
    const struct calibration_summary *summary;
    const struct calibration *previous; /* the one before, NULL where none */
    const char *previous_made_at;
    bool place_unknown; /* references are masses, and no gravity was stated */
};

/* Adds the page, at most 80 columns wide. */
void calibration_record_text(struct buf *out, const struct calibration_record *record);

/* The same as an object (docs/calibration.md). The caller owns the tree. */
json_t *calibration_record_json(const struct calibration_record *record);

/* --- what both of them show ----------------------------------------------------------------- */

/* Which notes hold. */
void calibration_record_notes(const struct calibration_record *record,
                              bool holds[CALIBRATION_NOTE_COUNT]);

const char *calibration_note_name(enum calibration_note note);
const char *calibration_note_text(enum calibration_note note);

/* Values at which uncertainty and drift are shown: six, evenly over the range of the references. */
enum { CALIBRATION_RECORD_ROWS = 6 };

double calibration_record_row_si(const struct calibration_record *record, int row);

/* The prediction at such a value (95 %), and the count that shows it; false where the curve does
 * not reach it. */
bool calibration_record_prediction(const struct calibration_record *record, int row, double *count,
                                   struct calibration_prediction *prediction);

/* The difference from the previous calibration there; false without one, and where the previous one
 * would be extrapolated. */
bool calibration_record_drift(const struct calibration_record *record, int row,
                              struct calibration_drift *drift);

/* The date it is due, and the days until then (negative where overdue); false where made_at or
 * today is no date. */
bool calibration_record_due(const struct calibration_record *record,
                            char due[CALIBRATION_DATE_SIZE], long *days);

#endif
