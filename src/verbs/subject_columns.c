#include "verbs/subject_columns.h"

#include "base/buf.h"
#include "base/mem.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum role { ROLE_DRAW, ROLE_FORCE, ROLE_TIME, ROLE_COUNT };

static const struct {
    const char *name;
    enum quantity quantity;
    enum unit assumed;
    enum unit header[5]; /* name_<unit> in a header; ends with UNIT_NONE */
} role_table[ROLE_COUNT] = {
    {"draw", QUANTITY_LENGTH, UNIT_IN, {UNIT_IN, UNIT_MM, UNIT_CM, UNIT_M, UNIT_NONE}},
    {"force", QUANTITY_FORCE, UNIT_LBF, {UNIT_LBF, UNIT_N, UNIT_KGF, UNIT_NONE}},
    {"time", QUANTITY_TIME, UNIT_S, {UNIT_S, UNIT_NONE}},
};

/* What one part of the map says. */
struct mapped {
    bool there;
    char *name;
    enum unit unit; /* UNIT_NONE where it is not stated */
};

static enum status map_fault(const char *map, const char *what, struct err *err)
{
    return err_set(err, STATUS_USAGE,
                   "--columns: %s in '%s'; write it like draw=Position:mm,force=Load:n,time=3",
                   what, map);
}

/* NAME[:unit] up to a comma outside of quotes. Returns where it stops. */
static const char *take_target(const char *at, enum role role, struct mapped *mapped)
{
    bool quoted = *at == '"';
    const char *name = at + quoted;
    const char *end = quoted ? strchr(name, '"') : name + strcspn(name, ",");
    if (end == NULL)
        return NULL;
    const char *stop = quoted ? end + 1 + strcspn(end + 1, ",") : end;
    const char *unit = quoted ? end + 1 : NULL;
    for (const char *c = name; !quoted && c < end; c++)
        unit = *c == ':' ? c : unit;
    enum unit found;
    bool has_unit = unit != NULL && unit < stop && *unit == ':' &&
                    unit_parse(unit + 1, (size_t)(stop - unit - 1), &found) &&
                    unit_quantity(found) == role_table[role].quantity;
    if (quoted && stop > end + 1 && !has_unit)
        return NULL;
    if (has_unit && !quoted)
        end = unit;
    mapped->unit = has_unit ? found : UNIT_NONE;
    mapped->name = mem_strndup(name, (size_t)(end - name));
    mapped->there = end > name;
    return mapped->there ? stop : NULL;
}

static enum status read_map(const char *map, struct mapped mapped[ROLE_COUNT], struct err *err)
{
    const char *at = map;
    while (at != NULL && *at != '\0') {
        at += strspn(at, " ");
        size_t length = strcspn(at, "=,");
        int role = 0;
        while (role < ROLE_COUNT && (strlen(role_table[role].name) != length ||
                                     strncasecmp(role_table[role].name, at, length) != 0))
            role++;
        if (role == ROLE_COUNT || at[length] != '=')
            return map_fault(map, "there is something else than draw=, force= and time=", err);
        if (mapped[role].there)
            return map_fault(map, "one of draw, force and time stands twice", err);
        at = take_target(at + length + 1, (enum role)role, &mapped[role]);
        if (at == NULL)
            return map_fault(map, "a column's name or unit can't be read", err);
        at += *at == ',';
    }
    return STATUS_OK;
}

/* The unit that a header's name ends with, behind a blank, an underscore or in brackets. */
static bool unit_of_name(const char *name, enum quantity quantity, enum unit *unit)
{
    const char *end = name + strlen(name);
    while (end > name && strchr(" )]", end[-1]) != NULL)
        end--;
    const char *at = end;
    while (at > name && strchr(" _([,", at[-1]) == NULL)
        at--;
    enum unit found;
    if (at == name || !unit_parse(at, (size_t)(end - at), &found) ||
        unit_quantity(found) != quantity)
        return false;
    *unit = found;
    return true;
}

/* A mapped name that ends with ":x" where x is no unit: the name itself may hold a colon. */
static enum status unknown_unit(const struct table *table, const struct mapped *mapped,
                                enum role role, struct err *err)
{
    size_t ignored;
    const char *colon = strrchr(mapped->name, ':');
    if (colon == NULL || mapped->unit != UNIT_NONE || table_find(table, mapped->name, &ignored))
        return STATUS_OK;
    return err_set(err, STATUS_USAGE, "--columns: '%s' is no unit for %s; %s is one", colon + 1,
                   role_table[role].name, unit_name(role_table[role].assumed));
}

