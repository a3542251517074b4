#include "base/mem.h"
#include "record/record.h"
#include "record/record_private.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

/* The readings of a capture, packed, as far as their checks agree. */
struct gathered {
    struct buf packed;
    int64_t n_chunks, n_damaged_chunks, first_damaged;
    uint64_t n_damaged; /* readings in damaged or missing chunks */
};

/* Fails where there is no such capture, or what it holds is of the other kind. */
static enum status check_content(const struct record *record, const char *capture_key,
                                 enum chunk_format format, struct err *err)
{
    sqlite3_stmt *statement;
    bool row = false;
    enum status status = record_prepare(
        record, "SELECT content, number FROM capture WHERE key = ?1", &statement, err);
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, capture_key);
        status = record_step(record, statement, &row, err);
    }
    char content[16] = "";
    int64_t number = 0;
    if (status == STATUS_OK && row) {
        record_column_field(statement, 0, content, sizeof content);
        number = sqlite3_column_int64(statement, 1);
    }
    sqlite3_finalize(statement);
    if (status != STATUS_OK)
        return status;
    if (!row)
        return err_set(err, STATUS_NO_INPUT, "%s: no capture has the key '%s'", record->path,
                       capture_key);
    bool raw = strcmp(content, "raw") == 0;
    if (raw != (format == CHUNK_RAW))
        return err_set(err, STATUS_BAD_INPUT,
                       raw ? "%s: capture %" PRId64 " holds counts, not values"
                           : "%s: capture %" PRId64 " was imported as values and has no counts",
                       record->path, number);
    return STATUS_OK;
}

/* Counts that a damaged row may state wrongly; unsigned, so that a sum can't overflow. */
static void gather_one(struct gathered *gathered, const struct chunk *chunk,
                       enum chunk_format format, uint64_t *expected, bool *gap)
{
    uint64_t first = (uint64_t)chunk->first_reading;
    gathered->n_chunks++;
    if (first > *expected) { /* the chunk before is missing */
        gathered->n_damaged += first - *expected;
        *gap = true;
    }
    *expected = first + (uint64_t)chunk->n_readings;
    if (!chunk_good(chunk) || chunk->format != (int64_t)format) {
        if (gathered->n_damaged_chunks++ == 0)
            gathered->first_damaged = chunk->number;
        gathered->n_damaged += (uint64_t)chunk->n_readings;
        *gap = true;
        return;
    }
    size_t start = gathered->packed.length;
    buf_add(&gathered->packed, chunk->bytes, chunk->length);
    if (*gap && format == CHUNK_RAW)
        gathered->packed.text[start + CHUNK_RAW_FLAGS_AT] |= RAW_AFTER_GAP;
    *gap = false;
}

static enum status gather(const struct record *record, const char *capture_key,
                          enum chunk_format format, struct gathered *gathered, struct err *err)
{
    enum status status = check_content(record, capture_key, format, err);
    if (status != STATUS_OK)
        return status;
    sqlite3_stmt *statement;
    status = chunk_select(record, capture_key, &statement, err);
    uint64_t expected = 0;
    bool gap = false;
    while (status == STATUS_OK) {
        bool row;
        status = record_step(record, statement, &row, err);
        if (status != STATUS_OK || !row)
            break;
        struct chunk chunk = chunk_column(statement);
        gather_one(gathered, &chunk, format, &expected, &gap);
    }
    sqlite3_finalize(statement);
    return status;
}

static enum status fault_damaged(const struct record *record, const char *capture_key,
                                 const struct gathered *gathered, size_t n_good, struct err *err)
{
    if (gathered->n_damaged_chunks == 0)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: capture %s: %" PRIu64 " readings are missing; %zu are good. `pullcurve "
                       "export --raw --skip-damaged` gives those",
                       record->path, capture_key, gathered->n_damaged, n_good);
    return err_set(err, STATUS_BAD_INPUT,
                   "%s: capture %s: %" PRId64 " of %" PRId64 " chunks are damaged (the first is "
                   "number %" PRId64 "), with %" PRIu64 " readings; %zu readings are good. "
                   "`pullcurve export --raw --skip-damaged` gives those",
                   record->path, capture_key, gathered->n_damaged_chunks, gathered->n_chunks,
                   gathered->first_damaged, gathered->n_damaged, n_good);
}

/* n_damaged NULL: damage is a fault. */
static enum status gather_readings(const struct record *record, const char *capture_key,
                                   struct raw_reading **readings, size_t *n, size_t *n_damaged,
                                   struct err *err)
{
    *readings = NULL;
    *n = 0;
    struct gathered gathered = {0};
    enum status status = gather(record, capture_key, CHUNK_RAW, &gathered, err);
    size_t n_good = gathered.packed.length / CHUNK_RAW_BYTES;
    if (status == STATUS_OK && n_damaged == NULL && gathered.n_damaged > 0)
        status = fault_damaged(record, capture_key, &gathered, n_good, err);
    if (status == STATUS_OK) {
        *readings = mem_calloc(n_good, sizeof **readings);
        *n = n_good;
        chunk_unpack_readings((const unsigned char *)buf_string(&gathered.packed), n_good,
                              *readings);
        if (n_damaged != NULL)
            *n_damaged = (size_t)gathered.n_damaged;
    }
    buf_clear(&gathered.packed);
    return status;
}

static enum status gather_values(const struct record *record, const char *capture_key,
                                 struct record_value **values, size_t *n, size_t *n_damaged,
                                 struct err *err)
{
    *values = NULL;
    *n = 0;
    struct gathered gathered = {0};
    enum status status = gather(record, capture_key, CHUNK_VALUES, &gathered, err);
    size_t n_good = gathered.packed.length / CHUNK_VALUE_BYTES;
    if (status == STATUS_OK && n_damaged == NULL && gathered.n_damaged > 0)
        status = fault_damaged(record, capture_key, &gathered, n_good, err);
    if (status == STATUS_OK) {
        *values = mem_calloc(n_good, sizeof **values);
        *n = n_good;
        chunk_unpack_values((const unsigned char *)buf_string(&gathered.packed), n_good, *values);
        if (n_damaged != NULL)
            *n_damaged = (size_t)gathered.n_damaged;
    }
    buf_clear(&gathered.packed);
    return status;
}

enum status record_capture_readings(struct record *record, const char *capture_key,
                                    struct raw_reading **readings, size_t *n, struct err *err)
{
    return gather_readings(record, capture_key, readings, n, NULL, err);
}

enum status record_capture_values(struct record *record, const char *capture_key,
                                  struct record_value **values, size_t *n, struct err *err)
{
    return gather_values(record, capture_key, values, n, NULL, err);
}

enum status record_capture_salvage_readings(struct record *record, const char *capture_key,
                                            struct raw_reading **readings, size_t *n,
                                            size_t *n_damaged, struct err *err)
{
    return gather_readings(record, capture_key, readings, n, n_damaged, err);
}

enum status record_capture_salvage_values(struct record *record, const char *capture_key,
                                          struct record_value **values, size_t *n,
                                          size_t *n_damaged, struct err *err)
{
    return gather_values(record, capture_key, values, n, n_damaged, err);
}
