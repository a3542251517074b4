/* `pullcurve verify` as a user runs it: a capture from the simulated bench, tables, rule files. */
#include "check.h"
#include "child.h"
#include "run.h"
#include "shop.h"

#include <glob.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define PATIENCE_S 60.0

/* --- the shop, with one bow captured on the simulated bench ---------------------------------- */

/* A pull of the target compound (peak about 55 lbf, let-off 70 %, 29 in) as capture 1. */
static void capture_a_bow(void)
{
    struct child bench;
    struct buf port = {0}, arguments = {0};
    char bow[512];
    (void)snprintf(bow, sizeof bow, "%s/fixtures/bows/target_compound.ini", source_root());
    child_start_program(&bench, (const char *const[]){"simulate", "--pty", "--bow", bow, "--seed",
                                                      "7", "--speed-up", "20", NULL});
    assert_true(child_line(&bench, PATIENCE_S, &port));
    buf_printf(&arguments, "capture --bench bench.ini --port %s --bow Longmeadow --brace 7.25",
               buf_string(&port));
    shop_check(0, buf_string(&arguments), "1 complete pull");
    child_clear(&bench);
    buf_clear(&port);
    buf_clear(&arguments);
}

/* A coarse table of a bow with valley and wall: peak 59.6 lbf, let-off 79.9 %. */
static void write_tables(void)
{
    shop_write("coarse.csv", "draw_in,force_lbf\n7,0\n9,30\n12,59\n16,59.6\n20,58\n24,40\n27,14\n"
                             "28,12\n29,45\n");
    shop_check(0, "simulate --csv --bow target_compound >smooth.csv", "");
    shop_check(0, "simulate --csv --bow target_compound --short-of 12 >half.csv", "");
}

static int open_shop(void **state)
{
    char data[512];
    (void)snprintf(data, sizeof data, "%s/fixtures", source_root());
    if (shop_open(state) != 0 || setenv("PULLCURVE_DATA", data, 1) != 0)
        return -1;
    shop_write("bench.ini", "[bench]\nname = bench 1\n");
    shop_check(0, "simulate --known-loads >loads.csv", "");
    shop_check(0, "simulate --known-lengths >lengths.csv", "");
    shop_check(0, "calibrate force --bench bench.ini --table loads.csv --u-reference '0.05 lbf'",
               "");
    shop_check(0, "calibrate travel --bench bench.ini --table lengths.csv --u-reference '0.005 in'",
               "");
    shop_check(0,
               "bow add 'Longmeadow 38' --brace 7.25 --peak 50:60 --draw-length 27.5:30 "
               "--let-off 65:80",
               "Longmeadow 38");
    capture_a_bow();
    write_tables();
    return 0;
}

/* The limit of this number in the JSON. */
static const json_t *limit_at(const json_t *root, size_t i)
{
    const json_t *limit = json_array_get(json_object_get(root, "limits"), i);
    if (limit == NULL)
        fail_msg("there is no limit %zu", i);
    return limit;
}

static double number_at(const json_t *object, const char *name)
{
    const json_t *value = json_object_get(object, name);
    return json_is_number(value) ? json_number_value(value) : (double)NAN;
}

/* The only limit's verdict and the code of its reason ("" for none). */
static void check_only(int code, const char *arguments, const char *verdict, const char *reason)
{
    json_t *root = shop_json(code, arguments);
    const json_t *limit = limit_at(root, 0), *why = json_object_get(limit, "reason");
    assert_int_equal(json_array_size(json_object_get(root, "limits")), 1);
    assert_string_equal(shop_text_at(limit, "verdict"), verdict);
    assert_string_equal(shop_text_at(root, "verdict"), verdict);
    if (reason[0] == '\0')
        assert_true(json_is_null(why));
    else
        assert_string_equal(shop_text_at(why, "code"), reason);
    json_decref(root);
}

/* --- verdicts and exit codes ------------------------------------------------------------------ */

