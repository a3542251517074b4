/* Figures and warnings as text, JSON and CSV. */
#include "base/number.h"
#include "base/table.h"
#include "check.h"
#include "sample.h"
#include "show/figures_csv.h"
#include "show/figures_json.h"
#include "show/figures_text.h"
#include "show/json.h"

#include <stdlib.h>
#include <string.h>

static struct err err;

static void check_holds(const struct buf *text, const char *line)
{
    if (strstr(buf_string(text), line) == NULL)
        fail_msg("\"%s\" is not in:\n%s", line, buf_string(text));
}

static json_t *read_back(const json_t *tree)
{
    struct buf text = {0};
    json_render(&text, tree);
    json_error_t error;
    json_t *read = json_loadb(text.text, text.length, JSON_REJECT_DUPLICATES, &error);
    if (read == NULL)
        fail_msg("line %d: %s\n%s", error.line, error.text, buf_string(&text));
    buf_clear(&text);
    return read;
}

static double number_at(const json_t *object, const char *figure, const char *member)
{
    const json_t *value = json_object_get(json_object_get(object, figure), member);
    return json_is_number(value) ? json_number_value(value) : NAN;
}

/* --- text ------------------------------------------------------------------------------------ */

static void text_shows_u_with_two_digits_and_the_value_to_the_same_place(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    struct buf text = {0};
    figures_text(&text, &m, UNITS_TRADE);
    check_holds(&text, "Peak draw force              60.13        0.12     lbf\n"); /* 60.126 */
    check_holds(&text, "Holding weight               15.00        0.10     lbf\n"); /* u 0.0996 */
    check_holds(&text, "Wall stiffness               90.0         1.5      lbf/in\n");
    check_holds(&text, "Fullness of the curve         0.7720      0.0010\n");
    check_holds(&text, "Steepest drop               -11.80        0.10     lbf/in\n");
    buf_clear(&text);
    sample_clear(&m);
}

static void text_in_si(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    struct buf text = {0};
    figures_text(&text, &m, UNITS_SI);
    check_holds(&text, "Peak draw force             267.45        0.55     N\n");
    check_holds(&text, "Draw length, ATA              0.75565     0.00051  m\n");
    check_holds(&text, "Stored energy               110.16        0.27     J\n");
    buf_clear(&text);
    sample_clear(&m);
}

static void what_is_not_known_is_a_dash(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    sample_absent(&m, FIGURE_WALL_ONSET);
    m.figures.f[FIGURE_LET_OFF].has_u = false;
    struct buf text = {0};
    figures_text(&text, &m, UNITS_TRADE);
    check_holds(&text, "Wall onset                    -           -        in\n");
    check_holds(&text, "Let-off (draw side)          75.0         -        %\n");
    buf_clear(&text);
    sample_clear(&m);
}

static void several_pulls_stand_beside_their_mean(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100), other = sample_measurement(100);
    struct pull pulls[2] = {m.pulls[0], other.pulls[0]};
    struct measurement both = m;
    both.pulls = pulls;
    both.n_pulls = 2;
    sample_figure(&pulls[1].figures, FIGURE_PEAK_FORCE, 60.5, 0);
    struct buf text = {0};
    figures_text(&text, &both, UNITS_TRADE);
    check_holds(&text, "mean           u     unit         pull 1      pull 2\n");
    check_holds(&text, "60.13        0.12     lbf          60.13       60.50\n");
    buf_clear(&text);
    sample_clear(&m);
    sample_clear(&other);
}

/* Every row is there, and the decimal marks of a column stand under each other. */
static void the_table_is_lined_up(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    struct buf text = {0};
    figures_text(&text, &m, UNITS_TRADE);
    const char *line = strchr(buf_string(&text), '\n') + 1;
    for (int i = 0; i < FIGURE_COUNT; i++) {
        assert_memory_equal(line, figure_info((enum figure_id)i)->label,
                            strlen(figure_info((enum figure_id)i)->label));
        assert_int_equal(line[31], '.');
        assert_int_equal(line[43], '.');
        line = strchr(line, '\n') + 1;
    }
    assert_int_equal(*line, '\0');
    buf_clear(&text);
    sample_clear(&m);
}

static void warnings_are_sentences_with_their_numbers(void **state)
{
    (void)state;
    struct buf text = {0};
    struct warning valley = {.code = WARNING_NO_VALLEY, .value_si = {unit_to_si(UNIT_LBF, 40.5)}};
    warning_text(&text, &valley, UNITS_TRADE);
    check_holds(&text, "after the peak of 40.50 lbf: holding");
    buf_clear(&text);
    warning_text(&text, &valley, UNITS_SI);
    check_holds(&text, "after the peak of 180.2 N: holding");
    buf_clear(&text);
    struct warning two = {.code = WARNING_SHORT_OF_STATED, .value_si = {0.6, 0.7}};
    warning_text(&text, &two, UNITS_SI);
    check_holds(&text, "ended at 0.6000 m, short of the stated full draw of 0.7000 m");
    buf_clear(&text);
    struct warning counted = {.code = WARNING_BAD_ROWS, .count = 17};
    warning_text(&text, &counted, UNITS_TRADE);
    check_holds(&text, "17 bad row(s)");
    buf_clear(&text);
}

