#include "verbs/calibrate_table.h"

#include "base/buf.h"
#include "base/mem.h"
#include "base/number.h"
#include "base/table.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const struct reference_column {
    const char *name;
    enum unit unit;
} reference_columns[] = {
    {"load_n", UNIT_N},     {"load_kn", UNIT_KN},   {"load_lbf", UNIT_LBF}, {"load_kgf", UNIT_KGF},
    {"mass_kg", UNIT_KG},   {"mass_g", UNIT_G},     {"mass_lb", UNIT_LB},   {"length_m", UNIT_M},
    {"length_cm", UNIT_CM}, {"length_mm", UNIT_MM}, {"length_in", UNIT_IN},
};

enum { N_REFERENCE_COLUMNS = sizeof reference_columns / sizeof reference_columns[0] };

enum wanted {
    WANT_REFERENCE,
    WANT_COUNT,
    WANT_RUN,
    WANT_DIRECTION,
    WANT_U,
    WANT_U_COUNT,
    WANT_MAX
};

/* A file being read. */
struct reading {
    struct table *table;
    struct table_column columns[WANT_MAX]; /* those that there are, side by side */
    size_t n_columns;
    size_t at[WANT_MAX]; /* index into columns, SIZE_MAX where it is not there */
    struct table_rows rows;
    enum unit unit, u_unit; /* of the reference, of its uncertainty */
};

/* Is this column's unit one for the channel? Masses are for force. */
static bool fits(enum unit unit, enum quantity quantity)
{
    enum quantity own = unit_quantity(unit);
    return own == quantity || (own == QUANTITY_MASS && quantity == QUANTITY_FORCE);
}

static void want(struct reading *reading, enum wanted wanted, size_t column, enum table_kind kind)
{
    reading->at[wanted] = reading->n_columns;
    reading->columns[reading->n_columns++] = (struct table_column){.column = column, .kind = kind};
}

/* Finds the column whose name is prefix + one of the list's that fits. */
static enum status find_reference(struct reading *reading, const char *prefix, enum wanted wanted,
                                  enum quantity quantity, enum unit *unit, struct err *err)
{
    const char *found = NULL;
    for (size_t i = 0; i < N_REFERENCE_COLUMNS; i++) {
        struct buf name = {0};
        size_t column;
        buf_printf(&name, "%s%s", prefix, reference_columns[i].name);
        bool there = fits(reference_columns[i].unit, quantity) &&
                     table_find(reading->table, buf_string(&name), &column);
        buf_clear(&name);
        if (!there)
            continue;
        if (found != NULL)
            return err_set(
                err, STATUS_BAD_INPUT, "%s: both %s%s and %s%s are there; which one holds?",
                table_name(reading->table), prefix, found, prefix, reference_columns[i].name);
        found = reference_columns[i].name;
        *unit = reference_columns[i].unit;
        want(reading, wanted, column, TABLE_NUMBER);
    }
    return STATUS_OK;
}

static enum status find_columns(struct reading *reading, enum quantity quantity, struct err *err)
{
    const struct table *table = reading->table;
    size_t column;
    for (int i = 0; i < WANT_MAX; i++)
        reading->at[i] = SIZE_MAX;
    enum status status = find_reference(reading, "", WANT_REFERENCE, quantity, &reading->unit, err);
    if (status != STATUS_OK)
        return status;
    if (reading->at[WANT_REFERENCE] == SIZE_MAX)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: no column of references; the header must hold %s (and count)",
                       table_name(table),
                       quantity == QUANTITY_FORCE
                           ? "one of load_n, load_kn, load_lbf, load_kgf, mass_kg, mass_g, mass_lb"
                           : "one of length_in, length_mm, length_cm, length_m");
    status = table_column(table, "count", &column, err);
    if (status != STATUS_OK)
        return status;
    want(reading, WANT_COUNT, column, TABLE_NUMBER);
    if (table_find(table, "run", &column))
        want(reading, WANT_RUN, column, TABLE_NUMBER);
    if (table_find(table, "direction", &column))
        want(reading, WANT_DIRECTION, column, TABLE_TEXT);
    if (table_find(table, "u_count", &column))
        want(reading, WANT_U_COUNT, column, TABLE_NUMBER);
    return find_reference(reading, "u_", WANT_U, quantity, &reading->u_unit, err);
}

