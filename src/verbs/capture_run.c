#include "verbs/capture_run.h"
#include "bench/guard.h"
#include "bench/live.h"
#include "bench/source.h"
#include "verbs/capture_keep.h"
#include "verbs/capture_show.h"
#include "verbs/stop.h"

#include <stdio.h>
#include <time.h>

enum { READ_MS = 50, REOPEN_EVERY_MS = 200, FLUSH_EVERY_MS = 300, FLUSH_TRIES = 3 };

/* Alarms can't wait for a record that another program holds; the end can. */
enum { PATIENCE_MS = 50, END_PATIENCE_MS = 2000, FAILURE_TOLD_EVERY_US = 2000000 };

struct run {
    const struct capture_plan *plan;
    struct capture_result *result;
    struct source *source;
    struct record_capture head; /* as the record has it */
    struct keep keep;
    struct live live;
    struct guard guard;
    struct capture_show show;
    struct capture_moment moment;
    int64_t first_device_us, first_arrival_us, last_arrival_us;
    int64_t failure_told_us;
    bool has_first;
    bool over;
    enum capture_end end;
};

static void finish(struct run *run, enum capture_end end)
{
    run->over = true;
    run->end = end;
}

static void sleep_ms(long ms)
{
    struct timespec pause = {.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000};
    (void)nanosleep(&pause, NULL);
}

/* --- one reading ---------------------------------------------------------------------------- */

static void show_alarms(struct run *run, unsigned alarms)
{
    static const enum guard_alarm all[] = {GUARD_FORCE, GUARD_TRAVEL, GUARD_SPEED, GUARD_SILENCE,
                                           GUARD_BLIND};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++) {
        if ((alarms & all[i]) == 0)
            continue;
        capture_show_alarm(&run->show, "%s (force %.1f lbf, draw %.2f in, %.2f m/s)",
                           guard_text(all[i]), unit_from_si(UNIT_LBF, run->moment.force_n),
                           unit_from_si(UNIT_IN, run->moment.draw_m), run->guard.speed_m_s);
    }
}

static double draw_position_m(const struct run *run, double travel_m)
{
    if (!run->plan->head.has_brace)
        return travel_m;
    return run->plan->head.brace_m + travel_m - run->live.rest_travel_m;
}

static void follow_pulls(struct run *run, double force_n, double travel_m)
{
    size_t movements = run->live.n_movements, pulls = live_n_pulls(&run->live);
    live_reading(&run->live, run->moment.time_s, force_n, travel_m);
    run->moment.n_pulls = live_n_pulls(&run->live);
    if (run->live.n_movements == movements)
        return;
    if (run->moment.n_pulls > pulls)
        capture_show_line(&run->show, "pull %zu is complete", run->moment.n_pulls);
    else
        capture_show_line(&run->show, "that was no complete pull: it stopped short of the others, "
                                      "or the string left the hook");
}

static void observe(struct run *run, const struct raw_reading *reading)
{
    if (!run->has_first) {
        run->has_first = true;
        run->first_device_us = reading->device_us;
        run->first_arrival_us = reading->arrival_us;
    }
    run->last_arrival_us = reading->arrival_us;
    double force_n = calibration_value(run->plan->force, reading->force_count);
    double travel_m = calibration_value(run->plan->travel, reading->travel_count);
    bool saturated = (reading->flags & (RAW_FORCE_SATURATED | RAW_TRAVEL_SATURATED)) != 0;
    run->moment.time_s = (double)(reading->device_us - run->first_device_us) * 1e-6;
    if (!saturated)
        follow_pulls(run, force_n, travel_m);
    run->moment.force_n = force_n;
    run->moment.draw_m = draw_position_m(run, travel_m);
    run->moment.state = run->live.state;
    show_alarms(run, guard_reading(&run->guard, run->moment.time_s, force_n, run->moment.draw_m,
                                   saturated));
}

static void take(struct run *run, const struct raw_reading *readings, size_t n)
{
    keep_add(&run->keep, readings, n);
    for (size_t i = 0; i < n; i++)
        observe(run, &readings[i]);
}

/* --- the loop ------------------------------------------------------------------------------- */

static void keep_up(struct run *run)
{
    struct err err = {.code = STATUS_OK};
    int64_t now_us = source_now_us(run->source);
    switch (keep_tick(&run->keep, now_us, &err)) {
    case KEEP_FAILED:
        if (run->failure_told_us > 0 && now_us - run->failure_told_us < FAILURE_TOLD_EVERY_US)
            break;
        run->failure_told_us = now_us;
        capture_show_alarm(
            &run->show,
            "THE RECORD DOES NOT TAKE READINGS: %s. %zu are held in memory and tried "
            "again",
            err.text, run->keep.n);
        break;
    case KEEP_RECOVERED:
        run->failure_told_us = 0;
        capture_show_line(&run->show, "the record takes readings again; none is lost");
        break;
    case KEEP_QUIET:
        break;
    }
}

