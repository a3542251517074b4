/* Keys and times as the record writes them. */
#include "check.h"
#include "record/record_private.h"

#include <string.h>
#include <time.h>

static struct err err;

/* RFC 9562, section 5.4: 8-4-4-4-12 lower-case hex digits, version 4 in the third group, variant
 * 10xx in the fourth. */
static void a_new_key_is_a_random_uuid(void **state)
{
    (void)state;
    for (int i = 0; i < 200; i++) {
        char key[RECORD_KEY_MAX];
        check_ok(record_key_new(key, &err));
        assert_int_equal(strlen(key), 36);
        assert_true(record_key_valid(key));
        assert_int_equal(key[14], '4');
        assert_non_null(strchr("89ab", key[19]));
    }
}

static void keys_differ(void **state)
{
    (void)state;
    enum { N = 500 };
    static char keys[N][RECORD_KEY_MAX];
    for (int i = 0; i < N; i++)
        check_ok(record_key_new(keys[i], &err));
    for (int i = 0; i < N; i++)
        for (int k = 0; k < i; k++)
            assert_string_not_equal(keys[i], keys[k]);
}

static void only_whole_keys_are_valid(void **state)
{
    (void)state;
    assert_true(record_key_valid("0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7e"));
    static const char *const bad[] = {
        "",
        "last",
        "0f8b2c1e",
        "0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7",
        "0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7e0",
        "0F8B2C1E-6a53-4d7b-9c3e-1f2a4b5c6d7e",
        "0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7g",
        "0f8b2c1e06a53-4d7b-9c3e-1f2a4b5c6d7e",
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_false(record_key_valid(bad[i]));
}

static void four_digits_may_begin_a_key(void **state)
{
    (void)state;
    assert_true(record_key_beginning("0f8b"));
    assert_true(record_key_beginning("0f8b2c1e-6a"));
    assert_false(record_key_beginning("0f8"));
    assert_false(record_key_beginning("0f8b2c1e6a"));
    assert_false(record_key_beginning("hare"));
    assert_false(record_key_beginning("0f8b%"));
}

static void now_is_utc_in_iso_8601(void **state)
{
    (void)state;
    char text[RECORD_TIME_MAX];
    time_t before = time(NULL);
    record_now(text);
    time_t after = time(NULL);
    assert_true(record_time_valid(text));
    struct tm utc = {0};
    assert_non_null(strptime(text, "%Y-%m-%dT%H:%M:%SZ", &utc));
    time_t told = timegm(&utc);
    assert_true(told >= before && told <= after);
}

static void times_have_one_form(void **state)
{
    (void)state;
    assert_true(record_time_valid("2026-11-25T09:20:05Z"));
    assert_true(record_time_valid("2026-11-25T09:20:05.123456Z"));
    static const char *const bad[] = {"",
                                      "2026-11-25",
                                      "2026-11-25 09:20:05Z",
                                      "2026-11-25T09:20:05",
                                      "2026-11-25T09:20:05+01:00",
                                      "2026-11-25T09:20:05.Z",
                                      "2026-11-25T09:20:05ZZ",
                                      "2026-11-25T09:20:05.12345678901234567890Z"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_false(record_time_valid(bad[i]));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_key_is_a_random_uuid), cmocka_unit_test(keys_differ),
        cmocka_unit_test(only_whole_keys_are_valid),  cmocka_unit_test(four_digits_may_begin_a_key),
        cmocka_unit_test(now_is_utc_in_iso_8601),     cmocka_unit_test(times_have_one_form),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
