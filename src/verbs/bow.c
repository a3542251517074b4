/* bow: what the shop knows of its bows. */
#include "base/mem.h"
#include "base/number.h"
#include "record/record.h"
#include "show/escape.h"
#include "show/json.h"
#include "verbs/bow_show.h"
#include "verbs/options.h"
#include "verbs/verb.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const struct option_spec spec[] = {
    {"kind", "KIND", "compound (if nothing is said), recurve, longbow or other"},
    {"owner", "NAME", "whose bow it is"},
    {"serial", "TEXT", "serial number"},
    {"brace", "LENGTH", "the maker's brace height, from the pivot point to the string"},
    {"peak", "LOW:HIGH", "the maker's range of peak draw force; one number for both ends"},
    {"draw-length", "LOW:HIGH", "the maker's range of draw length, ATA (pivot point + 1.75 in)"},
    {"let-off", "LOW:HIGH", "the maker's range of let-off in percent"},
    {"axle-to-axle", "LENGTH", "distance of the axles"},
    {"rated-speed", "SPEED", "the maker's rated speed"},
    {"note", "TEXT", "anything else"},
    {"rename", "NAME", "add: the bow gets this name"},
    {"all", NULL, "show: earlier statements too; list: retired bows too"},
    {"units", "SYSTEM", "show numbers in trade units (in, lbf, ft/s) or si; default trade"},
    {"json", NULL, "print JSON"},
    {"record", "FILE", "the shop's record"},
    {NULL, NULL, NULL},
};

/* A number of a bow on the command line. */
struct bow_option {
    const char *name;
    enum quantity quantity;
    enum unit assumed;
    double least, most; /* in that unit */
    size_t low, high;   /* offsets in struct record_bow */
};

#define AT(field) offsetof(struct record_bow, field)

/* Limits are wide: they catch a wrong unit or a slip of the finger. */
static const struct bow_option bow_options[] = {
    {"brace", QUANTITY_LENGTH, UNIT_IN, 2, 20, AT(brace_height_m), AT(brace_height_m)},
    {"peak", QUANTITY_FORCE, UNIT_LBF, 1, 300, AT(peak_low_n), AT(peak_high_n)},
    {"draw-length", QUANTITY_LENGTH, UNIT_IN, 8, 60, AT(draw_length_low_m), AT(draw_length_high_m)},
    {"let-off", QUANTITY_PERCENT, UNIT_PERCENT, 0, 99.9, AT(let_off_low_pct), AT(let_off_high_pct)},
    {"axle-to-axle", QUANTITY_LENGTH, UNIT_IN, 8, 120, AT(axle_to_axle_m), AT(axle_to_axle_m)},
    {"rated-speed", QUANTITY_SPEED, UNIT_FT_PER_S, 30, 600, AT(rated_speed_m_s),
     AT(rated_speed_m_s)},
};

enum { N_BOW_OPTIONS = sizeof bow_options / sizeof bow_options[0] };

/* What every word of this verb needs. */
struct work {
    const struct options *options;
    struct record *record;
    enum unit_system units;
    struct buf out;
};

static enum status parse_end(const struct bow_option *option, const char *text, enum unit assumed,
                             double *value_si, struct err *err)
{
    char what[64], outside[NUMBER_OUTSIDE_MAX];
    (void)snprintf(what, sizeof what, "--%s", option->name);
    enum status status =
        number_parse_quantity(text, option->quantity, assumed, what, value_si, err);
    double low_si = unit_to_si(option->assumed, option->least);
    double high_si = unit_to_si(option->assumed, option->most);
    if (status == STATUS_OK && !(*value_si >= low_si && *value_si <= high_si))
        return err_set(err, STATUS_USAGE, "--%s: '%s' %s", option->name, text,
                       number_outside(outside, option->assumed, low_si, high_si));
    return status;
}

/* The unit that stands behind the number in text, else `absent`: "267:311 N" is in newtons. */
static enum unit unit_behind(const char *text, enum unit absent)
{
    const char *end = text + strlen(text);
    double ignored;
    text += strspn(text, " \t");
    const char *stop = number_scan(text, end, '.', &ignored);
    enum unit unit = absent;
    if (stop != NULL) {
        stop += strspn(stop, " \t");
        (void)unit_parse(stop, (size_t)(end - stop), &unit);
    }
    return unit;
}

/* "LOW:HIGH", "LOW:", ":HIGH" or one number for both; an end that is not given is NAN. */
static enum status parse_range(const struct bow_option *option, const char *text, double *low_si,
                               double *high_si, struct err *err)
{
    *low_si = *high_si = (double)NAN;
    const char *colon = strchr(text, ':');
    if (colon == NULL) {
        enum status status = parse_end(option, text, option->assumed, low_si, err);
        *high_si = *low_si;
        return status;
    }
    char *low = mem_strndup(text, (size_t)(colon - text));
    const char *high = colon + 1;
    enum status status = STATUS_OK;
    if (low[strspn(low, " ")] != '\0')
        status = parse_end(option, low, unit_behind(high, option->assumed), low_si, err);
    free(low);
    if (status == STATUS_OK && high[strspn(high, " ")] != '\0')
        status = parse_end(option, high, option->assumed, high_si, err);
    if (status == STATUS_OK && isnan(*low_si) && isnan(*high_si))
        status = err_set(err, STATUS_USAGE, "--%s: '%s' has neither end", option->name, text);
    if (status == STATUS_OK && *low_si > *high_si)
        status = err_set(err, STATUS_USAGE, "--%s: '%s': the low end is above the high end",
                         option->name, text);
    return status;
}

