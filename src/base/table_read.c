/* Reading the rows of a table. The common cell (a bare number up to the next separator) takes the
 * short way through read_number; everything else goes through table_cell. */
#include "base/mem.h"
#include "base/number.h"
#include "base/table_private.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SHOWN_MAX = 40 };

struct reader {
    const struct table *table;
    struct table_column *columns;
    size_t n_columns;
    struct table_column **wanted; /* by column of the file; NULL where nobody wants it */
    size_t n_planned;             /* columns of the file up to the last wanted one */
    const char *end;
    char separator, mark;
    bool mark_decided;
    unsigned flags;
    size_t line;
    size_t capacity;
    struct table_rows *rows;
    struct buf *texts;     /* by index in columns: the NUL-terminated texts so far */
    size_t **text_offsets; /* by index in columns */
};

/* Why a row can't be taken: the cell, and what is wrong with it. */
struct fault {
    const char *at; /* where the cell starts; NULL for a fault of the whole row */
    size_t column;
    const char *what;
};

static bool ends_cell(const struct reader *reader, const char *at)
{
    return *at == reader->separator || *at == '\n' || at == reader->end;
}

static const char *next_line(const struct reader *reader, const char *at)
{
    const char *feed = memchr(at, '\n', (size_t)(reader->end - at));
    return feed != NULL ? feed + 1 : reader->end;
}

/* A cell with blanks, quotes or nothing in it. Returns where it stops, NULL for a fault. */
static const char *read_odd_number(struct reader *reader, struct table_column *column,
                                   const char *at, struct fault *fault)
{
    struct cell cell = table_cell(at, reader->end, reader->separator);
    double *value = &column->number[reader->rows->n];
    *fault = (struct fault){at, column->column, "is no number"};
    if (!cell.closed)
        fault->what = "is no number: the quote is not closed";
    else if (cell.text.at == cell.text.end)
        fault->what = "the cell is empty";
    if (!cell.closed)
        return NULL;
    if (cell.text.at == cell.text.end) {
        *value = NAN;
        return column->may_be_empty ? cell.stop : NULL;
    }
    return number_scan(cell.text.at, cell.text.end, reader->mark, value) == cell.text.end
               ? cell.stop
               : NULL;
}

static inline const char *read_number(struct reader *reader, struct table_column *column,
                                      const char *at, struct fault *fault)
{
    const char *stop = number_scan(at, reader->end, reader->mark, &column->number[reader->rows->n]);
    if (stop != NULL && ends_cell(reader, stop))
        return stop;
    if (stop != NULL && stop[0] == '\r' && stop[1] == '\n')
        return stop + 1;
    return read_odd_number(reader, column, at, fault);
}

static const char *read_text(struct reader *reader, struct table_column *column, const char *at,
                             struct fault *fault)
{
    struct cell cell = table_cell(at, reader->end, reader->separator);
    *fault = (struct fault){at, column->column, "the quote is not closed"};
    if (!cell.closed)
        return NULL;
    size_t i = (size_t)(column - reader->columns);
    reader->text_offsets[i][reader->rows->n] = reader->texts[i].length;
    table_cell_text(&reader->texts[i], &cell);
    buf_char(&reader->texts[i], '\0');
    return cell.stop;
}

/* What stands behind the last wanted cell: more cells, but none beyond the header's that holds
 * something. `at` is behind n_before separators. Returns the start of the next row or NULL. */
static const char *finish_row(struct reader *reader, const char *at, size_t n_before,
                              struct fault *fault)
{
    for (;;) {
        if (at == reader->end)
            return at;
        if (*at == '\n')
            return at + 1;
        struct cell cell = table_cell(at, reader->end, reader->separator);
        if (n_before >= reader->table->n_columns && cell.text.at < cell.text.end) {
            *fault = (struct fault){NULL, 0, NULL};
            return NULL;
        }
        at = cell.stop + (*cell.stop == reader->separator && cell.stop < reader->end);
        n_before++;
    }
}

