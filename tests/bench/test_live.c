/* live: pulls are seen while they happen, and nothing else is taken for one. */
#include "bench/live.h"
#include "check.h"
#include "random.h"

/* A bow on a bench: 230 N peak, valley at 60 N, power stroke 0.5 m; 5 % less on the way back. */
struct scene {
    struct live live;
    struct random random;
    double time_s, step_s, travel_m;
    double noise_n;
    double drift_n_per_s;
    double friction; /* of the way back */
    double brace_m;
    double last_m;
};

static struct scene begin(void)
{
    struct scene scene = {
        .step_s = 0.0125, .friction = 0.05, .brace_m = 0.18, .travel_m = 0.18, .last_m = 0.18};
    struct live_settings settings = live_defaults();
    live_init(&scene.live, &settings);
    return scene;
}

static double curve_n(double beyond_m)
{
    if (beyond_m <= 0)
        return 0;
    if (beyond_m < 0.12)
        return 230 * sin(beyond_m / 0.12 * 1.5707963267948966);
    if (beyond_m < 0.35)
        return 230;
    if (beyond_m < 0.48)
        return 145 + 85 * cos((beyond_m - 0.35) / 0.13 * 3.141592653589793);
    return 60 + 20000 * (beyond_m - 0.48);
}

/* Sum of four rectangular numbers with standard deviation 1. */
static double noise(struct scene *scene)
{
    double sum = 0;
    for (int i = 0; i < 4; i++)
        sum += (double)(random_bits(&scene->random) >> 11) / 9007199254740992.0 - 0.5;
    return sum * 1.7320508075688772;
}

static void reading(struct scene *scene)
{
    double force_n = curve_n(scene->travel_m - scene->brace_m);
    if (scene->travel_m < scene->last_m)
        force_n *= 1 - scene->friction;
    force_n += scene->noise_n * noise(scene) + scene->drift_n_per_s * scene->time_s;
    live_reading(&scene->live, scene->time_s, force_n, scene->travel_m);
    scene->last_m = scene->travel_m;
    scene->time_s += scene->step_s;
}

/* Moves the string to brace + beyond_m at this speed. */
static void move_to(struct scene *scene, double beyond_m, double speed_m_s)
{
    double to_m = scene->brace_m + beyond_m, step_m = speed_m_s * scene->step_s;
    while (fabs(to_m - scene->travel_m) > step_m) {
        scene->travel_m += to_m > scene->travel_m ? step_m : -step_m;
        reading(scene);
    }
    scene->travel_m = to_m;
    reading(scene);
}

static void hold(struct scene *scene, double seconds)
{
    for (double end_s = scene->time_s + seconds; scene->time_s < end_s;)
        reading(scene);
}

static void pull(struct scene *scene)
{
    move_to(scene, 0.485, 0.15);
    hold(scene, 0.5);
    move_to(scene, 0, 0.15);
    hold(scene, 1.0);
}

static void check_pulls(const struct scene *scene, size_t pulls, size_t movements)
{
    assert_int_equal(live_n_pulls(&scene->live), pulls);
    assert_int_equal(scene->live.n_movements, movements);
}

static void a_pull_goes_from_rest_to_rest(void **state)
{
    (void)state;
    struct scene scene = begin();
    hold(&scene, 1);
    assert_int_equal(scene.live.state, LIVE_REST);
    move_to(&scene, 0.3, 0.15);
    assert_int_equal(scene.live.state, LIVE_DRAWING);
    move_to(&scene, 0.485, 0.15);
    check_pulls(&scene, 0, 0);
    move_to(&scene, 0.3, 0.15);
    assert_int_equal(scene.live.state, LIVE_LET_DOWN);
    move_to(&scene, 0, 0.15);
    check_pulls(&scene, 0, 0);
    hold(&scene, 1);
    assert_int_equal(scene.live.state, LIVE_REST);
    check_pulls(&scene, 1, 1);
}

static void the_rest_position_is_where_the_force_begins(void **state)
{
    (void)state;
    struct scene scene = begin();
    /* The carriage takes up 50 mm of slack first. */
    scene.travel_m = scene.last_m = scene.brace_m - 0.05;
    hold(&scene, 0.5);
    move_to(&scene, 0.2, 0.15);
    check_near(scene.live.rest_travel_m, scene.brace_m, 0.003);
}

