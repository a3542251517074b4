#include "bench/port.h"
#include "base/mem.h"
#include "bench/port_internal.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

struct port {
    const struct port_driver *driver;
    void *handle;
    char *path;
    int fd;
    struct port_identity identity;
};

bool port_baud_known(int baud)
{
    static const int known[] = {1200,  2400,   4800,   9600,   19200, 38400,
                                57600, 115200, 230400, 460800, 921600};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (known[i] == baud)
            return true;
    return false;
}

enum status port_open_fault(const char *path, int errnum, struct err *err)
{
    switch (errnum) {
    case ENOENT:
    case ENODEV:
    case ENXIO:
    case ENOTDIR: {
        struct buf ports = {0};
        port_list(&ports);
        enum status status = err_set(err, STATUS_NO_BENCH,
                                     "%s: there is no such port; ports here: %s. Is the controller "
                                     "plugged in and powered?",
                                     path, buf_string(&ports));
        buf_clear(&ports);
        return status;
    }
    case EACCES:
    case EPERM:
        return err_set(err, STATUS_NO_BENCH,
                       "%s: no permission to use the port; add yourself to the group 'dialout' "
                       "(sudo adduser $USER dialout), then log out and in again",
                       path);
    case EBUSY:
    case EWOULDBLOCK:
        return err_set(err, STATUS_NO_BENCH,
                       "%s: another program uses the port; end it first (fuser -v %s tells which)",
                       path, path);
    case ENOTTY:
    case EINVAL:
    case EISDIR:
        return err_set(err, STATUS_NO_BENCH, "%s: is not a serial port", path);
    default:
        return err_set(err, STATUS_NO_BENCH, "%s: can't open the port: %s", path, strerror(errnum));
    }
}

/* Does the system list this path as a serial port? Pseudo-terminals are not listed. */
static bool in_sysfs(const char *path)
{
    char in_class[512];
    struct stat info;
    if (strncmp(path, "/dev/", 5) != 0)
        return false;
    int length = snprintf(in_class, sizeof in_class, "/sys/class/tty/%s", path + 5);
    return length > 0 && (size_t)length < sizeof in_class && lstat(in_class, &info) == 0;
}

static const struct port_driver *choose_driver(const char *path, enum port_transport transport)
{
    if (transport == PORT_TRANSPORT_SERIALPORT)
        return &port_driver_serialport;
    if (transport == PORT_TRANSPORT_TTY)
        return &port_driver_tty;
    return in_sysfs(path) ? &port_driver_serialport : &port_driver_tty;
}

/* One program alone: flock refuses another pullcurve, TIOCEXCL everyone else but root. */
static enum status claim(const struct port *port, struct err *err)
{
    int flags = fcntl(port->fd, F_GETFD);
    if (flags < 0 || fcntl(port->fd, F_SETFD, flags | FD_CLOEXEC) != 0)
        return port_open_fault(port->path, errno, err);
    if (flock(port->fd, LOCK_EX | LOCK_NB) != 0)
        return port_open_fault(port->path, errno, err);
    if (ioctl(port->fd, TIOCEXCL) != 0)
        return port_open_fault(port->path, errno, err);
    return STATUS_OK;
}

enum status port_open(struct port **out, const char *path, const struct port_settings *settings,
                      struct err *err)
{
    *out = NULL;
    char *real = realpath(path, NULL);
    if (real == NULL)
        return port_open_fault(path, errno, err);
    struct stat info;
    if (stat(real, &info) != 0 || !S_ISCHR(info.st_mode)) {
        free(real);
        return port_open_fault(path, ENOTTY, err);
    }
    struct port *port = mem_calloc(1, sizeof *port);
    port->path = real;
    port->driver = choose_driver(real, settings->transport);
    enum status status = port->driver->open(real, &port->handle, &port->fd, &port->identity, err);
    if (status == STATUS_OK)
        status = claim(port, err);
    if (status == STATUS_OK)
        status = port->driver->configure(port->handle, real, settings, err);
    if (status != STATUS_OK) {
        port_close(port);
        return status;
    }
    *out = port;
    return STATUS_OK;
}

void port_close(struct port *port)
{
    if (port == NULL)
        return;
    if (port->handle != NULL) {
        /* A pseudo-terminal stays exclusive after close for as long as its other end is open. */
        (void)ioctl(port->fd, TIOCNXCL);
        port->driver->close(port->handle);
    }
    free(port->path);
    free(port);
}

const char *port_path(const struct port *port)
{
    return port->path;
}

const char *port_transport_name(const struct port *port)
{
    return port->driver->name;
}

int port_fd(const struct port *port)
{
    return port->fd;
}

struct port_identity port_identity(const struct port *port)
{
    return port->identity;
}

/* libserialport's own reads can't tell a hang-up from silence, so waiting and reading are done on
 * the descriptor. */
enum port_event port_read(struct port *port, void *bytes, size_t capacity, size_t *n,
                          int timeout_ms)
{
    assert(capacity > 0 && timeout_ms >= 0);
    *n = 0;
    struct pollfd waiting = {.fd = port->fd, .events = POLLIN};
    int ready = poll(&waiting, 1, timeout_ms);
    if (ready == 0 || (ready < 0 && errno == EINTR))
        return PORT_SILENCE;
    if (ready < 0 || (waiting.revents & POLLNVAL) != 0)
        return PORT_GONE;
    ssize_t got = read(port->fd, bytes, capacity);
    if (got > 0) {
        *n = (size_t)got;
        return PORT_DATA;
    }
    if (got < 0 && (errno == EAGAIN || errno == EINTR) &&
        (waiting.revents & (POLLHUP | POLLERR)) == 0)
        return PORT_SILENCE;
    return PORT_GONE;
}

static int64_t now_ms(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

enum status port_write(struct port *port, const void *bytes, size_t n, int timeout_ms,
                       struct err *err)
{
    const char *at = bytes;
    int64_t end_ms = now_ms() + timeout_ms;
    while (n > 0) {
        int64_t left_ms = end_ms - now_ms();
        struct pollfd waiting = {.fd = port->fd, .events = POLLOUT};
        int ready = poll(&waiting, 1, left_ms > 0 ? (int)left_ms : 0);
        if (ready == 0)
            return err_set(err, STATUS_NO_BENCH, "%s: the controller takes no bytes", port->path);
        if (ready < 0 && errno == EINTR)
            continue;
        ssize_t sent = (waiting.revents & (POLLHUP | POLLERR)) == 0 ? write(port->fd, at, n) : -1;
        if (sent < 0 && errno != EAGAIN && errno != EINTR)
            return err_set(err, STATUS_NO_BENCH, "%s: the port is gone", port->path);
        if (sent > 0) {
            at += sent;
            n -= (size_t)sent;
        }
    }
    return STATUS_OK;
}
