#include "curve/spec.h"

#include "base/mem.h"
#include "curve/interval.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

static const double COVERAGE = 0.95; /* of a figure's interval */

const char *spec_origin_name(enum spec_origin origin)
{
    static const char *const names[] = {
        [SPEC_MAKER] = "maker", [SPEC_STATED] = "stated", [SPEC_RULE] = "rule"};
    return names[origin];
}

static const struct {
    const char *name, *text;
} reason_table[] = {
#define SPEC_REASON_ROW(id, name, text) {name, text},
    SPEC_REASON_LIST(SPEC_REASON_ROW)
#undef SPEC_REASON_ROW
};

const char *spec_reason_name(enum spec_reason reason)
{
    return reason_table[reason].name;
}

const char *spec_reason_text(enum spec_reason reason)
{
    return reason_table[reason].text;
}

void spec_add(struct spec *spec, const struct spec_limit *limit)
{
    const struct tolerance *tolerance = &limit->tolerance;
    assert(tolerance->has_low || tolerance->has_high);
    assert(!tolerance->has_low || !tolerance->has_high || tolerance->low < tolerance->high);
    if (spec->n == spec->capacity) {
        spec->capacity = mem_grown(spec->capacity, spec->n + 1);
        spec->limits = mem_realloc(spec->limits, spec->capacity, sizeof *spec->limits);
    }
    spec->limits[spec->n++] = *limit;
}

void spec_clear(struct spec *spec)
{
    free(spec->limits);
    *spec = (struct spec){0};
}

/* --- what is judged ------------------------------------------------------------------------- */

/* What a pull that ended early says of the bow; figures that are not listed stay as measured. */
struct early_end {
    enum figure_id figure;
    enum spec_basis basis;
};

/* It may have ended anywhere: the force that it met is the least that the peak can be. */
static const struct early_end without_valley[] = {
    {FIGURE_PEAK_FORCE, SPEC_AT_LEAST},   {FIGURE_PEAK_POSITION, SPEC_OPEN},
    {FIGURE_FULL_DRAW, SPEC_AT_LEAST},    {FIGURE_DRAW_LENGTH_ATA, SPEC_AT_LEAST},
    {FIGURE_POWER_STROKE, SPEC_AT_LEAST}, {FIGURE_STORED_ENERGY, SPEC_AT_LEAST},
    {FIGURE_RETURNED_ENERGY, SPEC_OPEN},  {FIGURE_HYSTERESIS, SPEC_OPEN},
    {FIGURE_HYSTERESIS_PCT, SPEC_OPEN},   {FIGURE_STATIC_EFFICIENCY, SPEC_OPEN},
    {FIGURE_ENERGY_PER_PEAK, SPEC_OPEN},  {FIGURE_FULLNESS, SPEC_OPEN},
    {FIGURE_PLATEAU, SPEC_OPEN},          {FIGURE_STEEPEST_RISE, SPEC_AT_LEAST},
    {FIGURE_STEEPEST_DROP, SPEC_AT_MOST},
};

/* It ended on the way down from the peak, maybe in the valley, maybe before. */
static const struct early_end before_valley[] = {
    {FIGURE_HOLDING_FORCE, SPEC_AT_MOST},    {FIGURE_VALLEY_POSITION, SPEC_AT_LEAST},
    {FIGURE_LET_OFF, SPEC_AT_LEAST},         {FIGURE_LET_OFF_LET_DOWN, SPEC_AT_LEAST},
    {FIGURE_FULL_DRAW, SPEC_AT_LEAST},       {FIGURE_DRAW_LENGTH_ATA, SPEC_AT_LEAST},
    {FIGURE_POWER_STROKE, SPEC_AT_LEAST},    {FIGURE_STORED_ENERGY, SPEC_AT_LEAST},
    {FIGURE_RETURNED_ENERGY, SPEC_OPEN},     {FIGURE_HYSTERESIS, SPEC_OPEN},
    {FIGURE_HYSTERESIS_PCT, SPEC_OPEN},      {FIGURE_STATIC_EFFICIENCY, SPEC_OPEN},
    {FIGURE_ENERGY_PER_PEAK, SPEC_AT_LEAST}, {FIGURE_FULLNESS, SPEC_OPEN},
    {FIGURE_STEEPEST_DROP, SPEC_AT_MOST},
};

