/*
 * evaluate: from the features of a pull to its figures, for the best estimate and for each trial of
 * a Monte Carlo run alike (JCGM 101: the model evaluated with drawn inputs).
 */
#ifndef PULLCURVE_CURVE_EVALUATE_H
#define PULLCURVE_CURVE_EVALUATE_H

#include "curve/feature.h"
#include "curve/figures.h"
#include "curve/measure.h"

#include <stdbool.h>

/* What the figures are made of. A value holds where its flag does. */
struct basics {
    double peak_n, peak_m;
    double brace_m;
    double plateau_m, rise_n_per_m, drop_n_per_m;
    bool has_valley, has_width, has_let_down_valley, has_wall;
    double holding_n, valley_m, width_m, let_down_holding_n;
    double onset_m, stiffness_n_per_m;
    bool has_stagger;
    double stagger_m;
    bool has_full_draw, has_stored, has_returned;
    double full_draw_m, stored_j, returned_j;
};

/* Values of all figures, and which of them exist. */
struct values {
    bool present[FIGURE_COUNT];
    double si[FIGURE_COUNT];
};

/* Puts figures together: ratios and differences of the basics (docs/definitions.md). */
void evaluate_figures(const struct basics *basics, struct values *values);

/* Errors that move the whole curve, as drawn for one trial; all zero for the best estimate.
 * Force: F + force[0] + force[1] F + force[2] F^2. Position, u = x - brace:
 * x + datum_m + travel[0] + travel[1] u + travel[2] u^2 - compliance_m_per_n F. */
struct systematic {
    double force[3];
    double let_down_n; /* zero of the let-down against that of the draw */
    double travel[3];
    double datum_m;
    double compliance_m_per_n;
};

/* Noise as drawn for one trial: standard normal numbers; all zero for the best estimate. */
enum { SHAKE_FEATURES = 5 };
struct shake {
    double feature[SHAKE_FEATURES][POLY_TERMS_MAX]; /* peak, bottom, rise, drop, end */
    double crossing[CROSSINGS_MAX];
    double stagger, band, wall_middle, wall_slope, energy, sampling, rest;
};

/* One pull, as features. */
struct pull_features {
    struct side draw, let_down;
    bool has_let_down, let_down_closed;
    bool valley_at_end;
    enum full_draw_rule rule; /* never AUTO */
    bool has_full_draw;
    double stated_m;           /* full draw for STATED and LARGEST */
    double limit_m;            /* nominal full draw, or the end where there is none */
    double brace_m, u_brace_m; /* and its uncertainty from the scatter of the rest readings */
    double valley_band_n, plateau_share;
};

/* Bottom of a side: lowest force and its position, after `shake`. */
struct poly_extreme evaluate_bottom(const struct side *side, const struct shake *shake);

/* Position of the wall onset for a holding level, after `shake`. */
double evaluate_onset_m(const struct side *side, double holding_n, const struct shake *shake);

/* Evaluates the model. */
void evaluate_pull(const struct pull_features *pull, const struct shake *draw,
                   const struct shake *let_down, const struct systematic *error,
                   struct basics *basics);

#endif
