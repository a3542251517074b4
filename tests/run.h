/*
 * run: another program as the source of outside truth.
 */
#ifndef PULLCURVE_TESTS_RUN_H
#define PULLCURVE_TESTS_RUN_H

#include "base/buf.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>

/* Runs a shell command and adds what it prints to *out. Returns its exit code, -1 where it did not
 * end by itself. */
static inline int run_command(struct buf *out, const char *command)
{
    fflush(NULL);
    FILE *pipe = popen(command, "r");
    if (pipe == NULL)
        return -1;
    char chunk[4096];
    for (size_t got; (got = fread(chunk, 1, sizeof chunk, pipe)) > 0;)
        buf_add(out, chunk, got);
    int status = pclose(pipe);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* The root of the source tree, where fixtures and references are. */
static inline const char *source_root(void)
{
    const char *root = getenv("PULLCURVE_SOURCE");
    return root != NULL ? root : ".";
}

#endif
