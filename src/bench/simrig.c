#include "bench/simrig.h"
#include "base/mem.h"
#include "bench/simtruth.h"

#include <math.h>
#include <stdlib.h>

struct simrig {
    const struct simbow *bow; /* NULL: a constant load */
    struct simhand *hand;
    double draw_m, force_n; /* the constant load */
    double drift_n;
    double last_m, direction; /* friction's, at last_m */
};

enum status simrig_open(struct simrig **out, const struct simbow *bow,
                        const struct simhand_settings *hand, double press_n, double drift_n,
                        struct err *err)
{
    *out = NULL;
    struct simtruth truth;
    enum status status = simtruth_find(bow, press_n, &truth, err);
    if (status != STATUS_OK)
        return status;
    struct simrig *rig = mem_calloc(1, sizeof *rig);
    rig->bow = bow;
    rig->drift_n = drift_n;
    status = simhand_open(&rig->hand, hand, simbow_brace_m(bow),
                          truth.value_si[SIMTRUTH_LARGEST_DRAW], err);
    if (status != STATUS_OK) {
        simrig_close(rig);
        return status;
    }
    simrig_restart(rig);
    *out = rig;
    return STATUS_OK;
}

void simrig_open_constant(struct simrig **rig, double draw_m, double force_n)
{
    *rig = mem_calloc(1, sizeof **rig);
    (*rig)->draw_m = draw_m;
    (*rig)->force_n = force_n;
}

void simrig_close(struct simrig *rig)
{
    if (rig == NULL)
        return;
    simhand_close(rig->hand);
    free(rig);
}

double simrig_duration_s(const struct simrig *rig)
{
    return rig->hand != NULL ? simhand_duration_s(rig->hand) : 0.0;
}

/* At brace there is no force whatever friction's direction; a bow that was just drawn and let down
 * would stand at -1, the first pull of a bow finds what the truth assumes. */
void simrig_restart(struct simrig *rig)
{
    rig->direction = 1.0;
    rig->last_m = rig->bow != NULL ? simbow_brace_m(rig->bow) : rig->draw_m;
}

enum status simrig_at(struct simrig *rig, double time_s, double *draw_m, double *force_n,
                      struct err *err)
{
    if (rig->bow == NULL) {
        *draw_m = rig->draw_m;
        *force_n = rig->force_n;
        return STATUS_OK;
    }
    double at_m = simhand_at_m(rig->hand, time_s);
    double share = fmin(fmax(time_s / simhand_duration_s(rig->hand), 0.0), 1.0);
    struct simbow_state state;
    rig->direction = simbow_friction(rig->bow, rig->direction, at_m - rig->last_m);
    rig->last_m = at_m;
    enum status status = simbow_at(rig->bow, at_m, rig->direction, &state, err);
    if (status != STATUS_OK)
        return status;
    *draw_m = at_m;
    *force_n = state.force_n + rig->drift_n * share;
    return STATUS_OK;
}
