/*
 * port_internal: what stands between bench/port.c and its two transports. For those three files
 * only.
 */
#ifndef PULLCURVE_BENCH_PORT_INTERNAL_H
#define PULLCURVE_BENCH_PORT_INTERNAL_H

#include "bench/port.h"

/* A way to open a port and to set it. What is the same for both (locking, waiting, reading by file
 * descriptor) is in port.c. */
struct port_driver {
    const char *name;
    /* Opens path (real, no link) for reading and writing, non-blocking, gives its descriptor and
     * the driver's own handle. Errors: STATUS_NO_BENCH. */
    enum status (*open)(const char *path, void **handle, int *fd, struct port_identity *identity,
                        struct err *err);
    /* Sets speed and framing, reads them back, discards what came before. */
    enum status (*configure)(void *handle, const char *path, const struct port_settings *settings,
                             struct err *err);
    void (*close)(void *handle);
};

extern const struct port_driver port_driver_serialport;
extern const struct port_driver port_driver_tty;

/* Sets *err for an errno that opening path gave. */
enum status port_open_fault(const char *path, int errnum, struct err *err);

#endif
