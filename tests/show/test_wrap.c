#include "show/wrap.h"

#include "check.h"

#include <string.h>

static void check_wrapped(const char *text, size_t indent, const char *expected)
{
    struct buf out = {0};
    wrap_text(&out, text, indent);
    assert_string_equal(buf_string(&out), expected);
    buf_clear(&out);
}

static void short_text_stays_on_its_line(void **state)
{
    (void)state;
    check_wrapped("one line", 2, "one line\n");
    check_wrapped("", 2, "\n");
}

static void line_is_broken_at_the_blank_before_column_80(void **state)
{
    (void)state;
    const char *forty = "abcdefghi abcdefghi abcdefghi abcdefghi"; /* 39 */
    char text[200], expected[200];
    (void)snprintf(text, sizeof text, "%s %s %s", forty, forty, "z");
    (void)snprintf(expected, sizeof expected, "%s %s\nz\n", forty, forty); /* 79 */
    check_wrapped(text, 0, expected);
    (void)snprintf(text, sizeof text, "%s x%s", forty, forty);
    (void)snprintf(expected, sizeof expected, "%s x%s\n", forty, forty); /* 80 */
    check_wrapped(text, 0, expected);
    (void)snprintf(expected, sizeof expected, "%s xabcdefghi abcdefghi abcdefghi\n  abcdefghi\n",
                   forty);
    check_wrapped(text, 2, expected);
}

static void characters_are_counted_not_bytes(void **state)
{
    (void)state;
    char text[200] = "", expected[210];
    for (int i = 0; i < 78; i++) /* 78 characters of two bytes */
        memcpy(text + 2 * i, "\xC3\xA4", 3);
    (void)snprintf(expected, sizeof expected, "%s a\n", text);
    memcpy(text + strlen(text), " a", 3);
    check_wrapped(text, 0, expected);
}

static void long_word_is_left_whole(void **state)
{
    (void)state;
    char word[101];
    memset(word, 'w', 100);
    word[100] = '\0';
    char text[220], expected[220];
    (void)snprintf(text, sizeof text, "a %s", word);
    (void)snprintf(expected, sizeof expected, "a\n%s\n", word);
    check_wrapped(text, 0, expected);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(short_text_stays_on_its_line),
        cmocka_unit_test(line_is_broken_at_the_blank_before_column_80),
        cmocka_unit_test(characters_are_counted_not_bytes),
        cmocka_unit_test(long_word_is_left_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
