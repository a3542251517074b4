/* A table file as the subject of a verb. */
#include "base/mem.h"
#include "verbs/subject.h"
#include "verbs/subject_columns.h"

#include <string.h>
#include <strings.h>

/* Where positions count from: the option, else the file's note, else the pivot point. */
static enum status find_axis(const struct table *table, const struct options *options, bool *ata,
                             struct err *err)
{
    const char *stated = options_text(options, "axis", NULL);
    const char *note = table_note(table, "axis");
    const char *axis = stated != NULL ? stated : note != NULL ? note : "pivot";
    *ata = strcasecmp(axis, "ata") == 0;
    if (*ata || strcasecmp(axis, "pivot") == 0)
        return STATUS_OK;
    if (stated != NULL)
        return err_set(err, STATUS_USAGE, "--axis: '%s' is neither pivot nor ata", stated);
    return err_set(err, STATUS_BAD_INPUT,
                   "%s: the note 'axis: %s' is neither pivot nor ata; correct it, or say which "
                   "with --axis",
                   table_name(table), note);
}

/* The option's name belongs to the message of a bad row. */
static enum status explain_skipping(enum status status, struct err *err)
{
    if (status != STATUS_BAD_INPUT || err == NULL || strstr(err->text, TABLE_SKIP_HINT) == NULL)
        return status;
    struct err bad_row = *err;
    return err_set(err, status, "%s (--skip-bad-rows)", bad_row.text);
}

static double *take_column(struct table_column *column, size_t n, enum unit unit, double offset_si)
{
    double *values = column->number;
    column->number = NULL;
    for (size_t i = 0; i < n; i++)
        values[i] = unit_to_si(unit, values[i]) - offset_si;
    return values;
}

static enum status read_rows(struct subject *subject, const struct subject_columns *found,
                             bool skip_bad_rows, struct err *err)
{
    struct table_column columns[3] = {
        {.column = found->draw}, {.column = found->force}, {.column = found->time}};
    size_t n_columns = found->has_time ? 3 : 2;
    struct table_rows rows;
    enum status status = table_read(subject->table, columns, n_columns,
                                    skip_bad_rows ? TABLE_SKIP_BAD_ROWS : 0, &rows, err);
    if (status != STATUS_OK)
        return explain_skipping(status, err);
    subject->n_bad_rows = rows.n_bad;
    subject->first_bad_row = rows.first_bad;
    double offset_m = subject->ata_axis ? ATA_AXIS_OFFSET_M : 0;
    subject->draw_m = take_column(&columns[0], rows.n, found->draw_unit, offset_m);
    subject->force_n = take_column(&columns[1], rows.n, found->force_unit, 0);
    if (found->has_time)
        subject->time_s = take_column(&columns[2], rows.n, found->time_unit, 0);
    subject->readings = (struct readings){.n = rows.n,
                                          .draw_m = subject->draw_m,
                                          .force_n = subject->force_n,
                                          .time_s = subject->time_s};
    table_rows_clear(&rows, columns, n_columns);
    return STATUS_OK;
}

/* A table that was exported from a capture says which fixture it comes from. */
static enum status read_fixture(struct subject *subject, struct err *err)
{
    const char *text = table_note(subject->table, "fixture");
    if (table_note(subject->table, "pullcurve") == NULL || text == NULL)
        return STATUS_OK;
    enum status status = record_fixture_parse(text, &subject->fixture, err);
    if (status != STATUS_OK)
        (void)err_prefix(err, "%s: correct the note or take the line out",
                         table_name(subject->table));
    subject->positions_at_brace = table_note(subject->table, "brace_m") != NULL;
    return status;
}

enum status subject_read_table(struct subject *subject, const struct options *options,
                               struct table *table, struct err *err)
{
    struct subject_columns found;
    subject->kind = SUBJECT_TABLE;
    subject->errors_unknown = true;
    subject->table = table;
    enum status status = find_axis(table, options, &subject->ata_axis, err);
    if (status == STATUS_OK)
        status = subject_columns_find(table, options_text(options, "columns", NULL), &found, err);
    if (status == STATUS_OK)
        status = read_rows(subject, &found, options_has(options, "skip-bad-rows"), err);
    if (status == STATUS_OK)
        status = read_fixture(subject, err);
    if (status != STATUS_OK)
        return status;
    subject->draw_unit = found.draw_unit;
    subject->force_unit = found.force_unit;
    subject->name = mem_strdup(table_name(subject->table));
    const char *title = table_note(subject->table, "title");
    if (title == NULL || title[0] == '\0')
        title = table_note(subject->table, "bow");
    const char *slash = strrchr(subject->name, '/');
    if (title == NULL || title[0] == '\0')
        title = slash != NULL ? slash + 1 : subject->name;
    subject->title = mem_strdup(title);
    return STATUS_OK;
}

enum status subject_open_table(struct subject *subject, const struct options *options,
                               const char *path, struct err *err)
{
    struct table *table;
    enum status status = table_open(&table, path, err);
    if (status == STATUS_OK)
        status = subject_read_table(subject, options, table, err);
    return status;
}