/* Waits for a port that went away. */
static void await_port(struct run *run)
{
    double patience_s = run->plan->bench->reopen_s;
    capture_show_alarm(&run->show,
                       "THE PORT WENT AWAY: %s. Waiting %.0f s for it; check cable and power. What "
                       "was measured is kept",
                       source_path(run->source), patience_s);
    int64_t end_us = source_now_us(run->source) + (int64_t)(patience_s * 1e6);
    while (source_reopen(run->source, NULL) != STATUS_OK) {
        keep_up(run);
        if (stop_asked()) {
            finish(run, CAPTURE_END_STOPPED);
            return;
        }
        if (source_now_us(run->source) >= end_us) {
            finish(run, CAPTURE_END_PORT_LOST);
            return;
        }
        sleep_ms(REOPEN_EVERY_MS);
    }
    run->result->n_reopened++;
    run->last_arrival_us = source_now_us(run->source);
    capture_show_line(&run->show, "the port is back: %s; going on behind a gap",
                      source_path(run->source));
}

static void step(struct run *run)
{
    const struct raw_reading *readings;
    size_t n;
    switch (source_read(run->source, READ_MS, &readings, &n)) {
    case SOURCE_READINGS:
        take(run, readings, n);
        break;
    case SOURCE_QUIET: {
        double quiet_s = (double)(source_now_us(run->source) - run->last_arrival_us) * 1e-6;
        show_alarms(run, guard_quiet(&run->guard, quiet_s));
        break;
    }
    case SOURCE_GONE:
        await_port(run);
        break;
    }
    run->moment.now_us = source_now_us(run->source);
    keep_up(run);
    capture_show_progress(&run->show, &run->moment);
}

static void loop(struct run *run)
{
    while (!run->over) {
        step(run);
        double seconds = (double)(run->moment.now_us - run->first_arrival_us) * 1e-6;
        if (run->over)
            break;
        if (run->plan->n_pulls > 0 && run->moment.n_pulls >= run->plan->n_pulls)
            finish(run, CAPTURE_END_PULLS);
        else if (stop_asked())
            finish(run, CAPTURE_END_STOPPED);
        else if (seconds >= run->plan->seconds)
            finish(run, CAPTURE_END_TIME);
    }
}

/* --- the end -------------------------------------------------------------------------------- */

/* Did it end as asked? */
static bool as_asked(const struct run *run)
{
    switch (run->end) {
    case CAPTURE_END_PULLS:
        return true;
    case CAPTURE_END_TIME:
        return !live_moving(&run->live) && (run->plan->n_pulls == 0 || !run->plan->pulls_stated);
    case CAPTURE_END_STOPPED:
        return !live_moving(&run->live) && run->plan->n_pulls == 0;
    case CAPTURE_END_PORT_LOST:
        break;
    }
    return false;
}

static void set_result(struct run *run)
{
    struct capture_result *result = run->result;
    const struct stream *stream = source_stream(run->source);
    const struct bench_counts *counts = &stream->counts;
    result->end = run->end;
    result->state = as_asked(run) ? CAPTURE_COMPLETE : CAPTURE_INCOMPLETE;
    result->counts = (struct capture_counts){.n_readings = counts->n_readings,
                                             .n_malformed = counts->n_malformed,
                                             .n_bad_checksum = counts->n_bad_checksum,
                                             .n_lost = counts->n_lost,
                                             .n_out_of_order = counts->n_out_of_order,
                                             .n_saturated = counts->n_saturated};
    result->n_pulls = live_n_pulls(&run->live);
    result->n_movements = run->live.n_movements;
    result->n_restarts = stream->n_restarts;
    result->n_alarms = run->guard.n_raised;
    buf_text(&result->port, source_path(run->source));
    result->transport = source_transport(run->source);
    result->seconds = (double)(source_now_us(run->source) - run->first_arrival_us) * 1e-6;
}

static const char *reason(enum capture_end end)
{
    switch (end) {
    case CAPTURE_END_TIME:
        return "the time was over before the pulls were done";
    case CAPTURE_END_PORT_LOST:
        return "the port went away and did not come back";
    case CAPTURE_END_PULLS:
    case CAPTURE_END_STOPPED:
        break;
    }
    return "interrupted";
}

