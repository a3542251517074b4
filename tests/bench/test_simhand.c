#include "bench/simhand.h"

#include "check.h"

#include <gsl/gsl_errno.h>
#include <stdbool.h>
#include <string.h>

static const double brace_m = 0.17, top_m = 0.70;

static struct simhand *open_hand(const struct simhand_settings *settings)
{
    struct err err;
    struct simhand *hand = NULL;
    check_ok(simhand_open(&hand, settings, brace_m, top_m, &err));
    return hand;
}

static double largest_m(const struct simhand *hand)
{
    double largest = 0.0;
    for (double t = 0.0; t < simhand_duration_s(hand); t += 0.001)
        largest = fmax(largest, simhand_at_m(hand, t));
    return largest;
}

/* The hand's steps are linear between milliseconds, which a sum of steps of the clock meets but
 * nearly. */
static const double nearly_m = 1e-5;

/* When it is at the top for the first time. */
static double top_time_s(const struct simhand *hand)
{
    double t = 0.0;
    while (t < simhand_duration_s(hand) && simhand_at_m(hand, t) < top_m - nearly_m)
        t += 0.001;
    assert_true(t < simhand_duration_s(hand));
    return t;
}

/* How far the string runs back, summed, before it is at the top for the first time. */
static double run_back_m(const struct simhand *hand)
{
    double sum_m = 0.0, before_m = brace_m;
    for (double t = 0.0, end_s = top_time_s(hand); t < end_s; t += 0.001) {
        double at_m = simhand_at_m(hand, t);
        sum_m += fmax(0.0, before_m - at_m);
        before_m = at_m;
    }
    return sum_m;
}

static int count_pulls(const struct simhand *hand)
{
    int pulls = 0;
    bool is_drawn = false;
    for (double t = 0.0; t < simhand_duration_s(hand); t += 0.001) {
        bool drawn = simhand_at_m(hand, t) > (brace_m + top_m) / 2;
        pulls += drawn && !is_drawn;
        is_drawn = drawn;
    }
    return pulls;
}

static void begins_and_ends_at_rest(void **state)
{
    (void)state;
    struct simhand_settings settings = simhand_defaults();
    struct simhand *hand = open_hand(&settings);
    double end_s = simhand_duration_s(hand);
    for (double t = -1.0; t <= settings.rest_s - 0.01; t += 0.01) {
        check_near(simhand_at_m(hand, t), brace_m, 0.0);
        check_near(simhand_at_m(hand, end_s - t), brace_m, 0.0);
    }
    simhand_close(hand);
}

static void draws_to_the_top_and_never_beyond(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 20; seed++) {
        struct simhand_settings settings = simhand_defaults();
        settings.seed = seed;
        settings.unevenness = 1.2;
        settings.bounce_m = 0.004;
        struct simhand *hand = open_hand(&settings);
        double largest = largest_m(hand);
        check_near(largest, top_m, nearly_m);
        assert_true(largest <= top_m);
        simhand_close(hand);
    }
}

static void lasts_about_as_long_as_was_asked(void **state)
{
    (void)state;
    struct simhand_settings settings = simhand_defaults();
    settings.unevenness = 0.0;
    struct simhand *hand = open_hand(&settings);
    /* Rest, draw, hold, let-down, rest; the soft start and the careful end come on top. */
    check_near(simhand_duration_s(hand), 1 + 8 + 1.5 + 7 + 1, 1.5);
    assert_true(simhand_duration_s(hand) > 18.5);
    simhand_close(hand);
}

static void same_seed_is_the_same_hand(void **state)
{
    (void)state;
    struct simhand_settings settings = simhand_defaults();
    settings.seed = 7;
    struct simhand *one = open_hand(&settings), *same = open_hand(&settings);
    settings.seed = 8;
    struct simhand *other = open_hand(&settings);
    double difference_m = 0.0;
    for (double t = 0.0; t < simhand_duration_s(one); t += 0.0171) {
        check_near(simhand_at_m(one, t), simhand_at_m(same, t), 0.0);
        difference_m = fmax(difference_m, fabs(simhand_at_m(one, t) - simhand_at_m(other, t)));
    }
    assert_true(difference_m > 0.001);
    simhand_close(one);
    simhand_close(same);
    simhand_close(other);
}

static void pulls_as_often_as_asked(void **state)
{
    (void)state;
    for (int n = 0; n <= 3; n++) {
        struct simhand_settings settings = simhand_defaults();
        settings.n_pulls = n;
        struct simhand *hand = open_hand(&settings);
        assert_int_equal(count_pulls(hand), n);
        simhand_close(hand);
    }
}

static void even_hand_never_runs_back(void **state)
{
    (void)state;
    struct simhand_settings settings = simhand_defaults();
    settings.unevenness = 0.9;
    struct simhand *hand = open_hand(&settings);
    check_near(run_back_m(hand), 0.0, 0.0);
    simhand_close(hand);
}

