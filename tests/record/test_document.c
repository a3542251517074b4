/* The record as one JSON document, and the merging of one record into another. */
#include "check.h"
#include "record/document.h"
#include "record/record_private.h"
#include "run.h"
#include "scratch.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

static struct err err;

static enum status take_piece(void *context, const struct buf *piece, struct err *unused)
{
    (void)unused;
    buf_add(context, piece->text, piece->length);
    return STATUS_OK;
}

static void write_document(struct record *record, struct buf *text)
{
    const struct document_sink sink = {take_piece, text};
    buf_clear(text);
    check_ok(document_write(record, &sink, &err));
}

static void add_calibration(struct record *record, const char *key)
{
    struct calibration_point points[] = {
        {.reference_si = 0.1 + 0.2, .count = -1.0 / 3, .run = 1},
        {.reference_si = 5e-324, .u_reference_si = 0.25, .count = 1e300, .u_count = 2, .run = -3},
        {.reference_si = -0.0, .count = 7, .run = 1, .decreasing = true},
    };
    struct record_calibration calibration = {.bench = (char *)"bench 1",
                                             .quantity = QUANTITY_FORCE,
                                             .n_terms = 3,
                                             .references_independent = true,
                                             .note = (char *)"weights",
                                             .points = points,
                                             .n_points = 3};
    (void)snprintf(calibration.key, sizeof calibration.key, "%s", key);
    check_ok(record_calibration_add(record, &calibration, &err));
}

#define CALIBRATION_KEY "ca11b000-0000-4000-8000-000000000001"
#define RAW_KEY "aaaa0000-0000-4000-8000-000000000001"
#define VALUES_KEY "aaaa0000-0000-4000-8000-000000000002"

/* One of everything. Fills *bow_key. */
static void fill(struct record *record, char bow_key[RECORD_KEY_MAX])
{
    add_calibration(record, CALIBRATION_KEY);
    struct record_bow bow = record_bow_blank();
    bow.name = (char *)"O'Brien \"34\" \xFF";
    bow.note = (char *)"\xF0\x9F\x8F\xB9 line\nfeed";
    bow.peak_low_n = 266.9;
    check_ok(record_bow_add(record, &bow, &err));
    bow.note = (char *)"second";
    check_ok(record_bow_add(record, &bow, &err));
    memcpy(bow_key, bow.key, RECORD_KEY_MAX);

    struct raw_reading readings[300];
    for (size_t i = 0; i < 300; i++)
        readings[i] = scratch_reading(i);
    struct record_capture raw = {.key = RAW_KEY,
                                 .started_at = "2026-03-01T10:00:00Z",
                                 .bench = (char *)"bench 1",
                                 .note = (char *)"",
                                 .force_calibration_key = CALIBRATION_KEY,
                                 .has_brace = true,
                                 .brace_m = 0.1778,
                                 .state = CAPTURE_INCOMPLETE,
                                 .fixture = {.give_m_per_n = 0.1 + 0.2, .tare = true},
                                 .counts = {300, 1, 2, 3, 4, 5}};
    memcpy(raw.bow_key, bow.key, RECORD_KEY_MAX);
    check_ok(record_capture_add(record, &raw, readings, NULL, 300, &err));

    const struct record_value table[] = {
        {0.1778, 0.1 + 0.2, 0.0}, {1.0 / 3, -0.0, (double)NAN}, {5e-324, 1.7e308, 1e-9}};
    struct record_capture values = {
        .key = VALUES_KEY, .bench = (char *)"table.csv", .content = CAPTURE_VALUES};
    check_ok(record_capture_add(record, &values, NULL, table, 3, &err));
}

static void merge(struct record *record, const struct buf *text, struct merge_report *report)
{
    check_ok(document_merge(record, "other.json", text, report, &err));
}

static void check_same_text(const struct buf *a, const struct buf *b)
{
    if (a->length != b->length || memcmp(a->text, b->text, a->length) != 0)
        fail_msg("differs:\n%s\nand\n%s", buf_string(a), buf_string(b));
}

