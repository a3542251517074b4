#include "base/mem.h"
#include "record/record.h"
#include "record/record_private.h"

#include <assert.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct record_bow record_bow_blank(void)
{
    const double unknown = (double)NAN;
    return (struct record_bow){
        .brace_height_m = unknown,
        .peak_low_n = unknown,
        .peak_high_n = unknown,
        .draw_length_low_m = unknown,
        .draw_length_high_m = unknown,
        .let_off_low_pct = unknown,
        .let_off_high_pct = unknown,
        .axle_to_axle_m = unknown,
        .rated_speed_m_s = unknown,
    };
}

void record_bow_clear(struct record_bow *bow)
{
    free(bow->name);
    free(bow->owner);
    free(bow->kind);
    free(bow->serial);
    free(bow->note);
    *bow = record_bow_blank();
}

static const char *kind_of(const struct record_bow *bow)
{
    return bow->kind != NULL && bow->kind[0] != '\0' ? bow->kind : "compound";
}

static enum status check_kind(const char *kind, struct err *err)
{
    static const char *const kinds[] = {"compound", "recurve", "longbow", "other"};
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        if (strcmp(kind, kinds[i]) == 0)
            return STATUS_OK;
    return err_set(err, STATUS_USAGE,
                   "'%s' is no kind of bow; choose compound, recurve, longbow or other", kind);
}

static enum status check_range(const char *what, double low, double high, struct err *err)
{
    if (isinf(low) || isinf(high) || low < 0 || high < 0)
        return err_set(err, STATUS_USAGE, "%s of a bow must be a finite number, not below zero",
                       what);
    if (low > high)
        return err_set(err, STATUS_USAGE, "%s of a bow: the low end is above the high end", what);
    return STATUS_OK;
}

static enum status check_bow(const struct record_bow *bow, struct err *err)
{
    if (bow->name == NULL || bow->name[0] == '\0')
        return err_set(err, STATUS_USAGE, "a bow needs a name");
    enum status status = check_kind(kind_of(bow), err);
    const struct {
        const char *what;
        double low, high;
    } ranges[] = {
        {"the brace height", bow->brace_height_m, bow->brace_height_m},
        {"the peak draw force", bow->peak_low_n, bow->peak_high_n},
        {"the draw length", bow->draw_length_low_m, bow->draw_length_high_m},
        {"the let-off", bow->let_off_low_pct, bow->let_off_high_pct},
        {"the axle-to-axle length", bow->axle_to_axle_m, bow->axle_to_axle_m},
        {"the rated speed", bow->rated_speed_m_s, bow->rated_speed_m_s},
    };
    for (size_t i = 0; status == STATUS_OK && i < sizeof ranges / sizeof ranges[0]; i++)
        status = check_range(ranges[i].what, ranges[i].low, ranges[i].high, err);
    return status;
}

/* Name, owner and serial without their case, apart by a control that no one types. */
static void add_search_text(struct buf *out, const struct record_bow *bow)
{
    fold_case(out, bow->name);
    buf_char(out, '\x1F');
    fold_case(out, bow->owner != NULL ? bow->owner : "");
    buf_char(out, '\x1F');
    fold_case(out, bow->serial != NULL ? bow->serial : "");
}

static void bind_bow(sqlite3_stmt *statement, const struct record_bow *bow, const char *search)
{
    record_bind_text(statement, 1, bow->statement_key);
    record_bind_text(statement, 2, bow->key);
    record_bind_int(statement, 3, bow->statement);
    record_bind_text(statement, 4, bow->made_at);
    record_bind_int(statement, 5, bow->retired);
    record_bind_text(statement, 6, bow->name);
    record_bind_text(statement, 7, bow->owner);
    record_bind_text(statement, 8, kind_of(bow));
    record_bind_text(statement, 9, bow->serial);
    record_bind_text(statement, 10, bow->note);
    record_bind_double(statement, 11, bow->brace_height_m);
    record_bind_double(statement, 12, bow->peak_low_n);
    record_bind_double(statement, 13, bow->peak_high_n);
    record_bind_double(statement, 14, bow->draw_length_low_m);
    record_bind_double(statement, 15, bow->draw_length_high_m);
    record_bind_double(statement, 16, bow->let_off_low_pct);
    record_bind_double(statement, 17, bow->let_off_high_pct);
    record_bind_double(statement, 18, bow->axle_to_axle_m);
    record_bind_double(statement, 19, bow->rated_speed_m_s);
    record_bind_text(statement, 20, search);
}

