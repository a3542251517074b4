#include "record/record_private.h"

#include <assert.h>
#include <stdio.h>

/* Version 1. Every table is append-only: triggers refuse what would overwrite, whoever writes. The
 * same text, with what each column means, is in docs/record.md. */
static const char *const version_1[] = {
    "CREATE TABLE bow (\n"
    "  key TEXT NOT NULL PRIMARY KEY CHECK (length(key) = 36)\n"
    ") STRICT, WITHOUT ROWID",

    "CREATE TABLE bow_statement (\n"
    "  key TEXT NOT NULL PRIMARY KEY CHECK (length(key) = 36),\n"
    "  bow_key TEXT NOT NULL REFERENCES bow (key),\n"
    "  number INTEGER NOT NULL CHECK (number >= 1),\n"
    "  made_at TEXT NOT NULL,\n"
    "  retired INTEGER NOT NULL CHECK (retired IN (0, 1)),\n"
    "  name TEXT NOT NULL CHECK (name <> ''),\n"
    "  owner TEXT NOT NULL,\n"
    "  kind TEXT NOT NULL CHECK (kind IN ('compound', 'recurve', 'longbow', 'other')),\n"
    "  serial TEXT NOT NULL,\n"
    "  note TEXT NOT NULL,\n"
    "  brace_height_m REAL,\n"
    "  peak_low_n REAL,\n"
    "  peak_high_n REAL,\n"
    "  draw_length_low_m REAL,\n"
    "  draw_length_high_m REAL,\n"
    "  let_off_low_pct REAL,\n"
    "  let_off_high_pct REAL,\n"
    "  axle_to_axle_m REAL,\n"
    "  rated_speed_m_s REAL,\n"
    "  search TEXT NOT NULL,\n"
    "  UNIQUE (bow_key, number)\n"
    ") STRICT",
    "CREATE INDEX bow_statement_date ON bow_statement (bow_key, made_at, number)",
    "CREATE INDEX bow_statement_name ON bow_statement (name)",
    "CREATE INDEX bow_statement_search ON bow_statement (search, bow_key, made_at, number)",

    "CREATE TABLE calibration (\n"
    "  key TEXT NOT NULL PRIMARY KEY CHECK (length(key) = 36),\n"
    "  made_at TEXT NOT NULL,\n"
    "  bench TEXT NOT NULL CHECK (bench <> ''),\n"
    "  quantity TEXT NOT NULL CHECK (quantity IN ('force', 'length')),\n"
    "  n_terms INTEGER NOT NULL CHECK (n_terms IN (2, 3)),\n"
    "  references_independent INTEGER NOT NULL CHECK (references_independent IN (0, 1)),\n"
    "  note TEXT NOT NULL\n"
    ") STRICT",
    "CREATE INDEX calibration_bench ON calibration (bench, quantity, made_at)",

    "CREATE TABLE calibration_point (\n"
    "  calibration_key TEXT NOT NULL REFERENCES calibration (key),\n"
    "  number INTEGER NOT NULL CHECK (number >= 1),\n"
    "  reference_si REAL NOT NULL,\n"
    "  u_reference_si REAL NOT NULL,\n"
    "  count REAL NOT NULL,\n"
    "  u_count REAL NOT NULL,\n"
    "  run INTEGER NOT NULL,\n"
    "  decreasing INTEGER NOT NULL CHECK (decreasing IN (0, 1)),\n"
    "  PRIMARY KEY (calibration_key, number)\n"
    ") STRICT, WITHOUT ROWID",

    "CREATE TABLE capture (\n"
    "  number INTEGER NOT NULL PRIMARY KEY CHECK (number >= 1),\n"
    "  key TEXT NOT NULL UNIQUE CHECK (length(key) = 36),\n"
    "  started_at TEXT NOT NULL,\n"
    "  bow_key TEXT REFERENCES bow (key),\n"
    "  bench TEXT NOT NULL,\n"
    "  note TEXT NOT NULL,\n"
    "  program TEXT NOT NULL,\n"
    "  force_calibration_key TEXT REFERENCES calibration (key),\n"
    "  travel_calibration_key TEXT REFERENCES calibration (key),\n"
    "  brace_m REAL,\n"
    "  content TEXT NOT NULL CHECK (content IN ('raw', 'values')),\n"
    "  fixture TEXT NOT NULL\n"
    ") STRICT",
    "CREATE INDEX capture_date ON capture (started_at, number)",
    "CREATE INDEX capture_bow ON capture (bow_key, started_at, number)",

    "CREATE TABLE capture_end (\n"
    "  capture_key TEXT NOT NULL PRIMARY KEY REFERENCES capture (key),\n"
    "  ended_at TEXT NOT NULL,\n"
    "  state TEXT NOT NULL CHECK (state IN ('complete', 'incomplete')),\n"
    "  n_readings INTEGER NOT NULL,\n"
    "  n_malformed INTEGER NOT NULL,\n"
    "  n_bad_checksum INTEGER NOT NULL,\n"
    "  n_lost INTEGER NOT NULL,\n"
    "  n_out_of_order INTEGER NOT NULL,\n"
    "  n_saturated INTEGER NOT NULL\n"
    ") STRICT, WITHOUT ROWID",

    "CREATE TABLE chunk (\n"
    "  capture_key TEXT NOT NULL REFERENCES capture (key),\n"
    "  number INTEGER NOT NULL CHECK (number >= 1),\n"
    "  first_reading INTEGER NOT NULL CHECK (first_reading >= 0),\n"
    "  n_readings INTEGER NOT NULL CHECK (n_readings >= 1),\n"
    "  format INTEGER NOT NULL,\n"
    "  crc32 INTEGER NOT NULL,\n"
    "  readings BLOB NOT NULL,\n"
    "  PRIMARY KEY (capture_key, number)\n"
    ") STRICT",

    "CREATE VIEW bow_now AS\n"
    "SELECT s.* FROM bow_statement s WHERE NOT EXISTS (\n"
    "  SELECT 1 FROM bow_statement later WHERE later.bow_key = s.bow_key\n"
    "  AND (later.made_at, later.number) > (s.made_at, s.number))",

#define APPEND_ONLY(table)                                                                \
    "CREATE TRIGGER " table "_is_not_changed BEFORE UPDATE ON " table                     \
    " BEGIN SELECT RAISE(ABORT, 'the record is append-only: " table " is not changed'); " \
    "END",                                                                                \
        "CREATE TRIGGER " table "_is_not_deleted BEFORE DELETE ON " table                 \
        " BEGIN SELECT RAISE(ABORT, 'the record is append-only: " table " is not deleted'); END"
    APPEND_ONLY("bow"),
    APPEND_ONLY("bow_statement"),
    APPEND_ONLY("calibration"),
    APPEND_ONLY("calibration_point"),
    APPEND_ONLY("capture"),
    APPEND_ONLY("capture_end"),
    APPEND_ONLY("chunk"),
#undef APPEND_ONLY

    "CREATE TRIGGER chunk_before_end BEFORE INSERT ON chunk\n"
    "WHEN EXISTS (SELECT 1 FROM capture_end WHERE capture_key = new.capture_key)\n"
    "BEGIN SELECT RAISE(ABORT, 'the capture has ended'); END",
    NULL,
};

