#include "child.h"
#include "check.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double now_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

const char *child_program(void)
{
    const char *program = getenv("PULLCURVE");
    return program != NULL ? program : "build/pullcurve";
}

void child_start(struct child *child, const char *const *argv)
{
    int out[2], err[2];
    *child = (struct child){.out_fd = -1, .err_fd = -1};
    assert_int_equal(pipe(out), 0);
    assert_int_equal(pipe(err), 0);
    fflush(NULL);
    child->pid = fork();
    assert_true(child->pid >= 0);
    if (child->pid == 0) {
        (void)prctl(PR_SET_PDEATHSIG, SIGKILL); /* a test that fails leaves nothing behind */
        char *copies[CHILD_ARGUMENTS_MAX + 1] = {0};
        for (size_t i = 0; i < CHILD_ARGUMENTS_MAX && argv[i] != NULL; i++)
            copies[i] = strdup(argv[i]);
        (void)dup2(out[1], STDOUT_FILENO);
        (void)dup2(err[1], STDERR_FILENO);
        for (int i = 0; i < 2; i++) {
            (void)close(out[i]);
            (void)close(err[i]);
        }
        (void)execvp(copies[0], copies);
        _exit(127);
    }
    (void)close(out[1]);
    (void)close(err[1]);
    child->out_fd = out[0];
    child->err_fd = err[0];
    (void)fcntl(child->out_fd, F_SETFD, FD_CLOEXEC);
    (void)fcntl(child->err_fd, F_SETFD, FD_CLOEXEC);
}

void child_start_program(struct child *child, const char *const *arguments)
{
    const char *argv[CHILD_ARGUMENTS_MAX + 1] = {child_program()};
    for (size_t i = 0; arguments[i] != NULL; i++) {
        assert_true(i + 2 <= CHILD_ARGUMENTS_MAX);
        argv[i + 1] = arguments[i];
    }
    child_start(child, argv);
}

static void take(int *fd, struct buf *text)
{
    char bytes[4096];
    ssize_t n = read(*fd, bytes, sizeof bytes);
    if (n > 0) {
        buf_add(text, bytes, (size_t)n);
    } else if (n == 0 || errno != EINTR) {
        (void)close(*fd);
        *fd = -1;
    }
}

/* Takes what comes within the time. false where nothing does, or both outputs have ended. */
static bool take_some(struct child *child, double seconds)
{
    struct pollfd waiting[2] = {{.fd = child->out_fd, .events = POLLIN},
                                {.fd = child->err_fd, .events = POLLIN}};
    if (child->out_fd < 0 && child->err_fd < 0)
        return false;
    if (poll(waiting, 2, seconds > 0 ? (int)(seconds * 1000) + 1 : 0) <= 0)
        return false;
    if (child->out_fd >= 0 && waiting[0].revents != 0)
        take(&child->out_fd, &child->out);
    if (child->err_fd >= 0 && waiting[1].revents != 0)
        take(&child->err_fd, &child->err);
    return true;
}

bool child_line(struct child *child, double seconds, struct buf *line)
{
    double end_s = now_s() + seconds;
    for (;;) {
        const char *begin = buf_string(&child->out) + child->out_taken;
        const char *end = strchr(begin, '\n');
        if (end != NULL) {
            buf_clear(line);
            buf_add(line, begin, (size_t)(end - begin));
            child->out_taken += (size_t)(end - begin) + 1;
            return true;
        }
        double left_s = end_s - now_s();
        if (left_s <= 0 || child->out_fd < 0 || !take_some(child, left_s))
            return false;
    }
}

bool child_says(struct child *child, double seconds, const char *part)
{
    double end_s = now_s() + seconds;
    for (;;) {
        if (strstr(buf_string(&child->out), part) != NULL ||
            strstr(buf_string(&child->err), part) != NULL)
            return true;
        double left_s = end_s - now_s();
        if (left_s <= 0 || !take_some(child, left_s))
            return false;
    }
}

void child_signal(struct child *child, int signal_number)
{
    if (child->pid > 0)
        (void)kill(child->pid, signal_number);
}

static void reap(struct child *child, int *code)
{
    int status;
    while (waitpid(child->pid, &status, 0) < 0 && errno == EINTR)
        continue;
    child->pid = 0;
    *code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

int child_wait(struct child *child, double seconds)
{
    double end_s = now_s() + seconds;
    while (child->out_fd >= 0 || child->err_fd >= 0) {
        double left_s = end_s - now_s();
        if (left_s <= 0)
            break;
        (void)take_some(child, left_s);
    }
    int code;
    bool late = child->out_fd >= 0 || child->err_fd >= 0;
    if (late)
        child_signal(child, SIGKILL);
    reap(child, &code);
    return late ? -1 : code;
}

void child_clear(struct child *child)
{
    int code;
    child_signal(child, SIGKILL);
    if (child->pid > 0)
        reap(child, &code);
    if (child->out_fd >= 0)
        (void)close(child->out_fd);
    if (child->err_fd >= 0)
        (void)close(child->err_fd);
    buf_clear(&child->out);
    buf_clear(&child->err);
}
