/* The simulated bench as a reader meets it: it runs in a child of its own, much faster than life.
 */
#include "bench/simserve.h"
#include "bench/simtruth.h"
#include "bench/wire.h"

#include "simbow_support.h"

#include <fcntl.h>
#include <gsl/gsl_errno.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <sys/wait.h>

static volatile int stop;

static void ask_to_stop(int signal_number)
{
    (void)signal_number;
    stop = 1;
}

/* Puts the path into a pipe to the test. */
static enum status tell(const char *path, void *context, struct err *err)
{
    int fd = *(int *)context;
    (void)err;
    return write(fd, path, strlen(path) + 1) > 0 ? STATUS_OK : STATUS_CANT_WRITE;
}

struct server {
    pid_t child;
    int paths; /* the pipe that paths come from */
};

static void run_server(const char *fault, int paths)
{
    struct err err;
    struct simbow_settings nominal = simbow_nominal();
    struct simhand_settings hand = simhand_defaults();
    struct simbench_settings settings = simbench_defaults();
    struct simbow *bow = open_bow("hunting_compound", &nominal);
    struct simrig *rig = NULL;
    struct simbench *bench = NULL;
    if (fault != NULL)
        check_ok(simfault_parse(fault, &settings.faults[settings.n_faults++], &err));
    check_ok(simrig_open(&rig, bow, &hand, SIMTRUTH_PRESS_N, 0.0, &err));
    check_ok(simbench_open(&bench, &settings, &err));
    (void)signal(SIGTERM, ask_to_stop);
    struct simserve_settings serve = {
        .speed_up = 20.0, .stop = &stop, .announce = tell, .context = &paths};
    enum status status = simserve_run(rig, bench, &serve, &err);
    simbench_close(bench);
    simrig_close(rig);
    simbow_close(bow);
    _exit(status == STATUS_OK ? 0 : 1);
}

static struct server start_server(const char *fault)
{
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    struct server server = {.child = fork(), .paths = ends[0]};
    assert_true(server.child >= 0);
    if (server.child == 0)
        run_server(fault, ends[1]);
    assert_int_equal(close(ends[1]), 0);
    return server;
}

/* It ends in good order when it is asked to. */
static void stop_server(struct server server)
{
    int status = -1;
    assert_int_equal(kill(server.child, SIGTERM), 0);
    assert_int_equal(waitpid(server.child, &status, 0), server.child);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    assert_int_equal(close(server.paths), 0);
}

static int open_port(struct server server)
{
    char path[128];
    struct pollfd poll_fd = {.fd = server.paths, .events = POLLIN};
    assert_int_equal(poll(&poll_fd, 1, 10000), 1);
    ssize_t length = read(server.paths, path, sizeof path);
    assert_true(length > 1);
    int fd = open(path, O_RDWR | O_NOCTTY | O_NONBLOCK);
    assert_true(fd >= 0);
    return fd;
}

struct seen {
    int readings, bad, lost;
    bool hung_up;
    int last_sequence; /* -1: none yet */
    int32_t largest_force, largest_travel, last_travel;
    int at_rest; /* how many readings at rest came in a row */
    char line[256];
    size_t length;
};

static const int32_t rest_travel = 1200 + 6858; /* 6.75 in */
enum { LONG_REST = 400 };                       /* readings: five seconds of the bench's time */

static void take_line(struct seen *seen)
{
    struct wire_line line;
    if (wire_decode(seen->line, seen->length, &line) != WIRE_READING) {
        seen->bad++;
        return;
    }
    if (seen->last_sequence >= 0)
        seen->lost += (uint16_t)(line.sequence - seen->last_sequence - 1);
    seen->last_sequence = line.sequence;
    seen->readings++;
    seen->last_travel = line.travel_count;
    seen->at_rest = line.travel_count < rest_travel + 50 ? seen->at_rest + 1 : 0;
    if (line.force_count > seen->largest_force)
        seen->largest_force = line.force_count;
    if (line.travel_count > seen->largest_travel)
        seen->largest_travel = line.travel_count;
}

