#include "curve/simpull.h"
#include "check.h"
#include "run.h"

#include <math.h>

enum { REST = 60 };

struct simbow *simpull_bow(const char *name, double stop_bottom_rad)
{
    struct buf path = {0};
    buf_printf(&path, "%s/fixtures/bows/%s.ini", source_root(), name);
    struct simbow_settings settings = simbow_nominal();
    settings.stop_bottom_rad = stop_bottom_rad;
    struct simbow *bow;
    struct err err;
    check_ok(simbow_open(&bow, path.text, &settings, &err));
    buf_clear(&path);
    return bow;
}

static void step_to(struct simpull *c, const struct simbow *bow, double draw_m)
{
    struct simbow_state state;
    struct err err;
    double from_m = c->n > 0 ? c->draw_m[c->n - 1] : draw_m;
    c->direction = c->n > 0 ? simbow_friction(bow, c->direction, draw_m - from_m) : 1.0;
    check_ok(simbow_at(bow, draw_m, c->direction, &state, &err));
    assert_true(c->n < SIMPULL_MAX);
    c->draw_m[c->n] = draw_m;
    c->force_n[c->n++] = draw_m <= simbow_brace_m(bow) ? 0.0 : state.force_n;
}

void simpull_make(struct simpull *c, const struct simbow *bow, double top_m)
{
    double brace_m = simbow_brace_m(bow), pace_m = (top_m - brace_m) / 480.0;
    *c = (struct simpull){.n = 0};
    for (int i = 0; i < REST; i++)
        step_to(c, bow, brace_m);
    for (double x = brace_m; x < top_m;) {
        x = fmin(x + pace_m * fmin(1.0, fmax(0.05, (top_m - x) / 0.02)) + 1e-6, top_m);
        step_to(c, bow, x);
    }
    for (int i = 0; i < 20; i++)
        step_to(c, bow, top_m);
    for (double x = top_m; x > brace_m;) {
        x = fmax(x - pace_m * fmin(1.0, fmax(0.05, (top_m - x) / 0.02)) - 1e-6, brace_m);
        step_to(c, bow, x);
    }
    for (int i = 0; i < REST; i++)
        step_to(c, bow, brace_m);
}

struct readings simpull_readings(const struct simpull *pull)
{
    return (struct readings){.n = pull->n, .draw_m = pull->draw_m, .force_n = pull->force_n};
}
