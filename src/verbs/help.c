#include "verbs/help.h"
#include "base/mem.h"
#include "show/wrap.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { OPTION_COLUMN = 26, VERB_COLUMN = 14 };

/* The text from `column` on, where `used` columns are filled already; on the next line where they
 * reach too far. */
static void beside(struct buf *out, const char *text, size_t used, size_t column)
{
    if (used + 2 > column) {
        buf_char(out, '\n');
        used = 0;
    }
    buf_printf(out, "%*s", (int)(column - used), "");
    wrap_text(out, text, column);
}

/* Paragraphs of the text stand an empty line apart; how their lines are broken does not matter. */
static void paragraphs(struct buf *out, const char *text)
{
    while (*text != '\0') {
        const char *gap = strstr(text, "\n\n");
        size_t length = gap != NULL ? (size_t)(gap - text) : strlen(text);
        char *paragraph = mem_strndup(text, length);
        for (char *at = paragraph; (at = strchr(at, '\n')) != NULL;)
            *at = ' ';
        wrap_text(out, paragraph, 0);
        free(paragraph);
        text += length + strspn(text + length, "\n");
        if (*text != '\0')
            buf_char(out, '\n');
    }
}

void help_program(struct buf *out, const struct verb *const *verbs, size_t n)
{
    buf_text(out, "usage: pullcurve VERB [options]\n"
                  "       pullcurve help [VERB]\n"
                  "       pullcurve --version\n\n");
    wrap_text(out,
              "Measures the force-draw and let-down curves of a bow on a bench with load cell and "
              "encoder, and computes, keeps and plots the figures that describe it.",
              0);
    buf_text(out, "\nVerbs:\n");
    for (size_t i = 0; i < n; i++) {
        size_t before = out->length;
        buf_printf(out, "  %s", verbs[i]->name);
        beside(out, verbs[i]->summary, out->length - before, VERB_COLUMN);
    }
    buf_text(out,
             "\n`pullcurve help VERB` tells all about one verb; pullcurve(1) is the manual.\n");
    wrap_text(out,
              "A bow that is drawn can injure: read docs/safety.md before you put one on a bench.",
              0);
}

static void option_row(struct buf *out, const struct option_spec *spec)
{
    size_t before = out->length;
    buf_printf(out, "  --%s", spec->name);
    if (spec->argument != NULL)
        buf_printf(out, " %s", spec->argument);
    beside(out, spec->help, out->length - before, OPTION_COLUMN);
}

void help_verb(struct buf *out, const struct verb *verb)
{
    bool operands = verb->operands != NULL && verb->operands[0] != '\0';
    buf_printf(out, "usage: pullcurve %s [options]%s%s\n\n", verb->name, operands ? " " : "",
               operands ? verb->operands : "");
    paragraphs(out, verb->description);
    buf_text(out, "\nOptions:\n");
    for (const struct option_spec *spec = verb->spec; spec->name != NULL; spec++)
        option_row(out, spec);
    option_row(out, &(struct option_spec){.name = "help", .help = "show this"});
}
