/* Faults: their messages and the program's exit codes. */
#include "base/status.h"
#include "check.h"

#include <string.h>
#include <sysexits.h>

/* sysexits.h (4.2BSD and later) names 64-78; 0, 1 and 2 are pullcurve's own answers. */
static void exit_codes_follow_sysexits(void **state)
{
    (void)state;
    static const struct {
        enum status status;
        int exit_code;
    } row[] = {
        {STATUS_OK, EX_OK},
        {STATUS_ANSWER_NO, 1},
        {STATUS_NOT_PROVEN, 2},
        {STATUS_USAGE, EX_USAGE},
        {STATUS_BAD_INPUT, EX_DATAERR},
        {STATUS_TOO_FEW, EX_DATAERR},
        {STATUS_NO_FIT, EX_DATAERR},
        {STATUS_NO_INPUT, EX_NOINPUT},
        {STATUS_NOT_CALIBRATED, EX_NOINPUT},
        {STATUS_NO_BENCH, EX_UNAVAILABLE},
        {STATUS_INTERNAL, EX_SOFTWARE},
        {STATUS_CANT_WRITE, EX_CANTCREAT},
        {STATUS_INTERRUPTED, EX_TEMPFAIL},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        assert_int_equal(status_exit_code(row[i].status), row[i].exit_code);
}

static void each_status_has_words(void **state)
{
    (void)state;
    for (int code = STATUS_OK; code <= STATUS_INTERRUPTED; code++)
        assert_true(strlen(status_text((enum status)code)) > 3);
}

static void a_fault_holds_its_code_and_its_message(void **state)
{
    (void)state;
    struct err err = {0};
    assert_int_equal(err_set(&err, STATUS_BAD_INPUT, "%s:%d: no number", "a.csv", 3),
                     STATUS_BAD_INPUT);
    assert_int_equal(err.code, STATUS_BAD_INPUT);
    assert_string_equal(err.text, "a.csv:3: no number");
}

static void a_caller_that_wants_no_message_gets_the_code(void **state)
{
    (void)state;
    assert_int_equal(err_set(NULL, STATUS_NO_BENCH, "nobody reads this"), STATUS_NO_BENCH);
}

static void a_message_that_is_too_long_is_cut(void **state)
{
    (void)state;
    char longer[3 * ERR_TEXT_MAX];
    memset(longer, 'x', sizeof longer - 1);
    longer[sizeof longer - 1] = '\0';
    struct err err = {0};
    err_set(&err, STATUS_USAGE, "%s", longer);
    assert_int_equal(strlen(err.text), ERR_TEXT_MAX - 1);
}

static void a_prefix_goes_before_the_message_and_keeps_its_code(void **state)
{
    (void)state;
    struct err err = {0};
    err_set(&err, STATUS_NO_INPUT, "no such file");
    assert_int_equal(err_prefix(&err, "capture %d", 12), STATUS_NO_INPUT);
    assert_string_equal(err.text, "capture 12: no such file");
}

static void a_prefix_before_a_full_message_cuts_its_end(void **state)
{
    (void)state;
    char longer[3 * ERR_TEXT_MAX];
    memset(longer, 'x', sizeof longer - 1);
    longer[sizeof longer - 1] = '\0';
    struct err err = {0};
    err_set(&err, STATUS_USAGE, "%s", longer);

    assert_int_equal(err_prefix(&err, "here"), STATUS_USAGE);
    assert_int_equal(strncmp(err.text, "here: xxx", 9), 0);
    assert_true(strlen(err.text) < ERR_TEXT_MAX);
    assert_int_equal(err_prefix(&err, "%s", longer), STATUS_USAGE);
    assert_int_equal(strlen(err.text), ERR_TEXT_MAX - 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exit_codes_follow_sysexits),
        cmocka_unit_test(each_status_has_words),
        cmocka_unit_test(a_fault_holds_its_code_and_its_message),
        cmocka_unit_test(a_caller_that_wants_no_message_gets_the_code),
        cmocka_unit_test(a_message_that_is_too_long_is_cut),
        cmocka_unit_test(a_prefix_goes_before_the_message_and_keeps_its_code),
        cmocka_unit_test(a_prefix_before_a_full_message_cuts_its_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