static void take_bytes(struct seen *seen, const char *bytes, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (bytes[i] == '\n') {
            take_line(seen);
            seen->length = 0;
        } else if (bytes[i] != '\r' && seen->length < sizeof seen->line) {
            seen->line[seen->length++] = bytes[i];
        }
    }
}

/* Reads until the pull is over (drawn and back at rest), the port hangs up, nothing comes, or
 * nothing but rest: a busy machine may let the pull end while the port is away. */
static struct seen watch(int fd)
{
    struct seen seen = {.last_sequence = -1, .largest_force = INT32_MIN};
    struct pollfd poll_fd = {.fd = fd, .events = POLLIN};
    while (poll(&poll_fd, 1, 1500) == 1) {
        char bytes[4096];
        ssize_t n = read(fd, bytes, sizeof bytes);
        seen.hung_up = n <= 0;
        if (seen.hung_up)
            break;
        take_bytes(&seen, bytes, (size_t)n);
        bool pulled = seen.largest_travel > 25000 && seen.last_travel < rest_travel + 50;
        if (pulled || seen.at_rest > LONG_REST)
            break;
    }
    return seen;
}

static void reader_gets_a_whole_pull(void **state)
{
    (void)state;
    struct server server = start_server(NULL);
    int fd = open_port(server);
    struct seen seen = watch(fd);
    stop_server(server);
    (void)close(fd);
    assert_int_equal(seen.bad, 0);
    assert_int_equal(seen.lost, 0);
    /* 16 to 20 s at 80 a second, as the hand goes; peak 66.03 lbf, largest draw 27.73 in, with
     * noise. */
    assert_in_range(seen.readings, 1280, 1600);
    check_near((seen.largest_force - 41000) / 3700.0 / 4.4482216152605, 66.03, 0.3);
    check_near((seen.largest_travel - 1200) / 40000.0 / 0.0254, 27.73, 0.02);
}

static void next_reader_gets_a_pull_too(void **state)
{
    (void)state;
    struct server server = start_server(NULL);
    char path[128];
    assert_true(read(server.paths, path, sizeof path) > 1);
    for (int round = 0; round < 2; round++) {
        int fd = open(path, O_RDWR | O_NOCTTY | O_NONBLOCK);
        assert_true(fd >= 0);
        struct seen seen = watch(fd);
        (void)close(fd);
        assert_true(seen.largest_travel > 25000);
        /* Time to see the reader off and to come to the end of the last rest. */
        (void)usleep(200 * 1000);
    }
    stop_server(server);
}

static void port_goes_away_at_its_draw_and_comes_back(void **state)
{
    (void)state;
    struct server server = start_server("hang-up:20,4");
    int fd = open_port(server);
    struct seen before = watch(fd);
    (void)close(fd);
    assert_true(before.hung_up);
    /* Everything that was sent came through: the last reading is just before 20 in. */
    assert_int_equal(before.lost, 0);
    check_near((before.largest_travel - 1200) / 40000.0 / 0.0254, 20.0, 0.15);
    fd = open_port(server);
    struct seen after = watch(fd);
    stop_server(server);
    (void)close(fd);
    assert_true(after.readings > 0);
    assert_true(after.last_travel < rest_travel + 50);
}

static void silence_keeps_the_port_and_counts_on(void **state)
{
    (void)state;
    struct server server = start_server("silence:20,2");
    int fd = open_port(server);
    struct seen seen = watch(fd);
    stop_server(server);
    (void)close(fd);
    assert_false(seen.hung_up);
    assert_in_range(seen.lost, 155, 165);
}

static void every_garbled_line_shows(void **state)
{
    (void)state;
    struct server server = start_server("checksum:0.1");
    int fd = open_port(server);
    struct seen seen = watch(fd);
    stop_server(server);
    (void)close(fd);
    /* About 150 of 1550; a last one may not be followed by a good one. */
    assert_in_range(seen.bad, 80, 240);
    check_near(seen.lost, seen.bad, 2);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reader_gets_a_whole_pull),
        cmocka_unit_test(next_reader_gets_a_pull_too),
        cmocka_unit_test(port_goes_away_at_its_draw_and_comes_back),
        cmocka_unit_test(silence_keeps_the_port_and_counts_on),
        cmocka_unit_test(every_garbled_line_shows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
