/*
 * simroot: the root of a monotone function of one unknown, to the last digits.
 *
 * Newton's method with exact derivatives, kept inside a bracket that each value narrows. The
 * simulated bow solves all of its constraints with it.
 */
#ifndef PULLCURVE_BENCH_SIMROOT_H
#define PULLCURVE_BENCH_SIMROOT_H

#include <stdbool.h>

/* The value at `at`; its derivative goes to *slope. */
typedef double simroot_function(double at, double *slope, void *context);

/* Finds the root between low and high (their values are not needed), beginning at guess. `rising`
 * says which way the function runs. false where there is no root in between; *root is then
 * untouched. */
bool simroot_find(simroot_function *function, void *context, bool rising, double low, double high,
                  double guess, double *root);

#endif
