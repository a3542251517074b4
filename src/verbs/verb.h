/*
 * verb: one entry of the program's table of verbs.
 *
 * A file in verbs/ defines one `const struct verb`; main.c lists them. The entry drives parsing,
 * help, the check of the man page and completion. A verb reads its options, calls the rooms in
 * order and returns a status; main prints the error and turns the status into the exit code.
 */
#ifndef PULLCURVE_VERBS_VERB_H
#define PULLCURVE_VERBS_VERB_H

#include "base/status.h"

#include <stdbool.h>
#include <stddef.h>

/* One long option. argument is NULL for a flag, else the name of its argument as help shows it.
 * A table of these ends with a row whose name is NULL. */
struct option_spec {
    const char *name;
    const char *argument;
    const char *help;
};

struct options; /* what was given; see verbs/options.h */

struct verb {
    const char *name;
    const char *operands;           /* as help shows them, e.g. "[FILE | CAPTURE]" */
    const char *summary;            /* one line, no full stop */
    const char *description;        /* for help and the man page; an empty line ends a paragraph */
    const struct option_spec *spec; /* ends with a row whose name is NULL */
    size_t operands_min, operands_max;
    enum status (*run)(const struct options *options, struct err *err);
};

extern const struct verb verb_simulate;
extern const struct verb verb_calibrate;
extern const struct verb verb_capture;
extern const struct verb verb_measure;
extern const struct verb verb_verify;
extern const struct verb verb_bow;
extern const struct verb verb_history;
extern const struct verb verb_import;
extern const struct verb verb_export;

#endif