static void set_early_end(struct spec_subject *subject, const struct early_end *ends, size_t n)
{
    for (size_t i = 0; i < n; i++)
        subject->basis[ends[i].figure] = ends[i].basis;
}

static bool warned(const struct measurement *measurement, enum warning_code code)
{
    for (size_t i = 0; i < measurement->warnings.n; i++)
        if (measurement->warnings.w[i].code == code)
            return true;
    return false;
}

/* Was full draw taken to be where a pull ended, for want of a valley? */
static bool ended_without_valley(const struct measurement *measurement)
{
    for (size_t i = 0; i < measurement->n_pulls; i++)
        if (measurement->pulls[i].full_draw == FULL_DRAW_LARGEST)
            return true;
    return false;
}

struct spec_subject spec_subject_of(const struct measurement *measurement,
                                    const struct measure_settings *settings, bool brace_entered)
{
    struct spec_subject subject = {.figures = measurement->figures};
    if (settings->full_draw == FULL_DRAW_AUTO && ended_without_valley(measurement))
        set_early_end(&subject, without_valley, sizeof without_valley / sizeof without_valley[0]);
    else if (settings->full_draw == FULL_DRAW_AUTO && warned(measurement, WARNING_COARSE) &&
             warned(measurement, WARNING_VALLEY_AT_END))
        set_early_end(&subject, before_valley, sizeof before_valley / sizeof before_valley[0]);
    if (settings->full_draw == FULL_DRAW_STATED)
        subject.basis[FIGURE_FULL_DRAW] = subject.basis[FIGURE_DRAW_LENGTH_ATA] = SPEC_ENTERED;
    if (brace_entered)
        subject.basis[FIGURE_BRACE_HEIGHT] = SPEC_ENTERED;
    else if (warned(measurement, WARNING_BRACE_ASSUMED))
        subject.basis[FIGURE_BRACE_HEIGHT] = SPEC_ASSUMED;
    return subject;
}

void spec_add_u(struct spec_subject *subject, enum figure_id id, double u_si)
{
    assert(u_si > 0.0);
    struct figure *figure = &subject->figures.f[id];
    if (!figure->present)
        return;
    double reach_si = u_si * interval_coverage_factor(COVERAGE, INFINITY);
    double below_si = figure->has_u ? figure->value_si - figure->low_si : 0.0;
    double above_si = figure->has_u ? figure->high_si - figure->value_si : 0.0;
    figure->u_si = figure->has_u ? hypot(figure->u_si, u_si) : u_si;
    figure->low_si = figure->value_si - hypot(below_si, reach_si);
    figure->high_si = figure->value_si + hypot(above_si, reach_si);
    figure->has_u = true;
    if (subject->basis[id] == SPEC_ENTERED)
        subject->basis[id] = SPEC_MEASURED;
}

/* The degrees of freedom whose coverage factor is this one. */
static double dof_of_factor(double factor)
{
    double few = 1.0, many = 1000.0; /* the factor falls between them */
    if (factor >= interval_coverage_factor(COVERAGE, few))
        return few;
    for (int i = 0; i < 60; i++) {
        double middle = sqrt(few * many);
        if (interval_coverage_factor(COVERAGE, middle) > factor)
            few = middle;
        else
            many = middle;
    }
    return many;
}

struct measured spec_measured(const struct figure *figure)
{
    /* The ends of an interval out of some thousand trials scatter by 2 or 3 %. */
    static const double clearly_wider = 1.1;
    assert(figure->present && figure->has_u);
    struct measured measured = {.value = figure->value_si, .u = figure->u_si, .dof = INFINITY};
    if (!(figure->u_si > 0.0))
        return measured;
    double reach_si = fmax(figure->value_si - figure->low_si, figure->high_si - figure->value_si);
    double factor = reach_si / figure->u_si;
    if (factor > clearly_wider * interval_coverage_factor(COVERAGE, INFINITY))
        measured.dof = dof_of_factor(factor);
    return measured;
}

/* --- the verdict ---------------------------------------------------------------------------- */

