/* The labels of a curve's picture: their texts, and where they go. */
#include "base/mem.h"
#include "base/number.h"
#include "show/plot_frame.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LABELS_MAX = 8, LABEL_TEXT_MAX = 96 };

struct labels {
    size_t n;
    struct place_label place[LABELS_MAX];
    char text[LABELS_MAX][LABEL_TEXT_MAX];
    bool marked[LABELS_MAX]; /* the anchor is a point of the curve that gets a mark */
};

static struct place_point to_picture(const struct plot_frame *frame, double x, double y)
{
    return (struct place_point){(x - frame->x_min) / (frame->x_max - frame->x_min) *
                                    frame->area.width,
                                y / frame->y_max * frame->area.height};
}

/* "60.13 lbf", with as many digits as the uncertainty allows and at most the unit's usual ones. */
static void add_figure(struct buf *out, const struct figure *figure, enum unit unit)
{
    char text[NUMBER_TEXT_MAX];
    int decimals = shown_decimals(unit);
    if (figure->has_u) {
        int supported = shown_decimals_for_u(unit, unit_from_si(unit, figure->u_si));
        decimals = supported < decimals ? supported : decimals;
    }
    buf_printf(out, "%s %s", number_fixed(text, unit_from_si(unit, figure->value_si), decimals),
               unit_name(unit));
}

static void add_label(const struct plot_frame *frame, struct labels *labels, const struct buf *text,
                      double x, double y, enum place_side side, bool marked)
{
    size_t i = labels->n++;
    (void)snprintf(labels->text[i], LABEL_TEXT_MAX, "%s", buf_string(text));
    labels->marked[i] = marked;
    labels->place[i] =
        (struct place_label){.anchor = to_picture(frame, x, y),
                             .width = frame->glyph_width * (double)strlen(labels->text[i]),
                             .height = frame->glyph_height,
                             .side = side};
}

static void label_peak(const struct plot_frame *frame, struct labels *labels)
{
    const struct figure *force = frame_figure(frame, FIGURE_PEAK_FORCE);
    const struct figure *position = frame_figure(frame, FIGURE_PEAK_POSITION);
    if (!force->present || !position->present)
        return;
    struct buf text = {0};
    buf_text(&text, "Peak ");
    add_figure(&text, force, frame->force);
    buf_text(&text, " at ");
    add_figure(&text, position, frame->length);
    add_label(frame, labels, &text, frame_x(frame, position->value_si),
              frame_y(frame, force->value_si), PLACE_UP, true);
    buf_clear(&text);
}

static void label_holding(const struct plot_frame *frame, struct labels *labels)
{
    const struct figure *force = frame_figure(frame, FIGURE_HOLDING_FORCE);
    const struct figure *position = frame_figure(frame, FIGURE_VALLEY_POSITION);
    if (!force->present || !position->present)
        return;
    struct buf text = {0};
    buf_text(&text, "Holding ");
    add_figure(&text, force, frame->force);
    if (frame->plot->measurement->full_draw != FULL_DRAW_VALLEY) {
        buf_text(&text, " at ");
        add_figure(&text, position, frame->length);
    }
    add_label(frame, labels, &text, frame_x(frame, position->value_si),
              frame_y(frame, force->value_si), PLACE_LEFT, true);
    buf_clear(&text);
}

static void label_wall(const struct plot_frame *frame, struct labels *labels)
{
    const struct figure *onset = frame_figure(frame, FIGURE_WALL_ONSET);
    const struct figure *stiffness = frame_figure(frame, FIGURE_WALL_STIFFNESS);
    const struct pull *pull = &frame->plot->measurement->pulls[0];
    if (!onset->present || pull->draw.n == 0)
        return;
    struct buf text = {0};
    buf_text(&text, "Wall ");
    add_figure(&text, onset, frame->length);
    if (stiffness->present) {
        buf_text(&text, ", ");
        add_figure(&text, stiffness, shown_unit(QUANTITY_STIFFNESS, frame->plot->units));
    }
    add_label(frame, labels, &text, frame_x(frame, onset->value_si),
              frame_y(frame, branch_force_at(&pull->draw, onset->value_si)), PLACE_DOWN, true);
    buf_clear(&text);
}

