#include "bench/simdesign.h"

#include "simbow_support.h"

#include <gsl/gsl_errno.h>
#include <string.h>

static const double in = 0.0254, lbf = 4.4482216152605;

/* The head of a recurve file, without its tracks. */
#define HEAD                                                  \
    "[bow]\nname = Stick\nkind = recurve\n"                   \
    "[geometry]\naxle_to_axle = 60 in\nbrace_height = 8 in\n" \
    "hinge_x = 1 in\nhinge_y = 12 in\nfull_draw = 26 in\n"    \
    "[limb]\ntip_stiffness = 2 lbf/in\ntip_preload = 10 in\n"
#define TRACK "[string_track]\nradius = 1 in\n"

static enum status open_design(struct simdesign **design, const char *text, struct err *err)
{
    char path[] = "/tmp/pullcurve-design-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(close(fd), 0);
    struct buf content = {0};
    buf_text(&content, text);
    assert_int_equal(buf_write_file(&content, path, err), STATUS_OK);
    buf_clear(&content);
    enum status status = simdesign_open(design, path, err);
    assert_int_equal(unlink(path), 0);
    return status;
}

static void check_refused(const char *text, const char *where)
{
    struct err err;
    struct simdesign *design = NULL;
    assert_int_equal(open_design(&design, text, &err), STATUS_BAD_INPUT);
    assert_null(design);
    if (strstr(err.text, where) == NULL)
        print_error("message: %s\n", err.text);
    assert_non_null(strstr(err.text, where));
}

static void reads_values_with_their_units(void **state)
{
    (void)state;
    struct err err;
    struct simdesign *design = NULL;
    check_ok(open_design(&design, HEAD TRACK "[friction]\npresliding = 2 mm\n", &err));
    assert_string_equal(design->name, "Stick");
    check_near(design->axle_to_axle_m, 60 * in, 1e-15);
    check_near(design->tip_stiffness_n_per_m, 2 * lbf / in, 1e-12);
    check_near(design->presliding_m, 0.002, 1e-18);
    assert_int_equal(design->kind, SIMDESIGN_RECURVE);
    assert_null(design->cable_track);
    simdesign_close(design);
}

static void shipped_bows_are_as_their_names_say(void **state)
{
    (void)state;
    for (int i = 0; i < N_SHIPPED_BOWS; i++) {
        struct err err;
        struct simdesign *design = NULL;
        struct buf path = {0};
        buf_printf(&path, "%s/fixtures/bows/%s.ini", source_root(), shipped_bows[i]);
        check_ok(simdesign_open(&design, buf_string(&path), &err));
        assert_int_equal(design->kind,
                         i < N_SHIPPED_COMPOUNDS ? SIMDESIGN_COMPOUND : SIMDESIGN_RECURVE);
        assert_int_equal(design->has_stops, i < N_SHIPPED_COMPOUNDS);
        assert_non_null(strstr(design->name, "Hollow Oak"));
        simdesign_close(design);
        buf_clear(&path);
    }
}

static void unknown_key_is_told_with_its_line(void **state)
{
    (void)state;
    check_refused(HEAD TRACK "radios = 2 in\n", ":15: [string_track] radios");
}

static void key_of_the_other_kind_is_unknown(void **state)
{
    (void)state;
    check_refused(HEAD TRACK "[stops]\nangle_deg = 200\n", ":16: [stops] angle_deg");
}

static void missing_value_is_told(void **state)
{
    (void)state;
    check_refused("[bow]\nname = A\nkind = recurve\n", "[geometry] axle_to_axle: is missing");
    check_refused("[bow]\nkind = recurve\n", "[bow] name: is missing");
    check_refused("[bow]\nname = A\nkind = crossbow\n", ":3: [bow] kind: must be");
    check_refused(HEAD, "[string_track] lever_in: is missing");
}

static void value_out_of_range_is_told(void **state)
{
    (void)state;
    check_refused(HEAD TRACK "eccentricity = 2 in\n", ":14: [string_track] radius");
    check_refused(HEAD TRACK "[friction]\nlimb_loss = 0.5\n", ":16: [friction] limb_loss");
}

static void hinge_beyond_the_limb_is_told(void **state)
{
    (void)state;
    check_refused("[bow]\nname = A\nkind = recurve\n"
                  "[geometry]\naxle_to_axle = 30 in\nbrace_height = 8 in\n"
                  "hinge_x = 1 in\nhinge_y = 16 in\nfull_draw = 26 in\n"
                  "[limb]\ntip_stiffness = 2 lbf/in\ntip_preload = 10 in\n" TRACK,
                  ":8: [geometry] hinge_y");
}

static void table_goes_in_pairs(void **state)
{
    (void)state;
    check_refused(HEAD "[string_track]\nnormal_deg = 0 90 180 270\nlever_in = 1 1 1\n",
                  ":15: [string_track] lever_in: has 3 entries, normal_deg has 4");
}

static void hollow_table_is_told(void **state)
{
    (void)state;
    check_refused(HEAD "[string_track]\nnormal_deg = 0 30 60 90\nlever_in = 1 2 1 1\n",
                  ":15: [string_track] lever_in: the track is hollow");
}

static void missing_file_is_no_input(void **state)
{
    (void)state;
    struct err err;
    struct simdesign *design = NULL;
    assert_int_equal(simdesign_open(&design, "/nowhere/bow.ini", &err), STATUS_NO_INPUT);
    assert_null(design);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_values_with_their_units),
        cmocka_unit_test(shipped_bows_are_as_their_names_say),
        cmocka_unit_test(unknown_key_is_told_with_its_line),
        cmocka_unit_test(key_of_the_other_kind_is_unknown),
        cmocka_unit_test(missing_value_is_told),
        cmocka_unit_test(value_out_of_range_is_told),
        cmocka_unit_test(hinge_beyond_the_limb_is_told),
        cmocka_unit_test(table_goes_in_pairs),
        cmocka_unit_test(hollow_table_is_told),
        cmocka_unit_test(missing_file_is_no_input),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
