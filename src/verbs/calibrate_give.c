#include "verbs/calibrate_give.h"

#include "base/number.h"
#include "base/table.h"
#include "curve/give.h"
#include "show/escape.h"
#include "show/json.h"
#include "verbs/subject_columns.h"

#include <math.h>

/* How a give is said: a length, with its digits, at a force that a bow has. */
static const struct manner {
    enum unit length, force;
    double at_force;
    int decimals;
} manners[] = {
    [UNITS_TRADE] = {UNIT_IN, UNIT_LBF, 100, 5},
    [UNITS_SI] = {UNIT_MM, UNIT_N, 500, 4},
};

static void to_si(double *values, size_t n, enum unit unit)
{
    for (size_t i = 0; i < n; i++)
        values[i] = unit_to_si(unit, values[i]);
}

static enum status read_and_fit(const struct table *table, const char *map, struct give *give,
                                struct err *err)
{
    struct subject_columns found;
    enum status status = subject_columns_find(table, map, &found, err);
    if (status != STATUS_OK)
        return status;
    struct table_column columns[] = {{.column = found.draw}, {.column = found.force}};
    struct table_rows rows;
    status = table_read(table, columns, 2, 0, &rows, err);
    if (status == STATUS_OK) {
        to_si(columns[0].number, rows.n, found.draw_unit);
        to_si(columns[1].number, rows.n, found.force_unit);
        status = give_fit(columns[1].number, columns[0].number, rows.n, give, err);
        if (status != STATUS_OK)
            (void)err_prefix(err, "%s", table_name(table));
    }
    table_rows_clear(&rows, columns, 2);
    return status;
}

/* "0.04012 in"; at least one of the last digit, so that what is there is not shown as nothing. */
static void add_length(struct buf *out, double length_m, const struct manner *manner)
{
    char number[NUMBER_TEXT_MAX];
    double length = unit_from_si(manner->length, length_m);
    double least = pow(10, -manner->decimals);
    if (fabs(length) > 0 && fabs(length) < least)
        length = copysign(least, length);
    buf_printf(out, "%s %s", number_fixed(number, length, manner->decimals),
               unit_name(manner->length));
}

static void add_force(struct buf *out, double force_n, const struct manner *manner)
{
    char number[NUMBER_TEXT_MAX];
    buf_printf(out, "%s %s", number_fixed(number, unit_from_si(manner->force, force_n), 1),
               unit_name(manner->force));
}

static void write_text(struct buf *out, const struct give *give, const struct manner *manner,
                       const char *name)
{
    double at_n = unit_to_si(manner->force, manner->at_force);
    buf_printf(out, "Give of the fixture (");
    escape_terminal(out, name);
    buf_printf(out, ")\n%zu readings, ", give->n);
    add_force(out, give->force_low_n, manner);
    buf_text(out, " to ");
    add_force(out, give->force_high_n, manner);
    buf_text(out, "\n\nGive         ");
    add_length(out, give->give_m_per_n * at_n, manner);
    buf_text(out, " at ");
    add_force(out, at_n, manner);
    buf_text(out, "; u of the line ");
    add_length(out, give->u_give_m_per_n * at_n, manner);
    buf_text(out, "\nResiduals    standard deviation ");
    add_length(out, give->residual_sd_m, manner);
    buf_text(out, "; the largest ");
    add_length(out, give->largest_residual_m, manner);
    buf_text(out, " at ");
    add_force(out, give->largest_at_n, manner);
    buf_text(out, "\nCurvature    a parabola leaves the line by ");
    add_length(out, give->curved_m, manner);
    buf_text(out, "\n\nFor the section [fixture] of the bench file (nothing is stored):\n\n"
                  "give_length = ");
    add_length(out, give->give_m_per_n * at_n, manner);
    buf_text(out, "\nu_give_length = ");
    add_length(out, give_u_m(give, at_n), manner);
    buf_text(out, "\ngive_force = ");
    add_force(out, at_n, manner);
    buf_char(out, '\n');
}

static void put_length(json_t *object, const char *name, double length_m,
                       const struct manner *manner)
{
    json_put(object, name, json_real(unit_from_si(manner->length, length_m)));
}

static void put_force(json_t *object, const char *name, double force_n, const struct manner *manner)
{
    json_put(object, name, json_real(unit_from_si(manner->force, force_n)));
}

static void write_json(struct buf *out, const struct give *give, const struct manner *manner,
                       const char *name)
{
    double at_n = unit_to_si(manner->force, manner->at_force);
    json_t *root = json_object(), *object = json_object();
    json_put(object, "name", json_text(name));
    json_put(object, "length_unit", json_text(unit_name(manner->length)));
    json_put(object, "force_unit", json_text(unit_name(manner->force)));
    json_put(object, "readings", json_integer((json_int_t)give->n));
    put_force(object, "force_low", give->force_low_n, manner);
    put_force(object, "force_high", give->force_high_n, manner);
    put_force(object, "give_force", at_n, manner);
    put_length(object, "give_length", give->give_m_per_n * at_n, manner);
    put_length(object, "u_line", give->u_give_m_per_n * at_n, manner);
    put_length(object, "u_give_length", give_u_m(give, at_n), manner);
    put_length(object, "residual_sd", give->residual_sd_m, manner);
    put_length(object, "largest_residual", give->largest_residual_m, manner);
    put_force(object, "largest_residual_at", give->largest_at_n, manner);
    put_length(object, "curvature", give->curved_m, manner);
    json_put(root, "schema", json_integer(1));
    json_put(root, "give", object);
    json_render(out, root);
    json_decref(root);
}

enum status calibrate_give(const struct options *options, enum unit_system units, struct err *err)
{
    const char *path = options_text(options, "table", NULL);
    if (path == NULL || options_has(options, "live"))
        return err_set(err, STATUS_USAGE,
                       "the give is worked out from a table of draw position and force: --table "
                       "FILE");
    struct table *table = NULL;
    struct give give;
    struct buf text = {0};
    enum status status = table_open(&table, path, err);
    if (status == STATUS_OK)
        status = read_and_fit(table, options_text(options, "columns", NULL), &give, err);
    if (status == STATUS_OK) {
        if (options_has(options, "json"))
            write_json(&text, &give, &manners[units], table_name(table));
        else
            write_text(&text, &give, &manners[units], table_name(table));
        status = buf_write_stdout(&text, err);
    }
    buf_clear(&text);
    table_close(table);
    return status;
}