static double number_at(const struct reading *reading, enum wanted wanted, size_t row,
                        double absent)
{
    size_t at = reading->at[wanted];
    return at == SIZE_MAX ? absent : reading->columns[at].number[row];
}

static enum status bad_row(const struct reading *reading, size_t row, const char *column,
                           const char *why, struct err *err)
{
    return err_set(err, STATUS_BAD_INPUT, "%s:%zu: %s %s", table_name(reading->table),
                   reading->rows.line[row], column, why);
}

static enum status read_direction(const struct reading *reading, size_t row, bool *decreasing,
                                  struct err *err)
{
    static const char *const up[] = {"up", "increasing", "rising", "1"};
    static const char *const down[] = {"down", "decreasing", "falling", "0"};
    const char *text = reading->columns[reading->at[WANT_DIRECTION]].text[row];
    for (size_t i = 0; i < sizeof up / sizeof up[0]; i++) {
        *decreasing = strcasecmp(text, down[i]) == 0;
        if (*decreasing || strcasecmp(text, up[i]) == 0)
            return STATUS_OK;
    }
    return bad_row(reading, row, "direction", "must be up or down", err);
}

/* The standard uncertainty of the file's notes: expanded_uncertainty over k. */
static enum status noted_u(const struct reading *reading, double value_si, double *u_si,
                           struct err *err)
{
    const char *expanded = table_note(reading->table, "expanded_uncertainty");
    const char *factor = table_note(reading->table, "k");
    double k = 2.0;
    if (factor != NULL && (!number_parse(factor, &k) || !(k > 0.0)))
        return err_set(err, STATUS_BAD_INPUT, "%s: note k: '%s' is no coverage factor",
                       table_name(reading->table), factor);
    if (reference_u(expanded, "note expanded_uncertainty", reading->unit, value_si, u_si, err) !=
        STATUS_OK) {
        (void)err_prefix(err, "%s", table_name(reading->table));
        if (err != NULL)
            err->code = STATUS_BAD_INPUT;
        return STATUS_BAD_INPUT;
    }
    *u_si /= k;
    return STATUS_OK;
}

/* Uncertainty of a reference: its column, else --u-reference, else the notes. */
static enum status read_u(const struct reading *reading, const struct reference_settings *settings,
                          size_t row, double value_si, double *u_si, struct err *err)
{
    if (reading->at[WANT_U] != SIZE_MAX) {
        *u_si = unit_to_si(reading->u_unit, number_at(reading, WANT_U, row, 0.0));
        return *u_si >= 0.0 ? STATUS_OK
                            : bad_row(reading, row, "the uncertainty", "must be 0 or more", err);
    }
    if (settings->u_text != NULL)
        return reference_u(settings->u_text, "--u-reference", reading->unit, value_si, u_si, err);
    return noted_u(reading, value_si, u_si, err);
}

static enum status read_point(const struct reading *reading,
                              const struct reference_settings *settings, size_t row,
                              struct calibration_point *point, struct err *err)
{
    double value_si = unit_to_si(reading->unit, number_at(reading, WANT_REFERENCE, row, 0.0));
    double u_si = 0.0, run = number_at(reading, WANT_RUN, row, 1.0);
    enum quantity quantity = unit_quantity(reading->unit);
    if (quantity == QUANTITY_MASS && value_si < 0.0)
        return bad_row(reading, row, "the mass", "is negative", err);
    if (!(run >= 1.0 && run <= (double)INT_MAX && floor(run) >= run))
        return bad_row(reading, row, "run", "must be a whole number from 1", err);
    enum status status = read_u(reading, settings, row, value_si, &u_si, err);
    if (status != STATUS_OK)
        return status;
    *point = reference_point(settings, quantity, value_si, u_si);
    point->count = number_at(reading, WANT_COUNT, row, 0.0);
    point->u_count = number_at(reading, WANT_U_COUNT, row, 0.0);
    point->run = (int)run;
    if (!(point->u_count >= 0.0))
        return bad_row(reading, row, "u_count", "must be 0 or more", err);
    if (reading->at[WANT_DIRECTION] != SIZE_MAX)
        return read_direction(reading, row, &point->decreasing, err);
    return STATUS_OK;
}

