#include "curve/montecarlo.h"
#include "base/mem.h"
#include "curve/interval.h"

#include <assert.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double COVERAGE = 0.95;

static const struct {
    const char *name, *label;
} source_table[SOURCE_COUNT] = {
#define SOURCE_ROW(id, name, label) {name, label},
    SOURCE_LIST(SOURCE_ROW)
#undef SOURCE_ROW
};

const char *source_name(enum source source)
{
    return source_table[source].name;
}

const char *source_label(enum source source)
{
    return source_table[source].label;
}

struct error_model error_model_of(const struct calibration *calibration, double origin_si)
{
    /* z as a linear function of v = value - origin: z = z0 + z1 v, by the line part at the middle
     * of the range; the curvature of a load cell or encoder is far too small to matter here. */
    double slope = calibration->coefficient[1];
    double z0 = (origin_si - calibration->coefficient[0]) / slope, z1 = 1.0 / slope;
    double map[3][3] = {{1.0, z0, z0 * z0}, {0.0, z1, 2.0 * z0 * z1}, {0.0, 0.0, z1 * z1}};
    struct error_model model = {{{0.0}}};
    size_t n = calibration->n_terms;
    for (size_t i = 0; i < 3; i++)
        for (size_t j = 0; j < 3; j++)
            for (size_t a = 0; a < n; a++)
                for (size_t b = 0; b < n; b++)
                    model.covariance[i][j] += map[i][a] * calibration->covariance[a][b] * map[j][b];
    return model;
}

/* Lower triangular factor of a positive semidefinite 3 x 3 matrix; zero rows stay zero. */
static void factor3(const double c[3][3], double l[3][3])
{
    memset(l, 0, sizeof(double[3][3]));
    for (size_t j = 0; j < 3; j++) {
        double pivot = c[j][j];
        for (size_t k = 0; k < j; k++)
            pivot -= l[j][k] * l[j][k];
        if (!(pivot > 1e-14 * c[j][j]))
            continue;
        l[j][j] = sqrt(pivot);
        for (size_t i = j + 1; i < 3; i++) {
            double sum = c[i][j];
            for (size_t k = 0; k < j; k++)
                sum -= l[i][k] * l[j][k];
            l[i][j] = sum / l[j][j];
        }
    }
}

/* What all trials of a run share. */
struct run {
    const struct pull_features *pulls;
    const struct values *nominal;
    size_t n_pulls;
    const struct uncertainty_inputs *inputs;
    double force_factor[3][3], travel_factor[3][3];
    unsigned sources; /* bit mask of enum source */
    gsl_rng *rng;
};

static bool on(const struct run *run, enum source source)
{
    return (run->sources >> source & 1u) != 0;
}

static double normal(const struct run *run)
{
    return gsl_ran_gaussian_ziggurat(run->rng, 1.0);
}

static void draw_error(const struct run *run, const double factor[3][3], double error[3])
{
    double z[3] = {normal(run), normal(run), normal(run)};
    for (size_t i = 0; i < 3; i++)
        error[i] = factor[i][0] * z[0] + factor[i][1] * z[1] + factor[i][2] * z[2];
}

static struct systematic draw_systematic(const struct run *run)
{
    struct systematic e = {{0.0}, 0.0, {0.0}, 0.0, 0.0};
    if (on(run, SOURCE_FORCE_CALIBRATION))
        draw_error(run, run->force_factor, e.force);
    if (on(run, SOURCE_TRAVEL_CALIBRATION))
        draw_error(run, run->travel_factor, e.travel);
    if (run->inputs->datum_from_brace)
        e.travel[0] = 0.0;
    if (on(run, SOURCE_DATUM))
        e.datum_m = run->inputs->u_datum_m * normal(run);
    if (on(run, SOURCE_DRIFT)) {
        /* A drift even in time moves the draw by a quarter of it and the let-down by three. */
        double drift_n = run->inputs->u_drift_n * normal(run);
        e.force[0] += 0.25 * drift_n;
        e.let_down_n = 0.5 * drift_n;
    }
    if (on(run, SOURCE_COMPLIANCE))
        e.compliance_m_per_n = run->inputs->u_compliance_m_per_n * normal(run);
    return e;
}

