/*
 * help: the texts of `pullcurve help` and `pullcurve help VERB`, made from the table of verbs.
 */
#ifndef PULLCURVE_VERBS_HELP_H
#define PULLCURVE_VERBS_HELP_H

#include "base/buf.h"
#include "verbs/verb.h"

#include <stddef.h>

/* What the program is for, its verbs, where to read on. */
void help_program(struct buf *out, const struct verb *const *verbs, size_t n);

/* One verb: how it is called, what it does, its options. */
void help_verb(struct buf *out, const struct verb *verb);

#endif