static void a_bow_within_its_makers_limits_ends_with_0(void **state)
{
    (void)state;
    json_t *root = shop_json(0, "verify --json");
    assert_int_equal(shop_int_at(root, "schema"), 1);
    assert_string_equal(shop_text_at(root, "verdict"), "meets");
    assert_string_equal(shop_text_at(json_object_get(root, "source"), "kind"), "capture");
    assert_string_equal(shop_text_at(json_object_get(root, "settings"), "decision"), "guarded");
    assert_string_equal(shop_text_at(json_object_get(root, "bow"), "name"), "Longmeadow 38");
    static const char *const figures[] = {"peak_force", "let_off", "draw_length_ata"};
    for (size_t i = 0; i < 3; i++) {
        const json_t *limit = limit_at(root, i);
        assert_string_equal(shop_text_at(limit, "figure"), figures[i]);
        assert_string_equal(shop_text_at(limit, "origin"), "maker");
        assert_string_equal(shop_text_at(limit, "verdict"), "meets");
        assert_true(number_at(limit, "probability") > 0.999);
    }
    /* brace height is one number: shown, not judged */
    const json_t *brace = json_array_get(json_object_get(root, "not_judged"), 0);
    assert_string_equal(shop_text_at(brace, "figure"), "brace_height");
    json_decref(root);
    shop_check(0, "verify 1", "MEETS its spec: 3 limits of 3 met.");
}

static void a_bow_outside_of_its_limits_ends_with_1(void **state)
{
    (void)state;
    check_only(1, "verify --no-bow --limit peak_force=:50 --json", "fails", "");
    shop_check(1, "verify --limit peak_force=:50", "DOES NOT MEET its spec: 1 limit of 4 broken.");
}

static void what_is_not_proven_ends_with_2(void **state)
{
    (void)state;
    check_only(2, "verify --no-bow --limit stop_stagger=:1 --json", "not_proven", "no_value");
    shop_check(2, "verify --limit stop_stagger=:1", "NOT PROVEN: no limit is broken for certain");
}

static void one_broken_limit_outweighs_what_is_not_proven(void **state)
{
    (void)state;
    shop_check(1, "verify --limit stop_stagger=:1 --limit peak_force=:50",
               "1 limit of 5 broken, 1 not proven either way.");
}

static void a_verdict_of_no_is_a_result_and_no_fault(void **state)
{
    (void)state;
    static const char *const limits[] = {"peak_force=:50", "stop_stagger=:1"};
    for (size_t i = 0; i < 2; i++) {
        struct child child;
        child_start_program(&child, (const char *const[]){"verify", "--limit", limits[i], NULL});
        assert_int_equal(child_wait(&child, PATIENCE_S), (int)i + 1);
        assert_int_equal(child.err.length, 0);
        assert_non_null(strstr(buf_string(&child.out), "its maker or a qualified technician"));
        child_clear(&child);
    }
}

static void the_probability_is_that_of_figure_and_uncertainty(void **state)
{
    (void)state;
    json_t *measured = shop_json(0, "measure 1 --json");
    const json_t *figures = json_object_get(measured, "figures");
    double value = shop_number_at(figures, "stored_energy", "value");
    double u = shop_number_at(figures, "stored_energy", "u");
    char arguments[160];
    (void)snprintf(arguments, sizeof arguments,
                   "verify --no-bow --limit stored_energy=:%.17g --json", value + u);
    json_t *root = shop_json(2, arguments);
    const json_t *limit = limit_at(root, 0);
    check_near(number_at(limit, "value"), value, 0);
    check_near(number_at(limit, "u"), u, 0);
    assert_true(json_is_null(json_object_get(limit, "dof")));
    /* Phi(1), from tables of the normal distribution */
    check_near(number_at(limit, "probability"), 0.841345, 1e-5);
    check_near(number_at(json_object_get(limit, "acceptance"), "high"), value + u - 1.644854 * u,
               1e-5 * u);
    json_decref(root);
    (void)snprintf(arguments, sizeof arguments,
                   "verify --no-bow --limit stored_energy=:%.17g --probability 0.8 --json",
                   value + u);
    check_only(0, arguments, "meets", "");
    (void)snprintf(arguments, sizeof arguments,
                   "verify --no-bow --limit stored_energy=:%.17g --decision simple --json",
                   value + u);
    check_only(0, arguments, "meets", "");
    json_decref(measured);
}

