/* Opening and closing the record: what is one, what is not, where it lies, who else holds it. */
#include "check.h"
#include "record/record_private.h"
#include "run.h"
#include "scratch.h"

#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static struct err err;

static void check_refused(const char *name, enum record_mode mode, enum status expected,
                          const char *part)
{
    struct record *record = (struct record *)&err; /* anything but NULL */
    enum status status = record_open(&record, scratch_path(name), mode, &err);
    if (status != expected)
        fail_msg("%s: status %d instead of %d: %s", name, (int)status, (int)expected, err.text);
    assert_null(record);
    if (strstr(err.text, part) == NULL)
        fail_msg("'%s' is not in: %s", part, err.text);
}

static int64_t ask(struct record *record, const char *sql)
{
    int64_t value = -1;
    check_ok(record_query_int(record, sql, &value, &err));
    return value;
}

static void a_new_record_is_marked_and_durable(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    assert_int_equal(ask(record, "PRAGMA application_id"), 0x70637276);
    assert_int_equal(ask(record, "PRAGMA user_version"), RECORD_VERSION);
    assert_int_equal(ask(record, "PRAGMA synchronous"), 2); /* FULL */
    assert_int_equal(ask(record, "PRAGMA foreign_keys"), 1);
    assert_int_equal(ask(record, "SELECT count(*) FROM pragma_journal_mode WHERE journal_mode = "
                                 "'wal'"),
                     1);
    assert_int_equal(ask(record, "SELECT count(*) FROM pragma_table_list WHERE type = 'table' AND "
                                 "NOT strict AND name NOT LIKE 'sqlite%'"),
                     0);
    record_close(record);
}

static void closing_nothing_is_allowed(void **state)
{
    (void)state;
    record_close(NULL);
}

static void what_is_not_there_is_told(void **state)
{
    (void)state;
    check_refused("none.db", RECORD_READ, STATUS_NO_INPUT, "none.db");
    check_refused("none.db", RECORD_WRITE, STATUS_NO_INPUT, "pullcurve bow add");
    check_refused("none/none.db", RECORD_CREATE, STATUS_CANT_WRITE, "none.db");
    check_refused("", RECORD_CREATE, STATUS_BAD_INPUT, "is not a file");
    struct record *record;
    assert_int_equal(record_open(&record, "", RECORD_CREATE, &err), STATUS_NO_INPUT);
}

static void a_name_is_only_ever_a_file(void **state)
{
    (void)state;
    char here[512];
    assert_non_null(getcwd(here, sizeof here));
    assert_int_equal(chdir(scratch_path("")), 0);
    static const char *const names[] = {":memory:", "file:x.db?mode=memory", "a'b %41.db"};
    for (size_t i = 0; i < 3; i++) {
        struct record *record;
        check_ok(record_open(&record, names[i], RECORD_CREATE, &err));
        record_close(record);
        assert_int_equal(access(names[i], F_OK), 0);
        check_ok(record_open(&record, names[i], RECORD_READ, &err));
        record_close(record);
    }
    assert_int_equal(chdir(here), 0);
}

static void other_files_are_refused_and_left_alone(void **state)
{
    (void)state;
    static const char text[] = "draw_in,force_lbf\n7.0,0.1\n7.5,3.9\n8.0,7.7\n";
    for (int mode = RECORD_READ; mode <= RECORD_CREATE; mode++) {
        scratch_write(scratch_path("pull.csv"), text, strlen(text));
        check_refused("pull.csv", (enum record_mode)mode, STATUS_BAD_INPUT, "pull.csv");
        struct buf after = {0};
        scratch_read(scratch_path("pull.csv"), &after);
        assert_string_equal(buf_string(&after), text);
        buf_clear(&after);
    }
}

static void an_empty_file_becomes_a_record_only_where_one_may_be_made(void **state)
{
    (void)state;
    scratch_write(scratch_path("empty.db"), "", 0);
    check_refused("empty.db", RECORD_READ, STATUS_BAD_INPUT, "is empty");
    check_refused("empty.db", RECORD_WRITE, STATUS_BAD_INPUT, "is empty");
    record_close(scratch_open_as("empty.db", RECORD_CREATE));
    record_close(scratch_open_as("empty.db", RECORD_READ));
}

