/* Which calibrations are in force, and which one was before. */
#include "check.h"
#include "record/record.h"
#include "scratch.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static struct err err;

static const struct row {
    const char *bench;
    enum quantity quantity;
    const char *made_at;
    const char *note;
} rows[] = {
    {"bench 1", QUANTITY_FORCE, "2026-01-01T00:00:00Z", "first"},
    {"bench 1", QUANTITY_FORCE, "2026-03-01T00:00:00Z", "third"},
    {"bench 1", QUANTITY_FORCE, "2026-02-01T00:00:00Z", "second"},
    {"bench 1", QUANTITY_FORCE, "2026-03-01T00:00:00Z", "fourth, in the same second"},
    {"bench 1", QUANTITY_LENGTH, "2026-02-15T00:00:00Z", "travel"},
    {"a bench", QUANTITY_FORCE, "2026-02-16T00:00:00Z", "other bench"},
};
enum { N_ROWS = sizeof rows / sizeof rows[0] };

static struct record *filled(char keys[N_ROWS][RECORD_KEY_MAX])
{
    static struct calibration_point points[] = {{.run = 1}, {.reference_si = 1, .count = 1}};
    struct record *record = scratch_open();
    for (size_t i = 0; i < N_ROWS; i++) {
        struct record_calibration in = {.bench = (char *)(uintptr_t)rows[i].bench,
                                        .quantity = rows[i].quantity,
                                        .n_terms = 2,
                                        .note = (char *)(uintptr_t)rows[i].note,
                                        .points = points,
                                        .n_points = 2};
        (void)snprintf(in.made_at, sizeof in.made_at, "%s", rows[i].made_at);
        check_ok(record_calibration_add(record, &in, &err));
        memcpy(keys[i], in.key, RECORD_KEY_MAX);
    }
    return record;
}

static void the_one_before_is_the_next_older_of_its_kind(void **state)
{
    (void)state;
    char keys[N_ROWS][RECORD_KEY_MAX];
    struct record *record = filled(keys);
    struct record_calibration out;
    const size_t order[] = {3, 1, 2, 0}; /* newest first */
    for (size_t i = 0; i + 1 < 4; i++) {
        check_ok(record_calibration_before(record, keys[order[i]], &out, &err));
        assert_string_equal(out.key, keys[order[i + 1]]);
        assert_string_equal(out.note, rows[order[i + 1]].note);
        assert_int_equal(out.n_points, 2);
        record_calibration_clear(&out);
    }
    record_close(record);
}

static void the_first_has_none_before(void **state)
{
    (void)state;
    char keys[N_ROWS][RECORD_KEY_MAX];
    struct record *record = filled(keys);
    struct record_calibration out;
    const char *const without[] = {keys[0], keys[4], keys[5], "no such key"};
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(record_calibration_before(record, without[i], &out, &err),
                         STATUS_NOT_CALIBRATED);
        assert_null(out.points);
    }
    record_close(record);
}

static void those_in_force_are_the_newest_of_each_bench_and_quantity(void **state)
{
    (void)state;
    char keys[N_ROWS][RECORD_KEY_MAX];
    struct record *record = filled(keys);
    char(*found)[RECORD_KEY_MAX] = NULL;
    size_t n = 0;
    check_ok(record_calibration_in_force(record, NULL, &found, &n, &err));
    assert_int_equal(n, 3);
    assert_string_equal(found[0], keys[5]);
    assert_string_equal(found[1], keys[3]);
    assert_string_equal(found[2], keys[4]);
    free(found);
    check_ok(record_calibration_in_force(record, "bench 1", &found, &n, &err));
    assert_int_equal(n, 2);
    free(found);
    check_ok(record_calibration_in_force(record, "bench 9", &found, &n, &err));
    assert_int_equal(n, 0);
    free(found);
    record_close(record);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define TEST(name) cmocka_unit_test_setup_teardown(name, scratch_make, scratch_remove)
        TEST(the_one_before_is_the_next_older_of_its_kind),
        TEST(the_first_has_none_before),
        TEST(those_in_force_are_the_newest_of_each_bench_and_quantity),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
