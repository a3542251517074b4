#include "verbs/calibrate_live.h"

#include "base/mem.h"
#include "base/number.h"
#include "bench/source.h"
#include "curve/calibration_steady.h"
#include "curve/calibration_summary.h"
#include "show/escape.h"
#include "verbs/calibrate_ask.h"
#include "verbs/stop.h"

#include <math.h>
#include <poll.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SLICE_MS = 50, LOADS_MAX = 1000, RUNS_MAX = 100, WAIT_MOST_S = 600, REOPEN_PAUSE_MS = 500 };

/* A load has been changed when the mean has moved by this many standard deviations, and counts. */
static const double moved_sd = 8.0, moved_counts = 4.0;

/* A stretch of counts is judged anew this often. */
static const int64_t judge_every_us = 200000;

/* The counts of the newest stretch of time. */
struct window {
    double *count;
    int64_t *arrival_us;
    size_t n, capacity;
    bool saturated; /* one of them lay at the end of the converter's range */
};

struct session {
    struct calibrate_live *live;
    const struct bench *bench;
    const struct reference_settings *settings;
    enum quantity quantity;
    struct source *source;
    struct answers answers;
    struct window window;
    enum unit unit; /* in which references are stated, and assumed */
    int64_t average_us;
    size_t capacity; /* of live->points */
    bool has_last;
    struct calibration_steady last; /* of the point that was taken last */
    double last_reference_si;
};

/* What became of a step. */
enum step { STEP_DONE, STEP_AGAIN, STEP_STOP };

static void say(const char *format, ...) __attribute__((format(printf, 1, 2)));

static void say(const char *format, ...)
{
    char text[ERR_TEXT_MAX];
    struct buf safe = {0};
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    escape_terminal(&safe, text);
    (void)fputs(buf_string(&safe), stderr);
    (void)fputc('\n', stderr);
    buf_clear(&safe);
}

/* --- readings ------------------------------------------------------------------------------- */

static void window_add(struct window *window, double count, int64_t arrival_us, int64_t keep_us)
{
    size_t old = 0;
    while (old < window->n && window->arrival_us[old] < arrival_us - keep_us)
        old++;
    if (old > 0) {
        window->n -= old;
        memmove(window->count, window->count + old, window->n * sizeof *window->count);
        memmove(window->arrival_us, window->arrival_us + old,
                window->n * sizeof *window->arrival_us);
    }
    if (window->n == window->capacity) {
        window->capacity = mem_grown(window->capacity, window->n + 1);
        window->count = mem_realloc(window->count, window->capacity, sizeof *window->count);
        window->arrival_us =
            mem_realloc(window->arrival_us, window->capacity, sizeof *window->arrival_us);
    }
    window->count[window->n] = count;
    window->arrival_us[window->n++] = arrival_us;
}

static void window_restart(struct window *window)
{
    window->n = 0;
    window->saturated = false;
}

static void window_clear(struct window *window)
{
    free(window->count);
    free(window->arrival_us);
}

static void take_readings(struct session *session, const struct raw_reading *readings, size_t n)
{
    bool force = session->quantity == QUANTITY_FORCE;
    uint32_t has = force ? RAW_HAS_FORCE : RAW_HAS_TRAVEL;
    uint32_t saturated = force ? RAW_FORCE_SATURATED : RAW_TRAVEL_SATURATED;
    for (size_t i = 0; i < n; i++) {
        const struct raw_reading *reading = &readings[i];
        if (!(reading->flags & has))
            continue;
        if (reading->flags & saturated) {
            session->window.n = 0;
            session->window.saturated = true;
            continue;
        }
        window_add(&session->window, force ? reading->force_count : reading->travel_count,
                   reading->arrival_us, session->average_us);
    }
}

/* Waits for a port that went away. */
static enum status wait_for_port(struct session *session, struct err *err)
{
    int64_t end_us = source_now_us(session->source) + (int64_t)(session->bench->reopen_s * 1e6);
    say("The port went away. Waiting for it; the points so far are safe.");
    window_restart(&session->window);
    while (source_reopen(session->source, err) != STATUS_OK) {
        if (stop_asked())
            return err_set(err, STATUS_INTERRUPTED, "interrupted while the port was away");
        if (source_now_us(session->source) >= end_us)
            return err_set(err, STATUS_NO_BENCH,
                           "%s: the port went away and did not come back in %.0f s",
                           source_path(session->source), session->bench->reopen_s);
        (void)poll(NULL, 0, REOPEN_PAUSE_MS);
    }
    say("The port is back.");
    return STATUS_OK;
}

