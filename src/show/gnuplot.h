/*
 * gnuplot: runs the plotting program on a script and gives back the picture it made.
 *
 * Nothing of the user's reaches it but escaped text inside the script: no shell, no file name, no
 * start-up file. The picture comes through a pipe and is checked for its end mark, since gnuplot
 * reports success for a picture cut short. Not for: making scripts (plot_*.h).
 */
#ifndef PULLCURVE_SHOW_GNUPLOT_H
#define PULLCURVE_SHOW_GNUPLOT_H

#include "base/buf.h"
#include "base/status.h"

#include <stdbool.h>

enum picture {
    PICTURE_SVG,
    PICTURE_PNG,
    PICTURE_PDF,
    PICTURE_TEXT, /* for a terminal, made of characters */
};

/* The format that a file name's ending asks for (whatever its case); false for another ending. */
bool picture_of_path(const char *path, enum picture *picture);

/* Runs the script, which sets a terminal of that kind and leaves the output alone, and adds the
 * picture to *out. Takes 20 to 200 ms. Errors: STATUS_CANT_WRITE (gnuplot is missing, fails, takes
 * longer than a minute, finds no font, or the picture is not whole); *out is then untouched. */
enum status gnuplot_draw(const struct buf *script, enum picture picture, struct buf *out,
                         struct err *err);

#endif
