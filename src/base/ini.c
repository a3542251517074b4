#include "base/ini.h"
#include "base/buf.h"
#include "base/mem.h"
#include "base/number.h"
#include "base/utf8.h"

#include <ini.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct entry {
    char *section;
    char *key;
    char *value;
    size_t line;
    bool asked_for;
};

struct ini {
    char *path;
    struct entry *entries;
    size_t n;
    size_t capacity;
};

/* What the library's callbacks share while a file is read. The library build in Debian does not
 * hand line numbers on, but it asks for each line through feed_line, so they are counted here. */
struct reading {
    struct ini *ini;
    const char *at;
    size_t line;
    bool continued; /* the line began with a blank */
    struct err *err;
    enum status status;
};

static char *feed_line(char *line, int size, void *user)
{
    struct reading *reading = user;
    if (*reading->at == '\0' || reading->status != STATUS_OK)
        return NULL;
    size_t length = strcspn(reading->at, "\n");
    reading->line++;
    reading->continued = reading->at[0] == ' ' || reading->at[0] == '\t';
    if (length + 2 > (size_t)size) {
        reading->status = err_set(reading->err, STATUS_BAD_INPUT,
                                  "%s:%zu: the line is longer than %d characters; break it (a line "
                                  "that begins with a blank goes on with the one before)",
                                  reading->ini->path, reading->line, size - 2);
        return NULL;
    }
    memcpy(line, reading->at, length);
    line[length] = '\n';
    line[length + 1] = '\0';
    reading->at += length + (reading->at[length] == '\n');
    return line;
}

static struct entry *find(const struct ini *ini, const char *section, const char *key)
{
    for (size_t i = 0; i < ini->n; i++)
        if (strcmp(ini->entries[i].section, section) == 0 && strcmp(ini->entries[i].key, key) == 0)
            return &ini->entries[i];
    return NULL;
}

static void go_on(struct entry *entry, const char *more)
{
    size_t old = strlen(entry->value), add = strlen(more);
    entry->value = mem_realloc(entry->value, old + add + 2, 1);
    entry->value[old] = ' ';
    memcpy(entry->value + old + 1, more, add + 1);
}

static int take_entry(void *user, const char *section, const char *key, const char *value)
{
    struct reading *reading = user;
    struct ini *ini = reading->ini;
    struct entry *earlier = find(ini, section, key);
    if (earlier != NULL && reading->continued) {
        go_on(earlier, value);
        return 1;
    }
    if (reading->status == STATUS_OK && section[0] == '\0')
        reading->status = err_set(reading->err, STATUS_BAD_INPUT,
                                  "%s:%zu: '%s' stands before the first [section]", ini->path,
                                  reading->line, key);
    if (reading->status == STATUS_OK && earlier != NULL)
        reading->status =
            err_set(reading->err, STATUS_BAD_INPUT,
                    "%s:%zu: '%s' is set again in [%s]; it stands in line %zu already", ini->path,
                    reading->line, key, section, earlier->line);
    if (reading->status != STATUS_OK)
        return 0;
    if (ini->n == ini->capacity) {
        ini->capacity = mem_grown(ini->capacity, ini->n + 1);
        ini->entries = mem_realloc(ini->entries, ini->capacity, sizeof *ini->entries);
    }
    ini->entries[ini->n++] = (struct entry){.section = mem_strdup(section),
                                            .key = mem_strdup(key),
                                            .value = mem_strdup(value),
                                            .line = reading->line};
    return 1;
}

static enum status parse(struct ini *ini, const struct buf *text, struct err *err)
{
    if (!utf8_valid(buf_string(text), text->length) || strlen(buf_string(text)) != text->length)
        return err_set(err, STATUS_BAD_INPUT, "%s: is not UTF-8 text; is it a settings file?",
                       ini->path);
    struct reading reading = {.ini = ini, .at = buf_string(text), .err = err};
    int first_bad_line = ini_parse_stream(feed_line, &reading, take_entry, &reading);
    /* nothing is read behind a fault of ours, so the library's may only be an earlier one */
    if (first_bad_line > 0 &&
        (reading.status == STATUS_OK || (size_t)first_bad_line < reading.line))
        reading.status = err_set(err, STATUS_BAD_INPUT,
                                 "%s:%d: is neither a [section] nor a key = value nor a ; comment",
                                 ini->path, first_bad_line);
    return reading.status;
}

enum status ini_open(struct ini **out, const char *path, struct err *err)
{
    *out = NULL;
    struct buf text = {0};
    enum status status = buf_read_file(&text, path, err);
    if (status != STATUS_OK)
        return status;
    struct ini *ini = mem_calloc(1, sizeof *ini);
    ini->path = mem_strdup(path);
    status = parse(ini, &text, err);
    buf_clear(&text);
    if (status == STATUS_OK)
        *out = ini;
    else
        ini_close(ini);
    return status;
}

