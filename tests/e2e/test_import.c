/* Captures and whole records out of the record and in again, through the verbs export and import.
 */
#include "check.h"
#include "run.h"
#include "shop.h"

#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>

static struct err err;

static void counts_are_exported_as_they_came(void **state)
{
    (void)state;
    shop_capture(400, CAPTURE_COMPLETE);
    shop_check(0, "export 1 --raw", "# bow: Ridge 34\n# bench: bench 1\n# note: as it came\n");
    shop_check(0, "export last --raw",
               "\narrival_us,device_us,sequence,force_count,travel_count,flags\n"
               "0,3000000000,0,1000,0,15\n12500,3000012500,1,1000,0,15\n");
}

static void counts_are_exported_as_force_and_draw(void **state)
{
    (void)state;
    shop_capture(400, CAPTURE_COMPLETE);
    struct buf out = {0};
    assert_int_equal(shop_run(&out, "export 1 --csv"), 0);
    const char *rows = strstr(buf_string(&out), "\ntime_s,draw_in,force_lbf\n");
    assert_non_null(rows);
    /* reading 120 by hand: half of 12 in above the brace height of 7 in, half of 60 lbf */
    for (int i = 0; i < 121; i++)
        rows = strchr(rows + 1, '\n');
    double draw_in = strtod(strchr(rows, ',') + 1, NULL);
    double force_lbf = strtod(strchr(strchr(rows, ',') + 1, ',') + 1, NULL);
    check_near(draw_in, 7 + 6, 0.02);
    check_near(force_lbf, 30, 0.01);
    buf_clear(&out);
    shop_check(0, "export 1 --units si", "\ntime_s,draw_m,force_n\n");
    shop_check(0, "export 1 --brace 8", "# brace_m: 0.2032\n");
}

static void exported_counts_become_the_same_capture_elsewhere(void **state)
{
    (void)state;
    shop_capture(400, CAPTURE_INCOMPLETE);
    shop_check(0, "export 1 --raw --output one.csv", "");
    shop_check(0, "import one.csv", "holds all 400 readings");
    shop_check(0, "import one.csv --record other.db", "is not in this record");
    shop_check(0, "import one.csv --record other.db", "nothing was added");
    /* with bow and calibrations there too, all of it comes back */
    shop_check(0, "export 1 --json --output one.json", "");
    shop_check(0, "import one.json --record third.db", "captures          1");
    shop_check(0, "export 1 --raw --record third.db --output back.csv", "");
    shop_check_same("one.csv", "back.csv");
    shop_check(0, "export 1 --units si --output a.csv", "");
    shop_check(0, "export 1 --units si --record third.db --output b.csv", "");
    shop_check_same("a.csv", "b.csv");
}

static void the_whole_record_goes_through_json_and_comes_back(void **state)
{
    (void)state;
    shop_capture(400, CAPTURE_COMPLETE);
    shop_capture(70, CAPTURE_OPEN);
    shop_check(0, "bow add \"$(printf 'bad \\377 utf-8')\"", "");
    shop_write("t.csv", "time_s,draw_mm,force_kgf\n0,177.8,0\n0.1,180,1.25\n0.2,190,1e-3\n");
    shop_check(0, "import t.csv", "3 readings");
    shop_check(0, "export --all --json all.json", "");
    shop_check(0, "import all.json --record copy.db", "Added");
    shop_check(0, "export --all --record copy.db --output copy.json", "");
    shop_check_same("all.json", "copy.json");
    shop_check(0, "import all.json", "Added"); /* into itself: no doubles */
    shop_check(0, "export --all --json again.json", "");
    shop_check_same("all.json", "again.json");
    struct buf out = {0};
    assert_int_equal(shop_run(&out, "export --all > stdout.json"), 0);
    shop_check_same("all.json", "stdout.json");
    buf_clear(&out);
}