/* Takes what comes within a slice of time. */
static enum status pump(struct session *session, struct err *err)
{
    const struct raw_reading *readings;
    size_t n;
    enum source_event event = source_read(session->source, SLICE_MS, &readings, &n);
    if (stop_asked())
        return err_set(err, STATUS_INTERRUPTED, "interrupted");
    if (event == SOURCE_GONE)
        return wait_for_port(session, err);
    take_readings(session, readings, n);
    return STATUS_OK;
}

/* Asks and waits for the answer; *ended where standard input has none. */
static enum status ask(struct session *session, const char *question, char line[ANSWER_MAX],
                       bool *ended, struct err *err)
{
    enum answer_event event;
    (void)fprintf(stderr, "%s ", question);
    (void)fflush(stderr);
    while ((event = answers_read(&session->answers, 0, line)) == ANSWER_NONE) {
        enum status status = pump(session, err);
        if (status != STATUS_OK) {
            (void)fputc('\n', stderr);
            return status;
        }
    }
    *ended = event == ANSWER_END;
    if (*ended)
        line[0] = '\0';
    if (!answers_terminal())
        (void)fprintf(stderr, "%s\n", line);
    return STATUS_OK;
}

/* --- one point ------------------------------------------------------------------------------ */

static bool window_full(const struct session *session)
{
    const struct window *window = &session->window;
    return window->n >= CALIBRATION_STEADY_MIN &&
           window->arrival_us[window->n - 1] - window->arrival_us[0] >=
               session->average_us * 9 / 10;
}

/* Has the count left that of the point before? */
static bool moved(const struct session *session, const struct calibration_steady *now)
{
    double least = fmax(moved_counts, moved_sd * session->last.sd);
    return fabs(now->mean - session->last.mean) > least;
}

/* What the person at the terminal wants while it waits. */
static void look_at_keys(struct session *session, bool *take_now, bool *stop)
{
    char line[ANSWER_MAX];
    if (!answers_terminal() || answers_read(&session->answers, 0, line) != ANSWER_LINE)
        return;
    *stop = line[0] == 'q';
    *take_now = line[0] == '\0';
}

static enum status too_long(const struct session *session, struct err *err)
{
    if (session->window.n == 0)
        return err_set(err, STATUS_NO_BENCH, "%s: no reading that can be used came for %d s",
                       source_path(session->source), WAIT_MOST_S);
    return err_set(err, STATUS_NO_BENCH,
                   "%s: the count did not move and come to rest within %d s; was the load put on?",
                   source_path(session->source), WAIT_MOST_S);
}

/* Waits until the count has moved, if it must, and rests. */
static enum status measure(struct session *session, bool must_move, struct calibration_steady *got,
                           enum step *step, struct err *err)
{
    bool take_now = false, stop = false, told = false;
    int64_t judged_us = 0, begin_us = source_now_us(session->source);
    window_restart(&session->window);
    *step = STEP_STOP;
    while (!stop) {
        enum status status = pump(session, err);
        int64_t now_us = source_now_us(session->source);
        if (status != STATUS_OK)
            return status;
        look_at_keys(session, &take_now, &stop);
        if (session->window.saturated && !told) {
            say("The converter is at the end of its range: take load off. It shows no true count.");
            told = true;
        }
        if (!answers_terminal() && now_us - begin_us > (int64_t)WAIT_MOST_S * 1000000)
            return too_long(session, err);
        if (!window_full(session) || now_us - judged_us < judge_every_us)
            continue;
        judged_us = now_us;
        *got = calibration_steady(session->window.count, session->window.n);
        if (take_now || (got->steady && (!must_move || moved(session, got)))) {
            *step = STEP_DONE;
            return STATUS_OK;
        }
    }
    return STATUS_OK;
}

static void keep(struct session *session, double value_si, double u_si, int run,
                 const struct calibration_steady *got)
{
    struct calibrate_live *live = session->live;
    if (live->n == session->capacity) {
        session->capacity = mem_grown(session->capacity, live->n + 1);
        live->points = mem_realloc(live->points, session->capacity, sizeof *live->points);
    }
    struct calibration_point *point = &live->points[live->n++];
    *point = reference_point(session->settings, unit_quantity(session->unit), value_si, u_si);
    point->count = got->mean;
    point->u_count = got->u_mean;
    point->run = run;
    session->has_last = true;
    session->last = *got;
    session->last_reference_si = value_si;
}

