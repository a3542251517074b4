/*
 * calibrate_reference: from what stands on a weight, a gauge block or in a table to a reference of
 * a calibration point in N or m, with its uncertainty. Part of the verb calibrate.
 */
#ifndef PULLCURVE_VERBS_CALIBRATE_REFERENCE_H
#define PULLCURVE_VERBS_CALIBRATE_REFERENCE_H

#include "base/calibration_point.h"
#include "base/status.h"
#include "base/units.h"
#include "curve/gravity.h"
#include "verbs/options.h"

#include <stdbool.h>

/* How references are read. */
struct reference_settings {
    bool masses; /* loads stated in lbf or kgf are the marks of weights that hang */
    struct gravity gravity;
    bool place_stated; /* by --gravity or --latitude */
    double mass_density_kg_m3, air_density_kg_m3;
    const char *u_text; /* a standard uncertainty as stated for all of them, NULL where none */
};

/* Reads --masses, --latitude, --height, --gravity, --mass-density, --air-density, --u-reference.
 * Errors: STATUS_USAGE. */
enum status reference_settings_read(struct reference_settings *settings,
                                    const struct options *options, struct err *err);

/* With --masses a load in lbf is a mass in lb, one in kgf a mass in kg; any other unit of force is
 * STATUS_USAGE. Without, and for masses and lengths, the unit stays. */
enum status reference_unit(const struct reference_settings *settings, enum unit stated,
                           enum unit *unit, struct err *err);

/* The standard uncertainty that u_text states for a reference: "0.02 lbf", "5 g" or "0.1 %" of it;
 * 0 where nothing is stated and for a reference of 0. `unit` is the one assumed. Errors:
 * STATUS_USAGE with `what` named. */
enum status reference_u(const char *u_text, const char *what, enum unit unit, double value_si,
                        double *u_si, struct err *err);

/* The point of a reference of this quantity (force, length, or mass: then the force it hangs
 * with), with count, run and direction left 0. */
struct calibration_point reference_point(const struct reference_settings *settings,
                                         enum quantity quantity, double value_si, double u_si);

#endif
