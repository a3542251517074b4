/* Text that grows, files read whole, files written whole or not at all. */
#include "base/buf.h"
#include "check.h"

#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static char folder[] = "/tmp/pullcurve-buf-XXXXXX";
static struct err err;

/* A path in the test's folder; overwritten by the next call. */
static const char *in_folder(const char *name)
{
    static char path[512];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static void put_file(const char *path, const char *text)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

static void check_file(const char *path, const char *text)
{
    struct buf read = {0};
    check_ok(buf_read_file(&read, path, &err));
    assert_string_equal(buf_string(&read), text);
    buf_clear(&read);
}

static size_t files_in_folder(void)
{
    DIR *directory = opendir(folder);
    assert_non_null(directory);
    size_t n = 0;
    for (const struct dirent *entry; (entry = readdir(directory)) != NULL;)
        n += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    closedir(directory);
    return n;
}

/* Each test begins with an empty folder of its own. */
static int make_folder(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "/tmp/pullcurve-buf-XXXXXX");
    return mkdtemp(folder) != NULL ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    DIR *directory = opendir(folder);
    if (directory == NULL)
        return -1;
    for (const struct dirent *entry; (entry = readdir(directory)) != NULL;)
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
            (void)remove(in_folder(entry->d_name));
    closedir(directory);
    return rmdir(folder);
}

static void an_untouched_buf_is_empty_text(void **state)
{
    (void)state;
    struct buf buf = {0};
    assert_string_equal(buf_string(&buf), "");
    buf_clear(&buf);
    buf_add(&buf, NULL, 0);
    assert_string_equal(buf_string(&buf), "");
    buf_clear(&buf);
}

static void pieces_are_put_together(void **state)
{
    (void)state;
    struct buf buf = {0};
    buf_text(&buf, "peak ");
    buf_printf(&buf, "%.1f %s", 61.75, "lbf");
    buf_char(&buf, ';');
    buf_printf(&buf, "%s", "");
    buf_add(&buf, "a\0b", 3);
    assert_int_equal(buf.length, 17);
    assert_memory_equal(buf.text, "peak 61.8 lbf;a\0b", 17);
    buf_clear(&buf);
    assert_null(buf.text);
    assert_int_equal(buf.length, 0);
}

static void much_text_fits(void **state)
{
    (void)state;
    struct buf buf = {0};
    for (int i = 0; i < 100000; i++)
        buf_printf(&buf, "%06d\n", i);
    assert_int_equal(buf.length, 700000);
    assert_memory_equal(buf.text + 7 * 54321, "054321\n", 7);
    assert_int_equal(buf.text[buf.length], '\0');
    buf_clear(&buf);
}

static void a_file_comes_back_as_it_was_written(void **state)
{
    (void)state;
    struct buf out = {0}, in = {0};
    for (int i = 0; i < 300000; i++)
        buf_char(&out, (char)(i * 7));
    check_ok(buf_write_file(&out, in_folder("bytes"), &err));
    check_ok(buf_read_file(&in, in_folder("bytes"), &err));
    assert_int_equal(in.length, out.length);
    assert_memory_equal(in.text, out.text, out.length);
    assert_int_equal(files_in_folder(), 1);
    buf_clear(&out);
    buf_clear(&in);
}

static void an_empty_file_is_empty_text(void **state)
{
    (void)state;
    struct buf nothing = {0};
    check_ok(buf_write_file(&nothing, in_folder("empty"), &err));
    check_file(in_folder("empty"), "");
}

static void what_is_not_there_or_is_a_folder_is_refused(void **state)
{
    (void)state;
    struct buf in = {0};
    assert_int_equal(buf_read_file(&in, in_folder("missing.csv"), &err), STATUS_NO_INPUT);
    assert_non_null(strstr(err.text, "missing.csv"));
    assert_null(in.text);
    assert_int_equal(buf_read_file(&in, folder, &err), STATUS_BAD_INPUT);
    assert_non_null(strstr(err.text, folder));
    assert_null(in.text);
}

static void standard_input_is_read_to_its_end(void **state)
{
    (void)state;
    int saved = dup(STDIN_FILENO), ends[2];
    assert_int_equal(pipe(ends), 0);
    pid_t writer = fork();
    if (writer == 0) {
        close(ends[0]);
        for (int i = 0; i < 3; i++) {
            (void)!write(ends[1], "7.5,60\n", 7);
            usleep(5000);
        }
        _exit(0);
    }
    close(ends[1]);
    dup2(ends[0], STDIN_FILENO);
    close(ends[0]);
    struct buf in = {0};
    enum status status = buf_read_file(&in, "-", &err);
    dup2(saved, STDIN_FILENO);
    close(saved);
    waitpid(writer, NULL, 0);

    assert_int_equal(status, STATUS_OK);
    assert_string_equal(buf_string(&in), "7.5,60\n7.5,60\n7.5,60\n");
    buf_clear(&in);
}

