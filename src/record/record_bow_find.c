#include "base/mem.h"
#include "record/record.h"
#include "record/record_private.h"

#include <stdlib.h>
#include <string.h>

/* What read_bow reads, in its order. */
#define SELECT_BOW                                                               \
    "SELECT s.bow_key, s.made_at, s.number, s.retired, s.name, s.owner, s.kind," \
    " s.serial, s.note, s.brace_height_m, s.peak_low_n, s.peak_high_n,"          \
    " s.draw_length_low_m, s.draw_length_high_m, s.let_off_low_pct,"             \
    " s.let_off_high_pct, s.axle_to_axle_m, s.rated_speed_m_s, s.key FROM bow_statement s "

/* Of all statements about a bow only the newest. Written out rather than through the view bow_now,
 * so that the order by search walks its index and the table is read for what fits alone. */
#define IS_NEWEST                                                                    \
    " NOT EXISTS (SELECT 1 FROM bow_statement later WHERE later.bow_key = s.bow_key" \
    " AND (later.made_at, later.number) > (s.made_at, s.number)) "

#define IN_USE_WITH_PART(retired)                                                        \
    SELECT_BOW "WHERE instr(s.search, ?1) > 0 AND s.retired = " retired " AND" IS_NEWEST \
               "ORDER BY s.search, s.bow_key"

static struct record_bow read_bow(sqlite3_stmt *statement)
{
    struct record_bow bow = {
        .statement = sqlite3_column_int64(statement, 2),
        .retired = sqlite3_column_int(statement, 3) != 0,
        .name = record_column_text(statement, 4),
        .owner = record_column_text(statement, 5),
        .kind = record_column_text(statement, 6),
        .serial = record_column_text(statement, 7),
        .note = record_column_text(statement, 8),
        .brace_height_m = record_column_double(statement, 9),
        .peak_low_n = record_column_double(statement, 10),
        .peak_high_n = record_column_double(statement, 11),
        .draw_length_low_m = record_column_double(statement, 12),
        .draw_length_high_m = record_column_double(statement, 13),
        .let_off_low_pct = record_column_double(statement, 14),
        .let_off_high_pct = record_column_double(statement, 15),
        .axle_to_axle_m = record_column_double(statement, 16),
        .rated_speed_m_s = record_column_double(statement, 17),
    };
    record_column_field(statement, 0, bow.key, sizeof bow.key);
    record_column_field(statement, 18, bow.statement_key, sizeof bow.statement_key);
    record_column_field(statement, 1, bow.made_at, sizeof bow.made_at);
    return bow;
}

/* Bows as they are found. */
struct found {
    struct record_bow *bows;
    size_t n, capacity;
};

static void clear_found(struct found *found)
{
    for (size_t i = 0; i < found->n; i++)
        record_bow_clear(&found->bows[i]);
    free(found->bows);
    *found = (struct found){0};
}

/* Adds all rows of this SQL, whose only parameter is text. On failure nothing is left in *found. */
static enum status select_bows(const struct record *record, const char *sql, const char *text,
                               struct found *found, struct err *err)
{
    sqlite3_stmt *statement;
    enum status status = record_prepare(record, sql, &statement, err);
    if (status == STATUS_OK)
        record_bind_text(statement, 1, text);
    while (status == STATUS_OK) {
        bool row;
        status = record_step(record, statement, &row, err);
        if (status != STATUS_OK || !row)
            break;
        if (found->n == found->capacity) {
            found->capacity = mem_grown(found->capacity, found->capacity + 1);
            found->bows = mem_realloc(found->bows, found->capacity, sizeof *found->bows);
        }
        found->bows[found->n++] = read_bow(statement);
    }
    sqlite3_finalize(statement);
    if (status != STATUS_OK)
        clear_found(found);
    return status;
}

static enum status list(const struct record *record, const char *sql, const char *text,
                        struct record_bow **bows, size_t *n, struct err *err)
{
    struct found found = {0};
    enum status status = select_bows(record, sql, text, &found, err);
    *bows = found.bows;
    *n = found.n;
    return status;
}

enum status record_bow_list(struct record *record, const char *part, struct record_bow **bows,
                            size_t *n, struct err *err)
{
    struct buf folded = {0};
    fold_case(&folded, part);
    enum status status = list(record, IN_USE_WITH_PART("0"), buf_string(&folded), bows, n, err);
    buf_clear(&folded);
    return status;
}

enum status record_bow_list_retired(struct record *record, const char *part,
                                    struct record_bow **bows, size_t *n, struct err *err)
{
    struct buf folded = {0};
    fold_case(&folded, part);
    enum status status = list(record, IN_USE_WITH_PART("1"), buf_string(&folded), bows, n, err);
    buf_clear(&folded);
    return status;
}

