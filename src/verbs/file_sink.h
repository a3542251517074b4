/*
 * file_sink: text that is written piece by piece to standard output or to a file, which is there
 * whole or not at all.
 */
#ifndef PULLCURVE_VERBS_FILE_SINK_H
#define PULLCURVE_VERBS_FILE_SINK_H

#include "base/buf.h"
#include "base/status.h"

/* Fields are private. */
struct file_sink {
    const char *path;     /* NULL: standard output */
    struct buf temporary; /* the file beside it that is written until the end */
    int fd;
};

/* Begins. path is NULL or "-" for standard output, and borrowed until the end.
 * Errors: STATUS_CANT_WRITE. */
enum status file_sink_open(struct file_sink *sink, const char *path, struct err *err);

/* Writes a piece; context is the struct file_sink (the form of struct document_sink).
 * Errors: STATUS_CANT_WRITE. */
enum status file_sink_write(void *context, const struct buf *piece, struct err *err);

/* Ends: with STATUS_OK puts the file in its place, else takes it away. Returns status, or what went
 * wrong at the end. */
enum status file_sink_close(struct file_sink *sink, enum status status, struct err *err);

#endif
