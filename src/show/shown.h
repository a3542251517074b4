/*
 * shown: in which unit and with how many digits a quantity is shown to people.
 */
#ifndef PULLCURVE_SHOW_SHOWN_H
#define PULLCURVE_SHOW_SHOWN_H

#include "base/buf.h"
#include "base/units.h"
#include "curve/figures.h"

#include <stdbool.h>

enum unit_system {
    UNITS_TRADE, /* lbf, in, ft.lbf */
    UNITS_SI,    /* N, m, J */
};

/* "trade" or "si"; false for another word. */
bool unit_system_parse(const char *text, enum unit_system *system);
const char *unit_system_name(enum unit_system system);

/* The unit of a quantity in this system. */
enum unit shown_unit(enum quantity quantity, enum unit_system system);

/* The unit of a figure in this system. */
enum unit shown_figure_unit(enum figure_id id, enum unit_system system);

/* Digits after the mark that make sense for a hand-held measurement in this unit. */
int shown_decimals(enum unit unit);

/* Digits after the mark that leave a standard uncertainty (in the shown unit) two digits, at most
 * two more than the unit's usual ones; the usual ones where u is not above 0. */
int shown_decimals_for_u(enum unit unit, double u);

/* Adds "28.34 in"; value_si is finite. */
void shown_value(struct buf *out, enum unit unit, double value_si);

#endif
