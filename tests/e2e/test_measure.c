/* `pullcurve measure` as a user runs it: files and captures in, figures, pictures and messages
 * out. */
#include "base/mem.h"
#include "base/units.h"
#include "check.h"
#include "child.h"
#include "record/record.h"
#include "run.h"

#include <fcntl.h>
#include <jansson.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define PATIENCE_S 60.0

static struct err err;
static char folder[] = "/tmp/pullcurve-measure-XXXXXX";

/* --- running it ------------------------------------------------------------------------------ */

/* What it printed; from the last call of measure(). */
static struct child answer;

/* Runs measure with up to ten arguments. */
#define measure(...) run_measure((const char *const[11]){__VA_ARGS__})

static int run_measure(const char *const more[11])
{
    const char *arguments[16] = {"measure"};
    for (size_t i = 0; more[i] != NULL; i++)
        arguments[i + 1] = more[i];
    child_clear(&answer);
    child_start_program(&answer, arguments);
    return child_wait(&answer, PATIENCE_S);
}

static void check_code(int code, int expected)
{
    if (code != expected)
        fail_msg("exit code %d, expected %d\n%s\n%s", code, expected, buf_string(&answer.out),
                 buf_string(&answer.err));
}

static void check_says(const struct buf *text, const char *part)
{
    if (strstr(buf_string(text), part) == NULL)
        fail_msg("\"%s\" is not in:\n%s", part, buf_string(text));
}

/* The message on standard error and the exit code of what is refused. */
#define check_refused(code, words, ...)         \
    do {                                        \
        check_code(measure(__VA_ARGS__), code); \
        check_says(&answer.err, words);         \
    } while (0)

static const char *fixture(const char *name)
{
    static char path[512];
    (void)snprintf(path, sizeof path, "%s/fixtures/tables/%s", source_root(), name);
    return path;
}

/* A path in the test's own folder. Four calls later the text is used again. */
static const char *scratch(const char *name)
{
    static char path[4][128];
    static size_t next;
    char *text = path[next++ % 4];
    (void)snprintf(text, sizeof path[0], "%s/%s", folder, name);
    return text;
}

static const char *write_file(const char *name, const char *text)
{
    struct buf file = {0};
    buf_text(&file, text);
    check_ok(buf_write_file(&file, scratch(name), &err));
    buf_clear(&file);
    return scratch(name);
}

static json_t *parse_answer(void)
{
    json_error_t error;
    json_t *root = json_loadb(answer.out.text, answer.out.length, JSON_REJECT_DUPLICATES, &error);
    if (root == NULL)
        fail_msg("line %d: %s\n%s", error.line, error.text, buf_string(&answer.out));
    return root;
}

static json_t *measure_json(const char *path, const char *more, const char *argument)
{
    check_code(measure("--json", path, more, argument), 0);
    return parse_answer();
}

static double value_of(const json_t *root, const char *figure)
{
    const json_t *value =
        json_object_get(json_object_get(json_object_get(root, "figures"), figure), "value");
    return json_is_number(value) ? json_number_value(value) : NAN;
}

static bool warns(const json_t *root, const char *code)
{
    size_t i;
    json_t *warning;
    json_array_foreach(json_object_get(root, "warnings"), i, warning)
    {
        if (strcmp(json_string_value(json_object_get(warning, "code")), code) == 0)
            return true;
    }
    return false;
}

/* --- published and closed-form values -------------------------------------------------------- */

static void the_published_compound_has_its_published_energy(void **state)
{
    (void)state;
    json_t *root = measure_json(fixture("published_compound.csv"), "--units", "si");
    /* Vincent B., Calculer l'efficacite de son arc, 2016, tables 1 to 4: peak 218 N, 60 N at full
     * draw, brace 0.18 m, full draw 0.72 m, stored energy 88 J; the trapezoids of the printed
     * column, not rounded one by one, give 88.14 J. */
    check_near(value_of(root, "peak_force"), 218, 1e-9);
    check_near(value_of(root, "holding_force"), 60, 1e-9);
    check_near(value_of(root, "brace_height"), 0.18, 1e-12);
    check_near(value_of(root, "full_draw"), 0.72, 1e-12);
    check_near(value_of(root, "stored_energy"), 88.14, 1e-9);
    /* 100 (218 - 60) / 218 and 88.14 / (218 x 0.54) of the same. */
    check_near(value_of(root, "let_off"), 72.477064220183486, 1e-9);
    check_near(value_of(root, "fullness"), 0.74872579, 1e-7);
    check_near(value_of(root, "draw_length_ata"), 0.72 + 1.75 * 0.0254, 1e-12);
    json_decref(root);
}

