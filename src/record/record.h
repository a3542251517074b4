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
#include "base/fixture.h"
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

/* Opens. A record of an earlier version is brought up to this one by the modes that write, in one
 * transaction. Where the place can't be written to, RECORD_READ still works. Writing to a damaged
 * record is refused; RECORD_READ opens it and gives what can be read.
 * Errors: STATUS_NO_INPUT (not there), STATUS_BAD_INPUT (not a record, damaged, made by a newer
 * version), STATUS_CANT_WRITE (locked by another program, read-only, disk full). */
enum status record_open(struct record **record, const char *path, enum record_mode mode,
                        struct err *err);

/* Closes; NULL is allowed. */
void record_close(struct record *record);

/* How long a call waits for a record that another program holds before it gives up with
 * STATUS_CANT_WRITE; two seconds where not set. A capture can't wait: its bench goes on. */
void record_set_patience(struct record *record, int patience_ms);

/* Is it written like a key: 8-4-4-4-12 lower-case hex digits? */
bool record_key_valid(const char *key);

/* Is it a time as the record writes it, 2026-11-25T09:20:05Z, with or without a fraction of a
 * second? */
bool record_time_valid(const char *text);

/* --- calibrations ------------------------------------------------------------------------- */

struct record_calibration {
    char key[RECORD_KEY_MAX];
    char made_at[RECORD_TIME_MAX]; /* ISO 8601, UTC, e.g. 2026-11-25T09:20:05Z */
    char *bench;                   /* name of the bench it belongs to */
    enum quantity quantity;        /* QUANTITY_FORCE or QUANTITY_LENGTH */
    size_t n_terms;                /* of the fit: 2 line, 3 quadratic */
    bool references_independent;   /* each reference was calibrated by itself: weights; false: one
                                      error moves all alike (curve/calibration.h) */
    char *note;
    struct calibration_point *points;
    size_t n_points;
};

/* Stores it; fills key and made_at where they are empty. A date that is filled in is never before
 * that of the newest one of this bench and quantity, so that a clock that was set back can't hide
 * the new one. Errors: STATUS_BAD_INPUT (a number is not finite, no points, no bench name),
 * STATUS_CANT_WRITE. */
enum status record_calibration_add(struct record *record, struct record_calibration *calibration,
                                   struct err *err);

/* The newest one of a bench and quantity. STATUS_NOT_CALIBRATED where there is none; the message
 * says how to make one. Caller ends it with record_calibration_clear. */
enum status record_calibration_newest(struct record *record, const char *bench,
                                      enum quantity quantity,
                                      struct record_calibration *calibration, struct err *err);

/* The newest one of each bench and quantity, by name of the bench, force before travel; of the
 * bench with this name alone where it is not NULL. Keys alone: get each with
 * record_calibration_get. *keys is allocated (free()); *n may be 0. */
enum status record_calibration_in_force(struct record *record, const char *bench,
                                        char (**keys)[RECORD_KEY_MAX], size_t *n, struct err *err);

/* The one of the same bench and quantity that was in force before the one with this key.
 * STATUS_NOT_CALIBRATED where it is the first, or there is none with this key. */
