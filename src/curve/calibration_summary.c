#include "curve/calibration_summary.h"

#include "base/mem.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double same_load = 0.005; /* of the range */
static const double e74_factor = 2.4, e74_class_a = 400.0, e74_class_aa = 2000.0;
enum { E74_READINGS_MIN = 30, E74_RUNS_MIN = 3 };

static const struct criterion_info infos[CRITERION_COUNT] = {
#define CRITERION_ROW(id, name, label, l00, l05, l1, l2) [id] = {name, label, {l00, l05, l1, l2}},
    CRITERION_LIST(CRITERION_ROW)
#undef CRITERION_ROW
};

const struct criterion_info *criterion_info(enum criterion criterion)
{
    assert(criterion < CRITERION_COUNT);
    return &infos[criterion];
}

const char *load_class_name(enum load_class load_class)
{
    static const char *const names[] = {"00", "0.5", "1", "2", "none"};
    return names[load_class];
}

/* A point as the summary looks at it. */
struct view {
    double reference_si;
    double error_si;   /* curve less reference */
    double reduced_si; /* the same less that of the pass's first zero reading */
    double u_reference_si;
    int run;
    bool decreasing;
    bool zero; /* no load */
};

/* --- zero readings and passes --------------------------------------------------------------- */

/* Goes through one run in its order, reduces by each pass's zero, and returns the largest change of
 * zero over a pass. */
static struct criterion_value reduce_run(struct view *views, size_t n, int run, double largest_si)
{
    struct criterion_value zero_return = {0};
    bool has_zero = false, loaded = false;
    double zero_si = 0.0;
    for (size_t i = 0; i < n; i++) {
        struct view *view = &views[i];
        if (view->run != run)
            continue;
        if (view->zero) {
            if (has_zero && loaded) {
                double pct = 100.0 * (view->error_si - zero_si) / largest_si;
                if (!zero_return.present || fabs(pct) > fabs(zero_return.pct))
                    zero_return = (struct criterion_value){true, pct};
            }
            zero_si = view->error_si;
            has_zero = true;
            loaded = false;
        } else {
            loaded = true;
        }
        view->reduced_si = view->error_si - zero_si;
    }
    return zero_return;
}

static bool first_of_run(const struct view *views, size_t i)
{
    for (size_t j = 0; j < i; j++)
        if (views[j].run == views[i].run)
            return false;
    return true;
}

static void larger(struct criterion_value *worst, struct criterion_value value)
{
    if (value.present && (!worst->present || fabs(value.pct) > fabs(worst->pct)))
        *worst = value;
}

static void reduce(struct calibration_summary *summary, struct view *views, size_t n,
                   double largest_si)
{
    for (size_t i = 0; i < n; i++) {
        if (!first_of_run(views, i))
            continue;
        summary->n_runs++;
        larger(&summary->zero, reduce_run(views, n, views[i].run, largest_si));
    }
}

/* --- one load ------------------------------------------------------------------------------- */

/* Largest less smallest, and mean, of the readings of one run in one direction at a load. */
struct spread {
    size_t n;
    double low, high, sum;
};

static void spread_add(struct spread *spread, double value)
{
    spread->low = spread->n == 0 ? value : fmin(spread->low, value);
    spread->high = spread->n == 0 ? value : fmax(spread->high, value);
    spread->sum += value;
    spread->n++;
}

static struct spread spread_of(const struct view *views, size_t n, int run, bool decreasing)
{
    struct spread spread = {0};
    for (size_t i = 0; i < n; i++)
        if (views[i].run == run && views[i].decreasing == decreasing)
            spread_add(&spread, views[i].reduced_si);
    return spread;
}

/* views[0..n) are the readings at one load. */
static void judge_load(struct calibration_load *load, const struct view *views, size_t n)
{
    struct spread errors = {0}, repeats = {0}, runs = {0}, reversals = {0};
    double reference_si = 0.0, u_si = 0.0;
    for (size_t i = 0; i < n; i++) {
        reference_si += views[i].reference_si / (double)n;
        u_si = fmax(u_si, views[i].u_reference_si);
        spread_add(&errors, views[i].error_si);
        if (views[i].decreasing)
            load->n_decreasing++;
        else
            load->n_increasing++;
        if (!first_of_run(views, i))
            continue;
        struct spread up = spread_of(views, n, views[i].run, false);
        struct spread down = spread_of(views, n, views[i].run, true);
        if (up.n > 1)
            spread_add(&repeats, up.high - up.low);
        if (down.n > 1)
            spread_add(&repeats, down.high - down.low);
        if (up.n > 0)
            spread_add(&runs, up.sum / (double)up.n);
        if (up.n > 0 && down.n > 0)
            spread_add(&reversals, fabs(down.sum / (double)down.n - up.sum / (double)up.n));
    }
    double per_load = 100.0 / fabs(reference_si);
    struct criterion_value *value = load->value;
    load->reference_si = reference_si;
    load->mean_error_si = errors.sum / (double)n;
    value[CRITERION_INTERPOLATION] = (struct criterion_value){true, load->mean_error_si * per_load};
    if (repeats.n > 0)
        value[CRITERION_REPEATABILITY] = (struct criterion_value){true, repeats.high * per_load};
    if (runs.n > 1)
        value[CRITERION_REPRODUCIBILITY] =
            (struct criterion_value){true, (runs.high - runs.low) * per_load};
    if (reversals.n > 0)
        value[CRITERION_REVERSIBILITY] =
            (struct criterion_value){true, reversals.sum / (double)reversals.n * per_load};
    if (u_si > 0.0)
        value[CRITERION_REFERENCE] = (struct criterion_value){true, 2.0 * u_si * per_load};
}