static void the_parabola_stores_its_energy(void **state)
{
    (void)state;
    json_t *root = measure_json(fixture("parabola_c9.csv"), "--units", "si");
    /* Young and Freedman, University Physics, problem 6.84: W = 2/3 F0 x0 = 100 J. */
    check_near(value_of(root, "stored_energy"), 100, 0.05);
    check_near(value_of(root, "peak_force"), 200, 0.05);
    json_decref(root);
}

static void the_straight_bow_stores_its_energy(void **state)
{
    (void)state;
    json_t *root = measure_json(fixture("linear_c10.csv"), "--units", "si");
    /* Serway and Jewett, Physics for Scientists and Engineers, 6th edition, problem 7.16: 46.0 J.
     */
    check_near(value_of(root, "stored_energy"), 46.0, 0.01);
    check_near(value_of(root, "fullness"), 0.5, 0.001);
    json_decref(root);
}

/* --- JSON ------------------------------------------------------------------------------------ */

static void json_has_the_promised_members(void **state)
{
    (void)state;
    json_t *root = measure_json(fixture("published_compound.csv"), NULL, NULL);
    assert_int_equal(json_integer_value(json_object_get(root, "schema")), 1);
    assert_true(json_is_object(json_object_get(root, "source")));
    assert_true(json_is_object(json_object_get(root, "settings")));
    assert_int_equal(json_array_size(json_object_get(root, "pulls")), 1);
    assert_true(json_array_size(json_object_get(root, "warnings")) > 0);
    static const char *const names[] = {
        "peak_force",      "peak_position",    "holding_force",     "valley_position",
        "let_off",         "let_off_let_down", "brace_height",      "full_draw",
        "draw_length_ata", "power_stroke",     "stored_energy",     "returned_energy",
        "hysteresis",      "hysteresis_pct",   "static_efficiency", "energy_per_peak",
        "fullness",        "wall_onset",       "wall_stiffness",    "stop_stagger",
        "valley_width",    "plateau",          "steepest_rise",     "steepest_drop"};
    const json_t *figures = json_object_get(root, "figures");
    const json_t *pull = json_array_get(json_object_get(root, "pulls"), 0);
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        static const char *const members[] = {"value", "unit", "u", "low", "high"};
        for (size_t k = 0; k < 5; k++) {
            assert_non_null(json_object_get(json_object_get(figures, names[i]), members[k]));
            assert_non_null(json_object_get(json_object_get(pull, names[i]), members[k]));
        }
    }
    json_decref(root);
}

static void what_does_not_exist_is_null_with_a_reason(void **state)
{
    (void)state;
    json_t *root = measure_json(fixture("published_compound.csv"), NULL, NULL);
    assert_true(isnan(value_of(root, "returned_energy")));
    assert_true(isnan(value_of(root, "wall_onset")));
    assert_true(warns(root, "no_let_down"));
    assert_true(warns(root, "no_wall"));
    assert_true(warns(root, "brace_assumed"));
    json_decref(root);
}

static void trade_and_si_are_the_same_figures(void **state)
{
    (void)state;
    json_t *trade = measure_json(fixture("published_compound.csv"), NULL, NULL);
    json_t *si = measure_json(fixture("published_compound.csv"), "--units", "si");
    check_near(value_of(trade, "peak_force") * 4.4482216152605, value_of(si, "peak_force"), 1e-9);
    check_near(value_of(trade, "full_draw") * 0.0254, value_of(si, "full_draw"), 1e-12);
    check_near(value_of(trade, "stored_energy") * 1.3558179483314004, value_of(si, "stored_energy"),
               1e-9);
    check_near(value_of(trade, "let_off"), value_of(si, "let_off"), 0);
    json_decref(trade);
    json_decref(si);
}

