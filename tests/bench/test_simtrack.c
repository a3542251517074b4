#include "bench/simtrack.h"

#include "check.h"

#include <gsl/gsl_errno.h>
#include <string.h>

static const double deg = M_PI / 180.0;

static struct simtrack *open_table(void)
{
    static const double normal_deg[] = {0, 40, 90, 150, 200};
    static const double lever_m[] = {0.030, 0.035, 0.050, 0.060, 0.062};
    double normal_rad[5];
    for (size_t i = 0; i < 5; i++)
        normal_rad[i] = normal_deg[i] * deg;
    struct err err;
    struct simtrack *track = NULL;
    check_ok(simtrack_open_table(&track, normal_rad, lever_m, 5, &err));
    return track;
}

static struct simtrack *open_circle(bool has_end)
{
    struct err err;
    struct simtrack *track = NULL;
    check_ok(simtrack_open_circle(&track, 0.05, 0.02, 1.0, has_end, 2.5, &err));
    return track;
}

static void table_goes_through_its_entries(void **state)
{
    (void)state;
    struct simtrack *track = open_table();
    check_near(simtrack_at(track, 0.0).lever_m, 0.030, 1e-16);
    check_near(simtrack_at(track, 90 * deg).lever_m, 0.050, 1e-16);
    check_near(simtrack_at(track, 200 * deg).lever_m, 0.062, 1e-16);
    simtrack_close(track);
}

static void check_consistent(const struct simtrack *track, double from_rad, double to_rad)
{
    /* Central differences: error of the order of step^2 = 1e-8 of third derivatives near 0.1 m. */
    const double step = 1e-4;
    for (double at = from_rad; at < to_rad; at += 0.0137) {
        struct simtrack_point before = simtrack_at(track, at - step);
        struct simtrack_point here = simtrack_at(track, at), after = simtrack_at(track, at + step);
        check_near(here.slope_m, (after.lever_m - before.lever_m) / (2 * step), 1e-8);
        check_near(here.curvature_m, (after.slope_m - before.slope_m) / (2 * step), 2e-5);
        check_near(here.lever_m, (after.wound_m - before.wound_m) / (2 * step), 1e-8);
    }
}

static void slope_curvature_and_length_belong_to_the_lever_arm(void **state)
{
    (void)state;
    struct simtrack *track = open_table();
    check_consistent(track, -0.5, 4.0);
    simtrack_close(track);
    track = open_circle(false);
    check_consistent(track, -3.0, 6.0);
    simtrack_close(track);
}

static void table_is_smooth_to_its_second_derivative_at_the_entries(void **state)
{
    (void)state;
    struct simtrack *track = open_table();
    for (int i = 0; i < 5; i++) {
        double at = (double[]){0, 40, 90, 150, 200}[i] * deg;
        struct simtrack_point before = simtrack_at(track, at - 1e-10);
        struct simtrack_point after = simtrack_at(track, at + 1e-10);
        check_near(before.lever_m, after.lever_m, 1e-10);
        check_near(before.slope_m, after.slope_m, 1e-10);
        check_near(before.curvature_m, after.curvature_m, 1e-10);
    }
    simtrack_close(track);
}

static void length_counts_from_direction_zero(void **state)
{
    (void)state;
    struct simtrack *track = open_table();
    check_near(simtrack_at(track, 0.0).wound_m, 0.0, 1e-17);
    simtrack_close(track);
    track = open_circle(true);
    check_near(simtrack_at(track, 0.0).wound_m, 0.0, 1e-17);
    simtrack_close(track);
}

static void circle_all_round_has_the_length_of_its_circumference(void **state)
{
    (void)state;
    struct simtrack *track = open_circle(false);
    double once_m = simtrack_at(track, 2 * M_PI + 0.3).wound_m - simtrack_at(track, 0.3).wound_m;
    check_near(once_m, 2 * M_PI * 0.05, 1e-15);
    simtrack_close(track);
}

