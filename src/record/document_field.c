#include "base/mem.h"
#include "base/utf8.h"
#include "record/document_private.h"

#include <assert.h>
#include <inttypes.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const quantity_words[] = {
    [QUANTITY_NONE] = "", [QUANTITY_FORCE] = "force", [QUANTITY_LENGTH] = "length", NULL};
static const char *const content_words[] = {"raw", "values", NULL};
static const char *const state_words[] = {"", "complete", "incomplete", NULL};

#define BOW(name, kind) #name, kind, offsetof(struct record_bow, name)
#define NUMBER_OF_BOW(name)                \
    {                                      \
        BOW(name, FIELD_REAL), false, NULL \
    }

const struct field bow_fields[] = {
    {"key", FIELD_KEY, offsetof(struct record_bow, statement_key), true, NULL},
    {"number", FIELD_INT64, offsetof(struct record_bow, statement), true, NULL},
    {BOW(made_at, FIELD_TIME), true, NULL},
    {BOW(retired, FIELD_BOOL), true, NULL},
    {BOW(name, FIELD_TEXT), true, NULL},
    {BOW(owner, FIELD_TEXT), true, NULL},
    {BOW(kind, FIELD_TEXT), true, NULL},
    {BOW(serial, FIELD_TEXT), true, NULL},
    {BOW(note, FIELD_TEXT), true, NULL},
    NUMBER_OF_BOW(brace_height_m),
    NUMBER_OF_BOW(peak_low_n),
    NUMBER_OF_BOW(peak_high_n),
    NUMBER_OF_BOW(draw_length_low_m),
    NUMBER_OF_BOW(draw_length_high_m),
    NUMBER_OF_BOW(let_off_low_pct),
    NUMBER_OF_BOW(let_off_high_pct),
    NUMBER_OF_BOW(axle_to_axle_m),
    NUMBER_OF_BOW(rated_speed_m_s),
    {NULL, FIELD_TEXT, 0, false, NULL},
};

#define CALIBRATION(name, kind) #name, kind, offsetof(struct record_calibration, name)

const struct field calibration_fields[] = {
    {CALIBRATION(key, FIELD_KEY), true, NULL},
    {CALIBRATION(made_at, FIELD_TIME), true, NULL},
    {CALIBRATION(bench, FIELD_TEXT), true, NULL},
    {CALIBRATION(quantity, FIELD_WORD), true, quantity_words},
    {CALIBRATION(references_independent, FIELD_BOOL), true, NULL},
    {CALIBRATION(note, FIELD_TEXT), true, NULL},
    {NULL, FIELD_TEXT, 0, false, NULL},
};

#define POINT(name, kind) #name, kind, offsetof(struct calibration_point, name)

const struct field calibration_point_fields[] = {
    {POINT(reference_si, FIELD_REAL), true, NULL},
    {POINT(u_reference_si, FIELD_REAL), true, NULL},
    {POINT(count, FIELD_REAL), true, NULL},
    {POINT(u_count, FIELD_REAL), true, NULL},
    {POINT(run, FIELD_INT), true, NULL},
    {POINT(decreasing, FIELD_BOOL), true, NULL},
    {NULL, FIELD_TEXT, 0, false, NULL},
};

#define CAPTURE(name, kind) #name, kind, offsetof(struct record_capture, name)

const struct field capture_fields[] = {
    {CAPTURE(key, FIELD_KEY), true, NULL},
    {CAPTURE(started_at, FIELD_TIME), true, NULL},
    {CAPTURE(bow_key, FIELD_KEY), false, NULL},
    {CAPTURE(bench, FIELD_TEXT), true, NULL},
    {CAPTURE(note, FIELD_TEXT), true, NULL},
    {CAPTURE(program, FIELD_TEXT), true, NULL},
    {CAPTURE(force_calibration_key, FIELD_KEY), false, NULL},
    {CAPTURE(travel_calibration_key, FIELD_KEY), false, NULL},
    {CAPTURE(content, FIELD_WORD), true, content_words},
    {NULL, FIELD_TEXT, 0, false, NULL},
};

#define COUNT(name) #name, FIELD_INT64, offsetof(struct record_capture, counts.name)

