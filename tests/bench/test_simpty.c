#include "bench/simpty.h"

#include "base/buf.h"
#include "check.h"

#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

static struct simpty *open_pty(const char *link)
{
    struct err err;
    struct simpty *pty = NULL;
    check_ok(simpty_open(&pty, link, &err));
    return pty;
}

static int open_reader(const struct simpty *pty)
{
    int fd = open(simpty_path(pty), O_RDWR | O_NOCTTY | O_NONBLOCK);
    assert_true(fd >= 0);
    return fd;
}

/* Waits for bytes, a second at most; how many came. */
static size_t read_some(int fd, char *bytes, size_t size)
{
    struct pollfd poll_fd = {.fd = fd, .events = POLLIN};
    assert_int_equal(poll(&poll_fd, 1, 1000), 1);
    ssize_t got = read(fd, bytes, size);
    return got > 0 ? (size_t)got : 0;
}

static void other_side_is_raw_and_does_not_echo(void **state)
{
    (void)state;
    struct simpty *pty = open_pty(NULL);
    int fd = open_reader(pty);
    struct termios settings;
    assert_int_equal(tcgetattr(fd, &settings), 0);
    assert_int_equal(settings.c_lflag & (tcflag_t)(ECHO | ICANON | ISIG), 0);
    assert_int_equal(settings.c_oflag & (tcflag_t)OPOST, 0);
    assert_int_equal(settings.c_iflag & (tcflag_t)(ICRNL | IXON), 0);
    (void)close(fd);
    simpty_close(pty);
}

static void bytes_arrive_as_they_were_sent(void **state)
{
    (void)state;
    struct simpty *pty = open_pty(NULL);
    int fd = open_reader(pty);
    char sent[256], got[512];
    for (int i = 0; i < 256; i++)
        sent[i] = (char)i;
    assert_true(simpty_send(pty, sent, sizeof sent));
    simpty_flush(pty);
    size_t n = 0;
    while (n < sizeof sent)
        n += read_some(fd, got + n, sizeof got - n);
    assert_int_equal(n, sizeof sent);
    assert_memory_equal(got, sent, sizeof sent);
    (void)close(fd);
    simpty_close(pty);
}

static void knows_whether_somebody_reads(void **state)
{
    (void)state;
    struct simpty *pty = open_pty(NULL);
    assert_false(simpty_has_reader(pty));
    int fd = open_reader(pty);
    assert_true(simpty_has_reader(pty));
    (void)close(fd);
    assert_false(simpty_has_reader(pty));
    simpty_close(pty);
}

static void full_port_drops_whole_lines_and_does_not_wait(void **state)
{
    (void)state;
    struct simpty *pty = open_pty(NULL);
    int fd = open_reader(pty);
    char line[32], got[4096];
    size_t taken = 0;
    for (int i = 0; i < 10000; i++) {
        int length = snprintf(line, sizeof line, "line %d\n", i);
        taken += simpty_send(pty, line, (size_t)length) ? 1 : 0;
    }
    assert_true(taken > 1000 && taken < 10000);
    /* What was taken arrives whole: the first lines, in order. */
    size_t lines = 0;
    for (int round = 0; round < 100 && lines < taken; round++) {
        simpty_flush(pty);
        size_t n = read_some(fd, got, sizeof got);
        for (size_t i = 0; i < n; i++)
            lines += got[i] == '\n';
    }
    assert_int_equal(lines, taken);
    (void)close(fd);
    simpty_close(pty);
}

static void next_reader_finds_nothing_old(void **state)
{
    (void)state;
    struct simpty *pty = open_pty(NULL);
    int fd = open_reader(pty);
    assert_true(simpty_send(pty, "old\n", 4));
    simpty_flush(pty);
    assert_true(simpty_send(pty, "older\n", 6));
    (void)close(fd);
    assert_true(simpty_forget(pty));
    fd = open_reader(pty);
    assert_true(simpty_send(pty, "new\n", 4));
    simpty_flush(pty);
    char got[16];
    size_t n = read_some(fd, got, sizeof got);
    assert_int_equal(n, 4);
    assert_memory_equal(got, "new\n", 4);
    (void)close(fd);
    simpty_close(pty);
}