static void units_of_limits_and_of_output_do_not_change_a_verdict(void **state)
{
    (void)state;
    json_t *root = shop_json(0, "verify --no-bow --limit peak_force=200:260N --units si --json");
    const json_t *limit = limit_at(root, 0);
    assert_string_equal(shop_text_at(limit, "unit"), "N");
    check_near(number_at(limit, "low"), 200, 1e-9);
    check_near(number_at(limit, "high"), 260, 1e-9);
    json_decref(root);
    /* 260 N / 4.448222 N (NIST SP 811 B.8) = 58.45 lbf */
    shop_check(0, "verify --no-bow --limit peak_force=200:260N", "to 58.45 lbf");
}

/* --- what proves nothing ---------------------------------------------------------------------- */

static void a_coarse_table_proves_nothing_until_its_uncertainty_is_stated(void **state)
{
    (void)state;
    check_only(2, "verify coarse.csv --limit peak_force=:65 --json", "not_proven",
               "no_uncertainty");
    check_only(0, "verify coarse.csv --limit peak_force=:65 --decision simple --json", "meets",
               "no_uncertainty");
    check_only(1, "verify coarse.csv --limit peak_force=:59 --decision simple --json", "fails",
               "no_uncertainty");
    json_t *root =
        shop_json(2, "verify coarse.csv --limit peak_force=:60 --add-u peak_force=0.3 --json");
    /* Phi((60 - 59.6)/0.3) = 0.908789, from tables of the normal distribution */
    check_near(number_at(limit_at(root, 0), "probability"), 0.908789, 1e-6);
    json_decref(root);
    check_only(0, "verify coarse.csv --limit peak_force=:60 --add-u peak_force=0.1lbf --json",
               "meets", "");
}

static void half_a_pull_never_proves_that_a_peak_is_low_enough(void **state)
{
    (void)state;
    check_only(2, "verify half.csv --limit peak_force=:90 --json", "not_proven", "pull_ended");
    check_only(1, "verify half.csv --limit peak_force=:5 --json", "fails", "");
    check_only(2, "verify half.csv --limit draw_length_ata=10:40 --json", "not_proven",
               "pull_ended");
    check_only(0, "verify half.csv --full-draw largest --limit peak_force=:90 --json", "meets", "");
    shop_check(2, "verify half.csv --rules target_compound_peak", "Draw to the wall, or say");
}

static void a_stated_draw_length_is_not_a_measured_one(void **state)
{
    (void)state;
    check_only(2, "verify --no-bow --full-draw 28 --limit draw_length_ata=27:30 --json",
               "not_proven", "entered");
}

static void a_brace_height_that_was_entered_is_not_a_measured_one(void **state)
{
    (void)state;
    check_only(2, "verify --no-bow --limit brace_height=7:7.5 --u-brace 0 --json", "not_proven",
               "entered");
    check_only(0, "verify --no-bow --limit brace_height=7:7.5 --u-brace 0.03 --json", "meets", "");
    /* the maker's own number, as a capture takes it where it is told no other */
    json_t *root = shop_json(2, "verify --limit brace_height=7:7.5 --u-brace 0.03 --json");
    assert_string_equal(shop_text_at(json_object_get(limit_at(root, 0), "reason"), "code"),
                        "entered");
    json_decref(root);
    /* a table counts from where its force begins */
    check_only(0, "verify smooth.csv --limit brace_height=7:7.5 --json", "meets", "");
}

/* --- the bow's entry ---------------------------------------------------------------------------
 */

static void single_numbers_of_the_maker_need_a_tolerance(void **state)
{
    (void)state;
    shop_check(0, "bow add Single --peak 55.3 --brace 7.3", "Single");
    shop_check(64, "verify --bow Single", "--tolerance peak_force=AMOUNT");
    json_t *root = shop_json(0, "verify --bow Single --tolerance peak_force=0.5 --json");
    const json_t *limit = limit_at(root, 0);
    check_near(number_at(limit, "low"), 54.8, 1e-9);
    check_near(number_at(limit, "high"), 55.8, 1e-9);
    assert_string_equal(shop_text_at(limit, "origin"), "maker");
    json_decref(root);
    shop_check(1, "verify --bow Single --tolerance peak_force=0.1N --limit peak_force=:50", "");
    shop_check(64, "verify --bow Single --tolerance let_off=1", "no bow's entry has a single");
    shop_check(64, "verify smooth.csv --limit peak_force=1: --tolerance peak_force=1",
               "no bow's entry");
}

