#include "bench/simserve.h"
#include "base/buf.h"
#include "bench/simpty.h"

#include <math.h>
#include <time.h>

struct serve {
    struct simrig *rig;
    struct simbench *bench;
    const struct simserve_settings *settings;
    struct simpty *pty; /* NULL while the port is gone */
    bool has_reader;
    uint64_t k;       /* the next reading */
    double origin_s;  /* when the hand began, -1 where it has not yet */
    double started_s; /* monotonic clock */
    struct err *err;
};

/* Between two looks at port and clock. */
static const double shortest_sleep_s = 0.001, longest_sleep_s = 0.02;

static double clock_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static enum status open_port(struct serve *serve)
{
    enum status status = simpty_open(&serve->pty, serve->settings->link, serve->err);
    if (status != STATUS_OK)
        return status;
    return serve->settings->announce(simpty_path(serve->pty), serve->settings->context, serve->err);
}

/* Lets the port go and come back as the fault says. */
static enum status keep_port(struct serve *serve, double now_s)
{
    bool gone = simbench_is_gone(serve->bench, now_s);
    if (gone && serve->pty != NULL) {
        simpty_drain(serve->pty);
        simpty_close(serve->pty);
        serve->pty = NULL;
        serve->has_reader = false;
    }
    if (!gone && serve->pty == NULL)
        return open_port(serve);
    return STATUS_OK;
}

/* The reader has closed the port: the next one begins with a clean one. */
static enum status see_off_reader(struct serve *serve)
{
    if (serve->pty == NULL || simpty_forget(serve->pty))
        return STATUS_OK;
    simpty_close(serve->pty);
    serve->pty = NULL;
    return open_port(serve);
}

static enum status look_for_reader(struct serve *serve, double now_s)
{
    bool had_reader = serve->has_reader;
    serve->has_reader = serve->pty != NULL && simpty_has_reader(serve->pty);
    if (had_reader && !serve->has_reader)
        return see_off_reader(serve);
    bool begun = serve->origin_s >= 0.0;
    bool going_on = begun && now_s < serve->origin_s + simrig_duration_s(serve->rig);
    if (serve->has_reader && !had_reader && !going_on) {
        simrig_restart(serve->rig);
        serve->origin_s = now_s;
    }
    return STATUS_OK;
}

static enum status take_reading(struct serve *serve, struct buf *bytes)
{
    double time_s = simbench_time_s(serve->bench, serve->k++);
    double run_s = serve->origin_s >= 0.0 ? time_s - serve->origin_s : -1.0;
    double draw_m, force_n;
    enum status status = simrig_at(serve->rig, run_s, &draw_m, &force_n, serve->err);
    if (status != STATUS_OK)
        return status;
    struct wire_line line;
    simbench_read(serve->bench, time_s, draw_m, force_n, &line);
    bytes->length = 0;
    simbench_send(serve->bench, &line, bytes);
    if (serve->has_reader && !simbench_is_silent(serve->bench, time_s) &&
        !simbench_is_gone(serve->bench, time_s))
        (void)simpty_send(serve->pty, buf_string(bytes), bytes->length);
    return STATUS_OK;
}

static void sleep_until_next(const struct serve *serve)
{
    double due_s = simbench_time_s(serve->bench, serve->k) / serve->settings->speed_up;
    double sleep_s = serve->started_s + due_s - clock_s();
    sleep_s = fmin(fmax(sleep_s, shortest_sleep_s), longest_sleep_s);
    struct timespec time = {.tv_nsec = (long)(sleep_s * 1e9)};
    (void)nanosleep(&time, NULL);
}

static enum status serve_on(struct serve *serve, struct buf *bytes)
{
    enum status status = open_port(serve);
    while (status == STATUS_OK && *serve->settings->stop == 0) {
        double now_s = (clock_s() - serve->started_s) * serve->settings->speed_up;
        status = keep_port(serve, now_s);
        if (status == STATUS_OK)
            status = look_for_reader(serve, now_s);
        while (status == STATUS_OK && simbench_time_s(serve->bench, serve->k) <= now_s &&
               *serve->settings->stop == 0)
            status = take_reading(serve, bytes);
        if (serve->pty != NULL)
            simpty_flush(serve->pty);
        if (status == STATUS_OK)
            sleep_until_next(serve);
    }
    return status;
}

enum status simserve_run(struct simrig *rig, struct simbench *bench,
                         const struct simserve_settings *settings, struct err *err)
{
    struct serve serve = {.rig = rig,
                          .bench = bench,
                          .settings = settings,
                          .origin_s = -1.0,
                          .started_s = clock_s(),
                          .err = err};
    struct buf bytes = {0};
    enum status status = serve_on(&serve, &bytes);
    buf_clear(&bytes);
    simpty_close(serve.pty);
    return status;
}
