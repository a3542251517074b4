/*
 * truth: outside truth against what the program computes: case, source, expected, got, difference.
 *
 * Prints the rows of the table in docs/validation.md (`make coverage-study` writes it). The tests
 * hold each of these; here they are shown with the digits.
 */
#include "base/units.h"
#include "bench/simbow.h"
#include "curve/calibration.h"
#include "curve/calibration_summary.h"
#include "curve/conformity.h"
#include "curve/gravity.h"
#include "curve/interval.h"
#include "curve/launch.h"
#include "curve/measure.h"
#include "study/study.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { TRIALS = 1000000 };

static void row(const char *what, const char *source, double expected, double got)
{
    printf("| %s | %s | %.15g | %.15g | %.2g |\n", what, source, expected, got, got - expected);
}

static void must(enum status status, const struct err *err)
{
    if (status == STATUS_OK)
        return;
    fprintf(stderr, "truth: %s\n", err->text);
    exit(70);
}

static struct measurement measure(const double *draw_m, const double *force_n, size_t n,
                                  enum full_draw_rule rule)
{
    struct readings readings = {.n = n, .draw_m = draw_m, .force_n = force_n};
    struct measure_settings settings = measure_defaults();
    struct measurement m;
    struct err err;
    settings.full_draw = rule;
    must(measure_run(&readings, &settings, &m, &err), &err);
    return m;
}

static double value(const struct measurement *m, enum figure_id id)
{
    return m->figures.f[id].value_si;
}

static void published_table(void)
{
    static const char source[] = "compound table, Vincent B. 2016 (after Mullaney 1975)";
    static const double force_n[] = {2, 81, 157, 204, 216, 218, 216, 198, 148, 60};
    double draw_m[10];
    for (int i = 0; i < 10; i++)
        draw_m[i] = 0.18 + 0.06 * i;
    struct measurement m = measure(draw_m, force_n, 10, FULL_DRAW_AUTO);
    row("C1 stored energy, J", source, 88.14, value(&m, FIGURE_STORED_ENERGY));
    row("C2 peak, N", source, 218, value(&m, FIGURE_PEAK_FORCE));
    row("C2 holding, N", source, 60, value(&m, FIGURE_HOLDING_FORCE));
    row("C2 let-off, %", "same, derived", 100.0 * 158.0 / 218.0, value(&m, FIGURE_LET_OFF));
    row("C3 fullness, %", "same, derived", 74.873, 100.0 * value(&m, FIGURE_FULLNESS));
    measurement_clear(&m);
    double mass_kg = unit_to_si(UNIT_GR, 354.0), speed_m_s = unit_to_si(UNIT_FT_PER_S, 269.0);
    row("C4 arrow energy, J", "same, unrounded", 77.104,
        launch_kinetic_energy_j(mass_kg, speed_m_s));
    row("C4 efficiency, %", source, 87.6, launch_efficiency_pct(88.0, 0.02294, 82.0));
    row("C4 virtual mass, gr", source, 49.94,
        unit_from_si(UNIT_GR, launch_virtual_mass_kg(88.0, 0.02294, 82.0)));
    static const double exact_ft_s[] = {270.35, 254.89, 241.81, 230.56, 220.74, 212.08};
    for (int i = 0; i < 6; i++) {
        char what[64];
        (void)snprintf(what, sizeof what, "C5 speed of %d gr, ft/s", 350 + 50 * i);
        row(what, "same, exact units", exact_ft_s[i],
            unit_from_si(UNIT_FT_PER_S,
                         launch_speed_m_s(88.0, unit_to_si(UNIT_GR, 350.0 + 50.0 * i),
                                          unit_to_si(UNIT_GR, 50.0))));
    }
}

