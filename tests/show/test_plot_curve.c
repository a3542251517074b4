/* The picture of a measurement: what is on it, whatever the measurement lacks. */
#include "base/utf8.h"
#include "check.h"
#include "run.h"
#include "sample.h"
#include "show/plot_curve.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static struct err err;

static struct buf picture_of(const struct measurement *measurement, enum picture picture,
                             const char *title)
{
    struct plot_curve plot = {.measurement = measurement, .title = title, .picture = picture};
    struct buf out = {0};
    check_ok(plot_curve(&plot, &out, &err));
    return out;
}

static void check_holds(const struct buf *picture, const char *text)
{
    if (strstr(buf_string(picture), text) == NULL)
        fail_msg("\"%s\" is not in the picture", text);
}

static void check_lacks(const struct buf *picture, const char *text)
{
    if (strstr(buf_string(picture), text) != NULL)
        fail_msg("\"%s\" is in the picture", text);
}

static size_t count(const struct buf *text, const char *word)
{
    size_t n = 0;
    for (const char *at = buf_string(text); (at = strstr(at, word)) != NULL; at++)
        n++;
    return n;
}

static void the_marks_are_labelled_with_their_values(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(500);
    struct buf svg = picture_of(&m, PICTURE_SVG, "Hollow Oak Thicket 29");
    check_holds(&svg, ">Hollow Oak Thicket 29<");
    check_holds(&svg, ">Peak 60.13 lbf at 17.00 in<");
    check_holds(&svg, ">Holding 15.00 lbf<");
    check_holds(&svg, ">Wall 28.50 in, 90.0 lbf/in<");
    check_holds(&svg, ">Brace 7.00 in<");
    check_holds(&svg, ">Full draw 28.00 in, ATA 29.75 in<");
    check_holds(&svg, ">Stored 81.25 ft.lbf, returned 74.75 ft.lbf<");
    check_holds(&svg, "draw position from the pivot point, in");
    check_holds(&svg, "ATA draw axis, in");
    check_holds(&svg, "force, lbf");
    check_holds(&svg, ">draw<");
    check_holds(&svg, ">let-down<");
    check_holds(&svg, ">hysteresis loss<");
    buf_clear(&svg);
    sample_clear(&m);
}

static void si_units_are_on_axes_and_labels(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(500);
    struct plot_curve plot = {
        .measurement = &m, .title = "", .units = UNITS_SI, .picture = PICTURE_SVG};
    struct buf svg = {0};
    check_ok(plot_curve(&plot, &svg, &err));
    check_holds(&svg, "force, N");
    check_holds(&svg, "point, m");
    check_holds(&svg, "returned 101.35 J");
    check_lacks(&svg, "lbf");
    buf_clear(&svg);
    sample_clear(&m);
}

static void equal_measurements_give_equal_bytes(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(500);
    for (int i = PICTURE_SVG; i <= PICTURE_TEXT; i++) {
        if (i == PICTURE_PDF)
            continue; /* holds its date */
        struct buf one = picture_of(&m, (enum picture)i, "same");
        struct buf other = picture_of(&m, (enum picture)i, "same");
        assert_int_equal(one.length, other.length);
        assert_memory_equal(one.text, other.text, one.length);
        buf_clear(&one);
        buf_clear(&other);
    }
    sample_clear(&m);
}

static void a_pull_without_let_down_has_no_loop(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(500);
    size_t n = m.pulls[0].let_down.n;
    m.pulls[0].let_down.n = 0;
    sample_absent(&m, FIGURE_RETURNED_ENERGY);
    sample_absent(&m, FIGURE_HYSTERESIS);
    struct buf svg = picture_of(&m, PICTURE_SVG, "");
    check_holds(&svg, ">energy stored<");
    check_holds(&svg, ">Stored 81.25 ft.lbf<");
    check_lacks(&svg, "let-down");
    check_lacks(&svg, "hysteresis");
    buf_clear(&svg);
    m.pulls[0].let_down.n = n;
    sample_clear(&m);
}

