/* measure: from readings to figures, held against published tables and closed forms. */
#include "check.h"

#include "base/units.h"
#include "curve/measure.h"

#include <gsl/gsl_errno.h>
#include <stdlib.h>
#include <string.h>

enum { N_MAX = 8000 };

/* Readings that a test makes. */
struct made {
    double draw_m[N_MAX], force_n[N_MAX];
    size_t n;
};

static void add(struct made *made, double draw_m, double force_n)
{
    assert_true(made->n < N_MAX);
    made->draw_m[made->n] = draw_m;
    made->force_n[made->n++] = force_n;
}

static struct readings readings_of(const struct made *made)
{
    return (struct readings){.n = made->n, .draw_m = made->draw_m, .force_n = made->force_n};
}

static enum status try_measure(const struct made *made, const struct measure_settings *settings,
                               struct measurement *measurement, struct err *err)
{
    struct readings readings = readings_of(made);
    return measure_run(&readings, settings, measurement, err);
}

static struct measurement measure(const struct made *made, const struct measure_settings *settings)
{
    struct measurement measurement;
    struct err err;
    check_ok(try_measure(made, settings, &measurement, &err));
    return measurement;
}

static double value(const struct measurement *measurement, enum figure_id id)
{
    assert_true(measurement->figures.f[id].present);
    return measurement->figures.f[id].value_si;
}

static bool warned(const struct measurement *measurement, enum warning_code code)
{
    for (size_t i = 0; i < measurement->warnings.n; i++)
        if (measurement->warnings.w[i].code == code)
            return true;
    return false;
}

/* Vincent B., "Calculer l'efficacite de son arc" (2016), table of a compound: ten points 0.06 m
 * apart, N. */
static const double PUBLISHED_N[] = {2, 81, 157, 204, 216, 218, 216, 198, 148, 60};

static void add_published(struct made *made, double share, bool falling)
{
    for (size_t k = 0; k < 10; k++) {
        size_t i = falling ? 9 - k : k;
        add(made, 0.18 + 0.06 * (double)i, share * PUBLISHED_N[i]);
    }
}

static void the_published_compound_stores_88_joules(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    add_published(&made, 1.0, false);
    struct measure_settings settings = measure_defaults();
    struct measurement m = measure(&made, &settings);
    /* published 88 J; the trapezoid of the table is 88.14 J exactly = 65.009 ft.lbf */
    check_near(value(&m, FIGURE_STORED_ENERGY), 88.14, 1e-10);
    check_near(unit_from_si(UNIT_FT_LBF, value(&m, FIGURE_STORED_ENERGY)), 65.009, 0.0005);
    /* published: peak 218 N, brace 0.18 m, full draw 0.72 m; hold 60 N is the last point */
    check_near(value(&m, FIGURE_PEAK_FORCE), 218.0, 0.0);
    check_near(value(&m, FIGURE_HOLDING_FORCE), 60.0, 0.0);
    check_near(value(&m, FIGURE_BRACE_HEIGHT), 0.18, 1e-12);
    check_near(value(&m, FIGURE_FULL_DRAW), 0.72, 1e-12);
    /* derived: 72.477 % */
    check_near(value(&m, FIGURE_LET_OFF), 72.477, 0.0005);
    /* published 74.7 % with 88 J; 74.873 % with 88.14 J */
    check_near(100.0 * value(&m, FIGURE_FULLNESS), 74.873, 0.0005);
    /* derived from the kg column: 1.328 ft.lbf/lbf; of the rounded N column 1.3265 */
    check_near(unit_from_si(UNIT_FT_LBF_PER_LBF, value(&m, FIGURE_ENERGY_PER_PEAK)), 1.3265, 5e-5);
    assert_true(warned(&m, WARNING_VALLEY_AT_END));
    assert_true(warned(&m, WARNING_NO_LET_DOWN));
    assert_false(m.figures.f[FIGURE_RETURNED_ENERGY].present);
    measurement_clear(&m);
}