static void a_conflict_is_told_and_the_rest_is_merged(void **state)
{
    (void)state;
    shop_capture(400, CAPTURE_COMPLETE);
    shop_check(0, "export --all theirs.json", "");
    struct buf text = {0};
    check_ok(buf_read_file(&text, "theirs.json", &err));
    char *note = strstr(buf_string(&text), "as it came");
    assert_non_null(note);
    memcpy(note, "changed it", 10);
    check_ok(buf_write_file(&text, "theirs.json", &err));
    buf_clear(&text);
    shop_check(1, "import theirs.json", "differs in note");
    shop_check(1, "import theirs.json", "1 entry is in conflict");
    shop_check(0, "history", "as it came");
    json_t *root = shop_json(1, "import theirs.json --json");
    const json_t *conflict = json_array_get(json_object_get(root, "conflicts"), 0);
    assert_string_equal(shop_text_at(conflict, "kind"), "capture");
    assert_string_equal(shop_text_at(conflict, "differs_in"), "note");
    json_decref(root);
    shop_check(64, "import theirs.json --bow ridge", "--bow is for a table");
    shop_write("cut.json", "{\"format\": \"pullcurve record\", \"version\": 1,\n\"captures\": [");
    shop_check(65, "import cut.json", "cut.json:2: ");
}

/* --- tables ------------------------------------------------------------------------------- */

static void a_table_becomes_a_capture_and_loses_nothing(void **state)
{
    (void)state;
    shop_write("t.csv", "# bow: Ridge 34\n# note: borrowed scale\ntime_s,draw_m,force_n\n"
                        "0,0.1778,0.30000000000000004\n0.0125,0.3333333333333333,-0\n"
                        "0.025,0.7,1e-300\n");
    shop_check(0, "bow add 'Ridge 34'", "");
    shop_check(0, "import t.csv", "Capture 1 of Ridge 34: 3 readings");
    shop_check(0, "history", "borrowed scale");
    shop_check(0, "export 1 --units si",
               "\ntime_s,draw_m,force_n\n0,0.1778,0.30000000000000004\n"
               "0.0125,0.3333333333333333,-0\n0.025,0.7,1e-300\n");
    shop_check(65, "export 1 --raw", "has no counts");
}

static void a_table_is_understood_as_measure_understands_it(void **state)
{
    (void)state;
    shop_write("odd.csv", "\xEF\xBB\xBF"
                          "Weg;Kraft\r\n8,75;0\r\n10,75;1O\r\n12,75;20,5\r\n");
    shop_check(65, "import odd.csv --columns draw=Weg:in,force=Kraft:n --axis ata", "odd.csv:3");
    shop_check(0,
               "import odd.csv --columns draw=Weg:in,force=Kraft:n --axis ata --skip-bad-rows "
               "--brace 7",
               "1 bad row(s) were skipped");
    shop_check(0, "export 1", "\n11,4.60858333");
    shop_check(0, "export 1 --units si", "\ndraw_m,force_n\n0.1778");
    shop_check(0, "export 1", "# brace_m: 0.1777999999999999"); /* 7 * 0.0254 in doubles */
    shop_check(66, "import none.csv", "none.csv");
    shop_check(65, "import odd.csv", "no column is called draw_in");
    shop_check(66, "import odd.csv --columns draw=Weg:in,force=Kraft:n --skip-bad-rows --bow x",
               "no bow 'x'");
    json_t *root = shop_json(0, "history --json");
    assert_int_equal(json_array_size(json_object_get(root, "captures")), 1); /* faults add none */
    json_decref(root);
}

static void a_bad_count_is_told_with_its_place(void **state)
{
    (void)state;
    shop_write("raw.csv", "arrival_us,force_count,travel_count\n0,10,20\n12500,99999999999,20\n"
                          "25000,12,21\n");
    shop_check(65, "import raw.csv --bench b", "raw.csv:3: column 'force_count': '99999999999'");
    shop_check(0, "import raw.csv --bench b --skip-bad-rows", "Capture 1: 2 readings");
    /* what the table did not say is not claimed: no device time, no number; a gap where a row was
     */
    shop_check(0, "export 1 --raw", "\n0,0,0,10,20,3\n25000,0,0,12,21,67\n");
}

