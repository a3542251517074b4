#include "verbs/bow_show.h"
#include "base/number.h"
#include "show/escape.h"
#include "show/json.h"
#include "verbs/columns.h"

#include <math.h>
#include <string.h>

/* One number that is known of a bow, or a range of it. Drives text and JSON. */
struct property {
    const char *name;  /* in JSON */
    const char *label; /* for people */
    enum quantity quantity;
    size_t low, high; /* offsets in struct record_bow; the same twice for a single number */
    const char *remark;
};

#define AT(field) offsetof(struct record_bow, field)

static const struct property properties[] = {
    {"brace_height", "Brace height", QUANTITY_LENGTH, AT(brace_height_m), AT(brace_height_m), ""},
    {"peak_force", "Peak draw force", QUANTITY_FORCE, AT(peak_low_n), AT(peak_high_n), ""},
    {"draw_length_ata", "Draw length", QUANTITY_LENGTH, AT(draw_length_low_m),
     AT(draw_length_high_m), " (ATA)"},
    {"let_off", "Let-off", QUANTITY_PERCENT, AT(let_off_low_pct), AT(let_off_high_pct), ""},
    {"axle_to_axle", "Axle to axle", QUANTITY_LENGTH, AT(axle_to_axle_m), AT(axle_to_axle_m), ""},
    {"rated_speed", "Rated speed", QUANTITY_SPEED, AT(rated_speed_m_s), AT(rated_speed_m_s), ""},
};

enum { N_PROPERTIES = sizeof properties / sizeof properties[0], LABEL_WIDTH = 18 };

static double value_at(const struct record_bow *bow, size_t offset)
{
    double value;
    memcpy(&value, (const char *)bow + offset, sizeof value);
    return value;
}

/* As it was stated, near enough: three decimals without the zeros behind. */
static void add_number(struct buf *out, enum unit unit, double value_si)
{
    char text[NUMBER_TEXT_MAX];
    (void)number_fixed(text, unit_from_si(unit, value_si), 3);
    if (strchr(text, '.') != NULL) {
        size_t length = strlen(text);
        while (text[length - 1] == '0')
            length--;
        length -= text[length - 1] == '.';
        text[length] = '\0';
    }
    buf_text(out, text);
}

static bool is_known(const struct record_bow *bow, const struct property *property)
{
    return !isnan(value_at(bow, property->low)) || !isnan(value_at(bow, property->high));
}

/* "60 to 70 lbf", "6.75 in", "at least 80 %". */
static void add_value(struct buf *out, const struct record_bow *bow,
                      const struct property *property, enum unit_system units)
{
    enum unit unit = shown_unit(property->quantity, units);
    double low = value_at(bow, property->low), high = value_at(bow, property->high);
    if (isnan(low)) {
        buf_text(out, "at most ");
        add_number(out, unit, high);
    } else {
        buf_text(out, isnan(high) ? "at least " : "");
        add_number(out, unit, low);
    }
    if (!isnan(low) && !isnan(high) && high > low) {
        buf_text(out, " to ");
        add_number(out, unit, high);
    }
    buf_printf(out, " %s%s", unit_name(unit), property->remark);
}

static void add_label(struct buf *out, const char *label)
{
    buf_printf(out, "  %-*s", LABEL_WIDTH, label);
}

static void add_line(struct buf *out, const char *label, const char *text)
{
    if (text == NULL || text[0] == '\0')
        return;
    add_label(out, label);
    escape_terminal(out, text);
    buf_char(out, '\n');
}

void bow_text(struct buf *out, const struct record_bow *bow, enum unit_system units)
{
    escape_terminal(out, bow->name);
    buf_text(out, bow->retired ? " (retired)\n" : "\n");
    add_line(out, "Kind", bow->kind);
    add_line(out, "Owner", bow->owner);
    add_line(out, "Serial number", bow->serial);
    for (size_t i = 0; i < N_PROPERTIES; i++) {
        if (!is_known(bow, &properties[i]))
            continue;
        add_label(out, properties[i].label);
        add_value(out, bow, &properties[i], units);
        buf_char(out, '\n');
    }
    add_line(out, "Note", bow->note);
    add_label(out, "Stated");
    buf_printf(out, "%s, statement %lld\n", bow->made_at, (long long)bow->statement);
    add_line(out, "Key", bow->key);
}

static json_t *value_json(const struct record_bow *bow, const struct property *property,
                          enum unit_system units)
{
    if (!is_known(bow, property))
        return json_null();
    enum unit unit = shown_unit(property->quantity, units);
    double low = value_at(bow, property->low), high = value_at(bow, property->high);
    json_t *object = json_object();
    if (property->low == property->high) {
        json_put(object, "value", json_number_or_null(true, unit_from_si(unit, low)));
    } else {
        json_put(object, "low", json_number_or_null(!isnan(low), unit_from_si(unit, low)));
        json_put(object, "high", json_number_or_null(!isnan(high), unit_from_si(unit, high)));
    }
    json_put(object, "unit", json_text(unit_name(unit)));
    return object;
}

json_t *bow_json(const struct record_bow *bow, enum unit_system units)
{
    json_t *object = json_object();
    json_put(object, "key", json_text(bow->key));
    json_put(object, "name", json_text(bow->name));
    json_put(object, "kind", json_text(bow->kind));
    json_put(object, "owner", json_text(bow->owner));
    json_put(object, "serial", json_text(bow->serial));
    for (size_t i = 0; i < N_PROPERTIES; i++)
        json_put(object, properties[i].name, value_json(bow, &properties[i], units));
    json_put(object, "note", json_text(bow->note));
    json_put(object, "retired", json_boolean(bow->retired));
    json_put(object, "statement", json_integer(bow->statement));
    json_put(object, "made_at", json_text(bow->made_at));
    return object;
}

void bow_list_text(struct buf *out, const struct record_bow *bows, size_t n, enum unit_system units)
{
    static const struct column_head heads[] = {{"Name", false},        {"Owner", false},
                                               {"Serial", false},      {"Peak", false},
                                               {"Draw length", false}, {"Key", false}};
    struct columns columns;
    columns_init(&columns, heads, sizeof heads / sizeof heads[0]);
    for (size_t i = 0; i < n; i++) {
        columns_cell(&columns, bows[i].name);
        columns_cell(&columns, bows[i].owner);
        columns_cell(&columns, bows[i].serial);
        for (size_t p = 1; p <= 2; p++) { /* peak, draw length */
            struct buf cell = {0};
            if (is_known(&bows[i], &properties[p]))
                add_value(&cell, &bows[i], &properties[p], units);
            columns_cell(&columns, buf_string(&cell));
            buf_clear(&cell);
        }
        char key[9];
        memcpy(key, bows[i].key, sizeof key - 1);
        key[sizeof key - 1] = '\0';
        columns_cell(&columns, key);
    }
    columns_render(&columns, out);
    columns_clear(&columns);
}
