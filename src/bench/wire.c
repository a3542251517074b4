#include "bench/wire.h"

#include <assert.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

static const char start[] = "$PCRD,";
enum { START_LENGTH = sizeof start - 1, DIGITS_MAX = 10 };

/* What is left to read of a line. */
struct cursor {
    const char *at, *end;
};

static bool is_digit(char byte)
{
    return byte >= '0' && byte <= '9';
}

/* Reads a whole number within low..high, at most DIGITS_MAX digits; a '-' only where low < 0. */
static bool take_number(struct cursor *cursor, int64_t low, int64_t high, int64_t *value)
{
    const char *at = cursor->at;
    bool negative = low < 0 && at < cursor->end && *at == '-';
    if (negative) {
        at++;
    }
    const char *digits = at;
    int64_t number = 0;
    while (at < cursor->end && is_digit(*at) && at - digits < DIGITS_MAX) {
        number = number * 10 + (*at - '0');
        at++;
    }
    if (negative) {
        number = -number;
    }
    if (at == digits || number < low || number > high) {
        return false;
    }
    *value = number;
    cursor->at = at;
    return true;
}

static bool take_comma(struct cursor *cursor)
{
    if (cursor->at == cursor->end || *cursor->at != ',') {
        return false;
    }
    cursor->at++;
    return true;
}

static bool take_fields(struct cursor *cursor, struct wire_line *line)
{
    int64_t sequence, device_us, force, travel;
    if (!take_number(cursor, 0, UINT16_MAX, &sequence) || !take_comma(cursor) ||
        !take_number(cursor, 0, UINT32_MAX, &device_us) || !take_comma(cursor) ||
        !take_number(cursor, INT32_MIN, INT32_MAX, &force) || !take_comma(cursor) ||
        !take_number(cursor, INT32_MIN, INT32_MAX, &travel)) {
        return false;
    }
    *line = (struct wire_line){.sequence = (uint16_t)sequence,
                               .device_us = (uint32_t)device_us,
                               .force_count = (int32_t)force,
                               .travel_count = (int32_t)travel};
    return true;
}

static unsigned checksum(const char *text, const char *end)
{
    unsigned sum = 0;
    for (; text < end; text++) {
        sum ^= (unsigned char)*text;
    }
    return sum;
}

/* The value of a hex digit, or 16 where it is none. */
static unsigned hex_value(char digit)
{
    if (is_digit(digit)) {
        return (unsigned)(digit - '0');
    }
    if (digit >= 'A' && digit <= 'F') {
        return (unsigned)(digit - 'A') + 10;
    }
    if (digit >= 'a' && digit <= 'f') {
        return (unsigned)(digit - 'a') + 10;
    }
    return 16;
}

enum wire_result wire_decode(const char *text, size_t length, struct wire_line *line)
{
    assert(text != NULL || length == 0);
    if (length == 0 || text[0] == '#') {
        return WIRE_REMARK;
    }
    if (length < START_LENGTH || memcmp(text, start, START_LENGTH) != 0) {
        return WIRE_NOT_OURS;
    }
    struct cursor cursor = {text + START_LENGTH, text + length};
    struct wire_line fields;
    if (!take_fields(&cursor, &fields)) {
        return WIRE_MALFORMED;
    }
    if (cursor.at == cursor.end) {
        return WIRE_BAD_CHECKSUM;
    }
    if (*cursor.at != '*' || cursor.end - cursor.at > 3) {
        return WIRE_MALFORMED;
    }
    if (cursor.end - cursor.at < 3) {
        return WIRE_BAD_CHECKSUM;
    }
    unsigned high = hex_value(cursor.at[1]), low = hex_value(cursor.at[2]);
    if (high > 15 || low > 15 || high * 16 + low != checksum(text + 1, cursor.at)) {
        return WIRE_BAD_CHECKSUM;
    }
    *line = fields;
    return WIRE_READING;
}

size_t wire_encode(const struct wire_line *line, char text[WIRE_LINE_MAX])
{
    int body =
        snprintf(text, WIRE_LINE_MAX, "%s%u,%lu,%ld,%ld", start, (unsigned)line->sequence,
                 (unsigned long)line->device_us, (long)line->force_count, (long)line->travel_count);
    assert(body > 0 && body + 6 <= WIRE_LINE_MAX);
    unsigned sum = checksum(text + 1, text + body);
    int tail = snprintf(text + body, (size_t)(WIRE_LINE_MAX - body), "*%02X\r\n", sum);
    return (size_t)(body + tail);
}

const char *wire_result_text(enum wire_result result)
{
    switch (result) {
    case WIRE_READING:
        return "a reading";
    case WIRE_REMARK:
        return "a remark";
    case WIRE_NOT_OURS:
        return "not a pullcurve line";
    case WIRE_MALFORMED:
        return "a field is missing or is no number in range";
    case WIRE_BAD_CHECKSUM:
        return "the checksum differs or is missing";
    }
    return "";
}
