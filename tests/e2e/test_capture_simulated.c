/* capture: on the program's own simulated bench, from calibration to a figure. */
#include "check.h"
#include "run.h"
#include "stand.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static struct err err;

/* Runs the program with these arguments; what it prints is in *out. */
static void run_program(struct buf *out, const char *const *arguments)
{
    struct child child;
    child_start_program(&child, arguments);
    int code = child_wait(&child, PATIENCE_S);
    if (code != 0)
        fail_msg("%s: exit %d: %s", arguments[0], code, buf_string(&child.err));
    buf_add(out, buf_string(&child.out), child.out.length);
    child_clear(&child);
}

/* Calibrates the stand's bench with what the simulated converters show for known loads. */
static void calibrate(const struct stand *stand, const char *what, const char *known)
{
    struct buf table = {0}, page = {0};
    char path[64];
    (void)snprintf(path, sizeof path, "%s/known.csv", stand->folder);
    run_program(&table, (const char *const[]){"simulate", known, NULL});
    check_ok(buf_write_file(&table, path, &err));
    run_program(&page, (const char *const[]){"calibrate", what, "--bench", stand->bench, "--table",
                                             path, "--record", stand->record, NULL});
    buf_clear(&table);
    buf_clear(&page);
}

/* A stand with the simulated bench on, ten times faster than life, with one fault ("" for none). */
struct simulated {
    struct stand stand;
    struct child bench;
    char port[64];
};

static void simulated_open(struct simulated *simulated, const char *fault)
{
    char bow[512];
    (void)snprintf(bow, sizeof bow, "%s/fixtures/bows/target_compound.ini", source_root());
    stand_open(&simulated->stand, "");
    calibrate(&simulated->stand, "force", "--known-loads");
    calibrate(&simulated->stand, "travel", "--known-lengths");
    const char *arguments[] = {"simulate",   "--pty", "--bow", bow,  "--seed", "7",
                               "--speed-up", "10",    NULL,    NULL, NULL};
    if (fault[0] != '\0') {
        arguments[8] = "--fault";
        arguments[9] = fault;
    }
    child_start_program(&simulated->bench, arguments);
    struct buf line = {0};
    assert_true(child_line(&simulated->bench, PATIENCE_S, &line));
    (void)snprintf(simulated->port, sizeof simulated->port, "%s", buf_string(&line));
    buf_clear(&line);
}

static void simulated_close(struct simulated *simulated)
{
    child_clear(&simulated->bench);
    stand_close(&simulated->stand);
}

/* Captures from the simulated bench; more arguments up to NULL. */
static int capture(struct simulated *simulated, const char *const more[6])
{
    struct stand *stand = &simulated->stand;
    const char *arguments[16] = {"capture",     "--bench", stand->bench,   "--record",
                                 stand->record, "--port",  simulated->port};
    for (size_t i = 0; i < 6; i++)
        arguments[7 + i] = more[i];
    child_start_program(&stand->program, arguments);
    return child_wait(&stand->program, PATIENCE_S);
}

static void a_good_pull_is_captured_and_measured(void **state)
{
    (void)state;
    struct simulated simulated;
    simulated_open(&simulated, "");
    stand_check_exit(&simulated.stand, capture(&simulated, ALONE), 0);
    stand_check_said(&simulated.stand, "1 complete pull\n");
    struct kept kept = kept_look(&simulated.stand);
    assert_int_equal(kept.capture.state, CAPTURE_COMPLETE);
    assert_int_equal(kept.capture.counts.n_lost, 0);
    assert_int_equal(kept.capture.counts.n_malformed + kept.capture.counts.n_bad_checksum, 0);
    kept_clear(&kept);
    struct buf measured = {0};
    run_program(&measured, (const char *const[]){"measure", "last", "--record",
                                                 simulated.stand.record, "--json", NULL});
    assert_non_null(strstr(buf_string(&measured), "\"peak_force\""));
    buf_clear(&measured);
    simulated_close(&simulated);
}

static void lost_and_garbled_lines_do_not_spoil_a_pull(void **state)
{
    (void)state;
    static const char *const faults[] = {"gaps:0.05", "flip:0.05", "garbage:0.05"};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        struct simulated simulated;
        simulated_open(&simulated, faults[i]);
        stand_check_exit(&simulated.stand, capture(&simulated, ALONE), 0);
        struct kept kept = kept_look(&simulated.stand);
        const struct capture_counts *counts = &kept.capture.counts;
        assert_true(counts->n_lost + counts->n_malformed + counts->n_bad_checksum > 10);
        assert_int_equal(counts->n_out_of_order, 0);
        assert_int_equal(counts->n_readings, kept.n);
        for (size_t k = 1; k < kept.n; k++)
            assert_true(kept.readings[k].sequence > kept.readings[k - 1].sequence);
        kept_clear(&kept);
        simulated_close(&simulated);
    }
}

static void a_saturated_converter_is_told_and_marked(void **state)
{
    (void)state;
    struct simulated simulated;
    simulated_open(&simulated, "saturation:40");
    stand_write(simulated.stand.bench,
                "[bench]\nname = test bench\n[force]\ncount_min = -8388608\ncount_max = 8388607\n");
    stand_check_exit(&simulated.stand, capture(&simulated, WITH("--seconds", "3")), 0);
    stand_check_said(&simulated.stand, "!!! a converter is SATURATED");
    struct kept kept = kept_look(&simulated.stand);
    int64_t n_saturated = 0;
    for (size_t i = 0; i < kept.n; i++)
        n_saturated += (kept.readings[i].flags & RAW_FORCE_SATURATED) != 0;
    assert_true(n_saturated > 0);
    assert_int_equal(kept.capture.counts.n_saturated, n_saturated);
    kept_clear(&kept);
    simulated_close(&simulated);
}

static void silence_in_the_middle_of_a_draw_is_told(void **state)
{
    (void)state;
    struct simulated simulated;
    simulated_open(&simulated, "silence:15");
    stand_write(simulated.stand.bench, "[bench]\nname = test bench\n[guard]\nsilence = 0.3 s\n");
    stand_check_exit(&simulated.stand, capture(&simulated, WITH("--seconds", "2")), 75);
    stand_check_said(&simulated.stand, "!!! NO READINGS");
    struct kept kept = kept_look(&simulated.stand);
    assert_true(kept.n > 50);
    assert_int_equal(kept.capture.state, CAPTURE_INCOMPLETE);
    kept_clear(&kept);
    simulated_close(&simulated);
}

static void a_hang_up_in_the_middle_of_a_draw_keeps_what_was_measured(void **state)
{
    (void)state;
    struct simulated simulated;
    simulated_open(&simulated, "hang-up:15");
    stand_check_exit(&simulated.stand, capture(&simulated, ALONE), 75);
    stand_check_said(&simulated.stand, "THE PORT WENT AWAY");
    struct kept kept = kept_look(&simulated.stand);
    assert_true(kept.n > 50);
    assert_int_equal(kept.capture.state, CAPTURE_INCOMPLETE);
    kept_clear(&kept);
    simulated_close(&simulated);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_good_pull_is_captured_and_measured),
        cmocka_unit_test(lost_and_garbled_lines_do_not_spoil_a_pull),
        cmocka_unit_test(a_saturated_converter_is_told_and_marked),
        cmocka_unit_test(silence_in_the_middle_of_a_draw_is_told),
        cmocka_unit_test(a_hang_up_in_the_middle_of_a_draw_keeps_what_was_measured),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
