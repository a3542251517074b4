#include "bench/source.h"
#include "base/mem.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { BYTES_MAX = 4096, WAIT_SLICE_MS = 100 };

struct source {
    const struct bench *bench;
    char *asked_path; /* as the user or the bench file names it */
    char *real_path;
    struct port *port; /* NULL while it is gone */
    struct port_identity identity;
    const char *transport;
    struct stream stream;
    int64_t start_us; /* host's monotonic clock at source_open */
    struct raw_reading *readings;
    size_t n, capacity;
};

static int64_t monotonic_us(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static void take_port(struct source *source, struct port *port)
{
    source->port = port;
    source->identity = port_identity(port);
    source->transport = port_transport_name(port);
    free(source->real_path);
    source->real_path = mem_strdup(port_path(port));
}

enum status source_open(struct source **out, const struct bench *bench, const char *port,
                        struct err *err)
{
    *out = NULL;
    const char *path = port != NULL ? port : bench->port;
    if (path[0] == '\0')
        return err_set(err, STATUS_USAGE,
                       "no port is named: say --port PATH or write port = PATH under [bench]");
    struct port *opened = NULL;
    enum status status = port_open(&opened, path, &bench->line, err);
    if (status != STATUS_OK)
        return status;
    struct source *source = mem_calloc(1, sizeof *source);
    source->bench = bench;
    source->asked_path = mem_strdup(path);
    take_port(source, opened);
    stream_init(&source->stream, &bench->stream);
    source->start_us = monotonic_us();
    *out = source;
    return STATUS_OK;
}

void source_close(struct source *source)
{
    if (source == NULL)
        return;
    port_close(source->port);
    free(source->asked_path);
    free(source->real_path);
    free(source->readings);
    free(source);
}

static void take_bytes(struct source *source, const unsigned char *bytes, size_t n,
                       int64_t arrival_us)
{
    while (n > 0) {
        struct raw_reading reading;
        bool made;
        size_t used = stream_feed(&source->stream, bytes, n, arrival_us, &reading, &made);
        bytes += used;
        n -= used;
        if (!made)
            continue;
        if (source->n == source->capacity) {
            source->capacity = mem_grown(source->capacity, source->n + 1);
            source->readings =
                mem_realloc(source->readings, source->capacity, sizeof *source->readings);
        }
        source->readings[source->n++] = reading;
    }
}

enum source_event source_read(struct source *source, int timeout_ms,
                              const struct raw_reading **readings, size_t *n)
{
    int64_t end_us = monotonic_us() + (int64_t)timeout_ms * 1000;
    source->n = 0;
    *readings = NULL;
    *n = 0;
    while (source->n == 0) {
        int64_t left_ms = (end_us - monotonic_us() + 999) / 1000;
        if (source->port == NULL)
            return SOURCE_GONE;
        unsigned char bytes[BYTES_MAX];
        size_t got;
        enum port_event event =
            port_read(source->port, bytes, sizeof bytes, &got, left_ms > 0 ? (int)left_ms : 0);
        if (event == PORT_GONE) {
            port_close(source->port);
            source->port = NULL;
            return SOURCE_GONE;
        }
        if (event == PORT_SILENCE)
            return SOURCE_QUIET;
        take_bytes(source, bytes, got, source_now_us(source));
        if (source->n == 0 && left_ms <= 0)
            return SOURCE_QUIET;
    }
    *readings = source->readings;
    *n = source->n;
    return SOURCE_READINGS;
}

/* Why no reading came: silence and garbage have different causes. */
static enum status no_readings(const struct source *source, struct err *err)
{
    const struct stream *stream = &source->stream;
    if (stream->n_bytes == 0)
        return err_set(err, STATUS_NO_BENCH,
                       "%s: silence: not one byte in %.1f s. Is the controller powered and "
                       "sending, and is this its port?",
                       source->real_path, source->bench->start_wait_s);
    return err_set(err, STATUS_NO_BENCH,
                   "%s: %lld bytes came but no pullcurve line (%lld unreadable, %lld with a wrong "
                   "checksum). The speed is likely wrong (%d baud, %d data bits here), or the "
                   "controller sends another format (docs/wire-format.md)",
                   source->real_path, (long long)stream->n_bytes,
                   (long long)stream->counts.n_malformed, (long long)stream->counts.n_bad_checksum,
                   source->bench->line.baud, source->bench->line.data_bits);
}

enum status source_wait(struct source *source, const volatile int *stop,
                        const struct raw_reading **readings, size_t *n, struct err *err)
{
    int64_t end_us = monotonic_us() + (int64_t)(source->bench->start_wait_s * 1e6);
    for (;;) {
        switch (source_read(source, WAIT_SLICE_MS, readings, n)) {
        case SOURCE_READINGS:
            return STATUS_OK;
        case SOURCE_GONE:
            return err_set(err, STATUS_NO_BENCH,
                           "%s: the port went away before the first reading; check cable and "
                           "power of the controller",
                           source->real_path);
        case SOURCE_QUIET:
            break;
        }
        if (stop != NULL && *stop != 0)
            return err_set(err, STATUS_INTERRUPTED, "interrupted before the first reading");
        if (monotonic_us() >= end_us)
            return no_readings(source, err);
    }
}

/* Is the port that was opened the adapter that went away? Another one may have got its name. */
static bool same_adapter(const struct source *source, const struct port *port)
{
    const struct port_identity *lost = &source->identity;
    struct port_identity found = port_identity(port);
    if (!lost->usb || lost->serial[0] == '\0')
        return true;
    return found.usb && found.vendor == lost->vendor && found.product == lost->product &&
           strcmp(found.serial, lost->serial) == 0;
}

enum status source_reopen(struct source *source, struct err *err)
{
    port_close(source->port);
    source->port = NULL;
    struct port *port = NULL;
    enum status status = port_open(&port, source->asked_path, &source->bench->line, err);
    if (status == STATUS_OK && !same_adapter(source, port)) {
        port_close(port);
        port = NULL;
        status = err_set(err, STATUS_NO_BENCH, "%s: is another adapter now", source->asked_path);
    }
    struct buf path = {0};
    if (status != STATUS_OK && port_find(&source->identity, &path))
        status = port_open(&port, buf_string(&path), &source->bench->line, err);
    buf_clear(&path);
    if (status != STATUS_OK)
        return status;
    take_port(source, port);
    stream_cut(&source->stream);
    return STATUS_OK;
}

const struct stream *source_stream(const struct source *source)
{
    return &source->stream;
}

int64_t source_now_us(const struct source *source)
{
    return monotonic_us() - source->start_us;
}

const char *source_path(const struct source *source)
{
    return source->real_path;
}

const char *source_transport(const struct source *source)
{
    return source->transport;
}
