#include "bench/line.h"

#include <assert.h>

size_t line_feed(struct line *line, const void *bytes, size_t n, const char **text, size_t *length)
{
    assert(bytes != NULL || n == 0);
    *text = NULL;
    *length = 0;
    if (line->ended) {
        line->ended = false;
        line->length = 0;
    }
    const char *at = bytes;
    for (size_t i = 0; i < n; i++) {
        if (at[i] == '\n' || at[i] == '\r') {
            bool whole = !line->dropping;
            line->dropping = false;
            if (!whole) {
                line->length = 0;
                continue;
            }
            line->ended = true;
            line->text[line->length] = '\0';
            *text = line->text;
            *length = line->length;
            return i + 1;
        }
        if (line->length < LINE_LENGTH_MAX) {
            line->text[line->length++] = at[i];
        } else if (!line->dropping) {
            line->dropping = true;
            line->n_long++;
        }
    }
    return n;
}

int64_t line_n_long(const struct line *line)
{
    return line->n_long;
}

void line_cut(struct line *line)
{
    line->length = 0;
    line->dropping = false;
    line->ended = false;
}