/* The same table with a let-down of 0.90 of the draw everywhere (its graph 3): 79.326 J back,
 * hysteresis 8.814 J, static efficiency 90 % (derived). */
static void a_let_down_of_nine_tenths_returns_nine_tenths(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    add_published(&made, 1.0, false);
    add_published(&made, 0.9, true);
    struct measure_settings settings = measure_defaults();
    struct measurement m = measure(&made, &settings);
    check_near(value(&m, FIGURE_RETURNED_ENERGY), 79.326, 1e-10);
    check_near(value(&m, FIGURE_HYSTERESIS), 8.814, 1e-10);
    check_near(value(&m, FIGURE_STATIC_EFFICIENCY), 90.0, 1e-10);
    check_near(value(&m, FIGURE_HYSTERESIS_PCT), 10.0, 1e-10);
    check_near(value(&m, FIGURE_LET_OFF_LET_DOWN), 100.0 * (218.0 - 54.0) / 218.0, 1e-10);
    measurement_clear(&m);
}

static double parabola_n(double x_m)
{
    return 4.0 * 200.0 * x_m * (0.75 - x_m) / (0.75 * 0.75);
}

/* Young & Freedman, University Physics, problem 6.84: F = 4 F0 x (x0 - x)/x0^2, F0 = 200 N,
 * x0 = 0.75 m gives 2/3 F0 x0 = 100 J. */
static void the_textbook_parabola_stores_100_joules(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    for (int i = 0; i <= 3000; i++)
        add(&made, 0.75 * i / 3000.0, parabola_n(0.75 * i / 3000.0));
    struct measure_settings settings = measure_defaults();
    settings.full_draw = FULL_DRAW_LARGEST;
    struct measurement m = measure(&made, &settings);
    check_near(value(&m, FIGURE_STORED_ENERGY), 100.0, 2e-5);
    check_near(value(&m, FIGURE_PEAK_FORCE), 200.0, 1e-6);
    check_near(value(&m, FIGURE_PEAK_POSITION), 0.375, 1e-4);
    check_near(value(&m, FIGURE_FULLNESS), 2.0 / 3.0, 1e-6);
    /* slope at the start: 4 F0/x0 */
    check_near(value(&m, FIGURE_STEEPEST_RISE), 4.0 * 200.0 / 0.75, 1.0);
    /* where F >= 0.95 F0: x0 sqrt(0.05) long */
    check_near(value(&m, FIGURE_PLATEAU), 0.75 * sqrt(0.05), 2e-4);
    measurement_clear(&m);
}

/* The force still falls steeply at the end: there is no valley, and no figure pretends one. */
static void a_pull_that_stops_in_the_drop_has_no_holding_weight(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    for (int i = 0; i <= 600; i++)
        add(&made, i / 1000.0, parabola_n(i / 1000.0));
    struct measure_settings settings = measure_defaults();
    struct measurement m = measure(&made, &settings);
    assert_true(warned(&m, WARNING_NO_VALLEY));
    assert_false(m.figures.f[FIGURE_HOLDING_FORCE].present);
    assert_false(m.figures.f[FIGURE_LET_OFF].present);
    assert_int_equal(m.full_draw, FULL_DRAW_LARGEST);
    check_near(value(&m, FIGURE_PEAK_FORCE), 200.0, 1e-6);
    measurement_clear(&m);
}

/* Serway & Jewett, Physics for Scientists and Engineers 6e, problem 7.16: 0 to 230 N over 0.400 m:
 * 575 N/m, 46.0 J. */
static void the_linear_bow_stores_46_joules(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    for (int i = 0; i <= 400; i++)
        add(&made, i / 1000.0, 575.0 * i / 1000.0);
    struct measure_settings settings = measure_defaults();
    struct measurement m = measure(&made, &settings);
    check_near(value(&m, FIGURE_STORED_ENERGY), 46.0, 1e-9);
    check_near(value(&m, FIGURE_STEEPEST_RISE), 575.0, 1e-6);
    check_near(value(&m, FIGURE_PEAK_FORCE), 230.0, 1e-9);
    check_near(value(&m, FIGURE_FULLNESS), 0.5, 1e-12);
    assert_false(m.figures.f[FIGURE_LET_OFF].present);
    measurement_clear(&m);
}

