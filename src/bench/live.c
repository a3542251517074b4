#include "bench/live.h"

#include <math.h>

/* How long the start of a capture is averaged before it counts as rest. */
#define START_S 0.25

/* Time constants with which the force at rest is followed: drift, and a load that was taken off. */
#define DRIFT_S 2.0
#define UNLOADED_S 0.2

/* Force above rest that begins a draw, in standard deviations of the noise. */
#define NOISE_FACTOR 6.0
/* mean |difference| of two readings with normal noise of standard deviation 1: 2/sqrt(pi) */
#define MEAN_DIFFERENCE 1.1283791670955126
#define NOISE_GAIN 0.02

/* Travel that makes a movement out of a mere change of force. */
#define MOVED_M 0.001
/* Shorter ones are no movement at all: a bump. */
#define MOVEMENT_MIN_M 0.02
/* A turn of the direction shorter than this is not shown as one. */
#define TURN_M 0.01

/* Back at rest: little force near the beginning (shares of peak and of the way to the top) ... */
#define UNLOADED_FORCE_SHARE 0.02
#define UNLOADED_TRAVEL_SHARE 0.1
#define UNLOADED_TRAVEL_M 0.02
/* ... or standing still at the beginning, with what drift may have left of force ... */
#define STILL_S 2.0
#define STILL_M 0.002
#define STILL_TRAVEL_M 0.01
#define STILL_FORCE_SHARE 0.15
/* ... or no force anywhere for this long: the string has left the hook. */
#define SLACK_S 3.0

/* Movements much shorter than the longest one stopped short. */
#define SHORT_SHARE 0.75

struct live_settings live_defaults(void)
{
    return (struct live_settings){.travel_min_m = 0.15, .force_min_n = 8.0, .rest_s = 0.5};
}

void live_init(struct live *live, const struct live_settings *settings)
{
    *live = (struct live){.settings = *settings};
}

static double rise_n(const struct live *live)
{
    return fmax(live->settings.force_min_n, NOISE_FACTOR * live->noise_n);
}

static void follow_noise(struct live *live, double force_n)
{
    double deviation_n = fabs(force_n - live->last_force_n) / MEAN_DIFFERENCE;
    live->noise_n += NOISE_GAIN * (deviation_n - live->noise_n);
}

static void start(struct live *live, double time_s, double step_s, double force_n, double travel_m)
{
    if (!live->has_last) {
        live->start_s = time_s;
        live->rest_force_n = force_n;
    } else {
        follow_noise(live, force_n);
    }
    live->rest_force_n += (force_n - live->rest_force_n) * fmin(1, step_s / (START_S / 2));
    live->rest_travel_m = travel_m;
    if (time_s - live->start_s >= START_S)
        live->state = LIVE_REST;
}

static void rest(struct live *live, double step_s, double force_n, double travel_m)
{
    double above_n = force_n - live->rest_force_n;
    double rise = rise_n(live);
    if (above_n > rise && travel_m > live->rest_travel_m + MOVED_M) {
        live->state = LIVE_DRAWING;
        live->peak_n = force_n;
        live->top_m = live->turn_m = live->still_m = travel_m;
        live->unloaded.on = live->still.on = live->slack.on = false;
        return;
    }
    if (above_n < rise / 2)
        live->rest_travel_m = travel_m;
    if (above_n < rise) {
        double constant_s = above_n < -rise ? UNLOADED_S : DRIFT_S;
        live->rest_force_n += above_n * fmin(1, step_s / constant_s);
        follow_noise(live, force_n);
    }
}

/* Keeps the direction that is shown, and the top. */
static void turn(struct live *live, double force_n, double travel_m)
{
    live->peak_n = fmax(live->peak_n, force_n);
    if (live->state == LIVE_DRAWING && travel_m < live->turn_m - TURN_M) {
        live->state = LIVE_LET_DOWN;
        live->turn_m = travel_m;
    } else if (live->state == LIVE_LET_DOWN && travel_m > live->turn_m + TURN_M) {
        live->state = LIVE_DRAWING;
        live->turn_m = travel_m;
    }
    live->turn_m =
        live->state == LIVE_DRAWING ? fmax(live->turn_m, travel_m) : fmin(live->turn_m, travel_m);
    live->top_m = fmax(live->top_m, travel_m);
}

