/*
 * calibrate_give: the give of the fixture from a table of draw position and force, taken with a
 * rigid bar in place of the string. Part of the verb calibrate; stores nothing.
 */
#ifndef PULLCURVE_VERBS_CALIBRATE_GIVE_H
#define PULLCURVE_VERBS_CALIBRATE_GIVE_H

#include "base/status.h"
#include "show/shown.h"
#include "verbs/options.h"

/* Reads --table (with --columns), fits, prints the result and the lines for the bench file, or with
 * --json an object. Errors: STATUS_USAGE, those of tables and of give_fit. */
enum status calibrate_give(const struct options *options, enum unit_system units, struct err *err);

#endif