enum status record_calibration_before(struct record *record, const char *key,
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
    char made_at[RECORD_TIME_MAX]; /* date of this statement about the bow */
    char statement_key[RECORD_KEY_MAX];
    int64_t statement; /* 1, 2 ...: its number among those about this bow */
    bool retired;      /* no longer in use: sold, scrapped */
    char *name;        /* how the shop calls it, unique among bows in use */
    char *owner;       /* may be "" */
    char *kind;        /* "compound", "recurve", "longbow", "other" */
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

/* Adds a bow, or a newer statement about one that is there (the older one is kept): about the bow
 * with bow->key where that is not empty (its name may be a new one), else about the bow in use with
 * the same name. Fills key, made_at, statement_key and statement. An unknown kind (NULL or "") is
 * "compound". Errors: STATUS_USAGE (no name, no such kind, a name that another bow in use has, a
 * number out of order or infinite), STATUS_NO_INPUT (no bow with this key), STATUS_CANT_WRITE. */
enum status record_bow_add(struct record *record, struct record_bow *bow, struct err *err);

/* Finds the bow by key, by a unique beginning of the key (4 characters or more), or by name (exact
 * first, then a unique part of the name, whatever its case). A retired bow is found by its key or
 * its exact name. STATUS_NO_INPUT where none or several fit (they are listed). Caller ends it with
 * record_bow_clear. */
enum status record_bow_find(struct record *record, const char *text, struct record_bow *bow,
                            struct err *err);

/* All bows in use whose name, owner or serial holds `part` ("" for all), by name. Caller frees each
 * with record_bow_clear and the array with free(). */
enum status record_bow_list(struct record *record, const char *part, struct record_bow **bows,
                            size_t *n, struct err *err);

/* The same of bows that are retired. */
enum status record_bow_list_retired(struct record *record, const char *part,
                                    struct record_bow **bows, size_t *n, struct err *err);

/* All statements about the bow with this key, newest first; freed like record_bow_list's. */
enum status record_bow_statements(struct record *record, const char *bow_key,
                                  struct record_bow **bows, size_t *n, struct err *err);

void record_bow_clear(struct record_bow *bow);

/* --- captures ----------------------------------------------------------------------------- */

enum capture_state {
    CAPTURE_OPEN,       /* being captured, or ended without goodbye (kill, power cut) */
    CAPTURE_COMPLETE,   /* ended as asked */
    CAPTURE_INCOMPLETE, /* ended by a fault or an interruption; all readings up to there kept */
};

/* What the readings of a capture are. */
enum capture_content {
    CAPTURE_RAW,    /* counts as the bench gave them: record_capture_readings */
    CAPTURE_VALUES, /* force and draw position, imported without counts: record_capture_values */
};

/* One reading of a capture that has no counts. time_s is NAN where it is not known. */
struct record_value {
    double draw_m; /* from the grip pivot point */
    double force_n;
    double time_s;
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
    struct fixture fixture; /* as the bench file described it then */
    enum capture_state state;
    enum capture_content content;
    struct capture_counts counts; /* while open: n_readings kept so far, else 0 */
};

/* Begins a capture: fills key, number, started_at, state and commits. The strings of *capture are
 * borrowed for the call. From here on record_capture_append keeps readings. Errors:
 * STATUS_NO_INPUT (its bow or a calibration is not in the record), STATUS_CANT_WRITE. */
enum status record_capture_begin(struct record *record, struct record_capture *capture,
                                 struct err *err);

/* Appends readings in one transaction, on disk when it returns. On STATUS_CANT_WRITE nothing of
 * this call is kept and the same call may be tried again. n > 0. */
enum status record_capture_append(struct record *record, const char *capture_key,
                                  const struct raw_reading *readings, size_t n, struct err *err);

/* The same for a capture whose content is CAPTURE_VALUES. draw_m and force_n must be finite
 * (STATUS_BAD_INPUT). */
enum status record_capture_append_values(struct record *record, const char *capture_key,
                                         const struct record_value *values, size_t n,
                                         struct err *err);

/* Ends it with this state (not CAPTURE_OPEN) and these counts. Once only: STATUS_BAD_INPUT where it
 * has ended already. */
enum status record_capture_end(struct record *record, const char *capture_key,
                               enum capture_state state, const struct capture_counts *counts,
                               struct err *err);

/* Adds a whole capture that was made elsewhere, in one transaction: n raw readings or n values, as
 * its content says (the other pointer is NULL). Fills key and started_at where they are empty, and
 * number; ended_at "" becomes now. A state of CAPTURE_OPEN leaves it open. Errors: as begin and
 * append; STATUS_BAD_INPUT where the key is in the record already. */
enum status record_capture_add(struct record *record, struct record_capture *capture,
                               const struct raw_reading *readings,
                               const struct record_value *values, size_t n, struct err *err);

/* Finds a capture by number ("12"), key or unique beginning of a key (at least 4 characters), or
 * "last" (the newest). STATUS_NO_INPUT where there is none. Caller ends it with
 * record_capture_clear. */
enum status record_capture_find(struct record *record, const char *text,
                                struct record_capture *capture, struct err *err);

/* Captures, newest first, of the bow with this key ("" for all), at most `most`. */
enum status record_capture_list(struct record *record, const char *bow_key, size_t most,
                                struct record_capture **captures, size_t *n, struct err *err);

/* All readings of a capture in the order they were appended. *readings is allocated (free()). A
 * chunk whose check fails is an error STATUS_BAD_INPUT that says which and how many are good; so is
 * a capture that has values in place of counts. */
enum status record_capture_readings(struct record *record, const char *capture_key,
                                    struct raw_reading **readings, size_t *n, struct err *err);

/* The same for a capture whose content is CAPTURE_VALUES. */
enum status record_capture_values(struct record *record, const char *capture_key,
                                  struct record_value **values, size_t *n, struct err *err);

/* As record_capture_readings and record_capture_values, but damaged chunks are left out:
 * *n_damaged counts their readings, and the raw reading behind them has RAW_AFTER_GAP set. */
enum status record_capture_salvage_readings(struct record *record, const char *capture_key,
                                            struct raw_reading **readings, size_t *n,
                                            size_t *n_damaged, struct err *err);
enum status record_capture_salvage_values(struct record *record, const char *capture_key,
                                          struct record_value **values, size_t *n,
                                          size_t *n_damaged, struct err *err);

void record_capture_clear(struct record_capture *capture);

/* A fixture as the record writes it, a JSON object of what is not zero: {"give_m_per_n":2.5e-06,
 * "tare":true}. Allocated (free()). */
char *record_fixture_text(const struct fixture *fixture);

/* The way back: what is missing is zero, names that are not known are passed over. Errors:
 * STATUS_BAD_INPUT; *fixture is then not to be used. */
enum status record_fixture_parse(const char *text, struct fixture *fixture, struct err *err);

#endif