static void show_point(const struct session *session, double value_si,
                       const struct calibration_steady *got)
{
    char value[NUMBER_TEXT_MAX], mean[NUMBER_TEXT_MAX], sd[NUMBER_TEXT_MAX], u[NUMBER_TEXT_MAX];
    say("  %s %s: mean %s counts, spread (sd) %s, u of the mean %s, %zu readings",
        number_fixed(value, unit_from_si(session->unit, value_si), 3), unit_name(session->unit),
        number_fixed(mean, got->mean, 1), number_fixed(sd, got->sd, 1),
        number_fixed(u, got->u_mean, 2), session->window.n);
    if (!got->steady)
        say("  It does not rest: the second half lies %s counts from the first.",
            number_fixed(mean, got->drift, 1));
}

/* Measures at one reference until the person keeps it or stops. */
static enum status take_point(struct session *session, double value_si, int run, enum step *step,
                              struct err *err)
{
    double u_si = 0.0;
    enum status status = reference_u(session->settings->u_text, "--u-reference", session->unit,
                                     value_si, &u_si, err);
    *step = STEP_AGAIN;
    while (status == STATUS_OK && *step == STEP_AGAIN) {
        struct calibration_steady got;
        char line[ANSWER_MAX] = "";
        bool ended = false,
             must_move = session->has_last && fabs(value_si - session->last_reference_si) > 0.0;
        status = measure(session, must_move, &got, step, err);
        if (status != STATUS_OK || *step == STEP_STOP)
            break;
        show_point(session, value_si, &got);
        status = ask(session, "  Enter keeps it, r repeats it, q stops:", line, &ended, err);
        *step = line[0] == 'r' ? STEP_AGAIN : line[0] == 'q' ? STEP_STOP : STEP_DONE;
        if (status == STATUS_OK && *step == STEP_DONE)
            keep(session, value_si, u_si, run, &got);
    }
    return status;
}

/* --- the whole ------------------------------------------------------------------------------ */

static const char *doing(const struct session *session)
{
    return session->quantity == QUANTITY_FORCE ? "put on" : "set the carriage to";
}

/* References that are typed one by one. */
static enum status take_typed(struct session *session, enum step *step, struct err *err)
{
    struct buf question = {0};
    buf_printf(&question, "Which %s is on now, in %s (q: that was all)?",
               session->quantity == QUANTITY_FORCE ? "load" : "length", unit_name(session->unit));
    enum status status = STATUS_OK;
    for (*step = STEP_DONE; status == STATUS_OK;) {
        char line[ANSWER_MAX] = "";
        bool ended = false;
        double value_si;
        status = ask(session, buf_string(&question), line, &ended, err);
        if (status != STATUS_OK || ended || line[0] == 'q')
            break;
        struct err wrong;
        if (number_parse_quantity(line, unit_quantity(session->unit), session->unit, "reference",
                                  &value_si, &wrong) != STATUS_OK) {
            say("  %s", wrong.text);
            continue;
        }
        session->has_last = false; /* it hangs already */
        status = take_point(session, value_si, 1, step, err);
        if (*step == STEP_STOP)
            break;
    }
    buf_clear(&question);
    return status;
}

static enum status begin_run(struct session *session, int run, int n_runs, enum step *step,
                             struct err *err)
{
    char line[ANSWER_MAX] = "";
    bool ended = false;
    *step = STEP_DONE;
    if (run == 1)
        return STATUS_OK;
    say("Run %d of %d. Take all load off, take the sensor off its mounting, turn it if it can be "
        "turned, and put it back.",
        run, n_runs);
    session->has_last = false;
    enum status status = ask(session, "Then Enter (q stops):", line, &ended, err);
    if (line[0] == 'q')
        *step = STEP_STOP;
    return status;
}

static enum status take_list(struct session *session, const double *loads_si, size_t n_loads,
                             int n_runs, enum step *step, struct err *err)
{
    enum status status = STATUS_OK;
    *step = STEP_DONE;
    for (int run = 1; run <= n_runs; run++) {
        status = begin_run(session, run, n_runs, step, err);
        for (size_t i = 0; status == STATUS_OK && *step == STEP_DONE && i < n_loads; i++) {
            char value[NUMBER_TEXT_MAX];
            say("Run %d, %zu of %zu: %s %s %s.%s", run, i + 1, n_loads, doing(session),
                number_fixed(value, unit_from_si(session->unit, loads_si[i]), 3),
                unit_name(session->unit),
                answers_terminal() ? " (Enter takes it as it is, q stops)" : "");
            status = take_point(session, loads_si[i], run, step, err);
        }
        if (status != STATUS_OK || *step == STEP_STOP)
            break;
    }
    return status;
}

