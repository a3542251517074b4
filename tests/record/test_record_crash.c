/* A capture that is killed at any moment: every reading whose append had returned is there. */
#include "check.h"
#include "random.h"
#include "record/record_private.h"
#include "scratch.h"

#include <signal.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { ROUNDS = 25, LOT = 20 };

static struct err err;

/* Appends for ever; after each append tells how many readings are on disk. */
static void append_until_killed(int told)
{
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    if (record_capture_begin(record, &capture, &err) != STATUS_OK)
        _exit(1);
    struct raw_reading readings[LOT];
    for (uint64_t n = 0;; n += LOT) {
        if (write(told, &n, sizeof n) != (ssize_t)sizeof n)
            _exit(2);
        for (size_t i = 0; i < LOT; i++)
            readings[i] = scratch_reading((size_t)n + i);
        if (record_capture_append(record, capture.key, readings, LOT, &err) != STATUS_OK)
            _exit(3);
    }
}

static uint64_t last_told(int told)
{
    uint64_t n = 0, read_n;
    while (read(told, &read_n, sizeof read_n) == (ssize_t)sizeof read_n)
        n = read_n;
    return n;
}

static uint64_t capture_and_kill(struct random *random)
{
    int told[2];
    assert_int_equal(pipe(told), 0);
    fflush(NULL);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        close(told[0]);
        append_until_killed(told[1]);
    }
    close(told[1]);
    uint64_t first; /* the capture has begun */
    assert_int_equal(read(told[0], &first, sizeof first), sizeof first);
    const struct timespec wait = {.tv_nsec = random_int(random, 0, 60000) * 1000L};
    (void)nanosleep(&wait, NULL);
    assert_int_equal(kill(child, SIGKILL), 0);
    int how;
    assert_int_equal(waitpid(child, &how, 0), child);
    assert_true(WIFSIGNALED(how) && WTERMSIG(how) == SIGKILL);
    uint64_t n = last_told(told[0]);
    close(told[0]);
    return n;
}

static void what_append_returned_for_survives_a_kill(void **state)
{
    (void)state;
    struct random random = random_start();
    uint64_t total = 0;
    for (int round = 1; round <= ROUNDS; round++) {
        uint64_t acknowledged = capture_and_kill(&random);
        struct record *record = scratch_open();
        struct record_capture capture;
        check_ok(record_capture_find(record, "last", &capture, &err));
        assert_int_equal(capture.number, round);
        assert_int_equal(capture.state, CAPTURE_OPEN);
        uint64_t kept = (uint64_t)capture.counts.n_readings;
        /* all that was told, and at most the lot whose telling the kill forestalled */
        if (kept != acknowledged && kept != acknowledged + LOT)
            fail_msg("round %d: %llu told, %llu kept", round, (unsigned long long)acknowledged,
                     (unsigned long long)kept);
        scratch_check_readings(record, capture.key, (size_t)kept);
        record_capture_clear(&capture);
        int64_t whole = 0;
        check_ok(record_query_int(
            record, "SELECT integrity_check = 'ok' FROM pragma_integrity_check", &whole, &err));
        assert_int_equal(whole, 1);
        record_close(record);
        total += acknowledged;
    }
    assert_true(total > 0); /* else the kills all came too early to show anything */
}

/* What a power cut leaves: the record, and its WAL file cut anywhere, with garbage behind. */
static void a_cut_log_gives_whole_chunks_from_the_first_on(void **state)
{
    (void)state;
    struct random random = random_start();
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 2000, LOT);
    struct buf db = {0}, wal = {0};
    scratch_read(scratch_path("shop.db"), &db);
    scratch_read(scratch_path("shop.db-wal"), &wal);
    assert_true(wal.length > 100000);
    record_close(record);
    size_t most = 0;
    for (int round = 0; round < 40; round++) {
        struct buf cut = {0};
        /* the first part holds the making of the record and of the capture */
        buf_add(&cut, wal.text,
                (size_t)random_int(&random, (int)wal.length / 3, (int)wal.length - 1));
        for (int i = 0; round % 2 == 1 && i < 5000; i++)
            buf_char(&cut, (char)random_int(&random, 0, 255));
        scratch_write(scratch_path("cut.db"), db.text, db.length);
        scratch_write(scratch_path("cut.db-wal"), cut.text, cut.length);
        buf_clear(&cut);
        struct record *after = scratch_open_as("cut.db", RECORD_WRITE);
        struct record_capture found;
        check_ok(record_capture_find(after, capture.key, &found, &err));
        size_t kept = (size_t)found.counts.n_readings;
        assert_int_equal(kept % LOT, 0);
        assert_true(kept < 2000);
        scratch_check_readings(after, capture.key, kept);
        most = kept > most ? kept : most;
        record_capture_clear(&found);
        record_close(after);
    }
    assert_true(most > 0);
    buf_clear(&db);
    buf_clear(&wal);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, scratch_make, scratch_remove)
    const struct CMUnitTest tests[] = {
        TEST(what_append_returned_for_survives_a_kill),
        TEST(a_cut_log_gives_whole_chunks_from_the_first_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
