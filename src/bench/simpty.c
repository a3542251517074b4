#include "bench/simpty.h"
#include "base/buf.h"
#include "base/mem.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

struct simpty {
    int master;
    char path[128];
    char *link;
    struct buf queue;
};

/* A controller's own buffer; the system keeps about 20 kB more. */
enum { QUEUE_MAX = 32 * 1024, DRAIN_ROUNDS = 100, QUIET_ROUNDS = 10 };
static const long drain_round_ns = 10 * 1000 * 1000;

/* Raw, and opened and closed once: from then on POLLHUP tells that no reader is there. */
static int prepare_other_side(const char *path)
{
    int slave = open(path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (slave < 0)
        return -1;
    struct termios settings;
    int result = tcgetattr(slave, &settings);
    if (result == 0) {
        cfmakeraw(&settings);
        result = tcsetattr(slave, TCSANOW, &settings);
    }
    int fault = errno;
    (void)close(slave);
    errno = fault;
    return result;
}

static int open_master(struct simpty *pty)
{
    pty->master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (pty->master < 0 || grantpt(pty->master) != 0 || unlockpt(pty->master) != 0)
        return -1;
    int flags = fcntl(pty->master, F_GETFL);
    if (flags < 0 || fcntl(pty->master, F_SETFL, flags | O_NONBLOCK) != 0)
        return -1;
    const char *name = ptsname(pty->master);
    if (name == NULL || strlen(name) >= sizeof pty->path)
        return -1;
    (void)snprintf(pty->path, sizeof pty->path, "%s", name);
    return prepare_other_side(pty->path);
}

/* Made beside it and put in its place in one step, so that a reader never finds it missing. */
static enum status make_link(const struct simpty *pty, struct err *err)
{
    struct stat info;
    if (lstat(pty->link, &info) == 0 && !S_ISLNK(info.st_mode))
        return err_set(err, STATUS_CANT_WRITE,
                       "%s: is there already and is no symbolic link; it was left alone",
                       pty->link);
    struct buf beside = {0};
    buf_printf(&beside, "%s.%ld", pty->link, (long)getpid());
    enum status status = STATUS_OK;
    if (symlink(pty->path, buf_string(&beside)) != 0 ||
        rename(buf_string(&beside), pty->link) != 0) {
        status = err_set(err, STATUS_CANT_WRITE, "%s: the link to %s can't be made: %s", pty->link,
                         pty->path, strerror(errno));
        (void)unlink(buf_string(&beside));
    }
    buf_clear(&beside);
    return status;
}

enum status simpty_open(struct simpty **out, const char *link, struct err *err)
{
    *out = NULL;
    struct simpty *pty = mem_calloc(1, sizeof *pty);
    enum status status = STATUS_OK;
    if (open_master(pty) != 0)
        status = err_set(err, STATUS_NO_BENCH, "no pseudo terminal for the simulated bench: %s",
                         strerror(errno));
    if (status == STATUS_OK && link != NULL) {
        pty->link = mem_strdup(link);
        status = make_link(pty, err);
    }
    if (status == STATUS_OK)
        *out = pty;
    else
        simpty_close(pty);
    return status;
}

static void remove_link(const struct simpty *pty)
{
    char target[sizeof pty->path];
    ssize_t length = readlink(pty->link, target, sizeof target);
    if (length > 0 && (size_t)length == strlen(pty->path) &&
        memcmp(target, pty->path, (size_t)length) == 0)
        (void)unlink(pty->link);
}

void simpty_close(struct simpty *pty)
{
    if (pty == NULL)
        return;
    if (pty->link != NULL)
        remove_link(pty);
    if (pty->master >= 0)
        (void)close(pty->master);
    free(pty->link);
    buf_clear(&pty->queue);
    free(pty);
}

const char *simpty_path(const struct simpty *pty)
{
    return pty->path;
}

bool simpty_has_reader(const struct simpty *pty)
{
    struct pollfd poll_master = {.fd = pty->master};
    return poll(&poll_master, 1, 0) >= 0 && (poll_master.revents & POLLHUP) == 0;
}

void simpty_flush(struct simpty *pty)
{
    char thrown_away[256];
    while (read(pty->master, thrown_away, sizeof thrown_away) == (ssize_t)sizeof thrown_away)
        continue;
    size_t length = pty->queue.length;
    ssize_t written = length > 0 ? write(pty->master, pty->queue.text, length) : 0;
    if (written <= 0)
        return;
    pty->queue.length = length - (size_t)written;
    memmove(pty->queue.text, pty->queue.text + written, pty->queue.length);
    pty->queue.text[pty->queue.length] = '\0';
}

bool simpty_send(struct simpty *pty, const char *bytes, size_t length)
{
    if (pty->queue.length + length > QUEUE_MAX)
        simpty_flush(pty);
    if (pty->queue.length + length > QUEUE_MAX)
        return false;
    buf_add(&pty->queue, bytes, length);
    return true;
}

bool simpty_forget(struct simpty *pty)
{
    buf_clear(&pty->queue);
    (void)tcflush(pty->master, TCIOFLUSH);
    /* What the line discipline of the other side holds can only be flushed from there. */
    int slave = open(pty->path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (slave < 0)
        return errno != EBUSY;
    (void)tcflush(slave, TCIOFLUSH);
    (void)close(slave);
    return true;
}

void simpty_drain(struct simpty *pty)
{
    int slave = open(pty->path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    struct timespec pause = {.tv_nsec = drain_round_ns};
    /* What was written may be on its way inside the system, where nothing counts it: only a while
     * of nothing unread tells that all has come through. */
    for (int i = 0, quiet = 0; i < DRAIN_ROUNDS && quiet < QUIET_ROUNDS; i++) {
        int unread = 0;
        simpty_flush(pty);
        if (slave >= 0 && ioctl(slave, FIONREAD, &unread) != 0)
            unread = 0;
        /* Where the reader keeps the port to itself a short wait is all there is. */
        bool all_read = slave >= 0 ? unread == 0 : i >= DRAIN_ROUNDS / 4;
        quiet = all_read && pty->queue.length == 0 ? quiet + 1 : 0;
        (void)nanosleep(&pause, NULL);
    }
    if (slave >= 0)
        (void)close(slave);
}
