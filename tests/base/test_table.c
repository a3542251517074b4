/* Table files: what is accepted, what is refused and in which words. */
#include "base/table.h"
#include "check.h"
#include "random.h"
#include "run.h"

#include <stdlib.h>
#include <string.h>

static struct err err;

/* What a test reads: two number columns of a text. */
struct two {
    struct table *table;
    struct table_column column[2];
    struct table_rows rows;
};

static enum status open_text(struct table **table, const char *text)
{
    struct buf buf = {0};
    buf_text(&buf, text);
    *table = NULL;
    err = (struct err){0};
    return table_open_text(table, "t.csv", &buf, &err);
}

static enum status read_two(struct two *two, const char *text, unsigned flags)
{
    *two = (struct two){.column = {{.column = 0}, {.column = 1}}};
    enum status status = open_text(&two->table, text);
    return status != STATUS_OK ? status
                               : table_read(two->table, two->column, 2, flags, &two->rows, &err);
}

static void close_two(struct two *two)
{
    table_rows_clear(&two->rows, two->column, 2);
    table_close(two->table);
}

static void check_rows(const char *text, const double (*expected)[2], size_t n)
{
    struct two two;
    check_ok(read_two(&two, text, 0));
    assert_int_equal(two.rows.n, n);
    assert_int_equal(two.rows.n_bad, 0);
    for (size_t i = 0; i < n; i++)
        for (size_t c = 0; c < 2; c++)
            check_near(two.column[c].number[i], expected[i][c], 0);
    close_two(&two);
}

/* The text is refused and the message holds these words. */
static void check_refused(const char *text, const char *words)
{
    struct two two;
    assert_int_equal(read_two(&two, text, 0), STATUS_BAD_INPUT);
    if (strstr(err.text, words) == NULL)
        fail_msg("\"%s\" does not hold \"%s\"", err.text, words);
    close_two(&two);
}

static const double plain[2][2] = {{7.5, 0.25}, {12.5, 33}};

static void comma_semicolon_and_tab_separate(void **state)
{
    (void)state;
    check_rows("draw_in,force_lbf\n7.5,0.25\n12.5,33\n", plain, 2);
    check_rows("draw_in;force_lbf\n7.5;0.25\n12.5;33\n", plain, 2);
    check_rows("draw_in\tforce_lbf\n7.5\t0.25\n12.5\t33\n", plain, 2);
}

static void a_name_may_hold_another_separator(void **state)
{
    (void)state;
    check_rows("draw, in;force, lbf\n7.5;0.25\n12.5;33\n", plain, 2);
    check_rows("\"draw, in\",\"force, lbf\"\n7.5,0.25\n12.5,33\n", plain, 2);
}

static void what_editors_and_spreadsheets_leave_is_accepted(void **state)
{
    (void)state;
    check_rows("draw_in,force_lbf\r\n7.5,0.25\r\n12.5,33\r\n", plain, 2);
    check_rows("\xEF\xBB\xBF"
               "draw_in,force_lbf\n7.5,0.25\n12.5,33",
               plain, 2);
    check_rows("\n \ndraw_in,force_lbf\n\n7.5,0.25\n  \t\n12.5,33\n\n\n", plain, 2);
    check_rows("draw_in,force_lbf,\n7.5,0.25,\n12.5,33,\n", plain, 2);
    check_rows("draw_in;force_lbf;;\r\n7.5;0.25;;\r\n;;;\r\n12.5;33\r\n;;;\r\n", plain, 2);
    check_rows(",,,\ndraw_in,force_lbf\n7.5,0.25\n12.5,33\n", plain, 2);
    check_rows("\"draw_in\",\"force_lbf\"\n\"7.5\",\"0.25\"\n\"12.5\" , 33\n", plain, 2);
    check_rows(" draw_in , force_lbf \n 7.5 ,\t0.25\n12.5, 33 \n", plain, 2);
    check_rows("draw_in\tforce_lbf\t\n 7.5\t 0.25 \t\n12.5\t33\t\r\n", plain, 2);
}

