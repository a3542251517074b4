/*
 * measure_options: the options that decide about figures, the same in every verb that measures.
 */
#ifndef PULLCURVE_VERBS_MEASURE_OPTIONS_H
#define PULLCURVE_VERBS_MEASURE_OPTIONS_H

#include "base/status.h"
#include "curve/measure.h"
#include "show/shown.h"
#include "verbs/options.h"

/* The rows that a verb puts into its table of options to use measure_options_read. */
#define MEASURE_OPTIONS                                                                           \
    {"full-draw", "RULE|LENGTH",                                                                  \
     "where full draw is: valley, wall, largest, or a draw length on the ATA axis such as 29 or " \
     "73.7cm (default: the valley, else the largest)"},                                           \
        {"valley-band", "FORCE",                                                                  \
         "the valley is as wide as force is within this of holding (2 lbf)"},                     \
        {"as-is", NULL, "do not smooth: take the readings as they are"},                          \
        {"lag", "find|off",                                                                       \
         "look for a lag of the force behind the travel, and correct one that is clearly there "  \
         "(default find; needs times)"},                                                          \
    {                                                                                             \
        "units", "trade|si", "lbf, in, ft.lbf, or N, m, J (default trade)"                        \
    }

/* measure_defaults() changed as the options say, and the units to show. Errors: STATUS_USAGE. */
enum status measure_options_read(const struct options *options, struct measure_settings *settings,
                                 enum unit_system *units, struct err *err);

#endif
