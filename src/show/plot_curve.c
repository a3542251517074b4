#include "show/plot_curve.h"

#include "base/mem.h"
#include "base/number.h"
#include "base/utf8.h"
#include "show/escape.h"
#include "show/plot_frame.h"
#include "show/template.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { COLUMNS_BEFORE = 8, COLUMNS_BEHIND = 3, ROWS_BELOW = 4, ROWS_ABOVE = 5 };

/* Pixels that the plot area leaves free on each side for axes, title and legend; the size of a
 * glyph of the 12 point font that the terminals are set to, and of a line of text. */
enum { LEFT = 84, RIGHT = 36, BELOW = 80, ABOVE = 136, LINE = 24, GLYPH_HEIGHT = 17 };
static const double glyph_width = 8.4;

static bool is_text(const struct plot_curve *plot)
{
    return plot->picture == PICTURE_TEXT;
}

const struct figure *frame_figure(const struct plot_frame *frame, enum figure_id id)
{
    return &frame->plot->measurement->figures.f[id];
}

double frame_x(const struct plot_frame *frame, double draw_m)
{
    return unit_from_si(frame->length, draw_m);
}

double frame_y(const struct plot_frame *frame, double force_n)
{
    return unit_from_si(frame->force, force_n);
}

static void size_frame(struct plot_frame *frame)
{
    const struct plot_curve *plot = frame->plot;
    bool given = plot->width > 0 && plot->height > 0, text = is_text(plot);
    frame->width = given ? plot->width : text ? 100 : 1200;
    frame->height = given ? plot->height : text ? 30 : 800;
    if (text) {
        frame->area = (struct place_area){
            .width = fmax(frame->width - COLUMNS_BEFORE - COLUMNS_BEHIND - 1, 10),
            .height = fmax(frame->height - ROWS_BELOW - ROWS_ABOVE - 1, 5),
            .gap = 1,
            .whole_lines = true};
        frame->glyph_width = 1;
        frame->glyph_height = 0.2; /* lines of text may follow on each other without a gap */
        return;
    }
    frame->area = (struct place_area){.width = fmax(frame->width - LEFT - RIGHT, 100),
                                      .height = fmax(frame->height - BELOW - ABOVE, 100),
                                      .gap = 9};
    frame->glyph_width = glyph_width;
    frame->glyph_height = GLYPH_HEIGHT;
}

/* The largest force that is shown: two labels have room above the peak, and a wall that was drawn
 * into hard, which would squeeze the rest, is cut a good way above it. */
static double frame_top(const struct plot_frame *frame, double most_n, const struct figure *peak)
{
    if (!peak->present || !(peak->value_si > 0))
        return most_n > 0 ? 1.16 * most_n : 1;
    double labels = fmin(fmax(3.4 * frame->glyph_height, 3) / frame->area.height, 0.5);
    return fmax(1.16 * fmin(most_n, 1.1 * peak->value_si), peak->value_si / (1 - labels));
}

static struct plot_frame make_frame(const struct plot_curve *plot)
{
    struct plot_frame frame = {.plot = plot,
                               .length = shown_unit(QUANTITY_LENGTH, plot->units),
                               .force = shown_unit(QUANTITY_FORCE, plot->units),
                               .energy = shown_unit(QUANTITY_ENERGY, plot->units)};
    size_frame(&frame);
    const struct measurement *m = plot->measurement;
    double low_m = INFINITY, high_m = -INFINITY, most_n = 0;
    for (size_t i = 0; i < m->n_pulls; i++) {
        const struct branch *draw = &m->pulls[i].draw;
        for (size_t k = 0; k < draw->n; k++)
            most_n = fmax(most_n, draw->force_n[k]);
        low_m = fmin(low_m, draw->n > 0 ? draw->draw_m[0] : low_m);
        high_m = fmax(high_m, draw->n > 0 ? draw->draw_m[draw->n - 1] : high_m);
    }
    const struct figure *brace = frame_figure(&frame, FIGURE_BRACE_HEIGHT);
    const struct figure *peak = frame_figure(&frame, FIGURE_PEAK_FORCE);
    if (brace->present)
        low_m = fmin(low_m, brace->value_si);
    double span_m = high_m > low_m ? high_m - low_m : 0.01;
    frame.x_min = frame_x(&frame, low_m - 0.04 * span_m);
    frame.x_max = frame_x(&frame, high_m + 0.04 * span_m);
    frame.y_max = frame_y(&frame, frame_top(&frame, most_n, peak));
    return frame;
}

