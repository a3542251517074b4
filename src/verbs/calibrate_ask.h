/*
 * calibrate_ask: short answers from standard input while something else goes on. Part of the verb
 * calibrate.
 */
#ifndef PULLCURVE_VERBS_CALIBRATE_ASK_H
#define PULLCURVE_VERBS_CALIBRATE_ASK_H

#include <stdbool.h>
#include <stddef.h>

enum { ANSWER_MAX = 128 };

/* Standard input, read by lines. Starts as {0}. */
struct answers {
    char text[ANSWER_MAX];
    size_t length;
    bool ended; /* nothing more will come */
};

enum answer_event {
    ANSWER_NONE, /* no line within the time */
    ANSWER_LINE, /* a line came */
    ANSWER_END,  /* standard input has ended */
};

/* Waits up to timeout_ms for a line and puts it into line, without its end, cut at ANSWER_MAX - 1.
 * A signal ends the wait early. */
enum answer_event answers_read(struct answers *answers, int timeout_ms, char line[ANSWER_MAX]);

/* Is somebody sitting there? */
bool answers_terminal(void);

#endif