static void a_bow_without_let_off_has_no_valley_and_no_wall(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(500);
    m.full_draw = FULL_DRAW_LARGEST;
    sample_absent(&m, FIGURE_HOLDING_FORCE);
    sample_absent(&m, FIGURE_VALLEY_POSITION);
    sample_absent(&m, FIGURE_WALL_ONSET);
    struct buf svg = picture_of(&m, PICTURE_SVG, "");
    check_holds(&svg, ">Peak 60.13 lbf");
    check_lacks(&svg, "Holding");
    check_lacks(&svg, "Wall");
    buf_clear(&svg);
    sample_clear(&m);
}

static void nothing_known_is_still_a_curve(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(3);
    for (int i = 0; i < FIGURE_COUNT; i++)
        sample_absent(&m, (enum figure_id)i);
    for (int i = PICTURE_SVG; i <= PICTURE_TEXT; i++) {
        struct buf picture = picture_of(&m, (enum picture)i, "");
        assert_true(picture.length > 300);
        buf_clear(&picture);
    }
    sample_clear(&m);
}

static void several_pulls_are_all_drawn(void **state)
{
    (void)state;
    struct measurement one = sample_measurement(200), other = sample_measurement(200);
    struct pull pulls[3] = {one.pulls[0], other.pulls[0], one.pulls[0]};
    struct measurement three = one;
    three.pulls = pulls;
    three.n_pulls = 3;
    struct plot_curve plot = {.measurement = &three, .title = "", .picture = PICTURE_SVG};
    struct buf script = {0};
    plot_curve_data(&plot, &script);
    assert_int_equal(count(&script, "n_pulls = 3"), 1);
    buf_clear(&script);
    struct buf svg = picture_of(&three, PICTURE_SVG, "");
    check_holds(&svg, ">let-down<");
    buf_clear(&svg);
    sample_clear(&one);
    sample_clear(&other);
}

/* A long capture is thinned to what the picture can show, and keeps its extremes. */
static void many_readings_are_thinned(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(200000);
    m.pulls[0].draw.force_n[70001] = unit_to_si(UNIT_LBF, 71.5);
    struct plot_curve plot = {.measurement = &m, .title = "", .picture = PICTURE_SVG};
    struct buf script = {0};
    plot_curve_data(&plot, &script);
    assert_true(count(&script, "\n") < 12000);
    assert_int_equal(count(&script, " 71.5\n"), 1);
    buf_clear(&script);
    sample_clear(&m);
}

static void the_title_is_text_and_nothing_else(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    struct buf svg = picture_of(&m, PICTURE_SVG,
                                "O'Hara \"60\" `touch /tmp/pullcurve-title` {/=40 x}_2 @&~ <b>");
    check_holds(&svg, "O'Hara \"60\" `touch /tmp/pullcurve-title` {/=40 x}_2 @&amp;~ &lt;b>");
    assert_int_not_equal(access("/tmp/pullcurve-title", F_OK), 0);
    buf_clear(&svg);
    sample_clear(&m);
}

static void a_long_title_is_cut_between_characters(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(100);
    struct buf title = {0};
    for (int i = 0; i < 300; i++)
        buf_text(&title, "\xC3\xB6");
    struct buf svg = picture_of(&m, PICTURE_SVG, buf_string(&title));
    assert_true(utf8_valid(svg.text, svg.length));
    check_holds(&svg, "\xC3\xB6...<");
    assert_true(count(&svg, "\xC3\xB6") < 120);
    buf_clear(&title);
    buf_clear(&svg);
    sample_clear(&m);
}

static void the_terminal_picture_fits_its_columns(void **state)
{
    (void)state;
    struct measurement m = sample_measurement(500);
    struct plot_curve plot = {.measurement = &m,
                              .title = "Hollow Oak",
                              .picture = PICTURE_TEXT,
                              .width = 80,
                              .height = 24};
    struct buf text = {0};
    check_ok(plot_curve(&plot, &text, &err));
    size_t lines = 0;
    for (const char *line = text.text; *line != '\0'; line = strchr(line, '\n') + 1, lines++)
        assert_true(strcspn(line, "\n") <= 80);
    assert_true(lines <= 24);
    check_holds(&text, "Hollow Oak");
    check_holds(&text, "Peak 60.13 lbf at 17.00 in");
    check_holds(&text, "Brace 7.00 in");
    buf_clear(&text);
    sample_clear(&m);
}

