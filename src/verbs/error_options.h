/*
 * error_options: what the command line says of the fixture and of errors, in place of what is known
 * of the readings; for the verbs that work out figures.
 */
#ifndef PULLCURVE_VERBS_ERROR_OPTIONS_H
#define PULLCURVE_VERBS_ERROR_OPTIONS_H

#include "base/status.h"
#include "curve/measure.h"
#include "verbs/options.h"
#include "verbs/subject.h"

/* The rows that a verb puts into its table of options to use error_options_read. */
#define ERROR_OPTIONS                                                                            \
    {"bench", "FILE",                                                                            \
     "correct for the fixture of this bench file (its section [fixture]), not for the one that " \
     "was kept with the capture; for table files too"},                                          \
        {"u-brace", "LENGTH",                                                                    \
         "standard uncertainty of the brace height (default: the bench's; for a table file 0)"}, \
        {"u-force", "PCT",                                                                       \
         "standard uncertainty of the scale of force, in percent of it; for table files, of "    \
         "which no calibration is known"},                                                       \
        {"u-travel", "PCT", "the same of the travel from brace height"},                         \
        {"trials", "N",                                                                          \
         "trials that uncertainties are worked out from (2000; 0: no uncertainty)"},             \
    {                                                                                            \
        "seed", "N", "where the random numbers of the trials begin (1)"                          \
    }

/* Puts what the options say into settings, after subject_settings has put in what is known of the
 * subject; takes the warning of unknown errors from the subject where they are stated, or no
 * uncertainties are worked out. Errors: STATUS_USAGE, those of benchfile_read. */
enum status error_options_read(const struct options *options, struct subject *subject,
                               struct measure_settings *settings, struct err *err);

#endif
