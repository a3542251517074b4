/*
 * simpty: a pseudo terminal that stands in for the controller's serial port.
 *
 * Its other side is opened by a reader like any serial port. Not for: what is sent.
 */
#ifndef PULLCURVE_BENCH_SIMPTY_H
#define PULLCURVE_BENCH_SIMPTY_H

#include "base/status.h"

#include <stdbool.h>
#include <stddef.h>

struct simpty;

/* Makes one, raw and without echo. link is NULL or a path at which a symbolic link to it is made; a
 * symbolic link that is there already is replaced, anything else is not.
 * Errors: STATUS_NO_BENCH (no pseudo terminal to be had), STATUS_CANT_WRITE (the link).
 * *pty is NULL on failure. Caller ends it with simpty_close. */
enum status simpty_open(struct simpty **pty, const char *link, struct err *err);

/* Hangs up and takes the link away if it still leads here; NULL is allowed. */
void simpty_close(struct simpty *pty);

/* The path that a reader opens, borrowed. */
const char *simpty_path(const struct simpty *pty);

/* Has somebody got it open? */
bool simpty_has_reader(const struct simpty *pty);

/* Queues bytes[0..length) for the reader, without waiting. Where the queue is full, since the
 * reader does not read, they are dropped as a whole and false is returned. */
bool simpty_send(struct simpty *pty, const char *bytes, size_t length);

/* Hands over as much of the queue as there is room for, and throws away what the reader sent. */
void simpty_flush(struct simpty *pty);

/* Forgets what no reader has read, as a port does that nobody has open. false where nobody can open
 * the port any more, since a reader that was killed had taken it for itself alone. */
bool simpty_forget(struct simpty *pty);

/* Waits until the reader has read everything, one second at most. */
void simpty_drain(struct simpty *pty);

#endif