static void a_record_made_from_its_document_gives_the_same_document(void **state)
{
    (void)state;
    char bow_key[RECORD_KEY_MAX];
    struct record *record = scratch_open(), *copy = scratch_open_as("copy.db", RECORD_CREATE);
    struct buf first = {0}, second = {0};
    fill(record, bow_key);
    write_document(record, &first);
    struct merge_report report;
    merge(copy, &first, &report);
    assert_int_equal(report.bows.n_added, 1);
    assert_int_equal(report.calibrations.n_added, 1);
    assert_int_equal(report.captures.n_added, 2);
    assert_int_equal(report.n_conflicts, 0);
    merge_report_clear(&report);
    write_document(copy, &second);
    check_same_text(&first, &second);
    scratch_check_readings(copy, RAW_KEY, 300);
    buf_clear(&first);
    buf_clear(&second);
    record_close(record);
    record_close(copy);
}

static void an_empty_record_has_a_document_too(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct buf text = {0};
    write_document(record, &text);
    assert_string_equal(buf_string(&text),
                        "{\n\"format\": \"pullcurve record\",\n\"version\": 1,\n\"bows\": [],\n"
                        "\"calibrations\": [],\n\"captures\": []\n}\n");
    struct merge_report report;
    merge(record, &text, &report);
    assert_int_equal(report.captures.n_added, 0);
    merge_report_clear(&report);
    buf_clear(&text);
    record_close(record);
}

/* Outside truth: another JSON reader finds the readings as numbers. */
static void others_can_read_the_readings(void **state)
{
    (void)state;
    char bow_key[RECORD_KEY_MAX];
    struct record *record = scratch_open();
    struct buf text = {0}, out = {0}, command = {0};
    fill(record, bow_key);
    write_document(record, &text);
    scratch_write(scratch_path("shop.json"), text.text, text.length);
    buf_printf(&command,
               "/usr/bin/python3 -c 'import json; d = json.load(open(\"%s\"));"
               " c = d[\"captures\"][0][\"chunks\"][0]; v = d[\"captures\"][1][\"chunks\"][0];"
               " print(len(c[\"force_count\"]), c[\"force_count\"][299], c[\"device_us\"][1],"
               " v[\"force_n\"][0] == 0.1 + 0.2, v[\"time_s\"][1],"
               " d[\"bows\"][0][\"statements\"][1][\"peak_low_n\"])'",
               scratch_path("shop.json"));
    assert_int_equal(run_command(&out, buf_string(&command)), 0);
    char expected[100];
    (void)snprintf(expected, sizeof expected, "300 %d 4294979797 True None 266.9\n",
                   (int)scratch_reading(299).force_count);
    assert_string_equal(buf_string(&out), expected);
    buf_clear(&text);
    buf_clear(&out);
    buf_clear(&command);
    record_close(record);
}

static void the_order_of_members_does_not_matter(void **state)
{
    (void)state;
    char bow_key[RECORD_KEY_MAX];
    struct record *record = scratch_open(), *copy = scratch_open_as("copy.db", RECORD_CREATE);
    struct buf first = {0}, second = {0}, sorted = {0}, command = {0};
    fill(record, bow_key);
    write_document(record, &first);
    scratch_write(scratch_path("shop.json"), first.text, first.length);
    /* captures before the format, indented: as a pretty-printer leaves it. The reversal puts
     * captures before the bows and calibrations they refer to. */
    buf_printf(&command,
               "/usr/bin/python3 -c 'import json; d = json.load(open(\"%s\"));"
               " print(json.dumps(dict(reversed(list(d.items()))), indent=2))'",
               scratch_path("shop.json"));
    assert_int_equal(run_command(&sorted, buf_string(&command)), 0);
    struct merge_report report;
    merge(copy, &sorted, &report);
    merge_report_clear(&report);
    write_document(copy, &second);
    check_same_text(&first, &second);
    buf_clear(&first);
    buf_clear(&second);
    buf_clear(&sorted);
    buf_clear(&command);
    record_close(record);
    record_close(copy);
}