static void add_number(struct buf *out, double value)
{
    char text[NUMBER_TEXT_MAX];
    (void)snprintf(text, sizeof text, "%.7g", isfinite(value) ? value : 0.0);
    buf_text(out, text);
}

static void add_variable(struct buf *script, const char *name, double value)
{
    buf_printf(script, "%s = ", name);
    add_number(script, value);
    buf_char(script, '\n');
}

static void add_string(struct buf *script, const char *name, const char *text)
{
    buf_printf(script, "%s = ", name);
    escape_gnuplot(script, text);
    buf_char(script, '\n');
}

/* The title as far as it fits on its line. */
static void add_title(const struct plot_frame *frame, struct buf *script)
{
    const double glyphs_wide = 1.3; /* its font is larger than that of the labels */
    double room = is_text(frame->plot) ? frame->width - 2
                                       : frame->area.width / (glyphs_wide * frame->glyph_width);
    struct buf title = {0};
    escape_terminal(&title, frame->plot->title);
    size_t used = 0, shown = 0;
    while (used < title.length && (double)shown < room) {
        uint32_t ignored;
        used += utf8_decode(title.text + used, title.length - used, &ignored);
        shown++;
    }
    if (used < title.length) {
        title.text[used] = '\0';
        title.length = used;
        buf_text(&title, "...");
    }
    add_string(script, "title_text", buf_string(&title));
    buf_printf(script, "title_size = %d\n", frame->plot->picture == PICTURE_SVG ? 20 : 15);
    buf_clear(&title);
}

void add_plot_numbers(struct buf *script, const double *values, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (i > 0)
            buf_char(script, ' ');
        add_number(script, values[i]);
    }
}

static void add_row(struct buf *script, const double *values, size_t n)
{
    add_plot_numbers(script, values, n);
    buf_char(script, '\n');
}

/* --- curves ---------------------------------------------------------------------------------- */

/* Indices of the points to draw: where there are many more than pixels, the lowest and the highest
 * of each pixel column, in order. Returns their number; picked has room for n. */
size_t frame_decimate(const struct plot_frame *frame, const struct branch *branch, size_t *picked)
{
    size_t n = 0, columns = (size_t)frame->width;
    if (branch->n <= 2 * columns) {
        for (size_t i = 0; i < branch->n; i++)
            picked[n++] = i;
        return n;
    }
    double first = branch->draw_m[0], span = branch->draw_m[branch->n - 1] - first;
    for (size_t i = 0; i < branch->n;) {
        double column = floor((branch->draw_m[i] - first) / span * (double)columns);
        size_t low = i, high = i, end = i;
        for (; end < branch->n &&
               floor((branch->draw_m[end] - first) / span * (double)columns) == column;
             end++) {
            low = branch->force_n[end] < branch->force_n[low] ? end : low;
            high = branch->force_n[end] > branch->force_n[high] ? end : high;
        }
        picked[n++] = low < high ? low : high;
        if (low != high)
            picked[n++] = low < high ? high : low;
        i = end > i ? end : i + 1;
    }
    return n;
}

/* Force of a branch at a draw position, on the straight line between its points. */
double branch_force_at(const struct branch *branch, double draw_m)
{
    size_t low = 0, high = branch->n - 1;
    if (draw_m <= branch->draw_m[low])
        return branch->force_n[low];
    if (draw_m >= branch->draw_m[high])
        return branch->force_n[high];
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        if (branch->draw_m[middle] <= draw_m)
            low = middle;
        else
            high = middle;
    }
    double span = branch->draw_m[high] - branch->draw_m[low];
    double share = span > 0 ? (draw_m - branch->draw_m[low]) / span : 0;
    return branch->force_n[low] + share * (branch->force_n[high] - branch->force_n[low]);
}