static void reader_sees_the_hang_up(void **state)
{
    (void)state;
    struct simpty *pty = open_pty(NULL);
    int fd = open_reader(pty);
    simpty_close(pty);
    struct pollfd poll_fd = {.fd = fd, .events = POLLIN};
    assert_int_equal(poll(&poll_fd, 1, 1000), 1);
    assert_true((poll_fd.revents & POLLHUP) != 0);
    (void)close(fd);
}

static void drain_gives_up_on_a_reader_that_does_not_read(void **state)
{
    (void)state;
    struct simpty *pty = open_pty(NULL);
    int fd = open_reader(pty);
    assert_true(simpty_send(pty, "unread\n", 7));
    simpty_drain(pty);
    assert_true(simpty_has_reader(pty));
    (void)close(fd);
    simpty_close(pty);
}

static char folder[] = "/tmp/pullcurve-simpty-XXXXXX";

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) != NULL ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    return rmdir(folder);
}

static void link_leads_to_the_port_and_goes_with_it(void **state)
{
    (void)state;
    struct buf link = {0};
    buf_printf(&link, "%s/port", folder);
    struct simpty *pty = open_pty(buf_string(&link));
    char target[128] = "";
    assert_true(readlink(buf_string(&link), target, sizeof target - 1) > 0);
    assert_string_equal(target, simpty_path(pty));
    simpty_close(pty);
    struct stat info;
    assert_int_equal(lstat(buf_string(&link), &info), -1);
    buf_clear(&link);
}

static void old_link_is_replaced(void **state)
{
    (void)state;
    struct buf link = {0};
    buf_printf(&link, "%s/port", folder);
    assert_int_equal(symlink("/nowhere", buf_string(&link)), 0);
    struct simpty *pty = open_pty(buf_string(&link));
    char target[128] = "";
    assert_true(readlink(buf_string(&link), target, sizeof target - 1) > 0);
    assert_string_equal(target, simpty_path(pty));
    simpty_close(pty);
    buf_clear(&link);
}

static void file_in_the_links_place_is_left_alone(void **state)
{
    (void)state;
    struct err err;
    struct buf link = {0};
    buf_printf(&link, "%s/port", folder);
    int fd = open(buf_string(&link), O_CREAT | O_EXCL | O_WRONLY, 0600);
    assert_true(fd >= 0);
    (void)close(fd);
    struct simpty *pty = NULL;
    assert_int_equal(simpty_open(&pty, buf_string(&link), &err), STATUS_CANT_WRITE);
    assert_null(pty);
    assert_int_equal(unlink(buf_string(&link)), 0);
    buf_clear(&link);
}

static void link_of_another_is_not_taken_away(void **state)
{
    (void)state;
    struct buf link = {0};
    buf_printf(&link, "%s/port", folder);
    struct simpty *pty = open_pty(buf_string(&link)), *other = open_pty(buf_string(&link));
    simpty_close(pty);
    char target[128] = "";
    assert_true(readlink(buf_string(&link), target, sizeof target - 1) > 0);
    assert_string_equal(target, simpty_path(other));
    simpty_close(other);
    buf_clear(&link);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(other_side_is_raw_and_does_not_echo),
        cmocka_unit_test(bytes_arrive_as_they_were_sent),
        cmocka_unit_test(knows_whether_somebody_reads),
        cmocka_unit_test(full_port_drops_whole_lines_and_does_not_wait),
        cmocka_unit_test(next_reader_finds_nothing_old),
        cmocka_unit_test(reader_sees_the_hang_up),
        cmocka_unit_test(drain_gives_up_on_a_reader_that_does_not_read),
        cmocka_unit_test(link_leads_to_the_port_and_goes_with_it),
        cmocka_unit_test(old_link_is_replaced),
        cmocka_unit_test(file_in_the_links_place_is_left_alone),
        cmocka_unit_test(link_of_another_is_not_taken_away),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
