/* calibrate: what the counts of the load cell and of the encoder mean, and how well; and how far
 * the fixture gives. */
#include "base/mem.h"
#include "base/number.h"
#include "bench/benchfile.h"
#include "record/record.h"
#include "show/calibration_record.h"
#include "show/json.h"
#include "verbs/calibrate_give.h"
#include "verbs/calibrate_live.h"
#include "verbs/calibrate_page.h"
#include "verbs/calibrate_reference.h"
#include "verbs/calibrate_table.h"
#include "verbs/options.h"
#include "verbs/verb.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { MONTHS_MOST = 120 };

static const struct option_spec spec[] = {
    {"bench", "FILE", "the bench file: name and port of the bench (docs/bench.md)"},
    {"table", "FILE", "take the points from this CSV file (docs/calibration.md); - reads them"},
    {"columns", "MAP",
     "give: which columns of the table, as for measure: draw=NAME[:unit],force=NAME[:unit]"},
    {"live", NULL, "take the points on the bench now, load by load"},
    {"port", "PATH", "with --live: use this port in place of the one in the bench file"},
    {"loads", "LIST",
     "with --live: the loads (lbf) or lengths (in) in turn, e.g. 0,20,40,60,40,20,0; "
     "without it each is typed when it is on"},
    {"runs", "N", "with --live: go through the loads N times, the sensor newly mounted each time"},
    {"average", "TIME", "with --live: average over this time (default 3 s)"},
    {"masses", NULL, "the loads are weights marked in lb or kg that hang: work out their force"},
    {"latitude", "DEG", "for weights: geographical latitude of the shop, south negative"},
    {"height", "LENGTH", "for weights: height of the shop above the sea (m)"},
    {"gravity", "G", "for weights: local gravity in m/s2, in place of --latitude and --height"},
    {"mass-density", "D", "for weights: their density in kg/m3 (default 8000, steel)"},
    {"air-density", "D", "for weights: density of the air in kg/m3 (default 1.2)"},
    {"u-reference", "U",
     "standard uncertainty of each reference, e.g. \"0.02 lbf\" or \"0.1 %\" of it"},
    {"references", "KIND",
     "common: one error moves all references alike (default); independent: each was calibrated by "
     "itself"},
    {"terms", "N", "2: straight line, 3: quadratic, auto: by evidence (default)"},
    {"creep", "C30,C300", "counts 30 s and 300 s after one load was put on"},
    {"note", "TEXT", "kept with the calibration"},
    {"months", "N", "how long a calibration holds (default 12)"},
    {"no-store", NULL, "show the page and store nothing"},
    {"units", "SYSTEM", "trade (lbf, in; the default) or si (N, m)"},
    {"record", "FILE", "the shop's record"},
    {"json", NULL, "print the page as JSON"},
    {NULL, NULL, NULL},
};

/* What was asked for, but for where the points come from. */
struct request {
    enum quantity quantity;
    struct reference_settings references;
    bool independent;
    size_t n_terms; /* 0: by evidence */
    struct calibration_creep creep;
    int months;
    enum unit_system units;
};

static enum status read_word(const struct options *options, const char *name,
                             const char *const *words, size_t n, size_t *which, struct err *err)
{
    const char *text = options_text(options, name, words[0]);
    for (*which = 0; *which < n; (*which)++)
        if (strcmp(text, words[*which]) == 0)
            return STATUS_OK;
    return err_set(err, STATUS_USAGE, "--%s: '%s' is none of what may stand there: %s, %s%s%s",
                   name, text, words[0], words[1], n > 2 ? ", " : "", n > 2 ? words[2] : "");
}

static enum status read_creep(const struct options *options, struct calibration_creep *creep,
                              struct err *err)
{
    const char *text = options_text(options, "creep", NULL);
    if (text == NULL)
        return STATUS_OK;
    const char *end = text + strlen(text);
    const char *comma = number_scan(text, end, '.', &creep->count_30_s);
    const char *last = comma != NULL && *comma == ','
                           ? number_scan(comma + 1, end, '.', &creep->count_300_s)
                           : NULL;
    creep->given = last == end;
    return creep->given ? STATUS_OK
                        : err_set(err, STATUS_USAGE,
                                  "--creep: '%s' is not two counts, like 8512345,8512361", text);
}

