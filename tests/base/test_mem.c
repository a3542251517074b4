/* Memory: zeroed, grown, and the program's end where there is none. */
#include "base/mem.h"
#include "check.h"

#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

static void memory_comes_zeroed(void **state)
{
    (void)state;
    unsigned char *bytes = mem_calloc(1000, 3);
    for (size_t i = 0; i < 3000; i++)
        assert_int_equal(bytes[i], 0);
    free(bytes);
}

static void no_bytes_are_memory_too(void **state)
{
    (void)state;
    void *none = mem_calloc(0, 8);
    assert_non_null(none);
    none = mem_realloc(none, 0, 8);
    assert_non_null(none);
    free(none);
}

static void resizing_keeps_what_was_there(void **state)
{
    (void)state;
    int *numbers = mem_realloc(NULL, 3, sizeof *numbers);
    for (int i = 0; i < 3; i++)
        numbers[i] = i + 1;
    numbers = mem_realloc(numbers, 100000, sizeof *numbers);
    for (int i = 0; i < 3; i++)
        assert_int_equal(numbers[i], i + 1);
    free(numbers);
}

static void copies_are_the_callers_own(void **state)
{
    (void)state;
    char text[] = "brace height";
    char *whole = mem_strdup(text), *part = mem_strndup(text, 5), *none = mem_strndup(text, 0);
    text[0] = 'g';
    assert_string_equal(whole, "brace height");
    assert_string_equal(part, "brace");
    assert_string_equal(none, "");
    free(whole);
    free(part);
    free(none);
}

static void capacity_grows_by_half_and_is_always_enough(void **state)
{
    (void)state;
    assert_int_equal(mem_grown(0, 1), 16);
    assert_int_equal(mem_grown(16, 17), 24);
    assert_int_equal(mem_grown(100, 100), 100);
    static const size_t needed[] = {1, 17, 1000, 123456789, SIZE_MAX / 2, SIZE_MAX - 1, SIZE_MAX};
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
        assert_true(mem_grown(16, needed[i]) >= needed[i]);
}

/* Asks for count * size bytes in a child; gives its exit code and what it said. */
static int ask_in_a_child(size_t count, size_t size, char *said, size_t length)
{
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    fflush(NULL);
    pid_t child = fork();
    if (child == 0) {
        dup2(ends[1], STDERR_FILENO);
        void *memory = mem_realloc(NULL, count, size);
        _exit(memory != NULL ? 0 : 1);
    }
    close(ends[1]);
    size_t used = 0;
    for (ssize_t got; (got = read(ends[0], said + used, length - 1 - used)) > 0;)
        used += (size_t)got;
    said[used] = '\0';
    close(ends[0]);
    int status;
    assert_int_equal(waitpid(child, &status, 0), child);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void a_size_beyond_the_machine_ends_the_program_with_a_message(void **state)
{
    (void)state;
    char said[4096];
    assert_int_equal(ask_in_a_child(SIZE_MAX / 2, 4, said, sizeof said), 70);
    assert_non_null(strstr(said, "pullcurve: out of memory"));
    assert_non_null(strstr(said, "what was measured is in the record"));
    /* more than an address space of 47 bits has */
    assert_int_equal(ask_in_a_child((size_t)1 << 47, 1, said, sizeof said), 70);
    assert_non_null(strstr(said, "pullcurve: out of memory"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(memory_comes_zeroed),
        cmocka_unit_test(no_bytes_are_memory_too),
        cmocka_unit_test(resizing_keeps_what_was_there),
        cmocka_unit_test(copies_are_the_callers_own),
        cmocka_unit_test(capacity_grows_by_half_and_is_always_enough),
        cmocka_unit_test(a_size_beyond_the_machine_ends_the_program_with_a_message),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
