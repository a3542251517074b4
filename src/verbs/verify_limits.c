#include "verbs/verify_limits.h"

#include "verbs/figure_text.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define HOW_TO_GIVE_LIMITS                                                               \
    "give them with --limit peak_force=58:62, with --rules FILE, or in the bow's entry " \
    "(pullcurve "                                                                        \
    "bow add NAME --peak LOW:HIGH)"

static enum status read_stated(struct limits *limits, const char *text, struct err *err)
{
    struct spec_limit limit = {.origin = SPEC_STATED};
    const char *range;
    enum status status = figure_text_split(text, &limit.figure, &range, err);
    if (status == STATUS_OK)
        status = figure_text_range(range, limit.figure, &limit.tolerance, err);
    if (status != STATUS_OK)
        return err_prefix(err, "--limit");
    spec_add(&limits->spec, &limit);
    return STATUS_OK;
}

/* --- the maker's ---------------------------------------------------------------------------- */

/* What the bow's entry says of figures that are measured. */
static const struct maker_range {
    enum figure_id figure;
    size_t low, high; /* offsets in struct record_bow */
} maker_ranges[] = {
    {FIGURE_PEAK_FORCE, offsetof(struct record_bow, peak_low_n),
     offsetof(struct record_bow, peak_high_n)},
    {FIGURE_LET_OFF, offsetof(struct record_bow, let_off_low_pct),
     offsetof(struct record_bow, let_off_high_pct)},
    {FIGURE_DRAW_LENGTH_ATA, offsetof(struct record_bow, draw_length_low_m),
     offsetof(struct record_bow, draw_length_high_m)},
    {FIGURE_BRACE_HEIGHT, offsetof(struct record_bow, brace_height_m),
     offsetof(struct record_bow, brace_height_m)},
};

enum { N_MAKER_RANGES = sizeof maker_ranges / sizeof maker_ranges[0] };
static_assert((int)NOMINALS_MAX >= (int)N_MAKER_RANGES, "a nominal for each");

static double value_at(const struct record_bow *bow, size_t offset)
{
    double value;
    memcpy(&value, (const char *)bow + offset, sizeof value);
    return value;
}

/* The last --tolerance for this figure; 0 where there is none. */
static enum status find_tolerance(const struct options *options, enum figure_id figure,
                                  double *amount_si, struct err *err)
{
    enum status status = STATUS_OK;
    *amount_si = 0;
    for (size_t i = 0; status == STATUS_OK && i < options_count(options, "tolerance"); i++) {
        enum figure_id of;
        const char *amount;
        status = figure_text_split(options_nth(options, "tolerance", i), &of, &amount, err);
        if (status == STATUS_OK && of == figure)
            status = figure_text_amount(amount, figure, amount_si, err);
    }
    return status == STATUS_OK ? STATUS_OK : err_prefix(err, "--tolerance");
}

static enum status add_range(struct limits *limits, const struct options *options,
                             const struct maker_range *range, struct err *err)
{
    double low = value_at(&limits->bow, range->low), high = value_at(&limits->bow, range->high);
    struct spec_limit limit = {.figure = range->figure,
                               .origin = SPEC_MAKER,
                               .tolerance = {.has_low = !isnan(low),
                                             .has_high = !isnan(high),
                                             .low = isnan(low) ? 0 : low,
                                             .high = isnan(high) ? 0 : high}};
    double amount_si;
    enum status status = find_tolerance(options, range->figure, &amount_si, err);
    if (status != STATUS_OK || (isnan(low) && isnan(high)))
        return status;
    limits->has_bow = true;
    bool single = limit.tolerance.has_low && limit.tolerance.has_high && !(low < high);
    if (single && !(amount_si > 0)) {
        limits->nominals[limits->n_nominals++] =
            (struct verdict_nominal){.figure = range->figure, .value_si = low};
        return STATUS_OK;
    }
    if (single) {
        limit.tolerance.low = low - amount_si;
        limit.tolerance.high = low + amount_si;
    }
    spec_add(&limits->spec, &limit);
    return STATUS_OK;
}