enum status record_bow_statements(struct record *record, const char *bow_key,
                                  struct record_bow **bows, size_t *n, struct err *err)
{
    return list(record, SELECT_BOW "WHERE s.bow_key = ?1 ORDER BY s.made_at DESC, s.number DESC",
                bow_key, bows, n, err);
}

static bool name_has(const struct record_bow *bow, const char *folded_part)
{
    struct buf folded = {0};
    fold_case(&folded, bow->name);
    bool has = strstr(buf_string(&folded), folded_part) != NULL;
    buf_clear(&folded);
    return has;
}

/* The search text holds owner and serial too; here the name alone counts. */
static void keep_with_name(struct found *found, const char *folded_part)
{
    size_t kept = 0;
    for (size_t i = 0; i < found->n; i++) {
        if (name_has(&found->bows[i], folded_part))
            found->bows[kept++] = found->bows[i];
        else
            record_bow_clear(&found->bows[i]);
    }
    found->n = kept;
}

static bool holds_key(const struct found *found, const char *key)
{
    for (size_t i = 0; i < found->n; i++)
        if (strcmp(found->bows[i].key, key) == 0)
            return true;
    return false;
}

static enum status find_by_beginning(const struct record *record, const char *text,
                                     struct found *found, struct err *err)
{
    if (!record_key_beginning(text))
        return STATUS_OK;
    struct found by_key = {0};
    /* 'g' is behind every digit that a key may go on with */
    enum status status = select_bows(
        record, SELECT_BOW "WHERE s.bow_key >= ?1 AND s.bow_key < ?1 || 'g' AND" IS_NEWEST, text,
        &by_key, err);
    for (size_t i = 0; i < by_key.n; i++) {
        if (holds_key(found, by_key.bows[i].key)) {
            record_bow_clear(&by_key.bows[i]);
            continue;
        }
        found->bows = mem_realloc(found->bows, found->n + 1, sizeof *found->bows);
        found->bows[found->n++] = by_key.bows[i];
        found->capacity = found->n;
    }
    free(by_key.bows);
    return status;
}

static enum status find_by_part(const struct record *record, const char *text, struct found *found,
                                struct err *err)
{
    struct buf folded = {0};
    fold_case(&folded, text);
    enum status status =
        select_bows(record, IN_USE_WITH_PART("0"), buf_string(&folded), found, err);
    keep_with_name(found, buf_string(&folded));
    buf_clear(&folded);
    if (status == STATUS_OK)
        status = find_by_beginning(record, text, found, err);
    return status;
}

/* Those that the text may mean: the first way that gives any holds. */
static enum status find_candidates(const struct record *record, const char *text,
                                   struct found *found, struct err *err)
{
    static const char *const exact[] = {
        SELECT_BOW "WHERE s.bow_key = ?1 AND" IS_NEWEST,
        SELECT_BOW "WHERE s.name = ?1 AND s.retired = 0 AND" IS_NEWEST,
    };
    enum status status = STATUS_OK;
    if (text[0] == '\0')
        return status;
    for (size_t i = 0; status == STATUS_OK && found->n == 0 && i < 2; i++)
        status = select_bows(record, exact[i], text, found, err);
    if (status == STATUS_OK && found->n == 0)
        status = find_by_part(record, text, found, err);
    if (status == STATUS_OK && found->n == 0)
        status = select_bows(record, SELECT_BOW "WHERE s.name = ?1 AND s.retired = 1 AND" IS_NEWEST,
                             text, found, err);
    return status;
}

static enum status fault_several(const struct record *record, const char *text,
                                 const struct found *found, struct err *err)
{
    struct buf names = {0};
    for (size_t i = 0; i < found->n && i < 8; i++)
        buf_printf(&names, "%s'%.60s' (key %.8s)", i > 0 ? ", " : "", found->bows[i].name,
                   found->bows[i].key);
    err_set(err, STATUS_NO_INPUT, "%s: '%.60s' fits %zu bows: %s%s; write more of it, or the key",
            record->path, text, found->n, buf_string(&names), found->n > 8 ? ", ..." : "");
    buf_clear(&names);
    return STATUS_NO_INPUT;
}

enum status record_bow_find(struct record *record, const char *text, struct record_bow *bow,
                            struct err *err)
{
    *bow = record_bow_blank();
    struct found found = {0};
    enum status status = find_candidates(record, text, &found, err);
    if (status == STATUS_OK && found.n == 0)
        status =
            err_set(err, STATUS_NO_INPUT, "%s: no bow '%.200s'; `pullcurve bow list` shows them",
                    record->path, text);
    if (status == STATUS_OK && found.n > 1)
        status = fault_several(record, text, &found, err);
    if (status == STATUS_OK) {
        *bow = found.bows[0];
        found.n = 0; /* its texts have moved */
    }
    clear_found(&found);
    return status;
}
