/* guard: limits are told when they are passed, once, and it never decides to stop. */
#include "bench/guard.h"
#include "check.h"

static struct guard guarding(struct guard_limits limits)
{
    struct guard guard;
    guard_init(&guard, &limits);
    return guard;
}

static const struct guard_limits no_limits = {INFINITY, INFINITY, INFINITY, INFINITY};

static void without_limits_there_is_no_alarm(void **state)
{
    (void)state;
    struct guard guard = guarding(no_limits);
    for (int i = 0; i < 1000; i++)
        assert_int_equal(guard_reading(&guard, i * 0.01, i * 100.0, i * 1.0, false), 0);
    assert_int_equal(guard_quiet(&guard, 1e9), 0);
    assert_int_equal(guard.n_raised, 0);
}

static void a_force_over_its_limit_is_told_once(void **state)
{
    (void)state;
    struct guard_limits limits = no_limits;
    limits.force_n = 300;
    struct guard guard = guarding(limits);
    assert_int_equal(guard_reading(&guard, 0, 300, 0, false), 0);
    assert_int_equal(guard_reading(&guard, 0.01, 300.1, 0, false), GUARD_FORCE);
    assert_int_equal(guard_reading(&guard, 0.02, 310, 0, false), 0);
    assert_int_equal(guard.active, GUARD_FORCE);
}

static void an_alarm_is_told_again_only_after_coming_well_back(void **state)
{
    (void)state;
    struct guard_limits limits = no_limits;
    limits.force_n = 300;
    struct guard guard = guarding(limits);
    assert_int_equal(guard_reading(&guard, 0, 301, 0, false), GUARD_FORCE);
    assert_int_equal(guard_reading(&guard, 0.01, 299, 0, false), 0);
    assert_int_equal(guard_reading(&guard, 0.02, 301, 0, false), 0);
    assert_int_equal(guard_reading(&guard, 0.03, 293, 0, false), 0);
    assert_int_equal(guard.active, 0);
    assert_int_equal(guard_reading(&guard, 0.04, 301, 0, false), GUARD_FORCE);
    assert_int_equal(guard.n_raised, 2);
}

static void a_draw_position_over_its_limit_is_told(void **state)
{
    (void)state;
    struct guard_limits limits = no_limits;
    limits.draw_m = 0.75;
    struct guard guard = guarding(limits);
    assert_int_equal(guard_reading(&guard, 0, 0, 0.75, false), 0);
    assert_int_equal(guard_reading(&guard, 0.01, 0, 0.751, false), GUARD_TRAVEL);
}

static void speed_is_told_in_both_directions(void **state)
{
    (void)state;
    struct guard_limits limits = no_limits;
    limits.speed_m_s = 0.5;
    struct guard guard = guarding(limits);
    unsigned slow = 0, fast = 0, back = 0;
    double time_s = 0, draw_m = 0.2;
    for (int i = 0; i < 100; i++, time_s += 0.0125, draw_m += 0.4 * 0.0125)
        slow |= guard_reading(&guard, time_s, 0, draw_m, false);
    for (int i = 0; i < 20; i++, time_s += 0.0125, draw_m += 0.6 * 0.0125)
        fast |= guard_reading(&guard, time_s, 0, draw_m, false);
    check_near(guard.speed_m_s, 0.6, 1e-9);
    for (int i = 0; i < 20; i++, time_s += 0.0125)
        guard_reading(&guard, time_s, 0, draw_m, false);
    for (int i = 0; i < 20; i++, time_s += 0.0125, draw_m -= 2 * 0.0125)
        back |= guard_reading(&guard, time_s, 0, draw_m, false);
    assert_int_equal(slow, 0);
    assert_int_equal(fast, GUARD_SPEED);
    assert_int_equal(back, GUARD_SPEED);
}

static void one_count_of_the_encoder_is_no_speed(void **state)
{
    (void)state;
    struct guard_limits limits = no_limits;
    limits.speed_m_s = 0.1;
    struct guard guard = guarding(limits);
    unsigned raised = 0;
    for (int i = 0; i < 5000; i++)
        raised |= guard_reading(&guard, i * 0.001, 0, i % 2 * 0.0005, false);
    assert_int_equal(raised, 0);
}

static void silence_is_told_and_ends_with_a_reading(void **state)
{
    (void)state;
    struct guard_limits limits = no_limits;
    limits.silence_s = 1.0;
    struct guard guard = guarding(limits);
    assert_int_equal(guard_quiet(&guard, 0.9), 0);
    assert_int_equal(guard_quiet(&guard, 1.1), GUARD_SILENCE);
    assert_int_equal(guard_quiet(&guard, 1.2), 0);
    assert_int_equal(guard_reading(&guard, 5, 0, 0, false), 0);
    assert_int_equal(guard.active, 0);
    assert_int_equal(guard_quiet(&guard, 1.1), GUARD_SILENCE);
}

static void a_saturated_converter_is_told(void **state)
{
    (void)state;
    struct guard guard = guarding(no_limits);
    assert_int_equal(guard_reading(&guard, 0, 0, 0, true), GUARD_BLIND);
    assert_int_equal(guard_reading(&guard, 0.01, 0, 0, true), 0);
    assert_int_equal(guard_reading(&guard, 0.02, 0, 0, false), 0);
    assert_int_equal(guard_reading(&guard, 0.03, 0, 0, true), GUARD_BLIND);
}

static void several_alarms_come_together(void **state)
{
    (void)state;
    struct guard guard = guarding((struct guard_limits){100, 0.5, 1, 1});
    assert_int_equal(guard_reading(&guard, 0, 101, 0.6, true),
                     GUARD_FORCE | GUARD_TRAVEL | GUARD_BLIND);
    assert_int_equal(guard.n_raised, 3);
}

static void every_alarm_has_words(void **state)
{
    (void)state;
    for (unsigned alarm = GUARD_FORCE; alarm <= GUARD_BLIND; alarm *= 2)
        assert_true(guard_text((enum guard_alarm)alarm)[0] != '\0');
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_limits_there_is_no_alarm),
        cmocka_unit_test(a_force_over_its_limit_is_told_once),
        cmocka_unit_test(an_alarm_is_told_again_only_after_coming_well_back),
        cmocka_unit_test(a_draw_position_over_its_limit_is_told),
        cmocka_unit_test(speed_is_told_in_both_directions),
        cmocka_unit_test(one_count_of_the_encoder_is_no_speed),
        cmocka_unit_test(silence_is_told_and_ends_with_a_reading),
        cmocka_unit_test(a_saturated_converter_is_told),
        cmocka_unit_test(several_alarms_come_together),
        cmocka_unit_test(every_alarm_has_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
