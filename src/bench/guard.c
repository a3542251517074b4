#include "bench/guard.h"

#include <math.h>

/* An alarm ends when the value is back below this share of its limit. */
#define CLEAR_SHARE 0.98

void guard_init(struct guard *guard, const struct guard_limits *limits)
{
    *guard = (struct guard){.limits = *limits};
}

/* Holds the alarm where the value says so; returns it where it is raised by this value. */
static unsigned judge(struct guard *guard, enum guard_alarm alarm, double value, double limit)
{
    bool was = (guard->active & alarm) != 0;
    bool is = value > (was ? CLEAR_SHARE * limit : limit);
    if (is == was)
        return 0;
    guard->active ^= alarm;
    if (!is)
        return 0;
    guard->n_raised++;
    return alarm;
}

static unsigned judge_speed(struct guard *guard, double time_s, double draw_m)
{
    double elapsed_s = time_s - guard->mark_s;
    bool usable = guard->has_mark && elapsed_s >= 0;
    if (usable && elapsed_s < GUARD_SPEED_WINDOW_S)
        return 0;
    unsigned raised = 0;
    if (usable) {
        guard->speed_m_s = fabs(draw_m - guard->mark_m) / elapsed_s;
        raised = judge(guard, GUARD_SPEED, guard->speed_m_s, guard->limits.speed_m_s);
    }
    guard->has_mark = true;
    guard->mark_s = time_s;
    guard->mark_m = draw_m;
    return raised;
}

unsigned guard_reading(struct guard *guard, double time_s, double force_n, double draw_m,
                       bool saturated)
{
    guard->active &= ~(unsigned)GUARD_SILENCE;
    unsigned raised = judge(guard, GUARD_FORCE, force_n, guard->limits.force_n);
    raised |= judge(guard, GUARD_TRAVEL, draw_m, guard->limits.draw_m);
    raised |= judge_speed(guard, time_s, draw_m);
    raised |= judge(guard, GUARD_BLIND, saturated ? 1.0 : 0.0, 0.5);
    return raised;
}

unsigned guard_quiet(struct guard *guard, double quiet_s)
{
    return judge(guard, GUARD_SILENCE, quiet_s, guard->limits.silence_s);
}

const char *guard_text(enum guard_alarm alarm)
{
    switch (alarm) {
    case GUARD_FORCE:
        return "FORCE is over its limit";
    case GUARD_TRAVEL:
        return "DRAW POSITION is over its limit";
    case GUARD_SPEED:
        return "the draw moves FASTER than its limit";
    case GUARD_SILENCE:
        return "NO READINGS from the bench";
    case GUARD_BLIND:
        return "a converter is SATURATED: the true force or travel is not seen";
    }
    return "";
}
