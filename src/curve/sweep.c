#include "curve/sweep.h"
#include "base/mem.h"
#include "curve/noise.h"

#include <math.h>
#include <stdlib.h>

/* Shares of the whole travel. A pull leaves rest above LEAVE, is back at rest below BACK, and is
 * one at all if it gets beyond REACH. */
static const double LEAVE = 0.12, BACK = 0.10, REACH = 0.60;
static const double TOLERANCE_SIGMA = 4.0, TOLERANCE_SHARE_MAX = 0.005;

struct span {
    double low_m, high_m;
};

/* Extremes of the median of three neighbours, so that one wild reading does not set the scale. */
static struct span travel_span(const double *x, size_t n)
{
    struct span span = {fmin(x[0], x[n - 1]), fmax(x[0], x[n - 1])};
    for (size_t i = 1; i + 1 < n; i++) {
        double middle = fmax(fmin(x[i - 1], x[i]), fmin(fmax(x[i - 1], x[i]), x[i + 1]));
        span.low_m = fmin(span.low_m, middle);
        span.high_m = fmax(span.high_m, middle);
    }
    return span;
}

static double share(const struct span *span, double part)
{
    return span->low_m + part * (span->high_m - span->low_m);
}

/* From the crossing back to the last reading that is still at rest. */
static void find_begin(const double *x, size_t from, size_t crossing, double tolerance_m,
                       struct sweep *sweep)
{
    double base_m = x[from];
    for (size_t i = from; i <= crossing; i++)
        base_m = fmin(base_m, x[i]);
    size_t first = crossing;
    while (first > from && x[first] > base_m + tolerance_m)
        first--;
    sweep->rest_first = from;
    sweep->first = first;
    sweep->base_m = base_m;
}

static void find_top(const double *x, size_t crossing, size_t back, double tolerance_m,
                     struct sweep *sweep)
{
    double top_m = x[crossing];
    for (size_t i = crossing; i <= back; i++)
        top_m = fmax(top_m, x[i]);
    size_t i = crossing;
    while (x[i] < top_m - tolerance_m)
        i++;
    sweep->top_first = i;
    i = back;
    while (x[i] < top_m - tolerance_m)
        i--;
    sweep->top_last = i;
}

/* The let-down ends where the position stops falling; `limit` is the first reading that belongs to
 * the next movement. */
static size_t find_end(const double *x, size_t back, size_t limit, double tolerance_m)
{
    double base_m = x[back];
    for (size_t i = back; i < limit; i++)
        base_m = fmin(base_m, x[i]);
    size_t i = back;
    while (i + 1 < limit && x[i] > base_m + tolerance_m)
        i++;
    return i;
}

/* A string that was let go, or a file that goes straight on to the next draw, is no let-down. */
static bool descent_was_read(const double *x, const struct span *span, size_t top, size_t last)
{
    size_t between = 0;
    for (size_t i = top; i <= last; i++)
        between += x[i] < share(span, 0.95) && x[i] > share(span, 0.05);
    return between >= 2;
}

static void add_sweep(struct sweeps *sweeps, const struct sweep *sweep)
{
    sweeps->sweep = mem_realloc(sweeps->sweep, sweeps->n + 1, sizeof *sweeps->sweep);
    sweeps->sweep[sweeps->n++] = *sweep;
}

enum status sweeps_find(const struct readings *readings, struct sweeps *sweeps, struct err *err)
{
    const double *x = readings->draw_m;
    size_t n = readings->n;
    *sweeps = (struct sweeps){0};
    struct span span = travel_span(x, n);
    double travel_m = span.high_m - span.low_m;
    if (!(travel_m > 0.0))
        return err_set(err, STATUS_BAD_INPUT,
                       "the draw position never changes in %zu readings: no pull is in them; check "
                       "that the encoder moves with the string",
                       n);
    sweeps->tolerance_m =
        fmin(TOLERANCE_SIGMA * noise_from_differences(x, n), TOLERANCE_SHARE_MAX * travel_m);
    size_t from = 0, i = 0;
    while (i < n) {
        while (i < n && x[i] <= share(&span, LEAVE))
            i++;
        if (i == n)
            break;
        size_t crossing = i;
        while (i < n && x[i] > share(&span, BACK))
            i++;
        size_t back = i < n ? i : n - 1, next = i;
        while (next < n && x[next] <= share(&span, LEAVE))
            next++;
        struct sweep sweep = {0};
        find_begin(x, from, crossing, sweeps->tolerance_m, &sweep);
        find_top(x, crossing, back, sweeps->tolerance_m, &sweep);
        sweep.last = find_end(x, back, next > back ? next : back + 1, sweeps->tolerance_m);
        sweep.has_let_down = descent_was_read(x, &span, sweep.top_last, sweep.last);
        if (!sweep.has_let_down)
            sweep.last = sweep.top_last;
        if (x[sweep.top_first] < share(&span, REACH))
            sweeps->n_unfinished++;
        else
            add_sweep(sweeps, &sweep);
        from = sweep.has_let_down ? sweep.last : back;
    }
    return STATUS_OK;
}

void sweeps_clear(struct sweeps *sweeps)
{
    free(sweeps->sweep);
    *sweeps = (struct sweeps){0};
}

/* The walk that both sides share: step +1 for the draw, -1 for the let-down read backwards. */
struct walk {
    size_t from, to;
    bool backwards;
};

static size_t pick_records(const double *x, struct walk walk, double tolerance_m, size_t *index,
                           struct ways_back *ways_back)
{
    size_t picked = 0;
    double farthest_m = x[walk.from];
    bool going_back = false;
    struct ways_back ways = {0};
    for (size_t step = 0; step <= (walk.backwards ? walk.from - walk.to : walk.to - walk.from);
         step++) {
        size_t i = walk.backwards ? walk.from - step : walk.from + step;
        if (x[i] < farthest_m - (going_back ? 0.0 : tolerance_m)) {
            ways.n += !going_back;
            going_back = true;
            ways.largest_m = fmax(ways.largest_m, farthest_m - x[i]);
            continue;
        }
        going_back = false;
        farthest_m = fmax(farthest_m, x[i]);
        index[picked++] = i;
    }
    if (ways_back != NULL)
        *ways_back = ways;
    return picked;
}

size_t sweep_pick_draw(const struct readings *readings, const struct sweep *sweep,
                       double tolerance_m, size_t *index, struct ways_back *ways_back)
{
    struct walk walk = {sweep->first, sweep->top_first, false};
    return pick_records(readings->draw_m, walk, tolerance_m, index, ways_back);
}

size_t sweep_pick_let_down(const struct readings *readings, const struct sweep *sweep,
                           double tolerance_m, size_t *index, struct ways_back *ways_back)
{
    if (ways_back != NULL)
        *ways_back = (struct ways_back){0};
    if (!sweep->has_let_down)
        return 0;
    struct walk walk = {sweep->last, sweep->top_last, true};
    size_t n = pick_records(readings->draw_m, walk, tolerance_m, index, ways_back);
    for (size_t i = 0; i < n / 2; i++) {
        size_t other = index[i];
        index[i] = index[n - 1 - i];
        index[n - 1 - i] = other;
    }
    return n;
}
