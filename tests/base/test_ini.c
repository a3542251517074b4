/* Settings files: what they hold, and faults that point at file and line. */
#include "base/buf.h"
#include "base/ini.h"
#include "base/mem.h"
#include "check.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char path[] = "/tmp/pullcurve-ini-XXXXXX";
static struct err err;

static int make_file(void **state)
{
    (void)state;
    int fd = mkstemp(path);
    return fd >= 0 ? close(fd) : -1;
}

static int remove_file(void **state)
{
    (void)state;
    return unlink(path);
}

static enum status open_bytes(struct ini **ini, const char *bytes, size_t length)
{
    struct buf file = {0};
    buf_add(&file, bytes, length);
    check_ok(buf_write_file(&file, path, &err));
    buf_clear(&file);
    return ini_open(ini, path, &err);
}

static struct ini *open_good(const char *text)
{
    struct ini *ini;
    check_ok(open_bytes(&ini, text, strlen(text)));
    return ini;
}

/* The message begins with "FILE:LINE: " (or "FILE: " for line 0) and holds `part`. */
static void check_message(size_t line, const char *part)
{
    char begin[64];
    if (line > 0)
        (void)snprintf(begin, sizeof begin, "%s:%zu: ", path, line);
    else
        (void)snprintf(begin, sizeof begin, "%s: ", path);
    if (strncmp(err.text, begin, strlen(begin)) != 0 || strstr(err.text, part) == NULL)
        fail_msg("expected '%s...%s...', got '%s'", begin, part, err.text);
}

static void check_not_opened(const char *text, size_t line, const char *part)
{
    struct ini *ini;
    assert_int_equal(open_bytes(&ini, text, strlen(text)), STATUS_BAD_INPUT);
    assert_null(ini);
    check_message(line, part);
}

static void keys_are_found_by_section_and_name(void **state)
{
    (void)state;
    struct ini *ini = open_good("; the shop's bench\n"
                                "[bench]\n"
                                "name = Hollow Oak\n"
                                "\n"
                                "# a remark\n"
                                "[force]\n"
                                "name=cell  ; behind the value\n"
                                "empty =\n");
    assert_string_equal(ini_text(ini, "bench", "name"), "Hollow Oak");
    assert_string_equal(ini_text(ini, "force", "name"), "cell");
    assert_string_equal(ini_text(ini, "force", "empty"), "");
    assert_null(ini_text(ini, "force", "port"));
    assert_null(ini_text(ini, "travel", "name"));
    assert_true(ini_has_section(ini, "force"));
    assert_false(ini_has_section(ini, "travel"));
    ini_close(ini);
}

static void each_key_knows_its_line(void **state)
{
    (void)state;
    struct ini *ini = open_good("\n[a]\nx = 1\n\n; remark\n[b]\nx = 2\n");
    assert_int_equal(ini_line(ini, "a", "x"), 3);
    assert_int_equal(ini_line(ini, "b", "x"), 7);
    assert_int_equal(ini_line(ini, "b", "y"), 0);
    ini_close(ini);
}

static void files_of_other_systems_are_read(void **state)
{
    (void)state;
    struct ini *ini = open_good("\xEF\xBB\xBF[bench]\r\nname = Hollow Oak\r\nport = /dev/tty1");
    assert_string_equal(ini_text(ini, "bench", "name"), "Hollow Oak");
    assert_string_equal(ini_text(ini, "bench", "port"), "/dev/tty1");
    ini_close(ini);
}

static void an_empty_file_holds_nothing(void **state)
{
    (void)state;
    struct ini *ini = open_good("");
    assert_false(ini_has_section(ini, "bench"));
    check_ok(ini_check_all_known(ini, &err));
    ini_close(ini);
    ini_close(NULL);
}

static void a_line_that_begins_with_a_blank_goes_on_with_the_one_before(void **state)
{
    (void)state;
    struct ini *ini = open_good("[force]\nloads = 0, 10,\n    20, 30\nnext = 1\n");
    double *loads;
    size_t n;
    check_ok(ini_list(ini, "force", "loads", &loads, &n, &err));
    assert_int_equal(n, 4);
    check_near(loads[3], 30, 0.0);
    assert_int_equal(ini_line(ini, "force", "next"), 4);
    free(loads);
    ini_close(ini);
}

