#include "record/record.h"

#include "base/mem.h"
#include "record/record_private.h"

#include <assert.h>
#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum {
    BUSY_TIMEOUT_MS = 2000,
    CHEAP_CHECK_BYTES = 1 << 20,     /* a check of this much takes a few milliseconds */
    UNCLEAN_CHECK_BYTES = 256 << 20, /* and of this much less than a second */
    WAL_KEPT_BYTES = 4 << 20,
};

static off_t file_size(const char *path)
{
    struct stat about;
    return path != NULL && stat(path, &about) == 0 ? about.st_size : 0;
}

/* The file beside the record in which SQLite keeps what is not yet in the record itself. */
static const char *wal_path(const struct record *record)
{
    const char *path = sqlite3_db_filename(record->db, "main");
    return path != NULL ? sqlite3_filename_wal(path) : NULL;
}

/* SQLite reads a meaning into ":memory:", "file:..." and "": a path is only ever a path here. */
static void add_plain_path(struct buf *out, const char *path)
{
    buf_printf(out, "%s%s", path[0] == '/' ? "" : "./", path);
}

static enum status check_place(const char *path, enum record_mode mode, struct err *err)
{
    struct stat about;
    if (stat(path, &about) == 0)
        return S_ISREG(about.st_mode)
                   ? STATUS_OK
                   : err_set(err, STATUS_BAD_INPUT, "%s: is not a file; name a record file", path);
    if (mode == RECORD_CREATE && errno == ENOENT)
        return STATUS_OK;
    if (mode == RECORD_CREATE)
        return err_set(err, STATUS_CANT_WRITE, "%s: %s; choose another place", path,
                       strerror(errno));
    return err_set(err, STATUS_NO_INPUT,
                   "%s: %s; check the name, or make a record with `pullcurve bow add` or "
                   "`pullcurve capture`",
                   path, strerror(errno));
}

