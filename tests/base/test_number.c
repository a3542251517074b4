/* Decimal numbers in and out: the C library's strtod in the "C" locale is the measure. */
#include "base/buf.h"
#include "base/number.h"
#include "check.h"
#include "random.h"
#include "run.h"

#include <float.h>
#include <locale.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { N_RANDOM = 300000, TEXT_MAX = 3000 };

static struct err err;

static uint64_t bits_of(double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

static double double_of(uint64_t bits)
{
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

/* number_scan must take what strtod takes and give the same bits, seeing no byte past the end. */
static void check_like_strtod(const char *text)
{
    size_t length = strlen(text);
    char *exact = malloc(length); /* no NUL: a sanitizer sees a step too far */
    memcpy(exact, text, length);
    char *stop;
    double expected = strtod(text, &stop), got = -4711.0;
    const char *end = number_scan(exact, exact + length, '.', &got);
    if (!isfinite(expected)) {
        if (end != NULL || got != -4711.0)
            fail_msg("'%s': taken as %.17g, but is not finite", text, got);
    } else if (end == NULL || end - exact != stop - text || bits_of(got) != bits_of(expected)) {
        fail_msg("'%s': got %.17g after %td bytes, strtod %.17g after %td", text, got,
                 end != NULL ? end - exact : -1, expected, stop - text);
    }
    free(exact);
}

static void hard_cases_are_read_as_strtod_reads_them(void **state)
{
    (void)state;
    static const char *const text[] = {
        "0",
        "-0",
        "+0.0",
        "0e999999999999",
        "1",
        "007.250",
        ".5",
        "5.",
        "-.5e-3",
        "1e22",
        "1e23", /* half-way between two doubles but for the exact power */
        "9007199254740993",
        "9007199254740992.5",
        "9007199254740993.00000000000000000000000000000000000000000000000000000000001",
        "123456789012345e22",
        "999999999999999e-22",
        "1234567890123456",
        "2.2250738585072011e-308", /* the largest subnormal, hard to round */
        "2.2250738585072014e-308",
        "4.9406564584124654e-324",
        "2.4703282292062327e-324",
        "2.4703282292062328e-324",
        "2.470328229206232720882843964341106861825299013071623822127928412503377536e-324",
        "1e-400",
        "-1e-400",
        "1.7976931348623157e308",
        "1.7976931348623158e308",
        "1.7976931348623159e308", /* overflow */
        "1e309",
        "-1e99999999999999999999",
        "1e-99999999999999999999",
        "6929495644600919.5",
        "3.14159265358979323846264338327950288419716939937510582097494459230781640628620899",
        "1e",
        "1e+",
        "1e-x",
        "12abc",
        "1.2.3",
        "7,5",
        "0000000000000000000000000000000000000000000001e-5",
        "0.000000000000000000000000000000000000000000000000000000000000000000000000123",
        "100000000000000000000000000000000000000000000000000000000000000000000000000000000",
    };
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++)
        check_like_strtod(text[i]);
}

/* Up to `most` digits with a mark somewhere and perhaps an exponent. */
static void random_decimal(struct random *random, int most, char *text)
{
    int digits = random_int(random, 1, most), mark = random_int(random, -1, digits);
    char *at = text;
    if (random_int(random, 0, 3) == 0)
        *at++ = random_int(random, 0, 1) ? '-' : '+';
    for (int i = 0; i < digits; i++) {
        if (i == mark)
            *at++ = '.';
        *at++ = (char)('0' + random_int(random, 0, 9));
    }
    *at = '\0';
    if (random_int(random, 0, 1))
        (void)sprintf(at, "e%d", random_int(random, -345, 330));
}

static void random_decimals_are_read_as_strtod_reads_them(void **state)
{
    (void)state;
    struct random random = random_start();
    char text[TEXT_MAX];
    for (int i = 0; i < N_RANDOM; i++) {
        random_decimal(&random, i % 100 == 0 ? 1500 : i % 3 == 0 ? 40 : 18, text);
        check_like_strtod(text);
    }
}

static void any_double_printed_is_read_back(void **state)
{
    (void)state;
    struct random random = random_start();
    char text[TEXT_MAX];
    for (int i = 0; i < N_RANDOM; i++) {
        uint64_t bits = random_bits(&random);
        if (i % 4 == 0)
            bits &= 0x800FFFFFFFFFFFFFu; /* subnormal */
        double value = double_of(bits);
        if (!isfinite(value))
            continue;
        (void)sprintf(text, "%.*e", random_int(&random, 0, 25), value);
        check_like_strtod(text);
        (void)sprintf(text, "%.*g", 17, value);
        check_like_strtod(text);
    }
}

/* The decimal that lies exactly between two neighbouring doubles, and its next neighbours in the
 * last digit. The middle needs one bit more than a double has; a long double holds it. */
static void decimals_half_way_between_doubles_are_read_as_strtod_reads_them(void **state)
{
    (void)state;
    assert_true(LDBL_MANT_DIG > DBL_MANT_DIG);
    struct random random = random_start();
    char text[TEXT_MAX];
    for (int i = 0; i < 20000; i++) {
        uint64_t bits = random_bits(&random) & 0x7FFFFFFFFFFFFFFFu;
        if (i % 4 == 0)
            bits &= 0x001FFFFFFFFFFFFFu; /* subnormal and just above */
        double low = double_of(bits), high = nextafter(low, INFINITY);
        if (!isfinite(high))
            continue;
        long double middle = ((long double)low + (long double)high) / 2;
        (void)sprintf(text, "%.780Le", middle); /* exact: no more than 767 digits count */
        check_like_strtod(text);
        char *last = strchr(text, 'e') - 1;
        *last = '1'; /* a hair more, far behind the digits that count */
        check_like_strtod(text);
        *last = '0';
        while (*last == '0')
            last--;
        if (*last != '.') {
            (*last)--; /* less */
            check_like_strtod(text);
        }
    }
}

static void words_and_what_only_looks_like_a_number_are_no_numbers(void **state)
{
    (void)state;
    static const char *const text[] = {"",    "-",    "+",        ".",   "-.",  "e5",  ".e5", "inf",
                                       "nan", "-inf", "infinity", "--1", "+-1", "x12", " 12"};
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
        double value = 42;
        assert_null(number_scan(text[i], text[i] + strlen(text[i]), '.', &value));
        check_near(value, 42, 0.0);
    }
    double value = 42;
    const char *hexadecimal = "0x1F"; /* the 0 is a number, the rest is not */
    assert_ptr_equal(number_scan(hexadecimal, hexadecimal + 4, '.', &value), hexadecimal + 1);
    check_near(value, 0, 0.0);
}