static void signs_and_exponents_are_numbers(void **state)
{
    (void)state;
    const double expected[][2] = {{-7.5, 250}, {.5, -0.033}};
    check_rows("a,b\n-7.5,+2.5e2\n.5,-3.3E-2\n", expected, 2);
}

static void a_decimal_comma_is_read_where_the_separator_is_none(void **state)
{
    (void)state;
    check_rows("draw_in;force_lbf\n7,5;0,25\n12,5;33\n", plain, 2);
    check_rows("draw_in\tforce_lbf\n7,5\t0,25\n12,5\t33\n", plain, 2);
    check_rows("7,5;0,25\n12,5;33\n", plain, 2);
    check_rows("a;b\n \"7,5\" ; 0,25\r\n12,5;33\r\n", plain, 2);
}

static void three_decimals_are_read_where_another_cell_tells_the_mark(void **state)
{
    (void)state;
    const double expected[][2] = {{7.125, 0}, {12.250, 33.125}};
    check_rows("a;b\n7,125;0,000\n12,250;33,125\n", expected, 2);
}

static void what_can_be_read_in_two_ways_is_refused(void **state)
{
    (void)state;
    check_refused("a;b\n1,234;12\n2,345;13\n",
                  "t.csv:2: '1,234' can be read as a decimal comma or as a thousand");
    check_refused("a;b\n7.5;0\n12,5;33\n", "line 2 has a decimal point and line 3 a comma");
    check_refused("a\tb\n7.5\t0\n12\t1,234\n", "line 2 has a decimal point and line 3 a comma");
}

static void grouped_thousands_are_refused(void **state)
{
    (void)state;
    check_refused("a,b\n\"1,234\",2\n", "t.csv:2: column 'a' (1): '1,234' is no number");
    check_refused("a;b\n1.234,5;2\n", "'1.234,5' is no number");
    check_refused("a;b\n0,5;1,234,567\n", "'1,234,567' is no number");
}

static void a_decimal_comma_between_commas_is_refused(void **state)
{
    (void)state;
    check_refused("draw_in,force_lbf\n7,5,0,25\n",
                  "t.csv:2: the row has 4 cells where the header has 2; a decimal comma needs");
    check_refused("draw_in,force_lbf\n7,5,33\n", "the row has 3 cells");
}

static void a_bad_cell_is_named_with_file_line_column_and_text(void **state)
{
    (void)state;
    check_refused("# note: x\ndraw_in,force_lbf\n\n7.5,0.25\n12.5,33x\n",
                  "t.csv:5: column 'force_lbf' (2): '33x' is no number");
    check_refused("a,b\n7.5\n", "t.csv:2: column 'b' (2): the cell is empty");
    check_refused("a,b\n,7.5\n", "t.csv:2: column 'a' (1): the cell is empty");
    check_refused("a,b\n7.5,nan\n", "'nan' is no number");
    check_refused("a,b\n7.5,inf\n", "'inf' is no number");
    check_refused("a,b\n7.5,1e999\n", "'1e999' is no number");
    check_refused("a,b\n7.5,0x10\n", "'0x10' is no number");
    check_refused("a,b\n7.5,12 lbf\n", "'12 lbf' is no number");
    check_refused("a,b\n7.5,\"12\n13,14\n", "the quote is not closed");
    check_refused("a,b\n7.5,\"12\"3\n", "the quote is not closed");
    check_refused("7.5,1\n8,x\n", "t.csv:2: column 2: 'x' is no number");
    check_refused("a,b\n7.5,--OVERLOAD--0123456789012345678901234567890123456789\n",
                  "'--OVERLOAD--0123456789012345678901234567...' is no number");
}

