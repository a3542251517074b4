#include "show/json.h"

#include "base/mem.h"
#include "base/number.h"
#include "base/utf8.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static void render(struct buf *out, const json_t *value, int depth);

static void new_line(struct buf *out, int depth)
{
    buf_printf(out, "\n%*s", 2 * depth, "");
}

/* Strings, whole numbers, true, false and null are jansson's to write. */
static void render_by_jansson(struct buf *out, const json_t *value)
{
    char *text = json_dumps(value, JSON_ENCODE_ANY);
    buf_text(out, text != NULL ? text : "null");
    free(text);
}

static void render_object(struct buf *out, const json_t *object, int depth)
{
    const char *key;
    json_t *value;
    bool first = true;
    buf_char(out, '{');
    json_object_foreach((json_t *)(uintptr_t)object, key, value)
    {
        buf_text(out, first ? "" : ",");
        first = false;
        new_line(out, depth + 1);
        json_t *name = json_string(key);
        render_by_jansson(out, name);
        json_decref(name);
        buf_text(out, ": ");
        render(out, value, depth + 1);
    }
    if (!first)
        new_line(out, depth);
    buf_char(out, '}');
}

static bool holds_only_numbers(const json_t *array)
{
    for (size_t i = 0; i < json_array_size(array); i++)
        if (!json_is_number(json_array_get(array, i)))
            return false;
    return true;
}

static void render_array(struct buf *out, const json_t *array, int depth)
{
    bool on_one_line = holds_only_numbers(array);
    size_t n = json_array_size(array);
    buf_char(out, '[');
    for (size_t i = 0; i < n; i++) {
        buf_text(out, i == 0 ? "" : on_one_line ? ", " : ",");
        if (!on_one_line)
            new_line(out, depth + 1);
        render(out, json_array_get(array, i), depth + 1);
    }
    if (!on_one_line)
        new_line(out, depth);
    buf_char(out, ']');
}

static void render(struct buf *out, const json_t *value, int depth)
{
    char number[NUMBER_TEXT_MAX];
    if (json_is_object(value))
        render_object(out, value, depth);
    else if (json_is_array(value))
        render_array(out, value, depth);
    else if (json_is_real(value))
        buf_text(out, number_exact(number, json_real_value(value)));
    else
        render_by_jansson(out, value);
}

void json_render(struct buf *out, const json_t *tree)
{
    render(out, tree, 0);
    buf_char(out, '\n');
}

static void add_valid(struct buf *out, const char *text)
{
    while (*text != '\0') {
        uint32_t ignored;
        size_t length = utf8_decode(text, strlen(text) < 4 ? strlen(text) : 4, &ignored);
        if (length > 0)
            buf_add(out, text, length);
        else
            buf_text(out, "\xEF\xBF\xBD");
        text += length > 0 ? length : 1;
    }
}

json_t *json_text(const char *text)
{
    struct buf valid = {0};
    add_valid(&valid, text != NULL ? text : "");
    json_t *string = json_string(buf_string(&valid));
    buf_clear(&valid);
    return string;
}

json_t *json_number_or_null(bool has, double value)
{
    return has && isfinite(value) ? json_real(value) : json_null();
}

void json_put(json_t *object, const char *key, json_t *value)
{
    struct buf valid = {0};
    add_valid(&valid, key);
    if (json_object_set_new(object, buf_string(&valid), value) != 0)
        mem_exhausted();
    buf_clear(&valid);
}

void json_add(json_t *array, json_t *value)
{
    if (json_array_append_new(array, value) != 0)
        mem_exhausted();
}