/* "" makes it unknown again. */
static enum status take_number(const struct options *options, const struct bow_option *option,
                               struct record_bow *bow, struct err *err)
{
    const char *text = options_text(options, option->name, NULL);
    if (text == NULL)
        return STATUS_OK;
    double low = (double)NAN, high = (double)NAN;
    enum status status = STATUS_OK;
    if (text[0] != '\0' && option->low != option->high)
        status = parse_range(option, text, &low, &high, err);
    else if (text[0] != '\0')
        status = parse_end(option, text, option->assumed, &low, err);
    if (status != STATUS_OK)
        return status;
    if (option->low != option->high)
        memcpy((char *)bow + option->high, &high, sizeof high);
    memcpy((char *)bow + option->low, &low, sizeof low);
    return STATUS_OK;
}

static void take_text(const struct options *options, const char *name, char **text)
{
    const char *given = options_text(options, name, NULL);
    if (given == NULL)
        return;
    free(*text);
    *text = mem_strdup(given);
}

static enum status take_options(const struct options *options, struct record_bow *bow,
                                struct err *err)
{
    take_text(options, "kind", &bow->kind);
    take_text(options, "owner", &bow->owner);
    take_text(options, "serial", &bow->serial);
    take_text(options, "note", &bow->note);
    take_text(options, "rename", &bow->name);
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < N_BOW_OPTIONS; i++)
        status = take_number(options, &bow_options[i], bow, err);
    return status;
}

static void add_json(struct work *work, const char *name, json_t *value)
{
    json_t *root = json_object();
    json_put(root, "schema", json_integer(1));
    json_put(root, name, value);
    json_render(&work->out, root);
    json_decref(root);
}

static void show_bow(struct work *work, const struct record_bow *bow)
{
    if (options_has(work->options, "json"))
        add_json(work, "bow", bow_json(bow, work->units));
    else
        bow_text(&work->out, bow, work->units);
}

/* Adds the statement and shows the bow as the record has it now. */
static enum status add_and_show(struct work *work, struct record_bow *bow, struct err *err)
{
    enum status status = record_bow_add(work->record, bow, err);
    if (status != STATUS_OK)
        return status;
    struct record_bow kept;
    status = record_bow_find(work->record, bow->key, &kept, err);
    if (status == STATUS_OK)
        show_bow(work, &kept);
    record_bow_clear(&kept);
    return status;
}

/* The bow in use that has exactly this name or this key; a blank one with the name where there is
 * none: a part of a name is not enough to say something about a bow. */
static enum status find_exactly(struct work *work, const char *name, struct record_bow *bow,
                                struct err *err)
{
    struct err own;
    enum status status = record_bow_find(work->record, name, bow, &own);
    bool exact = status == STATUS_OK &&
                 ((strcmp(bow->name, name) == 0 && !bow->retired) || strcmp(bow->key, name) == 0);
    if (exact)
        return STATUS_OK;
    if (status != STATUS_OK && status != STATUS_NO_INPUT)
        return err_set(err, status, "%s", own.text);
    record_bow_clear(bow);
    bow->name = mem_strdup(name);
    return STATUS_OK;
}

static enum status run_add(struct work *work, const char *name, struct err *err)
{
    struct record_bow bow;
    enum status status = find_exactly(work, name, &bow, err);
    if (status == STATUS_OK && bow.key[0] == '\0' && options_has(work->options, "rename"))
        status = err_set(err, STATUS_USAGE, "--rename: no bow is called '%s'", name);
    if (status == STATUS_OK)
        status = take_options(work->options, &bow, err);
    if (status == STATUS_OK)
        status = add_and_show(work, &bow, err);
    record_bow_clear(&bow);
    return status;
}

static enum status run_retire(struct work *work, const char *text, struct err *err)
{
    struct record_bow bow;
    enum status status = record_bow_find(work->record, text, &bow, err);
    if (status == STATUS_OK && bow.retired)
        status = err_set(err, STATUS_USAGE, "'%s' is retired already", bow.name);
    bow.retired = true;
    if (status == STATUS_OK)
        status = add_and_show(work, &bow, err);
    record_bow_clear(&bow);
    return status;
}

static void clear_all(struct record_bow *bows, size_t n)
{
    for (size_t i = 0; i < n; i++)
        record_bow_clear(&bows[i]);
    free(bows);
}

