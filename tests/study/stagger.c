/*
 * stagger: how often a stop stagger is found, and how often one is claimed that is not there.
 *
 *     stagger BOW.ini [CAPTURES [SEED]]
 *
 * Prints rows of a Markdown table: staggers 0 to 0.15 in, position noise 0.001, 0.002, 0.004 in.
 */
#include "study/study.h"

#include "base/units.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const double STAGGERS_IN[] = {0.0, 0.02, 0.04, 0.06, 0.08, 0.10, 0.12, 0.15};
static const double NOISES_IN[] = {0.001, 0.002, 0.004};
enum { BISECTIONS = 40 };
static const double STOP_MOST_RAD = 0.5;

/* The bottom stop's setting that makes the landings lie this far apart. */
static double stop_for(const char *path, double stagger_m)
{
    double low = 0.0, high = STOP_MOST_RAD;
    for (int i = 0; i < BISECTIONS && stagger_m > 0.0; i++) {
        struct simbow_settings settings = simbow_nominal();
        struct simbow *bow;
        settings.stop_bottom_rad = 0.5 * (low + high);
        if (simbow_open(&bow, path, &settings, NULL) != STATUS_OK) {
            high = settings.stop_bottom_rad;
            continue;
        }
        double apart_m = fabs(simbow_stop_bottom_m(bow) - simbow_stop_top_m(bow));
        if (apart_m < stagger_m)
            low = settings.stop_bottom_rad;
        else
            high = settings.stop_bottom_rad;
        simbow_close(bow);
    }
    return stagger_m > 0.0 ? low : 0.0;
}

struct tally {
    int found, told;
    double sum, squares, limits;
};

static void count(const struct measurement *m, struct tally *t)
{
    const struct figure *f = &m->figures.f[FIGURE_STOP_STAGGER];
    if (f->present) {
        t->found++;
        t->sum += f->value_si;
        t->squares += f->value_si * f->value_si;
    }
    for (size_t i = 0; i < m->warnings.n; i++) {
        if (m->warnings.w[i].code == WARNING_NO_STAGGER) {
            t->told++;
            t->limits += m->warnings.w[i].value_si[0];
        }
    }
}

static void study_one(const char *path, double stagger_in, double noise_in, int captures,
                      unsigned long seed)
{
    struct simbow_settings settings = simbow_nominal();
    settings.stop_bottom_rad = stop_for(path, unit_to_si(UNIT_IN, stagger_in));
    struct study study = study_open(path, &settings, seed);
    study.trials = 0;
    study.bench.travel.noise_si = unit_to_si(UNIT_IN, noise_in);
    struct tally t = {0};
    for (int i = 0; i < captures; i++) {
        struct measurement m = study_capture(&study);
        count(&m, &t);
        measurement_clear(&m);
    }
    double in = unit_to_si(UNIT_IN, 1.0), mean = t.found > 0 ? t.sum / t.found : 0.0;
    double sd = t.found > 1 ? sqrt(fmax(t.squares / t.found - mean * mean, 0.0)) : 0.0;
    printf("| %s | %.3f | %.2f | %.1f | ", simbow_name(study.bow), noise_in, stagger_in,
           100.0 * t.found / captures);
    if (t.found > 0)
        printf("%.4f | %.4f | ", mean / in, sd / in);
    else
        printf("- | - | ");
    if (t.told > 0)
        printf("%.1f | %.3f |\n", 100.0 * t.told / captures, t.limits / t.told / in);
    else
        printf("0.0 | - |\n");
    study_close(&study);
}

int main(int argc, char **argv)
{
    if (argc < 2) {
        fprintf(stderr, "usage: stagger BOW.ini [CAPTURES [SEED]]\n");
        return 64;
    }
    int captures = argc > 2 ? atoi(argv[2]) : 200;
    unsigned long seed = argc > 3 ? strtoul(argv[3], NULL, 10) : 1;
    for (size_t n = 0; n < sizeof NOISES_IN / sizeof NOISES_IN[0]; n++)
        for (size_t s = 0; s < sizeof STAGGERS_IN / sizeof STAGGERS_IN[0]; s++)
            study_one(argv[1], STAGGERS_IN[s], NOISES_IN[n], captures, seed);
    return 0;
}
