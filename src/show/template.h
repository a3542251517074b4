/*
 * template: finds the gnuplot files in plots/, which a user may edit.
 *
 * Looked for in the folder $PULLCURVE_PLOTS where that is set and nowhere else; without it in
 * plots/ beside the folder of the program (a source tree), in share/pullcurve/plots beside it, then
 * where `make install` was told to put them. Never in the current folder: a template is a gnuplot
 * script, and who can write one can run commands, so a folder of strangers must not be able to
 * supply it.
 */
#ifndef PULLCURVE_SHOW_TEMPLATE_H
#define PULLCURVE_SHOW_TEMPLATE_H

#include "base/buf.h"
#include "base/status.h"

/* Adds the text of plots/NAME to *text and its path to *path. Errors: STATUS_NO_INPUT (the message
 * lists where it was looked for), STATUS_BAD_INPUT. */
enum status template_read(const char *name, struct buf *text, struct buf *path, struct err *err);

#endif
