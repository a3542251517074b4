#include "base/buf.h"
#include "base/mem.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static void reserve(struct buf *buf, size_t more)
{
    if (buf->capacity - buf->length > more)
        return;
    buf->capacity = mem_grown(buf->capacity, buf->length + more + 1);
    buf->text = mem_realloc(buf->text, buf->capacity, 1);
}

void buf_add(struct buf *buf, const void *bytes, size_t length)
{
    reserve(buf, length);
    if (length > 0)
        memcpy(buf->text + buf->length, bytes, length);
    buf->length += length;
    buf->text[buf->length] = '\0';
}

void buf_text(struct buf *buf, const char *text)
{
    buf_add(buf, text, strlen(text));
}

void buf_char(struct buf *buf, char byte)
{
    buf_add(buf, &byte, 1);
}

void buf_printf(struct buf *buf, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    va_list again;
    va_copy(again, arguments);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    if (length > 0) {
        reserve(buf, (size_t)length);
        (void)vsnprintf(buf->text + buf->length, (size_t)length + 1, format, again);
        buf->length += (size_t)length;
    }
    va_end(again);
}

const char *buf_string(const struct buf *buf)
{
    return buf->text != NULL ? buf->text : "";
}

void buf_clear(struct buf *buf)
{
    free(buf->text);
    *buf = (struct buf){0};
}

static enum status read_all(struct buf *buf, int fd, const char *path, struct err *err)
{
    struct stat about;
    if (fstat(fd, &about) == 0 && S_ISDIR(about.st_mode))
        return err_set(err, STATUS_BAD_INPUT, "%s: is a directory; name a file", path);
    if (fstat(fd, &about) == 0 && S_ISREG(about.st_mode) && about.st_size > 0)
        reserve(buf, (size_t)about.st_size + 1);
    for (;;) {
        reserve(buf, 65536);
        ssize_t got = read(fd, buf->text + buf->length, buf->capacity - buf->length - 1);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return err_set(err, STATUS_BAD_INPUT, "%s: can't be read: %s", path, strerror(errno));
        buf->length += (size_t)got;
        buf->text[buf->length] = '\0';
        if (got == 0)
            return STATUS_OK;
    }
}

enum status buf_read_file(struct buf *buf, const char *path, struct err *err)
{
    bool standard_input = strcmp(path, "-") == 0;
    int fd = standard_input ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return err_set(err, STATUS_NO_INPUT, "%s: %s; check the name and the permissions", path,
                       strerror(errno));
    enum status status = read_all(buf, fd, path, err);
    if (!standard_input)
        close(fd);
    if (status != STATUS_OK)
        buf_clear(buf);
    return status;
}

static enum status write_all(int fd, const struct buf *buf, const char *path, struct err *err)
{
    size_t done = 0;
    while (done < buf->length) {
        ssize_t put = write(fd, buf->text + done, buf->length - done);
        if (put < 0 && errno == EINTR)
            continue;
        if (put < 0)
            return err_set(err, STATUS_CANT_WRITE,
                           "%s: can't be written: %s; free some space or choose another place",
                           path, strerror(errno));
        done += (size_t)put;
    }
    return STATUS_OK;
}

/* mkstemp makes files that only the owner reads; a report is an ordinary file. */
static void apply_umask(int fd)
{
    mode_t mask = umask(0);
    umask(mask);
    (void)fchmod(fd, 0666 & ~mask);
}

enum status buf_write_file(const struct buf *buf, const char *path, struct err *err)
{
    struct buf temporary = {0};
    buf_printf(&temporary, "%s.XXXXXX", path);
    int fd = mkstemp(temporary.text);
    if (fd < 0) {
        err_set(err, STATUS_CANT_WRITE,
                "%s: can't be made: %s; check that the folder exists and may be written to", path,
                strerror(errno));
        buf_clear(&temporary);
        return STATUS_CANT_WRITE;
    }
    apply_umask(fd);
    enum status status = write_all(fd, buf, path, err);
    if (status == STATUS_OK && fsync(fd) != 0)
        status = err_set(err, STATUS_CANT_WRITE, "%s: can't be written: %s", path, strerror(errno));
    if (close(fd) != 0 && status == STATUS_OK)
        status = err_set(err, STATUS_CANT_WRITE, "%s: can't be written: %s", path, strerror(errno));
    if (status == STATUS_OK && rename(temporary.text, path) != 0)
        status =
            err_set(err, STATUS_CANT_WRITE, "%s: can't be put in place: %s", path, strerror(errno));
    if (status != STATUS_OK)
        (void)unlink(temporary.text);
    buf_clear(&temporary);
    return status;
}

enum status buf_write_stdout(const struct buf *buf, struct err *err)
{
    if (fflush(stdout) != 0)
        return err_set(err, STATUS_CANT_WRITE, "standard output: %s", strerror(errno));
    return write_all(STDOUT_FILENO, buf, "standard output", err);
}