/* What keeps a figure from being judged by probability. */
static enum spec_reason obstacle(const struct figure *figure, enum spec_basis basis)
{
    if (!figure->present)
        return SPEC_REASON_NO_VALUE;
    if (basis == SPEC_ENTERED)
        return SPEC_REASON_ENTERED;
    if (basis == SPEC_ASSUMED)
        return SPEC_REASON_ASSUMED;
    if (basis != SPEC_MEASURED)
        return SPEC_REASON_PULL_ENDED;
    return figure->has_u ? SPEC_REASON_NONE : SPEC_REASON_NO_U;
}

static bool is_inside(const struct tolerance *tolerance, double value)
{
    return !(tolerance->has_low && value < tolerance->low) &&
           !(tolerance->has_high && value > tolerance->high);
}

/* The verdict where the bow's own figure is the measured one or beyond it: a limit that the
 * measured one has passed for certain is passed; one on the other side alone is kept. */
static enum verdict decide_bound(const struct tolerance *tolerance, const struct measured *measured,
                                 enum spec_basis basis, double needed)
{
    bool up = basis == SPEC_AT_LEAST;
    bool has_ahead = up ? tolerance->has_high : tolerance->has_low;
    struct tolerance side = *tolerance; /* the limit ahead if there is one, else the one behind */
    if (has_ahead && up)
        side.has_low = false;
    else if (has_ahead)
        side.has_high = false;
    double probability = conformity_probability(&side, measured);
    if (has_ahead)
        return probability <= 1.0 - needed ? VERDICT_FAILS : VERDICT_NOT_PROVEN;
    return probability >= needed ? VERDICT_MEETS : VERDICT_NOT_PROVEN;
}

static void decide_simply(struct spec_verdict *verdict)
{
    bool inside = is_inside(&verdict->limit.tolerance, verdict->figure.value_si);
    verdict->verdict = inside ? VERDICT_MEETS : VERDICT_FAILS;
}

static void decide_measured(struct spec_verdict *verdict,
                            const struct conformity_settings *settings)
{
    struct measured measured = spec_measured(&verdict->figure);
    struct conformity conformity =
        conformity_decide(&verdict->limit.tolerance, &measured, settings);
    verdict->verdict = conformity.verdict;
    verdict->has_probability = true;
    verdict->probability = conformity.probability;
    verdict->dof = measured.dof;
    verdict->has_acceptance = true;
    verdict->acceptance = conformity.acceptance;
    if (!conformity.acceptance.possible && conformity.verdict == VERDICT_NOT_PROVEN)
        verdict->reason = SPEC_REASON_TOO_UNCERTAIN;
    else if (conformity.verdict == VERDICT_NOT_PROVEN)
        verdict->reason = SPEC_REASON_UNCERTAINTY;
}

struct spec_verdict spec_decide(const struct spec_limit *limit, const struct spec_subject *subject,
                                const struct conformity_settings *settings)
{
    const struct figure *figure = &subject->figures.f[limit->figure];
    enum spec_basis basis = subject->basis[limit->figure];
    struct spec_verdict verdict = {.limit = *limit,
                                   .figure = *figure,
                                   .verdict = VERDICT_NOT_PROVEN,
                                   .reason = obstacle(figure, basis),
                                   .dof = INFINITY};
    bool is_bound = basis == SPEC_AT_LEAST || basis == SPEC_AT_MOST;
    if (verdict.reason == SPEC_REASON_NONE) {
        decide_measured(&verdict, settings);
    } else if (figure->present && settings->rule == CONFORMITY_SIMPLE) {
        decide_simply(&verdict);
    } else if (figure->present && figure->has_u && is_bound) {
        struct measured measured = spec_measured(figure);
        verdict.verdict = decide_bound(&limit->tolerance, &measured, basis, settings->probability);
        if (verdict.verdict != VERDICT_NOT_PROVEN)
            verdict.reason = SPEC_REASON_NONE;
    }
    return verdict;
}

enum verdict spec_overall(const struct spec_verdict *verdicts, size_t n)
{
    assert(n > 0);
    enum verdict overall = VERDICT_MEETS;
    for (size_t i = 0; i < n; i++) {
        if (verdicts[i].verdict == VERDICT_FAILS)
            return VERDICT_FAILS;
        if (verdicts[i].verdict == VERDICT_NOT_PROVEN)
            overall = VERDICT_NOT_PROVEN;
    }
    return overall;
}
