/* Opening a table: notes, separator, header. Rows: table_read.c. */
#include "base/table.h"
#include "base/mem.h"
#include "base/number.h"
#include "base/table_private.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

static bool is_blank(char c, char separator)
{
    return (c == ' ' || c == '\t' || c == '\r') && c != separator;
}

static struct span trimmed(struct span span, char separator)
{
    while (span.at < span.end && is_blank(*span.at, separator))
        span.at++;
    while (span.end > span.at && is_blank(span.end[-1], separator))
        span.end--;
    return span;
}

static const char *line_end(const char *at, const char *end)
{
    const char *feed = memchr(at, '\n', (size_t)(end - at));
    return feed != NULL ? feed : end;
}

struct cell table_cell(const char *at, const char *end, char separator)
{
    struct cell cell = {.closed = true};
    while (at < end && is_blank(*at, separator))
        at++;
    const char *stop = at;
    cell.quoted = at < end && *at == '"';
    if (cell.quoted) {
        stop++;
        while (stop < end && *stop != '\n' && (*stop != '"' || (stop[1] == '"' && stop + 1 < end)))
            stop += *stop == '"' ? 2 : 1;
        cell.text = (struct span){at + 1, stop};
        cell.closed = stop < end && *stop == '"';
        stop += cell.closed;
    }
    const char *behind = stop;
    while (stop < end && *stop != separator && *stop != '\n')
        stop++;
    cell.stop = stop;
    struct span rest = trimmed((struct span){behind, stop}, separator);
    if (cell.quoted && rest.at < rest.end)
        cell.closed = false;
    if (!cell.quoted || !cell.closed)
        cell.text = trimmed((struct span){at, stop}, separator);
    return cell;
}

void table_cell_text(struct buf *out, const struct cell *cell)
{
    const char *at = cell->text.at;
    while (cell->quoted && cell->closed) {
        const char *quote = memchr(at, '"', (size_t)(cell->text.end - at));
        if (quote == NULL)
            break;
        buf_add(out, at, (size_t)(quote + 1 - at));
        at = quote + 2;
    }
    buf_add(out, at, (size_t)(cell->text.end - at));
}

static void add_note(struct table *table, struct span line)
{
    line.at++; /* the # */
    const char *colon = memchr(line.at, ':', (size_t)(line.end - line.at));
    if (colon == NULL)
        return;
    struct span key = trimmed((struct span){line.at, colon}, '\0');
    struct span value = trimmed((struct span){colon + 1, line.end}, '\0');
    table->notes = mem_realloc(table->notes, table->n_notes + 1, sizeof *table->notes);
    table->notes[table->n_notes++] =
        (struct table_note){mem_strndup(key.at, (size_t)(key.end - key.at)),
                            mem_strndup(value.at, (size_t)(value.end - value.at))};
}

/* Reads notes and blank lines; returns the first line that is neither, trimmed, and in *line its
 * number. An empty span where the file ends first. */
static struct span read_notes(struct table *table, const char *at, const char *end, size_t *line)
{
    for (; at < end; (*line)++) {
        const char *feed = line_end(at, end);
        struct span text = trimmed((struct span){at, feed}, '\0');
        bool note = text.at < text.end && *text.at == '#';
        while (!note && text.at < text.end && strchr(",; \t", *text.at) != NULL)
            text.at++;
        if (note)
            add_note(table, text);
        else if (text.at < text.end)
            return (struct span){at, feed};
        at = feed + (feed < end);
    }
    return (struct span){end, end};
}

static size_t count_outside_quotes(struct span line, char wanted)
{
    size_t n = 0;
    bool quoted = false;
    for (const char *at = line.at; at < line.end; at++) {
        quoted ^= *at == '"';
        n += !quoted && *at == wanted;
    }
    return n;
}

/* The separator stands in the header and in the first row. Tab and semicolon go before the comma,
 * which may be a decimal mark or part of a name. */
static char find_separator(struct span header, struct span row)
{
    static const char candidates[] = {'\t', ';', ','};
    for (size_t i = 0; i < sizeof candidates; i++)
        if (count_outside_quotes(header, candidates[i]) > 0 &&
            count_outside_quotes(row, candidates[i]) > 0)
            return candidates[i];
    for (size_t i = 0; i < sizeof candidates; i++)
        if (count_outside_quotes(header, candidates[i]) > 0)
            return candidates[i];
    return ',';
}

static bool is_number(const struct span *text)
{
    double ignored;
    return number_scan(text->at, text->end, '.', &ignored) == text->end ||
           number_scan(text->at, text->end, ',', &ignored) == text->end;
}

/* Takes the names of the columns from the first line; a line of numbers alone is no header. */
static void read_header(struct table *table, struct span line)
{
    size_t capacity = 0, n_last = 0;
    bool all_numbers = true;
    const char *at = line.at;
    for (;;) {
        struct cell cell = table_cell(at, line.end, table->separator);
        if (table->n_columns == capacity) {
            capacity = mem_grown(capacity, table->n_columns + 1);
            table->column_names = mem_realloc(table->column_names, capacity, sizeof(char *));
        }
        struct buf name = {0};
        table_cell_text(&name, &cell);
        all_numbers = all_numbers && (name.length == 0 || is_number(&cell.text));
        table->column_names[table->n_columns++] = mem_strdup(buf_string(&name));
        if (name.length > 0)
            n_last = table->n_columns;
        buf_clear(&name);
        if (cell.stop >= line.end)
            break;
        at = cell.stop + 1;
    }
    table->has_header = !all_numbers;
    while (table->n_columns > n_last)
        free(table->column_names[--table->n_columns]);
    for (size_t i = 0; all_numbers && i < table->n_columns; i++)
        table->column_names[i][0] = '\0';
}

