#include "verbs/options.h"
#include "base/buf.h"
#include "base/mem.h"
#include "base/number.h"
#include "verbs/suggest.h"

#include <assert.h>
#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* One option as it stood on the command line. */
struct given {
    size_t spec;          /* row of the verb's table */
    const char *argument; /* NULL for a flag; borrowed from argv */
};

struct options {
    const struct verb *verb;
    struct given *given;
    size_t n_given;
    const char **operands; /* borrowed from argv */
    size_t n_operands;
    bool wants_help;
};

/* What getopt_long returns for row i of the table, clear of every character. */
enum { FIRST_OPTION_VALUE = 1000 };

static size_t count_specs(const struct verb *verb)
{
    size_t n = 0;
    while (verb->spec[n].name != NULL)
        n++;
    return n;
}

/* The table in getopt_long's form, with --help behind the verb's own. Freed by the caller. */
static struct option *long_options(const struct verb *verb, size_t n)
{
    struct option *table = mem_calloc(n + 2, sizeof *table);
    for (size_t i = 0; i < n; i++)
        table[i] = (struct option){.name = verb->spec[i].name,
                                   .has_arg = verb->spec[i].argument != NULL ? required_argument
                                                                             : no_argument,
                                   .val = FIRST_OPTION_VALUE + (int)i};
    table[n] =
        (struct option){.name = "help", .has_arg = no_argument, .val = FIRST_OPTION_VALUE + (int)n};
    return table;
}

/* getopt_long has refused something: says what. `word` is the word of the command line. */
static enum status refuse(const struct verb *verb, size_t n_specs, int found, int value,
                          const char *word, struct err *err)
{
    size_t row = (size_t)(value - FIRST_OPTION_VALUE);
    bool known = value >= FIRST_OPTION_VALUE && row < n_specs;
    if (found == ':' && known)
        return err_set(err, STATUS_USAGE, "--%s needs %s behind it", verb->spec[row].name,
                       verb->spec[row].argument);
    if (known || value >= FIRST_OPTION_VALUE)
        return err_set(err, STATUS_USAGE, "--%s takes no argument, but '%s' gives one",
                       known ? verb->spec[row].name : "help", word);
    if (value != 0)
        return err_set(err, STATUS_USAGE, "there is no option -%c; all options are written in full",
                       value);
    const char *name = word + strspn(word, "-");
    struct suggest suggest = suggest_start(name, strcspn(name, "="));
    for (size_t i = 0; i < n_specs; i++)
        suggest_try(&suggest, verb->spec[i].name);
    if (suggest.best != NULL)
        return err_set(err, STATUS_USAGE,
                       "there is no option '%s' (or it is cut too short); is "
                       "--%s meant?",
                       word, suggest.best);
    return err_set(err, STATUS_USAGE, "there is no option '%s' (or it is cut too short)", word);
}

static enum status parse(struct options *options, int argc, char **argv, struct err *err)
{
    size_t n_specs = count_specs(options->verb);
    struct option *table = long_options(options->verb, n_specs);
    enum status status = STATUS_OK;
    opterr = 0; /* the messages are ours */
    optind = 0; /* glibc: begin anew */
    while (status == STATUS_OK) {
        int found = getopt_long(argc, argv, ":", table, NULL);
        if (found == -1)
            break;
        if (found == '?' || found == ':') {
            status = refuse(options->verb, n_specs, found, optopt, argv[optind - 1], err);
        } else if ((size_t)(found - FIRST_OPTION_VALUE) == n_specs) {
            options->wants_help = true;
        } else {
            options->given[options->n_given++] =
                (struct given){.spec = (size_t)(found - FIRST_OPTION_VALUE), .argument = optarg};
        }
    }
    free(table);
    /* getopt_long has moved the operands behind the options */
    for (int i = optind; status == STATUS_OK && i < argc; i++)
        options->operands[options->n_operands++] = argv[i];
    return status;
}

static enum status check_operands(const struct options *options, struct err *err)
{
    const struct verb *verb = options->verb;
    if (options->n_operands > verb->operands_max && verb->operands_max == 0)
        return err_set(err, STATUS_USAGE, "'%s' is too much: only options stand behind %s",
                       options->operands[0], verb->name);
    if (options->n_operands > verb->operands_max)
        return err_set(err, STATUS_USAGE, "'%s' is too much; what may stand there is: %s",
                       options->operands[verb->operands_max], verb->operands);
    if (options->n_operands < verb->operands_min)
        return err_set(err, STATUS_USAGE, "something is missing behind %s: %s", verb->name,
                       verb->operands);
    return STATUS_OK;
}

enum status options_open(struct options **out, const struct verb *verb, int argc, char **argv,
                         struct err *err)
{
    assert(argc >= 1);
    *out = NULL;
    struct options *options = mem_calloc(1, sizeof *options);
    options->verb = verb;
    options->given = mem_calloc((size_t)argc, sizeof *options->given);
    options->operands = mem_calloc((size_t)argc, sizeof *options->operands);
    enum status status = parse(options, argc, argv, err);
    if (status == STATUS_OK && !options->wants_help)
        status = check_operands(options, err);
    if (status == STATUS_OK)
        *out = options;
    else
        options_close(options);
    return status;
}