static void end_movement(struct live *live, double force_n, double travel_m, bool returned)
{
    double top_m = live->top_m - live->rest_travel_m;
    if (top_m >= MOVEMENT_MIN_M)
        live->n_movements++;
    if (returned && top_m >= live->settings.travel_min_m && live->n_tops < LIVE_TOPS_MAX)
        live->tops_m[live->n_tops++] = top_m;
    live->state = LIVE_REST;
    live->rest_force_n = force_n;
    live->rest_travel_m = travel_m;
}

/* Since when `holds` holds without a break, in seconds. */
static double lasts_s(struct spell *spell, bool holds, double time_s)
{
    if (holds && !spell->on)
        spell->since_s = time_s;
    spell->on = holds;
    return holds ? time_s - spell->since_s : 0;
}

static void move(struct live *live, double time_s, double force_n, double travel_m)
{
    turn(live, force_n, travel_m);
    double above_n = force_n - live->rest_force_n;
    double peak_n = live->peak_n - live->rest_force_n;
    double beyond_m = travel_m - live->rest_travel_m;
    double top_m = live->top_m - live->rest_travel_m;
    double rise = rise_n(live);
    bool unloaded = above_n < fmax(rise, UNLOADED_FORCE_SHARE * peak_n) &&
                    beyond_m < fmax(UNLOADED_TRAVEL_M, UNLOADED_TRAVEL_SHARE * top_m);
    if (fabs(travel_m - live->still_m) > STILL_M) {
        live->still_m = travel_m;
        live->still.on = false;
    }
    bool still = beyond_m < STILL_TRAVEL_M && above_n < STILL_FORCE_SHARE * peak_n;
    bool returned = lasts_s(&live->unloaded, unloaded, time_s) >= live->settings.rest_s;
    returned |= lasts_s(&live->still, still, time_s) >= STILL_S;
    bool slack = lasts_s(&live->slack, above_n < rise, time_s) >= SLACK_S;
    if (returned || slack)
        end_movement(live, force_n, travel_m, returned);
}

static double middle(double a, double b, double c)
{
    return fmax(fmin(a, b), fmin(fmax(a, b), c));
}

/* The middle of this reading and the two before it, so that one that stands out has no effect. */
static struct live_point without_spike(struct live *live, struct live_point now)
{
    struct live_point point = now;
    const struct live_point *before = live->before;
    if (live->n_before == 2)
        point = (struct live_point){middle(now.force_n, before[0].force_n, before[1].force_n),
                                    middle(now.travel_m, before[0].travel_m, before[1].travel_m)};
    live->n_before = live->n_before < 2 ? live->n_before + 1 : 2;
    live->before[1] = live->before[0];
    live->before[0] = now;
    return point;
}

void live_reading(struct live *live, double time_s, double force_n, double travel_m)
{
    struct live_point point = without_spike(live, (struct live_point){force_n, travel_m});
    force_n = point.force_n;
    travel_m = point.travel_m;
    double step_s = live->has_last ? fmax(0, time_s - live->last_s) : 0;
    switch (live->state) {
    case LIVE_START:
        start(live, time_s, step_s, force_n, travel_m);
        break;
    case LIVE_REST:
        rest(live, step_s, force_n, travel_m);
        break;
    case LIVE_DRAWING:
    case LIVE_LET_DOWN:
        move(live, time_s, force_n, travel_m);
        break;
    }
    live->has_last = true;
    live->last_s = time_s;
    live->last_force_n = force_n;
}

size_t live_n_pulls(const struct live *live)
{
    double longest_m = 0;
    for (size_t i = 0; i < live->n_tops; i++)
        longest_m = fmax(longest_m, live->tops_m[i]);
    size_t n = 0;
    for (size_t i = 0; i < live->n_tops; i++)
        n += live->tops_m[i] >= SHORT_SHARE * longest_m;
    return n;
}

bool live_moving(const struct live *live)
{
    return live->state == LIVE_DRAWING || live->state == LIVE_LET_DOWN;
}

const char *live_state_text(enum live_state state)
{
    switch (state) {
    case LIVE_START:
        return "waiting";
    case LIVE_REST:
        return "at rest";
    case LIVE_DRAWING:
        return "drawing";
    case LIVE_LET_DOWN:
        return "letting down";
    }
    return "";
}