/* No template keeps a brace, and no line is wider than the terminal. */
static void every_warning_can_be_said(void **state)
{
    (void)state;
    struct warnings warnings = {0};
    for (int i = 0; i < WARNING_COUNT; i++)
        warnings_add(
            &warnings,
            (struct warning){.code = (enum warning_code)i, .count = 3, .value_si = {0.5, 0.25}});
    struct buf text = {0};
    warnings_text(&text, &warnings, UNITS_TRADE);
    assert_null(strpbrk(buf_string(&text), "{}"));
    for (const char *line = text.text; *line != '\0'; line = strchr(line, '\n') + 1)
        assert_true(strcspn(line, "\n") <= 80);
    buf_clear(&text);
}

static void the_budget_names_the_largest_first(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    m.has_budget = true;
    m.budget.u_si[SOURCE_NOISE][FIGURE_PEAK_FORCE] = unit_to_si(UNIT_LBF, 0.02);
    m.budget.u_si[SOURCE_FORCE_CALIBRATION][FIGURE_PEAK_FORCE] = unit_to_si(UNIT_LBF, 0.121);
    m.budget.u_si[SOURCE_DRIFT][FIGURE_PEAK_FORCE] = unit_to_si(UNIT_LBF, 0.0005);
    struct buf text = {0};
    budget_text(&text, &m, UNITS_TRADE);
    struct buf expected = {0};
    buf_printf(&expected, "Peak draw force           %s 0.12, %s 0.020",
               source_label(SOURCE_FORCE_CALIBRATION), source_label(SOURCE_NOISE));
    check_holds(&text, buf_string(&expected));
    buf_clear(&expected);
    buf_clear(&text);
    sample_clear(&m);
}

/* --- JSON ------------------------------------------------------------------------------------ */

static void json_has_every_figure_with_its_unit(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    json_t *tree = figures_json(&m.figures, UNITS_TRADE), *read = read_back(tree);
    assert_int_equal(json_object_size(read), FIGURE_COUNT);
    check_near(number_at(read, "peak_force", "value"), 60.126, 1e-12);
    check_near(number_at(read, "peak_force", "u"), 0.123, 1e-12);
    check_near(number_at(read, "peak_force", "low"), 60.126 - 0.246, 1e-12);
    check_near(number_at(read, "peak_force", "high"), 60.126 + 0.246, 1e-12);
    static const char *const units[][2] = {
        {"peak_force", "lbf"},
        {"full_draw", "in"},
        {"stored_energy", "ft.lbf"},
        {"let_off", "%"},
        {"wall_stiffness", "lbf/in"},
        {"fullness", ""},
        {"energy_per_peak", "ft.lbf/lbf"},
    };
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        const json_t *unit = json_object_get(json_object_get(read, units[i][0]), "unit");
        assert_string_equal(json_string_value(unit), units[i][1]);
    }
    json_decref(tree);
    json_decref(read);
    sample_clear(&m);
}

static void json_in_si_holds_the_very_numbers(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    m.figures.f[FIGURE_PEAK_FORCE].value_si = 1.0 / 3.0 * 800.0;
    m.figures.f[FIGURE_FULL_DRAW].value_si = 0.1 + 0.2;
    json_t *tree = figures_json(&m.figures, UNITS_SI), *read = read_back(tree);
    check_near(number_at(read, "peak_force", "value"), 1.0 / 3.0 * 800.0, 0);
    check_near(number_at(read, "full_draw", "value"), 0.1 + 0.2, 0);
    json_decref(tree);
    json_decref(read);
    sample_clear(&m);
}

static void json_shows_what_is_not_known_as_null(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    sample_absent(&m, FIGURE_LET_OFF);
    m.figures.f[FIGURE_PLATEAU].has_u = false;
    json_t *tree = figures_json(&m.figures, UNITS_TRADE), *read = read_back(tree);
    const json_t *let_off = json_object_get(read, "let_off");
    assert_true(json_is_null(json_object_get(let_off, "value")));
    assert_true(json_is_null(json_object_get(let_off, "u")));
    assert_string_equal(json_string_value(json_object_get(let_off, "unit")), "%");
    const json_t *plateau = json_object_get(read, "plateau");
    assert_true(json_is_number(json_object_get(plateau, "value")));
    assert_true(json_is_null(json_object_get(plateau, "u")));
    assert_true(json_is_null(json_object_get(plateau, "low")));
    json_decref(tree);
    json_decref(read);
    sample_clear(&m);
}

