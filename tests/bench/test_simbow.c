#include "bench/simbow.h"

#include "simbow_support.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>
#include <string.h>

static const double lbf = 4.4482216152605, in = 0.0254, deg = M_PI / 180.0;

static struct simbow_settings frictionless(void)
{
    struct simbow_settings settings = simbow_nominal();
    settings.friction_scale = 0.0;
    return settings;
}

/* ---- work against energy: statics and geometry agree, and neither was made from the other ---- */

static double force_of(double draw_m, void *context)
{
    return state_at(context, draw_m, 0.0).force_n;
}

static double piece_of_work_j(struct simbow *bow, double low_m, double high_m)
{
    gsl_integration_cquad_workspace *space = gsl_integration_cquad_workspace_alloc(200);
    gsl_function f = {.function = force_of, .params = bow};
    double work_j = 0.0;
    assert_int_equal(
        gsl_integration_cquad(&f, low_m, high_m, 1e-12, 1e-10, space, &work_j, NULL, NULL), 0);
    gsl_integration_cquad_workspace_free(space);
    return work_j;
}

/* From brace to a place, in pieces between the landings of the stops. */
static double work_j(struct simbow *bow, double to_m)
{
    double from_m = simbow_brace_m(bow), sum_j = 0.0;
    double cuts_m[3] = {to_m, to_m, to_m};
    if (simbow_has_stops(bow)) {
        double top_m = simbow_stop_top_m(bow), bottom_m = simbow_stop_bottom_m(bow);
        cuts_m[0] = fmin(fmin(top_m, bottom_m), to_m);
        cuts_m[1] = fmin(fmax(top_m, bottom_m), to_m);
    }
    for (int i = 0; i < 3; i++) {
        if (cuts_m[i] > from_m)
            sum_j += piece_of_work_j(bow, from_m, cuts_m[i]);
        from_m = fmax(from_m, cuts_m[i]);
    }
    return sum_j;
}

static void check_work_is_energy(struct simbow *bow)
{
    for (int i = 1; i <= 4; i++) {
        double to_m = simbow_brace_m(bow) + (simbow_limit_m(bow) - simbow_brace_m(bow)) * i / 4.0;
        double energy_j = state_at(bow, fmin(to_m, simbow_limit_m(bow)), 0.0).energy_j;
        check_near(work_j(bow, fmin(to_m, simbow_limit_m(bow))) / energy_j, 1.0, 1e-9);
    }
}

static void work_of_a_draw_without_friction_is_the_energy_gained(void **state)
{
    (void)state;
    struct simbow_settings settings = frictionless();
    for (int i = 0; i < N_SHIPPED_BOWS; i++) {
        struct simbow *bow = open_bow(shipped_bows[i], &settings);
        check_work_is_energy(bow);
        simbow_close(bow);
    }
}

static void work_is_the_energy_in_every_set_up_too(void **state)
{
    (void)state;
    for (int i = 0; i < N_SHIPPED_COMPOUNDS; i++) {
        struct simbow_settings settings[4] = {frictionless(), frictionless(), frictionless(),
                                              frictionless()};
        settings[0].bolt_turns_top = -4;
        settings[0].bolt_turns_bottom = -2.5;
        settings[1].has_cam_setting = true;
        settings[1].cam_setting_m = 28 * in;
        settings[2].stop_top_rad = 2 * deg;
        settings[2].stop_bottom_rad = -1 * deg;
        settings[3].string_twists = 5;
        settings[3].cable_twists = -6;
        for (int k = 0; k < 4; k++) {
            struct simbow *bow = open_bow(shipped_bows[i], &settings[k]);
            check_work_is_energy(bow);
            simbow_close(bow);
        }
    }
}

/* ---- geometry ---- */

static void cords_keep_their_length(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    for (int i = 0; i < N_SHIPPED_BOWS; i++) {
        struct simbow *bow = open_bow(shipped_bows[i], &settings);
        for (int k = 0; k < 500; k++) {
            struct simbow_state s = state_at(bow, place_m(bow, k, 500), 1.0);
            check_near(s.string_error_m, 0.0, 1e-13);
            check_near(s.cable_error_m, 0.0, 1e-13);
        }
        simbow_close(bow);
    }
}

