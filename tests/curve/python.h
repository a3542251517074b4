/*
 * python: numbers computed live by numpy and scipy, as outside truth for the tests of the curve
 * room.
 */
#ifndef PULLCURVE_TESTS_CURVE_PYTHON_H
#define PULLCURVE_TESTS_CURVE_PYTHON_H

#include <stddef.h>

/* Runs the script with `import numpy as np, scipy.stats as st` before it; it prints at least n
 * numbers separated by white space, which are read into numbers[0..n). Ends the test as failed
 * where it prints fewer or python3 can't run it. */
void python_numbers(const char *script, double *numbers, size_t n);

#endif