static const char *read_row(struct reader *reader, const char *at, struct fault *fault)
{
    for (size_t c = 0; c < reader->n_planned; c++) {
        struct table_column *column = reader->wanted[c];
        if (column == NULL)
            at = table_cell(at, reader->end, reader->separator).stop;
        else if (column->kind == TABLE_NUMBER)
            at = read_number(reader, column, at, fault);
        else
            at = read_text(reader, column, at, fault);
        if (at == NULL)
            return NULL;
        at += *at == reader->separator;
    }
    return finish_row(reader, at, reader->n_planned, fault);
}

/* A line without anything, or of separators alone (spreadsheets write those). */
static bool is_blank_row(const struct reader *reader, const char *at)
{
    while (at < reader->end && (*at == reader->separator || *at == ' ' || *at == '\t'))
        at++;
    if (*at == '\r')
        at++;
    return at == reader->end || *at == '\n';
}

static size_t count_cells(const struct reader *reader, const char *at)
{
    for (size_t n = 1;; n++) {
        at = table_cell(at, reader->end, reader->separator).stop;
        if (at == reader->end || *at == '\n')
            return n;
        at++;
    }
}

static enum status too_many_cells(const struct reader *reader, const char *row, struct err *err)
{
    return err_set(err, STATUS_BAD_INPUT, "%s:%zu: the row has %zu cells where the %s has %zu%s",
                   reader->table->name, reader->line, count_cells(reader, row),
                   reader->table->has_header ? "header" : "first row", reader->table->n_columns,
                   reader->separator == ','
                       ? "; a decimal comma needs a semicolon or a tab between the columns"
                       : "");
}

/* "file:line: column 'force_lbf' (2): '12,5x' is no number" */
static enum status bad_cell(const struct reader *reader, const struct fault *fault, struct err *err)
{
    const struct table *table = reader->table;
    struct cell cell = table_cell(fault->at, reader->end, reader->separator);
    size_t length = (size_t)(cell.text.end - cell.text.at);
    char column[80];
    (void)snprintf(column, sizeof column,
                   table->has_header ? "column '%.60s' (%zu)" : "column %s%zu",
                   table->column_names[fault->column], fault->column + 1);
    if (length == 0)
        return err_set(err, STATUS_BAD_INPUT, "%s:%zu: %s: %s", table->name, reader->line, column,
                       fault->what);
    bool comma = memchr(cell.text.at, ',', length) != NULL;
    return err_set(err, STATUS_BAD_INPUT, "%s:%zu: %s: '%.*s%s' %s%s", table->name, reader->line,
                   column, (int)(length < SHOWN_MAX ? length : SHOWN_MAX), cell.text.at,
                   length > SHOWN_MAX ? "..." : "", fault->what,
                   comma && reader->separator == ','
                       ? "; a decimal comma needs a semicolon or a tab between the columns, and "
                         "thousands are not grouped"
                       : "");
}

/* What the number cells of a file say about its decimal mark: how many need a point, how many need
 * a comma, and whether one of these can't be a grouped thousand. */
struct mark_votes {
    size_t n_point, n_comma;
    size_t point_line, comma_line; /* of the first */
    struct span comma_cell;
    bool comma_is_decimal;
};

/* 1,234 and 12,345 and 123,456 could be thousands; 0,123 and 1,23 and 1234,567 could not. */
static bool could_be_thousands(struct span text)
{
    if (*text.at == '-' || *text.at == '+')
        text.at++;
    const char *comma = memchr(text.at, ',', (size_t)(text.end - text.at));
    return comma - text.at >= 1 && comma - text.at <= 3 && *text.at != '0' && text.end - comma == 4;
}

static void vote(struct mark_votes *votes, struct span text, size_t line)
{
    double ignored;
    size_t length = (size_t)(text.end - text.at);
    if (length == 0)
        return;
    if (memchr(text.at, '.', length) != NULL) {
        if (number_scan(text.at, text.end, '.', &ignored) == text.end && votes->n_point++ == 0)
            votes->point_line = line;
    } else if (memchr(text.at, ',', length) != NULL &&
               number_scan(text.at, text.end, ',', &ignored) == text.end) {
        if (votes->n_comma++ == 0) {
            votes->comma_line = line;
            votes->comma_cell = text;
        }
        votes->comma_is_decimal = votes->comma_is_decimal || !could_be_thousands(text);
    }
}