/* The record did not take what is held to the end, for this reason: a file takes it. */
static enum status spill_rest(struct run *run, const struct err *why, struct err *err)
{
    struct capture_result *result = run->result;
    struct err spill_err = {.code = STATUS_OK};
    result->n_spilled = run->keep.n;
    result->counts.n_readings -= (int64_t)run->keep.n;
    result->state = CAPTURE_INCOMPLETE;
    if (keep_spill(&run->keep, run->plan->record_path, result->number, &result->spill_path,
                   &spill_err) != STATUS_OK)
        return err_set(err, STATUS_CANT_WRITE,
                       "the last %zu readings of capture %lld are lost: %.400s; and no file takes "
                       "them: %.400s",
                       run->keep.n, (long long)result->number, why->text, spill_err.text);
    return err_set(err, STATUS_CANT_WRITE,
                   "the last %zu readings of capture %lld are not in the record but in %s; keep "
                   "that file. The cause: %.500s",
                   run->keep.n, (long long)result->number, buf_string(&result->spill_path),
                   why->text);
}

/* Brings what is held into the record, with patience. */
static enum status store_rest(struct run *run, struct err *err)
{
    struct err why = {.code = STATUS_OK};
    for (int i = 0; i <= FLUSH_TRIES; i++) {
        if (keep_flush(&run->keep, &why) == STATUS_OK)
            return STATUS_OK;
        if (i == 0)
            capture_show_alarm(&run->show, "THE RECORD DOES NOT TAKE READINGS: %s. Trying on",
                               why.text);
        sleep_ms(FLUSH_EVERY_MS);
    }
    return spill_rest(run, &why, err);
}

static enum status end_capture(struct run *run, struct err *err)
{
    struct capture_result *result = run->result;
    set_result(run);
    record_set_patience(run->plan->record, END_PATIENCE_MS);
    enum status status = store_rest(run, err);
    struct err end_err = {.code = STATUS_OK};
    enum status ended = record_capture_end(run->plan->record, run->head.key, result->state,
                                           &result->counts, &end_err);
    if (status == STATUS_OK && ended != STATUS_OK)
        status = err_set(err, ended,
                         "the end of capture %lld can't be written (its readings are "
                         "kept): %.600s",
                         (long long)result->number, end_err.text);
    if (status == STATUS_OK && result->state != CAPTURE_COMPLETE)
        status = err_set(
            err, STATUS_INTERRUPTED, "%s; capture %lld is incomplete, its %lld readings are kept",
            reason(result->end), (long long)result->number, (long long)result->counts.n_readings);
    return status;
}

/* --- begin ---------------------------------------------------------------------------------- */

static void begin_watching(struct run *run)
{
    struct live_settings settings = live_defaults();
    if (run->plan->travel_min_m > 0)
        settings.travel_min_m = run->plan->travel_min_m;
    live_init(&run->live, &settings);
    guard_init(&run->guard, &run->plan->bench->guard);
    run->moment.n_wanted = run->plan->n_pulls;
    run->moment.counts = &source_stream(run->source)->counts;
}

/* From the first readings on. */
static enum status capture(struct run *run, const struct raw_reading *readings, size_t n,
                           struct err *err)
{
    enum status status = record_capture_begin(run->plan->record, &run->head, err);
    if (status != STATUS_OK)
        return status;
    struct capture_result *result = run->result;
    result->begun = true;
    result->number = run->head.number;
    (void)snprintf(result->key, sizeof result->key, "%s", run->head.key);
    keep_init(&run->keep, run->plan->record, run->head.key);
    record_set_patience(run->plan->record, PATIENCE_MS);
    begin_watching(run);
    capture_show_line(&run->show, "capture %lld on %s (%s): readings come; draw when you are ready",
                      (long long)result->number, run->plan->bench->name, source_path(run->source));
    take(run, readings, n);
    loop(run);
    capture_show_end(&run->show);
    status = end_capture(run, err);
    keep_clear(&run->keep);
    return status;
}

enum status capture_run(const struct capture_plan *plan, struct capture_result *result,
                        struct err *err)
{
    *result = (struct capture_result){0};
    struct run run = {.plan = plan, .result = result, .head = plan->head};
    capture_show_init(&run.show);
    stop_install();
    enum status status = source_open(&run.source, plan->bench, plan->port, err);
    if (status != STATUS_OK)
        return status;
    const struct raw_reading *readings;
    size_t n;
    status = source_wait(run.source, stop_flag(), &readings, &n, err);
    if (status == STATUS_OK)
        status = capture(&run, readings, n, err);
    source_close(run.source);
    return status;
}

void capture_result_clear(struct capture_result *result)
{
    buf_clear(&result->spill_path);
    buf_clear(&result->port);
}
