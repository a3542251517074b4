/* The program as a whole: help, version, faults, exit codes, and a manual that is complete. */
#include "base/buf.h"
#include "base/mem.h"
#include "check.h"
#include "run.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_VERBS = 30 };

/* The verbs that `pullcurve help` lists, read once before all tests. */
static char *verbs[MOST_VERBS];
static size_t n_verbs;

static struct err err;

/* Runs the program with `arguments` as a shell reads them; what it prints is in *out. */
static int run_program(struct buf *out, const char *arguments)
{
    struct buf command = {0};
    assert_non_null(getenv("PULLCURVE"));
    buf_printf(&command, "\"$PULLCURVE\" %s", arguments);
    buf_clear(out);
    int code = run_command(out, buf_string(&command));
    buf_clear(&command);
    return code;
}

static void check_holds(const struct buf *text, const char *part)
{
    if (strstr(buf_string(text), part) == NULL)
        fail_msg("'%s' is not in: %s", part, buf_string(text));
}

static void the_version_is_told(void **state)
{
    (void)state;
    struct buf out = {0};
    assert_int_equal(run_program(&out, "--version"), 0);
    assert_int_equal(strncmp(buf_string(&out), "pullcurve " PULLCURVE_VERSION "\n", 14), 0);
    check_holds(&out, "GPL-3.0-or-later");
    buf_clear(&out);
}

static int read_verbs(void **state)
{
    (void)state;
    struct buf out = {0};
    const char *at = run_program(&out, "help") == 0 ? strstr(buf_string(&out), "Verbs:\n") : NULL;
    for (; at != NULL && n_verbs < MOST_VERBS; at = strchr(at, '\n')) {
        at += strspn(at, "Verbs:\n");
        size_t length = strcspn(at + 2, " ");
        if (strncmp(at, "  ", 2) != 0)
            break;
        if (length > 0)
            verbs[n_verbs++] = mem_strndup(at + 2, length);
    }
    buf_clear(&out);
    return 0;
}

static int free_verbs(void **state)
{
    (void)state;
    while (n_verbs > 0)
        free(verbs[--n_verbs]);
    return 0;
}

static void check_80_columns(const char *what, const struct buf *text)
{
    for (const char *line = buf_string(text); *line != '\0';) {
        size_t length = strcspn(line, "\n");
        if (length > 80)
            fail_msg("help %s: longer than 80: %.*s", what, (int)length, line);
        line += length + (line[length] == '\n');
    }
}

static void help_lists_every_verb(void **state)
{
    (void)state;
    static const char *const promised[] = {"bow",     "calibrate", "capture", "measure", "verify",
                                           "history", "import",    "export",  "simulate"};
    struct buf out = {0}, again = {0};
    assert_int_equal(run_program(&out, "help"), 0);
    assert_true(n_verbs >= sizeof promised / sizeof promised[0]);
    for (size_t i = 0; i < sizeof promised / sizeof promised[0]; i++) {
        char line[40];
        (void)snprintf(line, sizeof line, "\n  %s ", promised[i]);
        check_holds(&out, line);
    }
    check_80_columns("", &out);
    assert_int_equal(run_program(&again, "--help"), 0);
    assert_string_equal(buf_string(&out), buf_string(&again));
    buf_clear(&out);
    buf_clear(&again);
}

static void each_verb_has_its_help_in_80_columns(void **state)
{
    (void)state;
    for (size_t i = 0; i < n_verbs; i++) {
        struct buf out = {0}, again = {0};
        char arguments[64], usage[64];
        (void)snprintf(arguments, sizeof arguments, "help %s", verbs[i]);
        assert_int_equal(run_program(&out, arguments), 0);
        (void)snprintf(usage, sizeof usage, "usage: pullcurve %s [options]", verbs[i]);
        check_holds(&out, usage);
        (void)snprintf(arguments, sizeof arguments, "%s --help", verbs[i]);
        assert_int_equal(run_program(&again, arguments), 0);
        assert_string_equal(buf_string(&out), buf_string(&again));
        check_80_columns(verbs[i], &out);
        buf_clear(&out);
        buf_clear(&again);
    }
}

static void wrong_usage_ends_with_64_and_says_where_to_look(void **state)
{
    (void)state;
    static const struct {
        const char *arguments, *part;
    } row[] = {
        {"2>&1 >/dev/null", "pullcurve: a verb is needed\n`pullcurve help` tells"},
        {"mesure 2>&1 >/dev/null", "there is no verb 'mesure'; is 'measure' meant?"},
        {"elephant 2>&1 >/dev/null", "`pullcurve help` lists them"},
        {"help elephant 2>&1 >/dev/null", "there is no verb 'elephant'"},
        {"help bow bow 2>&1 >/dev/null", "one verb at most"},
        {"measure --elephant 2>&1 >/dev/null", "pullcurve measure: there is no option"},
        {"measure --elephant 2>&1 >/dev/null", "`pullcurve help measure` tells"},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct buf out = {0};
        assert_int_equal(run_program(&out, row[i].arguments), 64);
        check_holds(&out, row[i].part);
        buf_clear(&out);
    }
}

