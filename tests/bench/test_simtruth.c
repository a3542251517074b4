#include "bench/simtruth.h"

#include "simbow_support.h"

#include <gsl/gsl_errno.h>
#include <string.h>

static const double lbf = 4.4482216152605, in = 0.0254, deg = M_PI / 180.0;

static struct simtruth truth_of(const struct simbow *bow)
{
    struct err err;
    struct simtruth truth;
    check_ok(simtruth_find(bow, SIMTRUTH_PRESS_N, &truth, &err));
    return truth;
}

static double si(const struct simtruth *truth, enum simtruth_id id)
{
    assert_true(truth->present[id]);
    return truth->value_si[id];
}

static double trade(const struct simtruth *truth, enum simtruth_id id)
{
    return unit_from_si(simtruth_info(id)->trade_unit, si(truth, id));
}

static void stored_energy_without_friction_is_that_in_the_limbs(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    settings.friction_scale = 0.0;
    for (int i = 0; i < N_SHIPPED_BOWS; i++) {
        struct simbow *bow = open_bow(shipped_bows[i], &settings);
        struct simtruth truth = truth_of(bow);
        double energy_j = state_at(bow, si(&truth, SIMTRUTH_FULL_DRAW), 0.0).energy_j;
        check_near(si(&truth, SIMTRUTH_STORED_ENERGY) / energy_j, 1.0, 1e-9);
        check_near(si(&truth, SIMTRUTH_RETURNED_ENERGY) / energy_j, 1.0, 1e-9);
        check_near(si(&truth, SIMTRUTH_HYSTERESIS) / energy_j, 0.0, 1e-9);
        simbow_close(bow);
    }
}

static void energies_agree_with_a_walk_in_small_steps(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    for (int i = 0; i < N_SHIPPED_BOWS; i++) {
        struct simbow *bow = open_bow(shipped_bows[i], &settings);
        struct simtruth truth = truth_of(bow);
        double brace_m = simbow_brace_m(bow), full_m = si(&truth, SIMTRUTH_FULL_DRAW);
        double top_m = si(&truth, SIMTRUTH_LARGEST_DRAW);
        double stored_j = 0.0, returned_j = 0.0;
        enum { STEPS = 40000 };
        double h_m = (full_m - brace_m) / STEPS;
        double direction = simbow_friction(bow, 1.0, full_m - top_m);
        for (int k = STEPS; k > 0; k--) {
            double middle_m = brace_m + (k - 0.5) * h_m;
            double half_way = simbow_friction(bow, direction, -h_m / 2);
            stored_j += state_at(bow, middle_m, 1.0).force_n * h_m;
            returned_j += state_at(bow, middle_m, half_way).force_n * h_m;
            direction = simbow_friction(bow, direction, -h_m);
        }
        check_near(stored_j / si(&truth, SIMTRUTH_STORED_ENERGY), 1.0, 1e-8);
        check_near(returned_j / si(&truth, SIMTRUTH_RETURNED_ENERGY), 1.0, 1e-8);
        simbow_close(bow);
    }
}

static void peak_and_valley_are_the_extremes_of_the_curve(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    for (int i = 0; i < N_SHIPPED_COMPOUNDS; i++) {
        struct simbow *bow = open_bow(shipped_bows[i], &settings);
        struct simtruth truth = truth_of(bow);
        double peak_m = si(&truth, SIMTRUTH_PEAK_POSITION);
        double valley_m = si(&truth, SIMTRUTH_VALLEY_POSITION);
        double landing_m = simbow_stop_top_m(bow), brace_m = simbow_brace_m(bow);
        check_near(state_at(bow, peak_m, 1.0).slope_n_per_m, 0.0, 1e-8);
        check_near(state_at(bow, valley_m, 1.0).slope_n_per_m, 0.0, 1e-8);
        for (int k = 0; k < 3000; k++) {
            double at_m = brace_m + (landing_m - brace_m) * k / 3000.0;
            double force_n = state_at(bow, at_m, 1.0).force_n;
            assert_true(force_n <= si(&truth, SIMTRUTH_PEAK_FORCE) * (1 + 1e-12));
            assert_true(at_m < peak_m ||
                        force_n >= si(&truth, SIMTRUTH_HOLDING_FORCE) * (1 - 1e-12));
        }
        simbow_close(bow);
    }
}