const struct field capture_end_fields[] = {
    {CAPTURE(ended_at, FIELD_TIME), true, NULL},
    {CAPTURE(state, FIELD_WORD), true, state_words},
    {COUNT(n_readings), true, NULL},
    {COUNT(n_malformed), true, NULL},
    {COUNT(n_bad_checksum), true, NULL},
    {COUNT(n_lost), true, NULL},
    {COUNT(n_out_of_order), true, NULL},
    {COUNT(n_saturated), true, NULL},
    {NULL, FIELD_TEXT, 0, false, NULL},
};

void document_put(json_t *object, const char *name, json_t *value)
{
    if (json_object_set_new(object, name, value) != 0)
        (void)mem_calloc(SIZE_MAX,
                         1); /* it has no memory: neither has this, and ends the program */
}

void document_add(json_t *array, json_t *value)
{
    if (json_array_append_new(array, value) != 0)
        mem_exhausted();
}

json_t *json_hex(const void *bytes, size_t length)
{
    static const char digits[] = "0123456789abcdef";
    const unsigned char *at = bytes;
    struct buf hex = {0};
    for (size_t i = 0; i < length; i++) {
        buf_char(&hex, digits[at[i] >> 4]);
        buf_char(&hex, digits[at[i] & 0x0F]);
    }
    json_t *value = json_stringn(buf_string(&hex), hex.length);
    buf_clear(&hex);
    return value;
}

