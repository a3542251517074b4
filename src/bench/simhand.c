#include "bench/simhand.h"
#include "base/mem.h"
#include "base/number.h"

#include <assert.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

enum { PAUSES_MAX = 50, PULLS_MAX = 1000 };

struct simhand {
    struct simhand_settings settings;
    double brace_m, top_m;
    double *draw_m; /* every step_s */
    size_t n, capacity;
    gsl_rng *rng;
};

static const double step_s = 0.001;

/* A draw or let-down begins softly within start_s, and goes slowly where the wall is near. */
static const double start_s = 0.3;
static const double careful_m = 0.008;
static const double careful_share = 0.08;

/* How the hand's strength wanders: a process of Ornstein and Uhlenbeck. */
static const double wander_s = 1.5;
static const double wander_share = 0.25;

static const double slip_s = 0.15;
static const double bounce_period_s = 0.12, bounce_decay_s = 0.15, bounce_s = 0.8;
static const double tremor_m = 1e-5;

struct simhand_settings simhand_defaults(void)
{
    return (struct simhand_settings){.seed = 1,
                                     .n_pulls = 1,
                                     .rest_s = 1.0,
                                     .draw_s = 8.0,
                                     .hold_s = 1.5,
                                     .let_down_s = 7.0,
                                     .unevenness = 0.5,
                                     .strokes_per_s = 1.4,
                                     .pause_s = 0.5};
}

static void add(struct simhand *hand, double draw_m)
{
    if (hand->n == hand->capacity) {
        hand->capacity = mem_grown(hand->capacity, hand->n + 1);
        hand->draw_m = mem_realloc(hand->draw_m, hand->capacity, sizeof *hand->draw_m);
    }
    hand->draw_m[hand->n++] = draw_m;
}

static void stay(struct simhand *hand, double draw_m, double time_s)
{
    for (double t = 0.0; t < time_s; t += step_s)
        add(hand, draw_m);
}

/* Holds against the wall: the hand trembles, away from the wall. */
static void hold(struct simhand *hand, double top_m, double time_s)
{
    double tremble = 0.0, keep = exp(-step_s / 0.1);
    for (double t = 0.0; t < time_s; t += step_s) {
        tremble =
            keep * tremble + sqrt(1.0 - keep * keep) * gsl_ran_gaussian_ziggurat(hand->rng, 1.0);
        add(hand, top_m - tremor_m * fabs(tremble));
    }
}

static void swing_back(struct simhand *hand, double top_m)
{
    double swing_m = hand->settings.bounce_m;
    for (double t = 0.0; swing_m > 0.0 && t < bounce_s; t += step_s) {
        double wave = (1.0 - cos(2.0 * M_PI * t / bounce_period_s)) / 2.0;
        add(hand, fmax(hand->brace_m, top_m - swing_m * wave * exp(-t / bounce_decay_s)));
    }
}

static double slip_back(struct simhand *hand, double from_m)
{
    double to_m = fmax(hand->brace_m, from_m - hand->settings.slip_m);
    for (double t = 0.0; t < slip_s; t += step_s)
        add(hand, from_m + (to_m - from_m) * (1.0 - cos(M_PI * t / slip_s)) / 2.0);
    return to_m;
}

/* Where the pauses of a draw and its slip come; behind the top: never. */
struct incidents {
    double pause_m[PAUSES_MAX];
    int n_pauses;
    double slip_m;
};

static struct incidents plan_incidents(struct simhand *hand, double top_m)
{
    double stroke_m = top_m - hand->brace_m;
    struct incidents plan = {.n_pauses = hand->settings.n_pauses, .slip_m = HUGE_VAL};
    for (int i = 0; i < plan.n_pauses; i++)
        plan.pause_m[i] = hand->brace_m + stroke_m * gsl_ran_flat(hand->rng, 0.05, 0.95);
    if (hand->settings.slip_m > 0.0)
        plan.slip_m = hand->brace_m + stroke_m * gsl_ran_flat(hand->rng, 0.2, 0.8);
    return plan;
}

/* What comes up when the string passes from one position to the next; returns where it then is. */
static double meet_incidents(struct simhand *hand, struct incidents *plan, double at_m)
{
    for (int i = 0; i < plan->n_pauses; i++) {
        if (plan->pause_m[i] > at_m)
            continue;
        stay(hand, at_m, hand->settings.pause_s * gsl_ran_flat(hand->rng, 0.5, 1.5));
        plan->pause_m[i] = HUGE_VAL;
    }
    if (at_m >= plan->slip_m) {
        plan->slip_m = HUGE_VAL;
        at_m = slip_back(hand, at_m);
    }
    return at_m;
}

/* The crank's speed as a share of the even speed: strokes and the hand's wandering strength. */
struct crank {
    double phase_rad, wander;
};

