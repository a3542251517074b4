/*
 * spec: the limits that a bow's figures should keep, and the verdict on each and on all.
 *
 * Decides with curve/conformity, after a look at what a figure is worth: one that was entered, or
 * that the pull ended too early to know, proves nothing. All numbers are SI. Not for: where limits
 * are read from (verbs), how verdicts are shown (show/verdict).
 */
#ifndef PULLCURVE_CURVE_SPEC_H
#define PULLCURVE_CURVE_SPEC_H

#include "curve/conformity.h"
#include "curve/figures.h"
#include "curve/measure.h"

#include <stdbool.h>
#include <stddef.h>

/* Who set a limit. */
enum spec_origin {
    SPEC_MAKER,  /* the registered bow */
    SPEC_STATED, /* the user, now */
    SPEC_RULE,   /* a rule file */
};

/* "maker", "stated", "rule": as in JSON. */
const char *spec_origin_name(enum spec_origin origin);

struct spec_limit {
    enum figure_id figure;
    enum spec_origin origin;
    size_t rule; /* of SPEC_RULE: the caller's number of the rule */
    struct tolerance tolerance;
};

/* A list of limits; start as {0}, end with spec_clear. A figure may have several. */
struct spec {
    size_t n, capacity;
    struct spec_limit *limits;
};

/* At least one side is set, and low < high where both are (asserted). */
void spec_add(struct spec *spec, const struct spec_limit *limit);

void spec_clear(struct spec *spec);

/* --- what is judged ------------------------------------------------------------------------- */

/* What the number of a figure stands for. */
enum spec_basis {
    SPEC_MEASURED,
    SPEC_ENTERED,  /* it was entered by a person */
    SPEC_ASSUMED,  /* the readings begin without a rest: it is where they begin */
    SPEC_AT_LEAST, /* the pull ended early: the bow's own figure is this or larger */
    SPEC_AT_MOST,  /* the same, this or smaller */
    SPEC_OPEN,     /* the pull ended early: the bow's own figure may be larger or smaller */
};

struct spec_subject {
    struct figures figures;
    enum spec_basis basis[FIGURE_COUNT];
};

/* The figures of a measurement over all pulls, and what each stands for. A pull that shows neither
 * valley nor wall ended early, and so did one of a few readings whose smallest force is its last,
 * unless settings->full_draw says where full draw is. brace_entered: the brace height is known from
 * a person alone. */
struct spec_subject spec_subject_of(const struct measurement *measurement,
                                    const struct measure_settings *settings, bool brace_entered);

/* Adds a standard uncertainty that the readings do not hold (that of the instrument, say), in
 * squares. A figure that was entered counts as measured from then on. u_si > 0. Does nothing where
 * the figure is not present. */
void spec_add_u(struct spec_subject *subject, enum figure_id figure, double u_si);

/* A figure as Student's t: where its 95 % interval is clearly wider than 1.96 u, since it rests on
 * few pulls or readings, with the degrees of freedom (1 or more) that such an interval belongs to;
 * else normal. figure->present and has_u hold. */
struct measured spec_measured(const struct figure *figure);

/* --- the verdict ---------------------------------------------------------------------------- */

/* id, code in JSON, text */
#define SPEC_REASON_LIST(X)                                                                   \
    X(SPEC_REASON_NONE, "", "")                                                               \
    X(SPEC_REASON_NO_VALUE, "no_value", "This figure can't be known from these readings.")    \
    X(SPEC_REASON_NO_U, "no_uncertainty",                                                     \
      "The uncertainty of this figure is not known; --add-u can state it.")                   \
    X(SPEC_REASON_ENTERED, "entered",                                                         \
      "This figure was entered, not measured here; --add-u can state how well it is known.")  \
    X(SPEC_REASON_ASSUMED, "assumed",                                                         \
      "The readings hold no rest: this figure is only where they begin.")                     \
    X(SPEC_REASON_PULL_ENDED, "pull_ended",                                                   \
      "The pull ended before the end of the bow's draw was seen, so that its own figure may " \
      "differ. Draw to the wall, or say with --full-draw where full draw is.")                \
    X(SPEC_REASON_UNCERTAINTY, "uncertainty", "The uncertainty reaches across a limit.")      \
    X(SPEC_REASON_TOO_UNCERTAIN, "too_uncertain",                                             \
      "The uncertainty is too large for these limits: no value could be proven to meet them.")

enum spec_reason {
#define SPEC_REASON_ENUM(id, name, text) id,
    SPEC_REASON_LIST(SPEC_REASON_ENUM)
#undef SPEC_REASON_ENUM
};

const char *spec_reason_name(enum spec_reason reason);
const char *spec_reason_text(enum spec_reason reason);

struct spec_verdict {
    struct spec_limit limit;
    struct figure figure; /* as judged */
    enum verdict verdict;
    enum spec_reason reason; /* why not proven; with simple acceptance also what to keep in mind
                                about a verdict */
    bool has_probability;
    double probability; /* that the figure meets the limit */
    double dof;         /* that it was worked out with; INFINITY: normal */
    bool has_acceptance;
    struct acceptance acceptance; /* where a value with this uncertainty would be proven */
};

/* Judges one limit. With CONFORMITY_GUARDED a figure without value or without uncertainty, or one
 * that stands for something else than the bow's own figure, is not proven, but for a bound that
 * proves it either way. With CONFORMITY_SIMPLE every value is compared as it is. */
struct spec_verdict spec_decide(const struct spec_limit *limit, const struct spec_subject *subject,
                                const struct conformity_settings *settings);

/* Fails where one fails, else not proven where one is, else meets. n > 0. */
enum verdict spec_overall(const struct spec_verdict *verdicts, size_t n);

#endif
