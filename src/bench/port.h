/*
 * port: a serial port, opened for one program alone, read with a time limit.
 *
 * Two transports stand behind it: libserialport for every port the system knows as a serial port
 * (/sys/class/tty), and plain termios for pseudo-terminals, which libserialport refuses.
 * Not for: what the bytes mean (bench/stream.h), finding a lost port again (bench/source.h).
 */
#ifndef PULLCURVE_BENCH_PORT_H
#define PULLCURVE_BENCH_PORT_H

#include "base/buf.h"
#include "base/status.h"

#include <stdbool.h>
#include <stddef.h>

enum port_parity { PORT_PARITY_NONE, PORT_PARITY_ODD, PORT_PARITY_EVEN };

enum port_transport {
    PORT_TRANSPORT_AUTO,       /* by what the port is */
    PORT_TRANSPORT_SERIALPORT, /* libserialport; for tests on a pseudo-terminal */
    PORT_TRANSPORT_TTY,        /* plain termios */
};

/* On a pseudo-terminal speed and framing have no effect: it is always 8 bits, none, 1. */
struct port_settings {
    int baud;      /* one of port_baud_known */
    int data_bits; /* 7 or 8 */
    enum port_parity parity;
    int stop_bits; /* 1 or 2 */
    enum port_transport transport;
};

/* Of a USB adapter, by which it is found again under another name. */
struct port_identity {
    bool usb; /* the other members are set */
    int vendor, product;
    char serial[64]; /* "" where the adapter has none */
};

struct port;

/* Opens the port at path (links such as /dev/serial/by-id/... are followed), sets speed and framing
 * and reads them back, and locks it against other programs. What came before is discarded.
 * Errors: STATUS_NO_BENCH: no such port (those that exist are listed), in use, no permission, not a
 * serial port, speed or framing not possible. */
enum status port_open(struct port **port, const char *path, const struct port_settings *settings,
                      struct err *err);

/* Unlocks and closes; NULL is allowed. */
void port_close(struct port *port);

/* The real path, links followed; borrowed until port_close. */
const char *port_path(const struct port *port);

/* "libserialport" or "tty"; for messages and tests. */
const char *port_transport_name(const struct port *port);

/* For poll(). */
int port_fd(const struct port *port);

struct port_identity port_identity(const struct port *port);

enum port_event {
    PORT_DATA,    /* bytes came */
    PORT_SILENCE, /* nothing within the time, or a signal came in */
    PORT_GONE,    /* unplugged, hung up, or a read error: close it */
};

/* Waits up to timeout_ms (0: not at all) for bytes and reads what is there, at most capacity.
 * *n is how many, 0 unless PORT_DATA. */
enum port_event port_read(struct port *port, void *bytes, size_t capacity, size_t *n,
                          int timeout_ms);

/* Writes all n bytes within timeout_ms. Errors: STATUS_NO_BENCH (gone, or it does not take them).
 */
enum status port_write(struct port *port, const void *bytes, size_t n, int timeout_ms,
                       struct err *err);

/* May a bench file ask for this speed? Odd speeds are left out because drivers take them in silence
 * and stay at the old one. */
bool port_baud_known(int baud);

/* Appends the paths of the serial ports that exist, joined by ", "; "none" where there is none. */
void port_list(struct buf *out);

/* Finds the path of the USB adapter with this identity (one with a serial number). false where it
 * is not plugged in. */
bool port_find(const struct port_identity *identity, struct buf *path);

#endif
