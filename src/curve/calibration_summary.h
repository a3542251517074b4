/*
 * calibration_summary: how good a calibration is, in the manner of ISO 376 and of ASTM E74.
 *
 * Our own summary of the shop's own points, for the shop's own use: it borrows how those documents
 * look at a calibration and certifies nothing. Only an accredited laboratory certifies a force
 * transducer. The limits of the classes and the factors of E74 are from memory.
 *
 * What a reading is off is measured in the quantity itself, e = curve(count) - reference, less the
 * same at the zero reading that began its pass (a pass: from a zero reading up, maybe down again,
 * to the next one). Loads are the same where they differ by less than 0.5 % of the range.
 */
#ifndef PULLCURVE_CURVE_CALIBRATION_SUMMARY_H
#define PULLCURVE_CURVE_CALIBRATION_SUMMARY_H

#include "curve/calibration.h"

#include <stdbool.h>
#include <stddef.h>

/* id, name in JSON, label, limits of the classes 00, 0.5, 1 and 2 in % of the load (zero and creep:
 * of the largest load) */
#define CRITERION_LIST(X)                                                                       \
    X(CRITERION_INTERPOLATION, "interpolation", "Interpolation error", 0.025, 0.05, 0.10, 0.20) \
    X(CRITERION_REPEATABILITY, "repeatability", "Repeatability", 0.025, 0.05, 0.10, 0.20)       \
    X(CRITERION_REPRODUCIBILITY, "reproducibility", "Reproducibility", 0.05, 0.10, 0.20, 0.40)  \
    X(CRITERION_REVERSIBILITY, "reversibility", "Reversibility", 0.07, 0.15, 0.30, 0.50)        \
    X(CRITERION_ZERO, "zero_return", "Zero return", 0.012, 0.025, 0.05, 0.10)                   \
    X(CRITERION_CREEP, "creep", "Creep, 30 s to 300 s", 0.025, 0.05, 0.10, 0.20)                \
    X(CRITERION_REFERENCE, "reference", "Reference, k = 2", 0.01, 0.02, 0.05, 0.10)

enum criterion {
#define CRITERION_ENUM(id, name, label, l00, l05, l1, l2) id,
    CRITERION_LIST(CRITERION_ENUM)
#undef CRITERION_ENUM
        CRITERION_COUNT
};

enum load_class { LOAD_CLASS_00, LOAD_CLASS_05, LOAD_CLASS_1, LOAD_CLASS_2, LOAD_CLASS_NONE };

enum { LOAD_CLASS_COUNT = LOAD_CLASS_NONE };

struct criterion_info {
    const char *name, *label;
    double limit_pct[LOAD_CLASS_COUNT];
};

/* One row of the table above. */
const struct criterion_info *criterion_info(enum criterion criterion);

/* "00", "0.5", "1", "2", "none". */
const char *load_class_name(enum load_class load_class);

/* A figure that may not be known. */
struct criterion_value {
    bool present;
    double pct; /* interpolation, zero return and creep carry their sign; the others are >= 0 */
};

/* Interpolation: mean of what the readings are off, both directions. Repeatability: largest less
 * smallest of readings of one run in one direction. Reproducibility: the same of the runs' means,
 * rising. Reversibility: falling less rising of one run, mean over the runs of its size. Reference:
 * twice its stated standard uncertainty. */
struct calibration_load {
    double reference_si; /* mean */
    size_t n_increasing, n_decreasing;
    double mean_error_si;                          /* curve less reference, as read, mean */
    struct criterion_value value[CRITERION_COUNT]; /* zero and creep are in the summary */
    enum load_class load_class;                    /* with zero and creep of the whole */
};

/* The class that all loads from here up to the largest reach. */
struct class_range {
    bool reached;
    double from_si;
};

/* ASTM E74: s_m is the residual standard deviation about the curve (n - m - 1 degrees of freedom, m
 * its degree), the lower limit factor LLF = 2.4 s_m; class A from 400 LLF, class AA from 2000. */
struct calibration_e74 {
    double llf_si;
    double class_a_from_si, class_aa_from_si;
    bool enough; /* at least 30 readings in 3 runs, as E74 asks (from memory) */
};

struct calibration_summary {
    size_t n_runs;
    size_t n_loads; /* rising; zero is not among them */
    struct calibration_load *loads;
    struct criterion_value zero, creep;
    struct criterion_value worst[CRITERION_COUNT]; /* of all loads: the one largest in size */
    bool classified; /* zero return, and repeatability or reproducibility, are known */
    struct class_range class_range[LOAD_CLASS_COUNT];
    bool has_e74; /* force, and the scatter is known */
    struct calibration_e74 e74;
};

/* Two readings under the same load, 30 s and 300 s after it was put on. */
struct calibration_creep {
    bool given;
    double count_30_s, count_300_s;
};

/* Sums up the points that *calibration was fitted to, in the order they were taken. Caller ends it
 * with calibration_summary_clear. n > 0. */
void calibration_summarise(const struct calibration *calibration,
                           const struct calibration_point *points, size_t n,
                           const struct calibration_creep *creep,
                           struct calibration_summary *summary);

void calibration_summary_clear(struct calibration_summary *summary);

/* Sets `decreasing` of each point by the one before it in its run: smaller references are reached
 * by taking load away. For tables that don't say it. */
void calibration_set_directions(struct calibration_point *points, size_t n);

#endif
