/* Calibrations: kept point by point, the newest of a bench and quantity holds. */
#include "check.h"
#include "record/record_private.h"
#include "scratch.h"

#include <math.h>
#include <string.h>

static struct err err;

static struct calibration_point points[] = {
    {.reference_si = 0, .u_reference_si = 0, .count = -81234.5, .u_count = 0.25, .run = 1},
    {.reference_si = 44.48221615260, .u_reference_si = 1e-3, .count = 0.1 + 0.2, .run = 1},
    {.reference_si = 1.0 / 3, .count = 5e-324, .run = 2, .decreasing = true},
};

static struct record_calibration on_bench(const char *bench, enum quantity quantity)
{
    return (struct record_calibration){.bench = (char *)(uintptr_t)bench,
                                       .quantity = quantity,
                                       .n_terms = 2,
                                       .note = (char *)"five dead weights",
                                       .points = points,
                                       .n_points = 3};
}

static void check_same(const struct record_calibration *got,
                       const struct record_calibration *expected)
{
    assert_string_equal(got->key, expected->key);
    assert_string_equal(got->made_at, expected->made_at);
    assert_string_equal(got->bench, expected->bench);
    assert_string_equal(got->note, expected->note);
    assert_int_equal(got->quantity, expected->quantity);
    assert_int_equal(got->n_terms, expected->n_terms);
    assert_int_equal(got->references_independent, expected->references_independent);
    assert_int_equal(got->n_points, expected->n_points);
    for (size_t i = 0; i < got->n_points; i++) {
        const struct calibration_point *a = &got->points[i], *b = &expected->points[i];
        assert_true(a->reference_si == b->reference_si && a->u_reference_si == b->u_reference_si);
        assert_true(a->count == b->count && a->u_count == b->u_count);
        assert_true(a->run == b->run && a->decreasing == b->decreasing);
    }
}

static void a_calibration_comes_back_exactly(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_calibration in = on_bench("bench 1", QUANTITY_FORCE), out;
    in.references_independent = true;
    in.n_terms = 3;
    check_ok(record_calibration_add(record, &in, &err));
    assert_true(record_key_valid(in.key));
    assert_true(record_time_valid(in.made_at));
    check_ok(record_calibration_get(record, in.key, &out, &err));
    check_same(&out, &in);
    record_calibration_clear(&out);
    check_ok(record_calibration_newest(record, "bench 1", QUANTITY_FORCE, &out, &err));
    check_same(&out, &in);
    record_calibration_clear(&out);
    record_close(record);
}

static void a_key_and_a_date_that_are_given_stay(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_calibration in = on_bench("bench 1", QUANTITY_LENGTH), out;
    memcpy(in.key, "0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7e", RECORD_KEY_MAX);
    memcpy(in.made_at, "2026-01-02T03:04:05Z", 21);
    check_ok(record_calibration_add(record, &in, &err));
    check_ok(record_calibration_get(record, "0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7e", &out, &err));
    assert_string_equal(out.made_at, "2026-01-02T03:04:05Z");
    record_calibration_clear(&out);
    assert_int_equal(record_calibration_add(record, &in, &err), STATUS_BAD_INPUT); /* once */
    record_close(record);
}