static void another_programs_database_is_refused_and_left_alone(void **state)
{
    (void)state;
    scratch_sql(scratch_path("other.db"), "CREATE TABLE stock (name TEXT)");
    scratch_sql(scratch_path("marked.db"), "PRAGMA application_id = 4711");
    struct buf before = {0}, after = {0};
    scratch_read(scratch_path("other.db"), &before);
    for (int mode = RECORD_READ; mode <= RECORD_CREATE; mode++) {
        check_refused("other.db", (enum record_mode)mode, STATUS_BAD_INPUT, "another program");
        check_refused("marked.db", (enum record_mode)mode, STATUS_BAD_INPUT, "another program");
    }
    scratch_read(scratch_path("other.db"), &after);
    assert_int_equal(after.length, before.length);
    assert_memory_equal(after.text, before.text, before.length);
    buf_clear(&before);
    buf_clear(&after);
}

static void a_newer_record_is_refused(void **state)
{
    (void)state;
    record_close(scratch_open());
    scratch_sql(scratch_path("shop.db"), "PRAGMA user_version = 99");
    for (int mode = RECORD_READ; mode <= RECORD_CREATE; mode++)
        check_refused("shop.db", (enum record_mode)mode, STATUS_BAD_INPUT, "newer version");
}

static void a_cut_record_is_refused_for_writing(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 2000, 100);
    record_close(record);
    struct stat about;
    assert_int_equal(stat(scratch_path("shop.db"), &about), 0);
    /* within the header, within the schema, in the middle, a page short */
    const off_t cuts[] = {50, 3000, 4096, 20480, 40000, about.st_size - 4096};
    struct buf whole = {0};
    scratch_read(scratch_path("shop.db"), &whole);
    for (size_t i = 0; i < sizeof cuts / sizeof cuts[0]; i++) {
        scratch_write(scratch_path("cut.db"), whole.text, (size_t)cuts[i]);
        check_refused("cut.db", RECORD_WRITE, STATUS_BAD_INPUT, "cut.db");
    }
    buf_clear(&whole);
}

/* Less than a page short: SQLite takes what is missing as zeros, and the chunk's check tells. */
static void a_cut_within_the_last_page_never_gives_wrong_readings(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 1000, 1000);
    record_close(record);
    struct buf whole = {0};
    scratch_read(scratch_path("shop.db"), &whole);
    scratch_write(scratch_path("cut.db"), whole.text, whole.length - 3000);
    record = scratch_open_as("cut.db", RECORD_READ);
    struct raw_reading *readings;
    size_t n;
    assert_int_equal(record_capture_readings(record, capture.key, &readings, &n, &err),
                     STATUS_BAD_INPUT);
    assert_null(readings);
    record_close(record);
    buf_clear(&whole);
}

static void garbage_within_is_found_before_anything_is_written(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 200, 100);
    record_close(record);
    struct buf whole = {0};
    scratch_read(scratch_path("shop.db"), &whole);
    for (size_t at = 8192; at < whole.length; at += 4096) /* behind header and schema */
        memset(whole.text + at, 0xA5, 64);
    scratch_write(scratch_path("shop.db"), whole.text, whole.length);
    check_refused("shop.db", RECORD_WRITE, STATUS_BAD_INPUT, "damaged");
    buf_clear(&whole);
}

/* --- docs/record.md ----------------------------------------------------------------------- */

static void read_manual(struct buf *manual)
{
    char path[600];
    (void)snprintf(path, sizeof path, "%s/docs/record.md", source_root());
    scratch_read(path, manual);
}

static void the_manual_has_the_tables_as_they_are(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct buf manual = {0};
    read_manual(&manual);
    sqlite3_stmt *statement;
    check_ok(record_prepare(record,
                            "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL"
                            " AND type IN ('table', 'view', 'index')",
                            &statement, &err));
    size_t n = 0;
    for (bool row = true;; n++) {
        check_ok(record_step(record, statement, &row, &err));
        if (!row)
            break;
        char *sql = record_column_text(statement, 0);
        if (strstr(buf_string(&manual), sql) == NULL)
            fail_msg("docs/record.md does not hold: %s", sql);
        free(sql);
    }
    assert_int_equal(n, 14);
    sqlite3_finalize(statement);
    buf_clear(&manual);
    record_close(record);
}