static enum status configure(const struct record *record, struct err *err)
{
    (void)sqlite3_extended_result_codes(record->db, 1);
    (void)sqlite3_busy_timeout(record->db, BUSY_TIMEOUT_MS);
    /* A record may come from anybody: what its schema says must not act. */
    (void)sqlite3_db_config(record->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    (void)sqlite3_db_config(record->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    enum status status = record_exec(record, "PRAGMA cache_size = -16384", err); /* KiB */
    if (status == STATUS_OK) /* so that replacing a row is deleting it, which a trigger refuses */
        status = record_exec(record, "PRAGMA recursive_triggers = ON", err);
    if (status == STATUS_OK)
        status = record_exec(record, "PRAGMA foreign_keys = ON", err);
    int64_t on = 0;
    if (status == STATUS_OK)
        status = record_query_int(record, "PRAGMA foreign_keys", &on, err);
    if (status == STATUS_OK && on != 1)
        status = err_set(err, STATUS_INTERNAL, "this SQLite keeps no foreign keys");
    return status;
}

static enum status open_file(struct record *record, const char *name, int flags, struct err *err)
{
    int code = sqlite3_open_v2(name, &record->db, flags, NULL);
    if (record->db == NULL)
        return err_set(err, STATUS_INTERNAL, "%s: SQLite has no memory", record->path);
    if (code != SQLITE_OK)
        return record_fault(record, "be opened", err);
    return configure(record, err);
}

static enum status open_as_asked(struct record *record, struct err *err)
{
    static const int flags[] = {
        [RECORD_READ] = SQLITE_OPEN_READONLY,
        [RECORD_WRITE] = SQLITE_OPEN_READWRITE,
        [RECORD_CREATE] = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE,
    };
    struct buf name = {0};
    add_plain_path(&name, record->path);
    enum status status = open_file(record, name.text, flags[record->mode], err);
    buf_clear(&name);
    return status;
}

/* A read-only medium has no place for the files that WAL needs beside the record. Without them it
 * can be read as it is, unless changes wait in a WAL file, which would then be passed over. */
static enum status open_immutable(struct record *record, struct err *err)
{
    if (file_size(wal_path(record)) > 0)
        return err_set(err, STATUS_CANT_WRITE,
                       "%s: holds newer entries in %s, which can't be read in a read-only place; "
                       "copy both files to a folder that may be written to",
                       record->path, wal_path(record));
    (void)sqlite3_close(record->db);
    record->db = NULL;
    struct buf plain = {0}, name = {0};
    add_plain_path(&plain, record->path);
    buf_text(&name, "file:");
    for (const char *at = plain.text; *at != '\0'; at++) {
        if (isalnum((unsigned char)*at) || strchr("/._-~", *at) != NULL)
            buf_char(&name, *at);
        else
            buf_printf(&name, "%%%02X", (unsigned)(unsigned char)*at);
    }
    buf_text(&name, "?immutable=1");
    enum status status = open_file(record, name.text, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, err);
    buf_clear(&plain);
    buf_clear(&name);
    return status;
}

/* What the file says it is. */
struct identity {
    int64_t application_id, version, n_tables;
    bool closed_cleanly;
};

static enum status identify(const struct record *record, struct identity *identity, struct err *err)
{
    enum status status =
        record_query_int(record, "PRAGMA application_id", &identity->application_id, err);
    if (status == STATUS_OK)
        status = record_query_int(record, "PRAGMA user_version", &identity->version, err);
    if (status == STATUS_OK)
        status = record_query_int(record, "SELECT count(*) FROM sqlite_schema", &identity->n_tables,
                                  err);
    return status;
}

static bool is_refused_by_place(const struct record *record)
{
    int code = sqlite3_extended_errcode(record->db) & 0xFF;
    return code == SQLITE_CANTOPEN || code == SQLITE_READONLY;
}

static enum status open_and_identify(struct record *record, struct identity *identity,
                                     struct err *err)
{
    enum status status = open_as_asked(record, err);
    if (status == STATUS_OK) {
        identity->closed_cleanly = file_size(wal_path(record)) == 0; /* before anything is read */
        status = identify(record, identity, err);
    }
    if (status != STATUS_OK && record->mode == RECORD_READ && record->db != NULL &&
        is_refused_by_place(record)) {
        status = open_immutable(record, err);
        if (status == STATUS_OK)
            status = identify(record, identity, err);
    }
    return status;
}

static enum status check_identity(const struct record *record, const struct identity *identity,
                                  struct err *err)
{
    bool empty = identity->application_id == 0 && identity->n_tables == 0;
    if (identity->application_id != RECORD_APPLICATION_ID &&
        !(empty && record->mode == RECORD_CREATE))
        return err_set(err, STATUS_BAD_INPUT,
                       empty ? "%s: is empty, no record; name another file"
                             : "%s: belongs to another program, no record; name another file",
                       record->path);
    if (identity->version > RECORD_VERSION)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: was made by a newer version of pullcurve (record version %" PRId64
                       ", this one knows %d); use that version",
                       record->path, identity->version, RECORD_VERSION);
    if (identity->version < RECORD_VERSION && record->mode == RECORD_READ)
        return err_set(err, STATUS_BAD_INPUT,
                       "%s: was made by an earlier version (record version %" PRId64
                       "); a verb that writes, such as `pullcurve bow add`, brings it up to %d",
                       record->path, identity->version, RECORD_VERSION);
    return STATUS_OK;
}

static enum status pragma_is(const struct record *record, const char *sql, const char *expected,
                             const char *remedy, struct err *err)
{
    sqlite3_stmt *statement;
    bool row = false;
    enum status status = record_prepare(record, sql, &statement, err);
    if (status == STATUS_OK)
        status = record_step(record, statement, &row, err);
    if (status == STATUS_OK) {
        char *answer = row ? record_column_text(statement, 0) : mem_strdup("nothing");
        if (strcmp(answer, expected) != 0)
            status = err_set(err, STATUS_CANT_WRITE, "%s: %s gives '%s', not '%s'; %s",
                             record->path, sql, answer, expected, remedy);
        free(answer);
    }
    sqlite3_finalize(statement);
    return status;
}

static enum status make_durable(const struct record *record, struct err *err)
{
    enum status status = pragma_is(record, "PRAGMA journal_mode = WAL", "wal",
                                   "keep the record on a local disk", err);
    if (status == STATUS_OK)
        status = record_exec(record, "PRAGMA synchronous = FULL", err);
    if (status == STATUS_OK)
        status = pragma_is(record, "PRAGMA synchronous", "2", "this SQLite can't be trusted", err);
    char sql[64];
    (void)snprintf(sql, sizeof sql, "PRAGMA journal_size_limit = %d", WAL_KEPT_BYTES);
    if (status == STATUS_OK)
        status = record_exec(record, sql, err);
    return status;
}

static enum status check_whole(const struct record *record, struct err *err)
{
    sqlite3_stmt *statement;
    bool row = false;
    enum status status = record_prepare(record, "PRAGMA quick_check(1)", &statement, err);
    if (status == STATUS_OK)
        status = record_step(record, statement, &row, err);
    if (status == STATUS_OK) {
        char *answer = row ? record_column_text(statement, 0) : mem_strdup("no answer");
        if (strcmp(answer, "ok") != 0)
            status = err_set(err, STATUS_BAD_INPUT,
                             "%s: the record is damaged (%s); nothing is written to it. Keep a "
                             "copy, save what can be read with `pullcurve export --all`, or go "
                             "back to a backup",
                             record->path, answer);
        free(answer);
    }
    sqlite3_finalize(statement);
    return status;
}

static enum status prepare_writing(struct record *record, const struct identity *identity,
                                   struct err *err)
{
    if (sqlite3_db_readonly(record->db, "main") != 0)
        return err_set(err, STATUS_CANT_WRITE,
                       "%s: the file is read-only; check its permissions or choose another record",
                       record->path);
    enum status status = make_durable(record, err);
    off_t checked = identity->closed_cleanly ? CHEAP_CHECK_BYTES : UNCLEAN_CHECK_BYTES;
    if (status == STATUS_OK && file_size(record->path) <= checked)
        status = check_whole(record, err);
    if (status == STATUS_OK && identity->version < RECORD_VERSION) {
        size_t n;
        const struct migration *list = record_migrations(&n);
        status = record_migrate(record, list, n, err);
    }
    return status;
}

enum status record_open(struct record **record, const char *path, enum record_mode mode,
                        struct err *err)
{
    *record = NULL;
    if (path[0] == '\0')
        return err_set(err, STATUS_NO_INPUT, "the record's file has no name; name one");
    enum status status = check_place(path, mode, err);
    if (status != STATUS_OK)
        return status;
    struct record *opened = mem_calloc(1, sizeof *opened);
    opened->path = mem_strdup(path);
    opened->mode = mode;
    struct identity identity = {0};
    status = open_and_identify(opened, &identity, err);
    if (status == STATUS_OK)
        status = check_identity(opened, &identity, err);
    if (status == STATUS_OK && mode != RECORD_READ)
        status = prepare_writing(opened, &identity, err);
    if (status != STATUS_OK) {
        record_close(opened);
        return status;
    }
    *record = opened;
    return STATUS_OK;
}

void record_set_patience(struct record *record, int patience_ms)
{
    (void)sqlite3_busy_timeout(record->db, patience_ms);
}

void record_close(struct record *record)
{
    if (record == NULL)
        return;
    sqlite3_finalize(record->append);
    int code = sqlite3_close(record->db);
    assert(code == SQLITE_OK); /* else a statement was left open */
    (void)code;
    free(record->path);
    free(record);
}