static void closed_forms(void)
{
    static double draw_m[3001], force_n[3001];
    for (int i = 0; i <= 3000; i++) {
        draw_m[i] = 0.75 * i / 3000.0;
        force_n[i] = 800.0 * draw_m[i] * (0.75 - draw_m[i]) / (0.75 * 0.75);
    }
    struct measurement m = measure(draw_m, force_n, 3001, FULL_DRAW_LARGEST);
    row("C9 parabola, J", "Young & Freedman 6.84", 100.0, value(&m, FIGURE_STORED_ENERGY));
    row("C9 parabola, peak, N", "Young & Freedman 6.84", 200.0, value(&m, FIGURE_PEAK_FORCE));
    measurement_clear(&m);
    for (int i = 0; i <= 400; i++) {
        draw_m[i] = i / 1000.0;
        force_n[i] = 575.0 * draw_m[i];
    }
    m = measure(draw_m, force_n, 401, FULL_DRAW_AUTO);
    row("C10 linear bow, J", "Serway & Jewett 7.16", 46.0, value(&m, FIGURE_STORED_ENERGY));
    measurement_clear(&m);
}

static struct calibration fit(const double *x, const double *y, size_t n, size_t terms)
{
    struct calibration_point points[64];
    struct calibration calibration;
    struct err err;
    for (size_t i = 0; i < n; i++)
        points[i] = (struct calibration_point){.count = x[i], .reference_si = y[i], .run = 1};
    must(calibration_fit(points, n, QUANTITY_FORCE, terms, &calibration, &err), &err);
    return calibration;
}

static void nist_and_gum_lines(void)
{
    static const double norris_x[] = {0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                                      777.0, 558.2, 0.4,   0.6,   775.5, 666.9, 338.0, 447.5, 11.6,
                                      556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1,
                                      887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
    static const double norris_y[] = {0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                                      778.9, 559.2, 0.3,   0.1,   778.1, 668.8, 339.3, 448.9, 10.8,
                                      557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3,
                                      888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};
    struct calibration line = fit(norris_x, norris_y, 36, 2);
    struct calibration_polynomial p = calibration_about(&line, 0.0);
    row("C6 Norris B0", "NIST StRD, certified", -0.262323073774029, p.coefficient[0]);
    row("C6 Norris B1", "NIST StRD, certified", 1.00211681802045, p.coefficient[1]);
    row("C6 Norris residual sd", "NIST StRD, certified", 0.884796396144373, line.residual_sd_si);
    static const double t[] = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                               24.513, 25.002, 25.503, 26.010, 26.511};
    static const double b[] = {-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                               -0.156, -0.157, -0.159, -0.161, -0.160};
    struct calibration gum = fit(t, b, 11, 2);
    p = calibration_about(&gum, 20.0);
    row("C8 intercept, degC", "JCGM 100 H.3", -0.1712, p.coefficient[0]);
    row("C8 slope", "JCGM 100 H.3", 0.00218, p.coefficient[1]);
    row("C8 u(intercept), degC", "JCGM 100 H.3", 0.0029, sqrt(p.covariance[0][0]));
    row("C8 u(slope)", "JCGM 100 H.3", 0.00067, sqrt(p.covariance[1][1]));
    row("C8 r", "JCGM 100 H.3", -0.930,
        p.covariance[0][1] / sqrt(p.covariance[0][0] * p.covariance[1][1]));
    row("C8 b(30 degC)", "JCGM 100 H.3", -0.1494, calibration_value(&gum, 30.0));
    row("C8 u(b(30 degC))", "JCGM 100 H.3", 0.0041, calibration_u(&gum, 30.0));
}