void options_close(struct options *options)
{
    if (options == NULL)
        return;
    free(options->given);
    free(options->operands);
    free(options);
}

bool options_wants_help(const struct options *options)
{
    return options->wants_help;
}

/* Row of the verb's table; SIZE_MAX where it has no such option. */
static size_t find_spec(const struct verb *verb, const char *name)
{
    for (size_t i = 0; verb->spec[i].name != NULL; i++)
        if (strcmp(verb->spec[i].name, name) == 0)
            return i;
    return SIZE_MAX;
}

static size_t own_spec(const struct options *options, const char *name)
{
    size_t spec = find_spec(options->verb, name);
    assert(spec != SIZE_MAX);
    return spec;
}

size_t options_count(const struct options *options, const char *name)
{
    size_t spec = own_spec(options, name), n = 0;
    for (size_t i = 0; i < options->n_given; i++)
        n += options->given[i].spec == spec;
    return n;
}

bool options_has(const struct options *options, const char *name)
{
    return options_count(options, name) > 0;
}

const char *options_nth(const struct options *options, const char *name, size_t nth)
{
    size_t spec = own_spec(options, name), i = 0;
    assert(nth < options_count(options, name));
    for (size_t seen = 0;; i++)
        if (options->given[i].spec == spec && seen++ == nth)
            return options->given[i].argument;
}

const char *options_text(const struct options *options, const char *name, const char *absent)
{
    size_t n = options_count(options, name);
    return n > 0 ? options_nth(options, name, n - 1) : absent;
}

enum status options_quantity(const struct options *options, const char *name,
                             enum quantity quantity, enum unit assumed, double low_si,
                             double high_si, double absent_si, double *value_si, struct err *err)
{
    const char *text = options_text(options, name, NULL);
    double value = absent_si;
    if (text != NULL) {
        char what[64];
        (void)snprintf(what, sizeof what, "--%s", name);
        enum status status = number_parse_quantity(text, quantity, assumed, what, &value, err);
        if (status != STATUS_OK)
            return status;
        char outside[NUMBER_OUTSIDE_MAX];
        if (!(value >= low_si && value <= high_si))
            return err_set(err, STATUS_USAGE, "--%s: '%s' %s", name, text,
                           number_outside(outside, assumed, low_si, high_si));
    }
    *value_si = value;
    return STATUS_OK;
}

enum status options_int(const struct options *options, const char *name, int64_t low, int64_t high,
                        int64_t absent, int64_t *value, struct err *err)
{
    const char *text = options_text(options, name, NULL);
    int64_t parsed = absent;
    if (text != NULL && !number_parse_int(text, &parsed))
        return err_set(err, STATUS_USAGE, "--%s: '%s' is not a whole number", name, text);
    if (text != NULL && (parsed < low || parsed > high))
        return err_set(err, STATUS_USAGE, "--%s: '%s' is outside of %lld to %lld", name, text,
                       (long long)low, (long long)high);
    *value = parsed;
    return STATUS_OK;
}

size_t options_n_operands(const struct options *options)
{
    return options->n_operands;
}

const char *options_operand(const struct options *options, size_t i)
{
    assert(i < options->n_operands);
    return options->operands[i];
}

/* Makes every folder of path up to its last '/'. */
static enum status make_folders(char *path, struct err *err)
{
    for (char *slash = strchr(path + 1, '/'); slash != NULL; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        bool made = mkdir(path, 0700) == 0 || errno == EEXIST;
        if (!made)
            err_set(err, STATUS_CANT_WRITE,
                    "%s: the folder of the record can't be made: %s; name another place with "
                    "--record or PULLCURVE_RECORD",
                    path, strerror(errno));
        *slash = '/';
        if (!made)
            return STATUS_CANT_WRITE;
    }
    return STATUS_OK;
}

/* An environment variable that is set and not empty, else NULL. */
static const char *environment(const char *name)
{
    const char *value = getenv(name);
    return value != NULL && value[0] != '\0' ? value : NULL;
}

enum status options_record_path(const struct options *options, char **path, struct err *err)
{
    *path = NULL;
    const char *named = NULL;
    if (find_spec(options->verb, "record") != SIZE_MAX)
        named = options_text(options, "record", NULL);
    if (named == NULL)
        named = environment("PULLCURVE_RECORD");
    if (named != NULL) {
        *path = mem_strdup(named);
        return STATUS_OK;
    }
    /* The base directory specification wants a relative XDG_DATA_HOME to be ignored. */
    const char *data = environment("XDG_DATA_HOME"), *home = environment("HOME");
    struct buf text = {0};
    if (data != NULL && data[0] == '/')
        buf_printf(&text, "%s/pullcurve/record.db", data);
    else if (home != NULL)
        buf_printf(&text, "%s/.local/share/pullcurve/record.db", home);
    else
        return err_set(err, STATUS_USAGE,
                       "there is no HOME to keep the record in; name it with --record or "
                       "PULLCURVE_RECORD");
    enum status status = make_folders(text.text, err);
    if (status == STATUS_OK)
        *path = mem_strdup(text.text);
    buf_clear(&text);
    return status;
}