static int hex_digit(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

bool json_take_hex(const json_t *value, struct buf *bytes)
{
    const char *hex = json_string_value(value);
    size_t length = json_string_length(value);
    if (hex == NULL || length % 2 != 0)
        return false;
    for (size_t i = 0; i < length; i += 2) {
        int high = hex_digit(hex[i]), low = hex_digit(hex[i + 1]);
        if (high < 0 || low < 0)
            return false;
        buf_char(bytes, (char)(high << 4 | low));
    }
    return true;
}

static json_t *text_to_json(const char *text)
{
    if (text == NULL)
        return json_string("");
    size_t length = strlen(text);
    if (utf8_valid(text, length))
        return json_stringn(text, length);
    json_t *object = json_object();
    document_put(object, "hex", json_hex(text, length));
    return object;
}

static json_t *key_to_json(const char *key)
{
    return key[0] != '\0' ? json_string(key) : json_null();
}

static json_t *real_to_json(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *field_to_json(const struct field *field, const void *from)
{
    const char *at = (const char *)from + field->offset;
    switch (field->kind) {
    case FIELD_TEXT:
        return text_to_json(*(const char *const *)(const void *)at);
    case FIELD_KEY:
        return key_to_json(at);
    case FIELD_TIME:
        return json_string(at);
    case FIELD_INT64:
        return json_integer(*(const int64_t *)(const void *)at);
    case FIELD_INT:
        return json_integer(*(const int *)(const void *)at);
    case FIELD_REAL:
        return real_to_json(*(const double *)(const void *)at);
    case FIELD_BOOL:
        return json_boolean(*(const bool *)at);
    case FIELD_WORD:
        break;
    }
    unsigned word;
    memcpy(&word, at, sizeof word);
    return json_string(field->words[word]);
}

void fields_to_json(json_t *object, const struct field *fields, const void *from)
{
    for (const struct field *field = fields; field->name != NULL; field++)
        document_put(object, field->name, field_to_json(field, from));
}

static enum status fault(const struct field *field, const char *expected, struct err *err)
{
    return err_set(err, STATUS_BAD_INPUT, "'%s' is missing or is not %s", field->name, expected);
}

static enum status take_text(const struct field *field, const json_t *value, void *at,
                             struct err *err)
{
    char **text = at;
    if (json_is_string(value)) {
        *text = mem_strndup(json_string_value(value), json_string_length(value));
        return STATUS_OK;
    }
    struct buf bytes = {0};
    bool taken = json_take_hex(json_object_get(value, "hex"), &bytes) &&
                 memchr(buf_string(&bytes), '\0', bytes.length) == NULL;
    if (taken)
        *text = mem_strdup(buf_string(&bytes));
    buf_clear(&bytes);
    return taken ? STATUS_OK : fault(field, "a text", err);
}

static enum status take_key(const struct field *field, const json_t *value, char *at,
                            struct err *err)
{
    if (!field->needed && json_is_null(value))
        return STATUS_OK;
    const char *key = json_string_value(value);
    if (key == NULL || !record_key_valid(key))
        return fault(field, "a key like 0f8b2c1e-6a53-4d7b-9c3e-1f2a4b5c6d7e", err);
    memcpy(at, key, RECORD_KEY_MAX);
    return STATUS_OK;
}

static enum status take_time(const struct field *field, const json_t *value, char *at,
                             struct err *err)
{
    const char *time = json_string_value(value);
    if (time == NULL || !record_time_valid(time))
        return fault(field, "a time like 2026-11-25T09:20:05Z", err);
    (void)snprintf(at, RECORD_TIME_MAX, "%s", time);
    return STATUS_OK;
}

static enum status take_real(const struct field *field, const json_t *value, double *at,
                             struct err *err)
{
    if (!field->needed && json_is_null(value)) {
        *at = (double)NAN;
        return STATUS_OK;
    }
    if (!json_is_number(value))
        return fault(field, "a number", err);
    *at = json_number_value(value);
    return STATUS_OK;
}

static enum status take_word(const struct field *field, const json_t *value, void *at,
                             struct err *err)
{
    const char *text = json_string_value(value);
    for (unsigned i = 0; text != NULL && text[0] != '\0' && field->words[i] != NULL; i++) {
        if (strcmp(field->words[i], text) == 0) {
            memcpy(at, &i, sizeof i);
            return STATUS_OK;
        }
    }
    return fault(field, "one of the words that are known here", err);
}

enum status json_take_int(const json_t *value, const char *name, int64_t low, int64_t high,
                          int64_t *taken, struct err *err)
{
    if (!json_is_integer(value))
        return err_set(err, STATUS_BAD_INPUT, "'%s' is missing or is not a whole number", name);
    *taken = json_integer_value(value);
    if (*taken < low || *taken > high)
        return err_set(err, STATUS_BAD_INPUT,
                       "'%s' is %" PRId64 ", outside of %" PRId64 " to %" PRId64, name, *taken, low,
                       high);
    return STATUS_OK;
}

static enum status take_int(const struct field *field, const json_t *value, int *at,
                            struct err *err)
{
    int64_t taken;
    enum status status = json_take_int(value, field->name, INT_MIN, INT_MAX, &taken, err);
    if (status == STATUS_OK)
        *at = (int)taken;
    return status;
}

static enum status take_bool(const struct field *field, const json_t *value, bool *at,
                             struct err *err)
{
    if (!json_is_boolean(value))
        return fault(field, "true or false", err);
    *at = json_boolean_value(value);
    return STATUS_OK;
}

static enum status take_field(const struct field *field, const json_t *value, void *to,
                              struct err *err)
{
    void *at = (char *)to + field->offset;
    switch (field->kind) {
    case FIELD_TEXT:
        return take_text(field, value, at, err);
    case FIELD_KEY:
        return take_key(field, value, at, err);
    case FIELD_TIME:
        return take_time(field, value, at, err);
    case FIELD_INT64:
        return json_take_int(value, field->name, 0, INT64_MAX, at, err);
    case FIELD_INT:
        return take_int(field, value, at, err);
    case FIELD_REAL:
        return take_real(field, value, at, err);
    case FIELD_BOOL:
        return take_bool(field, value, at, err);
    case FIELD_WORD:
        break;
    }
    return take_word(field, value, at, err);
}

enum status fields_from_json(const json_t *object, const struct field *fields, void *to,
                             struct err *err)
{
    enum status status = STATUS_OK;
    for (const struct field *field = fields; status == STATUS_OK && field->name != NULL; field++)
        status = take_field(field, json_object_get(object, field->name), to, err);
    return status;
}

enum status json_take_array(const json_t *object, const char *name, json_t **array, struct err *err)
{
    *array = json_object_get(object, name);
    if (!json_is_array(*array))
        return err_set(err, STATUS_BAD_INPUT, "'%s' is missing or is not a list", name);
    return STATUS_OK;
}
