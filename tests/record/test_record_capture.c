/* Captures: what is appended stays, in its order, whole or with the damage named. */
#include "check.h"
#include "record/record_private.h"
#include "scratch.h"

#include <math.h>
#include <signal.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

static struct err err;

static const struct capture_counts some_counts = {.n_readings = 250,
                                                  .n_malformed = 1,
                                                  .n_bad_checksum = 2,
                                                  .n_lost = 3,
                                                  .n_out_of_order = 4,
                                                  .n_saturated = 5};

static void readings_come_back_as_they_went(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench 1"};
    scratch_capture(record, &capture, 1001, 20);
    scratch_check_readings(record, capture.key, 1001);
    record_close(record);
    record = scratch_open_as("shop.db", RECORD_READ);
    scratch_check_readings(record, capture.key, 1001);
    record_close(record);
}

static void a_capture_is_open_until_it_ends(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench 1",
                                     .note = (char *)"left cam one turn",
                                     .program = (char *)"pullcurve 0.1.0",
                                     .has_brace = true,
                                     .brace_m = 0.1778};
    scratch_capture(record, &capture, 250, 100);
    struct record_capture found;
    check_ok(record_capture_find(record, "1", &found, &err));
    assert_int_equal(found.state, CAPTURE_OPEN);
    assert_int_equal(found.counts.n_readings, 250); /* counted from what is kept */
    assert_string_equal(found.ended_at, "");
    record_capture_clear(&found);

    check_ok(record_capture_end(record, capture.key, CAPTURE_INCOMPLETE, &some_counts, &err));
    check_ok(record_capture_find(record, "last", &found, &err));
    assert_int_equal(found.state, CAPTURE_INCOMPLETE);
    assert_memory_equal(&found.counts, &some_counts, sizeof some_counts);
    assert_true(record_time_valid(found.ended_at));
    assert_string_equal(found.key, capture.key);
    assert_string_equal(found.started_at, capture.started_at);
    assert_int_equal(found.number, 1);
    assert_string_equal(found.bench, "bench 1");
    assert_string_equal(found.note, "left cam one turn");
    assert_string_equal(found.program, "pullcurve 0.1.0");
    assert_string_equal(found.bow_key, "");
    assert_string_equal(found.bow_name, "");
    assert_true(found.has_brace && found.brace_m == 0.1778);
    assert_int_equal(found.content, CAPTURE_RAW);
    record_capture_clear(&found);
    record_close(record);
}

static void check_same_fixture(const struct fixture *got, const struct fixture *expected)
{
    check_near(got->give_m_per_n, expected->give_m_per_n, 0);
    check_near(got->u_give_m_per_n, expected->u_give_m_per_n, 0);
    check_near(got->angle_rad, expected->angle_rad, 0);
    check_near(got->u_angle_rad, expected->u_angle_rad, 0);
    check_near(got->hook_n, expected->hook_n, 0);
    check_near(got->u_hook_n, expected->u_hook_n, 0);
    check_near(got->u_brace_m, expected->u_brace_m, 0);
    assert_int_equal(got->tare, expected->tare);
    assert_int_equal(got->drift, expected->drift);
}

static void the_fixture_is_kept_with_the_capture(void **state)
{
    (void)state;
    static const struct fixture fixtures[] = {
        {.tare = false},
        {.tare = true},
        {.give_m_per_n = 0.1 + 0.2,
         .u_give_m_per_n = 5e-324,
         .angle_rad = -1.0 / 3,
         .u_angle_rad = 1e-300,
         .hook_n = -2.5,
         .u_hook_n = 3,
         .drift = true,
         .u_brace_m = 0.000508},
    };
    struct record *record = scratch_open();
    for (size_t i = 0; i < sizeof fixtures / sizeof fixtures[0]; i++) {
        struct record_capture capture = {.bench = (char *)"bench", .fixture = fixtures[i]}, found;
        check_ok(record_capture_begin(record, &capture, &err));
        check_ok(record_capture_find(record, capture.key, &found, &err));
        check_same_fixture(&found.fixture, &fixtures[i]);
        record_capture_clear(&found);
    }
    record_close(record);
}

