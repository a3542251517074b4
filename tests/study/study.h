/*
 * study: simulated captures with known truth, one after the other, for the studies.
 *
 * Each capture has its own hand, noise, calibrations (from known loads and lengths with noise) and
 * error of the brace height that was entered.
 */
#ifndef PULLCURVE_TESTS_STUDY_H
#define PULLCURVE_TESTS_STUDY_H

#include "bench/simbench.h"
#include "bench/simbow.h"
#include "bench/simhand.h"
#include "bench/simtruth.h"
#include "curve/measure.h"

#include <gsl/gsl_rng.h>
#include <stdbool.h>

struct study {
    struct simbow *bow;
    struct simtruth truth;
    struct simhand_settings hand;
    struct simbench_settings bench;
    double u_brace_m; /* of the brace height as entered */
    double press_n;   /* into the wall */
    size_t trials;
    gsl_rng *rng;
};

/* Opens a bow file with its settings and prepares default hand and bench. Ends the program with a
 * message where that fails. */
struct study study_open(const char *bow_path, const struct simbow_settings *settings,
                        unsigned long seed);
void study_close(struct study *study);

/* Simulates one capture and measures it. Caller ends it with measurement_clear. */
struct measurement study_capture(struct study *study);

/* The truth that belongs to a figure; false where the model has none. */
bool study_truth(const struct study *study, enum figure_id id, double *value_si);

#endif
