#include "bench/simrig.h"
#include "bench/simtruth.h"

#include "simbow_support.h"

#include <gsl/gsl_errno.h>
#include <string.h>

static const double lbf = 4.4482216152605, in = 0.0254;

static struct simrig *open_rig(const struct simbow *bow, double drift_n)
{
    struct err err;
    struct simrig *rig = NULL;
    struct simhand_settings hand = simhand_defaults();
    check_ok(simrig_open(&rig, bow, &hand, SIMTRUTH_PRESS_N, drift_n, &err));
    return rig;
}

struct seen {
    double draw_m, force_n;
};

static struct seen see(struct simrig *rig, double time_s)
{
    struct err err;
    struct seen seen;
    check_ok(simrig_at(rig, time_s, &seen.draw_m, &seen.force_n, &err));
    return seen;
}

static void first_draw_follows_the_draw_curve(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("hunting_compound", &settings);
    struct simrig *rig = open_rig(bow, 0.0);
    for (double t = 0.0; t < 8.0; t += 0.0125) {
        struct seen seen = see(rig, t);
        check_near(seen.force_n, state_at(bow, seen.draw_m, 1.0).force_n, 1e-9);
    }
    simrig_close(rig);
    simbow_close(bow);
}

static void let_down_comes_to_the_lower_curve(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("hunting_compound", &settings);
    struct simrig *rig = open_rig(bow, 0.0);
    double end_s = simrig_duration_s(rig);
    for (double t = 0.0; t < end_s; t += 0.0125) {
        struct seen seen = see(rig, t);
        if (t > end_s - 7.0 && seen.draw_m > simbow_brace_m(bow))
            check_near(seen.force_n, state_at(bow, seen.draw_m, -1.0).force_n, 1e-6);
    }
    simrig_close(rig);
    simbow_close(bow);
}

static void string_rests_before_and_after(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("recurve", &settings);
    struct simrig *rig = open_rig(bow, 0.0);
    static const double times_s[] = {-5.0, 0.5, 100.0};
    for (size_t i = 0; i < 3; i++) {
        struct seen seen = see(rig, times_s[i]);
        check_near(seen.draw_m, 8.25 * in, 1e-12);
        check_near(seen.force_n, 0.0, 1e-10);
    }
    simrig_close(rig);
    simbow_close(bow);
}

static void zero_drifts_over_the_capture(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("recurve", &settings);
    struct simrig *rig = open_rig(bow, 0.4 * lbf);
    double end_s = simrig_duration_s(rig);
    check_near(see(rig, 0.0).force_n, 0.0, 1e-10);
    check_near(see(rig, end_s).force_n, 0.4 * lbf, 1e-10);
    simrig_restart(rig);
    check_near(see(rig, 0.5).force_n, 0.4 * lbf * 0.5 / end_s, 1e-10);
    simrig_close(rig);
    simbow_close(bow);
}

static void constant_load_stays(void **state)
{
    (void)state;
    struct simrig *rig = NULL;
    simrig_open_constant(&rig, 0.3, 50.0);
    check_near(see(rig, 0.0).force_n, 50.0, 0.0);
    check_near(see(rig, 1e6).draw_m, 0.3, 0.0);
    check_near(simrig_duration_s(rig), 0.0, 0.0);
    simrig_close(rig);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(first_draw_follows_the_draw_curve),
        cmocka_unit_test(let_down_comes_to_the_lower_curve),
        cmocka_unit_test(string_rests_before_and_after),
        cmocka_unit_test(zero_drifts_over_the_capture),
        cmocka_unit_test(constant_load_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
