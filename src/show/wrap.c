#include "show/wrap.h"

#include "base/utf8.h"

#include <string.h>

/* Columns that a word takes: its characters. */
static size_t columns_of(const char *word, size_t length)
{
    size_t columns = 0;
    for (size_t i = 0; i < length; columns++) {
        uint32_t code_point;
        size_t bytes = utf8_decode(word + i, length - i, &code_point);
        i += bytes > 0 ? bytes : 1;
    }
    return columns;
}

void wrap_text(struct buf *out, const char *text, size_t indent)
{
    size_t column = indent;
    while (*text != '\0') {
        size_t length = strcspn(text, " "), columns = columns_of(text, length);
        if (column > indent && column + 1 + columns > WRAP_COLUMNS) {
            buf_printf(out, "\n%*s", (int)indent, "");
            column = indent;
        } else if (column > indent) {
            buf_char(out, ' ');
            column++;
        }
        buf_add(out, text, length);
        column += columns;
        text += length + strspn(text + length, " ");
    }
    buf_char(out, '\n');
}