/* --- the file of readings that a record did not take ------------------------------------------ */

/* As `capture` writes it: readings from..400 of the newest capture. */
static void write_spill(size_t from)
{
    struct record *record;
    struct record_capture capture;
    check_ok(record_open(&record, "shop.db", RECORD_READ, &err));
    check_ok(record_capture_find(record, "last", &capture, &err));
    struct buf text = {0};
    buf_printf(&text,
               "# pullcurve: raw readings of capture 1 that its record did not take\n"
               "# capture_key: %s\n"
               "arrival_us,device_us,sequence,force_count,travel_count,flags\n",
               capture.key);
    for (size_t i = from; i < 400; i++) {
        struct raw_reading r = shop_reading(i);
        buf_printf(&text, "%lld,%lld,%u,%d,%d,%u\n", (long long)r.arrival_us,
                   (long long)r.device_us, r.sequence, r.force_count, r.travel_count, r.flags);
    }
    check_ok(buf_write_file(&text, "spill.csv", &err));
    buf_clear(&text);
    record_capture_clear(&capture);
    record_close(record);
}

static void check_whole_pull(const char *number)
{
    struct record *record;
    struct record_capture capture;
    struct raw_reading *readings;
    size_t n;
    check_ok(record_open(&record, "shop.db", RECORD_READ, &err));
    check_ok(record_capture_find(record, number, &capture, &err));
    assert_int_equal(capture.state, CAPTURE_INCOMPLETE);
    assert_int_equal(capture.counts.n_readings, 400);
    assert_string_equal(capture.bow_name, "Ridge 34");
    check_ok(record_capture_readings(record, capture.key, &readings, &n, &err));
    assert_int_equal(n, 400);
    for (size_t i = 0; i < n; i++) {
        struct raw_reading expected = shop_reading(i);
        assert_memory_equal(&readings[i], &expected, sizeof expected);
    }
    free(readings);
    record_capture_clear(&capture);
    record_close(record);
}

static void spilled_readings_complete_a_capture_that_was_left_open(void **state)
{
    (void)state;
    shop_capture(150, CAPTURE_OPEN);
    write_spill(150);
    shop_check(0, "import spill.csv", "Capture 1 of Ridge 34 is completed with 250 readings");
    check_whole_pull("1");
    shop_check(0, "import spill.csv", "nothing was added");
}

static void spilled_readings_of_an_ended_capture_make_a_whole_new_one(void **state)
{
    (void)state;
    shop_capture(150, CAPTURE_INCOMPLETE);
    write_spill(150);
    shop_check(0, "import spill.csv", "stays as it is");
    check_whole_pull("2");
    json_t *root = shop_json(0, "history --json");
    const json_t *captures = json_object_get(root, "captures");
    assert_int_equal(json_array_size(captures), 2);
    assert_int_equal(shop_int_at(json_array_get(captures, 1), "n_readings"), 150); /* number 1 */
    assert_string_equal(shop_text_at(json_array_get(captures, 0), "note"),
                        "as it came; capture 1 with the readings of spill.csv");
    json_decref(root);
}

static void other_readings_under_a_known_key_make_a_capture_of_their_own(void **state)
{
    (void)state;
    shop_capture(400, CAPTURE_COMPLETE);
    write_spill(390);
    struct buf text = {0};
    check_ok(buf_read_file(&text, "spill.csv", &err));
    memcpy(strstr(buf_string(&text), "\n4875000,") + 1, "4875001,", 8);
    check_ok(buf_write_file(&text, "spill.csv", &err));
    buf_clear(&text);
    shop_check(0, "import spill.csv", "has the same key but other readings");
    shop_check(0, "export 2 --raw", "\n4875001,");
    shop_check(0, "export 1 --raw", "\n4875000,");
}