void ini_close(struct ini *ini)
{
    if (ini == NULL)
        return;
    for (size_t i = 0; i < ini->n; i++) {
        free(ini->entries[i].section);
        free(ini->entries[i].key);
        free(ini->entries[i].value);
    }
    free(ini->entries);
    free(ini->path);
    free(ini);
}

const char *ini_text(struct ini *ini, const char *section, const char *key)
{
    struct entry *entry = find(ini, section, key);
    if (entry == NULL)
        return NULL;
    entry->asked_for = true;
    return entry->value;
}

size_t ini_line(const struct ini *ini, const char *section, const char *key)
{
    const struct entry *entry = find(ini, section, key);
    return entry != NULL ? entry->line : 0;
}

bool ini_has_section(const struct ini *ini, const char *section)
{
    for (size_t i = 0; i < ini->n; i++)
        if (strcmp(ini->entries[i].section, section) == 0)
            return true;
    return false;
}

enum status ini_fault(const struct ini *ini, const char *section, const char *key, struct err *err,
                      const char *format, ...)
{
    char what[512];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    size_t line = ini_line(ini, section, key);
    if (line == 0)
        return err_set(err, STATUS_BAD_INPUT, "%s: [%s] %s: %s", ini->path, section, key, what);
    return err_set(err, STATUS_BAD_INPUT, "%s:%zu: [%s] %s: %s", ini->path, line, section, key,
                   what);
}

enum status ini_quantity(struct ini *ini, const char *section, const char *key,
                         enum quantity quantity, enum unit assumed, double low_si, double high_si,
                         double absent_si, double *value_si, struct err *err)
{
    const char *text = ini_text(ini, section, key);
    if (text == NULL && isnan(absent_si))
        return ini_fault(ini, section, key, err, "is missing and needed");
    double value = absent_si;
    struct err parse_err;
    if (text != NULL &&
        number_parse_quantity(text, quantity, assumed, key, &value, &parse_err) != STATUS_OK)
        return ini_fault(ini, section, key, err, "%s", parse_err.text);
    if (text != NULL && !(value >= low_si && value <= high_si)) {
        char outside[NUMBER_OUTSIDE_MAX];
        return ini_fault(ini, section, key, err, "'%s' %s", text,
                         number_outside(outside, assumed, low_si, high_si));
    }
    *value_si = value;
    return STATUS_OK;
}

enum status ini_int(struct ini *ini, const char *section, const char *key, int64_t low,
                    int64_t high, int64_t absent, int64_t *value, struct err *err)
{
    const char *text = ini_text(ini, section, key);
    int64_t parsed = absent;
    if (text != NULL && !number_parse_int(text, &parsed))
        return ini_fault(ini, section, key, err, "'%s' is not a whole number", text);
    if (text != NULL && (parsed < low || parsed > high))
        return ini_fault(ini, section, key, err, "'%s' is outside of %lld to %lld", text,
                         (long long)low, (long long)high);
    *value = parsed;
    return STATUS_OK;
}

enum status ini_list(struct ini *ini, const char *section, const char *key, double **values,
                     size_t *n, struct err *err)
{
    *values = NULL;
    *n = 0;
    const char *text = ini_text(ini, section, key);
    if (text == NULL)
        return STATUS_OK;
    const char *end = text + strlen(text);
    size_t capacity = 0, count = 0;
    double *list = NULL;
    for (const char *at = text + strspn(text, ", \t"); at < end; at += strspn(at, ", \t")) {
        if (count == capacity) {
            capacity = mem_grown(capacity, count + 1);
            list = mem_realloc(list, capacity, sizeof *list);
        }
        const char *stop = number_scan(at, end, '.', &list[count]);
        if (stop == NULL || (stop < end && strchr(", \t", *stop) == NULL)) {
            free(list);
            return ini_fault(ini, section, key, err, "'%.*s' is not a number",
                             (int)strcspn(at, ", \t"), at);
        }
        count++;
        at = stop;
    }
    *values = list;
    *n = count;
    return STATUS_OK;
}

enum status ini_check_all_known(const struct ini *ini, struct err *err)
{
    for (size_t i = 0; i < ini->n; i++)
        if (!ini->entries[i].asked_for)
            return err_set(err, STATUS_BAD_INPUT,
                           "%s:%zu: [%s] %s: is not a setting known here; check the spelling",
                           ini->path, ini->entries[i].line, ini->entries[i].section,
                           ini->entries[i].key);
    return STATUS_OK;
}
