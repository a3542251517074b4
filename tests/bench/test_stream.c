/* stream: a controller's bytes to readings; whatever is wrong is counted and never used in
 * silence. */
#include "base/buf.h"
#include "bench/stream.h"
#include "check.h"
#include "random.h"

#include <string.h>

enum { STEP_US = 12500, MOST = 4000 };

/* A stream and everything it gave. */
struct bench {
    struct stream stream;
    struct raw_reading got[MOST];
    size_t n;
    int64_t now_us;
};

static struct bench begin(void)
{
    struct bench bench = {.now_us = 1000000};
    struct stream_settings settings = {.force = {-8388608, 8388607}, .travel = {-100000, 100000}};
    stream_init(&bench.stream, &settings);
    return bench;
}

static void feed(struct bench *bench, const char *bytes, size_t n)
{
    for (size_t at = 0; at < n;) {
        bool made;
        struct raw_reading reading;
        at += stream_feed(&bench->stream, bytes + at, n - at, bench->now_us, &reading, &made);
        if (made) {
            assert_true(bench->n < MOST);
            bench->got[bench->n++] = reading;
        }
    }
}

static void feed_text(struct bench *bench, const char *text)
{
    feed(bench, text, strlen(text));
}

/* The line that a controller sends as its i-th, on its own clock. */
static struct wire_line nth(unsigned i)
{
    return (struct wire_line){.sequence = (uint16_t)i,
                              .device_us = (uint32_t)i * STEP_US + 500,
                              .force_count = (int32_t)(100 * i),
                              .travel_count = (int32_t)i};
}

/* Sends a line; the host's clock goes on by one step. */
static void send(struct bench *bench, struct wire_line line)
{
    char text[WIRE_LINE_MAX];
    size_t length = wire_encode(&line, text);
    bench->now_us += STEP_US;
    feed(bench, text, length);
}

static void send_run(struct bench *bench, unsigned first, unsigned end)
{
    for (unsigned i = first; i < end; i++)
        send(bench, nth(i));
}

static void check_no_faults(const struct bench *bench)
{
    const struct bench_counts *counts = &bench->stream.counts;
    assert_int_equal(counts->n_malformed, 0);
    assert_int_equal(counts->n_bad_checksum, 0);
    assert_int_equal(counts->n_lost, 0);
    assert_int_equal(counts->n_out_of_order, 0);
    assert_int_equal(counts->n_saturated, 0);
}

static void good_lines_become_readings(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 0, 3);
    assert_int_equal(bench.n, 3);
    const struct raw_reading *last = &bench.got[2];
    assert_int_equal(last->arrival_us, 1000000 + 3 * STEP_US);
    assert_int_equal(last->device_us, 2 * STEP_US + 500);
    assert_int_equal(last->sequence, 2);
    assert_int_equal(last->force_count, 200);
    assert_int_equal(last->travel_count, 2);
    assert_int_equal(last->flags,
                     RAW_HAS_FORCE | RAW_HAS_TRAVEL | RAW_HAS_DEVICE_TIME | RAW_HAS_SEQUENCE);
    assert_int_equal(bench.stream.counts.n_readings, 3);
    check_no_faults(&bench);
}

static void a_partial_first_line_is_no_fault(void **state)
{
    (void)state;
    struct bench bench = begin();
    feed_text(&bench, "12500,-42,1999*3F\r\n");
    send_run(&bench, 5, 8);
    assert_int_equal(bench.n, 3);
    assert_int_equal(bench.got[0].flags & RAW_AFTER_GAP, 0);
    check_no_faults(&bench);
}

static void remarks_and_empty_lines_are_no_faults(void **state)
{
    (void)state;
    struct bench bench = begin();
    feed_text(&bench, "# bench controller\r\n\r\n");
    send_run(&bench, 0, 2);
    feed_text(&bench, "# temperature 21\r\n");
    send_run(&bench, 2, 4);
    assert_int_equal(bench.n, 4);
    check_no_faults(&bench);
}

