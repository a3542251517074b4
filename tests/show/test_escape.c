/* User text in four formats: it comes out as it went in, and nothing of it acts. */
#include "base/utf8.h"
#include "check.h"
#include "random.h"
#include "run.h"
#include "show/escape.h"
#include "show/gnuplot.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define UNSHOWN "\xEF\xBF\xBD"

static struct err err;

typedef void escape_function(struct buf *out, const char *text);

static void check_text(escape_function *escape, const char *text, const char *expected)
{
    struct buf out = {0};
    escape(&out, text);
    assert_string_equal(buf_string(&out), expected);
    buf_clear(&out);
}

static void the_terminal_gets_no_control(void **state)
{
    (void)state;
    check_text(escape_terminal, "Hollow Oak, 60 lbf", "Hollow Oak, 60 lbf");
    check_text(escape_terminal, "red \x1B[31m bell \x07", "red " UNSHOWN "[31m bell " UNSHOWN);
    check_text(escape_terminal,
               "C1 \xC2\x9B"
               "31m",
               "C1 " UNSHOWN "31m");
    check_text(escape_terminal, "a\tb\nc\rd\x7F", "a b c" UNSHOWN "d" UNSHOWN);
    check_text(escape_terminal, "line\xE2\x80\xA8two", "line" UNSHOWN "two");
}

static void text_that_is_not_utf8_is_shown_as_such(void **state)
{
    (void)state;
    check_text(escape_terminal, "caf\xE9", "caf" UNSHOWN);
    check_text(escape_terminal, "\xC0\xAF", UNSHOWN UNSHOWN);
    check_text(escape_terminal, "cut \xE2\x82", "cut " UNSHOWN UNSHOWN);
    check_text(escape_html, "\xED\xA0\x80", UNSHOWN UNSHOWN UNSHOWN);
    check_text(escape_csv, "\xEF\xBF\xBE", UNSHOWN);
    check_text(escape_gnuplot, "\xFF", "\"\\357\\277\\275\"");
}

static void text_does_not_turn_its_direction(void **state)
{
    (void)state;
    check_text(escape_terminal,
               "a\xE2\x80\xAE"
               "b",
               "a" UNSHOWN "b");
    check_text(escape_html,
               "a\xE2\x81\xA6"
               "b",
               "a" UNSHOWN "b");
    check_text(escape_terminal, "\xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D",
               "\xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D");
}

static void html_gets_no_markup(void **state)
{
    (void)state;
    check_text(escape_html, "<script>alert('x & \"y\"')</script>",
               "&lt;script&gt;alert(&#39;x &amp; &quot;y&quot;&#39;)&lt;/script&gt;");
    check_text(escape_html, "two\nlines\tand a tab", "two\nlines\tand a tab");
    check_text(escape_html, "esc \x1B", "esc " UNSHOWN);
    check_text(escape_html, "\xC3\xA9\xE2\x82\xAC\xF0\x9F\x8F\xB9",
               "\xC3\xA9\xE2\x82\xAC\xF0\x9F\x8F\xB9");
}

static void a_csv_cell_is_quoted_where_needed(void **state)
{
    (void)state;
    check_text(escape_csv, "plain", "plain");
    check_text(escape_csv, "", "");
    check_text(escape_csv, "a,b", "\"a,b\"");
    check_text(escape_csv, "a;b", "\"a;b\"");
    check_text(escape_csv, "say \"x\"", "\"say \"\"x\"\"\"");
    check_text(escape_csv, "two\nlines", "\"two\nlines\"");
    check_text(escape_csv, " blank", "\" blank\"");
}

/* What spreadsheets take for a formula: OWASP, CSV Injection (= + - @ tab CR, and full-width
 * forms). */
static void no_spreadsheet_runs_a_csv_cell(void **state)
{
    (void)state;
    check_text(escape_csv, "=HYPERLINK(\"http://x\")", "\"'=HYPERLINK(\"\"http://x\"\")\"");
    check_text(escape_csv, "+1", "'+1");
    check_text(escape_csv, "-1", "'-1");
    check_text(escape_csv, "@SUM(A1)", "'@SUM(A1)");
    check_text(escape_csv, "\t=1", "\"'\t=1\"");
    check_text(escape_csv, "\r=1", "\"'\r=1\"");
    check_text(escape_csv,
               "\xEF\xBC\x9D"
               "1",
               "'\xEF\xBC\x9D"
               "1");
    check_text(escape_csv, "a=1", "a=1");
}

/* --- the real gnuplot ------------------------------------------------------------------------ */

enum { N_PRINTED = 3000, N_DRAWN = 800, PIECES_MAX = 12 };