static const struct branch *branch_of(const struct pull *pull, bool let_down)
{
    return let_down ? &pull->let_down : &pull->draw;
}

/* One data block with this branch of every pull, a blank line between them. */
static void add_branches(const struct plot_frame *frame, bool let_down, struct buf *script)
{
    const struct measurement *m = frame->plot->measurement;
    buf_printf(script, "$%s << END_OF_DATA\n", let_down ? "LET_DOWN" : "DRAW");
    for (size_t i = 0; i < m->n_pulls; i++) {
        const struct branch *branch = branch_of(&m->pulls[i], let_down);
        size_t *picked = mem_calloc(branch->n, sizeof *picked);
        size_t n = frame_decimate(frame, branch, picked);
        for (size_t k = 0; k < n; k++)
            add_row(script,
                    (double[]){frame_x(frame, branch->draw_m[picked[k]]),
                               frame_y(frame, branch->force_n[picked[k]])},
                    2);
        free(picked);
        if (i + 1 < m->n_pulls)
            buf_char(script, '\n');
    }
    buf_text(script, "END_OF_DATA\n");
}

/* Draw position, force of the draw, force of the let-down (0 where there is none), of the first
 * pull between brace height and full draw: what the energies are the areas of. */
static void add_energy(const struct plot_frame *frame, struct buf *script)
{
    const struct pull *pull = &frame->plot->measurement->pulls[0];
    const struct figure *brace = frame_figure(frame, FIGURE_BRACE_HEIGHT);
    const struct figure *full = frame_figure(frame, FIGURE_FULL_DRAW);
    bool has = frame_figure(frame, FIGURE_STORED_ENERGY)->present && brace->present &&
               full->present && full->value_si > brace->value_si && pull->draw.n > 1;
    bool has_loop = has && frame_figure(frame, FIGURE_HYSTERESIS)->present && pull->let_down.n > 1;
    int steps = has ? frame->width : 0;
    buf_text(script, "$ENERGY << END_OF_DATA\n");
    for (int i = 0; i <= steps; i++) {
        double share = steps > 0 ? (double)i / steps : 0;
        double x_m = brace->value_si + share * (full->value_si - brace->value_si);
        double draw_n = has ? fmax(0, branch_force_at(&pull->draw, x_m)) : 0;
        double back_n = has_loop ? fmax(0, branch_force_at(&pull->let_down, x_m)) : 0;
        add_row(script,
                (double[]){frame_x(frame, has ? x_m : 0), frame_y(frame, draw_n),
                           frame_y(frame, back_n)},
                3);
    }
    buf_text(script, "END_OF_DATA\n");
    buf_printf(script, "has_energy = %d\nhas_loop = %d\n", has, has_loop);
}

/* --- the script ------------------------------------------------------------------------------ */

static void add_terminal(const struct plot_frame *frame, struct buf *script)
{
    int w = frame->width, h = frame->height;
    buf_text(script, "set encoding utf8\nset decimalsign '.'\n");
    switch (frame->plot->picture) {
    case PICTURE_SVG:
        buf_printf(script,
                   "set terminal svg size %d,%d dynamic noenhanced font 'DejaVu Sans,16' "
                   "background '#ffffff'\n",
                   w, h);
        break;
    case PICTURE_PNG:
        buf_printf(script,
                   "set terminal pngcairo size %d,%d noenhanced font 'DejaVu Sans,12' "
                   "background '#ffffff'\n",
                   w, h);
        break;
    case PICTURE_PDF:
        buf_printf(script,
                   "set terminal pdfcairo size %d.%02din,%d.%02din noenhanced "
                   "fontscale 0.71 font 'DejaVu Sans,12'\n",
                   w / 100, w % 100, h / 100, h % 100);
        break;
    case PICTURE_TEXT:
        buf_printf(script, "set terminal dumb size %d,%d nofeed mono noenhanced\n", w, h);
        break;
    }
}