static void merging_twice_makes_no_doubles(void **state)
{
    (void)state;
    char bow_key[RECORD_KEY_MAX];
    struct record *record = scratch_open();
    struct buf text = {0}, after = {0};
    fill(record, bow_key);
    write_document(record, &text);
    struct merge_report report;
    merge(record, &text, &report);
    assert_int_equal(report.bows.n_same, 1);
    assert_int_equal(report.calibrations.n_same, 1);
    assert_int_equal(report.captures.n_same, 2);
    assert_int_equal(report.captures.n_added, 0);
    merge_report_clear(&report);
    write_document(record, &after);
    check_same_text(&text, &after);
    buf_clear(&text);
    buf_clear(&after);
    record_close(record);
}

static void two_benches_are_joined_and_numbers_make_way(void **state)
{
    (void)state;
    struct record *left = scratch_open(), *right = scratch_open_as("right.db", RECORD_CREATE);
    struct record_capture a = {.bench = (char *)"left"}, b = {.bench = (char *)"right"}, found;
    scratch_capture(left, &a, 100, 50);
    scratch_capture(right, &b, 200, 50);
    assert_int_equal(b.number, 1);
    struct buf text = {0};
    write_document(right, &text);
    struct merge_report report;
    merge(left, &text, &report);
    merge_report_clear(&report);
    check_ok(record_capture_find(left, b.key, &found, &err));
    assert_int_equal(found.number, 2);
    record_capture_clear(&found);
    scratch_check_readings(left, a.key, 100);
    scratch_check_readings(left, b.key, 200);
    buf_clear(&text);
    record_close(left);
    record_close(right);
}

static void statements_about_a_bow_are_united(void **state)
{
    (void)state;
    char bow_key[RECORD_KEY_MAX];
    struct record *left = scratch_open(), *right = scratch_open_as("right.db", RECORD_CREATE);
    fill(left, bow_key);
    struct buf text = {0};
    struct merge_report report;
    write_document(left, &text);
    merge(right, &text, &report);
    merge_report_clear(&report);
    struct record_bow bow;
    check_ok(record_bow_find(left, bow_key, &bow, &err));
    free(bow.note);
    bow.note = strdup("said on the left");
    check_ok(record_bow_add(left, &bow, &err));
    free(bow.note);
    bow.note = strdup("said on the right");
    check_ok(record_bow_add(right, &bow, &err));
    record_bow_clear(&bow);
    write_document(right, &text);
    merge(left, &text, &report);
    assert_int_equal(report.bows.n_extended, 1);
    assert_int_equal(report.n_conflicts, 0);
    merge_report_clear(&report);
    struct record_bow *statements;
    size_t n;
    check_ok(record_bow_statements(left, bow_key, &statements, &n, &err));
    assert_int_equal(n, 4);
    for (size_t i = 0; i < n; i++)
        record_bow_clear(&statements[i]);
    free(statements);
    buf_clear(&text);
    record_close(left);
    record_close(right);
}

/* Replaces the first `old` in text. */
static void replace(struct buf *text, const char *old, const char *new)
{
    char *at = strstr(buf_string(text), old);
    if (at == NULL)
        fail_msg("'%s' is not in: %s", old, buf_string(text));
    struct buf changed = {0};
    buf_add(&changed, text->text, (size_t)(at - text->text));
    buf_text(&changed, new);
    buf_text(&changed, at + strlen(old));
    buf_clear(text);
    *text = changed;
}

