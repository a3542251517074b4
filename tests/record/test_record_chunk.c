/* Readings packed into bytes: the form on disk, and its check. */
#include "check.h"
#include "record/record_private.h"
#include "run.h"

#include <math.h>
#include <string.h>

/* Check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms (G. Cook). */
static void the_crc_has_its_check_value(void **state)
{
    (void)state;
    assert_int_equal(chunk_crc32("123456789", 9), 0xCBF43926);
    assert_int_equal(chunk_crc32("", 0), 0);
}

/* Outside truth: zlib, by way of Python's zlib.crc32. */
static void the_crc_is_zlibs(void **state)
{
    (void)state;
    unsigned char bytes[256];
    for (size_t i = 0; i < sizeof bytes; i++)
        bytes[i] = (unsigned char)i;
    struct buf out = {0};
    assert_int_equal(
        run_command(&out,
                    "/usr/bin/python3 -c 'import zlib; print(zlib.crc32(bytes(range(256))))'"),
        0);
    char ours[32];
    (void)snprintf(ours, sizeof ours, "%u\n", (unsigned)chunk_crc32(bytes, sizeof bytes));
    assert_string_equal(buf_string(&out), ours);
    buf_clear(&out);
}

static const struct raw_reading odd = {
    .arrival_us = 0x0102030405060708,
    .device_us = -2,
    .sequence = 0xFFFFFFFE,
    .force_count = INT32_MIN,
    .travel_count = -1,
    .flags = RAW_HAS_FORCE | RAW_AFTER_GAP,
};

static void a_raw_reading_is_32_bytes_little_endian(void **state)
{
    (void)state;
    static const unsigned char expected[32] = {
        0x08, 0x07, 0x06, 0x05, 0x04, 0x03, 0x02, 0x01, /* arrival_us */
        0xFE, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, /* device_us */
        0xFE, 0xFF, 0xFF, 0xFF,                         /* sequence */
        0x00, 0x00, 0x00, 0x80,                         /* force_count */
        0xFF, 0xFF, 0xFF, 0xFF,                         /* travel_count */
        0x41, 0x00, 0x00, 0x00,                         /* flags */
    };
    struct buf packed = {0};
    chunk_pack_readings(&packed, &odd, 1);
    assert_int_equal(packed.length, CHUNK_RAW_BYTES);
    assert_memory_equal(packed.text, expected, sizeof expected);
    buf_clear(&packed);
}

static void raw_readings_come_back_as_they_went(void **state)
{
    (void)state;
    const struct raw_reading in[3] = {
        odd,
        {0},
        {INT64_MAX, INT64_MIN, UINT32_MAX, INT32_MAX, INT32_MIN, UINT32_MAX},
    };
    struct raw_reading out[3];
    struct buf packed = {0};
    chunk_pack_readings(&packed, in, 3);
    chunk_unpack_readings((const unsigned char *)packed.text, 3, out);
    assert_memory_equal(in, out, sizeof in);
    buf_clear(&packed);
}

static void a_value_is_three_doubles_little_endian(void **state)
{
    (void)state;
    const struct record_value value = {.draw_m = 1.0, .force_n = -2.0, .time_s = (double)NAN};
    static const unsigned char expected[24] = {
        0, 0, 0, 0, 0, 0, 0xF0, 0x3F, /* IEEE 754: 1.0 */
        0, 0, 0, 0, 0, 0, 0x00, 0xC0, /* -2.0 */
        0, 0, 0, 0, 0, 0, 0xF8, 0x7F, /* the quiet NAN */
    };
    struct buf packed = {0};
    chunk_pack_values(&packed, &value, 1);
    assert_int_equal(packed.length, CHUNK_VALUE_BYTES);
    assert_memory_equal(packed.text, expected, sizeof expected);
    struct record_value back;
    chunk_unpack_values(expected, 1, &back);
    assert_true(back.draw_m == 1.0 && back.force_n == -2.0 && isnan(back.time_s));
    buf_clear(&packed);
}

static struct chunk chunk_of(const struct buf *packed, int64_t n)
{
    return (struct chunk){
        .number = 1,
        .n_readings = n,
        .format = CHUNK_RAW,
        .crc32 = chunk_crc32(packed->text, packed->length),
        .bytes = (const unsigned char *)packed->text,
        .length = packed->length,
    };
}

static void every_changed_bit_is_noticed(void **state)
{
    (void)state;
    const struct raw_reading readings[2] = {odd, odd};
    struct buf packed = {0};
    chunk_pack_readings(&packed, readings, 2);
    struct chunk chunk = chunk_of(&packed, 2);
    assert_true(chunk_good(&chunk));
    for (size_t bit = 0; bit < packed.length * 8; bit++) {
        packed.text[bit / 8] = (char)(packed.text[bit / 8] ^ 1 << bit % 8);
        assert_false(chunk_good(&chunk));
        packed.text[bit / 8] = (char)(packed.text[bit / 8] ^ 1 << bit % 8);
    }
    assert_true(chunk_good(&chunk));
    buf_clear(&packed);
}

static void a_chunk_whose_length_does_not_fit_is_not_good(void **state)
{
    (void)state;
    const struct raw_reading readings[2] = {odd, odd};
    struct buf packed = {0};
    chunk_pack_readings(&packed, readings, 2);
    struct chunk chunk = chunk_of(&packed, 3);
    assert_false(chunk_good(&chunk));
    chunk = chunk_of(&packed, 2);
    chunk.format = 7;
    assert_false(chunk_good(&chunk));
    packed.length = 40;
    chunk = chunk_of(&packed, 1);
    assert_false(chunk_good(&chunk));
    buf_clear(&packed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_crc_has_its_check_value),
        cmocka_unit_test(the_crc_is_zlibs),
        cmocka_unit_test(a_raw_reading_is_32_bytes_little_endian),
        cmocka_unit_test(raw_readings_come_back_as_they_went),
        cmocka_unit_test(a_value_is_three_doubles_little_endian),
        cmocka_unit_test(every_changed_bit_is_noticed),
        cmocka_unit_test(a_chunk_whose_length_does_not_fit_is_not_good),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
