/* Bows: what was said about them, when, and how they are found again. */
#include "check.h"
#include "record/record_private.h"
#include "scratch.h"

#include <math.h>
#include <string.h>

static struct err err;

/* Texts of a bow under test are borrowed, so it is never cleared. */
static struct record_bow named(const char *name)
{
    struct record_bow bow = record_bow_blank();
    bow.name = (char *)(uintptr_t)name;
    return bow;
}

static void add_named(struct record *record, const char *name)
{
    struct record_bow bow = named(name);
    check_ok(record_bow_add(record, &bow, &err));
}

static void check_found(struct record *record, const char *text, const char *name)
{
    struct record_bow found;
    enum status status = record_bow_find(record, text, &found, &err);
    if (status != STATUS_OK)
        fail_msg("'%s': %s", text, err.text);
    assert_string_equal(found.name, name);
    record_bow_clear(&found);
}

static void a_bow_comes_back_with_all_that_is_known(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_bow bow = named("Ridge 34"), found;
    bow.owner = (char *)"A. Field";
    bow.kind = (char *)"compound";
    bow.serial = (char *)"HO-0117";
    bow.note = (char *)"new string in March";
    bow.brace_height_m = 0.1714;
    bow.peak_low_n = 266.9;
    bow.peak_high_n = 311.4;
    bow.draw_length_low_m = 0.6604;
    bow.draw_length_high_m = 0.762;
    bow.let_off_low_pct = 80;
    bow.let_off_high_pct = 85;
    bow.axle_to_axle_m = 0.8636;
    bow.rated_speed_m_s = 101.2;
    check_ok(record_bow_add(record, &bow, &err));
    check_ok(record_bow_find(record, bow.key, &found, &err));
    assert_string_equal(found.key, bow.key);
    assert_string_equal(found.made_at, bow.made_at);
    assert_string_equal(found.statement_key, bow.statement_key);
    assert_int_equal(found.statement, 1);
    assert_string_equal(found.name, bow.name);
    assert_string_equal(found.owner, bow.owner);
    assert_string_equal(found.kind, bow.kind);
    assert_string_equal(found.serial, bow.serial);
    assert_string_equal(found.note, bow.note);
    assert_true(found.brace_height_m == 0.1714 && found.peak_low_n == 266.9);
    assert_true(found.peak_high_n == 311.4 && found.draw_length_low_m == 0.6604);
    assert_true(found.draw_length_high_m == 0.762 && found.let_off_low_pct == 80);
    assert_true(found.let_off_high_pct == 85 && found.axle_to_axle_m == 0.8636);
    assert_true(found.rated_speed_m_s == 101.2);
    record_bow_clear(&found);
    record_close(record);
}

static void what_is_not_known_stays_not_known(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    add_named(record, "Ridge 34");
    struct record_bow found;
    check_ok(record_bow_find(record, "Ridge 34", &found, &err));
    assert_string_equal(found.kind, "compound");
    assert_string_equal(found.owner, "");
    assert_true(isnan(found.brace_height_m) && isnan(found.peak_low_n));
    assert_true(isnan(found.let_off_high_pct) && isnan(found.rated_speed_m_s));
    record_bow_clear(&found);
    record_close(record);
}

static void a_newer_statement_does_not_remove_the_older_one(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_bow first = named("Ridge 34"), second = named("Ridge 34");
    first.note = (char *)"as bought";
    second.note = (char *)"new limbs";
    check_ok(record_bow_add(record, &first, &err));
    check_ok(record_bow_add(record, &second, &err));
    assert_string_equal(first.key, second.key);
    assert_int_equal(second.statement, 2);
    struct record_bow *statements;
    size_t n;
    check_ok(record_bow_statements(record, first.key, &statements, &n, &err));
    assert_int_equal(n, 2);
    assert_string_equal(statements[0].note, "new limbs");
    assert_string_equal(statements[1].note, "as bought");
    for (size_t i = 0; i < n; i++)
        record_bow_clear(&statements[i]);
    free(statements);
    struct record_bow found;
    check_ok(record_bow_find(record, "Ridge 34", &found, &err));
    assert_string_equal(found.note, "new limbs");
    record_bow_clear(&found);
    record_close(record);
}

static void a_bow_may_get_another_name(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_bow bow = named("Ridge 43");
    check_ok(record_bow_add(record, &bow, &err));
    bow.name = (char *)"Ridge 34";
    check_ok(record_bow_add(record, &bow, &err));
    check_found(record, "Ridge 34", "Ridge 34");
    struct record_bow found;
    assert_int_equal(record_bow_find(record, "Ridge 43", &found, &err), STATUS_NO_INPUT);
    record_close(record);
}

