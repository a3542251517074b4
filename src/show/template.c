#include "show/template.h"

#include <limits.h>
#include <stdbool.h>
#include <stdlib.h>
#include <unistd.h>

#ifndef PULLCURVE_DATADIR
#define PULLCURVE_DATADIR "/usr/local/share/pullcurve"
#endif

/* The folder that the program is in, without a slash at its end; "" where it can't be known. */
static void add_program_folder(struct buf *out)
{
    char path[PATH_MAX];
    ssize_t length = readlink("/proc/self/exe", path, sizeof path);
    while (length > 0 && path[length - 1] != '/')
        length--;
    if (length > 1 && length < (ssize_t)sizeof path)
        buf_add(out, path, (size_t)length - 1);
}

/* The i-th folder to look in; false behind the last. */
static bool folder_at(size_t i, const char *program_folder, struct buf *folder)
{
    static const char *const beside[] = {"../plots", "../share/pullcurve/plots"};
    const char *stated = getenv("PULLCURVE_PLOTS");
    buf_clear(folder);
    if (stated != NULL) {
        buf_text(folder, stated);
        return i == 0;
    }
    if (i < 2)
        buf_printf(folder, "%s/%s", program_folder, beside[i]);
    else
        buf_text(folder, PULLCURVE_DATADIR "/plots");
    return i < 3;
}

static enum status read_file(const char *path, struct buf *text, struct err *err)
{
    struct buf file = {0};
    enum status status = buf_read_file(&file, path, err);
    if (status == STATUS_OK)
        buf_add(text, buf_string(&file), file.length);
    buf_clear(&file);
    return status;
}

enum status template_read(const char *name, struct buf *text, struct buf *path, struct err *err)
{
    struct buf program = {0}, folder = {0}, looked = {0};
    enum status status = STATUS_NO_INPUT;
    add_program_folder(&program);
    for (size_t i = 0; status == STATUS_NO_INPUT && folder_at(i, buf_string(&program), &folder);
         i++) {
        buf_clear(path);
        buf_printf(path, "%s/%s", buf_string(&folder), name);
        buf_printf(&looked, "%s%s", i > 0 ? ", " : "", buf_string(&folder));
        if (access(buf_string(path), F_OK) == 0)
            status = read_file(buf_string(path), text, err);
    }
    if (status == STATUS_NO_INPUT)
        err_set(err, STATUS_NO_INPUT,
                "the plot template %s is not in any of: %s; set PULLCURVE_PLOTS to the folder that "
                "holds it, or install pullcurve again",
                name, buf_string(&looked));
    buf_clear(&program);
    buf_clear(&folder);
    buf_clear(&looked);
    return status;
}