/* An exercise of the Smith & Minton type: x = 0..10 ft by 1, F in lb; trapezoid 29.09 ft.lbf
 * (derived). */
static void the_calculus_exercise_gives_its_trapezoid(void **state)
{
    (void)state;
    static const double f_lbf[] = {0, 0.69, 1.61, 2.28, 2.88, 3.20, 3.58, 3.95, 4.20, 4.38, 4.64};
    struct made made = {.n = 0};
    for (int i = 0; i <= 10; i++)
        add(&made, unit_to_si(UNIT_FT, i), unit_to_si(UNIT_LBF, f_lbf[i]));
    struct measure_settings settings = measure_defaults();
    struct measurement m = measure(&made, &settings);
    check_near(unit_from_si(UNIT_FT_LBF, value(&m, FIGURE_STORED_ENERGY)), 29.09, 1e-9);
    measurement_clear(&m);
}

/* A bow with all its features, m and N: rise to a plateau, drop, valley, wall; its figures are
 * known in closed form. Draw from 0.17 to 0.68, lowest force 60 N at 0.66, corner of the wall at
 * 0.67. */
static const double BOW_BRACE_M = 0.17, BOW_VALLEY_M = 0.66, BOW_CORNER_M = 0.67;
static const double BOW_WALL_N_PER_M = 40000.0;

static double bow_n(double x_m)
{
    double valley_n = 60.0 + 2000.0 * (x_m - BOW_VALLEY_M) * (x_m - BOW_VALLEY_M);
    if (x_m > BOW_CORNER_M)
        return bow_n(BOW_CORNER_M) + BOW_WALL_N_PER_M * (x_m - BOW_CORNER_M);
    if (x_m > 0.62)
        return valley_n;
    if (x_m > 0.46) { /* cubic from the plateau to the valley, smooth in value and slope */
        double u = (x_m - 0.46) / 0.16, d = 0.16, f1 = 63.2, g1 = -160.0;
        return 280.0 * (1 - 3 * u * u + 2 * u * u * u) + f1 * (3 * u * u - 2 * u * u * u) +
               g1 * d * (u * u * u - u * u);
    }
    if (x_m > 0.32) /* plateau with its top of 284.9 N in the middle */
        return 280.0 + 1000.0 * (x_m - 0.32) * (0.46 - x_m);
    double u = (x_m - BOW_BRACE_M) / 0.15; /* rise */
    return u <= 0.0 ? 0.0 : 280.0 * u * (2.0 - u);
}

static void add_bow_pull(struct made *made, double top_m, size_t n, double share_back)
{
    for (int i = 0; i < 40; i++)
        add(made, BOW_BRACE_M, 0.0);
    for (size_t i = 1; i <= n; i++) {
        double x_m = BOW_BRACE_M + (top_m - BOW_BRACE_M) * (double)i / (double)n;
        add(made, x_m, bow_n(x_m));
    }
    for (size_t i = n; i > 0; i--) {
        double x_m = BOW_BRACE_M + (top_m - BOW_BRACE_M) * (double)i / (double)n;
        add(made, x_m, share_back * bow_n(x_m));
    }
    for (int i = 0; i < 40; i++)
        add(made, BOW_BRACE_M, 0.0);
}

