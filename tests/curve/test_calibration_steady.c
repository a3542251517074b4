#include "curve/calibration_steady.h"

#include "check.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

enum { N = 240 }; /* 3 s at 80 readings a second */

static gsl_rng *start(unsigned long seed)
{
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    assert_non_null(rng);
    gsl_rng_set(rng, seed);
    return rng;
}

static void quiet_load_is_steady(void **state)
{
    (void)state;
    gsl_rng *rng = start(1);
    double counts[N], n_steady = 0.0, inside = 0.0;
    for (int trial = 0; trial < 1000; trial++) {
        for (size_t i = 0; i < N; i++)
            counts[i] = 8400000.0 + gsl_ran_gaussian(rng, 12.0);
        struct calibration_steady got = calibration_steady(counts, N);
        n_steady += got.steady;
        /* Student t, 7 degrees of freedom, 95 % */
        inside += fabs(got.mean - 8400000.0) <= 2.3646 * got.u_mean;
    }
    gsl_rng_free(rng);
    assert_true(n_steady > 990.0);
    check_near(inside / 1000.0, 0.95, 4.0 * sqrt(0.95 * 0.05 / 1000.0));
}

static void load_that_is_being_put_on_is_not_steady(void **state)
{
    (void)state;
    gsl_rng *rng = start(2);
    double counts[N];
    for (size_t i = 0; i < N; i++)
        counts[i] = 8400000.0 + 40.0 * (double)i + gsl_ran_gaussian(rng, 12.0);
    assert_false(calibration_steady(counts, N).steady);
    for (size_t i = 0; i < N; i++) /* a step within the window */
        counts[i] = 8400000.0 + (i < N / 3 ? 0.0 : 50000.0) + gsl_ran_gaussian(rng, 12.0);
    assert_false(calibration_steady(counts, N).steady);
    for (size_t late = 1; late < N; late += 7) { /* wherever the step is */
        for (size_t i = 0; i < N; i++)
            counts[i] = 8400000.0 + (i < late ? 0.0 : 50000.0) + gsl_ran_gaussian(rng, 12.0);
        assert_false(calibration_steady(counts, N).steady);
    }
    for (size_t i = 0; i < N; i++) /* settling */
        counts[i] = 8400000.0 + 500.0 * exp(-(double)i / 80.0) + gsl_ran_gaussian(rng, 12.0);
    gsl_rng_free(rng);
    assert_false(calibration_steady(counts, N).steady);
}

static void swinging_weight_has_a_mean_but_a_poorer_one(void **state)
{
    (void)state;
    gsl_rng *rng = start(3);
    double counts[N], still[N];
    for (size_t i = 0; i < N; i++) { /* 0.9 Hz */
        still[i] = 8400000.0 + gsl_ran_gaussian(rng, 12.0);
        counts[i] = still[i] + 200.0 * sin(2.0 * 3.14159265 * 0.9 * (double)i / 80.0);
    }
    gsl_rng_free(rng);
    struct calibration_steady swinging = calibration_steady(counts, N);
    assert_true(swinging.u_mean > 10.0 * calibration_steady(still, N).u_mean);
    assert_true(swinging.steady);
    check_near(swinging.mean, 8400000.0, 3.0 * swinging.u_mean);
}

static void count_that_stands_still_is_known_to_a_step(void **state)
{
    (void)state;
    double counts[N];
    for (size_t i = 0; i < N; i++)
        counts[i] = -12345.0;
    struct calibration_steady got = calibration_steady(counts, N);
    assert_true(got.steady);
    check_near(got.mean, -12345.0, 0.0);
    check_near(got.sd, 0.0, 0.0);
    check_near(got.u_mean, 1.0 / sqrt(12.0),
               1e-12); /* rectangular over one count, JCGM 100 4.3.7 */
}

static void slow_stream_is_judged_too(void **state)
{
    (void)state;
    const double counts[CALIBRATION_STEADY_MIN] = {10, 11, 10, 10, 11, 12, 10, 11,
                                                   11, 10, 11, 11, 10, 12, 11, 10};
    struct calibration_steady got = calibration_steady(counts, CALIBRATION_STEADY_MIN);
    assert_true(got.steady);
    check_near(got.mean, 171.0 / 16.0, 1e-12);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(quiet_load_is_steady),
        cmocka_unit_test(load_that_is_being_put_on_is_not_steady),
        cmocka_unit_test(swinging_weight_has_a_mean_but_a_poorer_one),
        cmocka_unit_test(count_that_stands_still_is_known_to_a_step),
        cmocka_unit_test(slow_stream_is_judged_too),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
