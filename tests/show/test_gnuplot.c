/* Running gnuplot: pictures that are whole, and clear words where there is none. */
#include "check.h"
#include "show/gnuplot.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static struct err err;

static const char *const terminals[] = {
    [PICTURE_SVG] = "svg",
    [PICTURE_PNG] = "pngcairo size 400,300 font 'DejaVu Sans,12'",
    [PICTURE_PDF] = "pdfcairo font 'DejaVu Sans,12'",
    [PICTURE_TEXT] = "dumb nofeed mono",
};

static enum status draw(enum picture picture, const char *commands, struct buf *out)
{
    struct buf script = {0};
    buf_printf(&script, "set encoding utf8\nset terminal %s\n%s\n", terminals[picture], commands);
    err = (struct err){0};
    enum status status = gnuplot_draw(&script, picture, out, &err);
    buf_clear(&script);
    return status;
}

static void check_fails(enum picture picture, const char *commands, const char *words)
{
    struct buf out = {0};
    assert_int_equal(draw(picture, commands, &out), STATUS_CANT_WRITE);
    assert_int_equal(out.length, 0);
    if (strstr(err.text, words) == NULL)
        fail_msg("\"%s\" does not hold \"%s\"", err.text, words);
}

static void every_kind_of_picture_is_drawn(void **state)
{
    (void)state;
    static const char *const starts[] = {
        [PICTURE_SVG] = "<?xml", [PICTURE_PNG] = "\x89PNG", [PICTURE_PDF] = "%PDF"};
    for (int i = PICTURE_SVG; i <= PICTURE_TEXT; i++) {
        struct buf out = {0};
        check_ok(draw((enum picture)i, "plot sin(x)", &out));
        assert_true(out.length > 500);
        if (i != PICTURE_TEXT)
            assert_memory_equal(out.text, starts[i], strlen(starts[i]));
        buf_clear(&out);
    }
}

static void the_picture_is_added_behind_what_is_there(void **state)
{
    (void)state;
    struct buf out = {0};
    buf_text(&out, "before");
    check_ok(draw(PICTURE_SVG, "plot x", &out));
    assert_memory_equal(out.text, "before<?xml", 11);
    buf_clear(&out);
}

static void equal_scripts_give_equal_bytes(void **state)
{
    (void)state;
    for (int i = PICTURE_SVG; i <= PICTURE_PNG; i++) {
        struct buf one = {0}, other = {0};
        check_ok(draw((enum picture)i, "plot sin(x)", &one));
        check_ok(draw((enum picture)i, "plot sin(x)", &other));
        assert_int_equal(one.length, other.length);
        assert_memory_equal(one.text, other.text, one.length);
        buf_clear(&one);
        buf_clear(&other);
    }
}

static void a_fault_in_the_script_is_told_with_its_line(void **state)
{
    (void)state;
    check_fails(PICTURE_SVG, "plot x\nplonk y", "line 4: invalid command");
    check_fails(PICTURE_PNG, "plot undefined_function(x)", "undefined function");
}

static void what_gnuplot_says_reaches_the_message_without_controls(void **state)
{
    (void)state;
    check_fails(PICTURE_SVG, "printerr \"\\033[31mred\"\nplonk", "\xEF\xBF\xBD[31mred");
}

static void a_picture_cut_short_is_refused(void **state)
{
    (void)state;
    check_fails(PICTURE_SVG, "print 'no plot'", "not whole");
    check_fails(PICTURE_PNG, "set output '/dev/null'\nplot x", "not whole");
    check_fails(PICTURE_TEXT, "plot x\nexit", "not whole");
}

static void a_font_that_is_not_there_is_told(void **state)
{
    (void)state;
    char path[] = "/tmp/pullcurve-fonts-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    static const char nothing[] = "<?xml version='1.0'?><fontconfig></fontconfig>";
    assert_int_equal(write(fd, nothing, sizeof nothing - 1), sizeof nothing - 1);
    close(fd);
    setenv("FONTCONFIG_FILE", path, 1);
    check_fails(PICTURE_PNG, "plot x", "no font");
    check_fails(PICTURE_PDF, "plot x", "no font");
    unsetenv("FONTCONFIG_FILE");
    unlink(path);
    struct buf out = {0};
    check_ok(draw(PICTURE_PNG, "plot x", &out));
    buf_clear(&out);
}

static void a_missing_gnuplot_is_told(void **state)
{
    (void)state;
    char *path = strdup(getenv("PATH"));
    setenv("PATH", "/nonexistent", 1);
    check_fails(PICTURE_SVG, "plot x", "is not found here; install it");
    setenv("PATH", path, 1);
    free(path);
}

static void start_up_files_are_not_read(void **state)
{
    (void)state;
    char home[] = "/tmp/pullcurve-home-XXXXXX", file[64];
    assert_non_null(mkdtemp(home));
    (void)snprintf(file, sizeof file, "%s/.gnuplot", home);
    FILE *out = fopen(file, "w");
    assert_non_null(out);
    fputs("plonk\n", out);
    fclose(out);
    char *old = getenv("HOME") != NULL ? strdup(getenv("HOME")) : NULL;
    setenv("HOME", home, 1);
    struct buf picture = {0};
    check_ok(draw(PICTURE_SVG, "plot x", &picture));
    buf_clear(&picture);
    if (old != NULL)
        setenv("HOME", old, 1);
    free(old);
    unlink(file);
    rmdir(home);
}

/* More than a pipe holds on both outputs, in both directions: nobody waits for the other. */
static void large_outputs_do_not_block(void **state)
{
    (void)state;
    struct buf out = {0};
    check_ok(draw(PICTURE_SVG,
                  "do for [i=1:20000] { printerr 'x0123456789' }\nset samples 20000\nplot sin(x)",
                  &out));
    assert_true(out.length > 200000);
    buf_clear(&out);
}

static void the_ending_tells_the_format(void **state)
{
    (void)state;
    enum picture picture;
    assert_true(picture_of_path("a/b.svg", &picture));
    assert_int_equal(picture, PICTURE_SVG);
    assert_true(picture_of_path("B.PNG", &picture));
    assert_int_equal(picture, PICTURE_PNG);
    assert_true(picture_of_path("x.y.pdf", &picture));
    assert_int_equal(picture, PICTURE_PDF);
    assert_false(picture_of_path("curve.jpg", &picture));
    assert_false(picture_of_path("png", &picture));
    assert_false(picture_of_path("curve.", &picture));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_kind_of_picture_is_drawn),
        cmocka_unit_test(the_picture_is_added_behind_what_is_there),
        cmocka_unit_test(equal_scripts_give_equal_bytes),
        cmocka_unit_test(a_fault_in_the_script_is_told_with_its_line),
        cmocka_unit_test(what_gnuplot_says_reaches_the_message_without_controls),
        cmocka_unit_test(a_picture_cut_short_is_refused),
        cmocka_unit_test(a_font_that_is_not_there_is_told),
        cmocka_unit_test(a_missing_gnuplot_is_told),
        cmocka_unit_test(start_up_files_are_not_read),
        cmocka_unit_test(large_outputs_do_not_block),
        cmocka_unit_test(the_ending_tells_the_format),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