static void several_pulls_are_counted(void **state)
{
    (void)state;
    struct scene scene = begin();
    hold(&scene, 1);
    for (size_t i = 1; i <= 5; i++) {
        pull(&scene);
        check_pulls(&scene, i, i);
    }
}

static void waiting_is_no_pull(void **state)
{
    (void)state;
    struct scene scene = begin();
    scene.noise_n = 2;
    scene.drift_n_per_s = 0.05;
    hold(&scene, 300);
    check_pulls(&scene, 0, 0);
    assert_int_equal(scene.live.state, LIVE_REST);
}

static void noise_does_not_matter(void **state)
{
    (void)state;
    struct scene scene = begin();
    scene.random = random_start();
    scene.noise_n = 3;
    hold(&scene, 3);
    for (size_t i = 1; i <= 3; i++) {
        pull(&scene);
        hold(&scene, 5);
        check_pulls(&scene, i, i);
    }
}

static void a_long_hold_in_the_valley_does_not_end_a_pull(void **state)
{
    (void)state;
    struct scene scene = begin();
    hold(&scene, 1);
    move_to(&scene, 0.48, 0.15);
    hold(&scene, 30);
    check_pulls(&scene, 0, 0);
    move_to(&scene, 0, 0.15);
    hold(&scene, 1);
    check_pulls(&scene, 1, 1);
}

static void pauses_and_small_reversals_do_not_end_a_pull(void **state)
{
    (void)state;
    struct scene scene = begin();
    hold(&scene, 1);
    static const double way_m[] = {0.05, 0.04, 0.2, 0.15, 0.4, 0.3, 0.485, 0.3, 0.4, 0.1, 0.15, 0};
    for (size_t i = 0; i < sizeof way_m / sizeof way_m[0]; i++) {
        move_to(&scene, way_m[i], 0.15);
        check_pulls(&scene, 0, 0);
        hold(&scene, 4);
    }
    check_pulls(&scene, 1, 1);
}

static void a_draw_that_stops_short_is_no_pull(void **state)
{
    (void)state;
    struct scene scene = begin();
    hold(&scene, 1);
    move_to(&scene, 0.12, 0.15);
    move_to(&scene, 0, 0.15);
    hold(&scene, 2);
    check_pulls(&scene, 0, 1);
    pull(&scene);
    check_pulls(&scene, 1, 2);
}

static void a_much_shorter_pull_does_not_count_beside_a_long_one(void **state)
{
    (void)state;
    struct scene scene = begin();
    hold(&scene, 1);
    move_to(&scene, 0.25, 0.15);
    move_to(&scene, 0, 0.15);
    hold(&scene, 2);
    check_pulls(&scene, 1, 1);
    pull(&scene);
    check_pulls(&scene, 1, 2);
    pull(&scene);
    check_pulls(&scene, 2, 3);
}

static void the_shortest_pull_can_be_stated(void **state)
{
    (void)state;
    struct scene scene = begin();
    struct live_settings settings = live_defaults();
    settings.travel_min_m = 0.4;
    live_init(&scene.live, &settings);
    hold(&scene, 1);
    move_to(&scene, 0.35, 0.15);
    move_to(&scene, 0, 0.15);
    hold(&scene, 2);
    check_pulls(&scene, 0, 1);
}

static void a_touch_of_the_load_cell_is_no_movement(void **state)
{
    (void)state;
    struct scene scene = begin();
    hold(&scene, 1);
    for (int i = 0; i < 100; i++, scene.time_s += 0.0125)
        live_reading(&scene.live, scene.time_s, 50, scene.travel_m);
    hold(&scene, 1);
    check_pulls(&scene, 0, 0);
    pull(&scene);
    check_pulls(&scene, 1, 1);
}

static void a_spike_is_no_movement(void **state)
{
    (void)state;
    struct scene scene = begin();
    hold(&scene, 1);
    live_reading(&scene.live, scene.time_s, 5000, scene.travel_m + 0.3);
    hold(&scene, 3);
    assert_int_equal(live_n_pulls(&scene.live), 0);
    pull(&scene);
    assert_int_equal(live_n_pulls(&scene.live), 1);
}

