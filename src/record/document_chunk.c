#include "base/mem.h"
#include "record/document_private.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The columns of a raw reading in JSON. */
enum raw_column { ARRIVAL, DEVICE, SEQUENCE, FORCE, TRAVEL, FLAGS, N_RAW_COLUMNS };

static const struct {
    const char *name;
    int64_t low, high;
} raw_columns[N_RAW_COLUMNS] = {
    [ARRIVAL] = {"arrival_us", INT64_MIN, INT64_MAX},
    [DEVICE] = {"device_us", INT64_MIN, INT64_MAX},
    [SEQUENCE] = {"sequence", 0, UINT32_MAX},
    [FORCE] = {"force_count", INT32_MIN, INT32_MAX},
    [TRAVEL] = {"travel_count", INT32_MIN, INT32_MAX},
    [FLAGS] = {"flags", 0, UINT32_MAX},
};

static int64_t raw_cell(const struct raw_reading *reading, enum raw_column column)
{
    const int64_t cells[N_RAW_COLUMNS] = {
        [ARRIVAL] = reading->arrival_us,  [DEVICE] = reading->device_us,
        [SEQUENCE] = reading->sequence,   [FORCE] = reading->force_count,
        [TRAVEL] = reading->travel_count, [FLAGS] = reading->flags,
    };
    return cells[column];
}

static void raw_to_json(json_t *object, const struct chunk *chunk)
{
    size_t n = (size_t)chunk->n_readings;
    struct raw_reading *readings = mem_calloc(n, sizeof *readings);
    chunk_unpack_readings(chunk->bytes, n, readings);
    for (int column = 0; column < N_RAW_COLUMNS; column++) {
        json_t *cells = json_array();
        for (size_t i = 0; i < n; i++)
            document_add(cells, json_integer(raw_cell(&readings[i], (enum raw_column)column)));
        document_put(object, raw_columns[column].name, cells);
    }
    free(readings);
}

static bool is_plain(const struct record_value *value)
{
    return isfinite(value->draw_m) && isfinite(value->force_n) && !isinf(value->time_s);
}

/* False where JSON has no way to write one of the numbers. */
static bool values_to_json(json_t *object, const struct chunk *chunk)
{
    size_t n = (size_t)chunk->n_readings;
    struct record_value *values = mem_calloc(n, sizeof *values);
    chunk_unpack_values(chunk->bytes, n, values);
    bool plain = true;
    for (size_t i = 0; plain && i < n; i++)
        plain = is_plain(&values[i]);
    json_t *draw = json_array(), *force = json_array(), *time = json_array();
    for (size_t i = 0; plain && i < n; i++) {
        document_add(draw, json_real(values[i].draw_m));
        document_add(force, json_real(values[i].force_n));
        document_add(time, isnan(values[i].time_s) ? json_null() : json_real(values[i].time_s));
    }
    free(values);
    if (!plain) {
        json_decref(draw);
        json_decref(force);
        json_decref(time);
        return false;
    }
    document_put(object, "draw_m", draw);
    document_put(object, "force_n", force);
    document_put(object, "time_s", time);
    return true;
}

json_t *chunk_to_json(const struct chunk *chunk)
{
    json_t *object = json_object();
    document_put(object, "number", json_integer(chunk->number));
    document_put(object, "first_reading", json_integer(chunk->first_reading));
    document_put(object, "format", json_integer(chunk->format));
    bool good = chunk_good(chunk);
    if (good && chunk->format == CHUNK_RAW) {
        raw_to_json(object, chunk);
    } else if (!(good && chunk->format == CHUNK_VALUES && values_to_json(object, chunk))) {
        document_put(object, "n_readings", json_integer(chunk->n_readings));
        document_put(object, "crc32", json_integer(chunk->crc32));
        document_put(object, "hex", json_hex(chunk->bytes, chunk->length));
    }
    return object;
}

/* All columns of these names, equally long. */
static enum status take_columns(const json_t *object, const char *const *names, size_t n_names,
                                json_t **columns, size_t *n, struct err *err)
{
    for (size_t i = 0; i < n_names; i++) {
        enum status status = json_take_array(object, names[i], &columns[i], err);
        if (status != STATUS_OK)
            return status;
        if (json_array_size(columns[i]) != json_array_size(columns[0]))
            return err_set(err, STATUS_BAD_INPUT, "'%s' has %zu elements, '%s' has %zu", names[i],
                           json_array_size(columns[i]), names[0], json_array_size(columns[0]));
    }
    *n = json_array_size(columns[0]);
    return *n > 0 ? STATUS_OK : err_set(err, STATUS_BAD_INPUT, "'%s' is empty", names[0]);
}