static void nominal_brace_is_that_of_the_file(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("hunting_compound", &settings);
    struct simbow_state s = state_at(bow, simbow_brace_m(bow), 1.0);
    check_near(simbow_brace_m(bow), 6.75 * in, 1e-14);
    check_near(s.axle_to_axle_m, 29 * in, 1e-14);
    check_near(s.cam_rad, 0.0, 1e-13);
    check_near(s.force_n, 0.0, 1e-11);
    simbow_close(bow);
}

/* One limb lever, string straight from its end: everything in closed form. */
static const char simple_bow[] = "[bow]\nname = Stick\nkind = recurve\n"
                                 "[geometry]\naxle_to_axle = 60 in\nbrace_height = 8 in\n"
                                 "hinge_x = 1 in\nhinge_y = 12 in\nfull_draw = 26 in\n"
                                 "[limb]\ntip_stiffness = 2 lbf/in\ntip_preload = 10 in\n"
                                 "[string_track]\nradius = 1 in\neccentricity = 1 in\n"
                                 "toward_deg = -180\nend_deg = 0\n";

static void simple_bow_draws_as_hickmans_formulas_say(void **state)
{
    (void)state;
    /* C. N. Hickman's model of the bow (J. Franklin Inst. 1929; formulas derived here): limbs
     * l at an angle u from the vertical, half string h, F = 2 M / (l sin(a + u)) sin a with the
     * string at an angle a from the vertical, M = k l^2 (u - u0). */
    struct err err;
    struct simbow *bow = NULL;
    struct simbow_settings settings = simbow_nominal();
    check_ok(open_text(&bow, simple_bow, &settings, &err));
    double lx = 8 - 1, ly = 30 - 12, l = hypot(lx, ly), brace_u = atan2(lx, ly), h = 30;
    for (double u = brace_u + 0.02; u < brace_u + 0.7; u += 0.05) {
        double tip_x = 1 + l * sin(u), tip_y = 12 + l * cos(u);
        double x = tip_x + sqrt(h * h - tip_y * tip_y);
        double a = acos(tip_y / h);
        double moment = 2 * l * l * (u - brace_u + 10 / l);
        double force = 2 * moment / (l * sin(a + u)) * sin(a);
        struct simbow_state s = state_at(bow, x * in, 0.0);
        check_near(s.limb_rad, u, 1e-12);
        check_near(s.force_n / lbf, force, 1e-11 * force);
    }
    simbow_close(bow);
}

/* ---- forces ---- */

static void slope_is_the_derivative_of_the_force(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    for (int i = 0; i < N_SHIPPED_BOWS; i++) {
        struct simbow *bow = open_bow(shipped_bows[i], &settings);
        for (int k = 0; k < 60; k++) {
            double at_m = place_m(bow, k, 60), h = 1e-5;
            double before_n = state_at(bow, at_m - h, 1.0).force_n;
            double after_n = state_at(bow, at_m + h, 1.0).force_n;
            double slope = state_at(bow, at_m, 1.0).slope_n_per_m;
            check_near(slope, (after_n - before_n) / (2 * h), 1e-4 + 1e-6 * fabs(slope));
        }
        simbow_close(bow);
    }
}

static void friction_adds_on_the_way_out_and_takes_on_the_way_back(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    for (int i = 0; i < N_SHIPPED_BOWS; i++) {
        struct simbow *bow = open_bow(shipped_bows[i], &settings);
        for (int k = 0; k < 200; k++) {
            double at_m = place_m(bow, k, 200);
            double still_n = state_at(bow, at_m, 0.0).force_n;
            assert_true(state_at(bow, at_m, 1.0).force_n > still_n);
            assert_true(state_at(bow, at_m, -1.0).force_n < still_n);
        }
        simbow_close(bow);
    }
}

