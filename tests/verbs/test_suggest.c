/* A misspelt name finds the one that was meant, and nothing where none is near. */
#include "check.h"
#include "verbs/suggest.h"

#include <string.h>

static const char *best_for(const char *typed)
{
    static const char *const names[] = {"bow",     "calibrate", "capture", "measure",
                                        "history", "import",    "export",  "simulate"};
    struct suggest suggest = suggest_start(typed, strlen(typed));
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        suggest_try(&suggest, names[i]);
    return suggest.best;
}

static void a_letter_changed_added_or_dropped_is_forgiven(void **state)
{
    (void)state;
    assert_string_equal(best_for("measure"), "measure");
    assert_string_equal(best_for("mesure"), "measure");
    assert_string_equal(best_for("measures"), "measure");
    assert_string_equal(best_for("meazure"), "measure");
    assert_string_equal(best_for("captrue"), "capture");
    assert_string_equal(best_for("inport"), "import");
}

static void what_is_not_near_finds_nothing(void **state)
{
    (void)state;
    assert_null(best_for("elephant"));
    assert_null(best_for(""));
    assert_null(best_for("x"));
    assert_null(best_for("a word that is much longer than any name of a verb or of an option"));
}

static void only_the_stated_length_of_what_was_typed_counts(void **state)
{
    (void)state;
    struct suggest suggest = suggest_start("bench=shop.ini", 5);
    suggest_try(&suggest, "bench");
    assert_string_equal(suggest.best, "bench");
    assert_int_equal(suggest.distance, 0);
}

/* The example with which the distance is commonly explained: kitten to sitting is 3. */
static void more_than_two_letters_are_too_far(void **state)
{
    (void)state;
    struct suggest suggest = suggest_start("kitten", 6);
    suggest_try(&suggest, "sitting");
    assert_null(suggest.best);
    suggest_try(&suggest, "mitten");
    assert_string_equal(suggest.best, "mitten");
    assert_int_equal(suggest.distance, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_letter_changed_added_or_dropped_is_forgiven),
        cmocka_unit_test(what_is_not_near_finds_nothing),
        cmocka_unit_test(only_the_stated_length_of_what_was_typed_counts),
        cmocka_unit_test(more_than_two_letters_are_too_far),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