static struct mark_votes count_votes(const struct reader *reader)
{
    struct mark_votes votes = {0};
    size_t line = reader->table->first_line;
    const char *at = reader->table->text.text + reader->table->first_row;
    for (; at < reader->end; at = next_line(reader, at), line++) {
        const char *cell_at = at;
        for (size_t c = 0; c < reader->n_planned; c++) {
            struct cell cell = table_cell(cell_at, reader->end, reader->separator);
            if (reader->wanted[c] != NULL && reader->wanted[c]->kind == TABLE_NUMBER)
                vote(&votes, cell.text, line);
            cell_at = cell.stop;
            if (cell_at == reader->end || *cell_at == '\n')
                break;
            cell_at++;
        }
    }
    return votes;
}

/* Decides over the whole file. Only called where the separator is no comma. */
static enum status decide_mark(struct reader *reader, struct err *err)
{
    reader->mark_decided = true;
    struct mark_votes votes = count_votes(reader);
    const char *name = reader->table->name;
    int shown = (int)(votes.comma_cell.end - votes.comma_cell.at);
    if (votes.n_comma == 0)
        return STATUS_OK;
    if (votes.n_point > 0)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: line %zu has a decimal point and line %zu a comma ('%.*s'): use one "
                       "decimal mark in the whole file",
                       name, votes.point_line, votes.comma_line, shown, votes.comma_cell.at);
    if (!votes.comma_is_decimal)
        return err_set(
            err, STATUS_BAD_INPUT,
            "%s:%zu: '%.*s' can be read as a decimal comma or as a thousand, and nothing "
            "in the file tells which; write it with a decimal point",
            name, votes.comma_line, shown, votes.comma_cell.at);
    reader->mark = ',';
    return STATUS_OK;
}

static void grow(struct reader *reader)
{
    reader->capacity = mem_grown(reader->capacity, reader->rows->n + 1);
    for (size_t i = 0; i < reader->n_columns; i++) {
        struct table_column *column = &reader->columns[i];
        if (column->kind == TABLE_NUMBER)
            column->number = mem_realloc(column->number, reader->capacity, sizeof(double));
        else
            reader->text_offsets[i] =
                mem_realloc(reader->text_offsets[i], reader->capacity, sizeof(size_t));
    }
    if (reader->flags & TABLE_KEEP_LINES)
        reader->rows->line = mem_realloc(reader->rows->line, reader->capacity, sizeof(size_t));
}

/* A row that could not be taken: reported, or counted and left out. */
static enum status refuse_row(struct reader *reader, const char *row, const struct fault *fault,
                              struct err *err)
{
    struct err message;
    enum status status = fault->at == NULL ? too_many_cells(reader, row, &message)
                                           : bad_cell(reader, fault, &message);
    if (!(reader->flags & TABLE_SKIP_BAD_ROWS))
        return err_set(err, status, "%s" TABLE_SKIP_HINT, message.text);
    if (reader->rows->n_bad++ == 0)
        reader->rows->first_bad = message;
    return STATUS_OK;
}

/* One pass over the rows with the mark as it is. *again is set where the mark has been decided
 * anew and the rows must be read from the start. */
static enum status read_rows(struct reader *reader, bool *again, struct err *err)
{
    struct fault fault = {0};
    const char *at = reader->table->text.text + reader->table->first_row;
    reader->line = reader->table->first_line;
    for (; at < reader->end; reader->line++) {
        if (reader->rows->n == reader->capacity)
            grow(reader);
        const char *row = at;
        at = is_blank_row(reader, row) ? NULL : read_row(reader, row, &fault);
        if (at != NULL) {
            if (reader->rows->line != NULL)
                reader->rows->line[reader->rows->n] = reader->line;
            reader->rows->n++;
            continue;
        }
        at = next_line(reader, row);
        if (is_blank_row(reader, row))
            continue;
        if (reader->separator != ',' && !reader->mark_decided) {
            enum status status = decide_mark(reader, err);
            *again = status == STATUS_OK && reader->mark == ',';
            if (status != STATUS_OK || *again)
                return status;
        }
        enum status status = refuse_row(reader, row, &fault, err);
        if (status != STATUS_OK)
            return status;
    }
    return STATUS_OK;
}

