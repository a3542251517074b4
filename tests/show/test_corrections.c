/* What the fixture was corrected for, as text and JSON. */
#include "check.h"
#include "show/corrections.h"

#include <string.h>

static void check_text(const struct fixture *fixture, enum unit_system units, const char *expected)
{
    struct buf text = {0};
    corrections_text(&text, fixture, units);
    assert_string_equal(buf_string(&text), expected);
    buf_clear(&text);
}

static double number_at(const json_t *object, const char *name, const char *member)
{
    const json_t *value = json_object_get(json_object_get(object, name), member);
    return json_is_number(value) ? json_number_value(value) : NAN;
}

static void nothing_is_said_where_nothing_is_corrected(void **state)
{
    (void)state;
    /* an uncertainty alone corrects nothing */
    const struct fixture fixture = {.u_give_m_per_n = 1e-6, .u_angle_rad = 0.1, .u_brace_m = 1e-3};
    check_text(&fixture, UNITS_TRADE, "");
    json_t *json = corrections_json(&fixture, UNITS_TRADE);
    assert_true(json_is_null(json_object_get(json, "give")));
    assert_true(json_is_null(json_object_get(json, "angle")));
    assert_true(json_is_null(json_object_get(json, "hook")));
    assert_true(json_is_false(json_object_get(json, "tare")));
    assert_true(json_is_false(json_object_get(json, "drift")));
    json_decref(json);
}

/* 0.000254 m at 444.82216152605 N is 0.01 in at 100 lbf; 1 degree is 0.0174532925 rad. */
static const struct fixture all = {.give_m_per_n = 0.000254 / 444.82216152605,
                                   .u_give_m_per_n = 0.0000254 / 444.82216152605,
                                   .angle_rad = -0.017453292519943295,
                                   .hook_n = 4.4482216152605,
                                   .u_hook_n = 0.44482216152605,
                                   .tare = true,
                                   .drift = true};

static void all_stand_in_one_line(void **state)
{
    (void)state;
    check_text(&all, UNITS_TRADE,
               "Corrected for: give 0.0100 in at 100 lbf, pull angle -1.00 deg, hook 1.00 lbf,\n"
               "tare, drift\n");
    check_text(&all, UNITS_SI,
               "Corrected for: give 0.286 mm at 500 N, pull angle -1.00 deg, hook 4.4 N, tare,\n"
               "drift\n");
    const struct fixture tare = {.tare = true};
    check_text(&tare, UNITS_SI, "Corrected for: tare\n");
}

static void json_has_value_and_uncertainty_in_the_units_asked_for(void **state)
{
    (void)state;
    json_t *trade = corrections_json(&all, UNITS_TRADE), *si = corrections_json(&all, UNITS_SI);
    check_near(number_at(trade, "give", "value"), 0.0001, 1e-16);
    check_near(number_at(trade, "give", "u"), 0.00001, 1e-17);
    assert_string_equal(json_string_value(json_object_get(json_object_get(trade, "give"), "unit")),
                        "in/lbf");
    check_near(number_at(trade, "angle", "value"), -1, 1e-14);
    check_near(number_at(trade, "hook", "value"), 1, 1e-14);
    check_near(number_at(trade, "hook", "u"), 0.1, 1e-15);
    check_near(number_at(si, "give", "value"), 0.254 / 444.82216152605, 1e-16);
    check_near(number_at(si, "hook", "value"), 4.4482216152605, 1e-14);
    json_decref(trade);
    json_decref(si);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_said_where_nothing_is_corrected),
        cmocka_unit_test(all_stand_in_one_line),
        cmocka_unit_test(json_has_value_and_uncertainty_in_the_units_asked_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
