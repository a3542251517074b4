/*
 * verify_limits: the limits that a bow is judged by, out of the record, the command line and rule
 * files.
 */
#ifndef PULLCURVE_VERBS_VERIFY_LIMITS_H
#define PULLCURVE_VERBS_VERIFY_LIMITS_H

#include "base/status.h"
#include "curve/spec.h"
#include "record/record.h"
#include "show/verdict.h"
#include "verbs/options.h"
#include "verbs/subject.h"
#include "verbs/verify_rules.h"

#include <stdbool.h>
#include <stddef.h>

/* The rows that verify puts into its table of options. */
#define LIMIT_OPTIONS                                                                              \
    {"bow", "NAME",                                                                                \
     "judge by the maker's limits of this bow (default: the bow that the capture is of)"},         \
        {"no-bow", NULL, "leave the maker's limits out"},                                          \
        {"limit", "FIGURE=LOW:HIGH",                                                               \
         "a limit on any figure by its name in JSON, may be repeated: peak_force=58:62, "          \
         "let_off=75:, stored_energy=:90J"},                                                       \
        {"tolerance", "FIGURE=AMOUNT",                                                             \
         "judge what the bow's entry has one number for within this much of it, may be repeated: " \
         "brace_height=0.25"},                                                                     \
    {                                                                                              \
        "rules", "FILE", "limits of a rule file, or of one of ours by name, may be repeated"       \
    }

enum { NOMINALS_MAX = 4 };

/* Start as {0}, end with limits_clear. */
struct limits {
    struct spec spec;
    struct rules rules;
    bool has_bow; /* some of the bow's numbers are among the limits or nominals */
    struct record_bow bow;
    struct verdict_nominal nominals[NOMINALS_MAX];
    size_t n_nominals;
};

/* Reads --limit, --rules and what can be told of the others without a subject.
 * Errors: STATUS_USAGE, those of rules_add. */
enum status limits_read(struct limits *limits, const struct options *options, struct err *err);

/* Adds what the maker says of the bow of this subject, or of the one named. Errors: STATUS_USAGE
 * (no limit has been found anywhere), those of record_open and record_bow_find. */
enum status limits_add_bow(struct limits *limits, const struct options *options,
                           const struct subject *subject, struct err *err);

void limits_clear(struct limits *limits);

#endif