static void the_newest_of_this_bench_and_quantity_holds(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    static const struct {
        const char *bench;
        enum quantity quantity;
        const char *made_at;
        const char *note;
    } rows[] = {
        {"bench 1", QUANTITY_FORCE, "2026-01-01T00:00:00Z", "old"},
        {"bench 1", QUANTITY_FORCE, "2026-03-01T00:00:00Z", "new"},
        {"bench 1", QUANTITY_FORCE, "2026-02-01T00:00:00Z", "entered later, older"},
        {"bench 1", QUANTITY_LENGTH, "2026-04-01T00:00:00Z", "travel"},
        {"bench 2", QUANTITY_FORCE, "2026-05-01T00:00:00Z", "other bench"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct record_calibration in = on_bench(rows[i].bench, rows[i].quantity);
        in.note = (char *)(uintptr_t)rows[i].note;
        (void)snprintf(in.made_at, sizeof in.made_at, "%s", rows[i].made_at);
        check_ok(record_calibration_add(record, &in, &err));
    }
    struct record_calibration out;
    check_ok(record_calibration_newest(record, "bench 1", QUANTITY_FORCE, &out, &err));
    assert_string_equal(out.note, "new");
    record_calibration_clear(&out);
    record_close(record);
}

static void of_two_in_the_same_second_the_later_one_holds(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_calibration in = on_bench("bench 1", QUANTITY_FORCE), out;
    memcpy(in.made_at, "2026-01-02T03:04:05Z", 21);
    check_ok(record_calibration_add(record, &in, &err));
    in.key[0] = '\0';
    in.note = (char *)"second";
    check_ok(record_calibration_add(record, &in, &err));
    check_ok(record_calibration_newest(record, "bench 1", QUANTITY_FORCE, &out, &err));
    assert_string_equal(out.note, "second");
    record_calibration_clear(&out);
    record_close(record);
}

static void a_clock_that_was_set_back_does_not_hide_the_new_one(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_calibration in = on_bench("bench 1", QUANTITY_FORCE), out;
    memcpy(in.made_at, "2099-01-01T00:00:00Z", 21);
    check_ok(record_calibration_add(record, &in, &err));
    in.key[0] = in.made_at[0] = '\0';
    in.note = (char *)"made now";
    check_ok(record_calibration_add(record, &in, &err));
    assert_string_equal(in.made_at, "2099-01-01T00:00:00Z");
    check_ok(record_calibration_newest(record, "bench 1", QUANTITY_FORCE, &out, &err));
    assert_string_equal(out.note, "made now");
    record_calibration_clear(&out);
    record_close(record);
}

static void a_bench_without_one_says_what_to_do(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_calibration out;
    assert_int_equal(record_calibration_newest(record, "bench 9", QUANTITY_LENGTH, &out, &err),
                     STATUS_NOT_CALIBRATED);
    assert_non_null(strstr(err.text, "travel calibration of the bench 'bench 9'"));
    assert_non_null(strstr(err.text, "pullcurve calibrate"));
    assert_int_equal(record_calibration_get(record, "nothing", &out, &err), STATUS_NO_INPUT);
    record_calibration_clear(&out);
    record_close(record);
}

static void what_is_no_calibration_is_refused_whole(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_calibration in = on_bench("", QUANTITY_FORCE), out;
    assert_int_equal(record_calibration_add(record, &in, &err), STATUS_BAD_INPUT);
    in = on_bench("bench 1", QUANTITY_FORCE);
    in.n_points = 0;
    assert_int_equal(record_calibration_add(record, &in, &err), STATUS_BAD_INPUT);
    struct calibration_point bad[3] = {points[0], points[1], {.reference_si = (double)NAN}};
    in = on_bench("bench 1", QUANTITY_FORCE);
    in.points = bad;
    assert_int_equal(record_calibration_add(record, &in, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "point 3"));
    assert_int_equal(record_calibration_newest(record, "bench 1", QUANTITY_FORCE, &out, &err),
                     STATUS_NOT_CALIBRATED);
    record_close(record);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, scratch_make, scratch_remove)
    const struct CMUnitTest tests[] = {
        TEST(a_calibration_comes_back_exactly),
        TEST(a_key_and_a_date_that_are_given_stay),
        TEST(the_newest_of_this_bench_and_quantity_holds),
        TEST(of_two_in_the_same_second_the_later_one_holds),
        TEST(a_clock_that_was_set_back_does_not_hide_the_new_one),
        TEST(a_bench_without_one_says_what_to_do),
        TEST(what_is_no_calibration_is_refused_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