static void label_full_draw(const struct plot_frame *frame, struct labels *labels)
{
    const struct figure *full = frame_figure(frame, FIGURE_FULL_DRAW);
    const struct figure *ata = frame_figure(frame, FIGURE_DRAW_LENGTH_ATA);
    if (!full->present)
        return;
    struct buf text = {0};
    buf_text(&text, "Full draw ");
    add_figure(&text, full, frame->length);
    if (ata->present) {
        buf_text(&text, ", ATA ");
        add_figure(&text, ata, frame->length);
    }
    /* On the upright near the top, above the plateau. */
    double y = frame->y_max * (1 - fmax(1.2 * frame->glyph_height, 1) / frame->area.height);
    add_label(frame, labels, &text, frame_x(frame, full->value_si), y, PLACE_LEFT, false);
    buf_clear(&text);
}

static void label_brace(const struct plot_frame *frame, struct labels *labels)
{
    const struct figure *brace = frame_figure(frame, FIGURE_BRACE_HEIGHT);
    if (!brace->present)
        return;
    struct buf text = {0};
    buf_text(&text, "Brace ");
    add_figure(&text, brace, frame->length);
    add_label(frame, labels, &text, frame_x(frame, brace->value_si), 0, PLACE_RIGHT, true);
    buf_clear(&text);
}

static void label_energy(const struct plot_frame *frame, struct labels *labels)
{
    const struct figure *stored = frame_figure(frame, FIGURE_STORED_ENERGY);
    const struct figure *returned = frame_figure(frame, FIGURE_RETURNED_ENERGY);
    const struct figure *brace = frame_figure(frame, FIGURE_BRACE_HEIGHT);
    const struct figure *full = frame_figure(frame, FIGURE_FULL_DRAW);
    const struct figure *peak = frame_figure(frame, FIGURE_PEAK_FORCE);
    if (!stored->present || !brace->present || !full->present || !peak->present)
        return;
    struct buf text = {0};
    buf_text(&text, "Stored ");
    add_figure(&text, stored, frame->energy);
    if (returned->present) {
        buf_text(&text, ", returned ");
        add_figure(&text, returned, frame->energy);
    }
    double x = frame_x(frame, 0.5 * (brace->value_si + full->value_si));
    add_label(frame, labels, &text, x, frame_y(frame, 0.4 * peak->value_si), PLACE_UP, false);
    buf_clear(&text);
}

/* The curves, the guide line at full draw and the axis as points that labels keep clear of. */
struct obstacles {
    struct place_point *point;
    size_t n, capacity;
};

static void add_obstacle(struct obstacles *obstacles, struct place_point point)
{
    if (obstacles->n == obstacles->capacity) {
        obstacles->capacity = mem_grown(obstacles->capacity, obstacles->n + 1);
        obstacles->point =
            mem_realloc(obstacles->point, obstacles->capacity, sizeof *obstacles->point);
    }
    obstacles->point[obstacles->n++] = point;
}

static void add_obstacle_line(const struct plot_frame *frame, struct obstacles *obstacles,
                              struct place_point from, struct place_point to)
{
    double length = hypot(to.x - from.x, to.y - from.y);
    int steps = (int)fmin(ceil(length / (frame->area.gap / 2)), 10000);
    for (int i = 0; i <= steps; i++) {
        double share = steps > 0 ? (double)i / steps : 0;
        add_obstacle(obstacles, (struct place_point){from.x + share * (to.x - from.x),
                                                     from.y + share * (to.y - from.y)});
    }
}