static void notes_of_a_file_are_in_the_source(void **state)
{
    (void)state;
    write_file("notes.csv", "# bow: \xFF \"Thicket\" 29\n# axis: pivot\ndraw_in,force_lbf\n7,0\n"
                            "12,30\n20,60\n24,50\n28,20\n");
    json_t *root = measure_json(scratch("notes.csv"), NULL, NULL);
    const json_t *notes = json_object_get(json_object_get(root, "source"), "notes");
    assert_string_equal(json_string_value(json_object_get(notes, "bow")),
                        "\xEF\xBF\xBD \"Thicket\" 29");
    json_decref(root);
}

/* --- files ----------------------------------------------------------------------------------- */

static void all_notations_of_a_table_give_the_same_figures(void **state)
{
    (void)state;
    json_t *first = measure_json(fixture("published_compound.csv"), NULL, NULL);
    static const char *const names[] = {"bom_crlf.csv", "tabs.tsv"};
    for (size_t i = 0; i < 2; i++) {
        json_t *root = measure_json(fixture(names[i]), NULL, NULL);
        assert_true(
            json_equal(json_object_get(root, "figures"), json_object_get(first, "figures")));
        json_decref(root);
    }
    json_decref(first);
}

static void a_decimal_comma_is_read(void **state)
{
    (void)state;
    json_t *root = measure_json(fixture("semicolon_decimal_comma.csv"), "--units", "si");
    check_near(value_of(root, "peak_force"), 218.5, 1e-9);
    json_decref(root);
}

static void positions_on_the_ata_axis_are_shifted(void **state)
{
    (void)state;
    json_t *pivot = measure_json(fixture("published_compound.csv"), NULL, NULL);
    json_t *option = measure_json(fixture("published_compound.csv"), "--axis", "ata");
    check_near(value_of(option, "full_draw"), value_of(pivot, "full_draw") - 1.75, 1e-9);
    check_near(value_of(option, "stored_energy"), value_of(pivot, "stored_energy"), 1e-9);
    static const char table[] =
        "draw_in,force_lbf\n8.75,0\n13.75,30\n21.75,60\n25.75,50\n29.75,20\n";
    struct buf text = {0};
    buf_printf(&text, "# axis: ATA\n%s", table);
    json_t *note = measure_json(write_file("ata.csv", buf_string(&text)), NULL, NULL);
    check_near(value_of(note, "brace_height"), 7, 1e-9);
    json_t *override = measure_json(scratch("ata.csv"), "--axis", "pivot");
    check_near(value_of(override, "brace_height"), 8.75, 1e-9);
    json_decref(pivot);
    json_decref(option);
    json_decref(note);
    json_decref(override);
    buf_clear(&text);
}

static void columns_are_mapped(void **state)
{
    (void)state;
    write_file("mapped.csv", "Nr;Weg [mm];Kraft\n1;180;0,2\n2;300;16,0\n3;480;22,2\n4;720;6,1\n");
    json_t *root =
        measure_json(scratch("mapped.csv"), "--columns", "draw=weg [mm],force=Kraft:kgf");
    check_near(value_of(root, "peak_force"), 22.2 / 0.45359237, 1e-9);
    check_near(value_of(root, "full_draw"), 720 / 25.4, 1e-9);
    json_decref(root);
}

static void standard_input_is_a_table(void **state)
{
    (void)state;
    struct buf command = {0}, out = {0};
    buf_printf(&command, "%s measure --json - <%s", child_program(),
               fixture("published_compound.csv"));
    assert_int_equal(run_command(&out, buf_string(&command)), 0);
    check_says(&out, "\"name\": \"standard input\"");
    buf_clear(&command);
    buf_clear(&out);
}

static void bad_cells_stop_it_or_are_counted(void **state)
{
    (void)state;
    check_refused(65, "bad_cell.csv:6: column 'force_n' (2): '2O4' is no number",
                  fixture("bad_cell.csv"));
    check_says(&answer.err, "--skip-bad-rows");
    json_t *root = measure_json(fixture("bad_cell.csv"), "--skip-bad-rows", NULL);
    assert_true(warns(root, "bad_rows"));
    assert_int_equal(
        json_integer_value(json_object_get(json_object_get(root, "source"), "bad_rows")), 1);
    json_decref(root);
    check_code(measure("--skip-bad-rows", fixture("bad_cell.csv")), 0);
    check_says(&answer.out, "1 bad row(s) of the file were skipped");
    check_says(&answer.out, "bad_cell.csv:6:");
}

