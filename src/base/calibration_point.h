/*
 * calibration_point: one known load or length and what the converter showed for it.
 *
 * The record keeps them, the curve room fits them (curve/calibration.h).
 */
#ifndef PULLCURVE_BASE_CALIBRATION_POINT_H
#define PULLCURVE_BASE_CALIBRATION_POINT_H

#include <stdbool.h>

/* One known load or length as it was set, and what the converter showed. */
struct calibration_point {
    double reference_si;   /* N or m */
    double u_reference_si; /* its standard uncertainty, 0 where none is stated */
    double count;          /* mean count shown */
    double u_count;        /* standard uncertainty of that mean, 0 where not known */
    int run;               /* 1, 2, ...: which series of loads it belongs to */
    bool decreasing;       /* reached by taking load away */
};

#endif