/* A table is text; say so where it is something else that people pass by mistake. */
static enum status check_is_text(const struct table *table, struct err *err)
{
    const char *text = buf_string(&table->text);
    size_t n = table->text.length < 4096 ? table->text.length : 4096;
    if (n >= 2 && (memcmp(text, "\xFF\xFE", 2) == 0 || memcmp(text, "\xFE\xFF", 2) == 0))
        return err_set(err, STATUS_BAD_INPUT, "%s: is UTF-16 text; save it again as CSV in UTF-8",
                       table->name);
    if (memchr(text, '\0', n) != NULL)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: is not text; a table is a CSV file, save a spreadsheet as CSV",
                       table->name);
    const char *carriage = memchr(text, '\r', n);
    if (carriage != NULL && memchr(text, '\n', table->text.length) == NULL)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: its lines end with CR alone; save it with LF or CRLF", table->name);
    return STATUS_OK;
}

static enum status read_top(struct table *table, struct err *err)
{
    enum status status = check_is_text(table, err);
    if (status != STATUS_OK)
        return status;
    const char *at = buf_string(&table->text), *end = at + table->text.length;
    if (table->text.length >= 3 && memcmp(at, "\xEF\xBB\xBF", 3) == 0)
        at += 3;
    size_t line = 1;
    struct span first = read_notes(table, at, end, &line);
    if (first.at == end)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: holds no table; a header such as draw_in,force_lbf is looked for",
                       table->name);
    const char *second = first.end + (first.end < end);
    table->separator = find_separator(first, (struct span){second, line_end(second, end)});
    read_header(table, first);
    const char *rows = table->has_header ? second : first.at;
    table->first_row = (size_t)(rows - table->text.text);
    table->first_line = line + table->has_header;
    return STATUS_OK;
}

enum status table_open_text(struct table **out, const char *name, struct buf *text, struct err *err)
{
    struct table *table = mem_calloc(1, sizeof *table);
    table->name = mem_strdup(strcmp(name, "-") == 0 ? "standard input" : name);
    table->text = *text;
    *text = (struct buf){0};
    enum status status = read_top(table, err);
    *out = status == STATUS_OK ? table : NULL;
    if (status != STATUS_OK)
        table_close(table);
    return status;
}

enum status table_open(struct table **table, const char *path, struct err *err)
{
    *table = NULL;
    struct buf text = {0};
    enum status status = buf_read_file(&text, path, err);
    return status != STATUS_OK ? status : table_open_text(table, path, &text, err);
}

void table_close(struct table *table)
{
    if (table == NULL)
        return;
    for (size_t i = 0; i < table->n_notes; i++) {
        free(table->notes[i].key);
        free(table->notes[i].value);
    }
    for (size_t i = 0; i < table->n_columns; i++)
        free(table->column_names[i]);
    free(table->notes);
    free(table->column_names);
    free(table->name);
    buf_clear(&table->text);
    free(table);
}

const char *table_name(const struct table *table)
{
    return table->name;
}

const char *table_note(const struct table *table, const char *key)
{
    for (size_t i = table->n_notes; i-- > 0;)
        if (strcasecmp(table->notes[i].key, key) == 0)
            return table->notes[i].value;
    return NULL;
}

size_t table_n_notes(const struct table *table)
{
    return table->n_notes;
}

void table_note_at(const struct table *table, size_t i, const char **key, const char **value)
{
    *key = table->notes[i].key;
    *value = table->notes[i].value;
}

bool table_has_header(const struct table *table)
{
    return table->has_header;
}

size_t table_n_columns(const struct table *table)
{
    return table->n_columns;
}

const char *table_column_name(const struct table *table, size_t column)
{
    return table->column_names[column];
}

bool table_find(const struct table *table, const char *name, size_t *column)
{
    for (size_t i = 0; table->has_header && i < table->n_columns; i++) {
        if (strcasecmp(table->column_names[i], name) == 0) {
            *column = i;
            return true;
        }
    }
    return false;
}

static enum status no_such_column(const struct table *table, const char *name, struct err *err)
{
    if (!table->has_header)
        return err_set(
            err, STATUS_BAD_INPUT,
            "%s:%zu: there is no header, so column '%s' can't be found by name; give its "
            "number (1 to %zu)",
            table->name, table->first_line, name, table->n_columns);
    struct buf there = {0};
    for (size_t i = 0; i < table->n_columns; i++)
        buf_printf(&there, "%s%s", i > 0 ? ", " : "", table->column_names[i]);
    err_set(err, STATUS_BAD_INPUT, "%s: there is no column '%s'; there are %zu: %.300s",
            table->name, name, table->n_columns, buf_string(&there));
    buf_clear(&there);
    return STATUS_BAD_INPUT;
}

enum status table_column(const struct table *table, const char *name, size_t *column,
                         struct err *err)
{
    int64_t number;
    bool all_digits = name[0] != '\0' && strspn(name, "0123456789") == strlen(name);
    if (all_digits && number_parse_int(name, &number)) {
        if (number < 1 || (uint64_t)number > table->n_columns)
            return no_such_column(table, name, err);
        *column = (size_t)number - 1;
        return STATUS_OK;
    }
    if (!table_find(table, name, column))
        return no_such_column(table, name, err);
    for (size_t i = *column + 1; i < table->n_columns; i++)
        if (strcasecmp(table->column_names[i], name) == 0)
            return err_set(err, STATUS_BAD_INPUT,
                           "%s: the name '%s' stands over columns %zu and %zu; give the number of "
                           "the one that is meant",
                           table->name, name, *column + 1, i + 1);
    return STATUS_OK;
}
