#include "bench/simroot.h"

#include <math.h>

/* A Newton step this small leaves an error of about its square: the last digits are reached. */
static const double last_step = 1e-11;

bool simroot_find(simroot_function *function, void *context, bool rising, double low, double high,
                  double guess, double *root)
{
    bool low_seen = false, high_seen = false;
    double at = guess > low && guess < high ? guess : (low + high) / 2.0;
    for (int i = 0; i < 200; i++) {
        double slope = 0.0, value = function(at, &slope, context);
        if (!isfinite(value) || !isfinite(slope))
            return false;
        bool above = (value > 0.0) == rising;
        if (above) {
            high = at;
            high_seen = true;
        } else {
            low = at;
            low_seen = true;
        }
        double step = fabs(slope) > 0.0 ? -value / slope : HUGE_VAL;
        if (fabs(step) <= last_step) {
            *root = at + step;
            return true;
        }
        at += step;
        if (!(at > low && at < high))
            at = (low + high) / 2.0;
        if (high - low <= last_step) {
            if (low_seen && high_seen)
                *root = at;
            return low_seen && high_seen;
        }
    }
    return false;
}
