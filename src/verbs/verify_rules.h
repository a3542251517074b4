/*
 * verify_rules: limits out of rule files: competition and hunting rules, rating conditions.
 *
 * A rule file is data with a date and a source (docs/verify.md); that it is still right nobody but
 * the current rule book can say.
 */
#ifndef PULLCURVE_VERBS_VERIFY_RULES_H
#define PULLCURVE_VERBS_VERIFY_RULES_H

#include "base/ini.h"
#include "base/status.h"
#include "curve/spec.h"
#include "show/verdict.h"

#include <stddef.h>

/* Start as {0}, end with rules_clear. Texts are those of the open files. */
struct rules {
    size_t n, capacity;
    struct verdict_rule *rules;
    struct ini **files;
};

/* Reads the rule file `name`, a path or the bare name of one of ours, and adds its limits to spec.
 * On failure nothing is added. Errors: STATUS_NO_INPUT, STATUS_BAD_INPUT with file:line. */
enum status rules_add(struct rules *rules, const char *name, struct spec *spec, struct err *err);

void rules_clear(struct rules *rules);

#endif