/* Pieces that mean something to gnuplot, to the shell behind it, or to SVG. */
static const char *const pieces[] = {
    "`touch %s`",
    "\"",
    "'",
    "''",
    "\\",
    "\\\\",
    "\\n",
    "\\\"",
    "`",
    "$(touch %s)",
    ";",
    "\n",
    "system('touch %s')",
    "\".system(\"touch %s\").\"",
    "'.system('touch %s').'",
    "\nsystem 'touch %s'\n",
    "|touch %s",
    "<touch %s",
    "@canary",
    "!touch %s",
    "\n!touch %s\n",
    "#",
    "{",
    "}",
    "_",
    "^",
    "&",
    "~",
    "%",
    "%d%f",
    "EOD\n",
    "\r",
    "\t",
    "<b>",
    "</svg>",
    "&amp;",
    "]]>",
    "0",
    "17",
    "\\060",
    "\x1B[0m",
    "\xC3\xA9",
    "\xE2\x82\xAC",
    "\xF0\x9F\x8F\xB9",
    "\xFF",
    "\xC2\x85",
    "\xEF\xBF\xBF",
    "Hollow Oak",
    " ",
    "  ",
    "A",
    "z",
};

static char canary[] = "/tmp/pullcurve-canary-XXXXXX";

/* %s in a piece is the canary's name. */
static void add_piece(struct buf *text, const char *piece)
{
    const char *name = strstr(piece, "%s");
    if (name == NULL) {
        buf_text(text, piece);
        return;
    }
    buf_add(text, piece, (size_t)(name - piece));
    buf_text(text, canary);
    buf_text(text, name + 2);
}

static void make_nasty(struct buf *text, struct random *random)
{
    for (int i = random_int(random, 1, PIECES_MAX); i > 0; i--)
        add_piece(text, pieces[random_int(random, 0, sizeof pieces / sizeof pieces[0] - 1)]);
}

/* What must be seen: the text itself, where that can be shown. */
static void add_expected(struct buf *out, const char *text)
{
    escape_terminal(out, text);
}

static void check_no_command_ran(void)
{
    if (access(canary, F_OK) == 0)
        fail_msg("a command out of a text has run: %s is there", canary);
}

/* Prints every text on a line of its own. */
static void gnuplot_prints_nasty_text_as_it_is(void **state)
{
    (void)state;
    struct random random = random_start();
    struct buf script = {0}, expected = {0}, got = {0};
    buf_text(&script, "set encoding utf8\nset terminal dumb nofeed\ncanary = 'x'\n"
                      "set print '-'\n");
    for (int i = 0; i < N_PRINTED; i++) {
        struct buf text = {0};
        make_nasty(&text, &random);
        buf_text(&script, "print ");
        escape_gnuplot(&script, buf_string(&text));
        buf_char(&script, '\n');
        add_expected(&expected, buf_string(&text));
        buf_char(&expected, '\n');
        buf_clear(&text);
    }
    check_ok(gnuplot_draw(&script, PICTURE_TEXT, &got, &err));
    assert_string_equal(buf_string(&got), buf_string(&expected));
    check_no_command_ran();
    buf_clear(&script);
    buf_clear(&expected);
    buf_clear(&got);
}

/* The text of an SVG element, entities resolved, blanks folded as SVG viewers do. */
static void fold_blanks(struct buf *text)
{
    size_t used = 0;
    for (size_t i = 0; i < text->length; i++)
        if (text->text[i] != ' ' || (used > 0 && text->text[used - 1] != ' '))
            text->text[used++] = text->text[i];
    while (used > 0 && text->text[used - 1] == ' ')
        used--;
    text->length = used;
    if (text->text != NULL)
        text->text[used] = '\0';
}

static void resolve(struct buf *out, const char *at, const char *end)
{
    static const struct {
        const char *entity, *text;
    } entities[] = {
        {"&amp;", "&"}, {"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&apos;", "'"}};
    while (at < end) {
        size_t i = 0, n = sizeof entities / sizeof entities[0];
        while (i < n && strncmp(at, entities[i].entity, strlen(entities[i].entity)) != 0)
            i++;
        if (i < n) {
            buf_text(out, entities[i].text);
            at += strlen(entities[i].entity);
        } else {
            buf_char(out, *at++);
        }
    }
}

/* An XML parser (Python's expat) takes it. */
static void check_is_xml(const struct buf *svg)
{
    char path[] = "/tmp/pullcurve-svg-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, svg->text, svg->length), svg->length);
    close(fd);
    struct buf command = {0}, said = {0};
    buf_printf(&command,
               "/usr/bin/python3 -c 'import sys, xml.dom.minidom as m; m.parse(sys.argv[1])' %s "
               "2>&1",
               path);
    if (run_command(&said, buf_string(&command)) != 0)
        fail_msg("%s", buf_string(&said));
    unlink(path);
    buf_clear(&command);
    buf_clear(&said);
}