static void the_newest_statement_about_a_bow_counts(void **state)
{
    (void)state;
    shop_check(0, "bow add Changing --peak 40:50", "statement 1");
    shop_check(1, "verify --bow Changing", "40 to 50 lbf");
    shop_check(0, "bow add Changing --peak 50:", "statement 2");
    shop_check(0, "verify --bow Changing", "Maker's limits of Changing (statement 2");
    shop_check(0, "verify smooth.csv --bow Changing", "at least 50 lbf");
}

static void a_bow_of_which_nothing_is_known_gives_no_limits(void **state)
{
    (void)state;
    shop_check(0, "bow add Unknown", "Unknown");
    shop_check(64, "verify --bow Unknown", "the entry of 'Unknown' says nothing of peak");
    shop_check(0, "verify --bow Unknown --limit peak_force=:60", "MEETS");
}

static void hostile_names_of_bows_do_not_act(void **state)
{
    (void)state;
    struct buf out = {0};
    shop_check(0, "bow add \"$(printf '\\033[31mRed\\n')\" --peak 50:60", "");
    assert_int_equal(shop_run(&out, "verify --bow Red"), 0);
    assert_null(strchr(buf_string(&out), '\033'));
    json_t *root = shop_json(0, "verify --bow Red --json");
    assert_string_equal(shop_text_at(json_object_get(root, "bow"), "name"), "\033[31mRed");
    json_decref(root);
    buf_clear(&out);
}

/* --- rule files ---------------------------------------------------------------------------------
 */

static void every_rule_file_of_ours_is_read_and_sends_to_the_rule_book(void **state)
{
    (void)state;
    char pattern[512];
    glob_t found;
    (void)snprintf(pattern, sizeof pattern, "%s/fixtures/rules/*.ini", source_root());
    assert_int_equal(glob(pattern, 0, NULL, &found), 0);
    assert_true(found.gl_pathc >= 8);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        struct buf out = {0}, arguments = {0};
        buf_printf(&arguments, "verify smooth.csv --rules '%s'", found.gl_pathv[i]);
        int code = shop_run(&out, buf_string(&arguments));
        if (code > 2 || strstr(buf_string(&out), "Rules change: check") == NULL)
            fail_msg("%s: exit %d: %s", found.gl_pathv[i], code, buf_string(&out));
        buf_clear(&out);
        buf_clear(&arguments);
    }
    globfree(&found);
}

static void a_rule_of_ours_is_found_by_its_name(void **state)
{
    (void)state;
    json_t *root = shop_json(
        1, "verify --no-bow --rules target_compound_peak --rules youth_compound_peak --json");
    assert_string_equal(shop_text_at(limit_at(root, 0), "verdict"), "meets");
    assert_string_equal(shop_text_at(limit_at(root, 1), "verdict"), "fails");
    assert_int_equal(shop_int_at(limit_at(root, 1), "rule"), 1);
    check_near(number_at(limit_at(root, 0), "high"), 60, 1e-9);
    const json_t *rule = json_array_get(json_object_get(root, "rules"), 0);
    assert_string_equal(shop_text_at(rule, "file"), "target_compound_peak");
    assert_non_null(strstr(shop_text_at(rule, "note"), "check the current rule book"));
    json_decref(root);
}

#define HEAD "[rule]\nname = N\nsource = S\ndate = 2026-11-25\n"

