/* Which columns of a table file are draw position, force and time. */
#include "check.h"
#include "verbs/subject_columns.h"

#include <string.h>

static struct err err;

static enum status find(const char *text, const char *map, struct subject_columns *columns)
{
    struct buf buf = {0};
    struct table *table;
    buf_text(&buf, text);
    err = (struct err){0};
    check_ok(table_open_text(&table, "t.csv", &buf, &err));
    enum status status = subject_columns_find(table, map, columns, &err);
    table_close(table);
    return status;
}

static void check_found(const char *text, const char *map, size_t draw, enum unit draw_unit,
                        size_t force, enum unit force_unit)
{
    struct subject_columns columns;
    check_ok(find(text, map, &columns));
    assert_int_equal(columns.draw, draw);
    assert_int_equal(columns.draw_unit, draw_unit);
    assert_int_equal(columns.force, force);
    assert_int_equal(columns.force_unit, force_unit);
}

static void check_refused(const char *text, const char *map, enum status status, const char *words)
{
    struct subject_columns columns;
    assert_int_equal(find(text, map, &columns), status);
    if (strstr(err.text, words) == NULL)
        fail_msg("\"%s\" does not hold \"%s\"", err.text, words);
}

static void standard_names_are_found_in_any_order_and_case(void **state)
{
    (void)state;
    check_found("draw_in,force_lbf\n", NULL, 0, UNIT_IN, 1, UNIT_LBF);
    check_found("FORCE_N;x;Draw_MM\n", NULL, 2, UNIT_MM, 0, UNIT_N);
    check_found("draw_cm\tforce_kgf\n", NULL, 0, UNIT_CM, 1, UNIT_KGF);
    check_found("draw_m,force_n\n", NULL, 0, UNIT_M, 1, UNIT_N);
}

static void time_is_found_where_it_is_there(void **state)
{
    (void)state;
    struct subject_columns columns;
    check_ok(find("draw_in,force_lbf\n", NULL, &columns));
    assert_false(columns.has_time);
    check_ok(find("time_s,draw_in,force_lbf\n", NULL, &columns));
    assert_true(columns.has_time);
    assert_int_equal(columns.time, 0);
    check_ok(find("ms,draw_in,force_lbf\n", "time=ms:ms", &columns));
    assert_int_equal(columns.time_unit, UNIT_MS);
}

static void a_map_names_columns_and_units(void **state)
{
    (void)state;
    check_found("Pos,Load\n", "draw=Pos:mm,force=Load:N", 0, UNIT_MM, 1, UNIT_N);
    check_found("Pos,Load\n", "force=load:kgf, draw=pos:cm", 0, UNIT_CM, 1, UNIT_KGF);
    check_found("Pos,force_n\n", "draw=Pos", 0, UNIT_IN, 1, UNIT_N);
    check_found("\"Pos, raw\",Load\n", "draw=\"Pos, raw\":mm,force=Load", 0, UNIT_MM, 1, UNIT_LBF);
    check_found("a:b,Load\n", "draw=a:b:mm,force=Load", 0, UNIT_MM, 1, UNIT_LBF);
    check_found("a:b,Load\n", "draw=a:b,force=Load", 0, UNIT_IN, 1, UNIT_LBF);
}

static void the_unit_is_read_from_the_name_where_it_is_not_stated(void **state)
{
    (void)state;
    check_found("Draw [mm],Force (N)\n", "draw=Draw [mm],force=Force (N)", 0, UNIT_MM, 1, UNIT_N);
    check_found("pos_cm,load kgf\n", "draw=pos_cm,force=load kgf", 0, UNIT_CM, 1, UNIT_KGF);
    check_found("Draw [mm],Load\n", "draw=Draw [mm]:in,force=Load", 0, UNIT_IN, 1, UNIT_LBF);
    check_found("bottom,pattern\n", "draw=bottom,force=pattern", 0, UNIT_IN, 1, UNIT_LBF);
}

static void columns_have_numbers(void **state)
{
    (void)state;
    check_found("1;2;3\n", "draw=3:mm,force=1:n", 2, UNIT_MM, 0, UNIT_N);
    check_found("a,b,c\n", "draw=2,force=3", 1, UNIT_IN, 2, UNIT_LBF);
    check_refused("1;2;3\n", "draw=4,force=1", STATUS_BAD_INPUT, "'4'");
    check_refused("1;2;3\n", NULL, STATUS_BAD_INPUT, "has no header");
}

static void what_is_not_there_is_told_with_what_is(void **state)
{
    (void)state;
    check_refused("pos,load\n", NULL, STATUS_BAD_INPUT, "there are: pos, load");
    check_refused("draw_in,load\n", NULL, STATUS_BAD_INPUT, "no column is called force_lbf");
    check_refused("pos,load\n", "draw=posn,force=load", STATUS_BAD_INPUT, "no column 'posn'");
}

static void what_could_be_two_columns_is_refused(void **state)
{
    (void)state;
    check_refused("draw_in,draw_mm,force_n\n", NULL, STATUS_BAD_INPUT,
                  "both 'draw_in' and 'draw_mm' are there");
    check_found("draw_in,draw_mm,force_n\n", "draw=draw_mm", 1, UNIT_MM, 2, UNIT_N);
    check_refused("draw_in,draw_in,force_n\n", NULL, STATUS_BAD_INPUT, "columns 1 and 2");
    check_refused("a,b\n", "draw=a,force=1", STATUS_BAD_INPUT, "can't be both draw and force");
}

static void a_map_that_makes_no_sense_is_wrong_usage(void **state)
{
    (void)state;
    static const char *const maps[] = {
        "draw",     "pull=a",         "draw=",       "draw=a,,", "draw=a,draw=b",
        "draw=\"a", "draw=a;force=b", "draw=\"a\"x", "=a"};
    for (size_t i = 0; i < sizeof maps / sizeof maps[0]; i++) {
        struct subject_columns columns;
        enum status status = find("a,b\n", maps[i], &columns);
        if (status != STATUS_USAGE && status != STATUS_BAD_INPUT)
            fail_msg("'%s' gives status %d", maps[i], (int)status);
    }
    check_refused("a,b\n", "draw=a:stone,force=b", STATUS_USAGE, "'stone' is no unit for draw");
    check_refused("a,b\n", "draw=a:lbf,force=b", STATUS_USAGE, "'lbf' is no unit for draw");
    check_refused("a,b\n", "pull=a", STATUS_USAGE, "write it like draw=");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(standard_names_are_found_in_any_order_and_case),
        cmocka_unit_test(time_is_found_where_it_is_there),
        cmocka_unit_test(a_map_names_columns_and_units),
        cmocka_unit_test(the_unit_is_read_from_the_name_where_it_is_not_stated),
        cmocka_unit_test(columns_have_numbers),
        cmocka_unit_test(what_is_not_there_is_told_with_what_is),
        cmocka_unit_test(what_could_be_two_columns_is_refused),
        cmocka_unit_test(a_map_that_makes_no_sense_is_wrong_usage),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
