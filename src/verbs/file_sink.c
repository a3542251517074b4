#include "verbs/file_sink.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static enum status fault(const struct file_sink *sink, const char *what, struct err *err)
{
    return err_set(err, STATUS_CANT_WRITE,
                   "%s: can't be %s: %s; free some space or choose another place", sink->path, what,
                   strerror(errno));
}

/* A pipe or a device is written to as it is: nothing may be put in its place. */
static bool is_special(const char *path)
{
    struct stat about;
    return stat(path, &about) == 0 && !S_ISREG(about.st_mode);
}

static int make_temporary(struct file_sink *sink)
{
    buf_printf(&sink->temporary, "%s.XXXXXX", sink->path);
    int fd = mkstemp(sink->temporary.text);
    if (fd < 0)
        return fd;
    /* mkstemp makes files that only the owner reads; this one is an ordinary file */
    mode_t mask = umask(0);
    (void)umask(mask);
    (void)fchmod(fd, 0666 & ~mask);
    (void)fcntl(fd, F_SETFD, FD_CLOEXEC);
    return fd;
}

enum status file_sink_open(struct file_sink *sink, const char *path, struct err *err)
{
    *sink = (struct file_sink){.fd = -1};
    if (path == NULL || strcmp(path, "-") == 0)
        return STATUS_OK;
    sink->path = path;
    sink->fd = is_special(path) ? open(path, O_WRONLY | O_CLOEXEC) : make_temporary(sink);
    if (sink->fd >= 0)
        return STATUS_OK;
    enum status status = fault(sink, "made", err);
    buf_clear(&sink->temporary);
    return status;
}

enum status file_sink_write(void *context, const struct buf *piece, struct err *err)
{
    struct file_sink *sink = context;
    if (sink->path == NULL)
        return buf_write_stdout(piece, err);
    for (size_t done = 0; done < piece->length;) {
        ssize_t put = write(sink->fd, piece->text + done, piece->length - done);
        if (put < 0 && errno != EINTR)
            return fault(sink, "written", err);
        done += put > 0 ? (size_t)put : 0;
    }
    return STATUS_OK;
}

enum status file_sink_close(struct file_sink *sink, enum status status, struct err *err)
{
    if (sink->fd < 0)
        return status;
    bool special = sink->temporary.length == 0;
    if (status == STATUS_OK && !special && fsync(sink->fd) != 0)
        status = fault(sink, "written", err);
    if (close(sink->fd) != 0 && status == STATUS_OK)
        status = fault(sink, "written", err);
    sink->fd = -1;
    if (special)
        return status;
    if (status == STATUS_OK && rename(sink->temporary.text, sink->path) != 0)
        status = fault(sink, "put in place", err);
    if (status != STATUS_OK)
        (void)unlink(sink->temporary.text);
    buf_clear(&sink->temporary);
    return status;
}
