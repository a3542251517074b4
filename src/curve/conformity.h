/*
 * conformity: does a measured value meet a tolerance, given its uncertainty?
 *
 * Probability of conformity after JCGM 106:2012, decision rule after ISO 14253-1:2017: a verdict
 * is proven at a probability (95 % by default), and what is proven on neither side is said so.
 * Pure numbers; value, uncertainty and limits share one unit. Not for: which limits a bow has.
 */
#ifndef PULLCURVE_CURVE_CONFORMITY_H
#define PULLCURVE_CURVE_CONFORMITY_H

#include "base/status.h"

#include <stdbool.h>

/* One or both limits; low < high where both are set. A value on the limit is inside. */
struct tolerance {
    bool has_low, has_high;
    double low, high;
};

/* A measured value: with standard uncertainty u >= 0 and degrees of freedom dof > 0 (INFINITY: the
 * normal distribution). What is known of the quantity is Student t around the value. */
struct measured {
    double value, u, dof;
};

enum conformity_rule {
    CONFORMITY_GUARDED, /* a verdict must be proven at settings.probability */
    CONFORMITY_SIMPLE,  /* inside is meets, outside is fails; the risk is shared */
};

struct conformity_settings {
    enum conformity_rule rule;
    double probability; /* above 0.5, below 1 */
};

/* Guarded at 0.95 (ISO 14253-1:2017's default; from memory). */
struct conformity_settings conformity_defaults(void);

enum verdict { VERDICT_MEETS, VERDICT_FAILS, VERDICT_NOT_PROVEN };

/* "meets", "fails", "not_proven": as in JSON. */
const char *verdict_name(enum verdict verdict);

/* Where a value with this uncertainty would be proven to meet the tolerance; possible is false
 * where no value would (the uncertainty is too large for the tolerance). An end that has no limit
 * is infinite. */
struct acceptance {
    bool possible;
    double low, high;
};

struct conformity {
    double probability; /* that the quantity lies inside the tolerance, 0..1 */
    enum verdict verdict;
    struct acceptance acceptance;
};

/* The decision. With CONFORMITY_GUARDED: meets where probability >= settings.probability, fails
 * where probability <= 1 - settings.probability, else not_proven. At least one limit is set
 * (asserted, as all ranges above). */
struct conformity conformity_decide(const struct tolerance *tolerance,
                                    const struct measured *measured,
                                    const struct conformity_settings *settings);

/* P(low <= quantity <= high). */
double conformity_probability(const struct tolerance *tolerance, const struct measured *measured);

/* Risks of an inspection over all that a process makes (JCGM 106:2012 9.5): the process makes items
 * normally distributed with this mean and sd, each is measured with u and accepted where the
 * measured value lies within `accept`. */
struct conformity_risks {
    double consumer; /* of all items: bad and accepted */
    double producer; /* of all items: good and rejected */
    double good;     /* of all items: good */
};

/* process_sd > 0, u > 0. Errors: STATUS_NO_FIT where the integral does not settle. */
enum status conformity_global_risks(double process_mean, double process_sd, double u,
                                    const struct tolerance *tolerance,
                                    const struct tolerance *accept, struct conformity_risks *risks,
                                    struct err *err);

#endif