static void numbers_and_clock_wrap(void **state)
{
    (void)state;
    struct bench bench = begin();
    struct wire_line line = {.sequence = 65534, .device_us = UINT32_MAX - STEP_US};
    for (int i = 0; i < 5; i++) {
        send(&bench, line);
        line.sequence++;
        line.device_us += STEP_US;
    }
    assert_int_equal(bench.n, 5);
    for (size_t i = 1; i < 5; i++) {
        assert_int_equal(bench.got[i].device_us - bench.got[i - 1].device_us, STEP_US);
        assert_int_equal(bench.got[i].sequence - bench.got[i - 1].sequence, 1);
    }
    check_no_faults(&bench);
}

static void missing_lines_are_counted_and_marked(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 0, 20);
    bench.now_us += 3 * STEP_US;
    send_run(&bench, 23, 30);
    assert_int_equal(bench.stream.counts.n_lost, 3);
    assert_int_equal(bench.stream.counts.n_out_of_order, 0);
    assert_int_equal(bench.n, 27);
    assert_true(bench.got[20].flags & RAW_AFTER_GAP);
    assert_int_equal(bench.got[20].device_us, 23 * STEP_US + 500);
    assert_false(bench.got[21].flags & RAW_AFTER_GAP);
}

static void a_garbled_line_is_counted_and_missing(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 0, 20);
    feed_text(&bench, "$PCRD,20,2505Z0,2000,20*11\r\n");
    send_run(&bench, 21, 30);
    assert_int_equal(bench.stream.counts.n_malformed, 1);
    assert_int_equal(bench.stream.counts.n_lost, 1);
    assert_int_equal(bench.n, 29);
    assert_true(bench.got[20].flags & RAW_AFTER_GAP);
}

static void a_wrong_checksum_is_counted_and_not_used(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 0, 20);
    feed_text(&bench, "$PCRD,20,250500,2000,20*FF\r\n");
    assert_int_equal(bench.n, 20);
    assert_int_equal(bench.stream.counts.n_bad_checksum, 1);
    assert_int_equal(bench.stream.counts.n_malformed, 0);
}

static void a_good_line_behind_garbage_is_used(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 0, 20);
    feed_text(&bench, "$PCRD,20,25\xfe\x80");
    send_run(&bench, 21, 30);
    assert_int_equal(bench.stream.counts.n_malformed, 1);
    assert_int_equal(bench.stream.counts.n_lost, 1);
    assert_int_equal(bench.n, 29);
}

static void overlong_garbage_is_counted(void **state)
{
    (void)state;
    struct bench bench = begin();
    for (int i = 0; i < 100; i++)
        feed_text(&bench, "\x80\xfe\x55\xaa garbage ");
    assert_int_equal(bench.n, 0);
    assert_int_equal(bench.stream.counts.n_malformed, 1);
    assert_int_equal(bench.stream.n_bytes, 1300);
}

static void a_line_twice_there_is_not_used_twice(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 0, 20);
    send(&bench, nth(19));
    send_run(&bench, 20, 30);
    assert_int_equal(bench.n, 30);
    assert_int_equal(bench.stream.counts.n_out_of_order, 1);
    assert_int_equal(bench.stream.counts.n_lost, 0);
    assert_int_equal(bench.stream.n_restarts, 0);
}

static void a_line_that_comes_late_is_not_used(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 0, 20);
    send(&bench, nth(21));
    send(&bench, nth(20));
    send_run(&bench, 22, 30);
    assert_int_equal(bench.n, 29);
    assert_int_equal(bench.stream.counts.n_out_of_order, 1);
    assert_int_equal(bench.stream.counts.n_lost, 1);
    for (size_t i = 1; i < bench.n; i++)
        assert_true(bench.got[i].device_us > bench.got[i - 1].device_us);
}

/* An 8-bit checksum lets one garbled line in 256 pass. */
static void a_number_that_jumps_with_a_good_checksum_is_not_believed(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 0, 40);
    struct wire_line garbled = nth(40);
    garbled.sequence = 20040;
    send(&bench, garbled);
    garbled = nth(41);
    garbled.device_us += 1u << 30;
    send(&bench, garbled);
    send_run(&bench, 42, 60);
    assert_int_equal(bench.n, 58);
    assert_int_equal(bench.stream.counts.n_out_of_order, 2);
    assert_int_equal(bench.stream.counts.n_lost, 2);
    assert_int_equal(bench.stream.n_restarts, 0);
}