static enum status find_mapped(const struct table *table, const struct mapped *mapped,
                               enum role role, size_t *column, enum unit *unit, struct err *err)
{
    enum status status = unknown_unit(table, mapped, role, err);
    if (status == STATUS_OK)
        status = table_column(table, mapped->name, column, err);
    if (status != STATUS_OK)
        return status;
    *unit = mapped->unit;
    if (*unit == UNIT_NONE &&
        !unit_of_name(table_column_name(table, *column), role_table[role].quantity, unit))
        *unit = role_table[role].assumed;
    return STATUS_OK;
}

/* By the standard names. *there is false where none stands in the header. */
static enum status find_standard(const struct table *table, enum role role, bool *there,
                                 size_t *column, enum unit *unit, struct err *err)
{
    struct buf name = {0};
    enum status status = STATUS_OK;
    *there = false;
    for (const enum unit *u = role_table[role].header; *u != UNIT_NONE && status == STATUS_OK;
         u++) {
        size_t found;
        buf_clear(&name);
        buf_printf(&name, "%s_%s", role_table[role].name, unit_name(*u));
        if (!table_find(table, buf_string(&name), &found))
            continue;
        status = table_column(table, buf_string(&name), &found, err);
        if (status == STATUS_OK && *there)
            status = err_set(err, STATUS_BAD_INPUT,
                             "%s: both '%s' and '%s' are there; say which to take: --columns %s=%s",
                             table_name(table), table_column_name(table, *column),
                             table_column_name(table, found), role_table[role].name,
                             table_column_name(table, found));
        *there = true;
        *column = found;
        *unit = *u;
    }
    buf_clear(&name);
    return status;
}

static enum status not_there(const struct table *table, enum role role, struct err *err)
{
    const char *name = role_table[role].name;
    if (!table_has_header(table))
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: has no header; say by number which columns are draw position and "
                       "force: --columns draw=1:in,force=2:lbf",
                       table_name(table));
    struct buf there = {0};
    for (size_t i = 0; i < table_n_columns(table); i++)
        buf_printf(&there, "%s%s", i > 0 ? ", " : "", table_column_name(table, i));
    err_set(err, STATUS_BAD_INPUT,
            "%s: no column is called %s_%s or the like; there are: %.300s. Say which it is: "
            "--columns %s=NAME:unit",
            table_name(table), name, unit_name(role_table[role].assumed), buf_string(&there), name);
    buf_clear(&there);
    return STATUS_BAD_INPUT;
}

static enum status check_different(const struct table *table, const bool there[ROLE_COUNT],
                                   const size_t column[ROLE_COUNT], struct err *err)
{
    for (int a = 0; a < ROLE_COUNT; a++)
        for (int b = a + 1; b < ROLE_COUNT; b++)
            if (there[a] && there[b] && column[a] == column[b])
                return err_set(
                    err, STATUS_BAD_INPUT, "%s: column %zu can't be both %s and %s; see --columns",
                    table_name(table), column[a] + 1, role_table[a].name, role_table[b].name);
    return STATUS_OK;
}

static enum status find_all(const struct table *table, const struct mapped mapped[ROLE_COUNT],
                            struct subject_columns *columns, struct err *err)
{
    bool there[ROLE_COUNT] = {false};
    size_t column[ROLE_COUNT] = {0};
    enum unit unit[ROLE_COUNT] = {UNIT_NONE};
    enum status status = STATUS_OK;
    for (int r = 0; r < ROLE_COUNT && status == STATUS_OK; r++) {
        enum role role = (enum role)r;
        there[r] = mapped[r].there;
        status = there[r] ? find_mapped(table, &mapped[r], role, &column[r], &unit[r], err)
                          : find_standard(table, role, &there[r], &column[r], &unit[r], err);
        if (status == STATUS_OK && !there[r] && role != ROLE_TIME)
            status = not_there(table, role, err);
    }
    if (status == STATUS_OK)
        status = check_different(table, there, column, err);
    if (status == STATUS_OK)
        *columns = (struct subject_columns){.draw = column[ROLE_DRAW],
                                            .force = column[ROLE_FORCE],
                                            .time = column[ROLE_TIME],
                                            .draw_unit = unit[ROLE_DRAW],
                                            .force_unit = unit[ROLE_FORCE],
                                            .time_unit = unit[ROLE_TIME],
                                            .has_time = there[ROLE_TIME]};
    return status;
}

enum status subject_columns_find(const struct table *table, const char *map,
                                 struct subject_columns *columns, struct err *err)
{
    struct mapped mapped[ROLE_COUNT] = {{.there = false}};
    enum status status = map != NULL ? read_map(map, mapped, err) : STATUS_OK;
    if (status == STATUS_OK)
        status = find_all(table, mapped, columns, err);
    for (int r = 0; r < ROLE_COUNT; r++)
        free(mapped[r].name);
    return status;
}
