/*
 * pull: one draw and its let-down, from picked readings to curves and figures.
 */
#ifndef PULLCURVE_CURVE_PULL_H
#define PULLCURVE_CURVE_PULL_H

#include "curve/evaluate.h"
#include "curve/measure.h"
#include "curve/sweep.h"

/* What the uncertainty of a pull is worked out from. */
struct pull_outcome {
    struct values values;
    bool has_features; /* false for a table of a few points */
    struct pull_features features;
};

/* Measures the pull that `sweep` describes. spike marks readings that are not to be used. Adds to
 * *warnings. Caller ends it with pull_clear. Errors: STATUS_TOO_FEW (fewer than two positions on
 * the draw), STATUS_BAD_INPUT (the force does not rise along the draw). On failure *pull is empty.
 */
enum status pull_measure(const struct readings *readings, const bool *spike,
                         const struct sweep *sweep, double tolerance_m,
                         const struct measure_settings *settings, struct pull *pull,
                         struct pull_outcome *outcome, struct warnings *warnings, struct err *err);

void pull_clear(struct pull *pull);

#endif