static void faults_have_the_promised_exit_codes(void **state)
{
    (void)state;
    const char *good = fixture("published_compound.csv");
    check_refused(64, "--units", good, "--units", "metric");
    check_refused(64, "--full-draw", good, "--full-draw", "deep");
    check_refused(64, "--columns", good, "--columns", "draw");
    check_refused(64, "--axis", good, "--axis", "x");
    check_refused(64, "take one of them", good, "--json", "--csv");
    check_refused(66, "no-such.csv", "no-such.csv");
    check_refused(65, "no column is called draw_in", write_file("cols.csv", "a,b\n1,2\n3,4\n"));
    check_refused(65, "holds no table", write_file("empty.csv", ""));
    check_refused(65, "flat.csv",
                  write_file("flat.csv", "draw_in,force_lbf\n7,0\n8,0\n9,0\n10,0\n"));
    check_refused(65, "short.csv", write_file("short.csv", "draw_in,force_lbf\n7,0\n"));
    check_refused(65, "can be read as a decimal comma or as a thousand",
                  write_file("thousand.csv", "draw_mm;force_n\n1,234;12\n2,345;13\n"));
    check_refused(65, "is a directory", "/tmp/.");
}

static void messages_carry_no_control_characters(void **state)
{
    (void)state;
    check_refused(65, "\xEF\xBF\xBD[31m",
                  write_file("escape.csv", "draw_in,force_lbf\n7,\x1B[31mred\n"));
    assert_null(strchr(buf_string(&answer.err), '\x1B'));
}

/* --- full draw, brace height ----------------------------------------------------------------- */

static void full_draw_is_where_it_is_stated(void **state)
{
    (void)state;
    const char *path = fixture("published_compound.csv");
    json_t *root = measure_json(path, "--full-draw", "27.75");
    check_near(value_of(root, "full_draw"), 26, 1e-9);
    check_near(value_of(root, "draw_length_ata"), 27.75, 1e-9);
    assert_string_equal(
        json_string_value(json_object_get(json_object_get(root, "settings"), "full_draw_rule")),
        "stated");
    json_decref(root);
    root = measure_json(path, "--full-draw", "70cm");
    check_near(value_of(root, "draw_length_ata"), 70 / 2.54, 1e-9);
    json_decref(root);
    root = measure_json(path, "--full-draw", "largest");
    check_near(value_of(root, "full_draw"), 72 / 2.54, 1e-9);
    json_decref(root);
}

static void brace_height_can_be_stated(void **state)
{
    (void)state;
    json_t *root = measure_json(fixture("published_compound.csv"), "--brace", "7.5");
    check_near(value_of(root, "brace_height"), 7.5, 1e-9);
    assert_false(warns(root, "brace_assumed"));
    json_decref(root);
}

/* --- text, CSV, pictures --------------------------------------------------------------------- */

static void text_names_what_was_measured(void **state)
{
    (void)state;
    check_code(measure(fixture("published_compound.csv")), 0);
    check_says(&answer.out, "Published compound bow (");
    check_says(&answer.out, "1 pull, 10 readings; full draw: valley\n");
    check_says(&answer.out, "Stored energy                65.01");
    check_says(&answer.out, "\n* There is no let-down:");
}

static void csv_goes_out_and_warnings_go_beside(void **state)
{
    (void)state;
    check_code(measure("--csv", fixture("published_compound.csv")), 0);
    assert_memory_equal(answer.out.text, "figure,value,unit,u,low,high\npeak_force,", 39);
    assert_null(strstr(buf_string(&answer.out), "no let-down"));
    check_says(&answer.err, "* There is no let-down:");
}

static void check_is(const char *path, const char *start)
{
    struct buf file = {0};
    check_ok(buf_read_file(&file, path, &err));
    assert_true(file.length > 1000);
    assert_memory_equal(file.text, start, strlen(start));
    buf_clear(&file);
}

