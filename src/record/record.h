/*
 * record: the shop's record, one SQLite file.
 *
 * Keeps bows, calibrations and captures (raw readings as the bench gave them, committed while the
 * bow is being drawn). Nothing is overwritten: what changes is added with its date. Every entry has
 * a globally unique key (a random UUID), so records of several benches can be joined.
 * Schema: docs/record.md. WAL with synchronous=FULL: what append has committed survives a kill and
 * a power cut. Not for: what the readings mean (curve), how they are shown (show).
 */
#ifndef PULLCURVE_RECORD_RECORD_H
#define PULLCURVE_RECORD_RECORD_H

#include "base/calibration_point.h"
#include "base/reading.h"
#include "base/status.h"
#include "base/units.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct record; /* an open record */

enum record_mode {
    RECORD_READ,   /* must exist; nothing is written */
    RECORD_WRITE,  /* must exist */
    RECORD_CREATE, /* made where it does not exist */
};

enum { RECORD_KEY_MAX = 37, RECORD_TIME_MAX = 32 };

/* Opens. Errors: STATUS_NO_INPUT (not there), STATUS_BAD_INPUT (not a record, damaged, made by a
 * newer version), STATUS_CANT_WRITE (locked by another program, read-only, disk full). */
enum status record_open(struct record **record, const char *path, enum record_mode mode,
                        struct err *err);

/* Closes; NULL is allowed. */
void record_close(struct record *record);

/* --- calibrations ------------------------------------------------------------------------- */

struct record_calibration {
    char key[RECORD_KEY_MAX];
    char made_at[RECORD_TIME_MAX]; /* ISO 8601, UTC, e.g. 2026-11-25T09:20:05Z */
    char *bench;                   /* name of the bench it belongs to */
    enum quantity quantity;        /* QUANTITY_FORCE or QUANTITY_LENGTH */
    size_t n_terms;                /* of the fit: 2 line, 3 quadratic */
    char *note;
    struct calibration_point *points;
    size_t n_points;
};

/* Stores it; fills key and made_at where they are empty. */
enum status record_calibration_add(struct record *record, struct record_calibration *calibration,
                                   struct err *err);

/* The newest one of a bench and quantity. STATUS_NOT_CALIBRATED where there is none; the message
 * says how to make one. Caller ends it with record_calibration_clear. */
enum status record_calibration_newest(struct record *record, const char *bench,
                                      enum quantity quantity,
                                      struct record_calibration *calibration, struct err *err);

/* The one with this key. */
enum status record_calibration_get(struct record *record, const char *key,
                                   struct record_calibration *calibration, struct err *err);

void record_calibration_clear(struct record_calibration *calibration);

/* --- bows --------------------------------------------------------------------------------- */

/* What the shop knows of a bow. Numbers that are not known are NAN (this is the one place where
 * they are; has_ flags would double the struct). */
struct record_bow {
    char key[RECORD_KEY_MAX];
    char made_at[RECORD_TIME_MAX];
    char *name;  /* how the shop calls it, unique among bows that are in use */
    char *owner; /* may be "" */
    char *kind;  /* "compound", "recurve", "longbow", "other" */
    char *serial;
    char *note;
    double brace_height_m;                        /* maker's, from the pivot point */
    double peak_low_n, peak_high_n;               /* maker's range of peak draw force */
    double draw_length_low_m, draw_length_high_m; /* maker's, on the ATA axis */
    double let_off_low_pct, let_off_high_pct;
    double axle_to_axle_m;
    double rated_speed_m_s;
};

/* A bow with nothing known: texts NULL, numbers NAN. */
struct record_bow record_bow_blank(void);

/* Adds a bow, or a newer statement about the bow with the same name (the older one is kept). */
enum status record_bow_add(struct record *record, struct record_bow *bow, struct err *err);

/* Finds the bow by key, by a unique beginning of the key, or by name (exact first, then a unique
 * part of the name, whatever its case). STATUS_NO_INPUT where none or several fit (they are
 * listed). Caller ends it with record_bow_clear. */
enum status record_bow_find(struct record *record, const char *text, struct record_bow *bow,
                            struct err *err);

/* All bows in use whose name, owner or serial holds `part` ("" for all), by name. Caller frees each
 * with record_bow_clear and the array with free(). */
enum status record_bow_list(struct record *record, const char *part, struct record_bow **bows,
                            size_t *n, struct err *err);

void record_bow_clear(struct record_bow *bow);

/* --- captures ----------------------------------------------------------------------------- */

enum capture_state {
    CAPTURE_OPEN,       /* being captured, or ended without goodbye (kill, power cut) */
    CAPTURE_COMPLETE,   /* ended as asked */
    CAPTURE_INCOMPLETE, /* ended by a fault or an interruption; all readings up to there kept */
};

/* What the bench counted while capturing. */
struct capture_counts {
    int64_t n_readings;
    int64_t n_malformed;    /* lines that could not be read */
    int64_t n_bad_checksum; /* lines whose checksum differed */
    int64_t n_lost;         /* lines missing by their sequence numbers */
    int64_t n_out_of_order; /* lines whose number or time went back */
    int64_t n_saturated;
};

struct record_capture {
    char key[RECORD_KEY_MAX];
    char started_at[RECORD_TIME_MAX];
    char ended_at[RECORD_TIME_MAX]; /* "" while open */
    int64_t number;                 /* 1, 2, 3 ... in this record, for people */
    char bow_key[RECORD_KEY_MAX];   /* "" where none was named */
    char *bow_name;                 /* "" where none */
    char *bench;
    char *note;
    char *program; /* name and version that captured */
    char force_calibration_key[RECORD_KEY_MAX];
    char travel_calibration_key[RECORD_KEY_MAX];
    bool has_brace; /* the brace height entered at the bench is the datum */
    double brace_m;
    enum capture_state state;
    struct capture_counts counts;
};

/* Begins a capture: fills key, number, started_at, state and commits. The strings of *capture are
 * borrowed for the call. From here on record_capture_append keeps readings. */
enum status record_capture_begin(struct record *record, struct record_capture *capture,
                                 struct err *err);

/* Appends readings in one transaction, on disk when it returns. On STATUS_CANT_WRITE nothing of
 * this call is kept and the same call may be tried again. n > 0. */
enum status record_capture_append(struct record *record, const char *capture_key,
                                  const struct raw_reading *readings, size_t n, struct err *err);

/* Ends it with this state and these counts. */
enum status record_capture_end(struct record *record, const char *capture_key,
                               enum capture_state state, const struct capture_counts *counts,
                               struct err *err);

/* Finds a capture by number ("12"), key or unique beginning of a key (at least 4 characters), or
 * "last". STATUS_NO_INPUT where there is none. Caller ends it with record_capture_clear. */
enum status record_capture_find(struct record *record, const char *text,
                                struct record_capture *capture, struct err *err);

/* Captures, newest first, of the bow with this key ("" for all), at most `most`. */
enum status record_capture_list(struct record *record, const char *bow_key, size_t most,
                                struct record_capture **captures, size_t *n, struct err *err);

/* All readings of a capture in the order they were appended. *readings is allocated (free()). A
 * chunk whose check fails is an error STATUS_BAD_INPUT that says which and how many are good. */
enum status record_capture_readings(struct record *record, const char *capture_key,
                                    struct raw_reading **readings, size_t *n, struct err *err);

void record_capture_clear(struct record_capture *capture);

#endif
