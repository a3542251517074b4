#include "verbs/capture_keep.h"
#include "base/mem.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

/* With a look every 50 ms this keeps the record less than a quarter of a second behind. */
#define WRITE_AFTER_US 150000
/* Each try may wait for a lock: not too often, or the port is read too late. */
#define RETRY_AFTER_US 500000

void keep_init(struct keep *keep, struct record *record, const char *capture_key)
{
    *keep = (struct keep){.record = record, .capture_key = capture_key};
}

void keep_add(struct keep *keep, const struct raw_reading *readings, size_t n)
{
    if (n == 0)
        return;
    if (keep->n + n > keep->capacity) {
        keep->capacity = mem_grown(keep->capacity, keep->n + n);
        keep->readings = mem_realloc(keep->readings, keep->capacity, sizeof *keep->readings);
    }
    memcpy(keep->readings + keep->n, readings, n * sizeof *readings);
    keep->n += n;
}

enum status keep_flush(struct keep *keep, struct err *err)
{
    if (keep->n == 0)
        return STATUS_OK;
    enum status status =
        record_capture_append(keep->record, keep->capture_key, keep->readings, keep->n, err);
    if (status == STATUS_OK)
        keep->n = 0;
    return status;
}

enum keep_result keep_tick(struct keep *keep, int64_t now_us, struct err *err)
{
    if (keep->n == 0)
        return KEEP_QUIET;
    int64_t since_us = keep->failing ? keep->tried_us : keep->readings[0].arrival_us;
    if (now_us - since_us < (keep->failing ? RETRY_AFTER_US : WRITE_AFTER_US))
        return KEEP_QUIET;
    keep->tried_us = now_us;
    bool was_failing = keep->failing;
    keep->failing = keep_flush(keep, err) != STATUS_OK;
    if (keep->failing)
        return KEEP_FAILED;
    return was_failing ? KEEP_RECOVERED : KEEP_QUIET;
}

static void write_rows(const struct keep *keep, int64_t capture_number, struct buf *out)
{
    buf_printf(out,
               "# pullcurve: raw readings of capture %" PRId64 " that its record did not take\n"
               "# capture_key: %s\n"
               "arrival_us,device_us,sequence,force_count,travel_count,flags\n",
               capture_number, keep->capture_key);
    for (size_t i = 0; i < keep->n; i++) {
        const struct raw_reading *reading = &keep->readings[i];
        buf_printf(out, "%" PRId64 ",%" PRId64 ",%" PRIu32 ",%" PRId32 ",%" PRId32 ",%" PRIu32 "\n",
                   reading->arrival_us, reading->device_us, reading->sequence, reading->force_count,
                   reading->travel_count, reading->flags);
    }
}

enum status keep_spill(const struct keep *keep, const char *record_path, int64_t capture_number,
                       struct buf *path, struct err *err)
{
    const char *temporary = getenv("TMPDIR");
    const char *places[] = {"", "./", temporary != NULL ? temporary : "/tmp"};
    struct buf rows = {0};
    write_rows(keep, capture_number, &rows);
    enum status status = STATUS_CANT_WRITE;
    for (size_t i = 0; i < sizeof places / sizeof places[0] && status != STATUS_OK; i++) {
        struct buf name = {0};
        const char *file = strrchr(record_path, '/');
        if (i == 0)
            buf_text(&name, record_path);
        else
            buf_printf(&name, "%s/%s", places[i], file != NULL ? file + 1 : record_path);
        buf_printf(&name, ".capture-%" PRId64 "-%.8s.csv", capture_number, keep->capture_key);
        status = buf_write_file(&rows, buf_string(&name), err);
        if (status == STATUS_OK)
            buf_text(path, buf_string(&name));
        buf_clear(&name);
    }
    buf_clear(&rows);
    return status;
}

void keep_clear(struct keep *keep)
{
    free(keep->readings);
    *keep = (struct keep){0};
}
