/*
 * plot_frame: what the parts of a curve's picture share: the window on the data, the plot area, how
 * a line of data is written. Private to plot_curve.c and plot_labels.c.
 */
#ifndef PULLCURVE_SHOW_PLOT_FRAME_H
#define PULLCURVE_SHOW_PLOT_FRAME_H

#include "show/label_place.h"
#include "show/plot_curve.h"

/* Positions in the data are in shown units, those in the picture in pixels or character cells. */
struct plot_frame {
    const struct plot_curve *plot;
    enum unit length, force, energy;
    int width, height;
    double x_min, x_max, y_max;
    struct place_area area;
    double glyph_width, glyph_height;
};

const struct figure *frame_figure(const struct plot_frame *frame, enum figure_id id);

/* SI to shown units. */
double frame_x(const struct plot_frame *frame, double draw_m);
double frame_y(const struct plot_frame *frame, double force_n);

/* Indices of a branch's points to draw: where there are many more than pixels, the lowest and the
 * highest of each pixel column, in order. Returns their number; picked has room for branch->n. */
size_t frame_decimate(const struct plot_frame *frame, const struct branch *branch, size_t *picked);

/* Force of a branch at a draw position, on the straight line between its points; branch->n > 0. */
double branch_force_at(const struct branch *branch, double draw_m);

/* Adds numbers separated by blanks. */
void add_plot_numbers(struct buf *script, const double *values, size_t n);

/* Adds the data blocks $MARKS, $LABELS and $LEADERS and says which of them hold something. */
void add_plot_labels(const struct plot_frame *frame, struct buf *script);

#endif
