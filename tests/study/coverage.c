/*
 * coverage: how often the 95 % intervals hold the truth, with bias and spread, for one bow.
 *
 *     coverage BOW.ini [CAPTURES [TRIALS [SEED]]]
 *
 * Prints rows of a Markdown table. A figure is reported honestly where it misses 93-97 %.
 */
#include "study/study.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

struct tally {
    int n, held, below, above;
    double sum, squares, sum_u;
};

static void count(const struct study *study, const struct measurement *m, struct tally *tally)
{
    for (int id = 0; id < FIGURE_COUNT; id++) {
        const struct figure *f = &m->figures.f[id];
        double truth;
        if (!f->present || !f->has_u || !study_truth(study, (enum figure_id)id, &truth))
            continue;
        struct tally *t = &tally[id];
        double miss = f->value_si - truth;
        t->n++;
        t->sum += miss;
        t->squares += miss * miss;
        t->sum_u += f->u_si;
        t->below += truth < f->low_si;
        t->above += truth > f->high_si;
        t->held += truth >= f->low_si && truth <= f->high_si;
    }
}

static void print_row(const struct study *study, const char *bow, enum figure_id id,
                      const struct tally *t)
{
    const struct figure_info *info = figure_info(id);
    double truth, to_trade = unit_from_si(info->trade_unit, 1.0);
    if (!study_truth(study, id, &truth))
        return;
    if (t->n == 0) {
        printf("| %s | %s | %.4f %s | 0 | - | - | - | - | |\n", bow, info->name, truth * to_trade,
               unit_name(info->trade_unit));
        return;
    }
    double bias = t->sum / t->n, sd = sqrt(fmax(t->squares / t->n - bias * bias, 0.0));
    double held = 100.0 * t->held / t->n;
    printf("| %s | %s | %.4f %s | %d | %+.5f | %.5f | %.5f | %.1f | %s |\n", bow, info->name,
           truth * to_trade, unit_name(info->trade_unit), t->n, bias * to_trade, sd * to_trade,
           t->sum_u / t->n * to_trade, held, held < 93.0 || held > 97.0 ? "misses" : "");
}

int main(int argc, char **argv)
{
    if (argc < 2) {
        fprintf(stderr, "usage: coverage BOW.ini [CAPTURES [TRIALS [SEED]]]\n");
        return 64;
    }
    int captures = argc > 2 ? atoi(argv[2]) : 2000;
    struct simbow_settings settings = simbow_nominal();
    unsigned long seed = argc > 4 ? strtoul(argv[4], NULL, 10) : 1;
    struct study study = study_open(argv[1], &settings, seed);
    if (argc > 3)
        study.trials = strtoul(argv[3], NULL, 10);
    struct tally tally[FIGURE_COUNT] = {{0}};
    for (int i = 0; i < captures; i++) {
        struct measurement m = study_capture(&study);
        count(&study, &m, tally);
        measurement_clear(&m);
    }
    for (int id = 0; id < FIGURE_COUNT; id++)
        print_row(&study, simbow_name(study.bow), (enum figure_id)id, &tally[id]);
    study_close(&study);
    return 0;
}
