/*
 * record_private: what the files of the record room share. Not for other rooms.
 */
#ifndef PULLCURVE_RECORD_RECORD_PRIVATE_H
#define PULLCURVE_RECORD_RECORD_PRIVATE_H

#include "base/buf.h"
#include "record/record.h"

#include <sqlite3.h>

/* "pcrv": tells a record from other SQLite files (PRAGMA application_id). */
enum { RECORD_APPLICATION_ID = 0x70637276, RECORD_VERSION = 1 };

struct record {
    sqlite3 *db;
    char *path; /* as given, for messages */
    enum record_mode mode;
    sqlite3_stmt *append; /* prepared once: it runs several times a second */
};

/* --- SQL (record_sql.c) ------------------------------------------------------------------- */

/* Turns SQLite's newest fault into a status and a message: "FILE: can't DOING: ...". */
enum status record_fault(const struct record *record, const char *doing, struct err *err);

/* Prepares one statement; *statement is NULL on failure. */
enum status record_prepare(const struct record *record, const char *sql, sqlite3_stmt **statement,
                           struct err *err);

/* Steps; *row says whether there is a row to read. */
enum status record_step(const struct record *record, sqlite3_stmt *statement, bool *row,
                        struct err *err);

/* Steps a statement that gives no row. */
enum status record_run(const struct record *record, sqlite3_stmt *statement, struct err *err);

/* Runs SQL without parameters. */
enum status record_exec(const struct record *record, const char *sql, struct err *err);

/* The whole number that a statement without parameters gives in its first row. */
enum status record_query_int(const struct record *record, const char *sql, int64_t *value,
                             struct err *err);

/* A transaction that may write from its first statement on, so that nothing can come between. */
enum status record_transaction_begin(const struct record *record, struct err *err);

/* Commits where status is STATUS_OK, else rolls back; returns status or what the commit gave. */
enum status record_transaction_end(const struct record *record, enum status status,
                                   struct err *err);

/* Binding; NULL text is "". The text must outlive the statement. An empty key and a NAN are bound
 * as NULL. Binding fails on a caller's bug or lack of memory alone, which ends the program. */
void record_bind_text(sqlite3_stmt *statement, int index, const char *text);
void record_bind_key(sqlite3_stmt *statement, int index, const char *key);
void record_bind_int(sqlite3_stmt *statement, int index, int64_t value);
void record_bind_blob(sqlite3_stmt *statement, int index, const void *bytes, size_t length);
void record_bind_double(sqlite3_stmt *statement, int index, double value);

/* Reading a column: an allocated copy ("" for NULL), a fixed field, a double (NAN for NULL). */
char *record_column_text(sqlite3_stmt *statement, int column);
void record_column_field(sqlite3_stmt *statement, int column, char *field, size_t size);
double record_column_double(sqlite3_stmt *statement, int column);

/* --- migration (record_migrate.c) --------------------------------------------------------- */

/* What leads from version - 1 to version: statements, ending with NULL. */
struct migration {
    int version;
    const char *const *statements;
};

/* The program's own list, by rising version, `*n` of them. */
const struct migration *record_migrations(size_t *n);

/* Runs those of list[0..n) that are above the file's version, all in one transaction; sets
 * application_id and user_version. Errors: nothing is changed. */
enum status record_migrate(const struct record *record, const struct migration *list, size_t n,
                           struct err *err);

/* --- keys and times (record_key.c) -------------------------------------------------------- */

/* A new random UUID (RFC 9562, version 4). Errors: STATUS_INTERNAL. */
enum status record_key_new(char key[RECORD_KEY_MAX], struct err *err);

/* At least 4 characters, all of which may begin a key. */
bool record_key_beginning(const char *text);

/* Now, UTC, as "2026-11-25T09:20:05Z". */
void record_now(char text[RECORD_TIME_MAX]);

/* --- chunks (record_chunk.c) -------------------------------------------------------------- */

enum chunk_format {
    CHUNK_RAW = 1,    /* 32 bytes a reading */
    CHUNK_VALUES = 2, /* 24 bytes a value */
};

enum {
    CHUNK_RAW_BYTES = 32,
    CHUNK_RAW_FLAGS_AT = 28, /* where the flags of a packed reading begin */
    CHUNK_VALUE_BYTES = 24,
};

/* CRC-32 of ISO 3309 / ITU-T V.42 (that of zlib and PNG). */
uint32_t chunk_crc32(const void *bytes, size_t length);

/* Packs n readings or values, little-endian, appending to *out. */
void chunk_pack_readings(struct buf *out, const struct raw_reading *readings, size_t n);
void chunk_pack_values(struct buf *out, const struct record_value *values, size_t n);

/* The way back; bytes holds n of them. */
void chunk_unpack_readings(const unsigned char *bytes, size_t n, struct raw_reading *readings);
void chunk_unpack_values(const unsigned char *bytes, size_t n, struct record_value *values);

/* One row of the table chunk; bytes are borrowed from the statement or the caller. */
struct chunk {
    int64_t number, first_reading, n_readings, format;
    uint32_t crc32;
    const unsigned char *bytes;
    size_t length;
};

/* Does the content agree with its check, and does the length with a known format? */
bool chunk_good(const struct chunk *chunk);

/* The chunks of a capture in order: columns as chunk_column reads them. Caller finalizes. */
enum status chunk_select(const struct record *record, const char *capture_key,
                         sqlite3_stmt **statement, struct err *err);
struct chunk chunk_column(sqlite3_stmt *statement);

/* Inserts a chunk as it is. */
enum status chunk_insert(const struct record *record, const char *capture_key,
                         const struct chunk *chunk, struct err *err);

/* --- rows without a transaction of their own ----------------------------------------------- */

enum status record_calibration_insert(const struct record *record,
                                      const struct record_calibration *calibration,
                                      struct err *err);
enum status record_bow_key_insert(const struct record *record, const char *key, struct err *err);
enum status record_bow_statement_insert(const struct record *record, const struct record_bow *bow,
                                        struct err *err);

/* Inserts the row of a capture; number 0 takes the next one and fills it in. */
enum status record_capture_insert(const struct record *record, struct record_capture *capture,
                                  struct err *err);
enum status record_capture_end_insert(const struct record *record,
                                      const struct record_capture *capture, struct err *err);

/* --- search text (record_fold.c) ---------------------------------------------------------- */

/* Appends text with the case of Latin, Greek and Cyrillic letters taken away; bytes that are not
 * UTF-8 stay as they are. */
void fold_case(struct buf *out, const char *text);

#endif
