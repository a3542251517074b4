#include "verbs/simulate_output.h"

#include "base/number.h"
#include "base/units.h"
#include "bench/simtruth.h"
#include "check.h"
#include "run.h"

#include <gsl/gsl_errno.h>
#include <jansson.h>
#include <string.h>

/* One bow on the bench, with all that hangs on it. */
struct set {
    struct simbow *bow;
    struct simrig *rig;
    struct simbench *bench;
    struct simbench_settings settings;
};

static struct set open_set(void)
{
    struct err err;
    struct set set = {.settings = simbench_defaults()};
    struct simbow_settings nominal = simbow_nominal();
    struct simhand_settings hand = simhand_defaults();
    struct buf path = {0};
    buf_printf(&path, "%s/fixtures/bows/hunting_compound.ini", source_root());
    check_ok(simbow_open(&set.bow, buf_string(&path), &nominal, &err));
    check_ok(simrig_open(&set.rig, set.bow, &hand, SIMTRUTH_PRESS_N, 0.0, &err));
    check_ok(simbench_open(&set.bench, &set.settings, &err));
    buf_clear(&path);
    return set;
}

static void close_set(struct set *set)
{
    simbench_close(set->bench);
    simrig_close(set->rig);
    simbow_close(set->bow);
}

struct row {
    double draw_in, force_lbf, time_s;
};

/* The row that begins at text; the beginning of the next one, NULL behind the last. */
static const char *read_row(const char *text, struct row *row)
{
    const char *end = text + strlen(text);
    const char *at = number_scan(text, end, '.', &row->draw_in);
    assert_true(at != NULL && *at == ',');
    at = number_scan(at + 1, end, '.', &row->force_lbf);
    assert_true(at != NULL && *at == ',');
    at = number_scan(at + 1, end, '.', &row->time_s);
    assert_true(at != NULL && *at == '\n');
    return at[1] != '\0' ? at + 1 : NULL;
}

static const char *first_row(const struct buf *table)
{
    static const char header[] = "\ndraw_in,force_lbf,time_s\n";
    const char *at = strstr(buf_string(table), header);
    assert_non_null(at);
    return at + strlen(header);
}

static void table_has_its_notes_first(void **state)
{
    (void)state;
    struct set set = open_set();
    struct err err;
    struct buf out = {0};
    check_ok(simulate_csv(&out, set.bow, set.rig, set.bench, &set.settings, false, &err));
    assert_int_equal(strncmp(buf_string(&out), "# source: simulated bench\n", 26), 0);
    assert_non_null(strstr(buf_string(&out), "\n# bow: Hollow Oak Thicket 29\n"));
    assert_non_null(strstr(buf_string(&out), "\n# axis: pivot\n"));
    buf_clear(&out);
    close_set(&set);
}

static void noise_free_rows_are_the_model_to_the_last_digit(void **state)
{
    (void)state;
    struct set set = open_set();
    struct err err;
    struct buf out = {0};
    check_ok(simulate_csv(&out, set.bow, set.rig, set.bench, &set.settings, true, &err));
    simrig_restart(set.rig);
    struct row row;
    for (const char *at = first_row(&out); at != NULL;) {
        at = read_row(at, &row);
        double draw_m, force_n;
        check_ok(simrig_at(set.rig, row.time_s, &draw_m, &force_n, &err));
        check_near(row.draw_in, unit_from_si(UNIT_IN, draw_m), 0.0);
        check_near(row.force_lbf, unit_from_si(UNIT_LBF, force_n), 0.0);
    }
    buf_clear(&out);
    close_set(&set);
}

