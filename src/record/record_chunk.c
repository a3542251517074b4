#include "record/record_private.h"

#include <math.h>
#include <string.h>

uint32_t chunk_crc32(const void *bytes, size_t length)
{
    /* Half a byte at a time: the table is short enough to be checked by eye. */
    static const uint32_t table[16] = {0x00000000, 0x1DB71064, 0x3B6E20C8, 0x26D930AC,
                                       0x76DC4190, 0x6B6B51F4, 0x4DB26158, 0x5005713C,
                                       0xEDB88320, 0xF00F9344, 0xD6D6A3E8, 0xCB61B38C,
                                       0x9B64C2B0, 0x86D3D2D4, 0xA00AE278, 0xBDBDF21C};
    const unsigned char *at = bytes;
    uint32_t crc = 0xFFFFFFFF;
    for (size_t i = 0; i < length; i++) {
        crc = table[(crc ^ at[i]) & 0x0F] ^ (crc >> 4);
        crc = table[(crc ^ (uint32_t)(at[i] >> 4)) & 0x0F] ^ (crc >> 4);
    }
    return ~crc;
}

static unsigned char *put(unsigned char *at, uint64_t value, int n_bytes)
{
    for (int i = 0; i < n_bytes; i++)
        *at++ = (unsigned char)(value >> (8 * i) & 0xFF);
    return at;
}

static uint64_t get(const unsigned char **at, int n_bytes)
{
    uint64_t value = 0;
    for (int i = 0; i < n_bytes; i++)
        value |= (uint64_t) * (*at)++ << (8 * i);
    return value;
}

void chunk_pack_readings(struct buf *out, const struct raw_reading *readings, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        unsigned char packed[CHUNK_RAW_BYTES], *at = packed;
        at = put(at, (uint64_t)readings[i].arrival_us, 8);
        at = put(at, (uint64_t)readings[i].device_us, 8);
        at = put(at, readings[i].sequence, 4);
        at = put(at, (uint32_t)readings[i].force_count, 4);
        at = put(at, (uint32_t)readings[i].travel_count, 4);
        (void)put(at, readings[i].flags, 4);
        buf_add(out, packed, sizeof packed);
    }
}

void chunk_unpack_readings(const unsigned char *bytes, size_t n, struct raw_reading *readings)
{
    for (size_t i = 0; i < n; i++) {
        readings[i].arrival_us = (int64_t)get(&bytes, 8);
        readings[i].device_us = (int64_t)get(&bytes, 8);
        readings[i].sequence = (uint32_t)get(&bytes, 4);
        readings[i].force_count = (int32_t)(uint32_t)get(&bytes, 4);
        readings[i].travel_count = (int32_t)(uint32_t)get(&bytes, 4);
        readings[i].flags = (uint32_t)get(&bytes, 4);
    }
}

static uint64_t bits_of(double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

static double of_bits(uint64_t bits)
{
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

void chunk_pack_values(struct buf *out, const struct record_value *values, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        unsigned char packed[CHUNK_VALUE_BYTES], *at = packed;
        at = put(at, bits_of(values[i].draw_m), 8);
        at = put(at, bits_of(values[i].force_n), 8);
        /* one pattern of NAN, whatever the machine made */
        (void)put(at, isnan(values[i].time_s) ? 0x7FF8000000000000 : bits_of(values[i].time_s), 8);
        buf_add(out, packed, sizeof packed);
    }
}

void chunk_unpack_values(const unsigned char *bytes, size_t n, struct record_value *values)
{
    for (size_t i = 0; i < n; i++) {
        values[i].draw_m = of_bits(get(&bytes, 8));
        values[i].force_n = of_bits(get(&bytes, 8));
        values[i].time_s = of_bits(get(&bytes, 8));
    }
}

static size_t bytes_each(int64_t format)
{
    return format == CHUNK_RAW ? CHUNK_RAW_BYTES : format == CHUNK_VALUES ? CHUNK_VALUE_BYTES : 0;
}

bool chunk_good(const struct chunk *chunk)
{
    size_t each = bytes_each(chunk->format);
    return each > 0 && chunk->n_readings >= 1 && chunk->length % each == 0 &&
           chunk->length / each == (uint64_t)chunk->n_readings &&
           chunk_crc32(chunk->bytes, chunk->length) == chunk->crc32;
}

enum status chunk_select(const struct record *record, const char *capture_key,
                         sqlite3_stmt **statement, struct err *err)
{
    enum status status =
        record_prepare(record,
                       "SELECT number, first_reading, n_readings, format, crc32, readings"
                       " FROM chunk WHERE capture_key = ?1 ORDER BY number",
                       statement, err);
    if (status == STATUS_OK)
        record_bind_text(*statement, 1, capture_key);
    return status;
}

struct chunk chunk_column(sqlite3_stmt *statement)
{
    return (struct chunk){
        .number = sqlite3_column_int64(statement, 0),
        .first_reading = sqlite3_column_int64(statement, 1),
        .n_readings = sqlite3_column_int64(statement, 2),
        .format = sqlite3_column_int64(statement, 3),
        .crc32 = (uint32_t)sqlite3_column_int64(statement, 4),
        .bytes = sqlite3_column_blob(statement, 5),
        .length = (size_t)sqlite3_column_bytes(statement, 5),
    };
}

enum status chunk_insert(const struct record *record, const char *capture_key,
                         const struct chunk *chunk, struct err *err)
{
    sqlite3_stmt *statement;
    enum status status = record_prepare(
        record, "INSERT INTO chunk VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)", &statement, err);
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, capture_key);
        record_bind_int(statement, 2, chunk->number);
        record_bind_int(statement, 3, chunk->first_reading);
        record_bind_int(statement, 4, chunk->n_readings);
        record_bind_int(statement, 5, chunk->format);
        record_bind_int(statement, 6, chunk->crc32);
        record_bind_blob(statement, 7, chunk->bytes, chunk->length);
        status = record_run(record, statement, err);
    }
    sqlite3_finalize(statement);
    return status;
}