/* Outside truth: Python's sqlite3, struct and zlib, as the manual shows. */
static void the_manuals_program_reads_the_readings(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 250, 100);
    record_close(record);
    struct buf manual = {0}, command = {0}, out = {0}, expected = {0};
    read_manual(&manual);
    const char *program = strstr(buf_string(&manual), "```python\n");
    assert_non_null(program);
    program += strlen("```python\n");
    scratch_write(scratch_path("read.py"), program, (size_t)(strstr(program, "```") - program));
    buf_printf(&command, "/usr/bin/python3 %s %s 1", scratch_path("read.py"),
               scratch_path("shop.db"));
    assert_int_equal(run_command(&out, buf_string(&command)), 0);
    for (size_t i = 0; i < 250; i++) {
        struct raw_reading r = scratch_reading(i);
        buf_printf(&expected, "%lld,%lld,%u,%d,%d,%u\n", (long long)r.arrival_us,
                   (long long)r.device_us, r.sequence, r.force_count, r.travel_count, r.flags);
    }
    assert_string_equal(buf_string(&out), buf_string(&expected));
    buf_clear(&manual);
    buf_clear(&command);
    buf_clear(&out);
    buf_clear(&expected);
}

/* --- migration ---------------------------------------------------------------------------- */

static void a_record_of_version_0_is_brought_up(void **state)
{
    (void)state;
    scratch_sql(scratch_path("shop.db"),
                "CREATE TABLE t (x); DROP TABLE t;"
                "PRAGMA application_id = 0x70637276; PRAGMA user_version = 0");
    check_refused("shop.db", RECORD_READ, STATUS_BAD_INPUT, "earlier version");
    struct record *record = scratch_open_as("shop.db", RECORD_WRITE);
    assert_int_equal(ask(record, "PRAGMA user_version"), RECORD_VERSION);
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 10, 10);
    scratch_check_readings(record, capture.key, 10);
    record_close(record);
}

static const char *const to_8[] = {"CREATE TABLE eight (x)", "INSERT INTO eight VALUES (8)", NULL};
static const char *const to_9[] = {"UPDATE eight SET x = x + 1", NULL};
static const char *const to_10[] = {"CREATE TABLE ten (x)", "CREATE TABLE ten (x)", NULL};

static void migrations_run_in_order_and_once(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    static const struct migration list[] = {{8, to_8}, {9, to_9}};
    check_ok(record_migrate(record, list, 1, &err));
    assert_int_equal(ask(record, "PRAGMA user_version"), 8);
    check_ok(record_migrate(record, list, 2, &err)); /* from 8: the second alone */
    check_ok(record_migrate(record, list, 2, &err)); /* from 9: none */
    assert_int_equal(ask(record, "SELECT sum(x) FROM eight"), 9);
    assert_int_equal(ask(record, "PRAGMA user_version"), 9);
    record_close(record);
}

static void a_migration_that_fails_changes_nothing(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    static const struct migration list[] = {{8, to_8}, {9, to_9}, {10, to_10}};
    assert_int_not_equal(record_migrate(record, list, 3, &err), STATUS_OK);
    assert_int_equal(ask(record, "PRAGMA user_version"), RECORD_VERSION);
    assert_int_equal(ask(record, "SELECT count(*) FROM sqlite_schema WHERE name IN "
                                 "('eight', 'ten')"),
                     0);
    record_close(record);
}

/* --- places and other programs ------------------------------------------------------------ */

/* Runs a check as a user who is not root, for whom permissions count. */
static int run_as_nobody(int (*check)(void))
{
    fflush(NULL);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0))
            _exit(99);
        _exit(check());
    }
    int how;
    assert_int_equal(waitpid(child, &how, 0), child);
    return WIFEXITED(how) ? WEXITSTATUS(how) : -1;
}

static int read_in_a_read_only_folder(void)
{
    struct record *record;
    struct record_capture capture;
    if (record_open(&record, scratch_path("shop.db"), RECORD_READ, &err) != STATUS_OK)
        return 1;
    if (record_capture_find(record, "last", &capture, &err) != STATUS_OK)
        return 2;
    if (capture.counts.n_readings != 300)
        return 3;
    record_capture_clear(&capture);
    record_close(record);
    if (record_open(&record, scratch_path("shop.db"), RECORD_WRITE, &err) != STATUS_CANT_WRITE)
        return 4;
    return strstr(err.text, "read-only") != NULL ? 0 : 5;
}

static void a_record_on_a_read_only_medium_can_be_read(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 300, 100);
    record_close(record);
    assert_int_equal(chmod(scratch_path("shop.db"), 0444), 0);
    assert_int_equal(chmod(scratch_path(""), 0555), 0);
    assert_int_equal(run_as_nobody(read_in_a_read_only_folder), 0);
}

static int refuse_in_a_read_only_folder(void)
{
    struct record *record;
    if (record_open(&record, scratch_path("copy.db"), RECORD_READ, &err) != STATUS_CANT_WRITE)
        return 1;
    return strstr(err.text, "copy.db-wal") != NULL ? 0 : 2;
}

