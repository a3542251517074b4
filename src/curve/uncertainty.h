/*
 * uncertainty: what is known of the errors of a measurement, and the parts each gives a figure.
 *
 * Data only; curve/montecarlo.h does the work.
 */
#ifndef PULLCURVE_CURVE_UNCERTAINTY_H
#define PULLCURVE_CURVE_UNCERTAINTY_H

#include "curve/figures.h"

#include <stdbool.h>
#include <stddef.h>

/* id, name in JSON, label for people */
#define SOURCE_LIST(X)                                                       \
    X(SOURCE_FORCE_CALIBRATION, "force_calibration", "Force calibration")    \
    X(SOURCE_TRAVEL_CALIBRATION, "travel_calibration", "Travel calibration") \
    X(SOURCE_NOISE, "noise", "Noise of the readings")                        \
    X(SOURCE_SAMPLING, "sampling", "Distance of the readings")               \
    X(SOURCE_DATUM, "datum", "Brace height as entered")                      \
    X(SOURCE_DRIFT, "drift", "Zero drift of the force")                      \
    X(SOURCE_COMPLIANCE, "compliance", "Give of the fixture")                \
    X(SOURCE_REPEATABILITY, "repeatability", "Repeatability of the pulls")

enum source {
#define SOURCE_ENUM(id, name, label) id,
    SOURCE_LIST(SOURCE_ENUM)
#undef SOURCE_ENUM
        SOURCE_COUNT
};

const char *source_name(enum source source);
const char *source_label(enum source source);

/* A covariance of an error polynomial with terms 1, v, v^2. */
struct error_model {
    double covariance[3][3];
};

/* Standard uncertainties of what moves the whole curve; all zero where nothing is known. */
struct uncertainty_inputs {
    size_t trials; /* 0: no uncertainty is worked out */
    unsigned long seed;
    struct error_model force;  /* error of force as a polynomial of force, N */
    struct error_model travel; /* error of position as a polynomial of position less brace, m */
    bool datum_from_brace;     /* position at rest was set to the brace height that was entered: an
                                  error     of travel at brace itself has gone into the datum */
    double u_datum_m;
    double u_drift_n; /* zero of the force over a pull */
    double u_compliance_m_per_n;
};

/* The standard uncertainty that each source alone gives each figure. */
struct budget {
    double u_si[SOURCE_COUNT][FIGURE_COUNT];
};

#endif
