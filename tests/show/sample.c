#include "sample.h"

#include "base/mem.h"
#include "base/units.h"

#include <math.h>
#include <stdlib.h>

static double force_lbf(double draw_in)
{
    if (draw_in < 12)
        return 60 * (draw_in - 7) / 5;
    if (draw_in < 22)
        return 60;
    if (draw_in < 28)
        return 37.5 + 22.5 * cos((draw_in - 22) / 6 * 3.14159265358979);
    if (draw_in < 28.5)
        return 15;
    return 15 + 90 * (draw_in - 28.5);
}

static struct branch make_branch(size_t n, double share)
{
    struct branch branch = {.n = n,
                            .draw_m = mem_calloc(n, sizeof(double)),
                            .force_n = mem_calloc(n, sizeof(double)),
                            .force_sd_n = mem_calloc(n, sizeof(double)),
                            .slope_n_per_m = mem_calloc(n, sizeof(double))};
    for (size_t i = 0; i < n; i++) {
        double draw_in = 7 + 22 * (double)i / (double)(n - 1);
        branch.draw_m[i] = unit_to_si(UNIT_IN, draw_in);
        branch.force_n[i] = unit_to_si(UNIT_LBF, share * force_lbf(draw_in));
    }
    return branch;
}

void sample_figure(struct figures *figures, enum figure_id id, double value, double u)
{
    enum unit unit = figure_info(id)->trade_unit;
    figures->f[id] = (struct figure){.present = true,
                                     .has_u = u > 0,
                                     .value_si = unit_to_si(unit, value),
                                     .u_si = unit_to_si(unit, u),
                                     .low_si = unit_to_si(unit, value - 2 * u),
                                     .high_si = unit_to_si(unit, value + 2 * u)};
}

static struct figures make_figures(void)
{
    static const struct {
        enum figure_id id;
        double value, u;
    } rows[] = {
        {FIGURE_PEAK_FORCE, 60.126, 0.123},
        {FIGURE_PEAK_POSITION, 17, 0.3},
        {FIGURE_HOLDING_FORCE, 15.0, 0.0996},
        {FIGURE_VALLEY_POSITION, 28, 0.02},
        {FIGURE_LET_OFF, 75, 0.2},
        {FIGURE_LET_OFF_LET_DOWN, 77, 0.2},
        {FIGURE_BRACE_HEIGHT, 7, 0.01},
        {FIGURE_FULL_DRAW, 28, 0.02},
        {FIGURE_DRAW_LENGTH_ATA, 29.75, 0.02},
        {FIGURE_POWER_STROKE, 21, 0.02},
        {FIGURE_STORED_ENERGY, 81.25, 0.2},
        {FIGURE_RETURNED_ENERGY, 74.75, 0.2},
        {FIGURE_HYSTERESIS, 6.5, 0.05},
        {FIGURE_HYSTERESIS_PCT, 8, 0.06},
        {FIGURE_STATIC_EFFICIENCY, 92, 0.06},
        {FIGURE_ENERGY_PER_PEAK, 1.351, 0.002},
        {FIGURE_FULLNESS, 0.772, 0.001},
        {FIGURE_WALL_ONSET, 28.5, 0.01},
        {FIGURE_WALL_STIFFNESS, 90, 1.5},
        {FIGURE_STOP_STAGGER, 0.05, 0.01},
        {FIGURE_VALLEY_WIDTH, 1.2, 0.02},
        {FIGURE_PLATEAU, 10, 0.05},
        {FIGURE_STEEPEST_RISE, 12, 0.1},
        {FIGURE_STEEPEST_DROP, -11.8, 0.1},
    };
    struct figures figures = {0};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        sample_figure(&figures, rows[i].id, rows[i].value, rows[i].u);
    return figures;
}

struct measurement sample_measurement(size_t n)
{
    struct measurement measurement = {.n_pulls = 1, .full_draw = FULL_DRAW_VALLEY};
    measurement.pulls = mem_calloc(1, sizeof(struct pull));
    measurement.pulls[0] = (struct pull){.draw = make_branch(n, 1),
                                         .let_down = make_branch(n, 0.92),
                                         .figures = make_figures(),
                                         .full_draw = FULL_DRAW_VALLEY};
    measurement.figures = make_figures();
    return measurement;
}

static void branch_clear(struct branch *branch)
{
    free(branch->draw_m);
    free(branch->force_n);
    free(branch->force_sd_n);
    free(branch->slope_n_per_m);
    *branch = (struct branch){0};
}

void sample_clear(struct measurement *measurement)
{
    for (size_t i = 0; i < measurement->n_pulls; i++) {
        branch_clear(&measurement->pulls[i].draw);
        branch_clear(&measurement->pulls[i].let_down);
    }
    free(measurement->pulls);
    *measurement = (struct measurement){0};
}

void sample_absent(struct measurement *measurement, enum figure_id id)
{
    measurement->figures.f[id] = (struct figure){0};
    measurement->pulls[0].figures.f[id] = (struct figure){0};
}