static void other_content_under_the_same_key_is_a_conflict_and_changes_nothing(void **state)
{
    (void)state;
    static const struct {
        const char *old, *new, *kind, *differs;
    } cases[] = {
        {"\"note\":\"second\"", "\"note\":\"other\"", "bow", "note"},
        {"\"u_count\":2.0", "\"u_count\":2.5", "calibration", "points"},
        {"\"brace_m\":0.17780000000000001", "\"brace_m\":0.2", "capture", "brace_m"},
        {"\"n_lost\":3", "\"n_lost\":0", "capture", "end"},
        {"\"tare\":true", "\"tare\":false", "capture", "fixture"},
        {"[-2000000000,", "[-2000000001,", "capture", "readings"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char bow_key[RECORD_KEY_MAX];
        (void)remove(scratch_path("shop.db"));
        struct record *record = scratch_open();
        struct buf before = {0}, other = {0}, after = {0};
        fill(record, bow_key);
        write_document(record, &before);
        buf_add(&other, before.text, before.length);
        replace(&other, cases[i].old, cases[i].new);
        struct merge_report report;
        merge(record, &other, &report);
        assert_int_equal(report.n_conflicts, 1);
        assert_string_equal(report.conflicts[0].kind, cases[i].kind);
        assert_string_equal(report.conflicts[0].text, cases[i].differs);
        assert_true(record_key_valid(report.conflicts[0].key));
        merge_report_clear(&report);
        write_document(record, &after);
        check_same_text(&before, &after);
        buf_clear(&before);
        buf_clear(&other);
        buf_clear(&after);
        record_close(record);
    }
}

static void an_open_capture_is_completed_from_a_later_document(void **state)
{
    (void)state;
    struct record *bench = scratch_open(), *office = scratch_open_as("office.db", RECORD_CREATE);
    struct record_capture capture = {.bench = (char *)"bench"}, found;
    scratch_capture(bench, &capture, 100, 50);
    struct buf early = {0}, late = {0}, after = {0};
    write_document(bench, &early);
    struct raw_reading readings[60];
    for (size_t i = 0; i < 60; i++)
        readings[i] = scratch_reading(100 + i);
    check_ok(record_capture_append(bench, capture.key, readings, 60, &err));
    const struct capture_counts counts = {.n_readings = 160};
    check_ok(record_capture_end(bench, capture.key, CAPTURE_COMPLETE, &counts, &err));
    write_document(bench, &late);

    struct merge_report report;
    merge(office, &early, &report);
    merge_report_clear(&report);
    merge(office, &late, &report);
    assert_int_equal(report.captures.n_extended, 1);
    merge_report_clear(&report);
    check_ok(record_capture_find(office, capture.key, &found, &err));
    assert_int_equal(found.state, CAPTURE_COMPLETE);
    record_capture_clear(&found);
    scratch_check_readings(office, capture.key, 160);

    merge(office, &early, &report); /* the older one again: nothing goes back */
    assert_int_equal(report.captures.n_same, 1);
    assert_int_equal(report.n_conflicts, 0);
    merge_report_clear(&report);
    write_document(office, &after);
    check_same_text(&late, &after);
    buf_clear(&early);
    buf_clear(&late);
    buf_clear(&after);
    record_close(bench);
    record_close(office);
}

static void damage_is_kept_as_it_is(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 300, 100);
    record_close(record);
    scratch_sql(scratch_path("shop.db"), "UPDATE chunk SET crc32 = 7 WHERE number = 2");
    record = scratch_open();
    struct record *copy = scratch_open_as("copy.db", RECORD_CREATE);
    struct buf first = {0}, second = {0};
    write_document(record, &first);
    struct merge_report report;
    merge(copy, &first, &report);
    merge_report_clear(&report);
    write_document(copy, &second);
    check_same_text(&first, &second);
    struct raw_reading *readings;
    size_t n, n_damaged;
    check_ok(record_capture_salvage_readings(copy, capture.key, &readings, &n, &n_damaged, &err));
    assert_int_equal(n, 200);
    assert_int_equal(n_damaged, 100);
    free(readings);
    buf_clear(&first);
    buf_clear(&second);
    record_close(record);
    record_close(copy);
}

/* --- what is refused ---------------------------------------------------------------------- */