static void friction_reverses_over_its_pre_sliding_displacement(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("hunting_compound", &settings);
    /* Dahl's solution: 1 - 2 exp(-d/d0); the file's 1 mm is where 95 % of the way is gone. */
    check_near(simbow_friction(bow, 1.0, -0.001), -0.9, 1e-12);
    check_near(simbow_friction(bow, -1.0, 0.002), 1 - 2 * 0.05 * 0.05, 1e-12);
    check_near(simbow_friction(bow, 0.3, 0.0), 0.3, 0.0);
    /* In one step or in many: the same. */
    double direction = 1.0;
    for (int i = 0; i < 10; i++)
        direction = simbow_friction(bow, direction, -0.0001);
    check_near(direction, -0.9, 1e-12);
    simbow_close(bow);
}

static void unequal_limb_bolts_act_as_their_mean(void **state)
{
    (void)state;
    struct simbow_settings both = simbow_nominal(), one = simbow_nominal();
    both.bolt_turns_top = both.bolt_turns_bottom = -1.5;
    one.bolt_turns_top = -3;
    struct simbow *equal = open_bow("target_compound", &both);
    struct simbow *unequal = open_bow("target_compound", &one);
    for (int k = 0; k < 20; k++) {
        double at_m = place_m(equal, k, 20);
        double expected_n = state_at(equal, at_m, 1.0).force_n;
        check_near(state_at(unequal, at_m, 1.0).force_n, expected_n, 1e-10 * expected_n);
    }
    simbow_close(equal);
    simbow_close(unequal);
}

static double largest_force_lbf(const struct simbow *bow)
{
    double largest_n = 0.0;
    for (int k = 0; k < 1000; k++) {
        double at_m = place_m(bow, k, 1000);
        if (at_m < simbow_stop_top_m(bow))
            largest_n = fmax(largest_n, state_at(bow, at_m, 1.0).force_n);
    }
    return largest_n / lbf;
}

static void a_turn_of_the_limb_bolts_changes_two_to_four_pounds(void **state)
{
    (void)state;
    for (int i = 0; i < N_SHIPPED_COMPOUNDS; i++) {
        struct simbow_settings settings = simbow_nominal();
        struct simbow *bottomed = open_bow(shipped_bows[i], &settings);
        settings.bolt_turns_top = settings.bolt_turns_bottom = -1;
        struct simbow *backed_out = open_bow(shipped_bows[i], &settings);
        double change_lbf = largest_force_lbf(bottomed) - largest_force_lbf(backed_out);
        /* Common practice, no source: 2 to 4 lbf for a turn of both bolts. */
        assert_true(change_lbf >= 2.0 && change_lbf <= 4.0);
        simbow_close(bottomed);
        simbow_close(backed_out);
    }
}

static void shorter_string_raises_brace_height(void **state)
{
    (void)state;
    for (int i = 0; i < N_SHIPPED_BOWS; i++) {
        struct simbow_settings settings = simbow_nominal();
        struct simbow *before = open_bow(shipped_bows[i], &settings);
        settings.string_twists = 5;
        struct simbow *after = open_bow(shipped_bows[i], &settings);
        /* Common practice, no source. */
        assert_true(simbow_brace_m(after) > simbow_brace_m(before));
        simbow_close(before);
        simbow_close(after);
    }
}

/* ---- stops ---- */

static void stops_land_where_the_cam_has_turned_to_them(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    settings.stop_top_rad = 1.5 * deg;
    struct simbow *bow = open_bow("hunting_compound", &settings);
    check_near(state_at(bow, simbow_stop_top_m(bow), 1.0).cam_rad, 209.5 * deg, 1e-10);
    check_near(state_at(bow, simbow_stop_bottom_m(bow), 1.0).cam_rad, 208 * deg, 1e-10);
    simbow_close(bow);
}

static void each_stop_adds_its_share_to_the_slope_of_the_wall(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    settings.stop_top_rad = 2 * deg;
    struct simbow *bow = open_bow("hunting_compound", &settings);
    double first_m = simbow_stop_bottom_m(bow), second_m = simbow_stop_top_m(bow);
    double before = state_at(bow, first_m - 1e-7, 1.0).slope_n_per_m;
    double one = state_at(bow, second_m - 1e-7, 1.0).slope_n_per_m;
    double two = state_at(bow, second_m + 1e-7, 1.0).slope_n_per_m;
    check_near((two - before) / (one - before), 2.0, 0.02);
    simbow_close(bow);
}