/* Draws every text as a label of one SVG and reads them back from it, in order. */
static void gnuplot_draws_nasty_text_as_it_is(void **state)
{
    (void)state;
    struct random random = random_start();
    struct buf script = {0}, got = {0};
    static struct buf expected[N_DRAWN];
    buf_text(&script, "set encoding utf8\nset terminal svg noenhanced\nunset key\nunset tics\n"
                      "unset border\nset xrange [0:1]\nset yrange [0:1]\ncanary = 'x'\n");
    for (int i = 0; i < N_DRAWN; i++) {
        struct buf text = {0};
        make_nasty(&text, &random);
        buf_printf(&script, "set label %d ", i + 1);
        escape_gnuplot(&script, buf_string(&text));
        buf_text(&script, " at 0.5,0.5 noenhanced\n");
        add_expected(&expected[i], buf_string(&text));
        fold_blanks(&expected[i]);
        buf_clear(&text);
    }
    buf_text(&script, "plot -1\n");
    check_ok(gnuplot_draw(&script, PICTURE_SVG, &got, &err));
    assert_true(utf8_valid(got.text, got.length));
    check_no_command_ran();
    check_is_xml(&got);
    const char *at = got.text;
    for (int i = 0; i < N_DRAWN; i++) {
        at = strstr(at, "<text");
        assert_non_null(at);
        at = strchr(at, '>') + 1;
        struct buf text = {0};
        resolve(&text, at, strstr(at, "</text>"));
        fold_blanks(&text);
        assert_string_equal(buf_string(&text), buf_string(&expected[i]));
        buf_clear(&text);
        buf_clear(&expected[i]);
    }
    buf_clear(&script);
    buf_clear(&got);
}

/* Each title, axis name and key alone: these are other places of gnuplot's grammar. */
static void gnuplot_takes_nasty_text_in_every_place(void **state)
{
    (void)state;
    struct random random = random_start();
    for (int i = 0; i < 20; i++) {
        struct buf script = {0}, got = {0}, text = {0};
        static const char *const places[] = {"set title ", "set xlabel ", "set ylabel ",
                                             "set x2label ", "text = "};
        buf_text(&script, "set encoding utf8\nset terminal svg noenhanced\n");
        for (size_t p = 0; p < sizeof places / sizeof places[0]; p++) {
            buf_clear(&text);
            make_nasty(&text, &random);
            buf_text(&script, places[p]);
            escape_gnuplot(&script, buf_string(&text));
            buf_char(&script, '\n');
        }
        buf_text(&script, "plot x title ");
        escape_gnuplot(&script, buf_string(&text));
        check_ok(gnuplot_draw(&script, PICTURE_SVG, &got, &err));
        assert_true(utf8_valid(got.text, got.length));
        check_no_command_ran();
        buf_clear(&script);
        buf_clear(&got);
        buf_clear(&text);
    }
}

/* The canary would sing: the same command in a text that is not escaped does run. */
static void the_canary_can_be_seen(void **state)
{
    (void)state;
    struct buf script = {0}, got = {0};
    buf_printf(&script, "set terminal dumb nofeed\nx = \"`touch %s`\"\n", canary);
    check_ok(gnuplot_draw(&script, PICTURE_TEXT, &got, &err));
    assert_int_equal(access(canary, F_OK), 0);
    unlink(canary);
    buf_clear(&script);
    buf_clear(&got);
}

static int name_canary(void **state)
{
    (void)state;
    int fd = mkstemp(canary);
    if (fd < 0)
        return -1;
    close(fd);
    return unlink(canary);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_terminal_gets_no_control),
        cmocka_unit_test(text_that_is_not_utf8_is_shown_as_such),
        cmocka_unit_test(text_does_not_turn_its_direction),
        cmocka_unit_test(html_gets_no_markup),
        cmocka_unit_test(a_csv_cell_is_quoted_where_needed),
        cmocka_unit_test(no_spreadsheet_runs_a_csv_cell),
        cmocka_unit_test(gnuplot_prints_nasty_text_as_it_is),
        cmocka_unit_test(gnuplot_draws_nasty_text_as_it_is),
        cmocka_unit_test(gnuplot_takes_nasty_text_in_every_place),
        cmocka_unit_test(the_canary_can_be_seen),
    };
    return cmocka_run_group_tests(tests, name_canary, NULL);
}