static void check_refused(struct record *record, const struct buf *text, const char *part)
{
    struct buf before = {0}, after = {0};
    struct merge_report report;
    write_document(record, &before);
    enum status status = document_merge(record, "other.json", text, &report, &err);
    merge_report_clear(&report);
    if (status != STATUS_BAD_INPUT || strstr(err.text, part) == NULL)
        fail_msg("status %d, '%s' does not hold '%s'", (int)status, err.text, part);
    write_document(record, &after);
    check_same_text(&before, &after);
    buf_clear(&before);
    buf_clear(&after);
}

static void what_is_no_document_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text, *part;
    } cases[] = {
        {"", "a '{' is missing"},
        {"draw_in,force_lbf\n7,0\n", "other.json:1: a '{' is missing"},
        {"[]", "a '{' is missing"},
        {"{}", "not a record"},
        {"{\"pulls\": [1, 2]}", "not a record"},
        {"{\"format\": \"pullcurve record\"}", "not a record"},
        {"{\"format\": \"pullcurve record\", \"version\": 2}", "newer version"},
        {"{\"format\": \"pullcurve record\", \"version\": 1, \"bows\": [}", "is not JSON"},
        {"{\"format\": \"pullcurve record\", \"version\": 1, \"bows\": []", "a '}' is missing"},
        {"{\"format\": \"pullcurve record\", \"version\": 1} x", "more behind"},
        {"{\"format\": \"pullcurve record\", \"version\": 1, \"arrows\": [{}]}", "'arrows'"},
        {"{\"format\": \"pullcurve record\", \"version\": 1,\n\n\"bows\": [\n{\"key\": 1}]}",
         "other.json:4: a bow without a valid 'key'"},
        {"{\"format\": \"pullcurve record\", \"version\": 1,\n\"captures\": [\n{\n\"key\": 1e\n}]}",
         "other.json:4: is not JSON"},
    };
    struct record *record = scratch_open();
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct buf text = {0};
        buf_text(&text, cases[i].text);
        check_refused(record, &text, cases[i].part);
        buf_clear(&text);
    }
    record_close(record);
}

static void a_document_without_fixtures_imports_as_no_correction(void **state)
{
    (void)state;
    char bow_key[RECORD_KEY_MAX];
    struct record *record = scratch_open(), *copy = scratch_open_as("copy.db", RECORD_CREATE);
    struct buf text = {0};
    fill(record, bow_key);
    write_document(record, &text);
    replace(&text, "\"fixture\":{\"give_m_per_n\":0.30000000000000004,\"tare\":true},", "");
    struct merge_report report;
    merge(copy, &text, &report);
    assert_int_equal(report.captures.n_added, 2);
    merge_report_clear(&report);
    struct record_capture found;
    check_ok(record_capture_find(copy, RAW_KEY, &found, &err));
    check_near(found.fixture.give_m_per_n, 0, 0);
    assert_false(found.fixture.tare);
    record_capture_clear(&found);
    buf_clear(&text);
    record_close(record);
    record_close(copy);
}