static void a_fixture_is_a_small_json_object(void **state)
{
    (void)state;
    const struct fixture fixture = {.give_m_per_n = 2.5e-06, .tare = true};
    char *text = record_fixture_text(&fixture);
    assert_string_equal(text, "{\"give_m_per_n\":2.5e-06,\"tare\":true}");
    free(text);
    struct fixture read;
    check_ok(
        record_fixture_parse("{\"tomorrow\": [1], \"hook_n\": 2, \"tare\": false}", &read, &err));
    check_same_fixture(&read, &(struct fixture){.hook_n = 2});
    static const char *const bad[] = {"", "{", "[]", "{\"hook_n\": \"2\"}", "{\"drift\": 1}"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_equal(record_fixture_parse(bad[i], &read, &err), STATUS_BAD_INPUT);
}

static void a_fixture_that_can_not_be_read_is_named(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"}, found;
    check_ok(record_capture_begin(record, &capture, &err));
    check_ok(record_exec(record, "DROP TRIGGER capture_is_not_changed", &err));
    check_ok(record_exec(record, "UPDATE capture SET fixture = '{give'", &err));
    assert_int_equal(record_capture_find(record, "1", &found, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "capture 1: 'fixture'"));
    assert_int_equal(record_capture_find(record, "1", &found, NULL), STATUS_BAD_INPUT);
    record_close(record);
}

static void a_capture_ends_once_and_then_takes_nothing_more(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 250, 100);
    check_ok(record_capture_end(record, capture.key, CAPTURE_COMPLETE, &some_counts, &err));
    assert_int_equal(
        record_capture_end(record, capture.key, CAPTURE_INCOMPLETE, &some_counts, &err),
        STATUS_BAD_INPUT);
    struct raw_reading reading = scratch_reading(0);
    assert_int_equal(record_capture_append(record, capture.key, &reading, 1, &err),
                     STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "has ended"));
    scratch_check_readings(record, capture.key, 250);
    record_close(record);
}

static void a_capture_that_is_not_there_takes_nothing(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct raw_reading reading = scratch_reading(0), *readings;
    static const char key[] = "0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7e";
    size_t n;
    assert_int_equal(record_capture_append(record, key, &reading, 1, &err), STATUS_NO_INPUT);
    assert_int_equal(record_capture_end(record, key, CAPTURE_COMPLETE, &some_counts, &err),
                     STATUS_NO_INPUT);
    assert_int_equal(record_capture_readings(record, key, &readings, &n, &err), STATUS_NO_INPUT);
    struct record_capture capture = {.bench = (char *)"bench"};
    memcpy(capture.bow_key, key, sizeof key);
    assert_int_equal(record_capture_begin(record, &capture, &err), STATUS_NO_INPUT);
    record_close(record);
}