/* What show needs too. */
static enum status read_shown(struct request *request, const struct options *options,
                              struct err *err)
{
    const char *units = options_text(options, "units", "trade");
    int64_t months = 0;
    if (!unit_system_parse(units, &request->units))
        return err_set(err, STATUS_USAGE, "--units: '%s' is neither trade nor si", units);
    enum status status =
        options_int(options, "months", 1, MONTHS_MOST, CALIBRATION_MONTHS_DEFAULT, &months, err);
    request->months = (int)months;
    return status;
}

static enum status read_request(struct request *request, const struct options *options,
                                struct err *err)
{
    static const char *const kinds[] = {"common", "independent"};
    static const char *const terms[] = {"auto", "2", "3"};
    const char *const sources[] = {"table", "live"};
    size_t kind = 0, term = 0, n_sources = 0;
    for (size_t i = 0; i < 2; i++)
        n_sources += options_has(options, sources[i]);
    if (n_sources != 1)
        return err_set(err, STATUS_USAGE, "say where the points come from: --table FILE or --live");
    enum status status = read_shown(request, options, err);
    if (status == STATUS_OK)
        status = read_word(options, "references", kinds, 2, &kind, err);
    if (status == STATUS_OK)
        status = read_word(options, "terms", terms, 3, &term, err);
    if (status == STATUS_OK)
        status = read_creep(options, &request->creep, err);
    if (status == STATUS_OK)
        status = reference_settings_read(&request->references, options, err);
    if (status == STATUS_OK && request->quantity == QUANTITY_LENGTH && request->references.masses)
        status = err_set(err, STATUS_USAGE, "--masses says nothing for travel");
    request->independent = kind == 1;
    request->n_terms = term == 0 ? 0 : term + 1;
    return status;
}

/* --- pages ---------------------------------------------------------------------------------- */

/* One page after the other as text or in one JSON object. */
struct pages {
    struct buf text;
    json_t *list;
};

static void pages_add(struct pages *pages, const struct calibration_record *shown, bool json)
{
    if (json) {
        if (pages->list == NULL)
            pages->list = json_array();
        json_add(pages->list, calibration_record_json(shown));
        return;
    }
    if (pages->text.length > 0)
        buf_char(&pages->text, '\n');
    calibration_record_text(&pages->text, shown);
}

static enum status pages_print(struct pages *pages, struct err *err)
{
    if (pages->list != NULL) {
        json_t *object = json_object();
        json_put(object, "schema", json_integer(1));
        json_put(object, "calibrations", pages->list);
        pages->list = NULL;
        json_render(&pages->text, object);
        json_decref(object);
    }
    return buf_write_stdout(&pages->text, err);
}

static void pages_clear(struct pages *pages)
{
    buf_clear(&pages->text);
    json_decref(pages->list);
}

/* Works out the page of *stored with the one before it in the record (record may be NULL). */
static enum status add_page(struct pages *pages, struct record *record,
                            const struct record_calibration *stored,
                            const struct calibrate_page_settings *settings, bool json,
                            struct err *err)
{
    struct record_calibration before = {0};
    bool has_before = false;
    if (record != NULL)
        has_before = (stored->key[0] != '\0'
                          ? record_calibration_before(record, stored->key, &before, NULL)
                          : record_calibration_newest(record, stored->bench, stored->quantity,
                                                      &before, NULL)) == STATUS_OK;
    struct calibrate_page page;
    enum status status =
        calibrate_page_fill(&page, stored, has_before ? &before : NULL, settings, err);
    if (status == STATUS_OK) {
        pages_add(pages, &page.shown, json);
        calibrate_page_clear(&page);
    }
    record_calibration_clear(&before);
    return status;
}

/* --- a new calibration ---------------------------------------------------------------------- */

/* What creep was is not kept with the points, so the note says it. */
static char *note_of(const struct request *request, const struct options *options,
                     const char *file_note, const struct calibration *calibration)
{
    struct buf note = {0};
    buf_text(&note, options_text(options, "note", file_note));
    if (request->creep.given) {
        double largest_si = calibration->value_high_si > -calibration->value_low_si
                                ? calibration->value_high_si
                                : -calibration->value_low_si;
        double creep_si = calibration_value(calibration, request->creep.count_300_s) -
                          calibration_value(calibration, request->creep.count_30_s);
        char number[NUMBER_TEXT_MAX];
        buf_printf(&note, "%screep 30 s to 300 s: %s %% of the largest load",
                   note.length > 0 ? "; " : "",
                   number_fixed(number, 100.0 * creep_si / largest_si, 3));
    }
    char *text = mem_strdup(buf_string(&note));
    buf_clear(&note);
    return text;
}

