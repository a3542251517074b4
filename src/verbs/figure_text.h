/*
 * figure_text: "FIGURE=..." as people write it on a command line, and ranges as in rule files.
 */
#ifndef PULLCURVE_VERBS_FIGURE_TEXT_H
#define PULLCURVE_VERBS_FIGURE_TEXT_H

#include "base/status.h"
#include "curve/conformity.h"
#include "curve/figures.h"

/* Splits "FIGURE=REST" into a figure and where the rest begins. Errors: STATUS_USAGE (no '=', no
 * such figure; the nearest name is told). */
enum status figure_text_split(const char *text, enum figure_id *figure, const char **rest,
                              struct err *err);

/* Reads "LOW:HIGH", "LOW:" or ":HIGH" in the figure's quantity. A unit at either end holds for
 * both where the other has none; without any it is the trade's. The result is SI and has
 * low < high. Errors: STATUS_USAGE. */
enum status figure_text_range(const char *text, enum figure_id figure, struct tolerance *tolerance,
                              struct err *err);

/* Reads one number above 0 with an optional unit. Errors: STATUS_USAGE. */
enum status figure_text_amount(const char *text, enum figure_id figure, double *value_si,
                               struct err *err);

#endif
