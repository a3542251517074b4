/*
 * stop: Ctrl-C and its kin ask a verb to end in good order; a second one ends the program at once.
 *
 * The one place with state outside of a struct: a signal handler has nowhere else to write.
 */
#ifndef PULLCURVE_VERBS_STOP_H
#define PULLCURVE_VERBS_STOP_H

#include <stdbool.h>

/* From here on SIGINT, SIGTERM and SIGHUP ask to stop (each once). Calls that wait end early. */
void stop_install(void);

/* Did one of them come? */
bool stop_asked(void);

/* The same as a variable, for functions that wait. */
const volatile int *stop_flag(void);

#endif