static json_t *list_json(const struct record_bow *bows, size_t n, enum unit_system units)
{
    json_t *array = json_array();
    for (size_t i = 0; i < n; i++)
        json_add(array, bow_json(&bows[i], units));
    return array;
}

/* The newest statement, or all of them, newest first. */
static enum status run_show(struct work *work, const char *text, struct err *err)
{
    struct record_bow bow, *statements = NULL;
    size_t n = 0;
    bool all = options_has(work->options, "all");
    enum status status = record_bow_find(work->record, text, &bow, err);
    if (status == STATUS_OK && all)
        status = record_bow_statements(work->record, bow.key, &statements, &n, err);
    if (status == STATUS_OK && !all)
        show_bow(work, &bow);
    else if (status == STATUS_OK && options_has(work->options, "json"))
        add_json(work, "statements", list_json(statements, n, work->units));
    for (size_t i = 0; i < n && !options_has(work->options, "json"); i++) {
        buf_text(&work->out, i > 0 ? "\n" : "");
        bow_text(&work->out, &statements[i], work->units);
    }
    clear_all(statements, n);
    record_bow_clear(&bow);
    return status;
}

static enum status run_list(struct work *work, const char *part, struct err *err)
{
    struct record_bow *bows = NULL, *retired = NULL;
    size_t n = 0, n_retired = 0;
    enum status status = record_bow_list(work->record, part, &bows, &n, err);
    if (status == STATUS_OK && options_has(work->options, "all"))
        status = record_bow_list_retired(work->record, part, &retired, &n_retired, err);
    if (status == STATUS_OK && n_retired > 0) {
        bows = mem_realloc(bows, n + n_retired, sizeof *bows);
        memcpy(bows + n, retired, n_retired * sizeof *bows);
        n += n_retired;
    }
    if (status == STATUS_OK && options_has(work->options, "json"))
        add_json(work, "bows", list_json(bows, n, work->units));
    else if (status == STATUS_OK && n > 0)
        bow_list_text(&work->out, bows, n, work->units);
    else if (status == STATUS_OK)
        buf_text(&work->out, part[0] == '\0' ? "No bow is in the record.\n" : "No bow fits.\n");
    clear_all(bows, n);
    free(retired); /* its texts have moved */
    return status;
}

/* The words of this verb. */
static const struct word {
    const char *name;
    enum record_mode mode;
    bool needs_operand;
    enum status (*run)(struct work *work, const char *operand, struct err *err);
} words[] = {
    {"add", RECORD_CREATE, true, run_add},
    {"show", RECORD_READ, true, run_show},
    {"list", RECORD_READ, false, run_list},
    {"retire", RECORD_WRITE, true, run_retire},
};

static enum status find_word(const struct options *options, const struct word **word,
                             struct err *err)
{
    const char *name = options_operand(options, 0);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(words[i].name, name) != 0)
            continue;
        *word = &words[i];
        if (words[i].needs_operand && options_n_operands(options) < 2)
            return err_set(err, STATUS_USAGE, "bow %s: which bow?", name);
        return STATUS_OK;
    }
    return err_set(err, STATUS_USAGE, "bow '%s': the words are add, show, list and retire", name);
}

static enum status take_units(const struct options *options, enum unit_system *units,
                              struct err *err)
{
    *units = UNITS_TRADE;
    const char *text = options_text(options, "units", NULL);
    if (text != NULL && !unit_system_parse(text, units))
        return err_set(err, STATUS_USAGE, "--units: '%s' is neither trade nor si", text);
    return STATUS_OK;
}

static enum status run(const struct options *options, struct err *err)
{
    const struct word *word = NULL;
    struct work work = {.options = options};
    char *path = NULL;
    enum status status = find_word(options, &word, err);
    if (status == STATUS_OK)
        status = take_units(options, &work.units, err);
    if (status == STATUS_OK)
        status = options_record_path(options, &path, err);
    if (status == STATUS_OK)
        status = record_open(&work.record, path, word->mode, err);
    if (status == STATUS_OK)
        status = word->run(&work,
                           options_n_operands(options) > 1 ? options_operand(options, 1) : "", err);
    if (status == STATUS_OK)
        status = buf_write_stdout(&work.out, err);
    buf_clear(&work.out);
    record_close(work.record);
    free(path);
    return status;
}

const struct verb verb_bow = {
    .name = "bow",
    .operands = "add NAME | show BOW | list [PART] | retire BOW",
    .summary = "register, show and list bows and their specifications",
    .description =
        "`add` registers a bow, or says something newer about the one with this name: what is "
        "not said again stays as it was, an empty argument makes it unknown, and the earlier "
        "statement is kept. `show` takes a name, a part of it or the beginning of a key. `list` "
        "shows the bows whose name, owner or serial number holds PART. `retire` takes a bow out "
        "of use; its captures stay, and its name is free for another.\n"
        "Forces are in lbf, lengths in in, speeds in ft/s where no unit is written.",
    .spec = spec,
    .operands_min = 1,
    .operands_max = 2,
    .run = run,
};
