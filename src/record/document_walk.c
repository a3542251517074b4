#include "record/document_private.h"

#include <string.h>

/* Where the walk stands. */
struct walk {
    const char *name; /* of the text, for messages */
    const char *at, *end;
    size_t line; /* of `counted`, 1 is the first */
    const char *counted;
    const struct document_visitor *visitor;
};

static size_t line_here(struct walk *walk)
{
    for (; walk->counted < walk->at; walk->counted++)
        walk->line += *walk->counted == '\n';
    return walk->line;
}

static char skip_blanks(struct walk *walk)
{
    while (walk->at < walk->end && strchr(" \t\r\n", *walk->at) != NULL && *walk->at != '\0')
        walk->at++;
    return walk->at < walk->end ? *walk->at : '\0';
}

static enum status fault(struct walk *walk, const char *what, struct err *err)
{
    return err_set(err, STATUS_BAD_INPUT, "%s:%zu: %s; nothing was imported", walk->name,
                   line_here(walk), what);
}

static enum status expect(struct walk *walk, char wanted, struct err *err)
{
    if (skip_blanks(walk) != wanted) {
        const char what[] = {'a', ' ', '\'', wanted, '\'', ' ', 'i', 's', ' ',
                             'm', 'i', 's',  's',    'i',  'n', 'g', '\0'};
        return fault(walk, what, err);
    }
    walk->at++;
    return STATUS_OK;
}

/* One value of any type; the caller releases it. */
static enum status take_value(struct walk *walk, json_t **value, struct err *err)
{
    (void)skip_blanks(walk);
    json_error_t error;
    *value = json_loadb(walk->at, (size_t)(walk->end - walk->at),
                        JSON_DECODE_ANY | JSON_DISABLE_EOF_CHECK | JSON_REJECT_DUPLICATES, &error);
    if (*value == NULL) {
        size_t within = error.line > 0 ? (size_t)error.line - 1 : 0;
        return err_set(err, STATUS_BAD_INPUT, "%s:%zu: is not JSON: %s; nothing was imported",
                       walk->name, line_here(walk) + within, error.text);
    }
    walk->at += error.position;
    return STATUS_OK;
}

static enum status visit(struct walk *walk, const char *section, const char *name, size_t line,
                         const json_t *value, struct err *err)
{
    struct err own = {.code = STATUS_OK};
    enum status status = walk->visitor->visit(walk->visitor->context, section, name, value, &own);
    if (status == STATUS_BAD_INPUT)
        return err_set(err, status, "%s:%zu: %s; nothing was imported", walk->name, line, own.text);
    if (status != STATUS_OK && err != NULL)
        *err = own;
    return status;
}

static enum status take_element(struct walk *walk, const char *section, const char *name,
                                struct err *err)
{
    (void)skip_blanks(walk);
    size_t line = line_here(walk);
    json_t *value;
    enum status status = take_value(walk, &value, err);
    if (status == STATUS_OK)
        status = visit(walk, section, name, line, value, err);
    json_decref(value);
    return status;
}

/* Behind an element: a comma (then *more is true) or the closing bracket. */
static enum status take_separator(struct walk *walk, char closing, bool *more, struct err *err)
{
    *more = skip_blanks(walk) == ',';
    if (!*more)
        return expect(walk, closing, err);
    walk->at++;
    return STATUS_OK;
}

static enum status walk_array(struct walk *walk, const char *section, struct err *err)
{
    enum status status = expect(walk, '[', err);
    bool more = status == STATUS_OK && skip_blanks(walk) != ']';
    if (status == STATUS_OK && !more)
        walk->at++;
    while (status == STATUS_OK && more) {
        status = take_element(walk, section, NULL, err);
        if (status == STATUS_OK)
            status = take_separator(walk, ']', &more, err);
    }
    return status;
}

static enum status walk_member(struct walk *walk, struct err *err)
{
    json_t *name;
    enum status status = take_value(walk, &name, err);
    if (status == STATUS_OK && !json_is_string(name))
        status = fault(walk, "a name in quotes is missing", err);
    if (status == STATUS_OK)
        status = expect(walk, ':', err);
    if (status == STATUS_OK && skip_blanks(walk) == '[')
        status = walk_array(walk, json_string_value(name), err);
    else if (status == STATUS_OK)
        status = take_element(walk, NULL, json_string_value(name), err);
    json_decref(name);
    return status;
}

enum status document_walk(const char *name, const struct buf *text,
                          const struct document_visitor *visitor, struct err *err)
{
    const char *start = buf_string(text);
    struct walk walk = {
        .name = name,
        .at = start,
        .end = start + text->length,
        .line = 1,
        .counted = start,
        .visitor = visitor,
    };
    if (text->length >= 3 && memcmp(start, "\xEF\xBB\xBF", 3) == 0)
        walk.at += 3; /* a byte order mark */
    enum status status = expect(&walk, '{', err);
    bool more = status == STATUS_OK && skip_blanks(&walk) != '}';
    if (status == STATUS_OK && !more)
        walk.at++;
    while (status == STATUS_OK && more) {
        status = walk_member(&walk, err);
        if (status == STATUS_OK)
            status = take_separator(&walk, '}', &more, err);
    }
    if (status == STATUS_OK && skip_blanks(&walk) != '\0')
        status = fault(&walk, "there is more behind the closing '}'", err);
    if (status == STATUS_OK && walk.at != walk.end)
        status = fault(&walk, "there is a NUL byte", err);
    return status;
}
