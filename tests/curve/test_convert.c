/* convert: raw counts through the calibrations to draw position and force. */
#include "check.h"

#include "curve/convert.h"

#include <string.h>

static const uint32_t GOOD = RAW_HAS_FORCE | RAW_HAS_TRAVEL | RAW_HAS_DEVICE_TIME;

/* 1 N a 100 counts from 5000; 1 mm a 40 counts from 0 */
static void make_calibrations(struct calibration *force, struct calibration *travel)
{
    struct calibration_point loads[] = {{.reference_si = 0.0, .count = 5000.0},
                                        {.reference_si = 300.0, .count = 35000.0}};
    struct calibration_point lengths[] = {{.reference_si = 0.0, .count = 0.0},
                                          {.reference_si = 0.5, .count = 20000.0}};
    struct err err;
    check_ok(calibration_fit(loads, 2, QUANTITY_FORCE, 2, force, &err));
    check_ok(calibration_fit(lengths, 2, QUANTITY_LENGTH, 2, travel, &err));
}

static void counts_become_newtons_and_metres(void **state)
{
    (void)state;
    struct calibration force, travel;
    make_calibrations(&force, &travel);
    struct raw_reading raw[] = {
        {.arrival_us = 999,
         .device_us = 12500,
         .force_count = 5000,
         .travel_count = 0,
         .flags = GOOD},
        {.device_us = 25000, .force_count = 15000, .travel_count = 8000, .flags = GOOD},
    };
    struct converted c;
    struct err err;
    check_ok(convert_raw(raw, 2, &force, &travel, &(struct datum){false, 0.0}, &c, &err));
    assert_int_equal(c.readings.n, 2);
    check_near(c.readings.force_n[0], 0.0, 1e-9);
    check_near(c.readings.force_n[1], 100.0, 1e-9);
    check_near(c.readings.draw_m[1], 0.2, 1e-12);
    check_near(c.readings.time_s[0], 0.0125, 1e-15);
    converted_clear(&c);
}

static void readings_that_are_incomplete_or_saturated_are_left_out_and_counted(void **state)
{
    (void)state;
    struct calibration force, travel;
    make_calibrations(&force, &travel);
    struct raw_reading raw[] = {
        {.force_count = 6000, .travel_count = 10, .flags = GOOD},
        {.force_count = 6000, .flags = RAW_HAS_FORCE},
        {.force_count = 8388607, .travel_count = 30, .flags = GOOD | RAW_FORCE_SATURATED},
    };
    struct converted c;
    struct err err;
    check_ok(convert_raw(raw, 3, &force, &travel, &(struct datum){false, 0.0}, &c, &err));
    assert_int_equal(c.readings.n, 1);
    assert_int_equal(c.n_left_out, 2);
    converted_clear(&c);
    assert_int_equal(
        convert_raw(raw + 1, 2, &force, &travel, &(struct datum){false, 0.0}, &c, &err),
        STATUS_TOO_FEW);
    assert_non_null(strstr(err.text, "none of 2 readings"));
}

/* The encoder starts anywhere; the brace height that was measured at the bench is the datum. */
static void the_brace_height_becomes_the_position_at_rest(void **state)
{
    (void)state;
    enum { REST = 50, DRAW = 200 };
    struct calibration force, travel;
    make_calibrations(&force, &travel);
    struct raw_reading raw[REST + DRAW];
    memset(raw, 0, sizeof raw);
    for (int i = 0; i < REST + DRAW; i++) {
        int step = i < REST ? 0 : i - REST + 1;
        raw[i] = (struct raw_reading){.force_count = 5000 + 100 * step,
                                      .travel_count = 700 + 80 * step + i % 2,
                                      .flags = GOOD};
    }
    struct converted c;
    struct err err;
    check_ok(
        convert_raw(raw, REST + DRAW, &force, &travel, &(struct datum){true, 0.1778}, &c, &err));
    /* one count of the encoder is 25 um */
    check_near(c.readings.draw_m[10], 0.1778, 0.000026);
    check_near(c.readings.draw_m[REST + DRAW - 1], 0.1778 + 0.002 * DRAW, 0.0001);
    converted_clear(&c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counts_become_newtons_and_metres),
        cmocka_unit_test(readings_that_are_incomplete_or_saturated_are_left_out_and_counted),
        cmocka_unit_test(the_brace_height_becomes_the_position_at_rest),
    };
    return cmocka_run_group_tests_name("convert", tests, NULL, NULL);
}