static enum status read_creep(const struct table *table, struct calibration_creep *creep,
                              struct err *err)
{
    const char *first = table_note(table, "creep_count_30s");
    const char *last = table_note(table, "creep_count_300s");
    if (first == NULL && last == NULL)
        return STATUS_OK;
    if (first == NULL || last == NULL || !number_parse(first, &creep->count_30_s) ||
        !number_parse(last, &creep->count_300_s))
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: creep takes two notes with a count each, creep_count_30s and "
                       "creep_count_300s",
                       table_name(table));
    creep->given = true;
    return STATUS_OK;
}

static enum status read_points(struct calibrate_table *points, struct reading *reading,
                               const struct reference_settings *settings, struct err *err)
{
    enum status status = table_read(reading->table, reading->columns, reading->n_columns,
                                    TABLE_KEEP_LINES, &reading->rows, err);
    if (status == STATUS_OK)
        status = reference_unit(settings, reading->unit, &reading->unit, err);
    if (status == STATUS_OK && reading->at[WANT_U] != SIZE_MAX)
        status = reference_unit(settings, reading->u_unit, &reading->u_unit, err);
    if (status == STATUS_OK && reading->at[WANT_U] != SIZE_MAX &&
        unit_quantity(reading->unit) != unit_quantity(reading->u_unit))
        status = err_set(
            err, STATUS_BAD_INPUT, "%s: the uncertainty is stated in %s, but the references in %s",
            table_name(reading->table), unit_name(reading->u_unit), unit_name(reading->unit));
    points->points = mem_calloc(reading->rows.n, sizeof *points->points);
    for (size_t i = 0; status == STATUS_OK && i < reading->rows.n; i++)
        status = read_point(reading, settings, i, &points->points[i], err);
    points->n = reading->rows.n;
    if (status == STATUS_OK && reading->at[WANT_DIRECTION] == SIZE_MAX)
        calibration_set_directions(points->points, points->n);
    points->masses = unit_quantity(reading->unit) == QUANTITY_MASS;
    return status;
}

enum status calibrate_table_read(struct calibrate_table *points, const char *path,
                                 enum quantity quantity, const struct reference_settings *settings,
                                 struct err *err)
{
    struct reading reading = {0};
    *points = (struct calibrate_table){0};
    enum status status = table_open(&reading.table, path, err);
    if (status == STATUS_OK)
        status = find_columns(&reading, quantity, err);
    if (status == STATUS_OK)
        status = read_creep(reading.table, &points->creep, err);
    if (status == STATUS_OK)
        status = read_points(points, &reading, settings, err);
    if (status == STATUS_OK) {
        const char *note = table_note(reading.table, "note");
        points->note = mem_strdup(note != NULL ? note : "");
    }
    table_rows_clear(&reading.rows, reading.columns, reading.n_columns);
    table_close(reading.table);
    if (status != STATUS_OK)
        calibrate_table_clear(points);
    return status;
}

void calibrate_table_clear(struct calibrate_table *points)
{
    free(points->points);
    free(points->note);
    *points = (struct calibrate_table){0};
}

void calibrate_table_write(struct buf *out, const struct calibration_point *points, size_t n,
                           enum quantity quantity)
{
    const char *reference = quantity == QUANTITY_FORCE ? "load_n" : "length_m";
    buf_printf(out, "%s,u_%s,count,u_count,run,direction\n", reference, reference);
    for (size_t i = 0; i < n; i++) {
        const double values[] = {points[i].reference_si, points[i].u_reference_si, points[i].count,
                                 points[i].u_count};
        char number[NUMBER_TEXT_MAX];
        for (size_t k = 0; k < sizeof values / sizeof values[0]; k++)
            buf_printf(out, "%s,", number_exact(number, values[k]));
        buf_printf(out, "%d,%s\n", points[i].run, points[i].decreasing ? "down" : "up");
    }
}