static double crank_share(struct simhand *hand, struct crank *crank)
{
    double keep = exp(-step_s / wander_s);
    crank->wander =
        keep * crank->wander + sqrt(1.0 - keep * keep) * gsl_ran_gaussian_ziggurat(hand->rng, 1.0);
    crank->phase_rad += 2.0 * M_PI * hand->settings.strokes_per_s * step_s;
    return (1.0 - hand->settings.unevenness * cos(crank->phase_rad)) *
           exp(wander_share * hand->settings.unevenness * crank->wander);
}

/* Cranks from from_m to to_m; the wall, where it goes slowly, is at top_m. */
static void crank(struct simhand *hand, double from_m, double to_m, double time_s,
                  struct incidents *plan)
{
    double top_m = fmax(from_m, to_m), sense = to_m > from_m ? 1.0 : -1.0;
    double even_m_per_s = fabs(to_m - from_m) / time_s;
    struct crank state = {0};
    double at_m = from_m;
    for (double t = 0.0; sense * (to_m - at_m) > 0.0; t += step_s) {
        double share = crank_share(hand, &state) * fmin(1.0, (t + step_s) / start_s);
        double near_wall = fmin(fmax((top_m - at_m) / careful_m, careful_share), 1.0);
        at_m += sense * even_m_per_s * share * near_wall * step_s;
        at_m = fmin(fmax(at_m, hand->brace_m), top_m);
        add(hand, at_m);
        if (plan != NULL)
            at_m = meet_incidents(hand, plan, at_m);
    }
}

static void pull(struct simhand *hand)
{
    const struct simhand_settings *set = &hand->settings;
    double top_m = hand->top_m - set->short_of_m;
    struct incidents plan = plan_incidents(hand, top_m);
    crank(hand, hand->brace_m, top_m, set->draw_s, &plan);
    swing_back(hand, top_m);
    hold(hand, top_m, set->hold_s);
    crank(hand, top_m, hand->brace_m, set->let_down_s, NULL);
    stay(hand, hand->brace_m, set->rest_s);
}

static enum status check_settings(const struct simhand_settings *set, double stroke_m,
                                  struct err *err)
{
    const struct {
        const char *what, *unit;
        double value, low, high;
    } ranges[] = {
        {"the number of pulls", "", set->n_pulls, 0, PULLS_MAX},
        {"the rest", " s", set->rest_s, 0, 3600},
        {"the time of the draw", " s", set->draw_s, 0.1, 3600},
        {"the hold", " s", set->hold_s, 0, 3600},
        {"the time of the let-down", " s", set->let_down_s, 0.1, 3600},
        {"the unevenness", "", set->unevenness, 0, 1.5},
        {"the number of strokes", " a second", set->strokes_per_s, 0.05, 20},
        {"the number of pauses", "", set->n_pauses, 0, PAUSES_MAX},
        {"the time of a pause", " s", set->pause_s, 0, 600},
        {"the slip", " m", set->slip_m, 0, 0.2},
        {"the bounce", " m", set->bounce_m, 0, 0.05},
        {"what the pull stops short by", " m", set->short_of_m, 0, stroke_m - 0.01},
    };
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
        if (ranges[i].value >= ranges[i].low && ranges[i].value <= ranges[i].high)
            continue;
        char low[NUMBER_TEXT_MAX], high[NUMBER_TEXT_MAX];
        return err_set(err, STATUS_USAGE, "%s is outside of %s to %s%s", ranges[i].what,
                       number_fixed(low, ranges[i].low, 2), number_fixed(high, ranges[i].high, 2),
                       ranges[i].unit);
    }
    return STATUS_OK;
}

enum status simhand_open(struct simhand **out, const struct simhand_settings *settings,
                         double brace_m, double top_m, struct err *err)
{
    assert(top_m > brace_m);
    *out = NULL;
    enum status status = check_settings(settings, top_m - brace_m, err);
    if (status != STATUS_OK)
        return status;
    struct simhand *hand = mem_calloc(1, sizeof *hand);
    hand->settings = *settings;
    hand->brace_m = brace_m;
    hand->top_m = top_m;
    hand->rng = gsl_rng_alloc(gsl_rng_mt19937);
    if (hand->rng == NULL)
        mem_exhausted();
    gsl_rng_set(hand->rng, (unsigned long)settings->seed);
    stay(hand, brace_m, settings->rest_s);
    for (int i = 0; i < settings->n_pulls; i++)
        pull(hand);
    add(hand, brace_m);
    *out = hand;
    return STATUS_OK;
}

void simhand_close(struct simhand *hand)
{
    if (hand == NULL)
        return;
    if (hand->rng != NULL)
        gsl_rng_free(hand->rng);
    free(hand->draw_m);
    free(hand);
}

double simhand_duration_s(const struct simhand *hand)
{
    return (double)(hand->n - 1) * step_s;
}

double simhand_at_m(const struct simhand *hand, double time_s)
{
    double steps = time_s / step_s;
    if (!(steps > 0.0) || steps >= (double)(hand->n - 1))
        return hand->brace_m;
    size_t i = (size_t)steps;
    double share = steps - (double)i;
    return hand->draw_m[i] + share * (hand->draw_m[i + 1] - hand->draw_m[i]);
}
