/*
 * number: decimal numbers in and out, the same in every locale.
 *
 * The program never sets LC_NUMERIC, and these functions do not depend on it.
 */
#ifndef PULLCURVE_BASE_NUMBER_H
#define PULLCURVE_BASE_NUMBER_H

#include "base/status.h"
#include "base/units.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Reads the decimal number that starts at text and ends before `end`: optional sign, digits with
 * at most one decimal mark (`mark`, '.' or ','), optional exponent. Gives the double nearest to the
 * decimal, as strtod would. Returns the first byte not used, or NULL where no finite number starts
 * here (words, inf, nan, overflow); *value is then untouched. Does not skip blanks. */
const char *number_scan(const char *text, const char *end, char mark, double *value);

/* The whole of text (blanks at both ends allowed) must be one finite number with a '.' mark. */
bool number_parse(const char *text, double *value);

/* The same for a whole number that fits an int64_t. */
bool number_parse_int(const char *text, int64_t *value);

/* Reads "NUMBER" or "NUMBER UNIT" or "NUMBERUNIT" of the given quantity; without a unit
 * `assumed` holds. The result is SI. Errors: STATUS_USAGE with a message that names `what`. */
enum status number_parse_quantity(const char *text, enum quantity quantity, enum unit assumed,
                                  const char *what, double *value_si, struct err *err);

enum { NUMBER_OUTSIDE_MAX = 100 };

/* What is wrong with a value outside of low..high (SI; one of them may be infinite), in words, with
 * the limits in `unit`: "is outside of 2 to 12 in", "is below 0 in", "is above 12 in". */
const char *number_outside(char text[NUMBER_OUTSIDE_MAX], enum unit unit, double low_si,
                           double high_si);

enum { NUMBER_TEXT_MAX = 40 };

/* The shortest decimal of up to 17 digits that reads back as the same double; value is finite. */
const char *number_exact(char text[NUMBER_TEXT_MAX], double value);

/* With this many digits after the mark (0..12); "-0.00" is written "0.00". value is finite. */
const char *number_fixed(char text[NUMBER_TEXT_MAX], double value, int decimals);

#endif
