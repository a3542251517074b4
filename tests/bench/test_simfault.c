#include "bench/simfault.h"

#include "check.h"

#include <string.h>

static void bare_name_takes_its_defaults(void **state)
{
    (void)state;
    struct err err;
    struct simfault fault;
    check_ok(simfault_parse("hang-up", &fault, &err));
    assert_int_equal(fault.kind, SIMFAULT_HANG_UP);
    check_near(fault.first, 20, 0);
    check_near(fault.second, 0, 0);
}

static void arguments_follow_a_colon(void **state)
{
    (void)state;
    struct err err;
    struct simfault fault;
    check_ok(simfault_parse("gaps:0.25", &fault, &err));
    assert_int_equal(fault.kind, SIMFAULT_GAPS);
    check_near(fault.first, 0.25, 0);
    check_ok(simfault_parse("silence:18.5,2", &fault, &err));
    assert_int_equal(fault.kind, SIMFAULT_SILENCE);
    check_near(fault.first, 18.5, 0);
    check_near(fault.second, 2, 0);
}

static void every_name_is_read(void **state)
{
    (void)state;
    for (int kind = 0; kind < SIMFAULT_COUNT; kind++) {
        struct err err;
        struct simfault fault;
        check_ok(simfault_parse(simfault_name((enum simfault_kind)kind), &fault, &err));
        assert_int_equal(fault.kind, kind);
        assert_non_null(strstr(simfault_help((enum simfault_kind)kind),
                               simfault_name((enum simfault_kind)kind)));
    }
}

static void unknown_name_is_told_with_the_known_ones(void **state)
{
    (void)state;
    struct err err;
    struct simfault fault;
    assert_int_equal(simfault_parse("fire", &fault, &err), STATUS_USAGE);
    assert_non_null(strstr(err.text, "garbage, gaps"));
}

static void bad_arguments_are_refused(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "gaps:",       "gaps:x",        "gaps:1.5",  "gaps:-1", "gaps:0.1,", "gaps:1,2",
        "silence:1,0", "silence:1,2,3", "gaps:0.1 ", "gap",     "",          "hang-up:200"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct err err;
        struct simfault fault = {.kind = SIMFAULT_COUNT};
        assert_int_equal(simfault_parse(bad[i], &fault, &err), STATUS_USAGE);
        assert_int_equal(fault.kind, SIMFAULT_COUNT);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bare_name_takes_its_defaults),
        cmocka_unit_test(arguments_follow_a_colon),
        cmocka_unit_test(every_name_is_read),
        cmocka_unit_test(unknown_name_is_told_with_the_known_ones),
        cmocka_unit_test(bad_arguments_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
