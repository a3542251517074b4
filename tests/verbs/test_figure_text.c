#include "verbs/figure_text.h"

#include "check.h"

#include <string.h>

static struct err err;

static struct tolerance range(enum figure_id figure, const char *text)
{
    struct tolerance tolerance;
    check_ok(figure_text_range(text, figure, &tolerance, &err));
    return tolerance;
}

static void check_range(const char *text, double low_n, double high_n)
{
    struct tolerance got = range(FIGURE_PEAK_FORCE, text);
    assert_int_equal(got.has_low, !isnan(low_n));
    assert_int_equal(got.has_high, !isnan(high_n));
    if (got.has_low)
        check_near(got.low, low_n, 1e-9);
    if (got.has_high)
        check_near(got.high, high_n, 1e-9);
}

static void a_range_is_in_the_trades_unit_where_none_is_written(void **state)
{
    (void)state;
    const double lbf = 4.4482216152605; /* NIST SP 811 B.8, exact form */
    check_range("58:62", 58 * lbf, 62 * lbf);
    check_range(" 58 : 62 ", 58 * lbf, 62 * lbf);
    check_range(":62", NAN, 62 * lbf);
    check_range("58:", 58 * lbf, NAN);
}

static void a_unit_at_one_end_holds_for_both(void **state)
{
    (void)state;
    check_range("258:267N", 258, 267);
    check_range("258 N:267", 258, 267);
    check_range("258:267 n ", 258, 267);
    check_range("0.258 kN:267 N", 258, 267);
    check_range("258:N", 258, NAN);
    check_range("N:267", NAN, 267);
    check_near(range(FIGURE_STORED_ENERGY, "80:90J").low, 80, 0);
    check_near(range(FIGURE_LET_OFF, "75:80%").high, 80, 0);
    check_near(range(FIGURE_FULLNESS, "0.7:0.8").high, 0.8, 0);
    check_near(range(FIGURE_DRAW_LENGTH_ATA, "73:76cm").low, 0.73, 1e-12);
    check_near(range(FIGURE_STEEPEST_DROP, "-10:-8N/m").low, -10, 0);
}

static void what_is_no_range_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text, *part;
    } row[] = {
        {"60", "is no range"},
        {"", "is no range"},
        {":", "neither end"},
        {" : ", "neither end"},
        {":lbf", "neither end"},
        {"62:58", "the low end is above"},
        {"60:60", "no room"},
        {"a:b", "'a' is not a number"},
        {"58:x", "'x' is not a number"},
        {"58:62 in", "not a unit that fits"},
        {":in", "not a unit that fits"},
        {"58:62:66", "the high end"},
        {"nan:62", "not a number"},
        {"58:inf", "not a number"},
        {"58:1e308", "larger than anything"},
        {"58:1e999", "not a number"},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct tolerance tolerance;
        assert_int_equal(figure_text_range(row[i].text, FIGURE_PEAK_FORCE, &tolerance, &err),
                         STATUS_USAGE);
        if (strstr(err.text, row[i].part) == NULL)
            fail_msg("'%s': '%s' is not in: %s", row[i].text, row[i].part, err.text);
    }
}

static void a_figure_is_found_by_its_name(void **state)
{
    (void)state;
    enum figure_id figure;
    const char *rest;
    check_ok(figure_text_split("let_off=75:80=", &figure, &rest, &err));
    assert_int_equal(figure, FIGURE_LET_OFF);
    assert_string_equal(rest, "75:80=");
}

static void a_misspelt_figure_is_told_with_the_nearest_name(void **state)
{
    (void)state;
    enum figure_id figure;
    const char *rest;
    assert_int_equal(figure_text_split("peak_farce=1:2", &figure, &rest, &err), STATUS_USAGE);
    assert_non_null(strstr(err.text, "is 'peak_force' meant?"));
    assert_int_equal(figure_text_split("=1:2", &figure, &rest, &err), STATUS_USAGE);
    assert_int_equal(figure_text_split("peak_force", &figure, &rest, &err), STATUS_USAGE);
    assert_non_null(strstr(err.text, "no '='"));
}

static void an_amount_is_above_zero(void **state)
{
    (void)state;
    double u_si;
    check_ok(figure_text_amount("2.5mm", FIGURE_BRACE_HEIGHT, &u_si, &err));
    check_near(u_si, 0.0025, 1e-15);
    static const char *const bad[] = {"0", "-1", "", "x", "1 lbf", "1e300"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_equal(figure_text_amount(bad[i], FIGURE_BRACE_HEIGHT, &u_si, &err),
                         STATUS_USAGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_range_is_in_the_trades_unit_where_none_is_written),
        cmocka_unit_test(a_unit_at_one_end_holds_for_both),
        cmocka_unit_test(what_is_no_range_is_refused),
        cmocka_unit_test(a_figure_is_found_by_its_name),
        cmocka_unit_test(a_misspelt_figure_is_told_with_the_nearest_name),
        cmocka_unit_test(an_amount_is_above_zero),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
