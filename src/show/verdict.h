/*
 * verdict: does a bow meet its spec, for people and for machines.
 *
 * Shapes of JSON: docs/verify.md. Not for: the decision (curve/spec.h).
 */
#ifndef PULLCURVE_SHOW_VERDICT_H
#define PULLCURVE_SHOW_VERDICT_H

#include "base/buf.h"
#include "curve/spec.h"
#include "show/shown.h"

#include <jansson.h>
#include <stddef.h>
#include <stdint.h>

/* A rule that limits come from. All texts may hold anything. */
struct verdict_rule {
    const char *file;   /* as given */
    const char *name;   /* what it limits, whose rule it is */
    const char *source; /* where its numbers were found */
    const char *status; /* how far that is to be trusted; NULL where not said */
    const char *date;   /* as of when: YYYY-MM-DD */
};

/* A single number of the maker's with no tolerance: shown, not judged. */
struct verdict_nominal {
    enum figure_id figure;
    double value_si;
};

/* What is shown; everything is borrowed. */
struct verdict_page {
    const struct spec_verdict *verdicts; /* n > 0 */
    size_t n;
    const struct spec_subject *subject;
    const struct conformity_settings *decision;
    const char *bow_name; /* whose makers' limits are among them; NULL where none */
    const char *bow_key;
    int64_t bow_statement;
    const char *bow_made_at;
    const struct verdict_rule *rules;
    size_t n_rules;
    const struct verdict_nominal *nominals;
    size_t n_nominals;
    const struct warnings *warnings;
    enum unit_system units;
};

/* Adds how it is decided, a table with one row a limit by where the limits come from, what the
 * verdict is as a whole, and what to know about it. */
void verdict_text(struct buf *out, const struct verdict_page *page);

/* Puts the members "bow", "rules", "limits", "not_judged", "verdict" and "warnings" into root. */
void verdict_json(json_t *root, const struct verdict_page *page);

#endif
