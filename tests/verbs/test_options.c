/* A verb's command line: what is accepted, what is refused, and in which words. */
#include "check.h"
#include "verbs/help.h"
#include "verbs/options.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const struct option_spec spec[] = {
    {"bench", "FILE", "the bench"},
    {"brace", "LENGTH", "brace height"},
    {"note", "TEXT", "may be given several times"},
    {"speed-up", "N", "how many times faster"},
    {"json", NULL, "a flag"},
    {"record", "FILE", "the record"},
    {NULL, NULL, NULL},
};

static const struct verb example = {.name = "example",
                                    .operands = "FILE [FILE]",
                                    .summary = "an example",
                                    .description = "Only for the tests.",
                                    .spec = spec,
                                    .operands_min = 0,
                                    .operands_max = 2};

static const struct option_spec no_spec[] = {{NULL, NULL, NULL}};
static const struct verb bare = {
    .name = "bare", .operands = "", .description = "", .spec = no_spec};

static struct err err;

enum { MOST_WORDS = 16 };

/* Opens `words` (ends with NULL), which follow the verb's name. */
static enum status open_words(struct options **options, const struct verb *verb,
                              const char *const *words)
{
    char *argv[MOST_WORDS] = {(char *)(uintptr_t)verb->name};
    int argc = 1;
    while (*words != NULL)
        argv[argc++] = (char *)(uintptr_t)*words++;
    return options_open(options, verb, argc, argv, &err);
}

#define WORDS(...) ((const char *[]){__VA_ARGS__, NULL})

static void check_refused(const struct verb *verb, const char *const *words, const char *part)
{
    struct options *options;
    assert_int_equal(open_words(&options, verb, words), STATUS_USAGE);
    assert_null(options);
    if (strstr(err.text, part) == NULL)
        print_error("'%s' is not in: %s\n", part, err.text);
    assert_non_null(strstr(err.text, part));
}

static void nothing_given_gives_what_is_stated_for_absent(void **state)
{
    (void)state;
    struct options *options;
    check_ok(open_words(&options, &example, (const char *[]){NULL}));
    double brace_m;
    int64_t speed_up;

    assert_false(options_has(options, "json"));
    assert_string_equal(options_text(options, "bench", "none"), "none");
    assert_null(options_text(options, "bench", NULL));
    check_ok(options_quantity(options, "brace", QUANTITY_LENGTH, UNIT_IN, 0.0, 1.0, 0.17, &brace_m,
                              &err));
    check_near(brace_m, 0.17, 0.0);
    check_ok(options_int(options, "speed-up", 1, 100, 7, &speed_up, &err));
    assert_int_equal(speed_up, 7);
    assert_int_equal(options_n_operands(options), 0);
    options_close(options);
}

static void options_and_operands_stand_in_any_order(void **state)
{
    (void)state;
    struct options *options;
    check_ok(open_words(&options, &example,
                        WORDS("a.csv", "--json", "--bench=b.ini", "b.csv", "--speed-up", "20")));
    int64_t speed_up;

    assert_true(options_has(options, "json"));
    assert_string_equal(options_text(options, "bench", NULL), "b.ini");
    check_ok(options_int(options, "speed-up", 1, 100, 1, &speed_up, &err));
    assert_int_equal(speed_up, 20);
    assert_int_equal(options_n_operands(options), 2);
    assert_string_equal(options_operand(options, 0), "a.csv");
    assert_string_equal(options_operand(options, 1), "b.csv");
    options_close(options);
}

static void behind_two_dashes_everything_is_an_operand(void **state)
{
    (void)state;
    struct options *options;
    check_ok(open_words(&options, &example, WORDS("--", "--json", "-")));

    assert_false(options_has(options, "json"));
    assert_string_equal(options_operand(options, 0), "--json");
    assert_string_equal(options_operand(options, 1), "-");
    options_close(options);
}

static void an_option_given_again_is_counted_and_its_last_argument_holds(void **state)
{
    (void)state;
    struct options *options;
    check_ok(open_words(&options, &example,
                        WORDS("--note", "one", "--json", "--note=", "--note", "--three")));

    assert_int_equal(options_count(options, "note"), 3);
    assert_string_equal(options_nth(options, "note", 0), "one");
    assert_string_equal(options_nth(options, "note", 1), "");
    assert_string_equal(options_nth(options, "note", 2), "--three");
    assert_string_equal(options_text(options, "note", NULL), "--three");
    options_close(options);
}

static void a_quantity_may_carry_its_unit(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double m;
    } row[] = {{"7", 7 * 0.0254}, {"7in", 7 * 0.0254}, {"7.25 IN", 7.25 * 0.0254}, {"180 mm", 0.18},
               {"18cm", 0.18},    {" 0.18 m ", 0.18},  {"+7", 7 * 0.0254}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct options *options;
        double m = -1;
        check_ok(open_words(&options, &example, WORDS("--brace", row[i].text)));
        check_ok(
            options_quantity(options, "brace", QUANTITY_LENGTH, UNIT_IN, 0.0, 1.0, NAN, &m, &err));
        check_near(m, row[i].m, 1e-15);
        options_close(options);
    }
}

