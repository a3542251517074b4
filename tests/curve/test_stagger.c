/* stagger: two landings told from one, and never claimed where they can't be told. */
#include "check.h"
#include "curve/simpull.h"

#include "base/units.h"
#include "curve/measure.h"
#include "curve/stagger.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>

static const double HOLD_N = 60.0, STIFF_N_PER_M = 40000.0, VALLEY_M = 0.68;

/* n points, evenly spaced over 10 mm of valley and the rise up to 90 N above it: one stop gives
 * half of the stiffness, both give all of it from distance_m on. */
static struct points rise(size_t n, double distance_m, double noise_m, gsl_rng *rng)
{
    double first_n = 0.5 * STIFF_N_PER_M * distance_m;
    double end_m = VALLEY_M + distance_m + (90.0 - first_n) / STIFF_N_PER_M;
    struct points p = points_new(n);
    p.n = n;
    for (size_t i = 0; i < n; i++) {
        double x = VALLEY_M - 0.01 + (end_m - VALLEY_M + 0.01) * (double)i / (double)(n - 1);
        double u = fmax(x - VALLEY_M, 0.0);
        p.y[i] = HOLD_N + 0.5 * STIFF_N_PER_M * (u + fmax(u - distance_m, 0.0));
        p.x[i] = x + (noise_m > 0.0 ? gsl_ran_gaussian_ziggurat(rng, noise_m) : 0.0);
        p.weight[i] = 1.0;
    }
    return p;
}

static struct stagger look(struct points points, double noise_m)
{
    struct stagger stagger = stagger_find(&points, 0, HOLD_N, STIFF_N_PER_M, noise_m);
    points_clear(&points);
    return stagger;
}

static void two_landings_are_found_at_their_distance(void **state)
{
    (void)state;
    struct stagger stagger = look(rise(400, 0.002, 0.0, NULL), 1e-6);
    assert_true(stagger.found);
    check_near(stagger.distance_m, 0.002, 2e-5);
    check_near(stagger.knee_n, HOLD_N + 40.0, 1.0);
}

static void one_landing_is_not_called_two(void **state)
{
    (void)state;
    struct stagger stagger = look(rise(400, 0.0, 0.0, NULL), 1e-6);
    assert_false(stagger.found);
    assert_true(stagger.limit_m > 0.0);
}

/* a wall that bends smoothly is not a knee */
static void a_bending_wall_is_not_called_two(void **state)
{
    (void)state;
    struct points p = rise(400, 0.0, 0.0, NULL);
    for (size_t i = 0; i < p.n; i++) {
        double u = fmax(p.x[i] - VALLEY_M, 0.0);
        p.y[i] = HOLD_N + STIFF_N_PER_M * u * (1.0 + 200.0 * u);
    }
    assert_false(look(p, 2e-5).found);
}

static void too_few_readings_on_the_rise_say_nothing(void **state)
{
    (void)state;
    struct stagger stagger = look(rise(14, 0.002, 0.0, NULL), 1e-6);
    assert_false(stagger.found);
    check_near(stagger.limit_m, 0.0, 0.0);
}

/* 200 noisy rises each: well beyond the limit nearly all are found, with none it is false hardly
 * ever, and the spread is what the uncertainty says (within the factor that 200 repeats allow). */
static void detection_and_false_alarms_keep_to_the_limit(void **state)
{
    (void)state;
    enum { REPEATS = 200 };
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 9);
    int found = 0, false_alarms = 0;
    double sum = 0.0, squares = 0.0, claimed = 0.0;
    for (int i = 0; i < REPEATS; i++) {
        struct stagger none = look(rise(300, 0.0, 5e-5, rng), 5e-5);
        struct stagger two = look(rise(300, 0.0018, 5e-5, rng), 5e-5);
        false_alarms += none.found;
        if (!two.found)
            continue;
        found++;
        sum += two.distance_m;
        squares += two.distance_m * two.distance_m;
        claimed += two.u_distance_m;
    }
    double mean = sum / found, sd = sqrt(squares / found - mean * mean);
    assert_in_range(found, REPEATS * 9 / 10, REPEATS);
    assert_in_range(false_alarms, 0, 2);
    check_near(mean, 0.0018, 1e-4);
    assert_true(sd < 1.5 * claimed / found && sd > 0.5 * claimed / found);
    gsl_rng_free(rng);
}

/* On a simulated bow whose bottom stop lands later: the figure is the distance of the landings. */
static void a_simulated_stagger_becomes_a_figure_with_a_warning(void **state)
{
    (void)state;
    static struct simpull pull;
    struct simbow *bow = simpull_bow("round_wheel", 0.02);
    double top_m = fmax(simbow_stop_top_m(bow), simbow_stop_bottom_m(bow)) + 0.003;
    double truth_m = fabs(simbow_stop_bottom_m(bow) - simbow_stop_top_m(bow));
    simpull_make(&pull, bow, top_m);
    struct readings readings = simpull_readings(&pull);
    struct measure_settings settings = measure_defaults();
    struct measurement m;
    struct err err;
    check_ok(measure_run(&readings, &settings, &m, &err));
    const struct figure *stagger = &m.figures.f[FIGURE_STOP_STAGGER];
    assert_true(stagger->present);
    check_near(stagger->value_si, truth_m, 0.1 * truth_m);
    bool told = false;
    for (size_t i = 0; i < m.warnings.n; i++)
        told = told || m.warnings.w[i].code == WARNING_STAGGER;
    assert_true(told);
    measurement_clear(&m);
    simbow_close(bow);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_landings_are_found_at_their_distance),
        cmocka_unit_test(one_landing_is_not_called_two),
        cmocka_unit_test(a_bending_wall_is_not_called_two),
        cmocka_unit_test(too_few_readings_on_the_rise_say_nothing),
        cmocka_unit_test(detection_and_false_alarms_keep_to_the_limit),
        cmocka_unit_test(a_simulated_stagger_becomes_a_figure_with_a_warning),
    };
    return cmocka_run_group_tests_name("stagger", tests, NULL, NULL);
}