static void bad_rows_are_counted_where_that_is_asked_for(void **state)
{
    (void)state;
    struct two two;
    check_ok(read_two(&two, "a,b\n1,x\n7.5,0.25\n2\n1,2,3\n12.5,33\n#,\n",
                      TABLE_SKIP_BAD_ROWS | TABLE_KEEP_LINES));
    assert_int_equal(two.rows.n, 2);
    assert_int_equal(two.rows.n_bad, 4);
    check_near(two.column[1].number[1], 33, 0);
    assert_int_equal(two.rows.line[0], 3);
    assert_int_equal(two.rows.line[1], 6);
    assert_non_null(strstr(two.rows.first_bad.text, "t.csv:2: column 'b' (2): 'x'"));
    close_two(&two);
}

static void bad_rows_do_not_hide_the_decimal_mark(void **state)
{
    (void)state;
    struct two two;
    check_ok(read_two(&two, "a;b\n1;OVER\n7,5;0,25\n12,5;33\n", TABLE_SKIP_BAD_ROWS));
    assert_int_equal(two.rows.n, 2);
    assert_int_equal(two.rows.n_bad, 1);
    check_near(two.column[0].number[0], 7.5, 0);
    close_two(&two);
}

static void notes_stand_before_the_header(void **state)
{
    (void)state;
    struct table *table;
    check_ok(open_text(&table, "# Axis: ATA\n#remark without colon\n\n  # url: http://x/y\n"
                               "# axis:pivot\na,b\n1,2\n"));
    assert_string_equal(table_note(table, "axis"), "pivot");
    assert_string_equal(table_note(table, "URL"), "http://x/y");
    assert_null(table_note(table, "remark without colon"));
    assert_int_equal(table_n_notes(table), 3);
    const char *key, *value;
    table_note_at(table, 0, &key, &value);
    assert_string_equal(key, "Axis");
    assert_string_equal(value, "ATA");
    table_close(table);
}

static void columns_are_found_by_name_whatever_the_case(void **state)
{
    (void)state;
    struct table *table;
    size_t column;
    check_ok(open_text(&table, "time_s,\"Say \"\"draw\"\"\",Force_LBF\n1,2,3\n"));
    assert_true(table_find(table, "force_lbf", &column));
    assert_int_equal(column, 2);
    check_ok(table_column(table, "say \"draw\"", &column, &err));
    assert_int_equal(column, 1);
    check_ok(table_column(table, "3", &column, &err));
    assert_int_equal(column, 2);
    assert_int_equal(table_column(table, "4", &column, &err), STATUS_BAD_INPUT);
    assert_int_equal(table_column(table, "0", &column, &err), STATUS_BAD_INPUT);
    assert_int_equal(table_column(table, "pull", &column, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "there are 3: time_s, Say \"draw\", Force_LBF"));
    table_close(table);
}

static void a_name_that_stands_twice_is_refused(void **state)
{
    (void)state;
    struct table *table;
    size_t column;
    check_ok(open_text(&table, "force,draw,Force\n1,2,3\n"));
    assert_int_equal(table_column(table, "force", &column, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "columns 1 and 3"));
    table_close(table);
}

static void a_first_row_of_numbers_is_no_header(void **state)
{
    (void)state;
    struct table *table;
    size_t column;
    check_ok(open_text(&table, "18;2\n24;81\n"));
    assert_false(table_has_header(table));
    assert_int_equal(table_n_columns(table), 2);
    check_ok(table_column(table, "2", &column, &err));
    assert_int_equal(column, 1);
    assert_int_equal(table_column(table, "force", &column, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "there is no header"));
    table_close(table);
    check_rows("7.5,0.25\n12.5,33\n", plain, 2);
}

static void only_wanted_columns_must_be_numbers(void **state)
{
    (void)state;
    struct two two = {.column = {{.column = 3}, {.column = 1}}};
    check_ok(open_text(&two.table, "who,force,note,draw,more\na,0.25,\"x,\"\"y\",7.5,\n"
                                   "b,33,,12.5,z\n"));
    check_ok(table_read(two.table, two.column, 2, 0, &two.rows, &err));
    for (size_t i = 0; i < 2; i++) {
        check_near(two.column[0].number[i], plain[i][0], 0);
        check_near(two.column[1].number[i], plain[i][1], 0);
    }
    close_two(&two);
}

