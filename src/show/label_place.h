/*
 * label_place: finds a place for each label of a picture, near what it names and clear of curves
 * and of the other labels. Knows rectangles and points, not what they mean.
 *
 * All positions are in the picture's own small units (pixels or character cells), x to the right, y
 * up, origin at the lower left corner of the plot area.
 */
#ifndef PULLCURVE_SHOW_LABEL_PLACE_H
#define PULLCURVE_SHOW_LABEL_PLACE_H

#include <stdbool.h>
#include <stddef.h>

struct place_point {
    double x, y;
};

/* Which way from its anchor a label would rather go. */
enum place_side { PLACE_UP, PLACE_RIGHT, PLACE_DOWN, PLACE_LEFT };

struct place_label {
    struct place_point anchor;
    double width, height;
    enum place_side side;
    struct place_point middle; /* out: the middle of the label */
    bool led;                  /* out: far enough from the anchor to need a leader line */
    bool clear;                /* out: inside the area, and no other label in the way */
};

struct place_area {
    double width, height; /* labels stay inside 0..width, 0..height */
    double gap;           /* the least distance between a label and anything else */
    bool whole_lines;     /* y counts lines of text, and a label stands on one */
};

/* Places the labels one after the other, the first ones best. points[0..n_points) are the curves,
 * close enough together that no label fits between two of them. A label for which there is no clear
 * place gets the least bad one, and clear is false. Cost: labels x 224 places x points. */
void place_labels(const struct place_area *area, const struct place_point *points, size_t n_points,
                  struct place_label *labels, size_t n_labels);

/* Where the leader line of a placed label ends: the point of its edge nearest to the anchor. */
struct place_point place_leader_end(const struct place_label *label);

#endif