/* Opens the record to write, or to look at where nothing is to be stored: then it may be missing.
 */
static enum status open_record(struct record **record, const struct options *options,
                               struct err *err)
{
    char *path = NULL;
    bool store = !options_has(options, "no-store");
    enum status status = options_record_path(options, &path, err);
    if (status == STATUS_OK && (store || access(path, F_OK) == 0))
        status = record_open(record, path, store ? RECORD_CREATE : RECORD_READ, err);
    free(path);
    return status;
}

/* Chooses the terms, fits, stores and shows. The points are borrowed. */
static enum status store(const struct request *request, const struct options *options,
                         struct record_calibration *made, const char *file_note, bool masses,
                         struct err *err)
{
    enum calibration_references references = calibrate_references(made);
    struct calibration_choice choice;
    struct calibration calibration;
    struct record *record = NULL;
    struct pages pages = {0};
    enum status status =
        calibration_choose(made->points, made->n_points, made->quantity, references, &choice, err);
    made->n_terms = request->n_terms > 0 ? request->n_terms : choice.n_terms;
    if (status == STATUS_OK)
        status = calibration_fit_references(made->points, made->n_points, made->quantity,
                                            made->n_terms, references, &calibration, err);
    if (status != STATUS_OK)
        return status;
    char *note = note_of(request, options, file_note, &calibration);
    made->note = note;
    status = open_record(&record, options, err);
    if (status == STATUS_OK && !options_has(options, "no-store"))
        status = record_calibration_add(record, made, err);
    const struct calibrate_page_settings settings = {
        .creep = &request->creep,
        .months = request->months,
        .units = request->units,
        .place_unknown = masses && !request->references.place_stated,
    };
    if (status == STATUS_OK)
        status = add_page(&pages, record, made, &settings, options_has(options, "json"), err);
    if (status == STATUS_OK)
        status = pages_print(&pages, err);
    pages_clear(&pages);
    record_close(record);
    free(note);
    made->note = NULL;
    return status;
}

static enum status from_table(struct request *request, const struct options *options,
                              struct record_calibration *made, struct err *err)
{
    struct calibrate_table table;
    enum status status = calibrate_table_read(&table, options_text(options, "table", ""),
                                              request->quantity, &request->references, err);
    if (status != STATUS_OK)
        return status;
    if (!request->creep.given)
        request->creep = table.creep;
    made->points = table.points;
    made->n_points = table.n;
    status = store(request, options, made, table.note, table.masses, err);
    calibrate_table_clear(&table);
    return status;
}

/* Points that could not be stored are printed, so that what was measured is not lost. */
static void rescue_points(const struct calibrate_live *live, enum quantity quantity)
{
    struct buf text = {0};
    if (live->n == 0)
        return;
    buf_text(&text, "The points as they were taken, for --table:\n");
    calibrate_table_write(&text, live->points, live->n, quantity);
    (void)fputs(buf_string(&text), stderr);
    buf_clear(&text);
}

static enum status from_bench(struct request *request, const struct options *options,
                              const struct bench *bench, struct record_calibration *made,
                              struct err *err)
{
    struct calibrate_live live;
    enum status status =
        calibrate_live_run(&live, options, bench, request->quantity, &request->references, err);
    if (status == STATUS_OK) {
        made->points = live.points;
        made->n_points = live.n;
        status = store(request, options, made, "", live.masses, err);
    }
    if (status != STATUS_OK)
        rescue_points(&live, request->quantity);
    calibrate_live_clear(&live);
    return status;
}

static enum status calibrate(enum quantity quantity, const struct options *options, struct err *err)
{
    struct request request = {.quantity = quantity};
    struct bench bench;
    const char *path = options_text(options, "bench", NULL);
    enum status status = read_request(&request, options, err);
    if (status == STATUS_OK && path == NULL)
        status = err_set(err, STATUS_USAGE, "say which bench: --bench FILE");
    if (status == STATUS_OK)
        status = benchfile_read(&bench, path, err);
    if (status != STATUS_OK)
        return status;
    struct record_calibration made = {
        .bench = bench.name, .quantity = quantity, .references_independent = request.independent};
    status = options_has(options, "table") ? from_table(&request, options, &made, err)
                                           : from_bench(&request, options, &bench, &made, err);
    bench_clear(&bench);
    return status;
}

