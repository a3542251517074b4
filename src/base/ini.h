/*
 * ini: settings files (bench files, bow files), read with inih, kept with their line numbers so
 * that a fault in a value can point at it. Not for: what the values mean.
 */
#ifndef PULLCURVE_BASE_INI_H
#define PULLCURVE_BASE_INI_H

#include "base/status.h"
#include "base/units.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct ini;

/* Reads a file. Caller ends it with ini_close. Errors: STATUS_NO_INPUT, STATUS_BAD_INPUT with
 * file:line (no section, no '=', a key twice in a section, not UTF-8). *ini is NULL on failure. */
enum status ini_open(struct ini **ini, const char *path, struct err *err);

/* Releases it; NULL is allowed. */
void ini_close(struct ini *ini);

/* The text of a key, borrowed until ini_close, or NULL where it is not there. Marks it as known. */
const char *ini_text(struct ini *ini, const char *section, const char *key);

/* The line of a key (1 is the first), 0 where it is not there. */
size_t ini_line(const struct ini *ini, const char *section, const char *key);

bool ini_has_section(const struct ini *ini, const char *section);

/* A quantity with an optional unit ("29 in"), within low..high (SI); `absent` is the value (SI)
 * where the key is not there, NAN makes the key necessary. Errors: STATUS_BAD_INPUT, file:line. */
enum status ini_quantity(struct ini *ini, const char *section, const char *key,
                         enum quantity quantity, enum unit assumed, double low_si, double high_si,
                         double absent_si, double *value_si, struct err *err);

/* A whole number within low..high; `absent` where the key is not there. */
enum status ini_int(struct ini *ini, const char *section, const char *key, int64_t low,
                    int64_t high, int64_t absent, int64_t *value, struct err *err);

/* A list of numbers separated by commas or blanks; *values is allocated (free()), *n its length,
 * NULL and 0 where the key is not there. Errors: STATUS_BAD_INPUT. */
enum status ini_list(struct ini *ini, const char *section, const char *key, double **values,
                     size_t *n, struct err *err);

/* STATUS_BAD_INPUT at the first key that nothing has asked for (a misspelt one), else STATUS_OK. */
enum status ini_check_all_known(const struct ini *ini, struct err *err);

/* Sets *err to "file:line: [section] key: ..." ; for a reader's own checks. */
enum status ini_fault(const struct ini *ini, const char *section, const char *key, struct err *err,
                      const char *format, ...) __attribute__((format(printf, 5, 6)));

#endif