static void add_obstacle_branch(const struct plot_frame *frame, struct obstacles *obstacles,
                                const struct branch *branch)
{
    size_t *picked = mem_calloc(branch->n, sizeof *picked);
    size_t n = frame_decimate(frame, branch, picked);
    struct place_point before = {0};
    for (size_t k = 0; k < n; k++) {
        struct place_point here = to_picture(frame, frame_x(frame, branch->draw_m[picked[k]]),
                                             frame_y(frame, branch->force_n[picked[k]]));
        if (k > 0)
            add_obstacle_line(frame, obstacles, before, here);
        before = here;
    }
    free(picked);
}

static struct obstacles find_obstacles(const struct plot_frame *frame, const struct labels *labels)
{
    struct obstacles obstacles = {0};
    const struct measurement *m = frame->plot->measurement;
    for (size_t i = 0; i < m->n_pulls && i < 4; i++) {
        add_obstacle_branch(frame, &obstacles, &m->pulls[i].draw);
        add_obstacle_branch(frame, &obstacles, &m->pulls[i].let_down);
    }
    const struct figure *full = frame_figure(frame, FIGURE_FULL_DRAW);
    if (full->present && frame->plot->picture != PICTURE_TEXT) {
        double x = frame_x(frame, full->value_si);
        add_obstacle_line(frame, &obstacles, to_picture(frame, x, 0),
                          to_picture(frame, x, frame->y_max));
    }
    for (size_t i = 0; i < labels->n; i++)
        if (labels->marked[i])
            add_obstacle(&obstacles, labels->place[i].anchor);
    return obstacles;
}

static struct labels make_labels(const struct plot_frame *frame)
{
    struct labels labels = {0};
    if (frame->plot->measurement->n_pulls == 0)
        return labels;
    label_energy(frame, &labels);
    label_peak(frame, &labels);
    label_full_draw(frame, &labels);
    label_brace(frame, &labels);
    label_holding(frame, &labels);
    label_wall(frame, &labels);
    struct obstacles obstacles = find_obstacles(frame, &labels);
    place_labels(&frame->area, obstacles.point, obstacles.n, labels.place, labels.n);
    free(obstacles.point);
    return labels;
}

/* Back from the picture to shown units. */
static void add_place(const struct plot_frame *frame, struct buf *script, struct place_point point)
{
    double x = frame->x_min + point.x / frame->area.width * (frame->x_max - frame->x_min);
    double y = point.y / frame->area.height * frame->y_max;
    add_plot_numbers(script, (double[]){x, y}, 2);
}

/* Marks: x y. Labels: x y "text". Leaders: two lines each, x y, a blank line between them. */
void add_plot_labels(const struct plot_frame *frame, struct buf *script)
{
    struct labels labels = make_labels(frame);
    struct buf marks = {0}, texts = {0}, leaders = {0};
    for (size_t i = 0; i < labels.n; i++) {
        const struct place_label *label = &labels.place[i];
        if (labels.marked[i]) {
            add_place(frame, &marks, label->anchor);
            buf_char(&marks, '\n');
        }
        if (!label->clear)
            continue; /* a small picture: the figures say it too */
        add_place(frame, &texts, label->middle);
        buf_printf(&texts, " \"%s\"\n", labels.text[i]);
        if (label->led && labels.marked[i]) {
            add_place(frame, &leaders, label->anchor);
            buf_char(&leaders, '\n');
            add_place(frame, &leaders, place_leader_end(label));
            buf_text(&leaders, "\n\n");
        }
    }
    buf_printf(script, "has_marks = %d\nhas_labels = %d\nhas_leaders = %d\n", marks.length > 0,
               texts.length > 0, leaders.length > 0);
    buf_printf(script, "$MARKS << END_OF_DATA\n%sEND_OF_DATA\n", buf_string(&marks));
    buf_printf(script, "$LABELS << END_OF_DATA\n%sEND_OF_DATA\n", buf_string(&texts));
    buf_printf(script, "$LEADERS << END_OF_DATA\n%sEND_OF_DATA\n", buf_string(&leaders));
    buf_clear(&marks);
    buf_clear(&texts);
    buf_clear(&leaders);
}