static void circle_is_equally_round_everywhere(void **state)
{
    (void)state;
    struct simtrack *track = open_circle(false);
    for (double at = 0; at < 6; at += 0.1) {
        struct simtrack_point point = simtrack_at(track, at);
        check_near(point.lever_m + point.curvature_m, 0.05, 1e-16);
    }
    simtrack_close(track);
}

static void cord_hangs_from_one_point_beyond_its_end(void **state)
{
    (void)state;
    struct simtrack *track = open_circle(true);
    struct simtrack_point end = simtrack_at(track, 2.5);
    double x_m = end.lever_m * cos(2.5) - end.slope_m * sin(2.5);
    double y_m = end.lever_m * sin(2.5) + end.slope_m * cos(2.5);
    for (double at = 2.5; at < 4.0; at += 0.1) {
        struct simtrack_point point = simtrack_at(track, at);
        check_near(point.lever_m * cos(at) - point.slope_m * sin(at), x_m, 1e-16);
        check_near(point.lever_m * sin(at) + point.slope_m * cos(at), y_m, 1e-16);
        /* Nothing of the cord lies on the track there: the free length takes it all. */
        check_near(point.wound_m + point.slope_m, end.wound_m + end.slope_m, 1e-16);
    }
    simtrack_close(track);
}

static void table_covers_what_lies_between_its_ends(void **state)
{
    (void)state;
    struct simtrack *track = open_table();
    assert_true(simtrack_covers(track, 0.0));
    assert_true(simtrack_covers(track, 199 * deg));
    assert_false(simtrack_covers(track, -0.01));
    assert_false(simtrack_covers(track, 201 * deg));
    simtrack_close(track);
}

static void hollow_track_is_refused(void **state)
{
    (void)state;
    static const double normal_rad[] = {0, 0.5, 1.0, 1.5, 2.0};
    static const double lever_m[] = {0.05, 0.05, 0.08, 0.05, 0.05};
    struct err err;
    struct simtrack *track = NULL;
    assert_int_equal(simtrack_open_table(&track, normal_rad, lever_m, 5, &err), STATUS_BAD_INPUT);
    assert_null(track);
    assert_non_null(strstr(err.text, "hollow near"));
}

static void table_that_does_not_rise_is_refused(void **state)
{
    (void)state;
    static const double normal_rad[] = {0, 1, 1, 2};
    static const double lever_m[] = {0.05, 0.05, 0.05, 0.05};
    struct err err;
    struct simtrack *track = NULL;
    assert_int_equal(simtrack_open_table(&track, normal_rad, lever_m, 4, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "entry 3"));
    assert_int_equal(simtrack_open_table(&track, normal_rad, lever_m, 2, &err), STATUS_BAD_INPUT);
}

static void lever_arm_of_nothing_is_refused(void **state)
{
    (void)state;
    static const double normal_rad[] = {0, 1, 2, 3};
    static const double lever_m[] = {0.05, 0.05, 0, 0.05};
    struct err err;
    struct simtrack *track = NULL;
    assert_int_equal(simtrack_open_table(&track, normal_rad, lever_m, 4, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "entry 3"));
    assert_int_equal(simtrack_open_circle(&track, 0.05, 0.06, 0, false, 0, &err), STATUS_BAD_INPUT);
    assert_int_equal(simtrack_open_circle(&track, 0, 0, 0, false, 0, &err), STATUS_BAD_INPUT);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(table_goes_through_its_entries),
        cmocka_unit_test(slope_curvature_and_length_belong_to_the_lever_arm),
        cmocka_unit_test(table_is_smooth_to_its_second_derivative_at_the_entries),
        cmocka_unit_test(length_counts_from_direction_zero),
        cmocka_unit_test(circle_all_round_has_the_length_of_its_circumference),
        cmocka_unit_test(circle_is_equally_round_everywhere),
        cmocka_unit_test(cord_hangs_from_one_point_beyond_its_end),
        cmocka_unit_test(table_covers_what_lies_between_its_ends),
        cmocka_unit_test(hollow_track_is_refused),
        cmocka_unit_test(table_that_does_not_rise_is_refused),
        cmocka_unit_test(lever_arm_of_nothing_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