static void captures_are_found_by_number_key_and_last(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture captures[3] = {{.bench = (char *)"bench"}};
    captures[1] = captures[2] = captures[0];
    memcpy(captures[0].key, "aaaa0000-0000-4000-8000-000000000001", RECORD_KEY_MAX);
    memcpy(captures[1].key, "aaaa0000-0000-4000-8000-000000000002", RECORD_KEY_MAX);
    memcpy(captures[2].key, "00130000-0000-4000-8000-000000000003", RECORD_KEY_MAX);
    for (size_t i = 0; i < 3; i++)
        check_ok(record_capture_add(record, &captures[i], NULL, NULL, 0, &err));
    static const struct {
        const char *text;
        int64_t number; /* 0: not found */
    } cases[] = {
        {"2", 2},    {"last", 3}, {"0013", 3},
        {"aaaa", 0}, {"0010", 0}, {"aaaa0000-0000-4000-8000-000000000002", 2},
        {"4", 0},    {"", 0},     {"99999999999999999999", 0},
        {"-1", 0},   {"1e0", 0},  {"' OR 1=1 --", 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct record_capture found;
        enum status status = record_capture_find(record, cases[i].text, &found, &err);
        if (status != (cases[i].number > 0 ? STATUS_OK : STATUS_NO_INPUT) ||
            (status == STATUS_OK && found.number != cases[i].number))
            fail_msg("'%s': status %d, number %d", cases[i].text, (int)status, (int)found.number);
        record_capture_clear(&found);
    }
    record_close(record);
}

static void several_that_fit_are_listed(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture one = {.key = "aaaa0000-0000-4000-8000-000000000001"},
                          other = {.key = "aaaa0000-0000-4000-8000-000000000002"}, found;
    check_ok(record_capture_add(record, &one, NULL, NULL, 0, &err));
    check_ok(record_capture_add(record, &other, NULL, NULL, 0, &err));
    assert_int_equal(record_capture_find(record, "aaaa00", &found, &err), STATUS_NO_INPUT);
    assert_non_null(strstr(err.text, one.key));
    assert_non_null(strstr(err.text, other.key));
    record_close(record);
}

static void captures_are_listed_newest_first(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_bow bow = record_bow_blank();
    bow.name = (char *)"Ridge 34";
    check_ok(record_bow_add(record, &bow, &err));
    static const char *const dates[] = {"2026-03-01T10:00:00Z", "2026-03-03T10:00:00Z",
                                        "2026-03-02T10:00:00Z", "2026-03-03T10:00:00Z"};
    for (size_t i = 0; i < 4; i++) {
        struct record_capture capture = {.bench = (char *)"bench"};
        memcpy(capture.started_at, dates[i], strlen(dates[i]) + 1);
        if (i != 1)
            memcpy(capture.bow_key, bow.key, sizeof bow.key);
        check_ok(record_capture_add(record, &capture, NULL, NULL, 0, &err));
    }
    struct record_capture *captures;
    size_t n;
    check_ok(record_capture_list(record, "", 3, &captures, &n, &err));
    assert_int_equal(n, 3);
    static const int64_t all[] = {4, 2, 3};
    for (size_t i = 0; i < n; i++) {
        assert_int_equal(captures[i].number, all[i]);
        record_capture_clear(&captures[i]);
    }
    free(captures);
    check_ok(record_capture_list(record, bow.key, 100, &captures, &n, &err));
    assert_int_equal(n, 3);
    static const int64_t of_bow[] = {4, 3, 1};
    for (size_t i = 0; i < n; i++) {
        assert_int_equal(captures[i].number, of_bow[i]);
        assert_string_equal(captures[i].bow_name, "Ridge 34");
        record_capture_clear(&captures[i]);
    }
    free(captures);
    record_close(record);
}

/* --- values without counts ---------------------------------------------------------------- */

static void values_come_back_exactly(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    const struct record_value in[] = {
        {0.1778, 0.1 + 0.2, 0.0},
        {1.0 / 3, -0.0, (double)NAN},
        {5e-324, 1.7976931348623157e308, 1e-9},
    };
    struct record_capture capture = {.bench = (char *)"table", .content = CAPTURE_VALUES};
    check_ok(record_capture_begin(record, &capture, &err));
    check_ok(record_capture_append_values(record, capture.key, in, 1, &err));
    check_ok(record_capture_append_values(record, capture.key, in + 1, 2, &err));
    struct record_value *out;
    size_t n;
    check_ok(record_capture_values(record, capture.key, &out, &n, &err));
    assert_int_equal(n, 3);
    for (size_t i = 0; i < n; i++) {
        assert_memory_equal(&out[i].draw_m, &in[i].draw_m, sizeof(double));
        assert_memory_equal(&out[i].force_n, &in[i].force_n, sizeof(double));
        assert_true(isnan(in[i].time_s) ? isnan(out[i].time_s) : out[i].time_s == in[i].time_s);
    }
    free(out);
    record_close(record);
}

static void counts_and_values_do_not_mix(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture raw = {.bench = (char *)"bench"},
                          values = {.bench = (char *)"table", .content = CAPTURE_VALUES};
    scratch_capture(record, &raw, 10, 10);
    const struct record_value value = {0.2, 10, 0};
    check_ok(record_capture_begin(record, &values, &err));
    check_ok(record_capture_append_values(record, values.key, &value, 1, &err));
    struct raw_reading *readings, reading = scratch_reading(0);
    struct record_value *read;
    size_t n;
    assert_int_equal(record_capture_readings(record, values.key, &readings, &n, &err),
                     STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "has no counts"));
    assert_int_equal(record_capture_values(record, raw.key, &read, &n, &err), STATUS_BAD_INPUT);
    assert_int_equal(record_capture_append(record, values.key, &reading, 1, &err), STATUS_NO_INPUT);
    assert_int_equal(record_capture_append_values(record, raw.key, &value, 1, &err),
                     STATUS_NO_INPUT);
    record_close(record);
}

