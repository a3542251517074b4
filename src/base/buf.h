/*
 * buf: text that grows. Everything that is shown is rendered into one of these first, so that
 * output can be tested as text and written whole or not at all.
 */
#ifndef PULLCURVE_BASE_BUF_H
#define PULLCURVE_BASE_BUF_H

#include "base/status.h"

#include <stddef.h>

/* Start as `struct buf b = {0};`, end with buf_clear. text is NULL or NUL-terminated at length
 * (it may hold NUL bytes before that where binary data was added). */
struct buf {
    char *text;
    size_t length;
    size_t capacity;
};

/* Appends length bytes. */
void buf_add(struct buf *buf, const void *bytes, size_t length);

/* Appends a NUL-terminated string. */
void buf_text(struct buf *buf, const char *text);

/* Appends one byte. */
void buf_char(struct buf *buf, char byte);

/* Appends formatted text. */
void buf_printf(struct buf *buf, const char *format, ...)
    __attribute__((format(printf, 2, 3), nonnull(2)));

/* The text, "" where nothing was added. Borrowed until the next call with the same buf. */
const char *buf_string(const struct buf *buf);

/* Releases the memory and leaves an empty buf. */
void buf_clear(struct buf *buf);

/* Reads a whole regular file, pipe or standard input (path "-") into *buf, which must be empty.
 * Errors: STATUS_NO_INPUT (no such file, no permission), STATUS_BAD_INPUT (a directory, a read
 * error). On failure *buf is empty. */
enum status buf_read_file(struct buf *buf, const char *path, struct err *err);

/* Writes the text to path whole or not at all: a temporary file beside it, fsync, rename.
 * Errors: STATUS_CANT_WRITE. */
enum status buf_write_file(const struct buf *buf, const char *path, struct err *err);

/* Writes the text to standard output and flushes it. Errors: STATUS_CANT_WRITE. */
enum status buf_write_stdout(const struct buf *buf, struct err *err);

#endif
