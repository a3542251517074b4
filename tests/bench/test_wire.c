/* wire: pullcurve's own line, to numbers and back. */
#include "bench/wire.h"
#include "check.h"
#include "random.h"

#include <stdbool.h>
#include <string.h>

static enum wire_result decode(const char *text, struct wire_line *line)
{
    return wire_decode(text, strlen(text), line);
}

static void check_result(const char *text, enum wire_result expected)
{
    struct wire_line line;
    enum wire_result got = decode(text, &line);
    if (got != expected)
        fail_msg("'%s': got '%s', expected '%s'", text, wire_result_text(got),
                 wire_result_text(expected));
}

/* Checksum by hand: XOR of the bytes of "PCRD,7,12500,-42,1999". */
static void a_line_is_read(void **state)
{
    (void)state;
    unsigned char sum = 0;
    for (const char *at = "PCRD,7,12500,-42,1999"; *at != '\0'; at++)
        sum ^= (unsigned char)*at;
    char text[64];
    (void)snprintf(text, sizeof text, "$PCRD,7,12500,-42,1999*%02X", sum);
    struct wire_line line;
    assert_int_equal(decode(text, &line), WIRE_READING);
    assert_int_equal(line.sequence, 7);
    assert_int_equal(line.device_us, 12500);
    assert_int_equal(line.force_count, -42);
    assert_int_equal(line.travel_count, 1999);
}

/* NMEA 0183 checksum example, printed in many receiver manuals (from memory):
 * $GPGLL,5300.97914,N,00259.98174,E,125926,A*28. The rule is the same, the sentence is not ours. */
static void the_checksum_is_that_of_nmea_0183(void **state)
{
    (void)state;
    unsigned sum = 0;
    for (const char *at = "GPGLL,5300.97914,N,00259.98174,E,125926,A"; *at != '\0'; at++)
        sum ^= (unsigned char)*at;
    assert_int_equal(sum, 0x28);
    struct wire_line line = {0};
    char text[WIRE_LINE_MAX];
    wire_encode(&line, text);
    /* "PCRD,0,0,0,0": P^C^R^D = 0x05, four commas and four zeros cancel. */
    assert_string_equal(text, "$PCRD,0,0,0,0*05\r\n");
}

static void what_is_written_is_read_again(void **state)
{
    (void)state;
    struct random random = random_start();
    for (int i = 0; i < 20000; i++) {
        struct wire_line line = {.sequence = (uint16_t)random_bits(&random),
                                 .device_us = (uint32_t)random_bits(&random),
                                 .force_count = (int32_t)(uint32_t)random_bits(&random),
                                 .travel_count = (int32_t)(uint32_t)random_bits(&random)};
        char text[WIRE_LINE_MAX];
        size_t length = wire_encode(&line, text);
        struct wire_line again;
        assert_int_equal(length, strlen(text));
        assert_int_equal(wire_decode(text, length - 2, &again), WIRE_READING);
        assert_int_equal(again.sequence, line.sequence);
        assert_int_equal(again.device_us, line.device_us);
        assert_int_equal(again.force_count, line.force_count);
        assert_int_equal(again.travel_count, line.travel_count);
    }
}

static void the_ends_of_the_ranges_are_read(void **state)
{
    (void)state;
    struct wire_line line = {65535, 4294967295U, INT32_MIN, INT32_MAX};
    char text[WIRE_LINE_MAX];
    size_t length = wire_encode(&line, text);
    struct wire_line again;
    assert_int_equal(wire_decode(text, length - 2, &again), WIRE_READING);
    assert_int_equal(again.sequence, 65535);
    assert_int_equal(again.device_us, 4294967295U);
    assert_int_equal(again.force_count, INT32_MIN);
    assert_int_equal(again.travel_count, INT32_MAX);
}

static void a_lower_case_checksum_is_read(void **state)
{
    (void)state;
    struct wire_line line;
    /* By hand: 0x05 as above, ^ ('9' ^ '0') ^ ('3' ^ '0') = 0x05 ^ 0x09 ^ 0x03. */
    assert_int_equal(decode("$PCRD,9,0,0,3*0f", &line), WIRE_READING);
    assert_int_equal(decode("$PCRD,9,0,0,3*0F", &line), WIRE_READING);
}

