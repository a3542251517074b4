#include "base/mem.h"
#include "record/record_private.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* What a person can do about a fault of this kind, and the status that goes with it. */
static const struct fault {
    int code; /* SQLite's extended or primary result code; the first that fits holds */
    enum status status;
    const char *remedy;
} fault_table[] = {
    {SQLITE_IOERR_READ, STATUS_BAD_INPUT, "check the disk"},
    {SQLITE_IOERR_SHORT_READ, STATUS_BAD_INPUT, "check the disk"},
    {SQLITE_CONSTRAINT_FOREIGNKEY, STATUS_NO_INPUT,
     "a bow, calibration or capture that it refers to is not in the record"},
    {SQLITE_CONSTRAINT_UNIQUE, STATUS_BAD_INPUT, "it is in the record already"},
    {SQLITE_CONSTRAINT_PRIMARYKEY, STATUS_BAD_INPUT, "it is in the record already"},
    {SQLITE_CONSTRAINT, STATUS_BAD_INPUT, "the record does not take such an entry"},
    {SQLITE_BUSY, STATUS_CANT_WRITE, "another program holds it; close that one and try again"},
    {SQLITE_LOCKED, STATUS_CANT_WRITE, "another program holds it; close that one and try again"},
    {SQLITE_FULL, STATUS_CANT_WRITE, "free some space and try again"},
    {SQLITE_READONLY, STATUS_CANT_WRITE, "the file or its folder is read-only"},
    {SQLITE_IOERR, STATUS_CANT_WRITE, "check the disk and its free space"},
    {SQLITE_CANTOPEN, STATUS_CANT_WRITE, "check the permissions of the file and its folder"},
    {SQLITE_PERM, STATUS_CANT_WRITE, "check the permissions of the file and its folder"},
    {SQLITE_AUTH, STATUS_CANT_WRITE, "check the permissions of the file and its folder"},
    {SQLITE_TOOBIG, STATUS_BAD_INPUT, "a text or a chunk is too long"},
    {SQLITE_NOTADB, STATUS_BAD_INPUT, "this is no record; name another file"},
    {SQLITE_CORRUPT, STATUS_BAD_INPUT,
     "the record is damaged; keep a copy of it, then go back to a backup or an export"},
};

static const struct fault *find_fault(int extended)
{
    for (size_t i = 0; i < sizeof fault_table / sizeof fault_table[0]; i++)
        if (fault_table[i].code == extended || fault_table[i].code == (extended & 0xFF))
            return &fault_table[i];
    static const struct fault unknown = {SQLITE_ERROR, STATUS_INTERNAL, "this is a fault of ours"};
    return &unknown;
}

enum status record_fault(const struct record *record, const char *doing, struct err *err)
{
    const struct fault *fault = find_fault(sqlite3_extended_errcode(record->db));
    return err_set(err, fault->status, "%s: can't %s: %s; %s", record->path, doing,
                   sqlite3_errmsg(record->db), fault->remedy);
}

static const char *doing_of(sqlite3_stmt *statement)
{
    return sqlite3_stmt_readonly(statement) ? "be read" : "be written";
}

enum status record_prepare(const struct record *record, const char *sql, sqlite3_stmt **statement,
                           struct err *err)
{
    *statement = NULL;
    if (sqlite3_prepare_v2(record->db, sql, -1, statement, NULL) != SQLITE_OK)
        return record_fault(record, "be read", err);
    return STATUS_OK;
}

enum status record_step(const struct record *record, sqlite3_stmt *statement, bool *row,
                        struct err *err)
{
    int code = sqlite3_step(statement);
    *row = code == SQLITE_ROW;
    if (code == SQLITE_ROW || code == SQLITE_DONE)
        return STATUS_OK;
    return record_fault(record, doing_of(statement), err);
}

enum status record_run(const struct record *record, sqlite3_stmt *statement, struct err *err)
{
    bool row;
    return record_step(record, statement, &row, err);
}

enum status record_exec(const struct record *record, const char *sql, struct err *err)
{
    sqlite3_stmt *statement;
    enum status status = record_prepare(record, sql, &statement, err);
    if (status == STATUS_OK)
        status = record_run(record, statement, err);
    sqlite3_finalize(statement);
    return status;
}

enum status record_query_int(const struct record *record, const char *sql, int64_t *value,
                             struct err *err)
{
    sqlite3_stmt *statement;
    enum status status = record_prepare(record, sql, &statement, err);
    bool row = false;
    if (status == STATUS_OK)
        status = record_step(record, statement, &row, err);
    if (status == STATUS_OK)
        *value = row ? sqlite3_column_int64(statement, 0) : 0;
    sqlite3_finalize(statement);
    return status;
}

enum status record_transaction_begin(const struct record *record, struct err *err)
{
    assert(record->mode != RECORD_READ);
    return record_exec(record, "BEGIN IMMEDIATE", err);
}

enum status record_transaction_end(const struct record *record, enum status status, struct err *err)
{
    if (status == STATUS_OK)
        status = record_exec(record, "COMMIT", err);
    /* Some faults end the transaction by themselves; a second rollback would be a fault. */
    if (status != STATUS_OK && !sqlite3_get_autocommit(record->db))
        (void)record_exec(record, "ROLLBACK", NULL);
    return status;
}

/* Nothing is copied, so memory is not needed; a text that is too long is refused by the step. */
static void check_bound(int code)
{
    assert(code == SQLITE_OK || code == SQLITE_TOOBIG);
    (void)code;
}

void record_bind_text(sqlite3_stmt *statement, int index, const char *text)
{
    check_bound(sqlite3_bind_text64(statement, index, text != NULL ? text : "",
                                    text != NULL ? strlen(text) : 0, SQLITE_STATIC, SQLITE_UTF8));
}

void record_bind_key(sqlite3_stmt *statement, int index, const char *key)
{
    if (key == NULL || key[0] == '\0')
        check_bound(sqlite3_bind_null(statement, index));
    else
        record_bind_text(statement, index, key);
}

void record_bind_int(sqlite3_stmt *statement, int index, int64_t value)
{
    check_bound(sqlite3_bind_int64(statement, index, value));
}

void record_bind_blob(sqlite3_stmt *statement, int index, const void *bytes, size_t length)
{
    check_bound(sqlite3_bind_blob64(statement, index, bytes, length, SQLITE_STATIC));
}

void record_bind_double(sqlite3_stmt *statement, int index, double value)
{
    check_bound(isnan(value) ? sqlite3_bind_null(statement, index)
                             : sqlite3_bind_double(statement, index, value));
}

char *record_column_text(sqlite3_stmt *statement, int column)
{
    const unsigned char *text = sqlite3_column_text(statement, column);
    if (text == NULL)
        return mem_strdup("");
    return mem_strndup((const char *)text, (size_t)sqlite3_column_bytes(statement, column));
}

void record_column_field(sqlite3_stmt *statement, int column, char *field, size_t size)
{
    const unsigned char *text = sqlite3_column_text(statement, column);
    (void)snprintf(field, size, "%s", text != NULL ? (const char *)text : "");
}

double record_column_double(sqlite3_stmt *statement, int column)
{
    if (sqlite3_column_type(statement, column) == SQLITE_NULL)
        return (double)NAN;
    return sqlite3_column_double(statement, column);
}