static void text_columns_come_without_quotes_and_blanks(void **state)
{
    (void)state;
    struct two two = {.column = {{.column = 1, .kind = TABLE_TEXT}, {.column = 0}}};
    check_ok(
        open_text(&two.table, "load,direction\n1,up\n2, \"say \"\"down\"\"\" \r\n3,\n4\nx,lost\n"));
    check_ok(table_read(two.table, two.column, 2, TABLE_SKIP_BAD_ROWS, &two.rows, &err));
    assert_int_equal(two.rows.n, 4);
    assert_string_equal(two.column[0].text[0], "up");
    assert_string_equal(two.column[0].text[1], "say \"down\"");
    assert_string_equal(two.column[0].text[2], "");
    assert_string_equal(two.column[0].text[3], "");
    close_two(&two);
}

static void a_cell_may_be_empty_where_the_caller_allows_it(void **state)
{
    (void)state;
    struct two two = {.column = {{.column = 0}, {.column = 1, .may_be_empty = true}}};
    check_ok(open_text(&two.table, "a,b\n1,\n2,5\n3\n"));
    check_ok(table_read(two.table, two.column, 2, 0, &two.rows, &err));
    assert_int_equal(two.rows.n, 3);
    assert_true(isnan(two.column[1].number[0]));
    check_near(two.column[1].number[1], 5, 0);
    assert_true(isnan(two.column[1].number[2]));
    close_two(&two);
}

static void what_is_no_table_is_refused(void **state)
{
    (void)state;
    check_refused("", "holds no table");
    check_refused("# only: notes\n\n", "holds no table");
    check_refused("a,b\r1,2\r", "its lines end with CR alone");
    check_refused("\xFF\xFE"
                  "a",
                  "UTF-16");
    struct buf zip = {0};
    buf_add(&zip, "PK\3\4\0\0\0\0", 8);
    struct table *table;
    assert_int_equal(table_open_text(&table, "t.csv", &zip, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, "is not text"));
    assert_null(table);
    assert_int_equal(table_open(&table, "/no/such/file.csv", &err), STATUS_NO_INPUT);
    assert_null(table);
    assert_int_equal(table_open(&table, "/tmp", &err), STATUS_BAD_INPUT);
}

static void a_header_alone_gives_no_rows(void **state)
{
    (void)state;
    check_rows("a,b\n", NULL, 0);
    check_rows("a,b", NULL, 0);
}

static void a_table_can_be_read_twice(void **state)
{
    (void)state;
    struct two two;
    check_ok(read_two(&two, "a;b\n7,5;0,25\n", 0));
    struct table_column again = {.column = 1};
    struct table_rows rows;
    check_ok(table_read(two.table, &again, 1, 0, &rows, &err));
    check_near(again.number[0], 0.25, 0);
    table_rows_clear(&rows, &again, 1);
    close_two(&two);
}

/* Any bytes give rows or a message, and never a step outside of the text (seen under sanitizers).
 */
static void random_bytes_are_survived(void **state)
{
    (void)state;
    struct random random = random_start();
    static const char alphabet[] = "0123456789.,;\t\n\r\"#:ab -+e\xEF\xBB\xBF\0";
    for (int round = 0; round < 20000; round++) {
        struct buf text = {0};
        for (int i = random_int(&random, 0, 60); i > 0; i--)
            buf_char(&text, alphabet[random_int(&random, 0, sizeof alphabet - 2)]);
        struct two two = {.column = {{.column = 0}, {.column = 1, .kind = TABLE_TEXT}}};
        if (table_open_text(&two.table, "r", &text, &err) == STATUS_OK &&
            table_n_columns(two.table) >= 2 &&
            table_read(two.table, two.column, 2, (unsigned)random_int(&random, 0, 3), &two.rows,
                       &err) == STATUS_OK)
            for (size_t i = 0; i < two.rows.n; i++) {
                assert_true(isfinite(two.column[0].number[i]));
                assert_non_null(two.column[1].text[i]);
            }
        close_two(&two);
    }
}