static void faults_of_the_form_are_told_by_their_line(void **state)
{
    (void)state;
    check_not_opened("[a]\nx = 1\nthis is no setting\n", 3, "is neither");
    check_not_opened("x = 1\n[a]\n", 1, "before the first [section]");
    check_not_opened("[a]\nx = 1\n[b]\n[a]\nx = 2\n", 5, "stands in line 2 already");
    check_not_opened("[a\nx = 1\n", 1, "is neither");
    check_not_opened("[a]\nx = 1\nna\xEFme = 2\n", 0, "is not UTF-8");
}

static void a_line_that_is_too_long_is_told_and_not_cut(void **state)
{
    (void)state;
    struct buf text = {0};
    buf_text(&text, "[a]\nx = ");
    for (int i = 0; i < 5000; i++)
        buf_char(&text, '1');
    struct ini *ini;
    assert_int_equal(open_bytes(&ini, text.text, text.length), STATUS_BAD_INPUT);
    check_message(2, "longer than");
    buf_clear(&text);
}

static void a_file_that_is_no_text_is_refused(void **state)
{
    (void)state;
    struct ini *ini;
    assert_int_equal(open_bytes(&ini, "[a]\nx = 1\0\n", 11), STATUS_BAD_INPUT);
    check_message(0, "is not UTF-8 text");
    assert_int_equal(ini_open(&ini, "/nonexistent/bench.ini", &err), STATUS_NO_INPUT);
    assert_null(ini);
}

static void quantities_come_in_si_with_their_unit_or_the_assumed_one(void **state)
{
    (void)state;
    struct ini *ini = open_good("[guard]\nforce = 90\ntravel = 34 in\nbrace = 180 mm\n");
    double value = 0;
    check_ok(
        ini_quantity(ini, "guard", "force", QUANTITY_FORCE, UNIT_LBF, 0, 1e4, NAN, &value, &err));
    check_near(value, 90 * 4.4482216152605, 1e-12);
    check_ok(
        ini_quantity(ini, "guard", "travel", QUANTITY_LENGTH, UNIT_MM, 0, 2, NAN, &value, &err));
    check_near(value, 0.8636, 1e-15);
    check_ok(
        ini_quantity(ini, "guard", "speed", QUANTITY_SPEED, UNIT_M_PER_S, 0, 2, 0.5, &value, &err));
    check_near(value, 0.5, 0.0);
    ini_close(ini);
}

static void a_quantity_that_does_not_fit_is_told_by_its_line_and_left_alone(void **state)
{
    (void)state;
    struct ini *ini = open_good("[guard]\nforce = strong\nbrace = 7 lbf\ntravel = 99 in\n");
    double value = 42;
    static const struct {
        const char *key;
        size_t line;
        const char *part;
    } row[] = {{"force", 2, "[guard] force: "},
               {"brace", 3, "'lbf'"},
               {"travel", 4, "'99 in' is outside of 0 to 40 in"},
               {"missing", 0, "[guard] missing: is missing and needed"}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        assert_int_equal(ini_quantity(ini, "guard", row[i].key, QUANTITY_LENGTH, UNIT_IN, 0,
                                      40 * 0.0254, NAN, &value, &err),
                         STATUS_BAD_INPUT);
        check_message(row[i].line, row[i].part);
        check_near(value, 42, 0.0);
    }
    ini_close(ini);
}

static void a_quantity_beyond_an_open_range_is_told_too(void **state)
{
    (void)state;
    struct ini *ini = open_good("[a]\nx = -1\n");
    double value = 42;
    assert_int_equal(
        ini_quantity(ini, "a", "x", QUANTITY_LENGTH, UNIT_IN, 0, INFINITY, NAN, &value, &err),
        STATUS_BAD_INPUT);
    check_message(2, "[a] x: '-1' is below 0 in");
    ini_close(ini);
}

