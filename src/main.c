/*
 * main: the table of verbs, and what every verb has in common: help, the message of a fault, the
 * exit code.
 */
#include "base/buf.h"
#include "base/status.h"
#include "show/escape.h"
#include "verbs/help.h"
#include "verbs/options.h"
#include "verbs/suggest.h"
#include "verbs/verb.h"

#include <fcntl.h>
#include <gsl/gsl_errno.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const struct verb *const verbs[] = {
    &verb_capture, &verb_measure, &verb_verify,    &verb_bow,      &verb_history,
    &verb_import,  &verb_export,  &verb_calibrate, &verb_simulate,
};

enum { N_VERBS = sizeof verbs / sizeof verbs[0] };

static const struct verb *find_verb(const char *name)
{
    for (size_t i = 0; i < N_VERBS; i++)
        if (strcmp(verbs[i]->name, name) == 0)
            return verbs[i];
    return NULL;
}

static enum status no_such_verb(const char *name, struct err *err)
{
    struct suggest suggest = suggest_start(name, strlen(name));
    for (size_t i = 0; i < N_VERBS; i++)
        suggest_try(&suggest, verbs[i]->name);
    if (suggest.best != NULL)
        return err_set(err, STATUS_USAGE, "there is no verb '%s'; is '%s' meant?", name,
                       suggest.best);
    return err_set(err, STATUS_USAGE, "there is no verb '%s'; `pullcurve help` lists them", name);
}

static enum status show_help(const struct verb *verb, struct err *err)
{
    struct buf text = {0};
    if (verb != NULL)
        help_verb(&text, verb);
    else
        help_program(&text, verbs, N_VERBS);
    enum status status = buf_write_stdout(&text, err);
    buf_clear(&text);
    return status;
}

static enum status show_version(struct err *err)
{
    struct buf text = {0};
    buf_text(&text, "pullcurve " PULLCURVE_VERSION "\n"
                    "Licence GPL-3.0-or-later. There is no warranty, to the extent that the law "
                    "permits.\n");
    enum status status = buf_write_stdout(&text, err);
    buf_clear(&text);
    return status;
}

static enum status run_verb(const struct verb *verb, int argc, char **argv, struct err *err)
{
    struct options *options;
    enum status status = options_open(&options, verb, argc, argv, err);
    if (status == STATUS_OK)
        status = options_wants_help(options) ? show_help(verb, err) : verb->run(options, err);
    options_close(options);
    return status;
}

static enum status run(int argc, char **argv, struct err *err)
{
    const char *word = argv[1];
    bool help = strcmp(word, "help") == 0;
    if (strcmp(word, "--version") == 0)
        return show_version(err);
    if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0 || (help && argc == 2))
        return show_help(NULL, err);
    if (help && argc > 3)
        return err_set(err, STATUS_USAGE, "help takes one verb at most");
    const struct verb *verb = find_verb(help ? argv[2] : word);
    if (verb == NULL)
        return no_such_verb(help ? argv[2] : word, err);
    return help ? show_help(verb, err) : run_verb(verb, argc - 1, argv + 1, err);
}

/* A file that is opened later must not become standard input, output or error because the caller
 * had closed that one. Opened the wrong way round, so that using it still fails. */
static void hold_standard_streams(void)
{
    for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
        if (fcntl(fd, F_GETFD) == -1)
            (void)open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY);
}

static void print_fault(const char *verb_name, const struct err *err)
{
    struct buf text = {0};
    buf_printf(&text, "pullcurve%s%s: ", verb_name != NULL ? " " : "",
               verb_name != NULL ? verb_name : "");
    escape_terminal(&text, err->text);
    if (err->code == STATUS_USAGE)
        buf_printf(&text, "\n`pullcurve help%s%s` tells how it is used.",
                   verb_name != NULL ? " " : "", verb_name != NULL ? verb_name : "");
    fprintf(stderr, "%s\n", buf_string(&text));
    buf_clear(&text);
}

int main(int argc, char **argv)
{
    gsl_set_error_handler_off();
    hold_standard_streams();
    (void)signal(SIGPIPE, SIG_IGN); /* a reader that leaves is a write that fails, */
    (void)signal(SIGXFSZ, SIG_IGN); /* and so is a file at its limit of size */

    struct err err = {.code = STATUS_OK};
    enum status status =
        argc > 1 ? run(argc, argv, &err) : err_set(&err, STATUS_USAGE, "a verb is needed");
    const struct verb *verb = argc > 1 ? find_verb(argv[1]) : NULL;
    if (status != STATUS_OK && err.text[0] != '\0')
        print_fault(verb != NULL ? verb->name : NULL, &err);
    return status_exit_code(status);
}