static void a_template_of_the_user_is_taken(void **state)
{
    (void)state;
    char folder[] = "/tmp/pullcurve-plots-XXXXXX", file[64];
    assert_non_null(mkdtemp(folder));
    (void)snprintf(file, sizeof file, "%s/curve.gp", folder);
    struct buf mine = {0};
    buf_text(&mine, "set title sprintf('mine, %d pull', n_pulls)\nplot $DRAW with lines\n");
    check_ok(buf_write_file(&mine, file, &err));
    setenv("PULLCURVE_PLOTS", folder, 1);
    struct measurement m = sample_measurement(100);
    struct buf svg = picture_of(&m, PICTURE_SVG, "");
    check_holds(&svg, "mine, 1 pull");
    buf_clear(&svg);
    buf_clear(&mine);

    buf_text(&mine, "plonk\n");
    check_ok(buf_write_file(&mine, file, &err));
    struct plot_curve plot = {.measurement = &m, .title = "", .picture = PICTURE_SVG};
    assert_int_equal(plot_curve(&plot, &svg, &err), STATUS_CANT_WRITE);
    assert_non_null(strstr(err.text, file));
    assert_non_null(strstr(err.text, "invalid command"));

    unlink(file);
    assert_int_equal(plot_curve(&plot, &svg, &err), STATUS_NO_INPUT);
    assert_non_null(strstr(err.text, "curve.gp is not in any of"));
    rmdir(folder);
    buf_clear(&mine);
    sample_clear(&m);
}

/* The line that the message gives as the template's first is the one that gnuplot counts from. */
static void a_fault_in_a_template_can_be_found(void **state)
{
    (void)state;
    char folder[] = "/tmp/pullcurve-plots-XXXXXX", file[64];
    assert_non_null(mkdtemp(folder));
    (void)snprintf(file, sizeof file, "%s/curve.gp", folder);
    struct buf mine = {0}, svg = {0};
    buf_text(&mine, "set title 'one'\nplonk\n");
    check_ok(buf_write_file(&mine, file, &err));
    setenv("PULLCURVE_PLOTS", folder, 1);
    struct measurement m = sample_measurement(100);
    struct plot_curve plot = {.measurement = &m, .title = "", .picture = PICTURE_SVG};
    assert_int_equal(plot_curve(&plot, &svg, &err), STATUS_CANT_WRITE);
    const char *first = strstr(err.text, "its first line is line "),
               *line = strstr(err.text, " line ");
    assert_non_null(first);
    line = strstr(first + 30, " line ");
    assert_non_null(line);
    assert_int_equal(atoi(line + strlen(" line ")),
                     atoi(first + strlen("its first line is line ")) + 1);
    unlink(file);
    rmdir(folder);
    buf_clear(&mine);
    sample_clear(&m);
}

static int use_our_templates(void **state)
{
    (void)state;
    struct buf plots = {0};
    buf_printf(&plots, "%s/plots", source_root());
    setenv("PULLCURVE_PLOTS", buf_string(&plots), 1);
    buf_clear(&plots);
    return 0;
}

#define plot_test(name) cmocka_unit_test_setup(name, use_our_templates)

int main(void)
{
    const struct CMUnitTest tests[] = {
        plot_test(the_marks_are_labelled_with_their_values),
        plot_test(si_units_are_on_axes_and_labels),
        plot_test(equal_measurements_give_equal_bytes),
        plot_test(a_pull_without_let_down_has_no_loop),
        plot_test(a_bow_without_let_off_has_no_valley_and_no_wall),
        plot_test(nothing_known_is_still_a_curve),
        plot_test(several_pulls_are_all_drawn),
        plot_test(many_readings_are_thinned),
        plot_test(the_title_is_text_and_nothing_else),
        plot_test(a_long_title_is_cut_between_characters),
        plot_test(the_terminal_picture_fits_its_columns),
        plot_test(a_template_of_the_user_is_taken),
        plot_test(a_fault_in_a_template_can_be_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
