#include "verbs/capture_show.h"
#include "base/number.h"
#include "base/units.h"
#include "show/escape.h"

#include <inttypes.h>
#include <jansson.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

enum { SECOND_US = 1000000, TERMINAL_US = 250000, LINE_WIDTH = 79 };

void capture_show_init(struct capture_show *show)
{
    *show = (struct capture_show){.terminal = isatty(STDERR_FILENO) == 1};
}

void capture_show_end(struct capture_show *show)
{
    if (show->on_line)
        (void)fputc('\n', stderr);
    show->on_line = false;
}

static void show_text(struct capture_show *show, const char *before, const char *format,
                      va_list arguments) __attribute__((format(printf, 3, 0)));

static void show_text(struct capture_show *show, const char *before, const char *format,
                      va_list arguments)
{
    char text[ERR_TEXT_MAX * 2];
    struct buf line = {0};
    (void)vsnprintf(text, sizeof text, format, arguments);
    buf_text(&line, before);
    escape_terminal(&line, text);
    buf_char(&line, '\n');
    capture_show_end(show);
    (void)fputs(buf_string(&line), stderr);
    buf_clear(&line);
}

void capture_show_line(struct capture_show *show, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    show_text(show, "", format, arguments);
    va_end(arguments);
}

void capture_show_alarm(struct capture_show *show, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    show_text(show, show->terminal ? "\a!!! " : "!!! ", format, arguments);
    va_end(arguments);
}

static void write_progress(struct buf *out, const struct capture_moment *moment, double rate_hz)
{
    char time[NUMBER_TEXT_MAX], force[NUMBER_TEXT_MAX], draw[NUMBER_TEXT_MAX];
    const struct bench_counts *counts = moment->counts;
    buf_printf(out, "%6s s  %-12s %7s lbf %7s in  pull %zu", number_fixed(time, moment->time_s, 1),
               live_state_text(moment->state),
               number_fixed(force, unit_from_si(UNIT_LBF, moment->force_n), 1),
               number_fixed(draw, unit_from_si(UNIT_IN, moment->draw_m), 2), moment->n_pulls);
    if (moment->n_wanted > 0)
        buf_printf(out, "/%zu", moment->n_wanted);
    buf_printf(out, "  %.0f/s  lost %" PRId64 " bad %" PRId64, rate_hz, counts->n_lost,
               counts->n_malformed + counts->n_bad_checksum + counts->n_out_of_order);
}

void capture_show_progress(struct capture_show *show, const struct capture_moment *moment)
{
    int64_t since_us = moment->now_us - show->shown_us;
    if (since_us < (show->terminal ? TERMINAL_US : SECOND_US))
        return;
    double rate_hz =
        (double)(moment->counts->n_readings - show->n_readings) * SECOND_US / (double)since_us;
    show->shown_us = moment->now_us;
    show->n_readings = moment->counts->n_readings;
    struct buf line = {0};
    write_progress(&line, moment, rate_hz);
    if (show->terminal)
        (void)fprintf(stderr, "\r%-*s", LINE_WIDTH, buf_string(&line));
    else
        (void)fprintf(stderr, "%s\n", buf_string(&line));
    show->on_line = show->terminal;
    buf_clear(&line);
}

/* --- the summary ---------------------------------------------------------------------------- */

static const char *end_text(const struct capture_result *result)
{
    switch (result->end) {
    case CAPTURE_END_PULLS:
        return "pulls";
    case CAPTURE_END_TIME:
        return "time";
    case CAPTURE_END_STOPPED:
        return "stopped";
    case CAPTURE_END_PORT_LOST:
        return "port_lost";
    }
    return "";
}

static const char *state_text(const struct capture_result *result)
{
    return result->state == CAPTURE_COMPLETE ? "complete" : "incomplete";
}

