#include "bench/simroot.h"

#include "check.h"

static double square_less(double at, double *slope, void *context)
{
    *slope = 2 * at;
    return at * at - *(double *)context;
}

static double falling_cube(double at, double *slope, void *context)
{
    (void)context;
    *slope = -3 * at * at;
    return 8 - at * at * at;
}

static double steep_then_flat(double at, double *slope, void *context)
{
    (void)context;
    *slope = 1 / (1 + at * at);
    return atan(at);
}

static double nothing(double at, double *slope, void *context)
{
    (void)at;
    (void)context;
    *slope = 1;
    return NAN;
}

static void finds_a_root_to_the_last_digits(void **state)
{
    (void)state;
    double two = 2, root;
    assert_true(simroot_find(square_less, &two, true, 0, 10, 9, &root));
    check_near(root, sqrt(2), 3e-16);
}

static void finds_a_root_of_a_falling_function(void **state)
{
    (void)state;
    double root;
    assert_true(simroot_find(falling_cube, NULL, false, 0.5, 10, 1, &root));
    check_near(root, 2, 1e-15);
}

static void stays_in_the_bracket_where_newtons_step_leads_away(void **state)
{
    (void)state;
    /* From beyond 1.39 Newton's method alone runs away from the root of atan. */
    double root;
    assert_true(simroot_find(steep_then_flat, NULL, true, -50, 40, 30, &root));
    check_near(root, 0, 1e-15);
}

static void tells_where_there_is_no_root_in_between(void **state)
{
    (void)state;
    double two = 2, root = -7;
    assert_false(simroot_find(square_less, &two, true, 2, 10, 5, &root));
    assert_false(simroot_find(square_less, &two, true, 0, 1, 0.5, &root));
    check_near(root, -7, 0);
}

static void tells_where_the_function_has_no_value(void **state)
{
    (void)state;
    double root;
    assert_false(simroot_find(nothing, NULL, true, 0, 1, 0.5, &root));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_a_root_to_the_last_digits),
        cmocka_unit_test(finds_a_root_of_a_falling_function),
        cmocka_unit_test(stays_in_the_bracket_where_newtons_step_leads_away),
        cmocka_unit_test(tells_where_there_is_no_root_in_between),
        cmocka_unit_test(tells_where_the_function_has_no_value),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
