#include "controller.h"
#include "bench/wire.h"
#include "check.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define FULL_DRAW_M 0.485
#define STEP_S (1 / CONTROLLER_RATE_HZ)

double controller_bow_n(double beyond_m)
{
    if (beyond_m <= 0)
        return 0;
    if (beyond_m < 0.12)
        return 230 * sin(beyond_m / 0.12 * 1.5707963267948966);
    if (beyond_m < 0.35)
        return 230;
    if (beyond_m < 0.48)
        return 145 + 85 * cos((beyond_m - 0.35) / 0.13 * 3.141592653589793);
    return 60 + 20000 * (beyond_m - 0.48);
}

/* Where the string is at line i: 1 s rest, then pulls of 4 s up, 0.5 s hold, 4 s down, 1 s rest. */
static double beyond_m(int i, int n_pulls)
{
    double time_s = i * STEP_S - 1;
    int pull = time_s < 0 ? 0 : (int)(time_s / 9.5);
    double in_pull_s = time_s - 9.5 * pull;
    if (time_s < 0 || pull >= n_pulls || in_pull_s >= 8.5)
        return 0;
    double share = in_pull_s < 4 ? in_pull_s / 4 : in_pull_s < 4.5 ? 1 : (8.5 - in_pull_s) / 4;
    return share * FULL_DRAW_M;
}

static void sleep_s(double seconds)
{
    struct timespec pause = {.tv_sec = (time_t)seconds,
                             .tv_nsec = (long)((seconds - (double)(time_t)seconds) * 1e9)};
    (void)nanosleep(&pause, NULL);
}

static double now_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static int plug_in(const char *link)
{
    int fd = posix_openpt(O_RDWR | O_NOCTTY);
    if (fd < 0 || grantpt(fd) != 0 || unlockpt(fd) != 0)
        _exit(1);
    /* Raw from the start, so that nothing is echoed back; its closing makes poll say POLLHUP. */
    int other = open(ptsname(fd), O_RDWR | O_NOCTTY);
    struct termios mode;
    if (other < 0 || tcgetattr(other, &mode) != 0)
        _exit(1);
    cfmakeraw(&mode);
    (void)tcsetattr(other, TCSANOW, &mode);
    (void)close(other);
    if (symlink(ptsname(fd), link) != 0)
        _exit(1);
    return fd;
}

/* Waits until the program under test has opened the port. */
static void await_opened(int fd)
{
    struct pollfd waiting = {.fd = fd, .events = POLLIN};
    do {
        sleep_s(0.005);
        waiting.revents = 0;
        (void)poll(&waiting, 1, 0);
    } while ((waiting.revents & POLLHUP) != 0);
    sleep_s(0.1); /* it discards what comes while it opens */
}

static void send(int fd, const struct controller_script *script, int i)
{
    int since_start =
        script->restart_at > 0 && i >= script->restart_at ? i - script->restart_at : i;
    double at_m = beyond_m(i, script->n_pulls);
    struct wire_line line = {.sequence = (uint16_t)since_start,
                             .device_us = (uint32_t)(since_start * STEP_S * 1e6),
                             .force_count =
                                 (int32_t)(controller_bow_n(at_m) * CONTROLLER_FORCE_COUNTS_PER_N),
                             .travel_count = (int32_t)(at_m * CONTROLLER_TRAVEL_COUNTS_PER_M)};
    char text[WIRE_LINE_MAX];
    size_t length = wire_encode(&line, text);
    if (script->garble_every > 0 && i % script->garble_every == script->garble_every - 1)
        text[7] = (char)(text[7] ^ 1);
    if (script->leave_out_every > 0 && i % script->leave_out_every == script->leave_out_every - 1)
        return;
    if (write(fd, text, length) != (ssize_t)length)
        _exit(0); /* the program under test is gone */
}

static void send_garbage(int fd)
{
    static const char garbage[] = "\x80\xfe\x1b[2J\x07\n\x00~~~\r\n";
    for (;;) {
        if (write(fd, garbage, sizeof garbage) < 0)
            _exit(0);
        sleep_s(0.01);
    }
}

static void play(const struct controller *controller, const struct controller_script *script)
{
    int fd = plug_in(controller->port);
    await_opened(fd);
    if (script->garbage)
        send_garbage(fd);
    while (script->silent)
        sleep_s(1);
    double start_s = now_s();
    for (int i = 0;; i++) {
        double wait_s = start_s + i * STEP_S / script->speed - now_s();
        if (wait_s > 0)
            sleep_s(wait_s);
        if (script->hang_up_at > 0 && i == script->hang_up_at) {
            sleep_s(0.3); /* what is not read at a hang-up is lost */
            (void)unlink(controller->port);
            (void)close(fd);
            if (script->back_after_s <= 0)
                _exit(0);
            sleep_s(script->back_after_s);
            fd = plug_in(controller->port);
            await_opened(fd);
            i = (int)((now_s() - start_s) * script->speed / STEP_S);
        }
        send(fd, script, i);
        *controller->sent = i + 1;
    }
}

void controller_start(struct controller *controller, const struct controller_script *script)
{
    *controller = (struct controller){.folder = "/tmp/controller_XXXXXX"};
    assert_non_null(mkdtemp(controller->folder));
    (void)snprintf(controller->port, sizeof controller->port, "%s/port", controller->folder);
    void *shared =
        mmap(NULL, sizeof(int), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    assert_true(shared != MAP_FAILED);
    controller->sent = shared;
    fflush(NULL);
    controller->pid = fork();
    assert_true(controller->pid >= 0);
    if (controller->pid == 0) {
        (void)prctl(PR_SET_PDEATHSIG, SIGKILL); /* a test that fails leaves nothing behind */
        play(controller, script);
        _exit(0);
    }
    for (int i = 0; i < 1000 && access(controller->port, F_OK) != 0; i++)
        sleep_s(0.005);
    assert_int_equal(access(controller->port, F_OK), 0);
}

void controller_end(struct controller *controller)
{
    if (controller->pid > 0) {
        (void)kill(controller->pid, SIGKILL);
        (void)waitpid(controller->pid, NULL, 0);
    }
    (void)unlink(controller->port);
    (void)rmdir(controller->folder);
    (void)munmap((void *)(uintptr_t)controller->sent, sizeof(int));
    *controller = (struct controller){0};
}