static void a_decimal_comma_is_read_where_it_is_the_mark(void **state)
{
    (void)state;
    const char *text = "-12,75e1;";
    double value = 0;
    assert_ptr_equal(number_scan(text, text + strlen(text), ',', &value), text + 8);
    check_near(value, -127.5, 0.0);
    text = "0,1000000000000000055511151231257827021181583404541015625";
    assert_non_null(number_scan(text, text + strlen(text), ',', &value));
    check_near(value, 0.1, 0.0);
    text = "1.5";
    assert_ptr_equal(number_scan(text, text + 3, ',', &value), text + 1);
}

static void the_end_is_where_the_caller_says(void **state)
{
    (void)state;
    const char *text = "123.456e7";
    static const double expected[] = {1, 12, 123, 123, 123.4, 123.45, 123.456, 123.456, 1234560000};
    for (size_t length = 1; length <= 9; length++) {
        double value = 0;
        assert_non_null(number_scan(text, text + length, '.', &value));
        check_near(value, expected[length - 1], 0.0);
    }
}

static void a_whole_text_is_one_number_or_none(void **state)
{
    (void)state;
    double value = 0;
    assert_true(number_parse(" \t7.25\r\n", &value));
    check_near(value, 7.25, 0.0);
    static const char *const bad[] = {"", " ", "7.25 in", "7,25", "1 2", "1e999", "nan"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_false(number_parse(bad[i], &value));
    check_near(value, 7.25, 0.0);
}

static void whole_numbers_fit_64_bits_or_are_refused(void **state)
{
    (void)state;
    int64_t value = 0;
    assert_true(number_parse_int(" -9223372036854775808 ", &value));
    assert_true(value == INT64_MIN);
    assert_true(number_parse_int("+9223372036854775807", &value));
    assert_true(value == INT64_MAX);
    static const char *const bad[] = {"", "9223372036854775808", "1.0", "0x10", "1e3", "- 1", "ten",
                                      "+"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_false(number_parse_int(bad[i], &value));
    assert_true(value == INT64_MAX);
}

static void quantities_take_their_own_units_only(void **state)
{
    (void)state;
    double value = 0;
    check_ok(number_parse_quantity("60", QUANTITY_FORCE, UNIT_LBF, "--peak", &value, &err));
    check_near(value, 60 * 4.4482216152605, 1e-12);
    check_ok(number_parse_quantity("267 N", QUANTITY_FORCE, UNIT_LBF, "--peak", &value, &err));
    check_near(value, 267, 0.0);
    check_ok(number_parse_quantity("27kgf", QUANTITY_FORCE, UNIT_LBF, "--peak", &value, &err));
    check_near(value, 27 * 9.80665, 1e-12);
    check_ok(number_parse_quantity("80%", QUANTITY_PERCENT, UNIT_PERCENT, "--l", &value, &err));
    check_near(value, 80, 0.0);

    assert_int_equal(
        number_parse_quantity("60 in", QUANTITY_FORCE, UNIT_LBF, "--peak", &value, &err),
        STATUS_USAGE);
    assert_non_null(strstr(err.text, "--peak"));
    assert_non_null(strstr(err.text, "'in'"));
    assert_non_null(strstr(err.text, "lbf"));
    check_near(value, 80, 0.0);
}

/* Reads back the same, and no shorter text would (subnormals have shorter ones: not searched). */
static void exact_text_reads_back_and_is_short(void **state)
{
    (void)state;
    struct random random = random_start();
    char text[NUMBER_TEXT_MAX], shorter[400];
    for (int i = 0; i < N_RANDOM; i++) {
        double value = double_of(random_bits(&random));
        if (i % 2 == 0)
            value = random_int(&random, -1000000, 1000000) / 1e4;
        if (!isnormal(value))
            continue;
        number_exact(text, value);
        assert_true(bits_of(strtod(text, NULL)) == bits_of(value));
        int digits = 0;
        for (const char *at = text; *at != '\0' && *at != 'e'; at++)
            digits += (*at >= '1' && *at <= '9') || (*at == '0' && digits > 0);
        if (digits >= 16) {
            (void)snprintf(shorter, sizeof shorter, "%.*g", digits - 1, value);
            if (strtod(shorter, NULL) == value)
                fail_msg("%s could be %s", text, shorter);
        }
    }
    assert_string_equal(number_exact(text, 0.1), "0.1");
    assert_string_equal(number_exact(text, 60), "60");
    assert_string_equal(number_exact(text, 1.0 / 3), "0.3333333333333333");
    assert_string_equal(number_exact(text, -4.4482216152605), "-4.4482216152605");
    assert_string_equal(number_exact(text, 5e-324), "4.94065645841247e-324");
}

static void fixed_text_has_the_digits_asked_for_and_no_negative_zero(void **state)
{
    (void)state;
    char text[NUMBER_TEXT_MAX];
    assert_string_equal(number_fixed(text, 61.74, 1), "61.7");
    assert_string_equal(number_fixed(text, -0.004, 2), "0.00");
    assert_string_equal(number_fixed(text, -0.0, 0), "0");
    assert_string_equal(number_fixed(text, -0.006, 2), "-0.01");
    assert_string_equal(number_fixed(text, 12345678.9, 0), "12345679");
    assert_string_equal(number_fixed(text, 1e300, 2), "1e+300");
    assert_string_equal(number_fixed(text, -9.9999e19, 12), "-99999000000000000000.000000000000");
}

/* A locale whose decimal mark is a comma, made in a folder of its own: *path is filled. Returns
 * false where it can't be had. */
static bool make_german_locale(char *folder)
{
    struct buf command = {0}, said = {0};
    bool made = mkdtemp(folder) != NULL;
    buf_printf(&command, "localedef -i de_DE -f UTF-8 %s/de_DE.UTF-8 2>&1", folder);
    made = made && run_command(&said, buf_string(&command)) == 0;
    buf_clear(&command);
    buf_clear(&said);
    setenv("LOCPATH", folder, 1);
    return made && setlocale(LC_ALL, "de_DE.UTF-8") != NULL;
}

static void in_a_locale_with_a_decimal_comma_nothing_changes(void **state)
{
    (void)state;
    char folder[] = "/tmp/pullcurve-locale-XXXXXX", text[NUMBER_TEXT_MAX], sign[8];
    if (!make_german_locale(folder)) {
        print_message("localedef or the source of de_DE is not here: package `locales`\n");
        skip();
    }
    (void)snprintf(sign, sizeof sign, "%.1f", 1.5);
    double read = 0, read_slowly = 0;
    bool parsed = number_parse("2.75", &read);
    bool parsed_slowly = number_parse("0.1000000000000000055511151231257827", &read_slowly);
    char exact[NUMBER_TEXT_MAX], third[NUMBER_TEXT_MAX], fixed[NUMBER_TEXT_MAX];
    number_exact(exact, -1.5e-7);
    number_exact(third, 1.0 / 3);
    number_fixed(fixed, 61.74, 1);
    number_fixed(text, -0.001, 2);
    setlocale(LC_ALL, "C");
    struct buf command = {0}, said = {0};
    buf_printf(&command, "rm -r %s", folder);
    assert_int_equal(run_command(&said, buf_string(&command)), 0);
    buf_clear(&command);
    buf_clear(&said);

    assert_string_equal(sign, "1,5"); /* the locale was in force */
    assert_true(parsed);
    check_near(read, 2.75, 0.0);
    assert_true(parsed_slowly);
    check_near(read_slowly, 0.1, 0.0);
    assert_string_equal(exact, "-1.5e-07");
    assert_string_equal(third, "0.3333333333333333");
    assert_string_equal(fixed, "61.7");
    assert_string_equal(text, "0.00");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hard_cases_are_read_as_strtod_reads_them),
        cmocka_unit_test(random_decimals_are_read_as_strtod_reads_them),
        cmocka_unit_test(any_double_printed_is_read_back),
        cmocka_unit_test(decimals_half_way_between_doubles_are_read_as_strtod_reads_them),
        cmocka_unit_test(words_and_what_only_looks_like_a_number_are_no_numbers),
        cmocka_unit_test(a_decimal_comma_is_read_where_it_is_the_mark),
        cmocka_unit_test(the_end_is_where_the_caller_says),
        cmocka_unit_test(a_whole_text_is_one_number_or_none),
        cmocka_unit_test(whole_numbers_fit_64_bits_or_are_refused),
        cmocka_unit_test(quantities_take_their_own_units_only),
        cmocka_unit_test(exact_text_reads_back_and_is_short),
        cmocka_unit_test(fixed_text_has_the_digits_asked_for_and_no_negative_zero),
        cmocka_unit_test(in_a_locale_with_a_decimal_comma_nothing_changes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