static void what_was_typed_does_not_act_on_the_terminal(void **state)
{
    (void)state;
    struct buf out = {0};
    assert_int_equal(run_program(&out, "\"$(printf '\\033[31mred\\007')\" 2>&1"), 64);
    check_holds(&out, "[31mred");
    assert_null(strchr(buf_string(&out), '\033'));
    assert_null(strchr(buf_string(&out), '\007'));
    buf_clear(&out);
}

static void output_that_cannot_be_written_ends_with_73(void **state)
{
    (void)state;
    struct buf out = {0};
    assert_int_equal(run_program(&out, "help 2>&1 >/dev/full"), 73);
    check_holds(&out, "standard output");
    assert_int_equal(run_program(&out, "help 2>&1 >&-"), 73);
    assert_int_equal(run_program(&out, "help 2>&1 | true"), 0); /* the exit code is that of true */
    buf_clear(&out);
}

static void input_that_is_not_there_ends_with_66(void **state)
{
    (void)state;
    struct buf out = {0};
    assert_int_equal(run_program(&out, "measure /nonexistent/pull.csv 2>&1"), 66);
    check_holds(&out, "/nonexistent/pull.csv");
    buf_clear(&out);
}

/* --- the manual --------------------------------------------------------------------------- */

/* The part of the manual about a verb: from its ".Ss VERB" to the next ".S". */
static void section_of_manual(struct buf *out, const char *verb)
{
    struct buf manual = {0}, path = {0};
    char title[40];
    buf_printf(&path, "%s/docs/pullcurve.1", source_root());
    check_ok(buf_read_file(&manual, buf_string(&path), &err));
    (void)snprintf(title, sizeof title, "\n.Ss %s\n", verb);
    const char *begin = strstr(buf_string(&manual), title);
    if (begin == NULL)
        fail_msg("docs/pullcurve.1 has no section '.Ss %s'", verb);
    begin += strlen(title);
    const char *end = strstr(begin, "\n.S");
    buf_add(out, begin, end != NULL ? (size_t)(end + 1 - begin) : strlen(begin));
    buf_clear(&manual);
    buf_clear(&path);
}

/* Does `text` hold a line that is `begin` and the option's name, and then a blank or its end? */
static bool has_option(const struct buf *text, const char *begin, const char *name, size_t length)
{
    struct buf wanted = {0};
    bool found = false;
    buf_printf(&wanted, "\n%s%.*s", begin, (int)length, name);
    for (const char *at = buf_string(text); (at = strstr(at, wanted.text)) != NULL && !found;) {
        at += wanted.length;
        found = *at == ' ' || *at == '\n';
    }
    buf_clear(&wanted);
    return found;
}

/* Every option that `here` lists behind `here_begin` must be listed by `there` too. */
static void check_options(const char *verb, const struct buf *here, const char *here_begin,
                          const struct buf *there, const char *there_begin)
{
    struct buf begin = {0};
    buf_printf(&begin, "\n%s", here_begin);
    for (const char *at = buf_string(here); (at = strstr(at, begin.text)) != NULL;) {
        at += begin.length;
        size_t length = strcspn(at, " \n");
        if (strncmp(at, "help", length) != 0 && !has_option(there, there_begin, at, length))
            fail_msg("%s: --%.*s is not in both help and manual; `make manual` mends it", verb,
                     (int)length, at);
    }
    buf_clear(&begin);
}

static void the_manual_has_each_verb_with_just_its_options(void **state)
{
    (void)state;
    for (size_t i = 0; i < n_verbs; i++) {
        struct buf help = {0}, manual = {0};
        char arguments[64];
        (void)snprintf(arguments, sizeof arguments, "help %s", verbs[i]);
        assert_int_equal(run_program(&help, arguments), 0);
        section_of_manual(&manual, verbs[i]);
        check_options(verbs[i], &help, "  --", &manual, ".It Fl -");
        check_options(verbs[i], &manual, ".It Fl -", &help, "  --");
        buf_clear(&help);
        buf_clear(&manual);
    }
}

static void the_manual_reads_without_a_complaint(void **state)
{
    (void)state;
    struct buf out = {0}, command = {0};
    buf_printf(&command, "mandoc -Tlint -W style '%s/docs/pullcurve.1'", source_root());
    if (run_command(&out, buf_string(&command)) != 0)
        fail_msg("%s", buf_string(&out));
    buf_clear(&out);
    buf_clear(&command);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_version_is_told),
        cmocka_unit_test(help_lists_every_verb),
        cmocka_unit_test(each_verb_has_its_help_in_80_columns),
        cmocka_unit_test(wrong_usage_ends_with_64_and_says_where_to_look),
        cmocka_unit_test(what_was_typed_does_not_act_on_the_terminal),
        cmocka_unit_test(output_that_cannot_be_written_ends_with_73),
        cmocka_unit_test(input_that_is_not_there_ends_with_66),
        cmocka_unit_test(the_manual_has_each_verb_with_just_its_options),
        cmocka_unit_test(the_manual_reads_without_a_complaint),
    };
    return cmocka_run_group_tests(tests, read_verbs, free_verbs);
}
