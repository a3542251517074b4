/*
 * suggest: which of the known names was meant by a misspelt one.
 *
 * Start with what was typed, try each known name, read `best`.
 */
#ifndef PULLCURVE_VERBS_SUGGEST_H
#define PULLCURVE_VERBS_SUGGEST_H

#include <stddef.h>

struct suggest {
    const char *typed; /* borrowed, `length` bytes of it */
    size_t length;
    const char *best; /* the nearest name so far, borrowed, or NULL where none is near */
    size_t distance;  /* letters to change, add or drop from typed to best */
};

/* typed[0..length) is what was typed. */
struct suggest suggest_start(const char *typed, size_t length);

/* Is this name nearer than the best so far? */
void suggest_try(struct suggest *suggest, const char *name);

#endif