static void any_changed_bit_is_noticed(void **state)
{
    (void)state;
    struct wire_line line = {4711, 98765432, -1234567, 7654321};
    char good[WIRE_LINE_MAX];
    size_t length = wire_encode(&line, good) - 2;
    for (size_t byte = 0; byte < length; byte++) {
        for (int bit = 0; bit < 8; bit++) {
            char text[WIRE_LINE_MAX];
            memcpy(text, good, length);
            text[byte] = (char)(text[byte] ^ (1 << bit));
            struct wire_line read;
            enum wire_result result = wire_decode(text, length, &read);
            /* Bit 5 turns a hex digit A-F of the checksum into a-f: the same line. */
            bool same = byte >= length - 2 && bit == 5 && good[byte] >= 'A';
            assert_true(same ? result == WIRE_READING : result != WIRE_READING);
        }
    }
}

static void faults_are_told_apart(void **state)
{
    (void)state;
    check_result("", WIRE_REMARK);
    check_result("# Hollow Oak controller 3", WIRE_REMARK);
    check_result("hello", WIRE_NOT_OURS);
    check_result("$PCRX,0,0,0,0*05", WIRE_NOT_OURS);
    check_result(" $PCRD,0,0,0,0*05", WIRE_NOT_OURS);
    check_result("$PCRD,0,0,0*05", WIRE_MALFORMED);
    check_result("$PCRD,0,0,0,0,0*05", WIRE_MALFORMED);
    check_result("$PCRD,0,0,,0*05", WIRE_MALFORMED);
    check_result("$PCRD,0,0,0,0x*05", WIRE_MALFORMED);
    check_result("$PCRD,0,0,0,0*05 ", WIRE_MALFORMED);
    check_result("$PCRD,0,0,0,0", WIRE_BAD_CHECKSUM);
    check_result("$PCRD,0,0,0,0*", WIRE_BAD_CHECKSUM);
    check_result("$PCRD,0,0,0,0*0", WIRE_BAD_CHECKSUM);
    check_result("$PCRD,0,0,0,0*06", WIRE_BAD_CHECKSUM);
    check_result("$PCRD,0,0,0,0*ZZ", WIRE_BAD_CHECKSUM);
}

static void numbers_out_of_range_are_malformed(void **state)
{
    (void)state;
    check_result("$PCRD,65536,0,0,0*00", WIRE_MALFORMED);
    check_result("$PCRD,-1,0,0,0*00", WIRE_MALFORMED);
    check_result("$PCRD,0,4294967296,0,0*00", WIRE_MALFORMED);
    check_result("$PCRD,0,0,2147483648,0*00", WIRE_MALFORMED);
    check_result("$PCRD,0,0,-2147483649,0*00", WIRE_MALFORMED);
    check_result("$PCRD,0,0,0,99999999999999999999*00", WIRE_MALFORMED);
    check_result("$PCRD,0,0,+1,0*00", WIRE_MALFORMED);
    check_result("$PCRD,0,0,1.5,0*00", WIRE_MALFORMED);
    check_result("$PCRD,0,0, 1,0*00", WIRE_MALFORMED);
    check_result("$PCRD,0,0,-,0*00", WIRE_MALFORMED);
}

static void a_bad_line_leaves_the_numbers_alone(void **state)
{
    (void)state;
    struct wire_line line = {1, 2, 3, 4};
    assert_int_equal(decode("$PCRD,5,6,7,8*00", &line), WIRE_BAD_CHECKSUM);
    assert_int_equal(line.sequence, 1);
    assert_int_equal(line.travel_count, 4);
}

static void any_bytes_can_be_given(void **state)
{
    (void)state;
    struct random random = random_start();
    for (int i = 0; i < 50000; i++) {
        char bytes[64] = "$PCRD,1,2,3,4*00";
        size_t length = random_bits(&random) % sizeof bytes;
        for (int change = 0; change < 4; change++)
            bytes[random_bits(&random) % sizeof bytes] = (char)random_bits(&random);
        struct wire_line line;
        assert_in_range(wire_decode(bytes, length, &line), WIRE_READING, WIRE_BAD_CHECKSUM);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_line_is_read),
        cmocka_unit_test(the_checksum_is_that_of_nmea_0183),
        cmocka_unit_test(what_is_written_is_read_again),
        cmocka_unit_test(the_ends_of_the_ranges_are_read),
        cmocka_unit_test(a_lower_case_checksum_is_read),
        cmocka_unit_test(any_changed_bit_is_noticed),
        cmocka_unit_test(faults_are_told_apart),
        cmocka_unit_test(numbers_out_of_range_are_malformed),
        cmocka_unit_test(a_bad_line_leaves_the_numbers_alone),
        cmocka_unit_test(any_bytes_can_be_given),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