/* Is there a single number for what --tolerance is given for? */
static enum status check_tolerances(const struct limits *limits, const struct options *options,
                                    struct err *err)
{
    for (size_t i = 0; i < options_count(options, "tolerance"); i++) {
        enum figure_id figure;
        const char *ignored;
        bool single = false;
        if (figure_text_split(options_nth(options, "tolerance", i), &figure, &ignored, err) !=
            STATUS_OK)
            return err_prefix(err, "--tolerance");
        for (size_t k = 0; k < N_MAKER_RANGES; k++)
            single = single || (limits->has_bow && maker_ranges[k].figure == figure &&
                                value_at(&limits->bow, maker_ranges[k].low) ==
                                    value_at(&limits->bow, maker_ranges[k].high));
        if (!single)
            return err_set(err, STATUS_USAGE,
                           "--tolerance %s: no bow's entry has a single number for that; a range "
                           "is given with --limit",
                           figure_info(figure)->name);
    }
    return STATUS_OK;
}

static enum status find_bow(struct limits *limits, const struct options *options,
                            const char *bow_text, struct err *err)
{
    char *path = NULL;
    struct record *record = NULL;
    enum status status = options_record_path(options, &path, err);
    if (status == STATUS_OK)
        status = record_open(&record, path, RECORD_READ, err);
    if (status == STATUS_OK)
        status = record_bow_find(record, bow_text, &limits->bow, err);
    record_close(record);
    free(path);
    return status;
}

/* Which limits were looked for, and why there are none. */
static enum status no_limits(const struct limits *limits, struct err *err)
{
    if (limits->n_nominals > 0)
        return err_set(err, STATUS_USAGE,
                       "there is nothing to judge by: the entry of '%s' has single numbers and no "
                       "ranges; say with --tolerance %s=AMOUNT how far off it may be, or give "
                       "limits with --limit or --rules",
                       limits->bow.name, figure_info(limits->nominals[0].figure)->name);
    if (limits->bow.name != NULL)
        return err_set(err, STATUS_USAGE,
                       "no limits are known: the entry of '%s' says nothing of peak, let-off, draw "
                       "length or brace height; " HOW_TO_GIVE_LIMITS,
                       limits->bow.name);
    return err_set(err, STATUS_USAGE, "no limits are known; " HOW_TO_GIVE_LIMITS);
}

enum status limits_read(struct limits *limits, const struct options *options, struct err *err)
{
    enum status status = STATUS_OK;
    limits->bow = record_bow_blank();
    if (options_has(options, "bow") && options_has(options, "no-bow"))
        return err_set(err, STATUS_USAGE, "--bow and --no-bow contradict each other");
    for (size_t i = 0; status == STATUS_OK && i < options_count(options, "limit"); i++)
        status = read_stated(limits, options_nth(options, "limit", i), err);
    for (size_t i = 0; status == STATUS_OK && i < options_count(options, "rules"); i++)
        status = rules_add(&limits->rules, options_nth(options, "rules", i), &limits->spec, err);
    return status;
}

enum status limits_add_bow(struct limits *limits, const struct options *options,
                           const struct subject *subject, struct err *err)
{
    const char *bow = options_text(options, "bow", NULL);
    if (bow == NULL && subject->kind == SUBJECT_CAPTURE && subject->capture.bow_key[0] != '\0')
        bow = subject->capture.bow_key;
    enum status status = STATUS_OK;
    if (bow != NULL && !options_has(options, "no-bow"))
        status = find_bow(limits, options, bow, err);
    for (size_t i = 0; status == STATUS_OK && i < N_MAKER_RANGES; i++)
        status = add_range(limits, options, &maker_ranges[i], err);
    if (status == STATUS_OK)
        status = check_tolerances(limits, options, err);
    if (status == STATUS_OK && limits->spec.n == 0)
        status = no_limits(limits, err);
    return status;
}

void limits_clear(struct limits *limits)
{
    spec_clear(&limits->spec);
    rules_clear(&limits->rules);
    record_bow_clear(&limits->bow);
    *limits = (struct limits){0};
}
