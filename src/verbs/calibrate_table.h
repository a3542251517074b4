/*
 * calibrate_table: calibration points from a CSV file. Part of the verb calibrate.
 *
 *     # note: weights of the shop, set 2          notes; all may be absent
 *     # expanded_uncertainty: 0.01 lbf            of every reference, or "0.05 %"
 *     # k: 2                                      its coverage factor (2)
 *     # creep_count_30s: 8512345                  readings under one load, 30 s and 300 s
 *     # creep_count_300s: 8512361                 after it was put on
 *     load_lbf,count,run,direction,u_load_lbf,u_count
 *     0,8388608,1,up,0,2
 *
 * One column of references: load_n, load_kn, load_lbf, load_kgf, mass_kg, mass_g, mass_lb for
 * force; length_m, length_cm, length_mm, length_in for travel. `count` must be there; `run` (1),
 * direction
 * ("up", "down"; else by the order of the loads), u_... of the reference (standard, in any unit of
 * its kind) and u_count may.
 */
#ifndef PULLCURVE_VERBS_CALIBRATE_TABLE_H
#define PULLCURVE_VERBS_CALIBRATE_TABLE_H

#include "base/buf.h"
#include "base/calibration_point.h"
#include "base/status.h"
#include "curve/calibration_summary.h"
#include "verbs/calibrate_reference.h"

#include <stdbool.h>
#include <stddef.h>

struct calibrate_table {
    struct calibration_point *points;
    size_t n;
    bool masses; /* the references are masses */
    char *note;  /* the file's note, "" where none */
    struct calibration_creep creep;
};

/* Reads it ("-": standard input) for force or travel. Errors: STATUS_NO_INPUT; STATUS_BAD_INPUT
 * with file:line; STATUS_USAGE (--masses with loads in N, --u-reference). Caller ends it with
 * calibrate_table_clear; on failure it is empty. */
enum status calibrate_table_read(struct calibrate_table *points, const char *path,
                                 enum quantity quantity, const struct reference_settings *settings,
                                 struct err *err);

void calibrate_table_clear(struct calibrate_table *points);

/* Adds the points as such a table, in N or m, so that nothing measured is lost. */
void calibrate_table_write(struct buf *out, const struct calibration_point *points, size_t n,
                           enum quantity quantity);

#endif