static void nist_load_cell(void)
{
    static const double y[] = {
        .11019,  .21956,  .32949,  .43899,  .54803,  .65694,  .76562,  .87487,  .98292,  1.09146,
        1.20001, 1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844,
        .11052,  .22018,  .32939,  .43886,  .54798,  .65739,  .76596,  .87474,  .98300,  1.09150,
        1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829};
    double x[40];
    for (int i = 0; i < 40; i++)
        x[i] = 150000.0 * (i % 20 + 1);
    struct calibration cell = fit(x, y, 40, 3);
    struct calibration_polynomial p = calibration_about(&cell, 0.0);
    row("C7 Pontius B0", "NIST StRD, certified", 0.673565789473684E-03, p.coefficient[0]);
    row("C7 Pontius B1", "NIST StRD, certified", 0.732059160401003E-06, p.coefficient[1]);
    row("C7 Pontius B2", "NIST StRD, certified", -0.316081871345029E-14, p.coefficient[2]);
    row("C7 Pontius residual sd", "NIST StRD, certified", 0.205177424076185E-03,
        cell.residual_sd_si);
    struct calibration_inverse inverse;
    struct err err;
    must(calibration_invert(&cell, 1.239722, 0.95, &inverse, &err), &err);
    row("Pontius load at 1.239722", "NIST e-Handbook 4.6.1, memory", 1705106, inverse.count);
    row("  lower 95 % limit", "NIST e-Handbook 4.6.1, memory", 1704513, inverse.low);
    row("  upper 95 % limit", "NIST e-Handbook 4.6.1, memory", 1705698, inverse.high);
}

static double rectangular(gsl_rng *rng, double low, double high)
{
    return low + (high - low) * gsl_rng_uniform(rng);
}

/* One trial of the three sums of JCGM 101 9.2 and of its mass calibration, 9.3. */
static double trial(gsl_rng *rng, int which)
{
    double half = sqrt(3.0), sum = 0.0;
    if (which == 3) {
        double reference_mg = 100000.0 + gsl_ran_gaussian_ziggurat(rng, 0.050);
        double delta_mg = 1.234 + gsl_ran_gaussian_ziggurat(rng, 0.020);
        double air = rectangular(rng, 1.10, 1.30), weight = rectangular(rng, 7000.0, 9000.0);
        double of_reference = rectangular(rng, 7950.0, 8050.0);
        return (reference_mg + delta_mg) *
                   (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / of_reference)) -
               100000.0;
    }
    for (int i = 0; i < 4; i++) {
        double sd = which == 2 && i == 3 ? 10.0 : 1.0;
        sum += which == 0 ? gsl_ran_gaussian_ziggurat(rng, 1.0)
                          : rectangular(rng, -half * sd, half * sd);
    }
    return sum;
}

static void jcgm_101(void)
{
    static const struct {
        const char *what;
        double u, high;
    } sums[] = {{"C12 sum of four normal", 2.0, 3.92},
                {"C12 sum of four rectangular", 2.0, 3.88},
                {"C12 one of them ten times wider", 10.1, 17.0}};
    double *sample = calloc(TRIALS, sizeof *sample);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    struct interval interval;
    struct err err;
    char what[80];
    for (int which = 0; which < 4; which++) {
        for (int i = 0; i < TRIALS; i++)
            sample[i] = trial(rng, which);
        struct interval_sample summary = interval_sample_summary(sample, TRIALS);
        interval_sort(sample, TRIALS);
        if (which == 3) {
            must(interval_shortest(sample, TRIALS, 0.95, &interval, &err), &err);
            row("C12 mass, mg", "JCGM 101 9.3, memory", 1.2340, summary.mean);
            row("C12 mass, u, mg", "JCGM 101 9.3, memory", 0.0754, summary.sd);
            row("C12 mass, shortest interval, low", "JCGM 101 9.3, memory", 1.0834, interval.low);
            row("C12 mass, shortest interval, high", "JCGM 101 9.3, memory", 1.3825, interval.high);
            continue;
        }
        must(interval_symmetric(sample, TRIALS, 0.95, &interval, &err), &err);
        (void)snprintf(what, sizeof what, "%s, u", sums[which].what);
        row(what, "JCGM 101 9.2, memory", sums[which].u, summary.sd);
        (void)snprintf(what, sizeof what, "%s, upper limit", sums[which].what);
        row(what, "JCGM 101 9.2, memory", sums[which].high, interval.high);
    }
    gsl_rng_free(rng);
    free(sample);
}