static void pictures_are_written(void **state)
{
    (void)state;
    check_code(measure("--png", scratch("a.png"), "--svg", scratch("a.svg"),
                       fixture("published_compound.csv")),
               0);
    check_is(scratch("a.png"), "\x89PNG");
    check_is(scratch("a.svg"), "<?xml");
    check_says(&answer.out, "Peak draw force");
}

static void the_title_is_shown_as_it_is(void **state)
{
    (void)state;
    static const char title[] = "O'Hara `touch /tmp/pullcurve-measure-title` \"x\" {/=99 y}";
    unlink("/tmp/pullcurve-measure-title");
    check_code(
        measure("--svg", scratch("t.svg"), "--title", title, fixture("published_compound.csv")), 0);
    struct buf svg = {0};
    check_ok(buf_read_file(&svg, scratch("t.svg"), &err));
    check_says(&svg, title);
    check_says(&answer.out, title);
    assert_int_not_equal(access("/tmp/pullcurve-measure-title", F_OK), 0);
    buf_clear(&svg);
}

static void the_terminal_gets_a_picture(void **state)
{
    (void)state;
    check_code(measure("--plot", fixture("published_compound.csv")), 0);
    check_says(&answer.out, "Peak 49.01 lbf at 18.90 in");
    check_says(&answer.out, "draw position, in");
    check_says(&answer.out, "Stored energy                65.01");
}

static void a_picture_that_can_not_be_written_leaves_the_figures(void **state)
{
    (void)state;
    check_refused(73, "/no/such/folder/a.png", "--png", "/no/such/folder/a.png",
                  fixture("published_compound.csv"));
    check_says(&answer.out, "Stored energy");
    char *path = strdup(getenv("PATH"));
    setenv("PATH", "/nonexistent", 1);
    check_refused(73, "gnuplot, which is not found", "--svg", scratch("b.svg"),
                  fixture("published_compound.csv"));
    setenv("PATH", path, 1);
    free(path);
    check_says(&answer.out, "Stored energy");
    assert_int_not_equal(access(scratch("b.svg"), F_OK), 0);
}

/* --- captures -------------------------------------------------------------------------------- */

enum { N_DRAW = 400, N_REST = 60, FORCE_ZERO = 5000, TRAVEL_REST = 12345 };

#define COUNTS_PER_N 1000.0
#define COUNTS_PER_M 200000.0
#define BRACE_M 0.18
#define STROKE_M 0.5

/* Parabola of 200 N over the stroke (the C9 curve at another stroke), drawn and let down at 0.9 of
 * the force: stored 2/3 x 200 x 0.5 J. */
static struct raw_reading reading_at(size_t i)
{
    double u = i < N_REST                ? 0
               : i < N_REST + N_DRAW     ? (double)(i - N_REST) / N_DRAW
               : i < N_REST + 2 * N_DRAW ? 2.0 - (double)(i - N_REST) / N_DRAW
                                         : 0;
    double force_n = 4 * 200 * u * (1.1 - u) / (1.1 * 1.1) * (i >= N_REST + N_DRAW ? 0.9 : 1);
    return (struct raw_reading){
        .arrival_us = (int64_t)i * 12500,
        .device_us = (int64_t)i * 12500,
        .sequence = (uint32_t)i,
        .force_count = FORCE_ZERO + (int32_t)lround(COUNTS_PER_N * force_n),
        .travel_count = TRAVEL_REST + (int32_t)lround(COUNTS_PER_M * STROKE_M * u),
        .flags = RAW_HAS_FORCE | RAW_HAS_TRAVEL | RAW_HAS_DEVICE_TIME | RAW_HAS_SEQUENCE};
}