static void a_faulty_rule_file_is_told_with_its_line(void **state)
{
    (void)state;
    static const struct {
        const char *text, *part;
    } row[] = {
        {"[rule]\nname = N\nsource = S\n[limits]\npeak_force = :60\n", "[rule] date: is missing"},
        {"[rule]\nname = N\nsource =\ndate = 2026-11-25\n[limits]\npeak_force = :60\n",
         "bad.ini:3: [rule] source: is missing"},
        {"[rule]\nname = N\nsource = S\ndate = 2026-02-30\n[limits]\npeak_force = :60\n",
         "bad.ini:4: [rule] date: '2026-02-30' is not a date"},
        {"[rule]\nname = N\nsource = S\ndate = next year\n[limits]\npeak_force = :60\n",
         "is not a date"},
        {HEAD, "no limit is here"},
        {HEAD "[limits]\npeak_force = 60\n", "bad.ini:6: [limits] peak_force: '60' is no range"},
        {HEAD "[limits]\npeak_force = 70:60\n", "the low end is above the high end"},
        {HEAD "[limits]\npeak_force = :60 in\n", "not a unit that fits"},
        {HEAD "[limits]\npeak_force = :60\npeak_farce = :60\n",
         "bad.ini:7: [limits] peak_farce: is not a setting known here"},
        {HEAD "colour = red\n[limits]\npeak_force = :60\n", "colour: is not a setting known"},
        {"\xFF\xFE\x01", "is not UTF-8 text"},
        {"", "is missing and needed"},
        {"peak_force = :60\n", "before the first [section]"},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        shop_write("bad.ini", row[i].text);
        shop_check(65, "verify --rules bad.ini", row[i].part);
    }
    shop_check(65, "verify --rules ./", "");
}

static void hostile_texts_of_rules_do_not_act(void **state)
{
    (void)state;
    struct buf out = {0};
    shop_write("evil.ini", "[rule]\nname = \033[2J\007N\nsource = $(touch gone) `touch gone` %s%n\n"
                           "status = \033]0;title\007\ndate = 2026-11-25\n[limits]\n"
                           "peak_force = :60\n");
    assert_int_equal(shop_run(&out, "verify --rules evil.ini"), 0);
    assert_null(strchr(buf_string(&out), '\033'));
    assert_null(strchr(buf_string(&out), '\007'));
    assert_non_null(strstr(buf_string(&out), "$(touch gone) `touch gone` %s%n"));
    shop_check(66, "verify gone.csv", "gone.csv");
    json_t *root = shop_json(0, "verify --rules evil.ini --json");
    const json_t *rule = json_array_get(json_object_get(root, "rules"), 0);
    assert_string_equal(shop_text_at(rule, "name"), "\033[2J\007N");
    json_decref(root);
    buf_clear(&out);
}

/* --- wrong usage and what is not there ----------------------------------------------------------
 */

static void without_limits_it_says_how_to_give_them(void **state)
{
    (void)state;
    shop_check(64, "verify smooth.csv", "give them with --limit peak_force=58:62");
    shop_check(64, "verify --no-bow", "no limits are known");
}

static void wrong_usage_ends_with_64_and_says_what_is_wrong(void **state)
{
    (void)state;
    static const struct {
        const char *arguments, *part;
    } row[] = {
        {"--limit peak=:60", "there is no figure 'peak'"},
        {"--limit peak_farce=:60", "is 'peak_force' meant?"},
        {"--limit peak_force", "has no '='"},
        {"--limit peak_force=60", "is no range"},
        {"--limit peak_force=:", "neither end"},
        {"--limit peak_force=60:50", "the low end is above"},
        {"--limit peak_force=:60J", "not a unit that fits"},
        {"--limit peak_force=:1e308", "larger than anything"},
        {"--limit peak_force=:60 --probability 0.5", "is no number between 0.5 and 1"},
        {"--limit peak_force=:60 --probability 1", "is no number between 0.5 and 1"},
        {"--limit peak_force=:60 --probability nan", "is no number between 0.5 and 1"},
        {"--limit peak_force=:60 --decision coin", "is neither simple nor guarded"},
        {"--limit peak_force=:60 --decision simple --probability 0.9", "guarded decision only"},
        {"--limit peak_force=:60 --add-u peak_force=0", "is not above 0"},
        {"--limit peak_force=:60 --add-u peak_force=1e300", "larger than anything"},
        {"--limit peak_force=:60 --add-u nothing=1", "there is no figure 'nothing'"},
        {"--limit peak_force=:60 --tolerance peak_force=-1", "is not above 0"},
        {"--limit peak_force=:60 --units stone", "is neither trade nor si"},
        {"--limit peak_force=:60 --full-draw there", "is neither valley"},
        {"--limit peak_force=:60 --no-bow --bow Longmeadow", "contradict each other"},
        {"--limit peak_force=:60 --elephant", "there is no option"},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        char arguments[160];
        (void)snprintf(arguments, sizeof arguments, "verify %s", row[i].arguments);
        shop_check(64, arguments, row[i].part);
    }
}

