/*
 * corrections: what the fixture was corrected for, for people and for machines.
 */
#ifndef PULLCURVE_SHOW_CORRECTIONS_H
#define PULLCURVE_SHOW_CORRECTIONS_H

#include "base/buf.h"
#include "base/fixture.h"
#include "show/shown.h"

#include <jansson.h>

/* Adds one line, "Corrected for: give 0.0400 in at 100 lbf, pull angle 2.00 deg, hook 0.30 lbf,
 * tare, drift", broken where it is longer than a terminal; nothing where nothing is corrected. */
void corrections_text(struct buf *out, const struct fixture *fixture, enum unit_system units);

/* {"give": {"value", "u", "unit"}, "angle": the same, "hook": the same, "tare": true or false,
 * "drift": the same}; give, angle and hook are null where they are not corrected for. The caller
 * owns the tree. */
json_t *corrections_json(const struct fixture *fixture, enum unit_system units);

#endif
