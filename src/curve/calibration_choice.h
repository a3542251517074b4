/*
 * calibration_choice: straight line or quadratic, by evidence; and which points stand out.
 *
 * Not for: taking points away. An outlier is flagged, with the figures it was judged on; the
 * person who loaded the bench decides.
 */
#ifndef PULLCURVE_CURVE_CALIBRATION_CHOICE_H
#define PULLCURVE_CURVE_CALIBRATION_CHOICE_H

#include "curve/calibration.h"

#include <stdbool.h>
#include <stddef.h>

/* A quadratic needs at least this many different loads. */
enum { CALIBRATION_QUADRATIC_LOADS_MIN = 6 };

/* It is taken where chance would give so large a quadratic term less often than this. */
#define CALIBRATION_QUADRATIC_P 0.05

enum calibration_reason {
    CALIBRATION_LINE_FEW_LOADS,       /* fewer different loads than a quadratic needs */
    CALIBRATION_LINE_ENOUGH,          /* the quadratic term is not significant */
    CALIBRATION_LINE_QUADRATIC_FAILS, /* the quadratic can't be fitted, or turns back */
    CALIBRATION_QUADRATIC_NEEDED,     /* the quadratic term is significant */
};

/* The choice and the figures that it was made on. */
struct calibration_choice {
    size_t n_terms; /* 2 or 3 */
    enum calibration_reason reason;
    size_t n_loads;    /* different references, told apart by a millionth of their range */
    bool tested;       /* the figures below hold */
    double f, p;       /* F of the quadratic term, (1, n - 3) degrees of freedom; its p-value */
    double line_sd_si; /* residual sd of the line */
    double quadratic_sd_si; /* residual sd of the quadratic */
};

/* Chooses. Errors: those of calibration_fit_references with two terms. */
enum status calibration_choose(const struct calibration_point *points, size_t n,
                               enum quantity quantity, enum calibration_references references,
                               struct calibration_choice *choice, struct err *err);

/* Why, in words; a constant string. */
const char *calibration_reason_text(enum calibration_reason reason);

/* A point that stands out from the others. */
struct calibration_outlier {
    size_t point;       /* index into the points */
    double residual_si; /* reference less the curve through the other points */
    double t;           /* that over its standard uncertainty */
};

/* The share of good sets of points in which chance flags one, nominally; since the candidates are
 * picked first, it is about one in a hundred in simulation (see the tests). */
#define CALIBRATION_OUTLIER_P 0.004

/* Flags points that a robust fit (bisquare) leaves far off and that the fit through the others does
 * not predict: Student t, two-sided, CALIBRATION_OUTLIER_P shared among n (Bonferroni). Residuals
 * below half a count are never flagged. outliers has room for n; *n_outliers is how many were
 * written. With too few points to tell (n < n_terms + 3) there are none.
 * Errors: those of calibration_fit. */
enum status calibration_find_outliers(const struct calibration_point *points, size_t n,
                                      enum quantity quantity, size_t n_terms,
                                      struct calibration_outlier *outliers, size_t *n_outliers,
                                      struct err *err);

#endif