static void figures_follow_from_one_another(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("hunting_compound", &settings);
    struct simtruth truth = truth_of(bow);
    double peak = trade(&truth, SIMTRUTH_PEAK_FORCE), hold = trade(&truth, SIMTRUTH_HOLDING_FORCE);
    double stored = trade(&truth, SIMTRUTH_STORED_ENERGY);
    double stroke = trade(&truth, SIMTRUTH_POWER_STROKE);
    check_near(trade(&truth, SIMTRUTH_LET_OFF), 100 * (peak - hold) / peak, 1e-11);
    check_near(trade(&truth, SIMTRUTH_ENERGY_PER_PEAK), stored / peak, 1e-13);
    check_near(trade(&truth, SIMTRUTH_FULLNESS), 12 * stored / (peak * stroke), 1e-13);
    check_near(trade(&truth, SIMTRUTH_DRAW_LENGTH_ATA), trade(&truth, SIMTRUTH_FULL_DRAW) + 1.75,
               1e-12);
    check_near(trade(&truth, SIMTRUTH_HYSTERESIS), stored - trade(&truth, SIMTRUTH_RETURNED_ENERGY),
               1e-11);
    check_near(trade(&truth, SIMTRUTH_STATIC_EFFICIENCY),
               100 - trade(&truth, SIMTRUTH_HYSTERESIS_PCT), 1e-11);
    assert_true(trade(&truth, SIMTRUTH_LET_OFF_LET_DOWN) > trade(&truth, SIMTRUTH_LET_OFF));
    simbow_close(bow);
}

static void valley_and_plateau_end_where_the_curve_crosses_their_levels(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("target_compound", &settings);
    struct simtruth truth = truth_of(bow);
    double narrow_m = 0.0, full_m = 0.0, h_m = 1e-5;
    double valley_level_n = si(&truth, SIMTRUTH_HOLDING_FORCE) + 2 * lbf;
    double plateau_level_n = 0.95 * si(&truth, SIMTRUTH_PEAK_FORCE);
    for (double at_m = 10 * in; at_m < si(&truth, SIMTRUTH_LARGEST_DRAW); at_m += h_m) {
        double force_n = state_at(bow, at_m, 1.0).force_n;
        narrow_m += force_n <= valley_level_n && at_m > 20 * in ? h_m : 0.0;
        full_m += force_n >= plateau_level_n ? h_m : 0.0;
    }
    check_near(si(&truth, SIMTRUTH_VALLEY_WIDTH), narrow_m, 2e-5);
    check_near(si(&truth, SIMTRUTH_PLATEAU), full_m, 2e-5);
    simbow_close(bow);
}

static void pull_ends_where_it_presses_as_stated(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("round_wheel", &settings);
    struct simtruth truth = truth_of(bow);
    double top_n = state_at(bow, si(&truth, SIMTRUTH_LARGEST_DRAW), 1.0).force_n;
    check_near(top_n - si(&truth, SIMTRUTH_HOLDING_FORCE), 20 * lbf, 1e-9);
    simbow_close(bow);
}

static void walls_line_meets_the_holding_level_at_the_onset(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("hunting_compound", &settings);
    struct simtruth truth = truth_of(bow);
    double top_m = si(&truth, SIMTRUTH_LARGEST_DRAW), onset_m = si(&truth, SIMTRUTH_WALL_ONSET);
    double hold_n = si(&truth, SIMTRUTH_HOLDING_FORCE);
    /* the rise of this bow is nearly straight: the line runs along it from 30 % to the top */
    for (int i = 3; i <= 10; i++) {
        double line_m = onset_m + 0.1 * i * 20 * lbf / si(&truth, SIMTRUTH_WALL_STIFFNESS);
        check_near(state_at(bow, line_m, 1.0).force_n - hold_n, 0.1 * i * 20 * lbf, 0.1 * lbf);
    }
    check_near(onset_m + 20 * lbf / si(&truth, SIMTRUTH_WALL_STIFFNESS), top_m, 1e-5);
    assert_true(onset_m <= simbow_stop_top_m(bow));
    assert_true(onset_m > si(&truth, SIMTRUTH_VALLEY_POSITION));
    simbow_close(bow);
}

static void stagger_is_the_distance_between_the_two_landings(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    settings.stop_bottom_rad = 0.8 * deg;
    struct simbow *bow = open_bow("hunting_compound", &settings);
    struct simtruth truth = truth_of(bow);
    check_near(si(&truth, SIMTRUTH_STOP_STAGGER),
               simbow_stop_bottom_m(bow) - simbow_stop_top_m(bow), 1e-15);
    assert_true(si(&truth, SIMTRUTH_STOP_STAGGER) > 0.02 * in);
    simbow_close(bow);
}