/* The scatter about a fit is itself known from dof readings only: Student's t (JCGM 101 6.4.9). */
static double student_factor(const struct run *run, double dof)
{
    return dof > 0.0 ? sqrt(dof / gsl_ran_chisq(run->rng, dof)) : 1.0;
}

static void shake_feature(const struct run *run, const struct poly *poly, double z[POLY_TERMS_MAX])
{
    double factor = student_factor(run, (double)poly->dof);
    for (size_t k = 0; k < poly->terms; k++)
        z[k] = factor * normal(run);
}

static struct shake draw_shake(const struct run *run, const struct side *side)
{
    const struct poly *poly[SHAKE_FEATURES] = {&side->peak.poly, &side->bottom.poly,
                                               &side->rise.poly, &side->drop.poly, &side->end.poly};
    struct shake shake;
    memset(&shake, 0, sizeof shake);
    if (on(run, SOURCE_NOISE)) {
        for (size_t i = 0; i < SHAKE_FEATURES; i++)
            shake_feature(run, poly[i], shake.feature[i]);
        for (size_t i = 0; i < CROSSINGS_MAX; i++)
            shake.crossing[i] =
                normal(run) * student_factor(run, (double)side->crossing[i].poly.dof);
        shake.stagger = normal(run);
        shake.band = normal(run) * student_factor(run, (double)side->band_left.poly.dof);
        double wall_factor = student_factor(run, side->wall.dof);
        shake.wall_middle = wall_factor * normal(run);
        shake.wall_slope = wall_factor * normal(run);
        shake.energy = normal(run);
        shake.rest = normal(run);
    }
    if (on(run, SOURCE_SAMPLING))
        shake.sampling = normal(run);
    return shake;
}

/* One trial: the mean over the pulls of every figure. */
static void trial(const struct run *run, double mean[FIGURE_COUNT])
{
    struct systematic e = draw_systematic(run);
    size_t count[FIGURE_COUNT] = {0};
    memset(mean, 0, FIGURE_COUNT * sizeof *mean);
    for (size_t i = 0; i < run->n_pulls; i++) {
        struct shake draw = draw_shake(run, &run->pulls[i].draw);
        struct shake let_down = draw_shake(run, &run->pulls[i].let_down);
        struct basics basics;
        struct values values;
        evaluate_pull(&run->pulls[i], &draw, &let_down, &e, &basics);
        evaluate_figures(&basics, &values);
        for (int id = 0; id < FIGURE_COUNT; id++) {
            if (values.present[id]) {
                mean[id] += values.si[id];
                count[id]++;
            }
        }
    }
    for (int id = 0; id < FIGURE_COUNT; id++)
        if (count[id] > 0)
            mean[id] /= (double)count[id];
}

/* All trials: sample[id * trials + t]. Caller frees. */
static double *run_trials(struct run *run)
{
    size_t trials = run->inputs->trials;
    double *sample = mem_calloc(trials * FIGURE_COUNT, sizeof *sample);
    run->rng = gsl_rng_alloc(gsl_rng_mt19937);
    assert(run->rng != NULL);
    gsl_rng_set(run->rng, run->inputs->seed);
    for (size_t t = 0; t < trials; t++) {
        double mean[FIGURE_COUNT];
        trial(run, mean);
        for (size_t id = 0; id < FIGURE_COUNT; id++)
            sample[id * trials + t] = mean[id];
    }
    gsl_rng_free(run->rng);
    run->rng = NULL;
    return sample;
}

static struct run make_run(const struct pull_features *pulls, const struct values *nominal,
                           size_t n, const struct uncertainty_inputs *inputs, unsigned sources)
{
    struct run run = {
        .pulls = pulls, .nominal = nominal, .n_pulls = n, .inputs = inputs, .sources = sources};
    factor3(inputs->force.covariance, run.force_factor);
    factor3(inputs->travel.covariance, run.travel_factor);
    return run;
}

struct spread {
    size_t n;
    double variance; /* of single pulls */
};

