/*
 * calibration_drift: how a calibration differs from the one before it, and when it is due again.
 *
 * Dates come in as arguments, "YYYY-MM-DD" with anything behind: there is no clock here.
 */
#ifndef PULLCURVE_CURVE_CALIBRATION_DRIFT_H
#define PULLCURVE_CURVE_CALIBRATION_DRIFT_H

#include "curve/calibration.h"

#include <stdbool.h>

/* The difference of two calibrations at one value. */
struct calibration_drift {
    double value_si;      /* by the current calibration */
    double count;         /* where it shows this value */
    double difference_si; /* what the previous one showed at that count, less value_si */
    bool has_u;           /* the rest holds: at least one fit has scatter or stated uncertainties */
    double u_si;          /* of the difference, the two taken as independent: on the safe side where
                             they share references */
    double low_si, high_si; /* 95 % interval, Student t with effective degrees of freedom */
    bool significant;       /* the interval leaves zero out */
};

/* Errors: STATUS_NO_FIT where the current calibration does not reach the value. The quantities are
 * the same (asserted). */
enum status calibration_drift_at(const struct calibration *previous,
                                 const struct calibration *current, double value_si,
                                 struct calibration_drift *drift, struct err *err);

enum { CALIBRATION_DATE_SIZE = 11, CALIBRATION_MONTHS_DEFAULT = 12 };

/* The date `months` (1..1200) after made_at; the day is cut to the month's last. false where
 * made_at does not begin with a date of the Gregorian calendar; due is then "". */
bool calibration_due(const char *made_at, int months, char due[CALIBRATION_DATE_SIZE]);

/* Days from one date to another, negative where `to` is earlier. false where one is no date. */
bool calibration_days_between(const char *from, const char *to, long *days);

#endif
