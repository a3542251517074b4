/* source: a bench from its port to readings, over silence, garbage and a lost port. */
#include "bench/source.h"
#include "check.h"

#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* A controller on a pseudo-terminal, found under a name that stays the same. */
struct bench_room {
    int controller;
    char folder[32], link[64];
    struct bench bench;
};

static void plug_in(struct bench_room *room)
{
    room->controller = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
    assert_true(room->controller >= 0);
    assert_int_equal(grantpt(room->controller) + unlockpt(room->controller), 0);
    assert_int_equal(symlink(ptsname(room->controller), room->link), 0);
}

static void unplug(struct bench_room *room)
{
    close(room->controller);
    unlink(room->link);
}

static struct bench_room room_make(void)
{
    struct bench_room room = {.folder = "/tmp/test_source_XXXXXX"};
    assert_non_null(mkdtemp(room.folder));
    (void)snprintf(room.link, sizeof room.link, "%s/port", room.folder);
    static char name[] = "shop";
    room.bench = (struct bench){.name = name,
                                .port = room.link,
                                .line = {115200, 8, PORT_PARITY_NONE, 1, PORT_TRANSPORT_AUTO},
                                .stream = {{INT32_MIN, INT32_MAX}, {INT32_MIN, INT32_MAX}, 0},
                                .start_wait_s = 0.15,
                                .reopen_s = 1};
    plug_in(&room);
    return room;
}

static void room_clear(struct bench_room *room)
{
    unplug(room);
    rmdir(room->folder);
}

static struct source *open_bench(struct bench_room *room)
{
    struct source *source = NULL;
    struct err err;
    room->bench.port = room->link;
    check_ok(source_open(&source, &room->bench, NULL, &err));
    return source;
}

static void send_run(const struct bench_room *room, unsigned first, unsigned end)
{
    for (unsigned i = first; i < end; i++) {
        struct wire_line line = {(uint16_t)i, i * 12500, (int32_t)i, 0};
        char text[WIRE_LINE_MAX];
        size_t length = wire_encode(&line, text);
        assert_int_equal(write(room->controller, text, length), length);
    }
}

/* Reads until n readings have come; gives the last lot. */
static const struct raw_reading *collect(struct source *source, size_t n, size_t *n_last)
{
    const struct raw_reading *readings = NULL;
    for (size_t had = 0; had < n; had += *n_last)
        assert_int_equal(source_read(source, 1000, &readings, n_last), SOURCE_READINGS);
    return readings;
}

static void readings_come_with_the_host_time(void **state)
{
    (void)state;
    struct bench_room room = room_make();
    struct source *source = open_bench(&room);
    int64_t before_us = source_now_us(source);
    send_run(&room, 0, 10);
    size_t n;
    const struct raw_reading *readings = collect(source, 10, &n);
    assert_in_range(readings[n - 1].arrival_us, before_us, source_now_us(source));
    assert_int_equal(readings[n - 1].force_count, 9);
    assert_int_equal(source_stream(source)->counts.n_readings, 10);
    source_close(source);
    room_clear(&room);
}

static void without_a_port_the_user_is_asked_for_one(void **state)
{
    (void)state;
    struct bench_room room = room_make();
    static char none[] = "";
    room.bench.port = none;
    struct source *source;
    struct err err = {.code = STATUS_OK};
    assert_int_equal(source_open(&source, &room.bench, NULL, &err), STATUS_USAGE);
    assert_non_null(strstr(err.text, "--port"));
    check_ok(source_open(&source, &room.bench, room.link, &err));
    source_close(source);
    room_clear(&room);
}

static void waiting_in_silence_says_so(void **state)
{
    (void)state;
    struct bench_room room = room_make();
    struct source *source = open_bench(&room);
    const struct raw_reading *readings;
    size_t n;
    struct err err = {.code = STATUS_OK};
    assert_int_equal(source_wait(source, NULL, &readings, &n, &err), STATUS_NO_BENCH);
    assert_non_null(strstr(err.text, "not one byte"));
    source_close(source);
    room_clear(&room);
}