static void values_that_are_no_numbers_are_refused(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"table", .content = CAPTURE_VALUES};
    check_ok(record_capture_begin(record, &capture, &err));
    const struct record_value bad[] = {
        {(double)NAN, 1, 0}, {1, (double)INFINITY, 0}, {1, 1, (double)INFINITY}};
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(record_capture_append_values(record, capture.key, &bad[i], 1, &err),
                         STATUS_BAD_INPUT);
    record_close(record);
}

static void a_whole_capture_is_added_at_once(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    enum { N = 12345 };
    struct raw_reading *readings = calloc(N, sizeof *readings);
    assert_non_null(readings);
    for (size_t i = 0; i < N; i++)
        readings[i] = scratch_reading(i);
    struct record_capture capture = {.bench = (char *)"bench",
                                     .started_at = "2026-03-01T10:00:00Z",
                                     .state = CAPTURE_COMPLETE,
                                     .counts = {.n_readings = N}};
    check_ok(record_capture_add(record, &capture, readings, NULL, N, &err));
    free(readings);
    scratch_check_readings(record, capture.key, N);
    /* with the same key again: refused, and nothing of it stays */
    struct raw_reading one = scratch_reading(0);
    assert_int_equal(record_capture_add(record, &capture, &one, NULL, 1, &err), STATUS_BAD_INPUT);
    scratch_check_readings(record, capture.key, N);
    record_close(record);
}

/* --- damage ------------------------------------------------------------------------------- */

static void a_damaged_chunk_is_named_and_the_others_are_read(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 500, 100);
    record_close(record);
    scratch_sql(scratch_path("shop.db"),
                "UPDATE chunk SET readings = CAST(substr(readings, 1, 50) || x'FF' || "
                "substr(readings, 52) AS BLOB) WHERE number = 3");
    record = scratch_open_as("shop.db", RECORD_READ);
    struct raw_reading *readings;
    size_t n, n_damaged;
    assert_int_equal(record_capture_readings(record, capture.key, &readings, &n, &err),
                     STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "1 of 5 chunks are damaged (the first is number 3)"));
    assert_non_null(strstr(err.text, "400 readings are good"));
    check_ok(record_capture_salvage_readings(record, capture.key, &readings, &n, &n_damaged, &err));
    assert_int_equal(n, 400);
    assert_int_equal(n_damaged, 100);
    for (size_t i = 0; i < n; i++) {
        struct raw_reading expected = scratch_reading(i < 200 ? i : i + 100);
        if (i == 200)
            expected.flags |= RAW_AFTER_GAP;
        assert_memory_equal(&readings[i], &expected, sizeof expected);
    }
    free(readings);
    record_close(record);
}

static void a_missing_chunk_is_noticed(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 500, 100);
    record_close(record);
    scratch_sql(scratch_path("shop.db"), "DELETE FROM chunk WHERE number = 2");
    record = scratch_open_as("shop.db", RECORD_READ);
    struct raw_reading *readings;
    size_t n, n_damaged;
    assert_int_equal(record_capture_readings(record, capture.key, &readings, &n, &err),
                     STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "100 readings are missing; 400 are good"));
    check_ok(record_capture_salvage_readings(record, capture.key, &readings, &n, &n_damaged, &err));
    assert_int_equal(n, 400);
    assert_int_equal(n_damaged, 100);
    assert_true(readings[100].flags & RAW_AFTER_GAP);
    free(readings);
    record_close(record);
}

