/* The fixture: what a frame that gives, pulls askew and carries a hook does to the figures is taken
 * away, from the bench file to the budget. */
#include "check.h"
#include "shop.h"

#include <math.h>
#include <string.h>

static struct err err;

/* --- a bow of which everything is known ------------------------------------------------------ */

#define BRACE_M 0.18
#define STROKE_M 0.5
#define STIFFNESS_N_PER_M 500.0
#define FULL_N (STIFFNESS_N_PER_M * STROKE_M)
#define STORED_J (0.5 * FULL_N * STROKE_M)

#define GIVE_M_PER_N 1e-5
#define ANGLE_RAD 0.1
#define HOOK_N 2.0

enum { N_REST = 60, N_DRAW = 500 };

/* A straight bow, drawn and let down, as a fixture shows it that gives, pulls askew and has a hook
 * on its load cell. */
static void write_pull(const char *name, double give_m_per_n, double angle_rad, double hook_n)
{
    struct buf table = {0};
    buf_text(&table, "draw_m,force_n\n");
    for (int i = 0; i < 2 * (N_REST + N_DRAW); i++) {
        int step = i < N_REST ? 0 : i < N_REST + N_DRAW ? i - N_REST + 1 : 2 * N_DRAW + N_REST - i;
        double beyond_m = STROKE_M * fmax(step, 0) / N_DRAW;
        double force_n = STIFFNESS_N_PER_M * beyond_m;
        buf_printf(&table, "%.12f,%.12f\n", BRACE_M + beyond_m + give_m_per_n * force_n,
                   (force_n + hook_n) / cos(angle_rad));
    }
    check_ok(buf_write_file(&table, name, &err));
    buf_clear(&table);
}

static void write_bench(const char *name, const char *fixture)
{
    struct buf text = {0};
    buf_printf(&text, "[bench]\nname = bench 1\n[fixture]\n%s", fixture);
    check_ok(buf_write_file(&text, name, &err));
    buf_clear(&text);
}

#define MEASURE "measure --json --units si --full-draw largest "

static double figure(const json_t *root, const char *name, const char *part)
{
    return shop_number_at(json_object_get(root, "figures"), name, part);
}

static double part_of_u(const json_t *root, const char *name, const char *source)
{
    return shop_number_at(json_object_get(root, "budget"), name, source);
}

static bool warns(const json_t *root, const char *code)
{
    size_t i;
    json_t *warning;
    json_array_foreach(json_object_get(root, "warnings"), i, warning)
    {
        if (strcmp(shop_text_at(warning, "code"), code) == 0)
            return true;
    }
    return false;
}

/* --- table files ------------------------------------------------------------------------------ */

static void give_adds_the_energy_that_the_frame_takes_up(void **state)
{
    (void)state;
    write_pull("read.csv", GIVE_M_PER_N, 0, 0);
    write_bench("bench.ini", "give_length = 1 mm\ngive_force = 100 N\n");
    json_t *plain = shop_json(0, MEASURE "--trials 0 read.csv");
    json_t *corrected = shop_json(0, MEASURE "--trials 0 --bench bench.ini read.csv");
    /* a spring of give c takes up c F^2 / 2 */
    check_near(figure(plain, "stored_energy", "value") -
                   figure(corrected, "stored_energy", "value"),
               0.5 * GIVE_M_PER_N * FULL_N * FULL_N, 1e-4);
    check_near(figure(plain, "full_draw", "value") - figure(corrected, "full_draw", "value"),
               GIVE_M_PER_N * FULL_N, 1e-8);
    check_near(figure(corrected, "stored_energy", "value"), STORED_J, 1e-3);
    json_decref(plain);
    json_decref(corrected);
}

