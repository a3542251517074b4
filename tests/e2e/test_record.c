/* What the shop knows of its bows and captures, through the verbs bow and history. */
#include "check.h"
#include "shop.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* --- bows --------------------------------------------------------------------------------- */

static void a_bow_is_registered_in_trade_units_and_shown_in_both(void **state)
{
    (void)state;
    shop_check(0,
               "bow add 'Ridge 34' --owner 'A. Field' --serial HO-0117 --brace 6.75 --peak 60:70 "
               "--draw-length 26:30 --let-off 80:85 --axle-to-axle 34 --rated-speed 332 "
               "--note 'new string'",
               "Peak draw force   60 to 70 lbf");
    shop_check(0, "bow show ridge", "Draw length       26 to 30 in (ATA)");
    /* NIST SP 811 B.8: 1 lbf = 4.448222 N; 1 in = 25.4 mm and 1 ft = 0.3048 m exactly */
    json_t *root = shop_json(0, "bow show 'Ridge 34' --units si --json");
    const json_t *bow = json_object_get(root, "bow");
    assert_string_equal(shop_text_at(bow, "kind"), "compound");
    check_near(shop_number_at(bow, "brace_height", "value"), 6.75 * 0.0254, 1e-12);
    check_near(shop_number_at(bow, "peak_force", "low"), 60 * 4.448222, 1e-4);
    check_near(shop_number_at(bow, "peak_force", "high"), 70 * 4.448222, 1e-4);
    check_near(shop_number_at(bow, "draw_length_ata", "high"), 30 * 0.0254, 1e-12);
    check_near(shop_number_at(bow, "let_off", "low"), 80, 0);
    check_near(shop_number_at(bow, "axle_to_axle", "value"), 34 * 0.0254, 1e-12);
    check_near(shop_number_at(bow, "rated_speed", "value"), 332 * 0.3048, 1e-9);
    json_decref(root);
}

static void what_is_not_said_again_stays_and_what_was_said_is_kept(void **state)
{
    (void)state;
    shop_check(0, "bow add 'Ridge 34' --brace 6.75 --peak 60:70 --owner 'A. Field'", "statement 1");
    shop_check(0, "bow add 'Ridge 34' --peak '267:311 N' --owner ''", "statement 2");
    json_t *root = shop_json(0, "bow show Ridge --all --units si --json");
    const json_t *statements = json_object_get(root, "statements");
    assert_int_equal(json_array_size(statements), 2);
    const json_t *now = json_array_get(statements, 0), *before = json_array_get(statements, 1);
    check_near(shop_number_at(now, "brace_height", "value"), 6.75 * 0.0254, 1e-12);
    check_near(shop_number_at(now, "peak_force", "low"), 267, 1e-9);
    assert_string_equal(shop_text_at(now, "owner"), "");
    assert_string_equal(shop_text_at(before, "owner"), "A. Field");
    check_near(shop_number_at(before, "peak_force", "high"), 70 * 4.448222, 1e-4);
    json_decref(root);
}

static void ranges_may_be_open_single_or_taken_back(void **state)
{
    (void)state;
    shop_check(0, "bow add A --peak 60:", "Peak draw force   at least 60 lbf");
    shop_check(0, "bow add A --peak :70", "Peak draw force   at most 70 lbf");
    shop_check(0, "bow add A --peak 65", "Peak draw force   65 lbf");
    shop_check(0, "bow add A --peak ''", "statement 4");
    json_t *root = shop_json(0, "bow show A --json");
    assert_true(json_is_null(json_object_get(json_object_get(root, "bow"), "peak_force")));
    json_decref(root);
}

static void bows_are_listed_renamed_and_retired(void **state)
{
    (void)state;
    shop_check(0, "bow add 'Ridge 34'", "Ridge 34");
    shop_check(0, "bow add Herno --owner 'M. Vale'", "Herno");
    shop_check(0, "bow add Herno --rename Heron", "Heron\n");
    shop_check(0, "bow list vale", "Heron");
    shop_check(0, "bow list nothing", "No bow fits");
    shop_check(0, "bow retire Heron", "Heron (retired)");
    shop_check(64, "bow retire Heron", "retired already");
    json_t *root = shop_json(0, "bow list --json");
    assert_int_equal(json_array_size(json_object_get(root, "bows")), 1);
    json_decref(root);
    root = shop_json(0, "bow list --all --json");
    assert_int_equal(json_array_size(json_object_get(root, "bows")), 2);
    json_decref(root);
}

