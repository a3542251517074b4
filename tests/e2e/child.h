/*
 * child: a program under test as a process of its own: what it prints, how it ends, never for
 * longer than a stated time.
 */
#ifndef PULLCURVE_TESTS_E2E_CHILD_H
#define PULLCURVE_TESTS_E2E_CHILD_H

#include "base/buf.h"

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

enum { CHILD_ARGUMENTS_MAX = 32 };

/* pid is 0 when it has ended. */
struct child {
    pid_t pid;
    int out_fd, err_fd;  /* -1 when closed */
    struct buf out, err; /* all that it has printed so far */
    size_t out_taken;    /* bytes of out that child_line has given */
};

/* The program under test: $PULLCURVE, else build/pullcurve. */
const char *child_program(void);

/* Starts argv[0] (looked for in PATH) with argv up to NULL. Ends the test where that fails. Caller
 * ends it with child_clear. */
void child_start(struct child *child, const char *const *argv);

/* Starts the program under test with these arguments, up to NULL. */
void child_start_program(struct child *child, const char *const *arguments);

/* The next line of its standard output, without line end, in *line. false where none comes within
 * `seconds` or the output has ended. */
bool child_line(struct child *child, double seconds, struct buf *line);

/* Waits until its standard output or standard error holds `part`. */
bool child_says(struct child *child, double seconds, const char *part);

void child_signal(struct child *child, int signal_number);

/* Waits until it has ended and all output is read. Returns its exit code, 128 + n where signal n
 * ended it, or -1 where it did not end within `seconds`: then it is killed. */
int child_wait(struct child *child, double seconds);

/* Kills it where it still runs, and releases everything. */
void child_clear(struct child *child);

#endif