/* "0,10,20 N,..." */
static enum status read_loads(const char *text, enum unit unit, double **loads_si, size_t *n,
                              struct err *err)
{
    *n = 0;
    *loads_si = NULL;
    if (text == NULL)
        return STATUS_OK;
    *loads_si = mem_calloc(LOADS_MAX, sizeof **loads_si);
    for (;;) {
        size_t length = strcspn(text, ",");
        char *one = mem_strndup(text, length);
        enum status status = STATUS_OK;
        if (*n == LOADS_MAX)
            status = err_set(err, STATUS_USAGE, "--loads: at most %d", LOADS_MAX);
        else
            status = number_parse_quantity(one, unit_quantity(unit), unit, "--loads",
                                           &(*loads_si)[*n], err);
        free(one);
        if (status != STATUS_OK)
            return status;
        (*n)++;
        if (text[length] == '\0')
            return STATUS_OK;
        text += length + 1;
    }
}

static void caution(enum quantity quantity)
{
    if (quantity == QUANTITY_FORCE)
        say("Loads that hang can fall. Keep hands, feet and heads from under them, lift them with "
            "care, hang them low over something soft with a second strap, and stay within the "
            "ratings of load cell, hook and frame. No bow is on the bench while you calibrate.");
    else
        say("No bow is on the bench while you calibrate. Keep fingers clear of the carriage.");
}

/* Did the person agree to keep what was taken before the stop? */
static enum status agree(struct session *session, struct err *err)
{
    char line[ANSWER_MAX] = "";
    bool ended = false;
    struct buf question = {0};
    enum status status = STATUS_OK;
    if (session->live->n > 0) {
        buf_printf(&question, "Stopped. Store the %zu point(s) taken so far as a calibration? y/N",
                   session->live->n);
        status = ask(session, buf_string(&question), line, &ended, err);
        buf_clear(&question);
    }
    if (status == STATUS_OK && line[0] != 'y' && line[0] != 'Y')
        status = err_set(err, STATUS_INTERRUPTED, "stopped; no calibration is stored");
    session->live->complete = status == STATUS_OK;
    return status;
}

static enum status run_session(struct session *session, const struct options *options,
                               struct err *err)
{
    int64_t n_runs = 1;
    double *loads_si = NULL, average_s = 3.0;
    size_t n_loads = 0;
    const struct raw_reading *readings;
    size_t n = 0;
    enum step step = STEP_DONE;
    enum status status = options_int(options, "runs", 1, RUNS_MAX, 1, &n_runs, err);
    if (status == STATUS_OK)
        status = options_quantity(options, "average", QUANTITY_TIME, UNIT_S, 0.2, 60.0, 3.0,
                                  &average_s, err);
    if (status == STATUS_OK)
        status = read_loads(options_text(options, "loads", NULL), session->unit, &loads_si,
                            &n_loads, err);
    session->average_us = (int64_t)(average_s * 1e6);
    if (status == STATUS_OK)
        status =
            source_open(&session->source, session->bench, options_text(options, "port", NULL), err);
    if (status == STATUS_OK) {
        stop_install();
        caution(session->quantity);
        status = source_wait(session->source, stop_flag(), &readings, &n, err);
    }
    if (status == STATUS_OK)
        status = n_loads > 0 ? take_list(session, loads_si, n_loads, (int)n_runs, &step, err)
                             : take_typed(session, &step, err);
    free(loads_si);
    if (status == STATUS_OK && step == STEP_STOP)
        return agree(session, err);
    session->live->complete = status == STATUS_OK;
    return status;
}

enum status calibrate_live_run(struct calibrate_live *live, const struct options *options,
                               const struct bench *bench, enum quantity quantity,
                               const struct reference_settings *settings, struct err *err)
{
    *live = (struct calibrate_live){.masses = settings->masses && quantity == QUANTITY_FORCE};
    struct session session = {
        .live = live,
        .bench = bench,
        .settings = settings,
        .quantity = quantity,
        .unit = quantity == QUANTITY_LENGTH ? UNIT_IN
                : settings->masses          ? UNIT_LB
                                            : UNIT_LBF,
    };
    enum status status = run_session(&session, options, err);
    source_close(session.source);
    window_clear(&session.window);
    calibration_set_directions(live->points, live->n);
    return status;
}

void calibrate_live_clear(struct calibrate_live *live)
{
    free(live->points);
    *live = (struct calibrate_live){0};
}