static void jcgm_106(void)
{
    struct tolerance voltage = {.has_high = true, .high = -5.40};
    struct tolerance pressure = {.has_low = true, .low = 490.0};
    struct tolerance oil = {.has_low = true, .has_high = true, .low = 12.5, .high = 16.3};
    struct tolerance peak = {.has_high = true, .high = 60.0};
    struct measured bow = {59.6, 0.3, INFINITY};
    struct conformity_settings settings = conformity_defaults();
    row("C11 breakdown voltage, p", "JCGM 106, memory", 0.92,
        conformity_probability(&voltage, &(struct measured){-5.47, 0.05, INFINITY}));
    row("C11 bursting pressure, p", "JCGM 106, memory", 0.99,
        conformity_probability(&pressure, &(struct measured){509.7, 8.6, INFINITY}));
    row("C11 oil viscosity, p", "JCGM 106, memory", 0.66,
        conformity_probability(&oil, &(struct measured){13.6, 1.8, INFINITY}));
    row("peak limit 60 lbf, 59.6(3), p", "derived, Phi(1.333)", 0.9088,
        conformity_probability(&peak, &bow));
    row("  acceptance limit, lbf", "derived, 60 - 1.6449 x 0.3", 59.507,
        conformity_decide(&peak, &bow, &settings).acceptance.high);
}

static double bow_force(double draw_m, void *bow)
{
    struct simbow_state state;
    struct err err;
    must(simbow_at(bow, draw_m, 1.0, &state, &err), &err);
    return state.force_n;
}

/* Work of a frictionless draw by Simpson's rule in pieces, against the energy that the model's
 * limbs and stops hold. */
static void conservation(const char *root)
{
    static const char *const names[] = {"hunting_compound", "target_compound", "round_wheel",
                                        "recurve"};
    enum { STEPS = 20000 };
    for (int k = 0; k < 4; k++) {
        char path[512], what[80];
        struct simbow_settings settings = simbow_nominal();
        struct simbow *bow;
        struct simbow_state end;
        struct err err;
        settings.friction_scale = 0.0;
        (void)snprintf(path, sizeof path, "%s/fixtures/bows/%s.ini", root, names[k]);
        must(simbow_open(&bow, path, &settings, &err), &err);
        double brace_m = simbow_brace_m(bow), work_j = 0.0;
        double end_m = simbow_has_stops(bow) ? simbow_stop_top_m(bow) : simbow_stated_draw_m(bow);
        double h = (end_m - brace_m) / STEPS;
        for (int i = 0; i < STEPS; i += 2)
            work_j +=
                h / 3.0 *
                (bow_force(brace_m + i * h, bow) + 4.0 * bow_force(brace_m + (i + 1) * h, bow) +
                 bow_force(fmin(brace_m + (i + 2) * h, end_m), bow));
        must(simbow_at(bow, end_m, 1.0, &end, &err), &err);
        (void)snprintf(what, sizeof what, "%s: energy held = work done, J", names[k]);
        row(what, "conservation of energy", end.energy_j, work_j);
        simbow_close(bow);
    }
}

int main(int argc, char **argv)
{
    gsl_set_error_handler_off();
    published_table();
    closed_forms();
    nist_and_gum_lines();
    nist_load_cell();
    jcgm_101();
    jcgm_106();
    row("C13 lbf, N", "exact definitions", 4.4482216152605, unit_to_si(UNIT_LBF, 1.0));
    row("C13 ft.lbf, J", "exact definitions", 1.3558179483314004, unit_to_si(UNIT_FT_LBF, 1.0));
    row("C13 grain, mg", "exact definitions", 64.79891, unit_to_si(UNIT_GR, 1.0) * 1e6);
    row("t(0.975, 37)", "handbook of NIST, derived", 2.026192,
        interval_coverage_factor(0.95, 37.0));
    row("gravity at the equator, m/s2", "WGS 84, memory", 9.7803253359, gravity_normal(0.0, 0.0));
    row("gravity at 45 deg, m/s2", "WGS 84, memory", 9.80620, gravity_normal(45.0, 0.0));
    conservation(argc > 1 ? argv[1] : ".");
    return 0;
}
