#include "verbs/columns.h"
#include "base/mem.h"
#include "base/utf8.h"
#include "show/escape.h"

#include <assert.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* How many characters; text is valid UTF-8. */
static size_t count_characters(const struct buf *text)
{
    size_t n = 0;
    for (size_t i = 0; i < text->length; i++)
        n += ((unsigned char)text->text[i] & 0xC0) != 0x80;
    return n;
}

/* Cuts text to `most` characters, the last of which then is an ellipsis. */
static void cut(struct buf *text, size_t most)
{
    if (count_characters(text) <= most)
        return;
    size_t at = 0;
    for (size_t i = 0; i + 1 < most; i++) {
        uint32_t ignored;
        at += utf8_decode(text->text + at, text->length - at, &ignored);
    }
    text->length = at;
    buf_text(text, "\xE2\x80\xA6");
}

void columns_init(struct columns *columns, const struct column_head *heads, size_t n)
{
    assert(n >= 1 && n <= COLUMNS_MAX);
    *columns = (struct columns){.heads = heads, .n_heads = n};
    for (size_t i = 0; i < n; i++)
        columns->width[i] = strlen(heads[i].name);
}

void columns_cell(struct columns *columns, const char *text)
{
    if (columns->n_cells == columns->capacity) {
        columns->capacity = mem_grown(columns->capacity, columns->capacity + 1);
        columns->cells = mem_realloc(columns->cells, columns->capacity, sizeof *columns->cells);
    }
    struct buf cell = {0};
    size_t column = columns->n_cells % columns->n_heads;
    escape_terminal(&cell, text);
    if (column + 1 < columns->n_heads)
        cut(&cell, COLUMNS_CELL_MAX);
    size_t width = count_characters(&cell);
    if (width > columns->width[column])
        columns->width[column] = width;
    columns->cells[columns->n_cells++] = cell;
}

static void pad(struct buf *out, size_t n)
{
    while (n-- > 0)
        buf_char(out, ' ');
}

static void add_cell(const struct columns *columns, struct buf *out, size_t column,
                     const char *text, size_t width)
{
    size_t gap = columns->width[column] - width;
    bool last = column + 1 == columns->n_heads;
    pad(out, columns->heads[column].right ? gap : 0);
    buf_text(out, text);
    pad(out, columns->heads[column].right || last ? 0 : gap);
    buf_text(out, last ? "\n" : "  ");
}

void columns_render(const struct columns *columns, struct buf *out)
{
    for (size_t i = 0; i < columns->n_heads; i++)
        add_cell(columns, out, i, columns->heads[i].name, strlen(columns->heads[i].name));
    for (size_t i = 0; i < columns->n_cells; i++)
        add_cell(columns, out, i % columns->n_heads, buf_string(&columns->cells[i]),
                 count_characters(&columns->cells[i]));
}

void columns_clear(struct columns *columns)
{
    for (size_t i = 0; i < columns->n_cells; i++)
        buf_clear(&columns->cells[i]);
    free(columns->cells);
    *columns = (struct columns){0};
}
