#include "python.h"

#include "base/number.h"
#include "check.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const char prelude[] = "import numpy as np, scipy.stats as st\n";

void python_numbers(const char *script, double *numbers, size_t n)
{
    char path[] = "/tmp/pullcurve-test-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    FILE *file = fdopen(fd, "w");
    assert_non_null(file);
    assert_true(fputs(prelude, file) >= 0 && fputs(script, file) >= 0 && fclose(file) == 0);
    char command[sizeof path + 32];
    (void)snprintf(command, sizeof command, "/usr/bin/python3 %s", path);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    char text[65536];
    size_t length = fread(text, 1, sizeof text - 1, pipe);
    text[length] = '\0';
    int code = pclose(pipe);
    unlink(path);
    assert_int_equal(code, 0);
    const char *at = text, *end = text + length;
    for (size_t i = 0; i < n; i++) {
        at += strspn(at, " \t\r\n");
        at = number_scan(at, end, '.', &numbers[i]);
        assert_non_null(at);
    }
}