static void a_bow_with_a_wall_gives_all_its_features(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    add_bow_pull(&made, 0.673, 1000, 0.92);
    struct measure_settings settings = measure_defaults();
    struct measurement m = measure(&made, &settings);
    assert_int_equal(m.n_pulls, 1);
    check_near(value(&m, FIGURE_BRACE_HEIGHT), BOW_BRACE_M, 1e-9);
    check_near(value(&m, FIGURE_PEAK_FORCE), 284.9, 0.02);
    check_near(value(&m, FIGURE_PEAK_POSITION), 0.39, 1e-3);
    check_near(value(&m, FIGURE_HOLDING_FORCE), 60.0, 0.02);
    check_near(value(&m, FIGURE_VALLEY_POSITION), BOW_VALLEY_M, 5e-4);
    check_near(value(&m, FIGURE_FULL_DRAW), BOW_VALLEY_M, 5e-4);
    check_near(value(&m, FIGURE_LET_OFF), 100.0 * (284.9 - 60.0) / 284.9, 0.02);
    check_near(value(&m, FIGURE_LET_OFF_LET_DOWN), 100.0 * (284.9 - 0.92 * 60.0) / 284.9, 0.02);
    check_near(value(&m, FIGURE_WALL_STIFFNESS), BOW_WALL_N_PER_M, 400.0);
    check_near(value(&m, FIGURE_WALL_ONSET), BOW_CORNER_M - 0.2 / BOW_WALL_N_PER_M, 1e-4);
    check_near(value(&m, FIGURE_STATIC_EFFICIENCY), 92.0, 0.02);
    /* F <= 60 N + 2 lbf: to the left by the parabola, to the right by corner and wall */
    double band_n = unit_to_si(UNIT_LBF, 2.0);
    double left_m = BOW_VALLEY_M - 0.04, f1 = 63.2;
    while (bow_n(left_m) < 60.0 + band_n)
        left_m -= 1e-6;
    double right_m = BOW_CORNER_M + (60.0 + band_n - bow_n(BOW_CORNER_M)) / BOW_WALL_N_PER_M;
    assert_true(bow_n(left_m) > f1);
    check_near(value(&m, FIGURE_VALLEY_WIDTH), right_m - left_m, 3e-4);
    measurement_clear(&m);
}

static void figures_of_several_pulls_are_their_mean(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    add_bow_pull(&made, 0.673, 600, 0.92);
    add_bow_pull(&made, 0.674, 600, 0.90);
    struct measure_settings settings = measure_defaults();
    struct measurement m = measure(&made, &settings);
    assert_int_equal(m.n_pulls, 2);
    check_near(m.pulls[0].figures.f[FIGURE_STATIC_EFFICIENCY].value_si, 92.0, 0.03);
    check_near(m.pulls[1].figures.f[FIGURE_STATIC_EFFICIENCY].value_si, 90.0, 0.03);
    check_near(value(&m, FIGURE_STATIC_EFFICIENCY), 91.0, 0.03);
    measurement_clear(&m);
}

static void one_pull_does_not_tell_how_well_pulls_repeat(void **state)
{
    (void)state;
    struct made one = {.n = 0}, two = {.n = 0};
    add_bow_pull(&one, 0.673, 1000, 0.92);
    add_bow_pull(&two, 0.673, 1000, 0.92);
    add_bow_pull(&two, 0.673, 1000, 0.92);
    struct measure_settings settings = measure_defaults();
    struct measurement single = measure(&one, &settings), several = measure(&two, &settings);
    settings.uncertainty.trials = 0;
    struct measurement untold = measure(&one, &settings);
    assert_true(warned(&single, WARNING_SINGLE_PULL));
    assert_false(warned(&several, WARNING_SINGLE_PULL));
    assert_false(warned(&untold, WARNING_SINGLE_PULL)); /* no uncertainties are there */
    measurement_clear(&single);
    measurement_clear(&several);
    measurement_clear(&untold);
}