static void a_quantity_that_does_not_fit_is_refused_and_left_alone(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double low_m, high_m;
        const char *part;
    } row[] = {
        {"tall", 0, 1, "--brace: 'tall' is not a number"},
        {"", 0, 1, "is not a number"},
        {"nan", 0, 1, "is not a number"},
        {"1e999", 0, 1, "is not a number"},
        {"7 lbf", 0, 1, "'lbf' in '7 lbf' is not a unit that fits here"},
        {"7 in in", 0, 1, "is not a unit"},
        {"90", 0.0508, 0.3048, "--brace: '90' is outside of 2 to 12 in"},
        {"-1", 0, INFINITY, "--brace: '-1' is below 0 in"},
        {"13", -INFINITY, 0.3048, "--brace: '13' is above 12 in"},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct options *options;
        double m = 42;
        check_ok(open_words(&options, &example, WORDS("--brace", row[i].text)));
        assert_int_equal(options_quantity(options, "brace", QUANTITY_LENGTH, UNIT_IN, row[i].low_m,
                                          row[i].high_m, NAN, &m, &err),
                         STATUS_USAGE);
        if (strstr(err.text, row[i].part) == NULL)
            fail_msg("'%s' is not in: %s", row[i].part, err.text);
        check_near(m, 42, 0.0);
        options_close(options);
    }
}

static void a_whole_number_that_does_not_fit_is_refused_and_left_alone(void **state)
{
    (void)state;
    static const char *const text[] = {"0", "101", "1.5", "", "ten", "99999999999999999999", "5x"};
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
        struct options *options;
        int64_t n = 42;
        check_ok(open_words(&options, &example, WORDS("--speed-up", text[i])));
        assert_int_equal(options_int(options, "speed-up", 1, 100, 1, &n, &err), STATUS_USAGE);
        assert_non_null(strstr(err.text, "--speed-up: '"));
        assert_int_equal(n, 42);
        options_close(options);
    }
}

static void what_is_wrong_is_refused_with_its_reason(void **state)
{
    (void)state;
    check_refused(&example, WORDS("--benhc", "x"), "no option '--benhc'");
    check_refused(&example, WORDS("--benhc=x"), "is --bench meant?");
    check_refused(&example, WORDS("--elephant"), "no option '--elephant'");
    check_refused(&example, WORDS("--b", "x"), "no option '--b' (or it is cut too short)");
    check_refused(&example, WORDS("-x"), "no option -x");
    check_refused(&example, WORDS("--bench"), "--bench needs FILE behind it");
    check_refused(&example, WORDS("--json=yes"), "--json takes no argument");
    check_refused(&example, WORDS("--help=yes"), "--help takes no argument");
    check_refused(&example, WORDS("a", "b", "c"), "'c' is too much");
    check_refused(&bare, WORDS("a"), "'a' is too much: only options stand behind bare");
}

static void too_few_operands_are_refused(void **state)
{
    (void)state;
    struct verb needy = example;
    needy.operands_min = 1;
    check_refused(&needy, (const char *[]){NULL}, "missing behind example: FILE [FILE]");
    check_refused(&needy, WORDS("--json"), "missing behind example");
}

static void help_is_an_option_of_every_verb_and_needs_no_operands(void **state)
{
    (void)state;
    struct verb needy = example;
    needy.operands_min = 1;
    struct options *options;
    check_ok(open_words(&options, &needy, WORDS("--help")));
    assert_true(options_wants_help(options));
    options_close(options);
    check_ok(open_words(&options, &bare, (const char *[]){NULL}));
    assert_false(options_wants_help(options));
    options_close(options);
    options_close(NULL);
}

/* --- where the record is ----------------------------------------------------------------- */

static char folder[] = "/tmp/pullcurve-options-XXXXXX";

static void check_path(const struct verb *verb, const char *const *words, const char *expected)
{
    struct options *options;
    char *path;
    check_ok(open_words(&options, verb, words));
    check_ok(options_record_path(options, &path, &err));
    assert_string_equal(path, expected);
    free(path);
    options_close(options);
}

static void the_record_is_named_by_option_then_environment_then_home(void **state)
{
    (void)state;
    char expected[128];
    setenv("PULLCURVE_RECORD", "/env/shop.db", 1);
    setenv("XDG_DATA_HOME", folder, 1);
    setenv("HOME", folder, 1);

    check_path(&example, WORDS("--record", "mine.db"), "mine.db");
    check_path(&example, (const char *[]){NULL}, "/env/shop.db");
    check_path(&bare, (const char *[]){NULL}, "/env/shop.db");
    setenv("PULLCURVE_RECORD", "", 1);
    (void)snprintf(expected, sizeof expected, "%s/pullcurve/record.db", folder);
    check_path(&example, (const char *[]){NULL}, expected);
    unsetenv("PULLCURVE_RECORD");
    setenv("XDG_DATA_HOME", "relative", 1); /* the specification: to be ignored */
    (void)snprintf(expected, sizeof expected, "%s/.local/share/pullcurve/record.db", folder);
    check_path(&example, (const char *[]){NULL}, expected);
    unsetenv("XDG_DATA_HOME");
    check_path(&example, (const char *[]){NULL}, expected);
}