static void a_name_belongs_to_one_bow_in_use(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_bow one = named("Ridge 34"), other = named("Heron");
    check_ok(record_bow_add(record, &one, &err));
    check_ok(record_bow_add(record, &other, &err));
    other.name = (char *)"Ridge 34";
    assert_int_equal(record_bow_add(record, &other, &err), STATUS_USAGE);
    check_found(record, "Heron", "Heron"); /* unchanged */

    one.retired = true;
    check_ok(record_bow_add(record, &one, &err));
    check_ok(record_bow_add(record, &other, &err)); /* now the name is free */
    struct record_bow found;
    check_ok(record_bow_find(record, "Ridge 34", &found, &err));
    assert_string_equal(found.key, other.key);
    record_bow_clear(&found);
    record_close(record);
}

static void a_retired_bow_is_found_by_key_or_exact_name(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_bow bow = named("Old Faithful"), found;
    check_ok(record_bow_add(record, &bow, &err));
    bow.retired = true;
    check_ok(record_bow_add(record, &bow, &err));
    check_found(record, "Old Faithful", "Old Faithful");
    check_found(record, bow.key, "Old Faithful");
    assert_int_equal(record_bow_find(record, "faithful", &found, &err), STATUS_NO_INPUT);
    struct record_bow *bows;
    size_t n;
    check_ok(record_bow_list(record, "", &bows, &n, &err));
    assert_int_equal(n, 0);
    free(bows);
    check_ok(record_bow_list_retired(record, "faith", &bows, &n, &err));
    assert_int_equal(n, 1);
    record_bow_clear(&bows[0]);
    free(bows);
    record_close(record);
}

static void a_bow_is_found_by_part_of_its_name_whatever_the_case(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    add_named(record, "Ridge 34");
    add_named(record, "Ridge");
    add_named(record, "Älvdal ÖSTER");
    add_named(record, "Лук Ястреб");
    add_named(record, "ΤΟΞΟ");
    check_found(record, "34", "Ridge 34");
    check_found(record, "Ridge", "Ridge"); /* the exact name before the part of another */
    check_found(record, "öster", "Älvdal ÖSTER");
    check_found(record, "ÄLV", "Älvdal ÖSTER");
    check_found(record, "ястРЕБ", "Лук Ястреб");
    check_found(record, "τοξο", "ΤΟΞΟ");
    struct record_bow found;
    assert_int_equal(record_bow_find(record, "ridge", &found, &err), STATUS_NO_INPUT);
    assert_non_null(strstr(err.text, "'Ridge'"));
    assert_non_null(strstr(err.text, "'Ridge 34'"));
    assert_int_equal(record_bow_find(record, "%", &found, &err), STATUS_NO_INPUT);
    assert_int_equal(record_bow_find(record, "", &found, &err), STATUS_NO_INPUT);
    record_close(record);
}

static void a_bow_is_found_by_the_beginning_of_its_key(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_bow bow = named("Ridge 34"), found;
    check_ok(record_bow_add(record, &bow, &err));
    add_named(record, "Heron");
    char beginning[9];
    (void)snprintf(beginning, sizeof beginning, "%.8s", bow.key);
    check_found(record, beginning, "Ridge 34");
    beginning[3] = '\0';
    assert_int_equal(record_bow_find(record, beginning, &found, &err), STATUS_NO_INPUT);
    record_close(record);
}

static void bows_are_listed_by_name_with_part_of_name_owner_or_serial(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_bow a = named("heron"), b = named("Alder"), c = named("Ridge");
    b.owner = (char *)"M. Heronsgate";
    c.serial = (char *)"HERON-7";
    check_ok(record_bow_add(record, &a, &err));
    check_ok(record_bow_add(record, &b, &err));
    check_ok(record_bow_add(record, &c, &err));
    add_named(record, "Plain");
    struct record_bow *bows;
    size_t n;
    check_ok(record_bow_list(record, "Heron", &bows, &n, &err));
    assert_int_equal(n, 3);
    static const char *const order[] = {"Alder", "heron", "Ridge"};
    for (size_t i = 0; i < n; i++) {
        assert_string_equal(bows[i].name, order[i]);
        record_bow_clear(&bows[i]);
    }
    free(bows);
    record_close(record);
}