/* --- classes -------------------------------------------------------------------------------- */

static bool within(struct criterion_value value, enum criterion criterion, int load_class)
{
    return !value.present || fabs(value.pct) <= infos[criterion].limit_pct[load_class];
}

static enum load_class class_of(const struct calibration_summary *summary,
                                const struct calibration_load *load)
{
    for (int c = 0; c < LOAD_CLASS_COUNT; c++) {
        bool good =
            within(summary->zero, CRITERION_ZERO, c) && within(summary->creep, CRITERION_CREEP, c);
        for (int k = 0; k < CRITERION_COUNT; k++)
            good = good && within(load->value[k], (enum criterion)k, c);
        if (good)
            return (enum load_class)c;
    }
    return LOAD_CLASS_NONE;
}

static void classify(struct calibration_summary *summary)
{
    struct criterion_value *worst = summary->worst;
    for (size_t i = 0; i < summary->n_loads; i++)
        for (int k = 0; k < CRITERION_COUNT; k++)
            larger(&worst[k], summary->loads[i].value[k]);
    worst[CRITERION_ZERO] = summary->zero;
    worst[CRITERION_CREEP] = summary->creep;
    summary->classified =
        summary->n_loads > 0 && summary->zero.present &&
        (worst[CRITERION_REPEATABILITY].present || worst[CRITERION_REPRODUCIBILITY].present);
    for (size_t i = 0; i < summary->n_loads; i++)
        summary->loads[i].load_class =
            summary->classified ? class_of(summary, &summary->loads[i]) : LOAD_CLASS_NONE;
    for (int c = 0; c < LOAD_CLASS_COUNT; c++)
        for (size_t i = summary->n_loads; i-- > 0;) {
            if ((int)summary->loads[i].load_class > c)
                break;
            summary->class_range[c] = (struct class_range){true, summary->loads[i].reference_si};
        }
}

/* --- the whole ------------------------------------------------------------------------------ */

static int by_load(const void *left, const void *right)
{
    double a = fabs(((const struct view *)left)->reference_si);
    double b = fabs(((const struct view *)right)->reference_si);
    return (a > b) - (a < b);
}

/* Sorts the views by load and judges each group of the same load. */
static void judge_loads(struct calibration_summary *summary, struct view *views, size_t n,
                        double apart_si)
{
    qsort(views, n, sizeof *views, by_load);
    summary->loads = mem_calloc(n, sizeof *summary->loads);
    size_t first = 0;
    while (first < n && views[first].zero)
        first++;
    while (first < n) {
        size_t end = first + 1;
        while (end < n && fabs(views[end].reference_si - views[first].reference_si) < apart_si)
            end++;
        judge_load(&summary->loads[summary->n_loads++], views + first, end - first);
        first = end;
    }
}

void calibration_summarise(const struct calibration *calibration,
                           const struct calibration_point *points, size_t n,
                           const struct calibration_creep *creep,
                           struct calibration_summary *summary)
{
    assert(n > 0);
    *summary = (struct calibration_summary){0};
    double largest_si = fmax(fabs(calibration->value_low_si), fabs(calibration->value_high_si));
    double apart_si = same_load * (calibration->value_high_si - calibration->value_low_si);
    struct view *views = mem_calloc(n, sizeof *views);
    for (size_t i = 0; i < n; i++)
        views[i] = (struct view){
            .reference_si = points[i].reference_si,
            .error_si = calibration_value(calibration, points[i].count) - points[i].reference_si,
            .u_reference_si = points[i].u_reference_si,
            .run = points[i].run,
            .decreasing = points[i].decreasing,
            .zero = fabs(points[i].reference_si) < apart_si,
        };
    reduce(summary, views, n, largest_si);
    judge_loads(summary, views, n, apart_si);
    free(views);
    if (creep != NULL && creep->given)
        summary->creep =
            (struct criterion_value){true, 100.0 *
                                               (calibration_value(calibration, creep->count_300_s) -
                                                calibration_value(calibration, creep->count_30_s)) /
                                               largest_si};
    classify(summary);
    summary->has_e74 = calibration->quantity == QUANTITY_FORCE && calibration->dof > 0;
    if (!summary->has_e74)
        return;
    double llf_si = e74_factor * calibration->residual_sd_si;
    summary->e74 = (struct calibration_e74){
        .llf_si = llf_si,
        .class_a_from_si = e74_class_a * llf_si,
        .class_aa_from_si = e74_class_aa * llf_si,
        .enough = n >= E74_READINGS_MIN && summary->n_runs >= E74_RUNS_MIN,
    };
}

void calibration_summary_clear(struct calibration_summary *summary)
{
    free(summary->loads);
    *summary = (struct calibration_summary){0};
}

void calibration_set_directions(struct calibration_point *points, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        points[i].decreasing = false;
        for (size_t j = i; j-- > 0;) {
            if (points[j].run != points[i].run)
                continue;
            double step_si = points[i].reference_si - points[j].reference_si;
            points[i].decreasing = step_si < 0.0 || (!(step_si > 0.0) && points[j].decreasing);
            break;
        }
    }
}
