#define _GNU_SOURCE /* memfd_create */
#include "show/gnuplot.h"

#include "base/number.h"
#include "show/escape.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { TIME_LIMIT_MS = 60000, SAID_MAX = 8192, QUOTED_MAX = 300 };

extern char **environ;

/* What a picture ends with, and which terminals need a font of the system (and draw nothing but
 * lines without one). */
static const struct {
    const char *ending;
    const char *end_mark;
    size_t end_mark_length;
    bool needs_font;
} picture_table[] = {
    [PICTURE_SVG] = {".svg", "</svg>", 6, false},
    [PICTURE_PNG] = {".png", "IEND\xAE\x42\x60\x82", 8, true},
    [PICTURE_PDF] = {".pdf", "%%EOF", 5, true},
    [PICTURE_TEXT] = {"", "\f", 1, false},
};

/* Printed by the script after the plot, on standard error. */
#define FONT_HEIGHT "pullcurve-font-height"
#define TEXT_END '\f'

bool picture_of_path(const char *path, enum picture *picture)
{
    const char *dot = strrchr(path, '.');
    for (int i = PICTURE_SVG; dot != NULL && i <= PICTURE_PDF; i++) {
        if (strcasecmp(dot, picture_table[i].ending) == 0) {
            *picture = (enum picture)i;
            return true;
        }
    }
    return false;
}

/* The script with what this room asks gnuplot to say after it, in a file without a name. */
static int script_file(const struct buf *script, enum picture picture, struct err *err)
{
    struct buf text = {0};
    buf_add(&text, buf_string(script), script->length);
    if (picture == PICTURE_TEXT)
        buf_text(&text, "\nset print \"-\"\nprint \"\\014\"\n");
    if (picture_table[picture].needs_font)
        buf_text(&text, "\nprinterr \"" FONT_HEIGHT "\", "
                        "floor(10 * GPVAL_TERM_VCHAR / GPVAL_TERM_SCALE)\n");
    int fd = memfd_create("script", MFD_CLOEXEC);
    size_t done = 0;
    while (fd >= 0 && done < text.length) {
        ssize_t put = write(fd, text.text + done, text.length - done);
        if (put < 0 && errno != EINTR)
            break;
        done += put > 0 ? (size_t)put : 0;
    }
    if (fd < 0 || done < text.length || lseek(fd, 0, SEEK_SET) != 0) {
        err_set(err, STATUS_CANT_WRITE, "the plot's script can't be kept in memory: %s",
                strerror(errno));
        if (fd >= 0)
            close(fd);
        fd = -1;
    }
    buf_clear(&text);
    return fd;
}

/* A running gnuplot: what it prints comes from out and said. */
struct run {
    pid_t pid;
    int out, said;
};

static int spawn(pid_t *pid, int script, int out, int said)
{
    static const char *const argv[] = {"gnuplot", "-d", "/dev/stdin", NULL};
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    sigset_t none, defaults;
    sigemptyset(&none);
    sigemptyset(&defaults);
    sigaddset(&defaults, SIGPIPE);
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, script, STDIN_FILENO);
    posix_spawn_file_actions_adddup2(&actions, out, STDOUT_FILENO);
    posix_spawn_file_actions_adddup2(&actions, said, STDERR_FILENO);
    posix_spawnattr_init(&attributes);
    posix_spawnattr_setsigmask(&attributes, &none);
    posix_spawnattr_setsigdefault(&attributes, &defaults);
    posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
    /* The arguments are not written to; the prototype is older than const. */
    int fault =
        posix_spawnp(pid, argv[0], &actions, &attributes, (char *const *)(uintptr_t)argv, environ);
    posix_spawnattr_destroy(&attributes);
    posix_spawn_file_actions_destroy(&actions);
    return fault;
}

static enum status start(struct run *run, int script, struct err *err)
{
    int out[2] = {-1, -1}, said[2] = {-1, -1};
    int fault = 0;
    if (pipe2(out, O_CLOEXEC) != 0 || pipe2(said, O_CLOEXEC) != 0)
        fault = errno;
    if (fault == 0)
        fault = spawn(&run->pid, script, out[1], said[1]);
    for (int i = 0; i < 2; i++) {
        if (out[i] >= 0 && (i == 1 || fault != 0))
            close(out[i]);
        if (said[i] >= 0 && (i == 1 || fault != 0))
            close(said[i]);
    }
    run->out = out[0];
    run->said = said[0];
    if (fault == ENOENT)
        return err_set(err, STATUS_CANT_WRITE,
                       "pictures are drawn by gnuplot, which is not found here; install it "
                       "(Debian: gnuplot-nox), the figures do without");
    if (fault != 0)
        return err_set(err, STATUS_CANT_WRITE, "gnuplot can't be started: %s", strerror(fault));
    return STATUS_OK;
}

static int64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* Takes what is there; closes *fd at its end. */
static void drain(int *fd, struct buf *text, size_t most)
{
    char chunk[65536];
    ssize_t got = read(*fd, chunk, sizeof chunk);
    if (got > 0 && text->length < most) {
        size_t room = most - text->length;
        buf_add(text, chunk, (size_t)got < room ? (size_t)got : room);
    } else if (got == 0 || (got < 0 && errno != EINTR && errno != EAGAIN)) {
        close(*fd);
        *fd = -1;
    }
}

