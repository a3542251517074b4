/*
 * figures_json: figures and warnings for machines. Shapes as docs and help promise:
 * {"peak_force": {"value": 60.1, "unit": "lbf", "u": 0.12, "low": 59.8, "high": 60.3}, ...} and
 * [{"code": "no_wall", "text": "..."}, ...].
 */
#ifndef PULLCURVE_SHOW_FIGURES_JSON_H
#define PULLCURVE_SHOW_FIGURES_JSON_H

#include "curve/figures.h"
#include "curve/measure.h"
#include "curve/warning.h"
#include "show/shown.h"

#include <jansson.h>

/* One figure; what is not known is null. The caller owns the tree (json_decref), as below. */
json_t *figure_json(const struct figure *figure, enum unit unit);

/* All figures by name. */
json_t *figures_json(const struct figures *figures, enum unit_system units);

json_t *warnings_json(const struct warnings *warnings, enum unit_system units);

/* The settings that decide about the figures. */
json_t *settings_json(const struct measure_settings *settings,
                      const struct measurement *measurement, enum unit_system units);

#endif