static void waiting_on_garbage_points_at_the_speed(void **state)
{
    (void)state;
    struct bench_room room = room_make();
    struct source *source = open_bench(&room);
    assert_int_equal(write(room.controller, "\x80\x1f\n\xfe\x03\n~~~\n", 10), 10);
    const struct raw_reading *readings;
    size_t n;
    struct err err = {.code = STATUS_OK};
    assert_int_equal(source_wait(source, NULL, &readings, &n, &err), STATUS_NO_BENCH);
    assert_non_null(strstr(err.text, "10 bytes came but no pullcurve line"));
    assert_non_null(strstr(err.text, "115200 baud"));
    source_close(source);
    room_clear(&room);
}

static void waiting_can_be_stopped(void **state)
{
    (void)state;
    struct bench_room room = room_make();
    room.bench.start_wait_s = 100;
    struct source *source = open_bench(&room);
    const struct raw_reading *readings;
    size_t n;
    struct err err = {.code = STATUS_OK};
    volatile int stop = 1;
    assert_int_equal(source_wait(source, &stop, &readings, &n, &err), STATUS_INTERRUPTED);
    source_close(source);
    room_clear(&room);
}

static void waiting_ends_with_the_first_reading(void **state)
{
    (void)state;
    struct bench_room room = room_make();
    struct source *source = open_bench(&room);
    send_run(&room, 0, 1);
    const struct raw_reading *readings;
    size_t n;
    struct err err;
    check_ok(source_wait(source, NULL, &readings, &n, &err));
    assert_int_equal(n, 1);
    source_close(source);
    room_clear(&room);
}

static void a_port_that_goes_away_before_the_first_reading_is_told(void **state)
{
    (void)state;
    struct bench_room room = room_make();
    struct source *source = open_bench(&room);
    close(room.controller);
    const struct raw_reading *readings;
    size_t n;
    struct err err = {.code = STATUS_OK};
    assert_int_equal(source_wait(source, NULL, &readings, &n, &err), STATUS_NO_BENCH);
    assert_non_null(strstr(err.text, "went away"));
    source_close(source);
    room_clear(&room);
}

static void a_port_that_comes_back_is_read_on_behind_a_gap(void **state)
{
    (void)state;
    struct bench_room room = room_make();
    struct source *source = open_bench(&room);
    send_run(&room, 0, 20);
    size_t n;
    (void)collect(source, 20, &n);
    unplug(&room);
    const struct raw_reading *readings;
    assert_int_equal(source_read(source, 1000, &readings, &n), SOURCE_GONE);
    assert_int_equal(source_read(source, 0, &readings, &n), SOURCE_GONE);
    struct err err = {.code = STATUS_OK};
    assert_int_equal(source_reopen(source, &err), STATUS_NO_BENCH);
    plug_in(&room);
    check_ok(source_reopen(source, &err));
    send_run(&room, 60, 61);
    readings = collect(source, 1, &n);
    assert_true(readings[0].flags & RAW_AFTER_GAP);
    assert_int_equal(readings[0].force_count, 60);
    assert_int_equal(source_stream(source)->counts.n_lost, 40);
    assert_int_equal(source_stream(source)->counts.n_malformed, 0);
    source_close(source);
    room_clear(&room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(readings_come_with_the_host_time),
        cmocka_unit_test(without_a_port_the_user_is_asked_for_one),
        cmocka_unit_test(waiting_in_silence_says_so),
        cmocka_unit_test(waiting_on_garbage_points_at_the_speed),
        cmocka_unit_test(waiting_can_be_stopped),
        cmocka_unit_test(waiting_ends_with_the_first_reading),
        cmocka_unit_test(a_port_that_goes_away_before_the_first_reading_is_told),
        cmocka_unit_test(a_port_that_comes_back_is_read_on_behind_a_gap),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