static void moving_the_empty_carriage_is_no_movement(void **state)
{
    (void)state;
    struct scene scene = begin();
    scene.travel_m = scene.brace_m - 0.4;
    hold(&scene, 1);
    move_to(&scene, -0.01, 0.2);
    move_to(&scene, -0.3, 0.2);
    move_to(&scene, 0, 0.2);
    check_pulls(&scene, 0, 0);
    pull(&scene);
    check_pulls(&scene, 1, 1);
}

/* A slow pull of 80 s while the zero drifts by 16 N. */
static void drift_during_a_pull_does_not_keep_it_from_ending(void **state)
{
    (void)state;
    for (int sign = -1; sign <= 1; sign += 2) {
        struct scene scene = begin();
        scene.drift_n_per_s = sign * 0.2;
        hold(&scene, 5);
        move_to(&scene, 0.485, 0.0125);
        move_to(&scene, 0, 0.0125);
        hold(&scene, 4);
        check_pulls(&scene, 1, 1);
    }
}

static void a_slow_let_down_does_not_end_before_it_rests(void **state)
{
    (void)state;
    struct scene scene = begin();
    hold(&scene, 1);
    move_to(&scene, 0.485, 0.1);
    move_to(&scene, 0.003, 0.02);
    check_pulls(&scene, 0, 0);
    move_to(&scene, 0, 0.02);
    hold(&scene, 0.6);
    check_pulls(&scene, 1, 1);
}

static void a_string_that_leaves_the_hook_is_a_movement_but_no_pull(void **state)
{
    (void)state;
    struct scene scene = begin();
    hold(&scene, 1);
    move_to(&scene, 0.485, 0.15);
    for (int i = 0; i < 400; i++, scene.time_s += 0.0125)
        live_reading(&scene.live, scene.time_s, 0, scene.travel_m);
    check_pulls(&scene, 0, 1);
    assert_int_equal(scene.live.state, LIVE_REST);
}

static void a_capture_that_begins_at_full_draw_sees_no_pull_in_the_let_down(void **state)
{
    (void)state;
    struct scene scene = begin();
    scene.travel_m = scene.last_m = scene.brace_m + 0.48;
    hold(&scene, 2);
    move_to(&scene, 0, 0.15);
    hold(&scene, 5);
    assert_int_equal(live_n_pulls(&scene.live), 0);
    pull(&scene);
    assert_int_equal(live_n_pulls(&scene.live), 1);
}

static void the_rate_does_not_matter(void **state)
{
    (void)state;
    static const double rates_hz[] = {10, 80, 1000, 10000};
    for (size_t i = 0; i < sizeof rates_hz / sizeof rates_hz[0]; i++) {
        struct scene scene = begin();
        scene.step_s = 1 / rates_hz[i];
        scene.noise_n = 1;
        hold(&scene, 2);
        pull(&scene);
        check_pulls(&scene, 1, 1);
    }
}

static void every_state_has_words(void **state)
{
    (void)state;
    for (int s = LIVE_START; s <= LIVE_LET_DOWN; s++)
        assert_true(live_state_text((enum live_state)s)[0] != '\0');
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_pull_goes_from_rest_to_rest),
        cmocka_unit_test(the_rest_position_is_where_the_force_begins),
        cmocka_unit_test(several_pulls_are_counted),
        cmocka_unit_test(waiting_is_no_pull),
        cmocka_unit_test(noise_does_not_matter),
        cmocka_unit_test(a_long_hold_in_the_valley_does_not_end_a_pull),
        cmocka_unit_test(pauses_and_small_reversals_do_not_end_a_pull),
        cmocka_unit_test(a_draw_that_stops_short_is_no_pull),
        cmocka_unit_test(a_much_shorter_pull_does_not_count_beside_a_long_one),
        cmocka_unit_test(the_shortest_pull_can_be_stated),
        cmocka_unit_test(a_touch_of_the_load_cell_is_no_movement),
        cmocka_unit_test(a_spike_is_no_movement),
        cmocka_unit_test(moving_the_empty_carriage_is_no_movement),
        cmocka_unit_test(drift_during_a_pull_does_not_keep_it_from_ending),
        cmocka_unit_test(a_slow_let_down_does_not_end_before_it_rests),
        cmocka_unit_test(a_string_that_leaves_the_hook_is_a_movement_but_no_pull),
        cmocka_unit_test(a_capture_that_begins_at_full_draw_sees_no_pull_in_the_let_down),
        cmocka_unit_test(the_rate_does_not_matter),
        cmocka_unit_test(every_state_has_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
