#include "scratch.h"
#include "check.h"

#include <dirent.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[64];

int scratch_make(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "/tmp/pullcurve-record-XXXXXX");
    return mkdtemp(folder) != NULL ? 0 : -1;
}

const char *scratch_path(const char *name)
{
    static char paths[4][512];
    static int next;
    char *path = paths[next++ % 4];
    (void)snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

int scratch_remove(void **state)
{
    (void)state;
    (void)chmod(folder, 0700);
    DIR *directory = opendir(folder);
    if (directory == NULL)
        return -1;
    for (const struct dirent *entry; (entry = readdir(directory)) != NULL;)
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
            (void)remove(scratch_path(entry->d_name));
    closedir(directory);
    return rmdir(folder);
}

struct record *scratch_open_as(const char *name, enum record_mode mode)
{
    struct err err = {0};
    struct record *record;
    check_ok(record_open(&record, scratch_path(name), mode, &err));
    return record;
}

struct record *scratch_open(void)
{
    return scratch_open_as("shop.db", RECORD_CREATE);
}

void scratch_write(const char *path, const void *bytes, size_t length)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
}

void scratch_read(const char *path, struct buf *bytes)
{
    struct err err = {0};
    check_ok(buf_read_file(bytes, path, &err));
}

void scratch_sql(const char *path, const char *sql)
{
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    (void)sqlite3_db_config(db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, NULL);
    char *message = NULL;
    if (sqlite3_exec(db, sql, NULL, NULL, &message) != SQLITE_OK)
        fail_msg("%s: %s", sql, message);
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

int64_t scratch_sql_int(const char *path, const char *sql)
{
    sqlite3 *db;
    sqlite3_stmt *statement;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    int64_t value = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
    return value;
}

struct raw_reading scratch_reading(size_t i)
{
    int32_t step = (int32_t)i;
    return (struct raw_reading){
        .arrival_us = (int64_t)i * 12500 + 17,
        .device_us = 4294967296 + (int64_t)i * 12501,
        .sequence = (uint32_t)(i * 7) % 65536,
        .force_count = -2000000000 + step * 1001,
        .travel_count = 2000000000 - step * 37,
        .flags = RAW_HAS_FORCE | RAW_HAS_TRAVEL | (i % 5 == 0 ? RAW_FORCE_SATURATED : 0),
    };
}

void scratch_capture(struct record *record, struct record_capture *capture, size_t n, size_t lot)
{
    struct err err = {0};
    check_ok(record_capture_begin(record, capture, &err));
    struct raw_reading *readings = calloc(lot, sizeof *readings);
    assert_non_null(readings);
    for (size_t i = 0; i < n; i += lot) {
        size_t here = n - i < lot ? n - i : lot;
        for (size_t k = 0; k < here; k++)
            readings[k] = scratch_reading(i + k);
        check_ok(record_capture_append(record, capture->key, readings, here, &err));
    }
    free(readings);
}

void scratch_check_readings(struct record *record, const char *capture_key, size_t n)
{
    struct err err = {0};
    struct raw_reading *readings;
    size_t n_read;
    check_ok(record_capture_readings(record, capture_key, &readings, &n_read, &err));
    assert_int_equal(n_read, n);
    for (size_t i = 0; i < n; i++) {
        struct raw_reading expected = scratch_reading(i);
        assert_memory_equal(&readings[i], &expected, sizeof expected);
    }
    free(readings);
}