static void recurve_has_neither_valley_nor_wall(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("recurve", &settings);
    struct simtruth truth = truth_of(bow);
    static const enum simtruth_id absent[] = {SIMTRUTH_HOLDING_FORCE, SIMTRUTH_VALLEY_POSITION,
                                              SIMTRUTH_LET_OFF, SIMTRUTH_WALL_ONSET,
                                              SIMTRUTH_STOP_STAGGER};
    for (size_t i = 0; i < sizeof absent / sizeof absent[0]; i++)
        assert_false(truth.present[absent[i]]);
    /* Its force only rises; the smallest slope is a rise too. */
    assert_true(trade(&truth, SIMTRUTH_STEEPEST_DROP) > 1.0);
    check_near(trade(&truth, SIMTRUTH_FULL_DRAW), 26.25, 1e-12);
    check_near(trade(&truth, SIMTRUTH_PEAK_POSITION), 26.25, 1e-12);
    simbow_close(bow);
}

/* What a bow of its kind shows. Ranges: let-off and energy per pound are common practice, no
 * source; static hysteresis 5 to 12 % of compounds is memory, about 1 % of recurves C. Tuijn and
 * B. W. Kooi, Eur. J. Phys. 13 (1992). */
static const struct {
    const char *bow;
    double peak_lbf[2], let_off[2], energy_per_peak[2], hysteresis_pct[2], ata_in[2];
} kinds[] = {
    {"hunting_compound", {60, 70}, {78, 82}, {1.2, 1.5}, {5, 12}, {28.75, 29.25}},
    {"target_compound", {54, 56}, {65, 75}, {1.2, 1.5}, {5, 12}, {28.75, 29.25}},
    {"round_wheel", {49, 51}, {40, 60}, {1.2, 1.5}, {5, 12}, {28.75, 29.25}},
    {"recurve", {39.5, 40.5}, {0, 0}, {0.8, 1.05}, {0.2, 1.2}, {27.99, 28.01}},
};

static void check_within(double value, const double range[2])
{
    check_near(value, (range[0] + range[1]) / 2, (range[1] - range[0]) / 2);
}

static void shipped_bows_are_of_their_kind(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        struct simbow *bow = open_bow(kinds[i].bow, &settings);
        struct simtruth truth = truth_of(bow);
        check_within(trade(&truth, SIMTRUTH_PEAK_FORCE), kinds[i].peak_lbf);
        check_within(trade(&truth, SIMTRUTH_ENERGY_PER_PEAK), kinds[i].energy_per_peak);
        check_within(trade(&truth, SIMTRUTH_HYSTERESIS_PCT), kinds[i].hysteresis_pct);
        check_within(trade(&truth, SIMTRUTH_DRAW_LENGTH_ATA), kinds[i].ata_in);
        if (simbow_is_compound(bow)) {
            check_within(trade(&truth, SIMTRUTH_LET_OFF), kinds[i].let_off);
            check_within(trade(&truth, SIMTRUTH_WALL_STIFFNESS), (const double[]){100, 300});
        }
        simbow_close(bow);
    }
}

static void cam_setting_moves_draw_length_about_as_labelled(void **state)
{
    (void)state;
    for (int i = 0; i < N_SHIPPED_COMPOUNDS; i++) {
        struct simbow_settings settings = simbow_nominal();
        settings.has_cam_setting = true;
        settings.cam_setting_m = 28 * in;
        struct simbow *shorter = open_bow(shipped_bows[i], &settings);
        settings.cam_setting_m = 29 * in;
        struct simbow *longer = open_bow(shipped_bows[i], &settings);
        struct simtruth at_28 = truth_of(shorter), at_29 = truth_of(longer);
        double moved = trade(&at_29, SIMTRUTH_FULL_DRAW) - trade(&at_28, SIMTRUTH_FULL_DRAW);
        check_near(moved, 1.0, 0.1);
        check_near(simbow_brace_m(shorter), simbow_brace_m(longer), 0.01 * in);
        simbow_close(shorter);
        simbow_close(longer);
    }
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stored_energy_without_friction_is_that_in_the_limbs),
        cmocka_unit_test(energies_agree_with_a_walk_in_small_steps),
        cmocka_unit_test(peak_and_valley_are_the_extremes_of_the_curve),
        cmocka_unit_test(figures_follow_from_one_another),
        cmocka_unit_test(valley_and_plateau_end_where_the_curve_crosses_their_levels),
        cmocka_unit_test(pull_ends_where_it_presses_as_stated),
        cmocka_unit_test(walls_line_meets_the_holding_level_at_the_onset),
        cmocka_unit_test(stagger_is_the_distance_between_the_two_landings),
        cmocka_unit_test(recurve_has_neither_valley_nor_wall),
        cmocka_unit_test(shipped_bows_are_of_their_kind),
        cmocka_unit_test(cam_setting_moves_draw_length_about_as_labelled),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
