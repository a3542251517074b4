/*
 * figures_text: figures and warnings for people: a table for the terminal, sentences.
 */
#ifndef PULLCURVE_SHOW_FIGURES_TEXT_H
#define PULLCURVE_SHOW_FIGURES_TEXT_H

#include "base/buf.h"
#include "curve/measure.h"
#include "curve/warning.h"
#include "show/shown.h"

/* Adds a table, one row a figure: label, value, standard uncertainty (rounded to two digits, the
 * value to the same place), unit; with more than one pull the value is the mean, and each of the
 * first four pulls has a column. 61 columns wide with one pull. */
void figures_text(struct buf *out, const struct measurement *measurement, enum unit_system units);

/* Adds a line a figure: the standard uncertainty that each source alone gives it, largest first.
 * measurement->has_budget holds. */
void budget_text(struct buf *out, const struct measurement *measurement, enum unit_system units);

/* Adds the warning's sentence, without a line feed. */
void warning_text(struct buf *out, const struct warning *warning, enum unit_system units);

/* Adds the warnings as a list, broken into lines of at most 80 columns; nothing where there are
 * none. */
void warnings_text(struct buf *out, const struct warnings *warnings, enum unit_system units);

#endif