static void a_written_file_is_an_ordinary_file(void **state)
{
    (void)state;
    struct buf out = {0};
    struct stat about;
    buf_text(&out, "report");
    mode_t mask = umask(027);
    enum status status = buf_write_file(&out, in_folder("report"), &err);
    umask(mask);
    assert_int_equal(status, STATUS_OK);
    assert_int_equal(stat(in_folder("report"), &about), 0);
    assert_int_equal(about.st_mode & 0777, 0640);
    buf_clear(&out);
}

static void writing_replaces_the_file_in_one_step(void **state)
{
    (void)state;
    struct buf out = {0};
    put_file(in_folder("curve.svg"), "old");
    int reader = open(in_folder("curve.svg"), O_RDONLY);
    buf_text(&out, "new");
    check_ok(buf_write_file(&out, in_folder("curve.svg"), &err));
    char seen[4] = "";
    assert_int_equal(read(reader, seen, 3), 3);
    assert_string_equal(seen, "old"); /* who had it open keeps the whole old one */
    check_file(in_folder("curve.svg"), "new");
    close(reader);
    buf_clear(&out);
}

/* The limit on a file's size stands for a full disk: part of the text is written, then no more. */
static void on_a_full_disk_the_old_file_stays_and_nothing_else(void **state)
{
    (void)state;
    struct buf out = {0};
    put_file(in_folder("curve.csv"), "old");
    for (int i = 0; i < 100000; i++)
        buf_char(&out, 'x');
    struct rlimit before, small;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    void (*handler)(int) = signal(SIGXFSZ, SIG_IGN);
    small = before;
    small.rlim_cur = 65536;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    enum status status = buf_write_file(&out, in_folder("curve.csv"), &err);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    signal(SIGXFSZ, handler);

    assert_int_equal(status, STATUS_CANT_WRITE);
    assert_non_null(strstr(err.text, "curve.csv"));
    check_file(in_folder("curve.csv"), "old");
    assert_int_equal(files_in_folder(), 1);
    buf_clear(&out);
}

static void what_cannot_be_written_is_said_and_leaves_nothing(void **state)
{
    (void)state;
    struct buf out = {0};
    buf_text(&out, "report");
    assert_int_equal(buf_write_file(&out, in_folder("no/such/folder"), &err), STATUS_CANT_WRITE);
    assert_non_null(strstr(err.text, "no/such/folder"));
    assert_int_equal(mkdir(in_folder("taken"), 0700), 0);
    assert_int_equal(buf_write_file(&out, in_folder("taken"), &err), STATUS_CANT_WRITE);
    assert_int_equal(files_in_folder(), 1);
    buf_clear(&out);
}

/* What a child that writes `text` to its standard output says, with that output on `path`. */
static enum status write_in_a_child(const char *text, const char *path)
{
    fflush(NULL);
    pid_t child = fork();
    if (child == 0) {
        int fd = open(path, O_WRONLY | O_CREAT, 0600);
        dup2(fd, STDOUT_FILENO);
        struct buf out = {0};
        buf_text(&out, text);
        _exit((int)buf_write_stdout(&out, NULL));
    }
    int status;
    assert_int_equal(waitpid(child, &status, 0), child);
    return (enum status)WEXITSTATUS(status);
}

static void standard_output_that_takes_nothing_is_a_fault(void **state)
{
    (void)state;
    assert_int_equal(write_in_a_child("figures\n", in_folder("out")), STATUS_OK);
    check_file(in_folder("out"), "figures\n");
    assert_int_equal(write_in_a_child("figures\n", "/dev/full"), STATUS_CANT_WRITE);
}

int main(void)
{
#define IN_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_folder, remove_folder)
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_untouched_buf_is_empty_text),
        cmocka_unit_test(pieces_are_put_together),
        cmocka_unit_test(much_text_fits),
        IN_FOLDER(a_file_comes_back_as_it_was_written),
        IN_FOLDER(an_empty_file_is_empty_text),
        IN_FOLDER(what_is_not_there_or_is_a_folder_is_refused),
        cmocka_unit_test(standard_input_is_read_to_its_end),
        IN_FOLDER(a_written_file_is_an_ordinary_file),
        IN_FOLDER(writing_replaces_the_file_in_one_step),
        IN_FOLDER(on_a_full_disk_the_old_file_stays_and_nothing_else),
        IN_FOLDER(what_cannot_be_written_is_said_and_leaves_nothing),
        IN_FOLDER(standard_output_that_takes_nothing_is_a_fault),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
