/* A fixture as a small JSON object: one column, to which names can be added without a migration. */
#include "base/mem.h"
#include "base/number.h"
#include "record/document_private.h"

#include <stdlib.h>

#define AT(name) #name, offsetof(struct fixture, name)

static const struct {
    const char *name;
    size_t offset;
} numbers[] =
    {
        {AT(give_m_per_n)}, {AT(u_give_m_per_n)}, {AT(angle_rad)}, {AT(u_angle_rad)},
        {AT(hook_n)},       {AT(u_hook_n)},       {AT(u_brace_m)},
},
  flags[] = {{AT(tare)}, {AT(drift)}};

#define LENGTH(array) (sizeof(array) / sizeof(array)[0])

json_t *fixture_to_json(const struct fixture *fixture)
{
    const char *from = (const char *)fixture;
    json_t *object = json_object();
    for (size_t i = 0; i < LENGTH(numbers); i++) {
        double value = *(const double *)(const void *)(from + numbers[i].offset);
        if (value < 0 || value > 0)
            document_put(object, numbers[i].name, json_real(value));
    }
    for (size_t i = 0; i < LENGTH(flags); i++)
        if (*(const bool *)(from + flags[i].offset))
            document_put(object, flags[i].name, json_true());
    return object;
}

enum status fixture_from_json(const json_t *object, struct fixture *fixture, struct err *err)
{
    *fixture = (struct fixture){.tare = false};
    if (object == NULL || json_is_null(object))
        return STATUS_OK;
    if (!json_is_object(object))
        return err_set(err, STATUS_BAD_INPUT, "'fixture' is neither null nor {...}");
    char *to = (char *)fixture;
    for (size_t i = 0; i < LENGTH(numbers); i++) {
        const json_t *value = json_object_get(object, numbers[i].name);
        if (value != NULL && !json_is_number(value))
            return err_set(err, STATUS_BAD_INPUT, "'fixture': '%s' is not a number",
                           numbers[i].name);
        if (value != NULL)
            *(double *)(void *)(to + numbers[i].offset) = json_number_value(value);
    }
    for (size_t i = 0; i < LENGTH(flags); i++) {
        const json_t *value = json_object_get(object, flags[i].name);
        if (value != NULL && !json_is_boolean(value))
            return err_set(err, STATUS_BAD_INPUT, "'fixture': '%s' is neither true nor false",
                           flags[i].name);
        *(bool *)(to + flags[i].offset) = json_is_true(value);
    }
    return STATUS_OK;
}

static void add_member(struct buf *out, const char *name, const char *value)
{
    buf_printf(out, "%s\"%s\":%s", out->length > 1 ? "," : "", name, value);
}

char *record_fixture_text(const struct fixture *fixture)
{
    const char *from = (const char *)fixture;
    struct buf out = {0};
    char number[NUMBER_TEXT_MAX];
    buf_char(&out, '{');
    for (size_t i = 0; i < LENGTH(numbers); i++) {
        double value = *(const double *)(const void *)(from + numbers[i].offset);
        if (value < 0 || value > 0)
            add_member(&out, numbers[i].name, number_exact(number, value));
    }
    for (size_t i = 0; i < LENGTH(flags); i++)
        if (*(const bool *)(from + flags[i].offset))
            add_member(&out, flags[i].name, "true");
    buf_char(&out, '}');
    char *text = mem_strdup(buf_string(&out));
    buf_clear(&out);
    return text;
}

enum status record_fixture_parse(const char *text, struct fixture *fixture, struct err *err)
{
    json_error_t error;
    json_t *object = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    *fixture = (struct fixture){.tare = false};
    if (object == NULL)
        return err_set(err, STATUS_BAD_INPUT, "'fixture': '%.60s' is no JSON object: %s", text,
                       error.text);
    enum status status = fixture_from_json(object, fixture, err);
    json_decref(object);
    return status;
}
