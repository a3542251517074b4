/*
 * interval: coverage intervals: from a value with standard uncertainty (normal, Student t), and
 * from a Monte Carlo sample (JCGM 101). Pure numbers; the caller knows the unit.
 */
#ifndef PULLCURVE_CURVE_INTERVAL_H
#define PULLCURVE_CURVE_INTERVAL_H

#include "base/status.h"

#include <stddef.h>

struct interval {
    double low, high;
};

/* Two-sided coverage factor: P(|t| <= k) = probability for Student t with dof degrees of freedom;
 * INFINITY gives the normal one. probability in (0, 1), dof > 0, asserted. */
double interval_coverage_factor(double probability, double dof);

/* P(T <= t) of Student t; INFINITY for dof gives the normal distribution. dof > 0. */
double interval_student_cdf(double t, double dof);

/* value -+ k u. u >= 0. */
struct interval interval_student(double value, double u, double dof, double probability);
struct interval interval_normal(double value, double u, double probability);

/* Effective degrees of freedom of u^2 = sum of u[i]^2 (Welch and Satterthwaite, JCGM 100 G.4.1).
 * dof[i] may be INFINITY. INFINITY where every u[i] with finite dof is 0. */
double interval_effective_dof(const double *u, const double *dof, size_t n);

/* A Monte Carlo sample summed up: mean and standard deviation (JCGM 101 7.6). */
struct interval_sample {
    double mean, sd;
};

/* n >= 2, values finite. */
struct interval_sample interval_sample_summary(const double *values, size_t n);

/* Sorts a sample upwards, as the two functions below want it. */
void interval_sort(double *values, size_t n);

/* The probabilistically symmetric coverage interval of a sorted sample (JCGM 101 7.7.2), and the
 * shortest one (7.7.4). Errors: STATUS_TOO_FEW where the sample is too small to tell
 * (n < 1/(1 - probability), or fewer than 2). */
enum status interval_symmetric(const double *sorted, size_t n, double probability,
                               struct interval *interval, struct err *err);
enum status interval_shortest(const double *sorted, size_t n, double probability,
                              struct interval *interval, struct err *err);

/* The numerical tolerance that goes with a standard uncertainty when n_digits (1 or 2) of it are
 * meaningful: u = c x 10^l, tolerance 10^l / 2 (JCGM 101 7.9.2). u > 0. */
double interval_tolerance(double u, int n_digits);

#endif
