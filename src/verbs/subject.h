/*
 * subject: what a verb works on, a table file or a capture of the record, as readings.
 *
 * Every verb that takes "FILE or CAPTURE" opens it here, so that files, columns, axes and captures
 * are named and understood in one way. Not for: what the readings mean (curve/measure.h).
 */
#ifndef PULLCURVE_VERBS_SUBJECT_H
#define PULLCURVE_VERBS_SUBJECT_H

#include "base/fixture.h"
#include "base/status.h"
#include "base/table.h"
#include "curve/convert.h"
#include "curve/measure.h"
#include "record/record.h"
#include "verbs/options.h"

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

/* The rows that a verb puts into its table of options to use subject_open. */
#define SUBJECT_OPTIONS                                                                           \
    {"columns", "MAP",                                                                            \
     "which columns of a table file to take, by header or by number: "                            \
     "draw=NAME[:unit],force=NAME[:unit],time=NAME (default: draw_in, force_lbf, time_s and the " \
     "like)"},                                                                                    \
        {"axis", "pivot|ata",                                                                     \
         "where a table file's draw positions count from: the grip pivot point, or 1.75 in "      \
         "before it (default: the file's note 'axis', else pivot)"},                              \
        {"skip-bad-rows", NULL, "count rows of a table file that can't be read, and go on"},      \
        {"record", "FILE", "the shop's record"},                                                  \
    {                                                                                             \
        "brace", "LENGTH",                                                                        \
            "brace height, from the pivot point to the string (default: as captured, or where "   \
            "the force begins)"                                                                   \
    }

enum subject_kind { SUBJECT_TABLE, SUBJECT_CAPTURE };

struct subject {
    enum subject_kind kind;
    char *name;  /* the file's name, or "capture 12" */
    char *title; /* for people: the note title or bow, the capture's bow, else the name */
    struct readings readings; /* points into the arrays below */
    double *draw_m, *force_n, *time_s;
    bool has_brace; /* a brace height that measure_settings should take */
    double brace_m;
    struct error_model force_error, travel_error; /* of the calibrations; zero for a table */
    bool errors_unknown;    /* no calibration is known behind the readings: to be warned of */
    struct fixture fixture; /* as kept with the capture; zero for a table that says nothing of it */
    bool positions_at_brace; /* positions were set so that the rest is at the brace height */
    size_t n_left_out;

    struct table *table; /* of SUBJECT_TABLE: notes and names; no rows */
    bool ata_axis;       /* 1.75 in have been taken off its positions */
    enum unit draw_unit, force_unit;
    size_t n_bad_rows;
    struct err first_bad_row;

    struct record_capture capture; /* of SUBJECT_CAPTURE */
};

/* Opens `operand`: "-" or the name of a file that is there is a table file; else the number, key or
 * "last" of a capture. NULL is "last". Caller ends it with subject_close; on failure *subject is
 * empty. Errors: STATUS_USAGE (an option that is wrong or does not fit), STATUS_NO_INPUT,
 * STATUS_BAD_INPUT, STATUS_NOT_CALIBRATED, STATUS_TOO_FEW. */
enum status subject_open(struct subject *subject, const struct options *options,
                         const char *operand, struct err *err);

void subject_close(struct subject *subject);

/* Puts what the subject knows into settings: brace height, errors of the calibrations and of the
 * brace height, the fixture to correct for. */
void subject_settings(const struct subject *subject, struct measure_settings *settings);

/* Adds warnings about rows and readings that are not in the readings, and about errors that are not
 * in the uncertainties. */
void subject_warnings(const struct subject *subject, struct warnings *warnings);

/* The member "source" of a JSON result; the caller owns it. */
json_t *subject_json(const struct subject *subject);

/* The same from what is open already: from a table that the caller has opened, which the subject
 * takes over (also on failure), and from a record, which stays the caller's. *subject is empty but
 * for has_brace and brace_m; the caller ends it with subject_close, also on failure. */
enum status subject_read_table(struct subject *subject, const struct options *options,
                               struct table *table, struct err *err);
enum status subject_read_capture(struct subject *subject, struct record *record, const char *text,
                                 struct err *err);

/* Reads a table file into an empty subject; for subject_open. */
enum status subject_open_table(struct subject *subject, const struct options *options,
                               const char *path, struct err *err);

/* Reads a capture into an empty subject; for subject_open. */
enum status subject_open_capture(struct subject *subject, const struct options *options,
                                 const char *text, struct err *err);

#endif