static void add_calibration(struct record *record, enum quantity quantity, double zero_count,
                            double counts_per_unit, char key[RECORD_KEY_MAX])
{
    struct calibration_point points[6];
    for (int i = 0; i < 6; i++)
        points[i] = (struct calibration_point){
            .reference_si = (quantity == QUANTITY_FORCE ? 60 : 0.15) * i,
            .count =
                zero_count + counts_per_unit * (quantity == QUANTITY_FORCE ? 60 : 0.15) * i + i % 2,
            .run = 1};
    char bench[] = "Hollow Oak bench 1", note[] = "";
    struct record_calibration calibration = {.bench = bench,
                                             .quantity = quantity,
                                             .n_terms = 2,
                                             .note = note,
                                             .points = points,
                                             .n_points = 6};
    check_ok(record_calibration_add(record, &calibration, &err));
    memcpy(key, calibration.key, RECORD_KEY_MAX);
}

/* A record with one capture, made as the bench makes it. */
static const char *make_record(const char *name, bool has_brace)
{
    const char *path = scratch(name);
    struct record *record;
    char bow[] = "", bench[] = "Hollow Oak bench 1", note[] = "after new strings", program[] = "t";
    struct record_capture capture = {.bow_name = bow,
                                     .bench = bench,
                                     .note = note,
                                     .program = program,
                                     .has_brace = has_brace,
                                     .brace_m = BRACE_M};
    check_ok(record_open(&record, path, RECORD_CREATE, &err));
    add_calibration(record, QUANTITY_FORCE, FORCE_ZERO, COUNTS_PER_N,
                    capture.force_calibration_key);
    add_calibration(record, QUANTITY_LENGTH, 0, COUNTS_PER_M, capture.travel_calibration_key);
    check_ok(record_capture_begin(record, &capture, &err));
    enum { N = 2 * N_REST + 2 * N_DRAW };
    struct raw_reading *raw = mem_calloc(N, sizeof *raw);
    for (size_t i = 0; i < N; i++)
        raw[i] = reading_at(i);
    raw[100].flags |= RAW_FORCE_SATURATED;
    check_ok(record_capture_append(record, capture.key, raw, N, &err));
    struct capture_counts counts = {.n_readings = N, .n_saturated = 1};
    check_ok(record_capture_end(record, capture.key, CAPTURE_COMPLETE, &counts, &err));
    free(raw);
    record_close(record);
    return path;
}

static void a_capture_is_measured_by_number_key_and_last(void **state)
{
    (void)state;
    const char *path = make_record("shop.db", true);
    static const char *const names[] = {"1", "last", NULL};
    char key[RECORD_KEY_MAX] = "";
    for (size_t i = 0; i < 4; i++) {
        const char *name = i < 3 ? names[i] : key;
        check_code(measure("--json", "--units", "si", "--record", path, name), 0);
        json_t *root = parse_answer();
        check_near(value_of(root, "brace_height"), BRACE_M, 2e-5);
        check_near(value_of(root, "peak_force"), 200, 0.1);
        assert_true(warns(root, "left_out"));
        const json_t *source = json_object_get(root, "source");
        assert_string_equal(json_string_value(json_object_get(source, "kind")), "capture");
        assert_string_equal(json_string_value(json_object_get(source, "note")),
                            "after new strings");
        memcpy(key, json_string_value(json_object_get(source, "key")), 8);
        json_decref(root);
    }
}

/* The integral of the draw, 4 F u (1.1 - u) / 1.1^2 over the stroke, by hand:
 * 4 x 200 x 0.5 / 1.21 x (1.1/2 - 1/3). */
static void a_capture_has_energies_with_uncertainty(void **state)
{
    (void)state;
    const char *path = make_record("energy.db", true);
    check_code(measure("--json", "--units", "si", "--full-draw", "largest", "--record", path), 0);
    json_t *root = parse_answer();
    double stored_j = 4 * 200 * 0.5 / 1.21 * (0.55 - 1.0 / 3.0);
    check_near(value_of(root, "stored_energy"), stored_j, 0.05);
    check_near(value_of(root, "returned_energy"), 0.9 * stored_j, 0.1);
    const json_t *stored = json_object_get(json_object_get(root, "figures"), "stored_energy");
    assert_true(json_number_value(json_object_get(stored, "u")) > 0);
    assert_true(json_number_value(json_object_get(stored, "low")) < stored_j);
    assert_true(json_number_value(json_object_get(stored, "high")) > stored_j);
    json_decref(root);
}