static void start_over(struct reader *reader)
{
    reader->rows->n = reader->rows->n_bad = 0;
    for (size_t i = 0; i < reader->n_columns; i++)
        reader->texts[i].length = 0;
}

/* Turns the offsets, which stay right while the bytes move, into pointers. */
static void settle_texts(struct reader *reader)
{
    for (size_t i = 0; i < reader->n_columns; i++) {
        struct table_column *column = &reader->columns[i];
        if (column->kind != TABLE_TEXT)
            continue;
        column->text_bytes = reader->texts[i].text;
        reader->texts[i] = (struct buf){0};
        column->text = mem_calloc(reader->rows->n, sizeof *column->text);
        for (size_t row = 0; row < reader->rows->n; row++)
            column->text[row] = column->text_bytes + reader->text_offsets[i][row];
    }
}

static void plan(struct reader *reader)
{
    const struct table *table = reader->table;
    reader->wanted = mem_calloc(table->n_columns, sizeof(struct table_column *));
    reader->texts = mem_calloc(reader->n_columns, sizeof(struct buf));
    reader->text_offsets = mem_calloc(reader->n_columns, sizeof(size_t *));
    for (size_t i = 0; i < reader->n_columns; i++) {
        size_t c = reader->columns[i].column;
        assert(c < table->n_columns && reader->wanted[c] == NULL);
        reader->wanted[c] = &reader->columns[i];
        if (c >= reader->n_planned)
            reader->n_planned = c + 1;
    }
    /* A first guess that is right where the rows are alike saves copying. */
    const char *first = table->text.text + table->first_row;
    size_t row_length = (size_t)(next_line(reader, first) - first);
    reader->capacity = row_length > 0 ? (size_t)(reader->end - first) / row_length : 0;
}

static void unplan(struct reader *reader)
{
    for (size_t i = 0; i < reader->n_columns; i++) {
        buf_clear(&reader->texts[i]);
        free(reader->text_offsets[i]);
    }
    free(reader->texts);
    free(reader->text_offsets);
    free(reader->wanted);
}

enum status table_read(const struct table *table, struct table_column *columns, size_t n_columns,
                       unsigned flags, struct table_rows *rows, struct err *err)
{
    *rows = (struct table_rows){0};
    for (size_t i = 0; i < n_columns; i++)
        columns[i] = (struct table_column){.column = columns[i].column,
                                           .kind = columns[i].kind,
                                           .may_be_empty = columns[i].may_be_empty};
    struct reader reader = {.table = table,
                            .columns = columns,
                            .n_columns = n_columns,
                            .end = table->text.text + table->text.length,
                            .separator = table->separator,
                            .mark = '.',
                            .flags = flags,
                            .rows = rows};
    plan(&reader);
    grow(&reader);
    bool again = false;
    enum status status = read_rows(&reader, &again, err);
    if (status == STATUS_OK && again) {
        start_over(&reader);
        status = read_rows(&reader, &again, err);
    }
    if (status == STATUS_OK)
        settle_texts(&reader);
    unplan(&reader);
    if (status != STATUS_OK)
        table_rows_clear(rows, columns, n_columns);
    return status;
}

void table_rows_clear(struct table_rows *rows, struct table_column *columns, size_t n_columns)
{
    for (size_t i = 0; i < n_columns; i++) {
        free(columns[i].number);
        free(columns[i].text);
        free(columns[i].text_bytes);
        columns[i].number = NULL;
        columns[i].text = NULL;
        columns[i].text_bytes = NULL;
    }
    free(rows->line);
    *rows = (struct table_rows){0};
}