static void json_warnings_have_code_and_text(void **state)
{
    (void)state;
    struct warnings warnings = {0};
    warnings_add(&warnings, (struct warning){.code = WARNING_NO_WALL});
    warnings_add(&warnings, (struct warning){.code = WARNING_BAD_ROWS, .count = 2});
    json_t *tree = warnings_json(&warnings, UNITS_TRADE), *read = read_back(tree);
    assert_int_equal(json_array_size(read), 2);
    const json_t *second = json_array_get(read, 1);
    assert_string_equal(json_string_value(json_object_get(second, "code")), "bad_rows");
    assert_string_equal(json_string_value(json_object_get(second, "text")),
                        "2 bad row(s) of the file were skipped.");
    json_decref(tree);
    json_decref(read);
}

static void json_numbers_are_short_and_exact(void **state)
{
    (void)state;
    json_t *tree = json_pack("[f,f,f,i]", 60.1, 1e-7, 0.1 + 0.2, 42);
    struct buf text = {0};
    json_render(&text, tree);
    assert_string_equal(buf_string(&text), "[60.1, 1e-07, 0.30000000000000004, 42]\n");
    buf_clear(&text);
    json_decref(tree);
}

static void json_text_is_always_valid(void **state)
{
    (void)state;
    json_t *tree = json_object();
    json_put(tree, "caf\xE9", json_text("\xFF\x01 \"quoted\" \n </script>"));
    json_put(tree, "none", json_text(NULL));
    json_put(tree, "nan", json_number_or_null(true, NAN));
    json_t *read = read_back(tree);
    assert_string_equal(json_string_value(json_object_get(read, "caf\xEF\xBF\xBD")),
                        "\xEF\xBF\xBD\x01 \"quoted\" \n </script>");
    assert_string_equal(json_string_value(json_object_get(read, "none")), "");
    assert_true(json_is_null(json_object_get(read, "nan")));
    json_decref(tree);
    json_decref(read);
}

/* --- CSV ------------------------------------------------------------------------------------- */

static void csv_is_a_table_that_reads_back(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    sample_absent(&m, FIGURE_WALL_ONSET);
    struct buf text = {0};
    figures_csv(&text, &m, UNITS_TRADE);
    struct table *table;
    check_ok(table_open_text(&table, "figures.csv", &text, &err));
    struct table_column columns[] = {{.column = 0, .kind = TABLE_TEXT},
                                     {.column = 1, .may_be_empty = true},
                                     {.column = 2, .kind = TABLE_TEXT},
                                     {.column = 3, .may_be_empty = true}};
    struct table_rows rows;
    check_ok(table_read(table, columns, 4, 0, &rows, &err));
    assert_int_equal(rows.n, FIGURE_COUNT);
    assert_string_equal(columns[0].text[FIGURE_PEAK_FORCE], "peak_force");
    assert_string_equal(columns[2].text[FIGURE_PEAK_FORCE], "lbf");
    check_near(columns[1].number[FIGURE_PEAK_FORCE],
               unit_from_si(UNIT_LBF, m.figures.f[FIGURE_PEAK_FORCE].value_si), 0);
    check_near(columns[3].number[FIGURE_PEAK_FORCE], 0.123, 1e-12);
    assert_true(isnan(columns[1].number[FIGURE_WALL_ONSET]));
    table_rows_clear(&rows, columns, 4);
    table_close(table);
    sample_clear(&m);
}

static void csv_has_a_column_a_pull(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    struct pull pulls[2] = {m.pulls[0], m.pulls[0]};
    struct measurement both = m;
    both.pulls = pulls;
    both.n_pulls = 2;
    struct buf text = {0};
    figures_csv(&text, &both, UNITS_TRADE);
    check_holds(&text, "figure,value,unit,u,low,high,pull_1,pull_2\n");
    check_holds(&text, "\nplateau,10,in,");
    buf_clear(&text);
    sample_clear(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_shows_u_with_two_digits_and_the_value_to_the_same_place),
        cmocka_unit_test(text_in_si),
        cmocka_unit_test(what_is_not_known_is_a_dash),
        cmocka_unit_test(several_pulls_stand_beside_their_mean),
        cmocka_unit_test(the_table_is_lined_up),
        cmocka_unit_test(warnings_are_sentences_with_their_numbers),
        cmocka_unit_test(every_warning_can_be_said),
        cmocka_unit_test(the_budget_names_the_largest_first),
        cmocka_unit_test(json_has_every_figure_with_its_unit),
        cmocka_unit_test(json_in_si_holds_the_very_numbers),
        cmocka_unit_test(json_shows_what_is_not_known_as_null),
        cmocka_unit_test(json_warnings_have_code_and_text),
        cmocka_unit_test(json_numbers_are_short_and_exact),
        cmocka_unit_test(json_text_is_always_valid),
        cmocka_unit_test(csv_is_a_table_that_reads_back),
        cmocka_unit_test(csv_has_a_column_a_pull),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