static void jerky_hand_runs_back_between_strokes(void **state)
{
    (void)state;
    struct simhand_settings settings = simhand_defaults();
    settings.unevenness = 1.4;
    struct simhand *hand = open_hand(&settings);
    assert_true(run_back_m(hand) > 0.01);
    simhand_close(hand);
}

static void slip_runs_back_once_as_far_as_asked(void **state)
{
    (void)state;
    struct simhand_settings settings = simhand_defaults();
    settings.slip_m = 0.025;
    struct simhand *hand = open_hand(&settings);
    check_near(run_back_m(hand), 0.025, 1e-4);
    simhand_close(hand);
}

static void pauses_stand_still_during_the_draw(void **state)
{
    (void)state;
    struct simhand_settings settings = simhand_defaults();
    struct simhand *without = open_hand(&settings);
    settings.n_pauses = 3;
    settings.pause_s = 2.0;
    struct simhand *with = open_hand(&settings);
    double longest_s = 0.0, still_s = 0.0;
    for (double t = settings.rest_s + 0.1, end_s = top_time_s(with); t < end_s; t += 0.001) {
        bool still = fabs(simhand_at_m(with, t) - simhand_at_m(with, t - 0.001)) <= 0.0;
        still_s = still ? still_s + 0.001 : 0.0;
        longest_s = fmax(longest_s, still_s);
    }
    assert_true(longest_s >= 1.0 && longest_s <= 3.1);
    assert_true(simhand_duration_s(with) > simhand_duration_s(without) + 2.0);
    simhand_close(without);
    simhand_close(with);
}

static void bounce_swings_back_from_the_top(void **state)
{
    (void)state;
    struct simhand_settings settings = simhand_defaults();
    settings.bounce_m = 0.005;
    struct simhand *hand = open_hand(&settings);
    double t = top_time_s(hand), lowest_m = top_m;
    for (double end_s = t + 0.5; t < end_s; t += 0.001)
        lowest_m = fmin(lowest_m, simhand_at_m(hand, t));
    assert_true(top_m - lowest_m > 0.002 && top_m - lowest_m < 0.005);
    simhand_close(hand);
}

static void short_pull_turns_round_before_the_top(void **state)
{
    (void)state;
    struct simhand_settings settings = simhand_defaults();
    settings.short_of_m = 0.1;
    struct simhand *hand = open_hand(&settings);
    check_near(largest_m(hand), top_m - 0.1, nearly_m);
    simhand_close(hand);
}

static void wall_is_met_slowly(void **state)
{
    (void)state;
    struct simhand_settings settings = simhand_defaults();
    struct simhand *hand = open_hand(&settings);
    double t = top_time_s(hand) - 0.05;
    double speed_m_per_s = (simhand_at_m(hand, t) - simhand_at_m(hand, t - 0.002)) / 0.002;
    /* An even draw would go 66 mm/s there. */
    assert_true(speed_m_per_s > 0.0 && speed_m_per_s < 0.02);
    simhand_close(hand);
}

static void senseless_settings_are_refused(void **state)
{
    (void)state;
    struct err err;
    struct simhand *hand = NULL;
    struct simhand_settings settings = simhand_defaults();
    settings.unevenness = 1.6;
    assert_int_equal(simhand_open(&hand, &settings, brace_m, top_m, &err), STATUS_USAGE);
    assert_null(hand);
    assert_non_null(strstr(err.text, "unevenness"));
    settings = simhand_defaults();
    settings.short_of_m = 0.6;
    assert_int_equal(simhand_open(&hand, &settings, brace_m, top_m, &err), STATUS_USAGE);
    settings = simhand_defaults();
    settings.draw_s = NAN;
    assert_int_equal(simhand_open(&hand, &settings, brace_m, top_m, &err), STATUS_USAGE);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(begins_and_ends_at_rest),
        cmocka_unit_test(draws_to_the_top_and_never_beyond),
        cmocka_unit_test(lasts_about_as_long_as_was_asked),
        cmocka_unit_test(same_seed_is_the_same_hand),
        cmocka_unit_test(pulls_as_often_as_asked),
        cmocka_unit_test(even_hand_never_runs_back),
        cmocka_unit_test(jerky_hand_runs_back_between_strokes),
        cmocka_unit_test(slip_runs_back_once_as_far_as_asked),
        cmocka_unit_test(pauses_stand_still_during_the_draw),
        cmocka_unit_test(bounce_swings_back_from_the_top),
        cmocka_unit_test(short_pull_turns_round_before_the_top),
        cmocka_unit_test(wall_is_met_slowly),
        cmocka_unit_test(senseless_settings_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