static void wrong_use_of_bow_is_told(void **state)
{
    (void)state;
    shop_check(66, "bow list", "shop.db");
    shop_check(64, "bow", "bow");
    shop_check(64, "bow find x", "add, show, list and retire");
    shop_check(64, "bow add", "which bow");
    shop_check(64, "bow add ''", "needs a name");
    shop_check(64, "bow add A --kind crossbow", "crossbow");
    shop_check(64, "bow add A --peak 70:60", "low end is above");
    shop_check(64, "bow add A --peak :", "neither end");
    shop_check(64, "bow add A --peak 60in:70", "60in");
    shop_check(64, "bow add A --brace 29", "2 to 20 in");
    shop_check(64, "bow add A --let-off -5", "--let-off");
    shop_check(64, "bow add A --rename B", "no bow is called 'A'");
    shop_check(64, "bow show A --units feet", "neither trade nor si");
    shop_check(0, "bow add A", "A");
    shop_check(66, "bow show B", "no bow 'B'");
}

/* What a name holds is shown, never acted on: not by SQL, not by the terminal. */
static void hostile_names_are_only_names(void **state)
{
    (void)state;
    static const char *const names[] = {
        "O'Brien\"; DROP TABLE bow_statement; --",
        "\x1B[31mred\x1B]0;title\x07",
        "\xE2\x80\xAEtxet",
        "bad \xFF\xFE utf-8",
        "two\nlines\r",
        "\xF0\x9F\x8F\xB9",
    };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        assert_int_equal(setenv("NAME", names[i], 1), 0);
        shop_check(0, "bow add \"$NAME\" --note \"$NAME\"", "statement 1");
        shop_check(0, "bow show \"$NAME\"", "statement 1");
        shop_write("t.csv", "draw_in,force_lbf\n7,0\n8,10\n");
        shop_check(0, "import t.csv --bow \"$NAME\" --note \"$NAME\"", "2 readings");
    }
    static const char *const outputs[] = {"bow list", "history", "export last", "history --csv",
                                          "history --json"};
    for (size_t i = 0; i < sizeof outputs / sizeof outputs[0]; i++) {
        struct buf out = {0};
        assert_int_equal(shop_run(&out, outputs[i]), 0);
        assert_null(strchr(buf_string(&out), '\x1B'));
        assert_null(strchr(buf_string(&out), '\x07'));
        if (i < 3)
            assert_null(strstr(buf_string(&out), "\xE2\x80\xAE"));
        buf_clear(&out);
    }
    json_t *root = shop_json(0, "bow list --json");
    assert_int_equal(json_array_size(json_object_get(root, "bows")), 6);
    json_decref(root);
}

/* --- history ------------------------------------------------------------------------------ */

static void history_lists_what_was_captured(void **state)
{
    (void)state;
    shop_capture(400, CAPTURE_COMPLETE);
    shop_capture(100, CAPTURE_INCOMPLETE);
    shop_capture(50, CAPTURE_OPEN);
    shop_check(0, "bow add Heron", "Heron");
    shop_check(0, "history", "No.  Date");
    shop_check(0, "history --most 2", "These are the newest 2; --most N shows more.");
    shop_check(0, "history --bow heron", "No capture.");
    shop_check(66, "history --bow x", "no bow 'x'");
    shop_check(64, "history --most 0", "--most");
    shop_check(64, "history --csv --json", "not both");
    json_t *root = shop_json(0, "history --json");
    const json_t *captures = json_object_get(root, "captures");
    assert_int_equal(json_array_size(captures), 3);
    static const struct {
        int number, n_readings, n_losses;
        const char *state;
    } rows[] = {{3, 50, 0, "open"}, {2, 100, 3, "incomplete"}, {1, 400, 3, "complete"}};
    for (size_t i = 0; i < 3; i++) {
        const json_t *capture = json_array_get(captures, i);
        assert_int_equal(shop_int_at(capture, "number"), rows[i].number);
        assert_int_equal(shop_int_at(capture, "n_readings"), rows[i].n_readings);
        assert_int_equal(shop_int_at(capture, "n_losses"), rows[i].n_losses);
        assert_string_equal(shop_text_at(capture, "state"), rows[i].state);
        assert_string_equal(shop_text_at(capture, "bow"), "Ridge 34");
    }
    json_decref(root);
    shop_check(0, "history --csv --bow ridge --most 1",
               ",Ridge 34,bench 1,raw,open,50,0,0,0,0,0,0,as it came\n");
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, shop_open, shop_close)
    const struct CMUnitTest tests[] = {
        TEST(a_bow_is_registered_in_trade_units_and_shown_in_both),
        TEST(what_is_not_said_again_stays_and_what_was_said_is_kept),
        TEST(ranges_may_be_open_single_or_taken_back),
        TEST(bows_are_listed_renamed_and_retired),
        TEST(wrong_use_of_bow_is_told),
        TEST(hostile_names_are_only_names),
        TEST(history_lists_what_was_captured),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
