/*
 * figures_csv: figures as a table for spreadsheets and scripts.
 */
#ifndef PULLCURVE_SHOW_FIGURES_CSV_H
#define PULLCURVE_SHOW_FIGURES_CSV_H

#include "base/buf.h"
#include "curve/measure.h"
#include "show/shown.h"

/* Adds "figure,value,unit,u,low,high" and one row a figure; with more than one pull the value is
 * the mean and columns pull_1, pull_2, ... follow. What is not known is an empty cell. Numbers read
 * back exactly. */
void figures_csv(struct buf *out, const struct measurement *measurement, enum unit_system units);

#endif
