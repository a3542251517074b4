/* The plain transport: any terminal device, for pseudo-terminals. */
#include "base/mem.h"
#include "bench/port_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

struct tty {
    int fd;
};

static enum status tty_open(const char *path, void **handle, int *fd,
                            struct port_identity *identity, struct err *err)
{
    *identity = (struct port_identity){0};
    *fd = open(path, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (*fd < 0)
        return port_open_fault(path, errno, err);
    if (!isatty(*fd)) {
        (void)close(*fd);
        return port_open_fault(path, ENOTTY, err);
    }
    struct tty *tty = mem_calloc(1, sizeof *tty);
    tty->fd = *fd;
    *handle = tty;
    return STATUS_OK;
}

/* Raw, 8 bits. Speed and framing mean nothing on a pseudo-terminal and are left alone. */
static enum status tty_configure(void *handle, const char *path,
                                 const struct port_settings *settings, struct err *err)
{
    (void)settings;
    const struct tty *tty = handle;
    struct termios mode;
    if (tcgetattr(tty->fd, &mode) != 0)
        return port_open_fault(path, errno, err);
    cfmakeraw(&mode);
    mode.c_cc[VMIN] = 1;
    mode.c_cc[VTIME] = 0;
    if (tcsetattr(tty->fd, TCSANOW, &mode) != 0 || tcflush(tty->fd, TCIOFLUSH) != 0)
        return port_open_fault(path, errno, err);
    return STATUS_OK;
}

static void tty_close(void *handle)
{
    struct tty *tty = handle;
    (void)close(tty->fd);
    free(tty);
}

const struct port_driver port_driver_tty = {"tty", tty_open, tty_configure, tty_close};
