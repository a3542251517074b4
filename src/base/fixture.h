/*
 * fixture: what is known of a drawing fixture beyond its two sensors.
 *
 * The bench room reads it from the bench file, the record keeps it with each capture, the curve
 * room corrects for it. All zero (nothing known, no correction) by default; u_ is the standard
 * uncertainty.
 */
#ifndef PULLCURVE_BASE_FIXTURE_H
#define PULLCURVE_BASE_FIXTURE_H

#include <stdbool.h>

struct fixture {
    double give_m_per_n, u_give_m_per_n; /* of load cell and frame under load */
    double angle_rad, u_angle_rad;       /* between the pull line and the line of draw */
    double hook_n, u_hook_n;             /* weight of the hook on the load cell, as it reads */
    bool tare;                           /* the force at rest before the draw counts as zero */
    bool drift;                          /* the zero is carried on straight from rest to rest */
    double u_brace_m; /* of the brace height, as the shop measures it; 0: not known */
};

#endif
