/*
 * shop: a folder with a record of its own for each test, and the program run in it.
 */
#ifndef PULLCURVE_TESTS_E2E_SHOP_H
#define PULLCURVE_TESTS_E2E_SHOP_H

#include "base/buf.h"
#include "base/reading.h"
#include "record/record.h"

#include <jansson.h>
#include <stddef.h>

/* cmocka's setup and teardown: an empty folder, which is the working folder, and
 * PULLCURVE_RECORD=shop.db, which is not there yet. */
int shop_open(void **state);
int shop_close(void **state);

/* Runs the program with `arguments` as a shell reads them; what it prints, also on standard error,
 * is in *out. Returns the exit code. */
int shop_run(struct buf *out, const char *arguments);

/* The same, and a failure of the test where the exit code is another one or what is printed does
 * not hold `part` (a line break counts as a blank). */
void shop_check(int expected, const char *arguments, const char *part);

/* The JSON that the program prints on standard output; the caller releases it. */
json_t *shop_json(int expected, const char *arguments);

/* Members of an object; one that is not there fails the test (or is NAN). */
const char *shop_text_at(const json_t *object, const char *name);
int shop_int_at(const json_t *object, const char *name);
double shop_number_at(const json_t *object, const char *name, const char *part);

void shop_write(const char *name, const char *text);
void shop_check_same(const char *one, const char *other);

/* Reading i of 400 of an invented pull. */
struct raw_reading shop_reading(size_t i);

/* Puts a capture of the first n readings in the record as the bench does, with its bow "Ridge 34",
 * the bench "bench 1" and calibrations; CAPTURE_OPEN leaves it open. */
void shop_capture(size_t n, enum capture_state state);

#endif
