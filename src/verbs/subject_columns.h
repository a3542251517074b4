/*
 * subject_columns: which columns of a table file are draw position, force and time.
 */
#ifndef PULLCURVE_VERBS_SUBJECT_COLUMNS_H
#define PULLCURVE_VERBS_SUBJECT_COLUMNS_H

#include "base/status.h"
#include "base/table.h"
#include "base/units.h"

#include <stdbool.h>
#include <stddef.h>

struct subject_columns {
    size_t draw, force, time;
    enum unit draw_unit, force_unit, time_unit;
    bool has_time;
};

/* Finds them: by the map "draw=NAME[:unit],force=NAME[:unit],time=NAME[:unit]" (NULL for none), the
 * rest by header: draw_in draw_mm draw_cm draw_m, force_lbf force_n force_kgf, time_s. NAME is a
 * header's name or a column's number, in double quotes where it holds a comma. The unit is the
 * stated one, else the one that the header's name ends with ("Draw [mm]", "force_n"), else in, lbf,
 * s. Errors: STATUS_USAGE (the map can't be read), STATUS_BAD_INPUT (no such column, one column
 * twice, two columns that could be meant). */
enum status subject_columns_find(const struct table *table, const char *map,
                                 struct subject_columns *columns, struct err *err);

#endif