/* Collects both outputs until both end; false where the time runs out. */
static bool collect(struct run *run, struct buf *picture, struct buf *said)
{
    int64_t end_ms = now_ms() + TIME_LIMIT_MS;
    while (run->out >= 0 || run->said >= 0) {
        int64_t left_ms = end_ms - now_ms();
        struct pollfd wait[2] = {{.fd = run->out, .events = POLLIN},
                                 {.fd = run->said, .events = POLLIN}};
        if (left_ms <= 0)
            return false;
        if (poll(wait, 2, (int)left_ms) <= 0)
            continue;
        if (wait[0].revents != 0)
            drain(&run->out, picture, SIZE_MAX);
        if (wait[1].revents != 0)
            drain(&run->said, said, SAID_MAX);
    }
    return true;
}

/* Ends the program if it has not ended, and gives its wait status. */
static int finish(struct run *run, bool in_time)
{
    if (!in_time)
        kill(run->pid, SIGKILL);
    int status = 0;
    while (waitpid(run->pid, &status, 0) < 0 && errno == EINTR)
        continue;
    if (run->out >= 0)
        close(run->out);
    if (run->said >= 0)
        close(run->said);
    return status;
}

/* The lines of what gnuplot said that name the fault, on one line. */
static enum status failed(const struct buf *said, struct err *err)
{
    struct buf quoted = {0}, shown = {0};
    const char *at = buf_string(said);
    while (*at != '\0' && quoted.length < QUOTED_MAX) {
        size_t length = strcspn(at, "\n");
        size_t blank = strspn(at, " \t^");
        if (blank < length) {
            buf_text(&quoted, quoted.length > 0 ? " / " : "");
            buf_add(&quoted, at + blank, length - blank);
        }
        at += length + (at[length] == '\n');
    }
    escape_terminal(&shown, buf_string(&quoted));
    err_set(err, STATUS_CANT_WRITE, "gnuplot could not draw the picture: %.*s", QUOTED_MAX,
            shown.length > 0 ? buf_string(&shown) : "it gave no reason");
    buf_clear(&quoted);
    buf_clear(&shown);
    return STATUS_CANT_WRITE;
}

/* Without a font the cairo terminals draw a picture without text or margins and call it done. */
static bool has_no_font(const struct buf *said)
{
    const char *height = strstr(buf_string(said), FONT_HEIGHT);
    double tenths = 0;
    if (height == NULL)
        return false;
    height += strlen(FONT_HEIGHT);
    height += strspn(height, " ");
    (void)number_scan(height, height + strcspn(height, "\n"), '.', &tenths);
    return tenths < 20;
}

static bool is_whole(const struct buf *picture, enum picture kind)
{
    const char *mark = picture_table[kind].end_mark;
    size_t length = picture_table[kind].end_mark_length, end = picture->length;
    while (end > 0 && (picture->text[end - 1] == '\n' || picture->text[end - 1] == '\r'))
        end--;
    return end >= length && memcmp(picture->text + end - length, mark, length) == 0;
}

static enum status judge(int wait_status, bool in_time, const struct buf *picture,
                         const struct buf *said, enum picture kind, struct err *err)
{
    if (!in_time)
        return err_set(err, STATUS_CANT_WRITE, "gnuplot took longer than %d s and was ended",
                       TIME_LIMIT_MS / 1000);
    if (!WIFEXITED(wait_status) || WEXITSTATUS(wait_status) != 0)
        return failed(said, err);
    if (picture_table[kind].needs_font && has_no_font(said))
        return err_set(err, STATUS_CANT_WRITE,
                       "gnuplot finds no font, so the picture would have no text; install one "
                       "(Debian: fonts-dejavu-core)");
    if (!is_whole(picture, kind))
        return err_set(err, STATUS_CANT_WRITE,
                       "gnuplot gave a picture that is not whole (%zu bytes); is the template "
                       "sound, is there enough memory?",
                       picture->length);
    return STATUS_OK;
}

/* gnuplot leaves the > of text as it is, but "]]>" may not stand in XML. */
static void add_svg(struct buf *out, const char *svg)
{
    static const char forbidden[] = "]]>";
    for (const char *at; (at = strstr(svg, forbidden)) != NULL; svg = at + strlen(forbidden)) {
        buf_add(out, svg, (size_t)(at - svg));
        buf_text(out, "]]&gt;");
    }
    buf_text(out, svg);
}

enum status gnuplot_draw(const struct buf *script, enum picture picture, struct buf *out,
                         struct err *err)
{
    int file = script_file(script, picture, err);
    if (file < 0)
        return STATUS_CANT_WRITE;
    struct run run;
    enum status status = start(&run, file, err);
    close(file);
    if (status != STATUS_OK)
        return status;
    struct buf drawn = {0}, said = {0};
    bool in_time = collect(&run, &drawn, &said);
    int wait_status = finish(&run, in_time);
    status = judge(wait_status, in_time, &drawn, &said, picture, err);
    if (status == STATUS_OK && picture == PICTURE_TEXT)
        drawn.length = (size_t)(strrchr(drawn.text, TEXT_END) - drawn.text);
    if (status == STATUS_OK && picture == PICTURE_SVG)
        add_svg(out, drawn.text);
    else if (status == STATUS_OK)
        buf_add(out, buf_string(&drawn), drawn.length);
    buf_clear(&drawn);
    buf_clear(&said);
    return status;
}