static void all_corrections_together_give_the_bow_back(void **state)
{
    (void)state;
    write_pull("true.csv", 0, 0, 0);
    write_pull("read.csv", GIVE_M_PER_N, ANGLE_RAD, HOOK_N);
    write_bench("bench.ini", "give_length = 1 mm\ngive_force = 100 N\npull_angle = 0.1 rad\n"
                             "hook_weight = 2 N\n");
    json_t *truth = shop_json(0, MEASURE "--trials 0 true.csv");
    json_t *corrected = shop_json(0, MEASURE "--trials 0 --bench bench.ini read.csv");
    static const char *const names[] = {"peak_force", "full_draw", "brace_height", "stored_energy",
                                        "returned_energy"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        check_near(figure(corrected, names[i], "value"), figure(truth, names[i], "value"), 2e-6);
    json_decref(truth);
    json_decref(corrected);
}

static void tare_takes_the_hook_away_without_its_weight(void **state)
{
    (void)state;
    write_pull("read.csv", 0, 0, HOOK_N);
    write_bench("bench.ini", "tare = yes\n");
    json_t *plain = shop_json(0, MEASURE "--trials 0 read.csv");
    json_t *corrected = shop_json(0, MEASURE "--trials 0 --bench bench.ini read.csv");
    check_near(figure(plain, "peak_force", "value"), FULL_N + HOOK_N, 1e-3);
    check_near(figure(corrected, "peak_force", "value"), FULL_N, 1e-3);
    json_decref(plain);
    json_decref(corrected);
}

static void corrections_are_told(void **state)
{
    (void)state;
    write_pull("read.csv", GIVE_M_PER_N, 0, 0);
    write_bench("bench.ini", "give_length = 0.040 in\nu_give_length = 0.004 in\ngive_force = 100\n"
                             "pull_angle = 2\nhook_weight = 0.3 lbf\ntare = yes\ndrift = yes\n");
    shop_check(
        0, "measure --bench bench.ini read.csv",
        "Corrected for: give 0.0400 in at 100 lbf, pull angle 2.00 deg, hook 0.30 lbf, tare, "
        "drift");
    json_t *root = shop_json(0, "measure --json --bench bench.ini read.csv");
    const json_t *settings = json_object_get(root, "settings");
    const json_t *corrections = json_object_get(settings, "corrections");
    check_near(shop_number_at(corrections, "give", "value"), 0.0004, 1e-15);
    check_near(shop_number_at(corrections, "give", "u"), 0.00004, 1e-16);
    check_near(shop_number_at(corrections, "angle", "value"), 2, 1e-12);
    check_near(shop_number_at(corrections, "hook", "value"), 0.3, 1e-12);
    assert_true(json_is_true(json_object_get(corrections, "tare")));
    assert_true(json_is_true(json_object_get(corrections, "drift")));
    assert_int_equal(shop_int_at(settings, "trials"), 2000);
    assert_int_equal(shop_int_at(settings, "seed"), 1);
    json_decref(root);
    struct buf out = {0};
    assert_int_equal(shop_run(&out, "measure read.csv"), 0);
    assert_null(strstr(buf_string(&out), "Corrected"));
    buf_clear(&out);
}

static void what_a_correction_leaves_is_in_the_budget(void **state)
{
    (void)state;
    write_pull("read.csv", GIVE_M_PER_N, 0, 0);
    write_bench("bench.ini", "give_length = 1 mm\nu_give_length = 0.2 mm\ngive_force = 100 N\n"
                             "u_hook_weight = 0.5 N\nu_brace = 1 mm\n");
    json_t *root = shop_json(0, MEASURE "--budget --bench bench.ini read.csv");
    /* u_give x F at full draw; the trials know their spread to 1/sqrt(2 x 2000) = 1.6 % */
    check_near(part_of_u(root, "full_draw", "compliance"), 2e-6 * FULL_N, 0.08 * 2e-6 * FULL_N);
    check_near(part_of_u(root, "peak_force", "force_calibration"), 0.5, 0.08 * 0.5);
    check_near(part_of_u(root, "brace_height", "datum"), 1e-3, 0.08e-3);
    check_near(part_of_u(root, "power_stroke", "datum"), 0, 1e-12);
    json_decref(root);
}

static void errors_of_scale_can_be_stated_for_a_table(void **state)
{
    (void)state;
    write_pull("true.csv", 0, 0, 0);
    json_t *root = shop_json(0, MEASURE "--budget --u-force 1 --u-travel '0.5 %' true.csv");
    check_near(part_of_u(root, "stored_energy", "force_calibration"), 0.01 * STORED_J,
               0.08 * 0.01 * STORED_J);
    check_near(part_of_u(root, "power_stroke", "travel_calibration"), 0.005 * STROKE_M,
               0.08 * 0.005 * STROKE_M);
    check_near(part_of_u(root, "brace_height", "datum"), 0, 0);
    assert_false(warns(root, "uncertainty_readings_only"));
    json_decref(root);
    root = shop_json(0, MEASURE "--budget --u-brace 0.5mm true.csv");
    check_near(part_of_u(root, "brace_height", "datum"), 0.5e-3, 0.04e-3);
    assert_true(warns(root, "uncertainty_readings_only"));
    assert_true(warns(root, "single_pull"));
    json_decref(root);
}

static void trials_and_seed_decide_about_the_uncertainty(void **state)
{
    (void)state;
    write_pull("true.csv", 0, 0, 0);
#define TRIED MEASURE "--u-force 1 true.csv "
    json_t *one = shop_json(0, TRIED "--seed 7"), *again = shop_json(0, TRIED "--seed 7");
    json_t *other = shop_json(0, TRIED "--seed 8"), *few = shop_json(0, TRIED "--trials 100");
    json_t *none = shop_json(0, TRIED "--trials 0");
    assert_true(json_equal(one, again));
    assert_false(json_equal(json_object_get(one, "figures"), json_object_get(other, "figures")));
    assert_false(json_equal(json_object_get(one, "figures"), json_object_get(few, "figures")));
    check_near(figure(few, "stored_energy", "u"), 0.01 * STORED_J, 0.35 * 0.01 * STORED_J);
    assert_true(isnan(figure(none, "stored_energy", "u")));
    check_near(figure(none, "stored_energy", "value"), figure(one, "stored_energy", "value"), 0);
    assert_false(warns(none, "single_pull") || warns(none, "uncertainty_readings_only"));
    json_decref(one);
    json_decref(again);
    json_decref(other);
    json_decref(few);
    json_decref(none);
}

static void wrong_use_is_told(void **state)
{
    (void)state;
    write_pull("true.csv", 0, 0, 0);
    write_bench("bad.ini", "give_length = 1 mm\n");
    shop_check(64, "measure true.csv --trials 7", "--trials: 7 are too few");
    shop_check(64, "measure true.csv --trials -1", "--trials");
    shop_check(64, "measure true.csv --seed 0", "--seed");
    shop_check(64, "measure true.csv --u-force 1lbf", "--u-force");
    shop_check(64, "measure true.csv --u-travel 80", "--u-travel");
    shop_check(64, "measure true.csv --u-brace 9in", "--u-brace");
    shop_check(65, "measure true.csv --bench bad.ini", "bad.ini: [fixture] give_force: is missing");
    shop_check(66, "measure true.csv --bench none.ini", "none.ini");
}

/* --- captures --------------------------------------------------------------------------------- */

/* Capture 1 without a fixture; capture 2 the same readings with one. 12 in up to 60 lbf. */
static void make_captures(void)
{
    shop_capture(400, CAPTURE_COMPLETE);
    shop_check(0, "export 1 --raw --output one.csv", "");
    struct buf one = {0}, two = {0};
    check_ok(buf_read_file(&one, "one.csv", &err));
    char *key = strstr(one.text, "# capture_key: ");
    assert_non_null(key);
    buf_add(&two, one.text, (size_t)(key - one.text));
    buf_text(&two, "# fixture: {\"give_m_per_n\":1e-05,\"u_brace_m\":0.0005}");
    buf_text(&two, strchr(key, '\n'));
    check_ok(buf_write_file(&two, "two.csv", &err));
    buf_clear(&one);
    buf_clear(&two);
    shop_check(0, "import two.csv", "400 readings");
}

static void the_fixture_that_was_kept_is_corrected_for(void **state)
{
    (void)state;
    make_captures();
    json_t *plain = shop_json(0, MEASURE "1"), *kept = shop_json(0, MEASURE "--budget 2");
    double full_n = figure(kept, "peak_force", "value");
    check_near(figure(plain, "stored_energy", "value") - figure(kept, "stored_energy", "value"),
               0.5 * GIVE_M_PER_N * full_n * full_n, 1e-3);
    check_near(part_of_u(kept, "brace_height", "datum"), 0.0005, 0.04e-3);
    /* the travel's own zero is in the datum, not in the travel calibration */
    check_near(part_of_u(kept, "brace_height", "travel_calibration"), 0, 1e-9);
    assert_false(warns(kept, "uncertainty_readings_only"));
    json_decref(plain);
    json_decref(kept);
}

static void a_bench_file_holds_in_place_of_what_was_kept(void **state)
{
    (void)state;
    make_captures();
    write_bench("none.ini", "u_brace = 2 mm\n");
    json_t *plain = shop_json(0, MEASURE "--trials 0 1");
    json_t *other = shop_json(0, MEASURE "--trials 0 --bench none.ini 2");
    assert_true(json_equal(json_object_get(plain, "figures"), json_object_get(other, "figures")));
    json_decref(plain);
    json_decref(other);
    other = shop_json(0, MEASURE "--budget --bench none.ini 2");
    check_near(part_of_u(other, "brace_height", "datum"), 0.002, 0.16e-3);
    json_decref(other);
    other = shop_json(0, MEASURE "--budget --bench none.ini --u-brace 1mm 2");
    check_near(part_of_u(other, "brace_height", "datum"), 0.001, 0.08e-3);
    json_decref(other);
}

static void the_fixture_goes_with_the_capture(void **state)
{
    (void)state;
    make_captures();
    static const char note[] = "# fixture: {\"give_m_per_n\":1e-05,\"u_brace_m\":0.0005}\n";
    shop_check(0, "export 2 --raw --output raw.csv", "");
    shop_check(0, "export 2 --raw", note);
    shop_check(0, "export 2 --json --output two.json", "");
    shop_check(0, "import two.json --record other.db", "Added");
    shop_check(0, "export last --raw --record other.db", note);
    /* a calibrated table holds what the bench showed, and says what to correct */
    shop_check(0, "export 2 --units si --output table.csv", "");
    json_t *capture = shop_json(0, MEASURE "--trials 0 2");
    json_t *table = shop_json(0, MEASURE "--trials 0 table.csv");
    shop_check(0, "import table.csv --record values.db", "400 readings");
    json_t *values = shop_json(0, MEASURE "--trials 0 last --record values.db");
    static const char *const names[] = {"peak_force", "full_draw", "stored_energy"};
    for (size_t i = 0; i < 3; i++) {
        double expected = figure(capture, names[i], "value");
        check_near(figure(table, names[i], "value"), expected, 1e-9 * expected);
        check_near(figure(values, names[i], "value"), expected, 1e-4 * expected);
    }
    json_decref(capture);
    json_decref(table);
    json_decref(values);
}

static void a_note_that_is_no_fixture_is_told(void **state)
{
    (void)state;
#define RAW "arrival_us,force_count,travel_count\n0,1,2\n"
    shop_write("a.csv", "# pullcurve: raw\n# fixture: {give}\n" RAW);
    shop_write("b.csv", "# pullcurve: raw\n# fixture: {\"tare\": 1}\n" RAW);
    shop_write("c.csv", "# pullcurve: x\n# fixture: {\"hook_n\": \"2\"}\ndraw_in,force_lbf\n7,0\n");
    shop_check(65, "import a.csv", "a.csv: correct the note");
    shop_check(65, "import b.csv", "'tare' is neither true nor false");
    shop_check(65, "measure c.csv", "'hook_n' is not a number");
#undef RAW
}

/* --- from a rigid bar to the bench file ------------------------------------------------------- */

static void the_lines_of_calibrate_give_are_what_a_bench_file_takes(void **state)
{
    (void)state;
    shop_write("bar.csv", "Kraft;Weg\n0;500,0000\n100;501,0010\n200;501,9990\n300;503,0010\n"
                          "200;502,0010\n100;500,9990\n");
    shop_check(0,
               "calibrate give --table bar.csv --columns draw=Weg:mm,force=Kraft:N --units si"
               " > lines.txt",
               "");
    struct buf lines = {0};
    check_ok(buf_read_file(&lines, "lines.txt", &err));
    const char *at = strstr(lines.text, "\ngive_length = 5.0");
    assert_non_null(at);
    write_bench("bench.ini", at + 1);
    buf_clear(&lines);
    write_pull("read.csv", GIVE_M_PER_N, 0, 0);
    json_t *root = shop_json(0, MEASURE "--bench bench.ini read.csv");
    check_near(figure(root, "full_draw", "value"), BRACE_M + STROKE_M, 2e-6);
    check_near(figure(root, "stored_energy", "value"), STORED_J, 2e-3);
    json_decref(root);
}

static void give_is_told_as_it_was_fitted(void **state)
{
    (void)state;
    shop_write("bar.csv", "draw_mm,force_n\n500,0\n501.001,100\n501.999,200\n503,300\n");
    json_t *root = shop_json(0, "calibrate give --table bar.csv --units si --json");
    const json_t *give = json_object_get(root, "give");
    /* by hand: sum((F - 150) x) / sum((F - 150)^2) = (-50 x 1.001 + 50 x 1.999 + 150 x 3) / 50000
     */
    check_near(json_number_value(json_object_get(give, "give_length")), 500 * 499.9 / 50000, 1e-9);
    assert_int_equal(shop_int_at(give, "readings"), 4);
    assert_true(json_number_value(json_object_get(give, "u_give_length")) >
                json_number_value(json_object_get(give, "u_line")));
    json_decref(root);
    shop_check(64, "calibrate give", "--table FILE");
    shop_check(66, "calibrate give --table none.csv", "none.csv");
    shop_write("down.csv", "draw_mm,force_n\n3,0\n2,100\n1,200\n");
    shop_check(65, "calibrate give --table down.csv", "down.csv: the position falls");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define TEST(name) cmocka_unit_test_setup_teardown(name, shop_open, shop_close)
        TEST(give_adds_the_energy_that_the_frame_takes_up),
        TEST(all_corrections_together_give_the_bow_back),
        TEST(tare_takes_the_hook_away_without_its_weight),
        TEST(corrections_are_told),
        TEST(what_a_correction_leaves_is_in_the_budget),
        TEST(errors_of_scale_can_be_stated_for_a_table),
        TEST(trials_and_seed_decide_about_the_uncertainty),
        TEST(wrong_use_is_told),
        TEST(the_fixture_that_was_kept_is_corrected_for),
        TEST(a_bench_file_holds_in_place_of_what_was_kept),
        TEST(the_fixture_goes_with_the_capture),
        TEST(a_note_that_is_no_fixture_is_told),
        TEST(the_lines_of_calibrate_give_are_what_a_bench_file_takes),
        TEST(give_is_told_as_it_was_fitted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