/* Numbers in each notation are the doubles that strtod makes of them, to the last bit. */
static void numbers_are_the_nearest_doubles(void **state)
{
    (void)state;
    struct random random = random_start();
    static const struct {
        int decimals;
        char separator, mark;
    } notation[] = {{15, ',', '.'}, {6, ';', '.'}, {4, '\t', ','}};
    for (size_t k = 0; k < 3; k++) {
        struct buf text = {0};
        double values[500][2];
        buf_printf(&text, "a%cb\n", notation[k].separator);
        for (size_t i = 0; i < 1000; i++) {
            char cell[64];
            (void)snprintf(cell, sizeof cell, "%.*f", notation[k].decimals,
                           random_int(&random, -9999999, 9999999) / 9973.0);
            values[i / 2][i % 2] = strtod(cell, NULL);
            *strchr(cell, '.') = notation[k].mark;
            buf_printf(&text, "%s%c", cell, i % 2 == 0 ? notation[k].separator : '\n');
        }
        check_rows(buf_string(&text), (const double(*)[2])values, 500);
        buf_clear(&text);
    }
}

static void fixture_is(const char *name, size_t n, double last_draw, double last_force)
{
    struct buf path = {0};
    buf_printf(&path, "%s/fixtures/tables/%s", source_root(), name);
    struct two two = {.column = {{.column = 0}, {.column = 1}}};
    check_ok(table_open(&two.table, buf_string(&path), &err));
    check_ok(table_read(two.table, two.column, 2, 0, &two.rows, &err));
    assert_int_equal(two.rows.n, n);
    check_near(two.column[0].number[n - 1], last_draw, 0);
    check_near(two.column[1].number[n - 1], last_force, 0);
    close_two(&two);
    buf_clear(&path);
}

static void the_fixtures_are_read(void **state)
{
    (void)state;
    fixture_is("published_compound.csv", 10, 72, 60);
    fixture_is("semicolon_decimal_comma.csv", 10, 72, 60.5);
    fixture_is("bom_crlf.csv", 10, 72, 60);
    fixture_is("tabs.tsv", 10, 72, 60);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(comma_semicolon_and_tab_separate),
        cmocka_unit_test(a_name_may_hold_another_separator),
        cmocka_unit_test(what_editors_and_spreadsheets_leave_is_accepted),
        cmocka_unit_test(signs_and_exponents_are_numbers),
        cmocka_unit_test(a_decimal_comma_is_read_where_the_separator_is_none),
        cmocka_unit_test(three_decimals_are_read_where_another_cell_tells_the_mark),
        cmocka_unit_test(what_can_be_read_in_two_ways_is_refused),
        cmocka_unit_test(grouped_thousands_are_refused),
        cmocka_unit_test(a_decimal_comma_between_commas_is_refused),
        cmocka_unit_test(a_bad_cell_is_named_with_file_line_column_and_text),
        cmocka_unit_test(bad_rows_are_counted_where_that_is_asked_for),
        cmocka_unit_test(bad_rows_do_not_hide_the_decimal_mark),
        cmocka_unit_test(notes_stand_before_the_header),
        cmocka_unit_test(columns_are_found_by_name_whatever_the_case),
        cmocka_unit_test(a_name_that_stands_twice_is_refused),
        cmocka_unit_test(a_first_row_of_numbers_is_no_header),
        cmocka_unit_test(only_wanted_columns_must_be_numbers),
        cmocka_unit_test(text_columns_come_without_quotes_and_blanks),
        cmocka_unit_test(a_cell_may_be_empty_where_the_caller_allows_it),
        cmocka_unit_test(what_is_no_table_is_refused),
        cmocka_unit_test(a_header_alone_gives_no_rows),
        cmocka_unit_test(a_table_can_be_read_twice),
        cmocka_unit_test(random_bytes_are_survived),
        cmocka_unit_test(numbers_are_the_nearest_doubles),
        cmocka_unit_test(the_fixtures_are_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