/* ---- what is refused ---- */

static void setting_beyond_the_bow_is_wrong_usage(void **state)
{
    (void)state;
    struct err err;
    struct simbow *bow = NULL;
    struct simbow_settings settings = simbow_nominal();
    settings.bolt_turns_bottom = -7;
    struct buf path = {0};
    buf_printf(&path, "%s/fixtures/bows/hunting_compound.ini", source_root());
    assert_int_equal(simbow_open(&bow, buf_string(&path), &settings, &err), STATUS_USAGE);
    assert_null(bow);
    assert_non_null(strstr(err.text, "bottom limb bolt -7.000 turns"));
    settings = simbow_nominal();
    settings.has_cam_setting = true;
    settings.cam_setting_m = 31 * in;
    assert_int_equal(simbow_open(&bow, buf_string(&path), &settings, &err), STATUS_USAGE);
    assert_non_null(strstr(err.text, "cam setting 31.000 in"));
    buf_clear(&path);
}

static void recurve_has_neither_cams_nor_stops_to_set(void **state)
{
    (void)state;
    struct err err;
    struct simbow *bow = NULL;
    struct simbow_settings settings = simbow_nominal();
    settings.has_cam_setting = true;
    assert_int_equal(open_text(&bow, simple_bow, &settings, &err), STATUS_USAGE);
    settings = simbow_nominal();
    settings.stop_top_rad = 0.1;
    assert_int_equal(open_text(&bow, simple_bow, &settings, &err), STATUS_USAGE);
    settings = simbow_nominal();
    settings.cable_twists = 1;
    assert_int_equal(open_text(&bow, simple_bow, &settings, &err), STATUS_USAGE);
}

static void draw_beyond_the_limit_is_refused(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("recurve", &settings);
    struct err err;
    struct simbow_state s;
    assert_int_equal(simbow_at(bow, simbow_limit_m(bow) + 0.001, 1.0, &s, &err), STATUS_BAD_INPUT);
    assert_int_equal(simbow_at(bow, NAN, 1.0, &s, &err), STATUS_BAD_INPUT);
    simbow_close(bow);
}

static void draw_below_brace_is_rest(void **state)
{
    (void)state;
    struct simbow_settings settings = simbow_nominal();
    struct simbow *bow = open_bow("recurve", &settings);
    check_near(state_at(bow, 0.0, 1.0).force_n, 0.0, 1e-11);
    check_near(state_at(bow, 0.0, 1.0).draw_m, simbow_brace_m(bow), 0.0);
    simbow_close(bow);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(work_of_a_draw_without_friction_is_the_energy_gained),
        cmocka_unit_test(work_is_the_energy_in_every_set_up_too),
        cmocka_unit_test(cords_keep_their_length),
        cmocka_unit_test(nominal_brace_is_that_of_the_file),
        cmocka_unit_test(simple_bow_draws_as_hickmans_formulas_say),
        cmocka_unit_test(slope_is_the_derivative_of_the_force),
        cmocka_unit_test(friction_adds_on_the_way_out_and_takes_on_the_way_back),
        cmocka_unit_test(friction_reverses_over_its_pre_sliding_displacement),
        cmocka_unit_test(unequal_limb_bolts_act_as_their_mean),
        cmocka_unit_test(a_turn_of_the_limb_bolts_changes_two_to_four_pounds),
        cmocka_unit_test(shorter_string_raises_brace_height),
        cmocka_unit_test(stops_land_where_the_cam_has_turned_to_them),
        cmocka_unit_test(each_stop_adds_its_share_to_the_slope_of_the_wall),
        cmocka_unit_test(setting_beyond_the_bow_is_wrong_usage),
        cmocka_unit_test(recurve_has_neither_cams_nor_stops_to_set),
        cmocka_unit_test(draw_beyond_the_limit_is_refused),
        cmocka_unit_test(draw_below_brace_is_rest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
