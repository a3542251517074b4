/*
 * options: a verb's command line, parsed by getopt_long from its table of option_spec.
 */
#ifndef PULLCURVE_VERBS_OPTIONS_H
#define PULLCURVE_VERBS_OPTIONS_H

#include "base/status.h"
#include "base/units.h"
#include "verbs/verb.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Parses argv[1..argc) (argv[0] is the verb's name). Caller ends it with options_close.
 * Errors: STATUS_USAGE. */
enum status options_open(struct options **options, const struct verb *verb, int argc, char **argv,
                         struct err *err);

/* Releases it; NULL is allowed. */
void options_close(struct options *options);

/* Was --help among the options? Every verb has it; main shows the verb's help then, and the count
 * of operands has not been checked. */
bool options_wants_help(const struct options *options);

/* name must be in the verb's table (asserted) in all of these. */

/* Was it given? */
bool options_has(const struct options *options, const char *name);

/* Its last argument, or `absent` where it was not given. */
const char *options_text(const struct options *options, const char *name, const char *absent);

/* How often it was given, and the i-th argument in the order of the command line. */
size_t options_count(const struct options *options, const char *name);
const char *options_nth(const struct options *options, const char *name, size_t i);

/* A quantity with an optional unit, in SI. Errors: STATUS_USAGE (no number, wrong unit, outside of
 * low..high, which are SI). *value_si is `absent_si` where it was not given. */
enum status options_quantity(const struct options *options, const char *name,
                             enum quantity quantity, enum unit assumed, double low_si,
                             double high_si, double absent_si, double *value_si, struct err *err);

/* A whole number within low..high. Errors: STATUS_USAGE. */
enum status options_int(const struct options *options, const char *name, int64_t low, int64_t high,
                        int64_t absent, int64_t *value, struct err *err);

/* What is not an option. */
size_t options_n_operands(const struct options *options);
const char *options_operand(const struct options *options, size_t i);

/* The path of the shop's record: --record if the verb has that option and it was given, else
 * $PULLCURVE_RECORD, else $XDG_DATA_HOME/pullcurve/record.db, else
 * $HOME/.local/share/pullcurve/record.db. Allocated; freed by the caller. Makes the folder of the
 * default place. Errors: STATUS_CANT_WRITE, STATUS_USAGE (no HOME). */
enum status options_record_path(const struct options *options, char **path, struct err *err);

#endif