static void noisy_rows_stay_near_the_model_and_cover_the_capture(void **state)
{
    (void)state;
    struct set set = open_set();
    struct err err;
    struct buf out = {0};
    check_ok(simulate_csv(&out, set.bow, set.rig, set.bench, &set.settings, false, &err));
    simrig_restart(set.rig);
    struct row row;
    for (const char *at = first_row(&out); at != NULL;) {
        at = read_row(at, &row);
        double draw_m, force_n;
        check_ok(simrig_at(set.rig, row.time_s, &draw_m, &force_n, &err));
        check_near(row.draw_in, unit_from_si(UNIT_IN, draw_m), 6 * 0.002 + 0.0005);
        check_near(row.force_lbf, unit_from_si(UNIT_LBF, force_n), 6 * 0.05 + 0.0005);
    }
    check_near(row.time_s, simrig_duration_s(set.rig), 1.0 / 80);
    buf_clear(&out);
    close_set(&set);
}

static void truth_reads_back_exactly(void **state)
{
    (void)state;
    struct set set = open_set();
    struct err err;
    struct buf out = {0};
    struct simtruth truth;
    check_ok(simtruth_find(set.bow, SIMTRUTH_PRESS_N, &truth, &err));
    check_ok(simulate_truth(&out, set.bow, SIMTRUTH_PRESS_N, true, &err));
    json_t *tree = json_loads(buf_string(&out), 0, NULL);
    json_t *figures = json_object_get(tree, "figures");
    assert_int_equal(json_object_size(figures), SIMTRUTH_COUNT);
    json_t *peak = json_object_get(figures, "peak_force");
    check_near(json_number_value(json_object_get(peak, "value")),
               truth.value_si[SIMTRUTH_PEAK_FORCE], 0.0);
    assert_string_equal(json_string_value(json_object_get(peak, "unit")), "N");
    json_decref(tree);
    buf_clear(&out);
    close_set(&set);
}

static void truth_in_trade_units_says_so(void **state)
{
    (void)state;
    struct set set = open_set();
    struct err err;
    struct buf out = {0};
    check_ok(simulate_truth(&out, set.bow, SIMTRUTH_PRESS_N, false, &err));
    json_t *tree = json_loads(buf_string(&out), 0, NULL);
    json_t *stored = json_object_get(json_object_get(tree, "figures"), "stored_energy");
    assert_string_equal(json_string_value(json_object_get(stored, "unit")), "ft.lbf");
    check_near(json_number_value(json_object_get(stored, "value")), 85.2, 0.1);
    json_decref(tree);
    buf_clear(&out);
    close_set(&set);
}

static void known_loads_go_up_and_down_twice(void **state)
{
    (void)state;
    struct set set = open_set();
    struct buf out = {0};
    simulate_known_loads(&out, set.bench, &set.settings.force);
    assert_int_equal(strncmp(buf_string(&out), "load_lbf,count,run,direction\n0,", 31), 0);
    size_t up = 0, down = 0;
    for (const char *at = buf_string(&out); (at = strstr(at, ",increasing\n")) != NULL; at++)
        up++;
    for (const char *at = buf_string(&out); (at = strstr(at, ",decreasing\n")) != NULL; at++)
        down++;
    assert_int_equal(up, 2 * 13);
    assert_int_equal(down, 2 * 13);
    buf_clear(&out);
    close_set(&set);
}

static void known_lengths_show_what_the_encoder_would(void **state)
{
    (void)state;
    struct set set = open_set();
    struct buf out = {0};
    simulate_known_lengths(&out, set.bench, &set.settings.travel);
    const char *row = strstr(buf_string(&out), "\n8,");
    assert_non_null(row);
    double count = 0.0;
    assert_non_null(number_scan(row + 3, row + strlen(row), '.', &count));
    /* 2 counts of noise, the mean of 80 readings. */
    check_near(count, 1200 + 40000 * 8 * 0.0254, 6 * 2.05 / sqrt(80));
    buf_clear(&out);
    close_set(&set);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(table_has_its_notes_first),
        cmocka_unit_test(noise_free_rows_are_the_model_to_the_last_digit),
        cmocka_unit_test(noisy_rows_stay_near_the_model_and_cover_the_capture),
        cmocka_unit_test(truth_reads_back_exactly),
        cmocka_unit_test(truth_in_trade_units_says_so),
        cmocka_unit_test(known_loads_go_up_and_down_twice),
        cmocka_unit_test(known_lengths_show_what_the_encoder_would),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
