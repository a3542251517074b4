/*
 * check: cmocka with checks for doubles. cmocka 1.1.5's assert_float_equal works on floats and lets
 * NAN pass, so it is not used here.
 */
#ifndef PULLCURVE_TESTS_CHECK_H
#define PULLCURVE_TESTS_CHECK_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

/* TEST_FILTER='*wall*' runs the tests of a program whose names fit. */
__attribute__((constructor)) static void check_filter(void)
{
    const char *filter = getenv("TEST_FILTER");
    if (filter != NULL)
        cmocka_set_test_filter(filter);
}

/* |got - expected| <= tolerance; fails on NAN. */
#define check_near(got, expected, tolerance)                                                  \
    do {                                                                                      \
        double check_got = (got), check_expected = (expected), check_tolerance = (tolerance); \
        if (!(fabs(check_got - check_expected) <= check_tolerance)) {                         \
            print_error("%s: got %.17g, expected %.17g within %.3g\n", #got, check_got,       \
                        check_expected, check_tolerance);                                     \
            fail();                                                                           \
        }                                                                                     \
    } while (0)

/* The call gives STATUS_OK; prints the message where it does not. The struct err is named err. */
#define check_ok(call)                                                              \
    do {                                                                            \
        enum status check_status = (call);                                          \
        if (check_status != STATUS_OK) {                                            \
            print_error("%s: status %d: %s\n", #call, (int)check_status, err.text); \
            fail();                                                                 \
        }                                                                           \
    } while (0)

#endif