static void a_restart_of_the_controller_is_a_gap(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 1000, 1100);
    bench.now_us += 2000000;
    send_run(&bench, 0, 50);
    assert_int_equal(bench.stream.n_restarts, 1);
    /* The first line of the new run is not believed before the second one follows. */
    assert_int_equal(bench.stream.counts.n_out_of_order, 1);
    assert_int_equal(bench.stream.counts.n_lost, 0);
    assert_int_equal(bench.n, 149);
    const struct raw_reading *before = &bench.got[99], *after = &bench.got[100];
    assert_true(after->flags & RAW_AFTER_GAP);
    assert_int_equal(after->device_us - before->device_us, after->arrival_us - before->arrival_us);
    assert_int_equal(bench.got[101].device_us - after->device_us, STEP_US);
    assert_false(bench.got[101].flags & RAW_AFTER_GAP);
}

static void a_pause_of_the_controller_is_no_fault(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 0, 40);
    bench.now_us += 30000000;
    for (unsigned i = 40; i < 80; i++) {
        struct wire_line line = nth(i);
        line.device_us += 30000000;
        send(&bench, line);
    }
    assert_int_equal(bench.n, 80);
    check_no_faults(&bench);
}

/* A simulated bench may run faster than the host's clock. */
static void a_gap_is_counted_at_any_speed_of_the_clock(void **state)
{
    (void)state;
    struct bench bench = begin();
    for (unsigned i = 0; i < 1500; i++) {
        char text[WIRE_LINE_MAX];
        struct wire_line line = nth(i);
        size_t length = wire_encode(&line, text);
        bench.now_us += STEP_US / 50;
        if (i < 500 || i >= 900)
            feed(&bench, text, length);
    }
    assert_int_equal(bench.n, 1100);
    assert_int_equal(bench.stream.counts.n_lost, 400);
    assert_int_equal(bench.stream.counts.n_out_of_order, 0);
}

static void the_run_goes_on_behind_a_cut(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 0, 20);
    feed_text(&bench, "$PCRD,20,25");
    stream_cut(&bench.stream);
    bench.now_us += 79 * STEP_US;
    feed_text(&bench, "00,42*11\r\n");
    send_run(&bench, 100, 110);
    assert_int_equal(bench.n, 30);
    assert_int_equal(bench.stream.counts.n_lost, 80);
    assert_int_equal(bench.stream.counts.n_malformed, 0);
    assert_true(bench.got[20].flags & RAW_AFTER_GAP);
    assert_int_equal(bench.got[20].device_us - bench.got[19].device_us, 81 * STEP_US);
}

static void a_restart_behind_a_cut_is_believed_at_once(void **state)
{
    (void)state;
    struct bench bench = begin();
    send_run(&bench, 100, 120);
    stream_cut(&bench.stream);
    bench.now_us += 3000000;
    send_run(&bench, 0, 10);
    assert_int_equal(bench.n, 30);
    assert_int_equal(bench.stream.counts.n_out_of_order, 0);
    assert_int_equal(bench.stream.n_restarts, 1);
    assert_true(bench.got[20].flags & RAW_AFTER_GAP);
    assert_int_equal(bench.got[20].device_us - bench.got[19].device_us, 3000000 + STEP_US);
}

static void counts_at_the_end_of_the_range_are_saturated(void **state)
{
    (void)state;
    struct bench bench = begin();
    int32_t force[] = {8388606, 8388607, 9000000, -8388608, 0};
    for (unsigned i = 0; i < 5; i++) {
        struct wire_line line = nth(i);
        line.force_count = force[i];
        send(&bench, line);
    }
    struct wire_line line = nth(5);
    line.travel_count = -100000;
    send(&bench, line);
    static const uint32_t expected[] = {
        0, RAW_FORCE_SATURATED, RAW_FORCE_SATURATED, RAW_FORCE_SATURATED, 0, RAW_TRAVEL_SATURATED};
    for (size_t i = 0; i < 6; i++)
        assert_int_equal(bench.got[i].flags & (RAW_FORCE_SATURATED | RAW_TRAVEL_SATURATED),
                         expected[i]);
    assert_int_equal(bench.stream.counts.n_saturated, 4);
}