static void a_stated_brace_height_is_the_datum_of_a_capture(void **state)
{
    (void)state;
    const char *path = make_record("brace.db", false);
    check_code(measure("--json", "--units", "si", "--brace", "20cm", "--record", path), 0);
    json_t *root = parse_answer();
    check_near(value_of(root, "brace_height"), 0.20, 2e-5);
    json_decref(root);
}

static void a_file_goes_before_a_capture_of_the_same_name(void **state)
{
    (void)state;
    const char *path = make_record("both.db", true);
    char here[256];
    assert_non_null(getcwd(here, sizeof here));
    struct buf table = {0};
    check_ok(buf_read_file(&table, fixture("published_compound.csv"), &err));
    check_ok(buf_write_file(&table, scratch("1"), &err));
    assert_int_equal(chdir(folder), 0);
    check_code(measure("--json", "1", "--record", path), 0);
    json_t *root = parse_answer();
    assert_string_equal(json_string_value(json_object_get(json_object_get(root, "source"), "kind")),
                        "table");
    json_decref(root);
    unlink("1");
    assert_int_equal(chdir(here), 0);
    buf_clear(&table);
}

static void a_capture_that_is_not_there_is_told(void **state)
{
    (void)state;
    const char *path = make_record("there.db", true);
    check_refused(66, "'7' is no file, and as a capture", "7", "--record", path);
    check_refused(66, "none.db", "last", "--record", scratch("none.db"));
    check_refused(64, "are for table files", "1", "--axis", "ata", "--record", path);
    assert_int_not_equal(access(scratch("none.db"), F_OK), 0);
}

/* --------------------------------------------------------------------------------------------- */

static int open_folder(void **state)
{
    (void)state;
    struct buf plots = {0};
    buf_printf(&plots, "%s/plots", source_root());
    setenv("PULLCURVE_PLOTS", buf_string(&plots), 1);
    buf_clear(&plots);
    return mkdtemp(folder) != NULL ? 0 : -1;
}

static int close_folder(void **state)
{
    (void)state;
    struct buf command = {0}, out = {0};
    child_clear(&answer);
    buf_printf(&command, "rm -rf %s", folder);
    int code = run_command(&out, buf_string(&command));
    buf_clear(&command);
    buf_clear(&out);
    return code;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_published_compound_has_its_published_energy),
        cmocka_unit_test(the_parabola_stores_its_energy),
        cmocka_unit_test(the_straight_bow_stores_its_energy),
        cmocka_unit_test(json_has_the_promised_members),
        cmocka_unit_test(what_does_not_exist_is_null_with_a_reason),
        cmocka_unit_test(trade_and_si_are_the_same_figures),
        cmocka_unit_test(notes_of_a_file_are_in_the_source),
        cmocka_unit_test(all_notations_of_a_table_give_the_same_figures),
        cmocka_unit_test(a_decimal_comma_is_read),
        cmocka_unit_test(positions_on_the_ata_axis_are_shifted),
        cmocka_unit_test(columns_are_mapped),
        cmocka_unit_test(standard_input_is_a_table),
        cmocka_unit_test(bad_cells_stop_it_or_are_counted),
        cmocka_unit_test(faults_have_the_promised_exit_codes),
        cmocka_unit_test(messages_carry_no_control_characters),
        cmocka_unit_test(full_draw_is_where_it_is_stated),
        cmocka_unit_test(brace_height_can_be_stated),
        cmocka_unit_test(text_names_what_was_measured),
        cmocka_unit_test(csv_goes_out_and_warnings_go_beside),
        cmocka_unit_test(pictures_are_written),
        cmocka_unit_test(the_title_is_shown_as_it_is),
        cmocka_unit_test(the_terminal_gets_a_picture),
        cmocka_unit_test(a_picture_that_can_not_be_written_leaves_the_figures),
        cmocka_unit_test(a_capture_is_measured_by_number_key_and_last),
        cmocka_unit_test(a_capture_has_energies_with_uncertainty),
        cmocka_unit_test(a_stated_brace_height_is_the_datum_of_a_capture),
        cmocka_unit_test(a_file_goes_before_a_capture_of_the_same_name),
        cmocka_unit_test(a_capture_that_is_not_there_is_told),
    };
    return cmocka_run_group_tests(tests, open_folder, close_folder);
}