enum status record_bow_statement_insert(const struct record *record, const struct record_bow *bow,
                                        struct err *err)
{
    enum status status = check_bow(bow, err);
    if (status != STATUS_OK)
        return status;
    struct buf search = {0};
    add_search_text(&search, bow);
    sqlite3_stmt *statement;
    status = record_prepare(record,
                            "INSERT INTO bow_statement VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9,"
                            " ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20)",
                            &statement, err);
    if (status == STATUS_OK) {
        bind_bow(statement, bow, buf_string(&search));
        status = record_run(record, statement, err);
    }
    sqlite3_finalize(statement);
    buf_clear(&search);
    return status;
}

enum status record_bow_key_insert(const struct record *record, const char *key, struct err *err)
{
    sqlite3_stmt *statement;
    enum status status = record_prepare(record, "INSERT INTO bow VALUES (?1)", &statement, err);
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, key);
        status = record_run(record, statement, err);
    }
    sqlite3_finalize(statement);
    return status;
}

/* How many bows in use have exactly this name; key gets that of one of them. */
static enum status count_named(const struct record *record, const char *name, int64_t *n,
                               char key[RECORD_KEY_MAX], struct err *err)
{
    sqlite3_stmt *statement;
    enum status status = record_prepare(
        record, "SELECT count(*), max(bow_key) FROM bow_now WHERE name = ?1 AND retired = 0",
        &statement, err);
    bool row = false;
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, name);
        status = record_step(record, statement, &row, err);
    }
    if (status == STATUS_OK) {
        *n = sqlite3_column_int64(statement, 0);
        record_column_field(statement, 1, key, RECORD_KEY_MAX);
    }
    sqlite3_finalize(statement);
    return status;
}

/* Number and date of a statement that is to be the newest one about its bow. */
static enum status place_statement(const struct record *record, struct record_bow *bow,
                                   struct err *err)
{
    sqlite3_stmt *statement;
    enum status status =
        record_prepare(record,
                       "SELECT coalesce(max(number), 0) + 1, max(?2, coalesce(max(made_at), ''))"
                       " FROM bow_statement WHERE bow_key = ?1",
                       &statement, err);
    bool row = false;
    char now[RECORD_TIME_MAX];
    record_now(now);
    if (status == STATUS_OK) {
        record_bind_text(statement, 1, bow->key);
        record_bind_text(statement, 2, now);
        status = record_step(record, statement, &row, err);
    }
    if (status == STATUS_OK) {
        bow->statement = sqlite3_column_int64(statement, 0);
        record_column_field(statement, 1, bow->made_at, sizeof bow->made_at);
    }
    sqlite3_finalize(statement);
    return status;
}

static enum status fault_name_taken(const char *name, const char *key, struct err *err)
{
    return err_set(err, STATUS_USAGE,
                   "the name '%s' belongs to another bow in use (key %.8s); choose another name, "
                   "or retire that bow",
                   name, key);
}

/* Which bow the statement is about: the named key, the bow with the same name, or a new one. */
static enum status resolve_bow(const struct record *record, struct record_bow *bow, struct err *err)
{
    int64_t n_named = 0;
    char named[RECORD_KEY_MAX] = "";
    enum status status = count_named(record, bow->name, &n_named, named, err);
    if (status != STATUS_OK)
        return status;
    if (bow->key[0] != '\0') {
        if (!bow->retired && (n_named > 1 || (n_named == 1 && strcmp(named, bow->key) != 0)))
            return fault_name_taken(bow->name, named, err);
        return STATUS_OK;
    }
    if (n_named > 1)
        return err_set(err, STATUS_USAGE,
                       "%" PRId64 " bows in use have the name '%s'; name the bow by its key",
                       n_named, bow->name);
    if (n_named == 1) {
        memcpy(bow->key, named, sizeof named);
        return STATUS_OK;
    }
    status = record_key_new(bow->key, err);
    if (status == STATUS_OK)
        status = record_bow_key_insert(record, bow->key, err);
    return status;
}

enum status record_bow_add(struct record *record, struct record_bow *bow, struct err *err)
{
    enum status status = check_bow(bow, err);
    struct record_bow added = *bow; /* so that a failure leaves *bow as it was */
    if (status == STATUS_OK)
        status = record_key_new(added.statement_key, err);
    if (status == STATUS_OK)
        status = record_transaction_begin(record, err);
    if (status != STATUS_OK)
        return status;
    status = resolve_bow(record, &added, err);
    if (status == STATUS_OK)
        status = place_statement(record, &added, err);
    if (status == STATUS_OK)
        status = record_bow_statement_insert(record, &added, err);
    status = record_transaction_end(record, status, err);
    if (status == STATUS_OK)
        *bow = added;
    return status;
}