static const struct migration migrations[] = {
    {1, version_1},
};

const struct migration *record_migrations(size_t *n)
{
    *n = sizeof migrations / sizeof migrations[0];
    assert(migrations[*n - 1].version == RECORD_VERSION);
    return migrations;
}

static enum status set_pragma(const struct record *record, const char *name, int value,
                              struct err *err)
{
    char sql[64];
    (void)snprintf(sql, sizeof sql, "PRAGMA %s = %d", name, value);
    return record_exec(record, sql, err);
}

static enum status run_one(const struct record *record, const struct migration *migration,
                           struct err *err)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && migration->statements[i] != NULL; i++)
        status = record_exec(record, migration->statements[i], err);
    if (status == STATUS_OK)
        status = set_pragma(record, "user_version", migration->version, err);
    return status;
}

static enum status run_all(const struct record *record, const struct migration *list, size_t n,
                           struct err *err)
{
    /* Read inside of the transaction: another program may have been faster. */
    int64_t version;
    enum status status = record_query_int(record, "PRAGMA user_version", &version, err);
    for (size_t i = 0; status == STATUS_OK && i < n; i++)
        if (list[i].version > version)
            status = run_one(record, &list[i], err);
    if (status == STATUS_OK)
        status = set_pragma(record, "application_id", RECORD_APPLICATION_ID, err);
    return status;
}

enum status record_migrate(const struct record *record, const struct migration *list, size_t n,
                           struct err *err)
{
    enum status status = record_transaction_begin(record, err);
    if (status != STATUS_OK)
        return status;
    return record_transaction_end(record, run_all(record, list, n, err), err);
}