static void write_counts(struct buf *out, const struct capture_result *result)
{
    const struct capture_counts *counts = &result->counts;
    buf_printf(out, "readings   %" PRId64 "\n", counts->n_readings);
    buf_printf(out, "missing    %" PRId64 " (by their numbers; garbled ones are among them)\n",
               counts->n_lost);
    buf_printf(out,
               "garbled    %" PRId64 " unreadable, %" PRId64 " with a wrong checksum, %" PRId64
               " out of order\n",
               counts->n_malformed, counts->n_bad_checksum, counts->n_out_of_order);
    if (counts->n_saturated > 0)
        buf_printf(out, "saturated  %" PRId64 " (a converter was at the end of its range)\n",
                   counts->n_saturated);
    if (result->n_restarts > 0)
        buf_printf(out, "restarts   %" PRId64 " of the controller\n", result->n_restarts);
    if (result->n_reopened > 0)
        buf_printf(out, "port       lost and found again %" PRId64 " time(s)\n",
                   result->n_reopened);
    if (result->n_alarms > 0)
        buf_printf(out, "alarms     %d\n", result->n_alarms);
    if (result->n_spilled > 0) {
        buf_printf(out, "spilled    %zu readings are not in the record but in ", result->n_spilled);
        escape_terminal(out, buf_string(&result->spill_path));
        buf_char(out, '\n');
    }
}

void capture_summary_text(struct buf *out, const struct capture_plan *plan,
                          const struct capture_result *result)
{
    char seconds[NUMBER_TEXT_MAX];
    buf_printf(out, "capture %" PRId64 ": %s, %s s, %zu complete pull%s", result->number,
               state_text(result), number_fixed(seconds, result->seconds, 1), result->n_pulls,
               result->n_pulls == 1 ? "" : "s");
    if (result->n_movements > result->n_pulls)
        buf_printf(out, ", %zu other movement(s)", result->n_movements - result->n_pulls);
    buf_char(out, '\n');
    write_counts(out, result);
    if (!plan->head.has_brace && plan->bench->datum == BENCH_DATUM_BRACE)
        buf_text(out, "No brace height is known: draw positions are as the travel calibration\n"
                      "counts them. Give it with `measure --brace`.\n");
    if (result->counts.n_readings > 0) {
        buf_text(out, "Next: pullcurve measure last");
        if (plan->record_stated != NULL) {
            buf_text(out, " --record ");
            escape_terminal(out, plan->record_stated);
        }
        buf_char(out, '\n');
    }
}

static json_t *counts_json(const struct capture_result *result)
{
    const struct capture_counts *counts = &result->counts;
    return json_pack("{s:I,s:I,s:I,s:I,s:I,s:I}", "readings", (json_int_t)counts->n_readings,
                     "malformed", (json_int_t)counts->n_malformed, "bad_checksum",
                     (json_int_t)counts->n_bad_checksum, "lost", (json_int_t)counts->n_lost,
                     "out_of_order", (json_int_t)counts->n_out_of_order, "saturated",
                     (json_int_t)counts->n_saturated);
}

/* What JSON can hold of a path: valid UTF-8. */
static json_t *path_json(const struct buf *path)
{
    struct buf text = {0};
    escape_terminal(&text, buf_string(path));
    json_t *json = json_string(buf_string(&text));
    buf_clear(&text);
    return json;
}

void capture_summary_json(struct buf *out, const struct capture_plan *plan,
                          const struct capture_result *result)
{
    json_t *spill = result->n_spilled > 0
                        ? json_pack("{s:I,s:o}", "readings", (json_int_t)result->n_spilled, "file",
                                    path_json(&result->spill_path))
                        : json_null();
    json_t *capture = json_pack(
        "{s:I,s:s,s:s,s:o,s:s,s:s,s:s,s:I,s:I,s:f,s:I,s:I,s:i,s:o,s:o}", "number",
        (json_int_t)result->number, "key", result->key, "bench", plan->bench->name, "port",
        path_json(&result->port), "transport", result->transport, "state", state_text(result),
        "end", end_text(result), "pulls", (json_int_t)result->n_pulls, "movements",
        (json_int_t)result->n_movements, "seconds", result->seconds, "restarts",
        (json_int_t)result->n_restarts, "reopened", (json_int_t)result->n_reopened, "alarms",
        result->n_alarms, "counts", counts_json(result), "spilled", spill);
    json_t *root = json_pack("{s:i,s:o}", "schema", 1, "capture", capture);
    char *text = root != NULL ? json_dumps(root, JSON_INDENT(2)) : NULL;
    buf_text(out, text != NULL ? text : "null");
    buf_char(out, '\n');
    free(text);
    json_decref(root);
}