static void whole_numbers_keep_their_range(void **state)
{
    (void)state;
    struct ini *ini = open_good("[serial]\nbaud = 115200\nbits = 8.0\nstop = 3\n");
    int64_t value = 42;
    check_ok(ini_int(ini, "serial", "baud", 1200, 1000000, 9600, &value, &err));
    assert_int_equal(value, 115200);
    check_ok(ini_int(ini, "serial", "flow", 0, 1, 0, &value, &err));
    assert_int_equal(value, 0);
    assert_int_equal(ini_int(ini, "serial", "bits", 7, 8, 8, &value, &err), STATUS_BAD_INPUT);
    check_message(3, "'8.0' is not a whole number");
    assert_int_equal(ini_int(ini, "serial", "stop", 1, 2, 1, &value, &err), STATUS_BAD_INPUT);
    check_message(4, "'3' is outside of 1 to 2");
    assert_int_equal(value, 0);
    ini_close(ini);
}

static void lists_are_split_at_commas_and_blanks(void **state)
{
    (void)state;
    struct ini *ini = open_good("[a]\nx = 1, 2.5  -3e2,4\nempty =\nbad = 1, two, 3\nglued = 1;2\n");
    double *values;
    size_t n;
    check_ok(ini_list(ini, "a", "x", &values, &n, &err));
    assert_int_equal(n, 4);
    static const double expected[] = {1, 2.5, -300, 4};
    for (size_t i = 0; i < n; i++)
        check_near(values[i], expected[i], 0.0);
    free(values);
    check_ok(ini_list(ini, "a", "empty", &values, &n, &err));
    assert_int_equal(n, 0);
    free(values);
    check_ok(ini_list(ini, "a", "none", &values, &n, &err));
    assert_null(values);
    assert_int_equal(ini_list(ini, "a", "bad", &values, &n, &err), STATUS_BAD_INPUT);
    check_message(4, "'two' is not a number");
    assert_int_equal(ini_list(ini, "a", "glued", &values, &n, &err), STATUS_BAD_INPUT);
    check_message(5, "'1;2'");
    ini_close(ini);
}

static void a_misspelt_key_is_told(void **state)
{
    (void)state;
    struct ini *ini = open_good("[a]\nx = 1\n[b]\ncolour = 2\n");
    assert_non_null(ini_text(ini, "a", "x"));
    assert_null(ini_text(ini, "b", "color"));
    assert_int_equal(ini_check_all_known(ini, &err), STATUS_BAD_INPUT);
    check_message(4, "[b] colour");
    assert_non_null(ini_text(ini, "b", "colour"));
    check_ok(ini_check_all_known(ini, &err));
    ini_close(ini);
}

static void a_readers_own_fault_points_at_the_line(void **state)
{
    (void)state;
    struct ini *ini = open_good("[a]\nx = 1\n");
    assert_int_equal(ini_fault(ini, "a", "x", &err, "must be below %s", "y"), STATUS_BAD_INPUT);
    check_message(2, "[a] x: must be below y");
    assert_int_equal(ini_fault(ini, "a", "z", &err, "is missing"), STATUS_BAD_INPUT);
    check_message(0, "[a] z: is missing");
    ini_close(ini);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keys_are_found_by_section_and_name),
        cmocka_unit_test(each_key_knows_its_line),
        cmocka_unit_test(files_of_other_systems_are_read),
        cmocka_unit_test(an_empty_file_holds_nothing),
        cmocka_unit_test(a_line_that_begins_with_a_blank_goes_on_with_the_one_before),
        cmocka_unit_test(faults_of_the_form_are_told_by_their_line),
        cmocka_unit_test(a_line_that_is_too_long_is_told_and_not_cut),
        cmocka_unit_test(a_file_that_is_no_text_is_refused),
        cmocka_unit_test(quantities_come_in_si_with_their_unit_or_the_assumed_one),
        cmocka_unit_test(a_quantity_that_does_not_fit_is_told_by_its_line_and_left_alone),
        cmocka_unit_test(a_quantity_beyond_an_open_range_is_told_too),
        cmocka_unit_test(whole_numbers_keep_their_range),
        cmocka_unit_test(lists_are_split_at_commas_and_blanks),
        cmocka_unit_test(a_misspelt_key_is_told),
        cmocka_unit_test(a_readers_own_fault_points_at_the_line),
    };
    return cmocka_run_group_tests(tests, make_file, remove_file);
}