static void newer_entries_beside_it_are_not_passed_over(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 300, 100);
    struct buf bytes = {0};
    scratch_read(scratch_path("shop.db"), &bytes);
    scratch_write(scratch_path("copy.db"), bytes.text, bytes.length);
    buf_clear(&bytes);
    scratch_read(scratch_path("shop.db-wal"), &bytes);
    assert_true(bytes.length > 0);
    scratch_write(scratch_path("copy.db-wal"), bytes.text, bytes.length);
    buf_clear(&bytes);
    record_close(record);
    assert_int_equal(chmod(scratch_path("copy.db"), 0444), 0);
    assert_int_equal(chmod(scratch_path("copy.db-wal"), 0444), 0);
    assert_int_equal(chmod(scratch_path(""), 0555), 0);
    assert_int_equal(run_as_nobody(refuse_in_a_read_only_folder), 0);
}

static void reading_changes_nothing(void **state)
{
    (void)state;
    struct record *record = scratch_open();
    struct record_capture capture = {.bench = (char *)"bench"};
    scratch_capture(record, &capture, 300, 100);
    record_close(record);
    struct buf before = {0}, after = {0};
    scratch_read(scratch_path("shop.db"), &before);
    record = scratch_open_as("shop.db", RECORD_READ);
    scratch_check_readings(record, capture.key, 300);
    assert_int_equal(record_exec(record, "DELETE FROM chunk", &err), STATUS_CANT_WRITE);
    record_close(record);
    scratch_read(scratch_path("shop.db"), &after);
    assert_int_equal(after.length, before.length);
    assert_memory_equal(after.text, before.text, before.length);
    buf_clear(&before);
    buf_clear(&after);
}

static void a_lock_that_does_not_end_is_told(void **state)
{
    (void)state;
    record_close(scratch_open());
    int pipe_fd[2];
    assert_int_equal(pipe(pipe_fd), 0);
    fflush(NULL);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct record *holder = scratch_open();
        (void)record_transaction_begin(holder, NULL);
        (void)!write(pipe_fd[1], "x", 1);
        pause();
    }
    char byte;
    assert_int_equal(read(pipe_fd[0], &byte, 1), 1);
    struct record *record = scratch_open(); /* opening needs no lock */
    struct record_capture capture = {.bench = (char *)"bench"};
    assert_int_equal(record_capture_begin(record, &capture, &err), STATUS_CANT_WRITE);
    assert_non_null(strstr(err.text, "another program"));
    assert_int_equal(kill(child, SIGKILL), 0);
    assert_int_equal(waitpid(child, NULL, 0), child);
    check_ok(record_capture_begin(record, &capture, &err)); /* and then it goes on */
    record_close(record);
    close(pipe_fd[0]);
    close(pipe_fd[1]);
}

static void two_programs_may_write_in_turn(void **state)
{
    (void)state;
    struct record *one = scratch_open(), *other = scratch_open();
    struct record_capture a = {.bench = (char *)"left"}, b = {.bench = (char *)"right"};
    scratch_capture(one, &a, 100, 10);
    scratch_capture(other, &b, 100, 10);
    assert_int_equal(a.number, 1);
    assert_int_equal(b.number, 2);
    scratch_check_readings(other, a.key, 100);
    scratch_check_readings(one, b.key, 100);
    record_close(one);
    record_close(other);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, scratch_make, scratch_remove)
    const struct CMUnitTest tests[] = {
        TEST(a_new_record_is_marked_and_durable),
        TEST(closing_nothing_is_allowed),
        TEST(what_is_not_there_is_told),
        TEST(a_name_is_only_ever_a_file),
        TEST(other_files_are_refused_and_left_alone),
        TEST(an_empty_file_becomes_a_record_only_where_one_may_be_made),
        TEST(another_programs_database_is_refused_and_left_alone),
        TEST(a_newer_record_is_refused),
        TEST(a_cut_record_is_refused_for_writing),
        TEST(a_cut_within_the_last_page_never_gives_wrong_readings),
        TEST(garbage_within_is_found_before_anything_is_written),
        TEST(the_manual_has_the_tables_as_they_are),
        TEST(the_manuals_program_reads_the_readings),
        TEST(a_record_of_version_0_is_brought_up),
        TEST(migrations_run_in_order_and_once),
        TEST(a_migration_that_fails_changes_nothing),
        TEST(a_record_on_a_read_only_medium_can_be_read),
        TEST(newer_entries_beside_it_are_not_passed_over),
        TEST(reading_changes_nothing),
        TEST(a_lock_that_does_not_end_is_told),
        TEST(two_programs_may_write_in_turn),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