static void the_folder_of_the_default_record_is_made_for_its_owner_alone(void **state)
{
    (void)state;
    char path_of_folder[128];
    struct stat about;
    unsetenv("PULLCURVE_RECORD");
    unsetenv("XDG_DATA_HOME");
    setenv("HOME", folder, 1);
    (void)snprintf(path_of_folder, sizeof path_of_folder, "%s/.local/share/pullcurve", folder);

    struct options *options;
    char *path;
    check_ok(open_words(&options, &example, (const char *[]){NULL}));
    check_ok(options_record_path(options, &path, &err));

    assert_int_equal(stat(path_of_folder, &about), 0);
    assert_true(S_ISDIR(about.st_mode));
    assert_int_equal(about.st_mode & 0777, 0700);
    assert_int_not_equal(access(path, F_OK), 0);
    free(path);
    options_close(options);
}

static void without_a_home_the_record_must_be_named(void **state)
{
    (void)state;
    unsetenv("PULLCURVE_RECORD");
    unsetenv("XDG_DATA_HOME");
    unsetenv("HOME");
    struct options *options;
    char *path;
    check_ok(open_words(&options, &example, (const char *[]){NULL}));
    assert_int_equal(options_record_path(options, &path, &err), STATUS_USAGE);
    assert_null(path);
    assert_non_null(strstr(err.text, "--record"));
    setenv("HOME", "/dev/null", 1);
    assert_int_equal(options_record_path(options, &path, &err), STATUS_CANT_WRITE);
    assert_null(path);
    options_close(options);
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) != NULL ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    char command_path[128];
    static const char *const inner[] = {"/pullcurve", "/.local/share/pullcurve", "/.local/share",
                                        "/.local", ""};
    for (size_t i = 0; i < sizeof inner / sizeof inner[0]; i++) {
        (void)snprintf(command_path, sizeof command_path, "%s%s", folder, inner[i]);
        (void)rmdir(command_path);
    }
    return access(folder, F_OK) == 0 ? -1 : 0;
}

/* --- help -------------------------------------------------------------------------------- */

static void help_names_each_option_with_its_argument_in_80_columns(void **state)
{
    (void)state;
    static const struct option_spec long_spec[] = {
        {"known-loads", "LIST",
         "loads in lbf, separated by commas, which the simulated bench hangs on its cell one after "
         "the other, up and down again"},
        {"a-very-long-name-of-an-option", "ARGUMENT", "short"},
        {NULL, NULL, NULL}};
    struct verb wordy = example;
    wordy.spec = long_spec;
    struct buf text = {0};
    help_verb(&text, &wordy);

    assert_non_null(strstr(buf_string(&text), "usage: pullcurve example [options] FILE [FILE]\n"));
    assert_non_null(strstr(buf_string(&text), "\n  --known-loads LIST      loads in lbf,"));
    assert_non_null(strstr(buf_string(&text), "\n  --a-very-long-name-of-an-option ARGUMENT\n"
                                              "                          short\n"));
    assert_non_null(strstr(buf_string(&text), "\n  --help "));
    for (const char *line = buf_string(&text); *line != '\0';) {
        size_t length = strcspn(line, "\n");
        assert_in_range(length, 0, 80);
        line += length + (line[length] == '\n');
    }
    buf_clear(&text);
}

static void a_description_is_wrapped_paragraph_by_paragraph(void **state)
{
    (void)state;
    struct verb told = example;
    told.description = "One line that its writer\nhas broken.\n\nAnother paragraph.\n";
    struct buf text = {0};
    help_verb(&text, &told);
    assert_non_null(strstr(buf_string(&text), "\n\nOne line that its writer has broken.\n\n"
                                              "Another paragraph.\n\nOptions:\n"));
    buf_clear(&text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_given_gives_what_is_stated_for_absent),
        cmocka_unit_test(options_and_operands_stand_in_any_order),
        cmocka_unit_test(behind_two_dashes_everything_is_an_operand),
        cmocka_unit_test(an_option_given_again_is_counted_and_its_last_argument_holds),
        cmocka_unit_test(a_quantity_may_carry_its_unit),
        cmocka_unit_test(a_quantity_that_does_not_fit_is_refused_and_left_alone),
        cmocka_unit_test(a_whole_number_that_does_not_fit_is_refused_and_left_alone),
        cmocka_unit_test(what_is_wrong_is_refused_with_its_reason),
        cmocka_unit_test(too_few_operands_are_refused),
        cmocka_unit_test(help_is_an_option_of_every_verb_and_needs_no_operands),
        cmocka_unit_test(the_record_is_named_by_option_then_environment_then_home),
        cmocka_unit_test(the_folder_of_the_default_record_is_made_for_its_owner_alone),
        cmocka_unit_test(without_a_home_the_record_must_be_named),
        cmocka_unit_test(help_names_each_option_with_its_argument_in_80_columns),
        cmocka_unit_test(a_description_is_wrapped_paragraph_by_paragraph),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
