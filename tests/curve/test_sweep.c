/* sweep: draws and let-downs found in what a hand on a crank does. */
#include "check.h"

#include "curve/sweep.h"

#include <string.h>

enum { N_MAX = 4000 };

/* A course of draw positions, written as moves; force plays no part here. */
struct moves {
    double draw_m[N_MAX];
    size_t n;
};

static void rest(struct moves *m, double at_m, size_t n)
{
    for (size_t i = 0; i < n; i++)
        m->draw_m[m->n++] = at_m;
}

static void move(struct moves *m, double to_m, size_t n)
{
    double from_m = m->draw_m[m->n - 1];
    for (size_t i = 1; i <= n; i++)
        m->draw_m[m->n++] = from_m + (to_m - from_m) * (double)i / (double)n;
}

static struct sweeps find(const struct moves *m)
{
    struct readings readings = {.n = m->n, .draw_m = m->draw_m, .force_n = m->draw_m};
    struct sweeps sweeps;
    struct err err;
    check_ok(sweeps_find(&readings, &sweeps, &err));
    return sweeps;
}

static size_t pick_draw(const struct moves *m, const struct sweeps *sweeps, size_t *index,
                        struct ways_back *ways)
{
    struct readings readings = {.n = m->n, .draw_m = m->draw_m, .force_n = m->draw_m};
    return sweep_pick_draw(&readings, &sweeps->sweep[0], sweeps->tolerance_m, index, ways);
}

static void one_pull_begins_at_the_end_of_rest_and_ends_back_at_rest(void **state)
{
    (void)state;
    struct moves m = {.n = 0};
    rest(&m, 0.18, 50);
    move(&m, 0.70, 200);
    rest(&m, 0.70, 30);
    move(&m, 0.18, 200);
    rest(&m, 0.18, 50);
    struct sweeps s = find(&m);
    assert_int_equal(s.n, 1);
    assert_int_equal(s.sweep[0].first, 49);
    assert_int_equal(s.sweep[0].top_first, 249);
    assert_int_equal(s.sweep[0].top_last, 279);
    assert_int_equal(s.sweep[0].last, 479);
    assert_true(s.sweep[0].has_let_down);
    assert_int_equal(s.n_unfinished, 0);
    sweeps_clear(&s);
}

static void several_pulls_are_told_apart_with_and_without_rest_between(void **state)
{
    (void)state;
    struct moves m = {.n = 0};
    rest(&m, 0.18, 20);
    for (int k = 0; k < 3; k++) {
        move(&m, 0.70, 100);
        move(&m, 0.18, 100);
        if (k == 1)
            rest(&m, 0.18, 40);
    }
    struct sweeps s = find(&m);
    assert_int_equal(s.n, 3);
    for (size_t k = 0; k + 1 < s.n; k++)
        assert_true(s.sweep[k].last <= s.sweep[k + 1].first);
    sweeps_clear(&s);
}

static void a_draw_that_goes_straight_on_to_the_next_has_no_let_down(void **state)
{
    (void)state;
    struct moves m = {.n = 0};
    rest(&m, 0.18, 1);
    move(&m, 0.70, 50);
    rest(&m, 0.18, 1);
    move(&m, 0.70, 50);
    struct sweeps s = find(&m);
    assert_int_equal(s.n, 2);
    assert_false(s.sweep[0].has_let_down);
    assert_false(s.sweep[1].has_let_down);
    sweeps_clear(&s);
}

static void a_draw_that_stops_short_is_counted_and_is_no_pull(void **state)
{
    (void)state;
    struct moves m = {.n = 0};
    rest(&m, 0.18, 20);
    move(&m, 0.35, 60);
    move(&m, 0.18, 60);
    rest(&m, 0.18, 20);
    move(&m, 0.70, 100);
    move(&m, 0.18, 100);
    struct sweeps s = find(&m);
    assert_int_equal(s.n, 1);
    assert_int_equal(s.n_unfinished, 1);
    assert_true(s.sweep[0].first >= 139);
    sweeps_clear(&s);
}

static void a_pause_and_a_bounce_at_the_wall_stay_one_pull(void **state)
{
    (void)state;
    struct moves m = {.n = 0};
    rest(&m, 0.18, 20);
    move(&m, 0.45, 80);
    rest(&m, 0.45, 60);
    move(&m, 0.700, 80);
    move(&m, 0.660, 15);
    move(&m, 0.702, 20);
    move(&m, 0.18, 100);
    struct sweeps s = find(&m);
    assert_int_equal(s.n, 1);
    size_t index[N_MAX];
    struct ways_back ways;
    size_t n = pick_draw(&m, &s, index, &ways);
    assert_int_equal(ways.n, 1);
    check_near(ways.largest_m, 0.040, 1e-9);
    for (size_t k = 1; k < n; k++)
        assert_true(m.draw_m[index[k]] >= m.draw_m[index[k - 1]] - s.tolerance_m);
    /* 1 at rest, 80, 60, 80, and of the second climb only what lies beyond the first */
    assert_in_range(n, 221, 223);
    sweeps_clear(&s);
}

static void the_let_down_is_picked_in_falling_order_from_the_last_time_at_the_top(void **state)
{
    (void)state;
    struct moves m = {.n = 0};
    rest(&m, 0.18, 20);
    move(&m, 0.70, 100);
    move(&m, 0.40, 60);
    move(&m, 0.50, 20);
    move(&m, 0.18, 60);
    rest(&m, 0.18, 20);
    struct sweeps s = find(&m);
    struct readings readings = {.n = m.n, .draw_m = m.draw_m, .force_n = m.draw_m};
    size_t index[N_MAX];
    struct ways_back ways;
    size_t n = sweep_pick_let_down(&readings, &s.sweep[0], s.tolerance_m, index, &ways);
    assert_true(n > 90);
    assert_int_equal(ways.n, 1);
    for (size_t k = 1; k < n; k++)
        assert_true(m.draw_m[index[k]] <= m.draw_m[index[k - 1]] + s.tolerance_m);
    check_near(m.draw_m[index[0]], 0.70, 1e-12);
    sweeps_clear(&s);
}

static void an_encoder_that_stands_still_is_no_pull(void **state)
{
    (void)state;
    struct moves m = {.n = 0};
    rest(&m, 0.18, 100);
    struct readings readings = {.n = m.n, .draw_m = m.draw_m, .force_n = m.draw_m};
    struct sweeps sweeps;
    struct err err;
    assert_int_equal(sweeps_find(&readings, &sweeps, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "encoder"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_pull_begins_at_the_end_of_rest_and_ends_back_at_rest),
        cmocka_unit_test(several_pulls_are_told_apart_with_and_without_rest_between),
        cmocka_unit_test(a_draw_that_goes_straight_on_to_the_next_has_no_let_down),
        cmocka_unit_test(a_draw_that_stops_short_is_counted_and_is_no_pull),
        cmocka_unit_test(a_pause_and_a_bounce_at_the_wall_stay_one_pull),
        cmocka_unit_test(the_let_down_is_picked_in_falling_order_from_the_last_time_at_the_top),
        cmocka_unit_test(an_encoder_that_stands_still_is_no_pull),
    };
    return cmocka_run_group_tests_name("sweep", tests, NULL, NULL);
}