static struct spread pulls_spread(const struct values *nominal, size_t n, int id)
{
    struct spread spread = {0, 0.0};
    double mean = 0.0, squares = 0.0;
    for (size_t i = 0; i < n; i++) {
        if (!nominal[i].present[id])
            continue;
        double miss = nominal[i].si[id] - mean;
        spread.n++;
        mean += miss / (double)spread.n;
        squares += miss * (nominal[i].si[id] - mean);
    }
    if (spread.n > 1)
        spread.variance = squares / (double)(spread.n - 1);
    return spread;
}

static const unsigned WITHIN_PULL = 1u << SOURCE_NOISE | 1u << SOURCE_SAMPLING;

/* What the pulls differ by beyond their own noise, in the mean: s^2/n less what noise explains. */
static double between_variance(const struct spread *spread, double noise_of_mean)
{
    if (spread->n < 2)
        return 0.0;
    return fmax(spread->variance / (double)spread->n - noise_of_mean * noise_of_mean, 0.0);
}

/* The interval of the trials, widened by Student's t of the pulls where they differ. */
static void set_uncertainty(struct figure *figure, double *sample, size_t trials, double between,
                            size_t n_pulls)
{
    struct interval_sample summary = interval_sample_summary(sample, trials);
    figure->has_u = true;
    figure->u_si = sqrt(summary.sd * summary.sd + between);
    struct interval interval = interval_normal(figure->value_si, summary.sd, COVERAGE);
    interval_sort(sample, trials);
    struct err ignored; /* too few trials for quantiles: the normal interval stands */
    (void)interval_symmetric(sample, trials, COVERAGE, &interval, &ignored);
    double t_part = between > 0.0
                        ? interval_coverage_factor(COVERAGE, (double)n_pulls - 1.0) * sqrt(between)
                        : 0.0;
    figure->low_si = figure->value_si - hypot(figure->value_si - interval.low, t_part);
    figure->high_si = figure->value_si + hypot(interval.high - figure->value_si, t_part);
}

void montecarlo_run(const struct pull_features *pulls, const struct values *nominal, size_t n,
                    const struct uncertainty_inputs *inputs, struct figures *figures)
{
    if (inputs->trials < 2)
        return;
    struct run run = make_run(pulls, nominal, n, inputs, ~0u);
    double *sample = run_trials(&run), *noise = NULL;
    if (n > 1) {
        struct run within = make_run(pulls, nominal, n, inputs, WITHIN_PULL);
        noise = run_trials(&within);
    }
    for (int id = 0; id < FIGURE_COUNT; id++) {
        if (!figures->f[id].present)
            continue;
        double between = 0.0;
        struct spread spread = pulls_spread(nominal, n, id);
        if (noise != NULL) {
            double *of_figure = noise + (size_t)id * inputs->trials;
            between =
                between_variance(&spread, interval_sample_summary(of_figure, inputs->trials).sd);
        }
        set_uncertainty(&figures->f[id], sample + (size_t)id * inputs->trials, inputs->trials,
                        between, spread.n);
    }
    free(sample);
    free(noise);
}

void montecarlo_budget(const struct pull_features *pulls, const struct values *nominal, size_t n,
                       const struct uncertainty_inputs *inputs, struct budget *budget)
{
    memset(budget, 0, sizeof *budget);
    if (inputs->trials < 2)
        return;
    for (int source = 0; source < SOURCE_REPEATABILITY; source++) {
        struct run run = make_run(pulls, nominal, n, inputs, 1u << source);
        double *sample = run_trials(&run);
        for (size_t id = 0; id < FIGURE_COUNT; id++)
            budget->u_si[source][id] =
                interval_sample_summary(sample + id * inputs->trials, inputs->trials).sd;
        free(sample);
    }
    for (int id = 0; id < FIGURE_COUNT; id++) {
        struct spread spread = pulls_spread(nominal, n, id);
        budget->u_si[SOURCE_REPEATABILITY][id] =
            sqrt(between_variance(&spread, budget->u_si[SOURCE_NOISE][id]));
    }
}