static void a_stated_full_draw_decides_where_the_energy_ends(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    add_bow_pull(&made, 0.673, 1000, 0.92);
    struct measure_settings settings = measure_defaults();
    settings.full_draw = FULL_DRAW_STATED;
    settings.full_draw_m = 0.32;
    struct measurement m = measure(&made, &settings);
    /* the rise alone: 280 N x 0.15 m x 2/3 */
    check_near(value(&m, FIGURE_STORED_ENERGY), 28.0, 0.003);
    check_near(value(&m, FIGURE_DRAW_LENGTH_ATA), 0.32 + 0.04445, 1e-9);
    measurement_clear(&m);

    settings.full_draw_m = 0.70;
    m = measure(&made, &settings);
    assert_true(warned(&m, WARNING_SHORT_OF_STATED));
    assert_false(m.figures.f[FIGURE_STORED_ENERGY].present);
    measurement_clear(&m);
}

static void full_draw_at_the_wall_is_the_wall_onset(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    add_bow_pull(&made, 0.673, 1000, 0.92);
    struct measure_settings settings = measure_defaults();
    settings.full_draw = FULL_DRAW_WALL;
    struct measurement m = measure(&made, &settings);
    assert_int_equal(m.full_draw, FULL_DRAW_WALL);
    check_near(value(&m, FIGURE_FULL_DRAW), value(&m, FIGURE_WALL_ONSET), 0.0);
    measurement_clear(&m);
}

/* The crank slips back 20 mm under friction and is drawn on: figures stay, and it is told. */
static void a_way_back_in_the_draw_leaves_the_figures_alone(void **state)
{
    (void)state;
    struct made straight = {.n = 0}, slipped = {.n = 0};
    add_bow_pull(&straight, 0.673, 1000, 0.92);
    for (size_t i = 0; i < straight.n; i++) {
        add(&slipped, straight.draw_m[i], straight.force_n[i]);
        if (i == 400) {
            double from_m = straight.draw_m[i];
            for (int k = 1; k <= 40; k++)
                add(&slipped, from_m - 0.0005 * k, 0.92 * bow_n(from_m - 0.0005 * k));
            for (int k = 39; k >= 0; k--)
                add(&slipped, from_m - 0.0005 * k, 0.98 * bow_n(from_m - 0.0005 * k));
        }
    }
    struct measure_settings settings = measure_defaults();
    struct measurement a = measure(&straight, &settings), b = measure(&slipped, &settings);
    assert_int_equal(b.n_pulls, 1);
    assert_true(warned(&b, WARNING_REVERSALS));
    assert_false(warned(&a, WARNING_REVERSALS));
    check_near(value(&b, FIGURE_STORED_ENERGY), value(&a, FIGURE_STORED_ENERGY), 0.02);
    check_near(value(&b, FIGURE_PEAK_FORCE), value(&a, FIGURE_PEAK_FORCE), 0.01);
    measurement_clear(&a);
    measurement_clear(&b);
}

static void a_spike_is_told_and_does_not_make_the_peak(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    add_bow_pull(&made, 0.673, 1000, 0.92);
    made.force_n[500] += 90.0;
    struct measure_settings settings = measure_defaults();
    struct measurement m = measure(&made, &settings);
    assert_true(warned(&m, WARNING_SPIKES));
    check_near(value(&m, FIGURE_PEAK_FORCE), 284.9, 0.02);
    measurement_clear(&m);
}

/* One wild encoder reading half an inch on, and one far beyond the top. */
static void a_wild_position_neither_ends_the_draw_nor_counts_as_a_way_back(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    add_bow_pull(&made, 0.673, 1000, 0.92);
    made.draw_m[300] += 0.0127;
    made.draw_m[600] += 0.30;
    struct measure_settings settings = measure_defaults();
    struct measurement m = measure(&made, &settings);
    assert_true(warned(&m, WARNING_SPIKES));
    assert_false(warned(&m, WARNING_REVERSALS));
    assert_true(warned(&m, WARNING_NO_STAGGER) || warned(&m, WARNING_STAGGER_NOT_SEEN));
    check_near(value(&m, FIGURE_WALL_ONSET), BOW_CORNER_M - 0.2 / BOW_WALL_N_PER_M, 1e-4);
    check_near(value(&m, FIGURE_PEAK_FORCE), 284.9, 0.02);
    measurement_clear(&m);
}

