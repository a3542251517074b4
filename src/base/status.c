#include "base/status.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static const struct {
    int exit_code;
    const char *text;
} status_table[] = {
#define STATUS_ROW(code, exit_code, text) {exit_code, text},
    STATUS_LIST(STATUS_ROW)
#undef STATUS_ROW
};

enum status err_set(struct err *err, enum status code, const char *format, ...)
{
    if (err != NULL) {
        va_list arguments;
        va_start(arguments, format);
        err->code = code;
        (void)vsnprintf(err->text, sizeof err->text, format, arguments);
        va_end(arguments);
    }
    return code;
}

enum status err_prefix(struct err *err, const char *format, ...)
{
    if (err == NULL)
        return STATUS_INTERNAL;
    char text[ERR_TEXT_MAX];
    memcpy(text, err->text, sizeof text);
    va_list arguments;
    va_start(arguments, format);
    int used = vsnprintf(err->text, sizeof err->text, format, arguments);
    va_end(arguments);
    if (used >= 0 && (size_t)used < sizeof text - 3)
        (void)snprintf(err->text + used, sizeof err->text - (size_t)used, ": %.*s",
                       (int)(sizeof text - 3 - (size_t)used), text);
    return err->code;
}

int status_exit_code(enum status code)
{
    return status_table[code].exit_code;
}

const char *status_text(enum status code)
{
    return status_table[code].text;
}
