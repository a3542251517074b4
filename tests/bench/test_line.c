/* line: bytes to lines, wherever they are split. */
#include "base/buf.h"
#include "bench/line.h"
#include "check.h"
#include "random.h"

#include <string.h>

/* Feeds bytes in pieces of `piece` and joins the lines by '|'. */
static void feed(struct line *line, const char *bytes, size_t n, size_t piece, struct buf *out)
{
    for (size_t at = 0; at < n;) {
        size_t end = at + piece < n ? at + piece : n;
        while (at < end) {
            const char *text;
            size_t length;
            at += line_feed(line, bytes + at, end - at, &text, &length);
            if (text != NULL) {
                buf_add(out, text, length);
                buf_char(out, '|');
            }
        }
    }
}

static void check_lines(const char *bytes, const char *expected)
{
    for (size_t piece = 1; piece <= strlen(bytes); piece++) {
        struct line line = {0};
        struct buf out = {0};
        feed(&line, bytes, strlen(bytes), piece, &out);
        assert_string_equal(buf_string(&out), expected);
        buf_clear(&out);
    }
}

static void lines_end_at_lf_cr_or_both(void **state)
{
    (void)state;
    check_lines("one\ntwo\n", "one|two|");
    check_lines("one\rtwo\r", "one|two|");
    check_lines("one\r\ntwo\r\n", "one||two||");
}

static void an_unfinished_line_is_not_given(void **state)
{
    (void)state;
    check_lines("one\ntw", "one|");
}

static void a_line_of_the_greatest_length_is_given(void **state)
{
    (void)state;
    char bytes[LINE_LENGTH_MAX + 2], expected[LINE_LENGTH_MAX + 2];
    memset(bytes, 'x', LINE_LENGTH_MAX);
    memcpy(expected, bytes, LINE_LENGTH_MAX);
    memcpy(bytes + LINE_LENGTH_MAX, "\n", 2);
    memcpy(expected + LINE_LENGTH_MAX, "|", 2);
    check_lines(bytes, expected);
}

static void a_longer_line_is_dropped_to_its_end_and_counted(void **state)
{
    (void)state;
    char bytes[LINE_LENGTH_MAX + 16];
    memset(bytes, 'x', LINE_LENGTH_MAX + 1);
    memcpy(bytes + LINE_LENGTH_MAX + 1, "\nnext\n", 7);
    for (size_t piece = 1; piece < sizeof bytes; piece++) {
        struct line line = {0};
        struct buf out = {0};
        feed(&line, bytes, strlen(bytes), piece, &out);
        assert_string_equal(buf_string(&out), "next|");
        assert_int_equal(line_n_long(&line), 1);
        buf_clear(&out);
    }
}

static void garbage_without_end_is_counted_once(void **state)
{
    (void)state;
    struct line line = {0};
    struct buf out = {0};
    for (int i = 0; i < 1000; i++)
        feed(&line, "0123456789", 10, 10, &out);
    assert_int_equal(out.length, 0);
    assert_int_equal(line_n_long(&line), 1);
    buf_clear(&out);
}

static void a_line_may_hold_any_byte(void **state)
{
    (void)state;
    struct line line = {0};
    struct buf out = {0};
    feed(&line, "a\0b\xff\n", 5, 2, &out);
    assert_int_equal(out.length, 5);
    assert_memory_equal(out.text, "a\0b\xff|", 5);
    buf_clear(&out);
}

static void a_cut_forgets_what_was_begun(void **state)
{
    (void)state;
    struct line line = {0};
    struct buf out = {0};
    feed(&line, "half", 4, 4, &out);
    line_cut(&line);
    feed(&line, "whole\n", 6, 6, &out);
    assert_string_equal(buf_string(&out), "whole|");
    buf_clear(&out);
}

static void random_bytes_are_the_same_in_any_split(void **state)
{
    (void)state;
    struct random random = random_start();
    static const char alphabet[] = "ab\r\n\0$";
    for (int i = 0; i < 300; i++) {
        char bytes[400];
        for (size_t k = 0; k < sizeof bytes; k++)
            bytes[k] = random_int(&random, 0, 99) < 5 ? '\n' : alphabet[random_int(&random, 0, 5)];
        struct line whole = {0}, split = {0};
        struct buf expected = {0}, got = {0};
        feed(&whole, bytes, sizeof bytes, sizeof bytes, &expected);
        feed(&split, bytes, sizeof bytes, (size_t)random_int(&random, 1, 50), &got);
        assert_int_equal(got.length, expected.length);
        assert_memory_equal(got.text, expected.text, got.length);
        assert_int_equal(line_n_long(&whole), line_n_long(&split));
        buf_clear(&expected);
        buf_clear(&got);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_end_at_lf_cr_or_both),
        cmocka_unit_test(an_unfinished_line_is_not_given),
        cmocka_unit_test(a_line_of_the_greatest_length_is_given),
        cmocka_unit_test(a_longer_line_is_dropped_to_its_end_and_counted),
        cmocka_unit_test(garbage_without_end_is_counted_once),
        cmocka_unit_test(a_line_may_hold_any_byte),
        cmocka_unit_test(a_cut_forgets_what_was_begun),
        cmocka_unit_test(random_bytes_are_the_same_in_any_split),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