/* --- show ----------------------------------------------------------------------------------- */

static enum status show_all(struct record *record, const char *bench, const struct options *options,
                            struct pages *pages, struct err *err)
{
    struct request request = {0};
    char(*keys)[RECORD_KEY_MAX] = NULL;
    size_t n = 0;
    enum status status = read_shown(&request, options, err);
    if (status == STATUS_OK)
        status = record_calibration_in_force(record, bench, &keys, &n, err);
    if (status == STATUS_OK && n == 0)
        status = err_set(err, STATUS_NOT_CALIBRATED,
                         "the record has no calibration%s%s; make one with `pullcurve calibrate "
                         "force` and `pullcurve calibrate travel`",
                         bench != NULL ? " of " : "", bench != NULL ? bench : "");
    const struct calibrate_page_settings settings = {.months = request.months,
                                                     .units = request.units};
    for (size_t i = 0; status == STATUS_OK && i < n; i++) {
        struct record_calibration stored;
        status = record_calibration_get(record, keys[i], &stored, err);
        if (status == STATUS_OK)
            status = add_page(pages, record, &stored, &settings, options_has(options, "json"), err);
        record_calibration_clear(&stored);
    }
    free(keys);
    return status;
}

static enum status show(const struct options *options, struct err *err)
{
    const char *bench_path = options_text(options, "bench", NULL);
    struct bench bench = {0};
    struct record *record = NULL;
    struct pages pages = {0};
    char *path = NULL;
    enum status status = bench_path != NULL ? benchfile_read(&bench, bench_path, err) : STATUS_OK;
    if (status != STATUS_OK)
        return status;
    status = options_record_path(options, &path, err);
    if (status == STATUS_OK)
        status = record_open(&record, path, RECORD_READ, err);
    if (status == STATUS_OK)
        status = show_all(record, bench_path != NULL ? bench.name : NULL, options, &pages, err);
    if (status == STATUS_OK)
        status = pages_print(&pages, err);
    pages_clear(&pages);
    record_close(record);
    free(path);
    bench_clear(&bench);
    return status;
}

static enum status give(const struct options *options, struct err *err)
{
    struct request request = {.units = UNITS_TRADE};
    enum status status = read_shown(&request, options, err);
    return status == STATUS_OK ? calibrate_give(options, request.units, err) : status;
}

static enum status run(const struct options *options, struct err *err)
{
    const char *what = options_operand(options, 0);
    if (strcmp(what, "force") == 0)
        return calibrate(QUANTITY_FORCE, options, err);
    if (strcmp(what, "travel") == 0)
        return calibrate(QUANTITY_LENGTH, options, err);
    if (strcmp(what, "give") == 0)
        return give(options, err);
    if (strcmp(what, "show") == 0)
        return show(options, err);
    return err_set(err, STATUS_USAGE,
                   "'%s' can't be calibrated or shown: force, travel, give or show", what);
}

const struct verb verb_calibrate = {
    .name = "calibrate",
    .operands = "force | travel | give | show",
    .summary = "tell the bench what its counts mean, with known loads and lengths",
    .description =
        "force and travel fit the counts to known loads or lengths (from a table, or taken on the "
        "bench with --live), keep the points in the record and print the one-page record: the "
        "curve and why it was chosen, its uncertainty, zero return, reversibility, repeatability, "
        "drift against the calibration before, and when it is due again. Captures use the newest "
        "calibration of their bench. show prints the pages of those in force.\n"
        "give takes a table of draw position and force that was captured with a rigid bar in place "
        "of the string, and prints how far load cell, hook and frame give, as lines for the bench "
        "file; it stores nothing (docs/bench.md).\n"
        "Weights: --masses, with --latitude and --height or --gravity, turns marked lb or kg into "
        "force, buoyancy of the air included.\n"
        "SAFETY: loads that hang can fall. Keep hands, feet and heads from under them, use a "
        "second strap, and stay within the ratings of load cell, hook and frame. Calibrate "
        "without a bow on the bench.",
    .spec = spec,
    .operands_min = 1,
    .operands_max = 1,
    .run = run,
};