void plot_curve_data(const struct plot_curve *plot, struct buf *script)
{
    struct plot_frame frame = make_frame(plot);
    const struct figure *full = frame_figure(&frame, FIGURE_FULL_DRAW);
    const struct measurement *m = plot->measurement;
    bool has_let_down = false;
    for (size_t i = 0; i < m->n_pulls; i++)
        has_let_down = has_let_down || m->pulls[i].let_down.n > 0;
    add_terminal(&frame, script);
    add_title(&frame, script);
    add_string(script, "length_unit", unit_name(frame.length));
    add_string(script, "force_unit", unit_name(frame.force));
    add_variable(script, "ata_offset", frame_x(&frame, ATA_AXIS_OFFSET_M));
    add_variable(script, "x_min", frame.x_min);
    add_variable(script, "x_max", frame.x_max);
    add_variable(script, "y_max", frame.y_max);
    add_variable(script, "margin_left", (double)LEFT / frame.width);
    add_variable(script, "margin_right", 1 - (double)RIGHT / frame.width);
    add_variable(script, "margin_bottom", (double)BELOW / frame.height);
    add_variable(script, "margin_top", 1 - (double)ABOVE / frame.height);
    add_variable(script, "line", (double)LINE / frame.height);
    buf_printf(script, "n_pulls = %zu\nhas_let_down = %d\nhas_full_draw = %d\n", m->n_pulls,
               has_let_down, full->present);
    add_variable(script, "mark_size", plot->picture == PICTURE_SVG ? 0.65 : 1);
    double full_draw = full->present ? frame_x(&frame, full->value_si) : frame.x_min;
    buf_text(script, "$FULL_DRAW << END_OF_DATA\n");
    add_row(script, (double[]){full_draw, 0}, 2);
    add_row(script, (double[]){full_draw, frame.y_max}, 2);
    buf_text(script, "END_OF_DATA\n");
    add_branches(&frame, false, script);
    add_branches(&frame, true, script);
    add_energy(&frame, script);
    add_plot_labels(&frame, script);
}

/* Lines without blanks at their end, and no empty ones at top and bottom. */
static void add_tidy_lines(struct buf *out, const char *text)
{
    size_t empty = 0, first = out->length;
    while (*text != '\0') {
        size_t length = strcspn(text, "\n"), used = length;
        while (used > 0 && text[used - 1] == ' ')
            used--;
        for (; used > 0 && empty > 0; empty--)
            buf_text(out, out->length > first ? "\n" : "");
        buf_add(out, text, used);
        if (used > 0)
            buf_char(out, '\n');
        else
            empty++;
        text += length + (text[length] == '\n');
    }
}

static enum status draw(const struct buf *script, enum picture picture, struct buf *out,
                        struct err *err)
{
    if (picture != PICTURE_TEXT)
        return gnuplot_draw(script, picture, out, err);
    struct buf text = {0};
    enum status status = gnuplot_draw(script, picture, &text, err);
    if (status == STATUS_OK)
        add_tidy_lines(out, buf_string(&text));
    buf_clear(&text);
    return status;
}

enum status plot_curve(const struct plot_curve *plot, struct buf *out, struct err *err)
{
    struct buf script = {0}, template_text = {0}, path = {0};
    const char *name = is_text(plot) ? "curve_text.gp" : "curve.gp";
    enum status status = template_read(name, &template_text, &path, err);
    if (status == STATUS_OK) {
        size_t lines = 1;
        plot_curve_data(plot, &script);
        for (size_t i = 0; i < script.length; i++)
            lines += script.text[i] == '\n';
        buf_add(&script, buf_string(&template_text), template_text.length);
        status = draw(&script, plot->picture, out, err);
        if (status != STATUS_OK)
            err_prefix(err, "%s (its first line is line %zu)", buf_string(&path), lines);
    }
    buf_clear(&script);
    buf_clear(&template_text);
    buf_clear(&path);
    return status;
}
