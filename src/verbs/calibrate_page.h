/*
 * calibrate_page: everything that is worked out from the stored points of a calibration, for its
 * one-page record. Part of the verb calibrate.
 */
#ifndef PULLCURVE_VERBS_CALIBRATE_PAGE_H
#define PULLCURVE_VERBS_CALIBRATE_PAGE_H

#include "curve/calibration.h"
#include "curve/calibration_choice.h"
#include "curve/calibration_summary.h"
#include "record/record.h"
#include "show/calibration_record.h"

#include <stdbool.h>

struct calibrate_page {
    struct calibration_record shown; /* points into what stands below and into *stored */
    struct calibration calibration, previous;
    struct calibration_choice choice;
    struct calibration_outlier *outliers;
    struct calibration_summary summary;
    char today[RECORD_TIME_MAX];
    char previous_made_at[RECORD_TIME_MAX];
};

/* What is not kept with the points. */
struct calibrate_page_settings {
    const struct calibration_creep *creep; /* NULL where none */
    int months;
    enum unit_system units;
    bool place_unknown;
};

/* Fits *stored and works the page out; *before is the calibration before it, NULL where none (one
 * that can't be fitted counts as none). *stored is borrowed until calibrate_page_clear, and *page
 * must not be moved. Errors: those of calibration_fit. */
enum status calibrate_page_fill(struct calibrate_page *page,
                                const struct record_calibration *stored,
                                const struct record_calibration *before,
                                const struct calibrate_page_settings *settings, struct err *err);

void calibrate_page_clear(struct calibrate_page *page);

/* The kind of references that a stored calibration has. */
enum calibration_references calibrate_references(const struct record_calibration *stored);

#endif