static void slack_in_the_hook_is_told_and_is_not_draw(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    for (int i = 0; i < 40; i++)
        add(&made, 0.14, 0.0);
    for (int i = 0; i < 60; i++)
        add(&made, 0.14 + 0.0005 * i, 0.0);
    add_bow_pull(&made, 0.673, 1000, 0.92);
    struct measure_settings settings = measure_defaults();
    struct measurement m = measure(&made, &settings);
    assert_true(warned(&m, WARNING_SLACK));
    check_near(value(&m, FIGURE_BRACE_HEIGHT), BOW_BRACE_M, 5e-4);
    measurement_clear(&m);
}

static void a_stated_brace_height_overrides_the_readings(void **state)
{
    (void)state;
    struct made made = {.n = 0};
    add_published(&made, 1.0, false);
    struct measure_settings settings = measure_defaults();
    settings.has_brace = true;
    settings.brace_m = 0.175;
    struct measurement m = measure(&made, &settings);
    check_near(value(&m, FIGURE_BRACE_HEIGHT), 0.175, 0.0);
    check_near(value(&m, FIGURE_STORED_ENERGY), 88.14 + 0.5 * 0.005 * 2.0, 1e-9);
    measurement_clear(&m);
}

static void too_little_or_no_pull_is_refused_with_a_reason(void **state)
{
    (void)state;
    struct measure_settings settings = measure_defaults();
    struct measurement m;
    struct err err;
    struct made two = {.n = 0}, still = {.n = 0}, slack = {.n = 0}, wild = {.n = 0};
    add(&two, 0.2, 0.0);
    add(&two, 0.3, 10.0);
    assert_int_equal(try_measure(&two, &settings, &m, &err), STATUS_TOO_FEW);
    for (int i = 0; i < 200; i++) {
        add(&still, 0.2, 0.0);
        add(&slack, 0.2 + 0.001 * i, 0.0);
        add(&wild, 0.2 + 0.001 * i, i == 20 ? (double)NAN : 5.0);
    }
    assert_int_equal(try_measure(&still, &settings, &m, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "never changes"));
    assert_int_equal(try_measure(&slack, &settings, &m, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "never rises"));
    assert_int_equal(try_measure(&wild, &settings, &m, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "not a finite number"));
    assert_int_equal(m.n_pulls, 0);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_published_compound_stores_88_joules),
        cmocka_unit_test(a_let_down_of_nine_tenths_returns_nine_tenths),
        cmocka_unit_test(the_textbook_parabola_stores_100_joules),
        cmocka_unit_test(a_pull_that_stops_in_the_drop_has_no_holding_weight),
        cmocka_unit_test(the_linear_bow_stores_46_joules),
        cmocka_unit_test(the_calculus_exercise_gives_its_trapezoid),
        cmocka_unit_test(a_bow_with_a_wall_gives_all_its_features),
        cmocka_unit_test(figures_of_several_pulls_are_their_mean),
        cmocka_unit_test(one_pull_does_not_tell_how_well_pulls_repeat),
        cmocka_unit_test(a_stated_full_draw_decides_where_the_energy_ends),
        cmocka_unit_test(full_draw_at_the_wall_is_the_wall_onset),
        cmocka_unit_test(a_way_back_in_the_draw_leaves_the_figures_alone),
        cmocka_unit_test(a_spike_is_told_and_does_not_make_the_peak),
        cmocka_unit_test(a_wild_position_neither_ends_the_draw_nor_counts_as_a_way_back),
        cmocka_unit_test(slack_in_the_hook_is_told_and_is_not_draw),
        cmocka_unit_test(a_stated_brace_height_overrides_the_readings),
        cmocka_unit_test(too_little_or_no_pull_is_refused_with_a_reason),
    };
    return cmocka_run_group_tests_name("measure", tests, NULL, NULL);
}
