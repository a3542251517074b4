#include "show/label_place.h"

#include <math.h>

enum { N_DIRECTIONS = 32 };

/* What it costs to lie over another label; more than anything that can be put up with. */
static const double overlap_cost = 1e4;

static const double distances[] = {1, 2, 4, 6, 9, 13, 19}; /* in gaps */

enum { N_DISTANCES = sizeof distances / sizeof distances[0] };

static const double quarter_turn = 1.57079632679489661923;

struct rectangle {
    double left, right, bottom, top;
};

static struct rectangle around(struct place_point middle, double width, double height, double gap)
{
    return (struct rectangle){middle.x - width / 2 - gap, middle.x + width / 2 + gap,
                              middle.y - height / 2 - gap, middle.y + height / 2 + gap};
}

static bool holds(const struct rectangle *r, struct place_point point)
{
    return point.x >= r->left && point.x <= r->right && point.y >= r->bottom && point.y <= r->top;
}

static bool overlap(const struct rectangle *a, const struct rectangle *b)
{
    return a->left <= b->right && b->left <= a->right && a->bottom <= b->top && b->bottom <= a->top;
}

/* The middle of a label whose edge is `distance` away from the anchor in a direction. */
static struct place_point middle_at(const struct place_label *label, double angle, double distance)
{
    double dx = cos(angle), dy = sin(angle);
    /* Labels are wide and low: sideways they sit at their end, above and below on their middle. */
    return (struct place_point){label->anchor.x + dx * (distance + label->width / 2),
                                label->anchor.y + dy * (distance + label->height / 2)};
}

static double side_angle(enum place_side side)
{
    static const double quarters[] = {
        [PLACE_UP] = 1, [PLACE_RIGHT] = 0, [PLACE_DOWN] = 3, [PLACE_LEFT] = 2};
    return quarters[side] * quarter_turn;
}

/* How far outside of 0..most the span lies. */
static double outside(double low, double high, double most)
{
    return fmax(0, -low) + fmax(0, high - most);
}

static double cost_of(const struct place_area *area, const struct place_point *points,
                      size_t n_points, const struct place_label *labels, size_t i,
                      struct place_point middle)
{
    const struct place_label *label = &labels[i];
    struct rectangle r = around(middle, label->width, label->height, area->gap / 2);
    struct rectangle inside = around(middle, label->width, label->height, area->gap / 4);
    double cost = 1e6 *
                  (outside(inside.left, inside.right, area->width) +
                   outside(inside.bottom, inside.top, area->height)) /
                  area->gap;
    for (size_t k = 0; k < n_points; k++)
        cost += holds(&r, points[k]) ? 50 : 0;
    for (size_t k = 0; k < i; k++) {
        struct rectangle other = around(labels[k].middle, labels[k].width, labels[k].height, 0);
        cost += overlap(&r, &other) ? overlap_cost : 0;
    }
    return cost;
}

static double distance_to_line(struct place_point point, struct place_point from,
                               struct place_point to)
{
    double dx = to.x - from.x, dy = to.y - from.y, length_2 = dx * dx + dy * dy;
    double share =
        length_2 > 0 ? ((point.x - from.x) * dx + (point.y - from.y) * dy) / length_2 : 0;
    share = fmin(fmax(share, 0), 1);
    return hypot(point.x - from.x - share * dx, point.y - from.y - share * dy);
}

/* Positive where point lies left of the line, negative where right of it. */
static double side_of(struct place_point point, struct place_point from, struct place_point to)
{
    return (to.x - from.x) * (point.y - from.y) - (to.y - from.y) * (point.x - from.x);
}

static bool cross(struct place_point a, struct place_point b, struct place_point c,
                  struct place_point d)
{
    return side_of(a, c, d) * side_of(b, c, d) < 0 && side_of(c, a, b) * side_of(d, a, b) < 0;
}

/* A leader that runs through another mark or label, or over another leader, names the wrong one. */
static double leader_cost(const struct place_area *area, const struct place_label *labels,
                          size_t n_labels, size_t i, struct place_point middle)
{
    struct place_label label = labels[i];
    label.middle = middle;
    struct place_point from = label.anchor, to = place_leader_end(&label);
    double cost = 0;
    for (size_t k = 0; k < n_labels; k++) {
        if (k != i && distance_to_line(labels[k].anchor, from, to) < area->gap)
            cost += 200;
        if (k < i && labels[k].led &&
            cross(from, to, labels[k].anchor, place_leader_end(&labels[k])))
            cost += 300;
        for (int step = 1; k < i && step < 10; step++) {
            struct rectangle r = around(labels[k].middle, labels[k].width, labels[k].height, 0);
            struct place_point on = {from.x + 0.1 * step * (to.x - from.x),
                                     from.y + 0.1 * step * (to.y - from.y)};
            cost += holds(&r, on) ? 100 : 0;
        }
    }
    return cost;
}

static void place(const struct place_area *area, const struct place_point *points, size_t n_points,
                  struct place_label *labels, size_t n_labels, size_t i)
{
    struct place_label *label = &labels[i];
    double least = INFINITY;
    for (int d = 0; d < N_DISTANCES; d++) {
        for (int k = 0; k < N_DIRECTIONS; k++) {
            /* 0, 1, -1, 2, -2, ... steps away from the side it would rather have */
            int step = (k % 2 == 0 ? 1 : -1) * ((k + 1) / 2);
            double angle = side_angle(label->side) + step * 4 * quarter_turn / N_DIRECTIONS;
            struct place_point middle = middle_at(label, angle, distances[d] * area->gap);
            if (area->whole_lines)
                middle.y = round(middle.y);
            double cost = cost_of(area, points, n_points, labels, i, middle) +
                          leader_cost(area, labels, n_labels, i, middle) + distances[d] +
                          0.3 * fabs((double)step);
            if (cost < least) {
                least = cost;
                label->middle = middle;
                label->led = distances[d] > 2;
                label->clear = cost < overlap_cost;
            }
        }
    }
}

void place_labels(const struct place_area *area, const struct place_point *points, size_t n_points,
                  struct place_label *labels, size_t n_labels)
{
    for (size_t i = 0; i < n_labels; i++)
        place(area, points, n_points, labels, n_labels, i);
}

struct place_point place_leader_end(const struct place_label *label)
{
    struct rectangle r = around(label->middle, label->width, label->height, 0);
    return (struct place_point){fmin(fmax(label->anchor.x, r.left), r.right),
                                fmin(fmax(label->anchor.y, r.bottom), r.top)};
}
