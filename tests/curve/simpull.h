/*
 * simpull: noise-free pulls of the simulated bows, for the tests of the curve room.
 */
#ifndef PULLCURVE_TESTS_CURVE_SIMPULL_H
#define PULLCURVE_TESTS_CURVE_SIMPULL_H

#include "bench/simbow.h"
#include "curve/convert.h"

#include <stddef.h>

enum { SIMPULL_MAX = 4000 };

struct simpull {
    double draw_m[SIMPULL_MAX], force_n[SIMPULL_MAX];
    size_t n;
    double direction; /* of friction */
};

/* Opens fixtures/bows/NAME.ini, the last stop landing stop_bottom_rad later than drawn. Fails the
 * test where that fails. */
struct simbow *simpull_bow(const char *name, double stop_bottom_rad);

/* A hand that draws in about six seconds at 80 readings a second, slows down before the top, holds
 * and lets down; with 60 readings of rest before and after. */
void simpull_make(struct simpull *pull, const struct simbow *bow, double top_m);

struct readings simpull_readings(const struct simpull *pull);

#endif