static void what_is_no_bow_is_refused(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_bow bow = named("");
    assert_int_equal(record_bow_add(record, &bow, &err), STATUS_USAGE);
    bow = named("Ridge");
    bow.kind = (char *)"crossbow";
    assert_int_equal(record_bow_add(record, &bow, &err), STATUS_USAGE);
    bow = named("Ridge");
    bow.peak_low_n = 300;
    bow.peak_high_n = 200;
    assert_int_equal(record_bow_add(record, &bow, &err), STATUS_USAGE);
    assert_non_null(strstr(err.text, "peak draw force"));
    bow = named("Ridge");
    bow.rated_speed_m_s = (double)INFINITY;
    assert_int_equal(record_bow_add(record, &bow, &err), STATUS_USAGE);
    bow = named("Ridge");
    memcpy(bow.key, "0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7e", RECORD_KEY_MAX);
    assert_int_equal(record_bow_add(record, &bow, &err), STATUS_NO_INPUT);
    struct record_bow *bows;
    size_t n;
    check_ok(record_bow_list(record, "", &bows, &n, &err));
    assert_int_equal(n, 0);
    free(bows);
    record_close(record);
}

/* Any bytes but NUL are a text. */
static void hostile_text_comes_back_exactly(void **state)
{
    (void)state;
    char bytes[256], long_text[10001];
    for (int i = 0; i < 255; i++)
        bytes[i] = (char)(i + 1);
    bytes[255] = '\0';
    memset(long_text, 'x', sizeof long_text - 1);
    long_text[sizeof long_text - 1] = '\0';
    const char *const texts[] = {
        "O'Brien \"quoted\" `ticks` \\ back",
        "'; DROP TABLE bow_statement; --",
        "Robert'); DELETE FROM capture WHERE ('1'='1",
        "%_*?[a-z]",
        bytes,
        long_text,
        "\xE2\x80\xAE\xD7\xA7\xD7\xA9\xD7\xAA \xD9\x82\xD9\x88\xD8\xB3", /* right to left */
        "\xF0\x9F\x8F\xB9\xF0\x9F\x8E\xAF",                              /* bow and target */
        "\xFF\xFE\x80 not UTF-8 \xC3",
        "line\nfeed\ttab\r\x1B[31mred",
        "=cmd|' /C calc'!A0",
    };
    struct record *record = scratch_open();
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct record_bow bow = named(texts[i]), found;
        bow.owner = bow.serial = bow.note = bow.name;
        check_ok(record_bow_add(record, &bow, &err));
        check_ok(record_bow_find(record, texts[i], &found, &err));
        assert_string_equal(found.name, texts[i]);
        assert_string_equal(found.owner, texts[i]);
        assert_string_equal(found.serial, texts[i]);
        assert_string_equal(found.note, texts[i]);
        record_bow_clear(&found);
        struct record_capture capture = {.bench = bow.name, .note = bow.name};
        memcpy(capture.bow_key, bow.key, sizeof bow.key);
        check_ok(record_capture_begin(record, &capture, &err));
        check_ok(record_capture_find(record, "last", &capture, &err));
        assert_string_equal(capture.bench, texts[i]);
        assert_string_equal(capture.note, texts[i]);
        assert_string_equal(capture.bow_name, texts[i]);
        record_capture_clear(&capture);
    }
    record_close(record);
}

/* Pairs from the Unicode Character Database, CaseFolding.txt (status C), from memory. */
static void case_is_taken_from_latin_greek_and_cyrillic(void **state)
{
    (void)state;
    static const char *const pairs[][2] = {
        {"ABCXYZ", "abcxyz"},         {"ÀÖØÞ", "àöøþ"},
        {"ĀĶĹŇŊŶŸŹŽ", "āķĺňŋŷÿźž"},   {"ΑΡΣΩ", "αρσω"},
        {"ЀЏАЯҐ", "ѐџаяґ"},           {"×÷ß1ſ", "×÷ß1ſ"},
        {"漢字🏹", "漢字🏹"}, {"\xFFZ\x80", "\xFFz\x80"},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        struct buf folded = {0};
        fold_case(&folded, pairs[i][0]);
        assert_string_equal(buf_string(&folded), pairs[i][1]);
        buf_clear(&folded);
    }
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, scratch_make, scratch_remove)
    const struct CMUnitTest tests[] = {
        TEST(a_bow_comes_back_with_all_that_is_known),
        TEST(what_is_not_known_stays_not_known),
        TEST(a_newer_statement_does_not_remove_the_older_one),
        TEST(a_bow_may_get_another_name),
        TEST(a_name_belongs_to_one_bow_in_use),
        TEST(a_retired_bow_is_found_by_key_or_exact_name),
        TEST(a_bow_is_found_by_part_of_its_name_whatever_the_case),
        TEST(a_bow_is_found_by_the_beginning_of_its_key),
        TEST(bows_are_listed_by_name_with_part_of_name_owner_or_serial),
        TEST(what_is_no_bow_is_refused),
        TEST(hostile_text_comes_back_exactly),
        TEST(case_is_taken_from_latin_greek_and_cyrillic),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
