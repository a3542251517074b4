/*
 * scratch: a folder of its own for each test, and records in it.
 */
#ifndef PULLCURVE_TESTS_RECORD_SCRATCH_H
#define PULLCURVE_TESTS_RECORD_SCRATCH_H

#include "base/buf.h"
#include "record/record.h"

#include <stdbool.h>
#include <stddef.h>

/* cmocka's setup and teardown: makes the folder, removes it with all that is in it. */
int scratch_make(void **state);
int scratch_remove(void **state);

/* A path in the folder; valid until the fourth call after this one. */
const char *scratch_path(const char *name);

/* Opens the record "shop.db" of the folder, or another one; a failure fails the test. */
struct record *scratch_open(void);
struct record *scratch_open_as(const char *name, enum record_mode mode);

/* Puts text in a file; reads a file. */
void scratch_write(const char *path, const void *bytes, size_t length);
void scratch_read(const char *path, struct buf *bytes);

/* Runs SQL on a record that is not open, past the program's own ways, and its triggers too. */
void scratch_sql(const char *path, const char *sql);

/* The first column of the first row, as a whole number. */
int64_t scratch_sql_int(const char *path, const char *sql);

/* Reading number i of an invented pull, different in every field. */
struct raw_reading scratch_reading(size_t i);

/* Begins a capture and appends n readings in lots of `lot`; fills *capture. */
void scratch_capture(struct record *record, struct record_capture *capture, size_t n, size_t lot);

/* Checks that the capture holds exactly scratch_reading(0..n). */
void scratch_check_readings(struct record *record, const char *capture_key, size_t n);

#endif
