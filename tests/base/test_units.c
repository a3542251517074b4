/* The table between the trade's units and SI, against definitions and against GNU units. */
#include "base/buf.h"
#include "base/number.h"
#include "base/units.h"
#include "check.h"
#include "run.h"

#include <stdlib.h>
#include <string.h>

/* Products of the exact definitions lb = 0.45359237 kg, g = 9.80665 m/s2, in = 0.0254 m,
 * gr = lb/7000 (GNU units database); NIST SP 811 B.8 prints the rounded forms 4.448 222,
 * 1.355 818, 6.479 891E-05, 9.806 65. */
static void factors_are_the_exact_products_of_the_definitions(void **state)
{
    (void)state;
    static const struct {
        enum unit unit;
        double factor;
    } row[] = {
        {UNIT_LBF, 4.4482216152605},
        {UNIT_KGF, 9.80665},
        {UNIT_FT_LBF, 1.3558179483314004},
        {UNIT_GR, 6.479891e-05},
        {UNIT_IN, 0.0254},
        {UNIT_FT_PER_S, 0.3048},
        {UNIT_YD, 0.9144},
        {UNIT_FT_LBF_PER_LBF, 0.3048},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        check_near(unit_to_si(row[i].unit, 1.0), row[i].factor, 4e-16 * row[i].factor);
}

/* Every unit as GNU units writes it. A percent stays a percent: no row. */
static const struct {
    enum unit unit;
    const char *gnu, *gnu_si;
} gnu_row[] = {
    {UNIT_N, "newton", "newton"},
    {UNIT_KN, "kilonewton", "newton"},
    {UNIT_LBF, "lbf", "newton"},
    {UNIT_KGF, "kgf", "newton"},
    {UNIT_M, "metre", "metre"},
    {UNIT_CM, "centimetre", "metre"},
    {UNIT_MM, "millimetre", "metre"},
    {UNIT_IN, "inch", "metre"},
    {UNIT_FT, "foot", "metre"},
    {UNIT_YD, "yard", "metre"},
    {UNIT_J, "joule", "joule"},
    {UNIT_FT_LBF, "foot lbf", "joule"},
    {UNIT_N_PER_M, "newton/metre", "newton/metre"},
    {UNIT_LBF_PER_IN, "lbf/inch", "newton/metre"},
    {UNIT_KG, "kilogram", "kilogram"},
    {UNIT_G, "gram", "kilogram"},
    {UNIT_GR, "grain", "kilogram"},
    {UNIT_LB, "pound", "kilogram"},
    {UNIT_M_PER_S, "metre/second", "metre/second"},
    {UNIT_FT_PER_S, "foot/second", "metre/second"},
    {UNIT_S, "second", "second"},
    {UNIT_MS, "millisecond", "second"},
    {UNIT_J_PER_N, "joule/newton", "metre"},
    {UNIT_FT_LBF_PER_LBF, "foot lbf/lbf", "metre"},
    {UNIT_KG_M_PER_S, "kilogram metre/second", "kilogram metre/second"},
    {UNIT_SLUG_FT_PER_S, "slug foot/second", "kilogram metre/second"},
    {UNIT_RAD, "radian", "radian"},
    {UNIT_DEG, "degree", "radian"},
};

static void every_factor_agrees_with_gnu_units(void **state)
{
    (void)state;
    struct buf found = {0};
    if (run_command(&found, "command -v units") != 0) {
        buf_clear(&found);
        print_message("GNU units is not installed\n");
        skip();
    }
    buf_clear(&found);
    bool seen[UNIT_COUNT] = {[UNIT_NONE] = true, [UNIT_PERCENT] = true};
    for (size_t i = 0; i < sizeof gnu_row / sizeof gnu_row[0]; i++) {
        struct buf command = {0}, answer = {0};
        double expected;
        buf_printf(&command, "units -t -o %%.17g '%s' '%s'", gnu_row[i].gnu, gnu_row[i].gnu_si);
        assert_int_equal(run_command(&answer, buf_string(&command)), 0);
        assert_true(number_parse(buf_string(&answer), &expected));
        check_near(unit_to_si(gnu_row[i].unit, 1.0), expected, 1e-15 * expected);
        seen[gnu_row[i].unit] = true;
        buf_clear(&command);
        buf_clear(&answer);
    }
    for (int unit = 0; unit < UNIT_COUNT; unit++)
        assert_true(seen[unit]);
}

/* Slug: the mass that 1 lbf accelerates by 1 ft/s2; published as 14.593903 kg (NIST SP 811 B.8). */
static void momentum_in_slug_feet_fits_the_published_slug(void **state)
{
    (void)state;
    check_near(unit_to_si(UNIT_SLUG_FT_PER_S, 1.0) / 0.3048, 14.593903, 5e-7);
}

static void a_value_comes_back_from_si(void **state)
{
    (void)state;
    for (int unit = 0; unit < UNIT_COUNT; unit++)
        check_near(unit_from_si((enum unit)unit, unit_to_si((enum unit)unit, 61.7)), 61.7, 2e-14);
}

static void each_name_is_read_back_in_any_case(void **state)
{
    (void)state;
    for (int i = UNIT_NONE + 1; i < UNIT_COUNT; i++) {
        const char *name = unit_name((enum unit)i);
        char upper[32] = "";
        for (size_t at = 0; name[at] != '\0'; at++)
            upper[at] =
                (char)(name[at] >= 'a' && name[at] <= 'z' ? name[at] - 'a' + 'A' : name[at]);
        enum unit unit = UNIT_NONE;
        assert_true(unit_parse(name, strlen(name), &unit));
        assert_int_equal(unit, i);
        assert_true(unit_parse(upper, strlen(name), &unit));
        assert_int_equal(unit, i);
    }
}

static void what_is_no_unit_is_refused(void **state)
{
    (void)state;
    static const char *const name[] = {"", "l", "lbff", "inch", "ft lbf", "in ", "lbf/"};
    for (size_t i = 0; i < sizeof name / sizeof name[0]; i++) {
        enum unit unit = UNIT_COUNT;
        assert_false(unit_parse(name[i], strlen(name[i]), &unit));
        assert_int_equal(unit, UNIT_COUNT);
    }
}

/* AMO FP-3 prints the example 26 1/4 in + 1 3/4 in = 28 in. */
static void the_ata_axis_adds_one_and_three_quarter_inches(void **state)
{
    (void)state;
    double draw_length_ata_m = unit_to_si(UNIT_IN, 26.25) + ATA_AXIS_OFFSET_M;
    check_near(unit_from_si(UNIT_IN, draw_length_ata_m), 28.0, 1e-14);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(factors_are_the_exact_products_of_the_definitions),
        cmocka_unit_test(every_factor_agrees_with_gnu_units),
        cmocka_unit_test(momentum_in_slug_feet_fits_the_published_slug),
        cmocka_unit_test(a_value_comes_back_from_si),
        cmocka_unit_test(each_name_is_read_back_in_any_case),
        cmocka_unit_test(what_is_no_unit_is_refused),
        cmocka_unit_test(the_ata_axis_adds_one_and_three_quarter_inches),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