/* --- faults of the place -------------------------------------------------------------------- */

static void damage_is_told_and_the_rest_can_be_had(void **state)
{
    (void)state;
    shop_capture(400, CAPTURE_COMPLETE);
    sqlite3 *db;
    assert_int_equal(sqlite3_open("shop.db", &db), SQLITE_OK);
    (void)sqlite3_db_config(db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, NULL);
    assert_int_equal(
        sqlite3_exec(db, "UPDATE chunk SET crc32 = 1 WHERE number = 2", NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(db);
    shop_check(65, "export 1 --raw", "1 of 8 chunks are damaged (the first is number 2)");
    shop_check(65, "export 1", "damaged");
    shop_check(0, "export 1 --raw --skip-damaged", "# damaged: 50 readings are left out");
    shop_check(0, "export --all --json all.json", "");
    shop_check(0, "import all.json --record copy.db", "Added");
    shop_check(65, "export 1 --raw --record copy.db", "damaged");
}

static void a_failed_export_leaves_the_old_file(void **state)
{
    (void)state;
    for (int i = 0; i < 6; i++)
        shop_capture(400, CAPTURE_COMPLETE);
    shop_write("out.csv", "precious\n");
    struct buf out = {0};
    /* no file may grow over 40 kB; SQLite's own take 32 kB, the document more */
    assert_int_equal(run_command(&out, "trap '' XFSZ; ulimit -f 80; \"$PULLCURVE\" export --all "
                                       "--output out.csv 2>&1"),
                     73);
    assert_non_null(strstr(buf_string(&out), "out.csv: can't be written"));
    buf_clear(&out);
    shop_check(0, "export 1 --raw > /dev/null", "");
    shop_check(73, "export 1 --raw --output /dev/full", "/dev/full");
    shop_check(73, "export 1 --raw --output none/out.csv", "none/out.csv");
    shop_check(64, "export --all shop.db", "is the record itself");
    shop_write("expected", "precious\n");
    shop_check_same("out.csv", "expected");
    assert_int_equal(run_command(&out, "ls | grep -v db | tr '\\n' ' '"), 0);
    assert_string_equal(buf_string(&out), "expected out.csv "); /* nothing left lying about */
    buf_clear(&out);
}

static void wrong_use_of_export_is_told(void **state)
{
    (void)state;
    shop_check(66, "export 1", "shop.db");
    shop_capture(50, CAPTURE_COMPLETE);
    shop_check(64, "export", "which capture");
    shop_check(66, "export 2", "no capture '2'");
    shop_check(64, "export 1 --raw --json", "--json");
    shop_check(64, "export --all --raw", "--all gives JSON");
    shop_check(64, "export 1 --raw --units si", "--units and --brace");
    shop_check(64, "export 1 --skip-damaged", "--raw");
    shop_check(64, "export 1 --units feet", "neither trade nor si");
    shop_check(64, "export --all a.json --output b.json", "one file is enough");
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, shop_open, shop_close)
    const struct CMUnitTest tests[] = {
        TEST(counts_are_exported_as_they_came),
        TEST(counts_are_exported_as_force_and_draw),
        TEST(exported_counts_become_the_same_capture_elsewhere),
        TEST(the_whole_record_goes_through_json_and_comes_back),
        TEST(a_conflict_is_told_and_the_rest_is_merged),
        TEST(a_table_becomes_a_capture_and_loses_nothing),
        TEST(a_table_is_understood_as_measure_understands_it),
        TEST(a_bad_count_is_told_with_its_place),
        TEST(spilled_readings_complete_a_capture_that_was_left_open),
        TEST(spilled_readings_of_an_ended_capture_make_a_whole_new_one),
        TEST(other_readings_under_a_known_key_make_a_capture_of_their_own),
        TEST(damage_is_told_and_the_rest_can_be_had),
        TEST(a_failed_export_leaves_the_old_file),
        TEST(wrong_use_of_export_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