static void hostile_figure_names_do_not_act(void **state)
{
    (void)state;
    struct buf out = {0};
    assert_int_equal(shop_run(&out, "verify --limit \"$(printf '\\033[2J%%s%%n=:60')\""), 64);
    assert_null(strchr(buf_string(&out), '\033'));
    assert_non_null(strstr(buf_string(&out), "[2J%s%n"));
    buf_clear(&out);
}

static void what_is_not_there_ends_with_66(void **state)
{
    (void)state;
    shop_check(66, "verify nothing.csv --limit peak_force=:60", "nothing.csv");
    shop_check(66, "verify 99 --limit peak_force=:60", "99");
    shop_check(66, "verify --bow Nobody", "Nobody");
    shop_check(66, "verify --rules nowhere", "no rules 'nowhere'");
    shop_check(66, "verify --rules ./nowhere.ini", "nowhere.ini");
    shop_check(66, "verify --record none.db --limit peak_force=:60", "none.db");
    shop_check(66, "verify smooth.csv --bow Longmeadow --record none.db", "none.db");
}

static void readings_that_are_no_pull_end_with_65(void **state)
{
    (void)state;
    shop_write("two.csv", "draw_in,force_lbf\n7,0\n9,30\n");
    shop_check(65, "verify two.csv --limit peak_force=:60", "two.csv");
}

static void a_verdict_that_cannot_be_written_ends_with_73(void **state)
{
    (void)state;
    struct buf out = {0};
    assert_int_equal(run_command(&out, "\"$PULLCURVE\" verify 2>&1 >/dev/full"), 73);
    assert_int_equal(
        run_command(&out, "\"$PULLCURVE\" verify --limit peak_force=:50 --json 2>&1 >/dev/full"),
        73);
    buf_clear(&out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_bow_within_its_makers_limits_ends_with_0),
        cmocka_unit_test(a_bow_outside_of_its_limits_ends_with_1),
        cmocka_unit_test(what_is_not_proven_ends_with_2),
        cmocka_unit_test(one_broken_limit_outweighs_what_is_not_proven),
        cmocka_unit_test(a_verdict_of_no_is_a_result_and_no_fault),
        cmocka_unit_test(the_probability_is_that_of_figure_and_uncertainty),
        cmocka_unit_test(units_of_limits_and_of_output_do_not_change_a_verdict),
        cmocka_unit_test(a_coarse_table_proves_nothing_until_its_uncertainty_is_stated),
        cmocka_unit_test(half_a_pull_never_proves_that_a_peak_is_low_enough),
        cmocka_unit_test(a_stated_draw_length_is_not_a_measured_one),
        cmocka_unit_test(a_brace_height_that_was_entered_is_not_a_measured_one),
        cmocka_unit_test(single_numbers_of_the_maker_need_a_tolerance),
        cmocka_unit_test(the_newest_statement_about_a_bow_counts),
        cmocka_unit_test(a_bow_of_which_nothing_is_known_gives_no_limits),
        cmocka_unit_test(hostile_names_of_bows_do_not_act),
        cmocka_unit_test(every_rule_file_of_ours_is_read_and_sends_to_the_rule_book),
        cmocka_unit_test(a_rule_of_ours_is_found_by_its_name),
        cmocka_unit_test(a_faulty_rule_file_is_told_with_its_line),
        cmocka_unit_test(hostile_texts_of_rules_do_not_act),
        cmocka_unit_test(without_limits_it_says_how_to_give_them),
        cmocka_unit_test(wrong_usage_ends_with_64_and_says_what_is_wrong),
        cmocka_unit_test(hostile_figure_names_do_not_act),
        cmocka_unit_test(what_is_not_there_ends_with_66),
        cmocka_unit_test(readings_that_are_no_pull_end_with_65),
        cmocka_unit_test(a_verdict_that_cannot_be_written_ends_with_73),
    };
    return cmocka_run_group_tests(tests, open_shop, shop_close);
}