/* Writes a run with faults of every kind. */
static void write_faulty_run(struct buf *out, struct random *random)
{
    for (unsigned i = 0; i < 300; i++) {
        struct wire_line line = nth(i);
        char text[WIRE_LINE_MAX];
        size_t length = wire_encode(&line, text);
        int kind = random_int(random, 0, 19);
        if (kind == 0)
            continue;
        if (kind == 1)
            text[random_int(random, 0, (int)length - 1)] = (char)random_bits(random);
        if (kind == 2)
            buf_add(out, text, length);
        buf_add(out, text, length);
        for (int garbage = kind == 3 ? random_int(random, 1, 300) : 0; garbage > 0; garbage--)
            buf_char(out, (char)random_bits(random));
    }
}

static void any_split_gives_the_same_readings(void **state)
{
    (void)state;
    struct random random = random_start();
    for (int round = 0; round < 30; round++) {
        struct buf bytes = {0};
        write_faulty_run(&bytes, &random);
        static struct bench whole, split;
        whole = begin();
        split = begin();
        feed(&whole, bytes.text, bytes.length);
        for (size_t at = 0; at < bytes.length;) {
            size_t piece = (size_t)random_int(&random, 1, 60);
            piece = piece < bytes.length - at ? piece : bytes.length - at;
            feed(&split, bytes.text + at, piece);
            at += piece;
        }
        assert_int_equal(whole.n, split.n);
        assert_memory_equal(whole.got, split.got, whole.n * sizeof whole.got[0]);
        assert_memory_equal(&whole.stream.counts, &split.stream.counts, sizeof whole.stream.counts);
        buf_clear(&bytes);
    }
}

static void clock_and_number_never_go_back(void **state)
{
    (void)state;
    struct random random = random_start();
    for (int round = 0; round < 30; round++) {
        static struct bench bench;
        bench = begin();
        for (int k = 0; k < 600; k++) {
            unsigned i = (unsigned)k;
            if (random_int(&random, 0, 9) == 0)
                i = (unsigned)random_int(&random, 0, 70000);
            if (random_int(&random, 0, 99) == 0)
                stream_cut(&bench.stream);
            send(&bench, nth(i));
        }
        assert_int_equal(bench.n, bench.stream.counts.n_readings);
        for (size_t i = 1; i < bench.n; i++) {
            assert_true(bench.got[i].device_us > bench.got[i - 1].device_us);
            assert_true(bench.got[i].sequence > bench.got[i - 1].sequence);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_lines_become_readings),
        cmocka_unit_test(a_partial_first_line_is_no_fault),
        cmocka_unit_test(remarks_and_empty_lines_are_no_faults),
        cmocka_unit_test(numbers_and_clock_wrap),
        cmocka_unit_test(missing_lines_are_counted_and_marked),
        cmocka_unit_test(a_garbled_line_is_counted_and_missing),
        cmocka_unit_test(a_wrong_checksum_is_counted_and_not_used),
        cmocka_unit_test(a_good_line_behind_garbage_is_used),
        cmocka_unit_test(overlong_garbage_is_counted),
        cmocka_unit_test(a_line_twice_there_is_not_used_twice),
        cmocka_unit_test(a_line_that_comes_late_is_not_used),
        cmocka_unit_test(a_number_that_jumps_with_a_good_checksum_is_not_believed),
        cmocka_unit_test(a_restart_of_the_controller_is_a_gap),
        cmocka_unit_test(a_pause_of_the_controller_is_no_fault),
        cmocka_unit_test(a_gap_is_counted_at_any_speed_of_the_clock),
        cmocka_unit_test(the_run_goes_on_behind_a_cut),
        cmocka_unit_test(a_restart_behind_a_cut_is_believed_at_once),
        cmocka_unit_test(counts_at_the_end_of_the_range_are_saturated),
        cmocka_unit_test(any_split_gives_the_same_readings),
        cmocka_unit_test(clock_and_number_never_go_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