static enum status take_raw(const json_t *object, struct owned_chunk *owned, struct err *err)
{
    const char *names[N_RAW_COLUMNS];
    for (int i = 0; i < N_RAW_COLUMNS; i++)
        names[i] = raw_columns[i].name;
    json_t *columns[N_RAW_COLUMNS];
    size_t n;
    enum status status = take_columns(object, names, N_RAW_COLUMNS, columns, &n, err);
    for (size_t i = 0; status == STATUS_OK && i < n; i++) {
        int64_t cells[N_RAW_COLUMNS];
        for (int c = 0; status == STATUS_OK && c < N_RAW_COLUMNS; c++)
            status = json_take_int(json_array_get(columns[c], i), names[c], raw_columns[c].low,
                                   raw_columns[c].high, &cells[c], err);
        if (status != STATUS_OK)
            break;
        struct raw_reading reading = {
            .arrival_us = cells[ARRIVAL],
            .device_us = cells[DEVICE],
            .sequence = (uint32_t)cells[SEQUENCE],
            .force_count = (int32_t)cells[FORCE],
            .travel_count = (int32_t)cells[TRAVEL],
            .flags = (uint32_t)cells[FLAGS],
        };
        chunk_pack_readings(&owned->bytes, &reading, 1);
    }
    if (status == STATUS_OK)
        owned->chunk.n_readings = (int64_t)n;
    return status;
}

static enum status take_values(const json_t *object, struct owned_chunk *owned, struct err *err)
{
    static const char *const names[] = {"draw_m", "force_n", "time_s"};
    json_t *columns[3];
    size_t n;
    enum status status = take_columns(object, names, 3, columns, &n, err);
    for (size_t i = 0; status == STATUS_OK && i < n; i++) {
        const json_t *draw = json_array_get(columns[0], i), *force = json_array_get(columns[1], i),
                     *time = json_array_get(columns[2], i);
        if (!json_is_number(draw) || !json_is_number(force) ||
            !(json_is_number(time) || json_is_null(time)))
            return err_set(err, STATUS_BAD_INPUT,
                           "element %zu of 'draw_m', 'force_n' or 'time_s' is not a number", i + 1);
        struct record_value value = {
            .draw_m = json_number_value(draw),
            .force_n = json_number_value(force),
            .time_s = json_is_null(time) ? (double)NAN : json_number_value(time),
        };
        chunk_pack_values(&owned->bytes, &value, 1);
    }
    if (status == STATUS_OK)
        owned->chunk.n_readings = (int64_t)n;
    return status;
}

/* A chunk that was damaged when the document was written, or of a format that was not known then:
 * it stays what it is. */
static enum status take_bytes(const json_t *object, struct owned_chunk *owned, struct err *err)
{
    int64_t crc32 = 0;
    enum status status = json_take_int(json_object_get(object, "n_readings"), "n_readings", 1,
                                       INT64_MAX, &owned->chunk.n_readings, err);
    if (status == STATUS_OK)
        status =
            json_take_int(json_object_get(object, "crc32"), "crc32", 0, UINT32_MAX, &crc32, err);
    if (status == STATUS_OK && !json_take_hex(json_object_get(object, "hex"), &owned->bytes))
        status = err_set(err, STATUS_BAD_INPUT, "'hex' is not a list of hex digits");
    owned->chunk.crc32 = (uint32_t)crc32;
    return status;
}

enum status chunk_from_json(const json_t *object, struct owned_chunk *owned, struct err *err)
{
    *owned = (struct owned_chunk){0};
    struct chunk *chunk = &owned->chunk;
    enum status status = json_take_int(json_object_get(object, "number"), "number", 1, INT64_MAX,
                                       &chunk->number, err);
    if (status == STATUS_OK)
        status = json_take_int(json_object_get(object, "first_reading"), "first_reading", 0,
                               INT64_MAX, &chunk->first_reading, err);
    if (status == STATUS_OK)
        status = json_take_int(json_object_get(object, "format"), "format", INT64_MIN, INT64_MAX,
                               &chunk->format, err);
    if (status != STATUS_OK)
        return status;
    if (json_object_get(object, "hex") != NULL)
        status = take_bytes(object, owned, err);
    else if (chunk->format == CHUNK_RAW)
        status = take_raw(object, owned, err);
    else if (chunk->format == CHUNK_VALUES)
        status = take_values(object, owned, err);
    else
        status = err_set(err, STATUS_BAD_INPUT, "chunk format %" PRId64 " is not known here",
                         chunk->format);
    chunk->bytes = (const unsigned char *)buf_string(&owned->bytes);
    chunk->length = owned->bytes.length;
    if (json_object_get(object, "hex") == NULL)
        chunk->crc32 = chunk_crc32(chunk->bytes, chunk->length);
    return status;
}
