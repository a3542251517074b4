#include "verbs/raw_table.h"
#include "base/mem.h"
#include "base/number.h"

#include <inttypes.h>
#include <stdint.h>
#include <stdlib.h>

enum raw_column { ARRIVAL, DEVICE, SEQUENCE, FORCE, TRAVEL, FLAGS, N_COLUMNS };

static const struct {
    const char *name;
    bool needed;
    int64_t low, high;
} raw_columns[N_COLUMNS] = {
    [ARRIVAL] = {"arrival_us", true, INT64_MIN, INT64_MAX},
    [DEVICE] = {"device_us", false, INT64_MIN, INT64_MAX},
    [SEQUENCE] = {"sequence", false, 0, UINT32_MAX},
    [FORCE] = {"force_count", true, INT32_MIN, INT32_MAX},
    [TRAVEL] = {"travel_count", true, INT32_MIN, INT32_MAX},
    [FLAGS] = {"flags", false, 0, UINT32_MAX},
};

void raw_table_write(struct buf *out, const struct raw_reading *readings, size_t n)
{
    for (int i = 0; i < N_COLUMNS; i++)
        buf_printf(out, "%s%s", i > 0 ? "," : "", raw_columns[i].name);
    buf_char(out, '\n');
    for (size_t i = 0; i < n; i++)
        buf_printf(out, "%" PRId64 ",%" PRId64 ",%" PRIu32 ",%" PRId32 ",%" PRId32 ",%" PRIu32 "\n",
                   readings[i].arrival_us, readings[i].device_us, readings[i].sequence,
                   readings[i].force_count, readings[i].travel_count, readings[i].flags);
}

bool raw_table_is(const struct table *table)
{
    size_t ignored;
    for (int i = 0; i < N_COLUMNS; i++)
        if (raw_columns[i].needed && !table_find(table, raw_columns[i].name, &ignored))
            return false;
    return true;
}

/* The columns that are there, side by side. */
struct reader {
    const struct table *table;
    struct table_column columns[N_COLUMNS];
    enum raw_column role[N_COLUMNS];
    size_t n_columns;
    uint32_t flags; /* of a table that has no column of them */
};

static enum status find_columns(struct reader *reader, struct err *err)
{
    bool there[N_COLUMNS] = {false};
    for (int i = 0; i < N_COLUMNS; i++) {
        size_t column;
        if (!table_find(reader->table, raw_columns[i].name, &column))
            continue;
        enum status status = table_column(reader->table, raw_columns[i].name, &column, err);
        if (status != STATUS_OK)
            return status;
        there[i] = true;
        reader->role[reader->n_columns] = (enum raw_column)i;
        reader->columns[reader->n_columns++] =
            (struct table_column){.column = column, .kind = TABLE_TEXT};
    }
    reader->flags = RAW_HAS_FORCE | RAW_HAS_TRAVEL | (there[DEVICE] ? RAW_HAS_DEVICE_TIME : 0u) |
                    (there[SEQUENCE] ? RAW_HAS_SEQUENCE : 0u);
    return STATUS_OK;
}

static enum status take_row(const struct reader *reader, const struct table_rows *rows, size_t row,
                            struct raw_reading *reading, struct err *err)
{
    int64_t cells[N_COLUMNS] = {[FLAGS] = reader->flags};
    for (size_t i = 0; i < reader->n_columns; i++) {
        enum raw_column role = reader->role[i];
        const char *text = reader->columns[i].text[row];
        if (!number_parse_int(text, &cells[role]) || cells[role] < raw_columns[role].low ||
            cells[role] > raw_columns[role].high)
            return err_set(err, STATUS_BAD_INPUT,
                           "%s:%zu: column '%s': '%.60s' is not a whole number from %" PRId64
                           " to %" PRId64 "; correct it, or let bad rows be skipped "
                           "(--skip-bad-rows)",
                           table_name(reader->table), rows->line[row], raw_columns[role].name, text,
                           raw_columns[role].low, raw_columns[role].high);
    }
    *reading = (struct raw_reading){
        .arrival_us = cells[ARRIVAL],
        .device_us = cells[DEVICE],
        .sequence = (uint32_t)cells[SEQUENCE],
        .force_count = (int32_t)cells[FORCE],
        .travel_count = (int32_t)cells[TRAVEL],
        .flags = (uint32_t)cells[FLAGS],
    };
    return STATUS_OK;
}

static enum status take_rows(struct raw_table *raw, const struct reader *reader,
                             const struct table_rows *rows, bool skip_bad_rows, struct err *err)
{
    raw->readings = mem_calloc(rows->n, sizeof *raw->readings);
    raw->n_bad = rows->n_bad;
    bool after_bad = false;
    for (size_t i = 0; i < rows->n; i++) {
        struct raw_reading *reading = &raw->readings[raw->n];
        if (take_row(reader, rows, i, reading, err) == STATUS_OK) {
            reading->flags |= after_bad ? RAW_AFTER_GAP : 0u;
            after_bad = false;
            raw->n++;
        } else if (skip_bad_rows) {
            after_bad = true;
            raw->n_bad++;
        } else {
            return STATUS_BAD_INPUT;
        }
    }
    return STATUS_OK;
}

enum status raw_table_read(struct raw_table *raw, const struct table *table, bool skip_bad_rows,
                           struct err *err)
{
    *raw = (struct raw_table){0};
    struct reader reader = {.table = table};
    struct table_rows rows = {0};
    enum status status = find_columns(&reader, err);
    if (status != STATUS_OK)
        return status;
    unsigned flags = TABLE_KEEP_LINES | (skip_bad_rows ? TABLE_SKIP_BAD_ROWS : 0u);
    status = table_read(table, reader.columns, reader.n_columns, flags, &rows, err);
    if (status == STATUS_OK)
        status = take_rows(raw, &reader, &rows, skip_bad_rows, err);
    table_rows_clear(&rows, reader.columns, reader.n_columns);
    return status;
}

void raw_table_clear(struct raw_table *raw)
{
    free(raw->readings);
    *raw = (struct raw_table){0};
}