static void nothing_is_overwritten_by_anyone(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 100, 100);
    check_ok(record_capture_end(record, capture.key, CAPTURE_COMPLETE, &some_counts, &err));
    static const char *const attempts[] = {
        "UPDATE capture SET note = 'other'",
        "DELETE FROM capture",
        "UPDATE capture_end SET n_lost = 0",
        "DELETE FROM capture_end",
        "UPDATE chunk SET crc32 = 0",
        "DELETE FROM chunk",
        "INSERT OR REPLACE INTO chunk SELECT * FROM chunk",
        "INSERT OR REPLACE INTO capture SELECT * FROM capture",
        "INSERT OR REPLACE INTO capture_end SELECT * FROM capture_end",
    };
    for (size_t i = 0; i < sizeof attempts / sizeof attempts[0]; i++)
        if (record_exec(record, attempts[i], &err) == STATUS_OK)
            fail_msg("%s went through", attempts[i]);
    scratch_check_readings(record, capture.key, 100);
    record_close(record);
}

/* --- a full disk -------------------------------------------------------------------------- */

static void a_full_record_keeps_what_it_took_and_goes_on_when_there_is_space(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    check_ok(record_capture_begin(record, &capture, &err));
    check_ok(record_exec(record, "PRAGMA max_page_count = 60", &err));
    struct raw_reading readings[100];
    size_t n = 0;
    for (;; n += 100) {
        for (size_t k = 0; k < 100; k++)
            readings[k] = scratch_reading(n + k);
        if (record_capture_append(record, capture.key, readings, 100, &err) != STATUS_OK)
            break;
        assert_true(n < 100000);
    }
    assert_int_equal(err.code, STATUS_CANT_WRITE);
    assert_non_null(strstr(err.text, "free some space"));
    assert_true(n >= 1000);
    scratch_check_readings(record, capture.key, n);
    check_ok(record_exec(record, "PRAGMA max_page_count = 6000", &err));
    check_ok(record_capture_append(record, capture.key, readings, 100, &err)); /* the same again */
    scratch_check_readings(record, capture.key, n + 100);
    record_close(record);
}

static void a_disk_that_takes_no_more_loses_nothing_that_was_kept(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 100, 100);
    struct rlimit before, small;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    small = before;
    small.rlim_cur = 400 * 1024;
    (void)signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    struct raw_reading readings[100];
    size_t n = 100;
    enum status status = STATUS_OK;
    for (; status == STATUS_OK && n < 100000; n += 100) {
        for (size_t k = 0; k < 100; k++)
            readings[k] = scratch_reading(n + k);
        status = record_capture_append(record, capture.key, readings, 100, &err);
    }
    n -= 100;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    assert_int_equal(status, STATUS_CANT_WRITE);
    scratch_check_readings(record, capture.key, n);
    check_ok(record_capture_append(record, capture.key, readings, 100, &err));
    scratch_check_readings(record, capture.key, n + 100);
    record_close(record);
    assert_int_equal(scratch_sql_int(scratch_path("shop.db"),
                                     "SELECT integrity_check = 'ok' FROM pragma_integrity_check"),
                     1);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, scratch_make, scratch_remove)
    const struct CMUnitTest tests[] = {
        TEST(readings_come_back_as_they_went),
        TEST(a_capture_is_open_until_it_ends),
        TEST(the_fixture_is_kept_with_the_capture),
        TEST(a_fixture_is_a_small_json_object),
        TEST(a_fixture_that_can_not_be_read_is_named),
        TEST(a_capture_ends_once_and_then_takes_nothing_more),
        TEST(a_capture_that_is_not_there_takes_nothing),
        TEST(captures_are_found_by_number_key_and_last),
        TEST(several_that_fit_are_listed),
        TEST(captures_are_listed_newest_first),
        TEST(values_come_back_exactly),
        TEST(counts_and_values_do_not_mix),
        TEST(values_that_are_no_numbers_are_refused),
        TEST(a_whole_capture_is_added_at_once),
        TEST(a_damaged_chunk_is_named_and_the_others_are_read),
        TEST(a_missing_chunk_is_noticed),
        TEST(nothing_is_overwritten_by_anyone),
        TEST(a_full_record_keeps_what_it_took_and_goes_on_when_there_is_space),
        TEST(a_disk_that_takes_no_more_loses_nothing_that_was_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
