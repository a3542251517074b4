/* Units and digits that people see. */
#include "check.h"
#include "show/shown.h"

static void every_quantity_has_a_unit_of_its_own_kind(void **state)
{
    (void)state;
    for (int q = QUANTITY_NONE; q <= QUANTITY_MOMENTUM; q++)
        for (int s = UNITS_TRADE; s <= UNITS_SI; s++)
            assert_int_equal(unit_quantity(shown_unit((enum quantity)q, (enum unit_system)s)), q);
    for (int f = 0; f < FIGURE_COUNT; f++)
        assert_int_equal(unit_quantity(shown_figure_unit((enum figure_id)f, UNITS_TRADE)),
                         unit_quantity(shown_figure_unit((enum figure_id)f, UNITS_SI)));
}

static void the_systems_have_names(void **state)
{
    (void)state;
    enum unit_system system = UNITS_TRADE;
    assert_true(unit_system_parse("SI", &system));
    assert_int_equal(system, UNITS_SI);
    assert_true(unit_system_parse("trade", &system));
    assert_int_equal(system, UNITS_TRADE);
    assert_false(unit_system_parse("metric", &system));
    assert_string_equal(unit_system_name(UNITS_SI), "si");
}

/* JCGM 100 7.2.6: at most two significant digits of an uncertainty are quoted. */
static void u_leaves_two_digits(void **state)
{
    (void)state;
    static const struct {
        double u;
        int decimals;
    } rows[] = {{0.5, 2},  {0.123, 2}, {0.0996, 2}, {0.0994, 3}, {0.099, 3}, {0.0123, 3}, {1.5, 1},
                {9.96, 0}, {9.94, 1},  {12, 0},     {1234, 0},   {1e-9, 4},  {0, 2},      {-1, 2}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(shown_decimals_for_u(UNIT_LBF, rows[i].u), rows[i].decimals);
    assert_int_equal(shown_decimals_for_u(UNIT_LBF, NAN), 2);
}

static void a_value_is_shown_with_its_unit(void **state)
{
    (void)state;
    struct buf text = {0};
    shown_value(&text, UNIT_IN, 0.0254 * 28.336);
    buf_char(&text, '/');
    shown_value(&text, UNIT_NONE, 0.75);
    assert_string_equal(buf_string(&text), "28.34 in/0.750");
    buf_clear(&text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_quantity_has_a_unit_of_its_own_kind),
        cmocka_unit_test(the_systems_have_names),
        cmocka_unit_test(u_leaves_two_digits),
        cmocka_unit_test(a_value_is_shown_with_its_unit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