static void one_bad_entry_refuses_the_whole_document(void **state)
{
    (void)state;
    static const struct {
        const char *old, *new, *part;
    } cases[] = {
        {"\"kind\":\"compound\"", "\"kind\":\"crossbow\"", "crossbow"},
        {"\"peak_low_n\":266", "\"peak_low_n\":-266", "below zero"},
        {"\"made_at\":\"20", "\"made_at\":\"x20", "'made_at' is missing or is not a time"},
        {"\"quantity\":\"force\"", "\"quantity\":\"torque\"", "'quantity'"},
        {"\"run\":-3", "\"run\":99999999999", "'run' is 99999999999"},
        {"\"u_count\":2.0", "\"u_count\":null", "'u_count'"},
        {"\"n_terms\":3", "\"n_terms\":4", "'n_terms' is 4"},
        {"\"points\":[", "\"points\":3,\"x\":[", "'points'"},
        {"\"content\":\"raw\"", "\"content\":\"sound\"", "'content'"},
        {"\"state\":\"incomplete\"", "\"state\":\"\"", "'state'"},
        {"\"n_lost\":3", "\"n_lost\":-3", "'n_lost' is -3"},
        {"\"brace_m\":0.1778", "\"brace_m\":\"x\",\"y\":0.1778", "'brace_m'"},
        {"\"fixture\":{", "\"fixture\":3,\"y\":{", "'fixture'"},
        {"\"tare\":true", "\"tare\":\"yes\"", "'tare'"},
        {"\"force_count\":[-2000000000", "\"force_count\":[-2147483649", "-2147483649"},
        {"\"force_count\":[-2000000000,", "\"force_count\":[", "'force_count' has 299"},
        {"\"force_n\":[0.3", "\"force_n\":[true,0.3", "elements"},
        {"\"format\":2", "\"format\":9", "chunk format 9"},
        {"\"key\":\"" VALUES_KEY "\"", "\"key\":\"AAAA\"", "'key'"},
        {"\"force_calibration_key\":\"" CALIBRATION_KEY "\"",
         "\"force_calibration_key\":\"0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7e\"", "refers to"},
        {"\"note\":\"second\"", "\"note\":\"nul \\u0000\"", "is not JSON"},
    };
    char bow_key[RECORD_KEY_MAX];
    struct record *record = scratch_open(), *copy = scratch_open_as("copy.db", RECORD_CREATE);
    struct buf whole = {0};
    fill(record, bow_key);
    write_document(record, &whole);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct buf text = {0};
        buf_add(&text, whole.text, whole.length);
        replace(&text, cases[i].old, cases[i].new);
        check_refused(copy, &text, cases[i].part);
        buf_clear(&text);
    }
    buf_clear(&whole);
    record_close(record);
    record_close(copy);
}

static void a_document_cut_anywhere_is_refused(void **state)
{
    (void)state;
    char bow_key[RECORD_KEY_MAX];
    struct record *record = scratch_open(), *copy = scratch_open_as("copy.db", RECORD_CREATE);
    struct buf whole = {0};
    fill(record, bow_key);
    write_document(record, &whole);
    for (size_t length = 0; length + 2 < whole.length; length += 97) {
        struct buf cut = {0};
        buf_add(&cut, whole.text, length);
        check_refused(copy, &cut, "other.json");
        buf_clear(&cut);
    }
    buf_clear(&whole);
    record_close(record);
    record_close(copy);
}

static enum status refuse_piece(void *context, const struct buf *piece, struct err *told)
{
    (void)context;
    (void)piece;
    return err_set(told, STATUS_CANT_WRITE, "the disk is full");
}

static void a_sink_that_takes_no_more_ends_the_writing(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    const struct document_sink sink = {refuse_piece, NULL};
    assert_int_equal(document_write(record, &sink, &err), STATUS_CANT_WRITE);
    assert_string_equal(err.text, "the disk is full");
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 10, 10); /* no transaction is left open */
    record_close(record);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, scratch_make, scratch_remove)
    const struct CMUnitTest tests[] = {
        TEST(a_record_made_from_its_document_gives_the_same_document),
        TEST(an_empty_record_has_a_document_too),
        TEST(others_can_read_the_readings),
        TEST(the_order_of_members_does_not_matter),
        TEST(merging_twice_makes_no_doubles),
        TEST(two_benches_are_joined_and_numbers_make_way),
        TEST(statements_about_a_bow_are_united),
        TEST(other_content_under_the_same_key_is_a_conflict_and_changes_nothing),
        TEST(an_open_capture_is_completed_from_a_later_document),
        TEST(damage_is_kept_as_it_is),
        TEST(what_is_no_document_is_refused),
        TEST(a_document_without_fixtures_imports_as_no_correction),
        TEST(one_bad_entry_refuses_the_whole_document),
        TEST(a_document_cut_anywhere_is_refused),
        TEST(a_sink_that_takes_no_more_ends_the_writing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
