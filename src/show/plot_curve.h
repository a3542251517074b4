/*
 * plot_curve: the picture of a measurement: draw and let-down curve, the energy under them, and
 * where peak, valley, wall, brace height and full draw are.
 *
 * The numbers and labels are made here, the looks are in plots/curve.gp and plots/curve_text.gp.
 */
#ifndef PULLCURVE_SHOW_PLOT_CURVE_H
#define PULLCURVE_SHOW_PLOT_CURVE_H

#include "base/buf.h"
#include "base/status.h"
#include "curve/measure.h"
#include "show/gnuplot.h"
#include "show/shown.h"

struct plot_curve {
    const struct measurement *measurement;
    const char *title; /* any text; "" for none */
    enum unit_system units;
    enum picture picture;
    int width, height; /* pixels (hundredths of an inch for PDF), columns and rows for text; 0, 0
                          is 1200 x 800 and 100 x 30 */
};

/* Adds the picture to *out. Equal input gives equal bytes but for PDF, which holds its date.
 * Errors: STATUS_CANT_WRITE (see gnuplot.h), STATUS_NO_INPUT (no template). */
enum status plot_curve(const struct plot_curve *plot, struct buf *out, struct err *err);

/* Adds what is put in front of the template: terminal, variables, data. Each is explained in
 * plots/curve.gp. */
void plot_curve_data(const struct plot_curve *plot, struct buf *script);

#endif
