#include "show/verdict.h"

#include "check.h"
#include "show/json.h"

#include <gsl/gsl_errno.h>
#include <string.h>

enum { LIMITS_MAX = 4 };

/* A page of limits on invented figures; what it points to is in here too. */
struct sheet {
    struct spec_subject subject;
    struct conformity_settings decision;
    struct spec_verdict verdicts[LIMITS_MAX];
    struct warnings warnings;
    struct verdict_page page;
    struct buf text;
};

static void setup(struct sheet *f)
{
    *f = (struct sheet){.decision = conformity_defaults()};
    f->page = (struct verdict_page){.verdicts = f->verdicts,
                                    .subject = &f->subject,
                                    .decision = &f->decision,
                                    .bow_key = "",
                                    .bow_made_at = "",
                                    .warnings = &f->warnings,
                                    .units = UNITS_TRADE};
}

static void know(struct sheet *f, enum figure_id id, double value, double u)
{
    enum unit unit = figure_info(id)->trade_unit;
    f->subject.figures.f[id] = (struct figure){.present = true,
                                               .has_u = u > 0,
                                               .value_si = unit_to_si(unit, value),
                                               .u_si = unit_to_si(unit, u),
                                               .low_si = unit_to_si(unit, value - 1.96 * u),
                                               .high_si = unit_to_si(unit, value + 1.96 * u)};
}

/* Judges a limit in the trade's unit; NAN leaves a side open. */
static struct spec_verdict *judge(struct sheet *f, enum figure_id id, double low, double high)
{
    enum unit unit = figure_info(id)->trade_unit;
    struct spec_limit limit = {.figure = id,
                               .origin = SPEC_STATED,
                               .tolerance = {.has_low = !isnan(low),
                                             .has_high = !isnan(high),
                                             .low = unit_to_si(unit, low),
                                             .high = unit_to_si(unit, high)}};
    struct spec_verdict *verdict = &f->verdicts[f->page.n++];
    *verdict = spec_decide(&limit, &f->subject, &f->decision);
    return verdict;
}

/* The text of the page with every line break a blank, and runs of blanks one. */
static const char *flat_text(struct sheet *f)
{
    struct buf raw = {0};
    verdict_text(&raw, &f->page);
    buf_clear(&f->text);
    for (size_t i = 0; i < raw.length; i++) {
        char byte = raw.text[i] == '\n' ? ' ' : raw.text[i];
        if (byte != ' ' || f->text.length == 0 || f->text.text[f->text.length - 1] != ' ')
            buf_char(&f->text, byte);
    }
    buf_clear(&raw);
    return buf_string(&f->text);
}

static void check_says(struct sheet *f, const char *part)
{
    if (strstr(flat_text(f), part) == NULL)
        fail_msg("'%s' is not in: %s", part, buf_string(&f->text));
}

static void check_says_not(struct sheet *f, const char *part)
{
    if (strstr(flat_text(f), part) != NULL)
        fail_msg("'%s' is in: %s", part, buf_string(&f->text));
}

/* --- text ------------------------------------------------------------------------------------ */

static void a_limit_is_a_row_with_all_that_decided(void **state)
{
    (void)state;
    struct sheet f;
    setup(&f);
    know(&f, FIGURE_PEAK_FORCE, 59.6, 0.3);
    judge(&f, FIGURE_PEAK_FORCE, NAN, 60);
    check_says(&f, "Peak draw force 59.60 0.30 at most 60 lbf 90.9 % not proven");
    /* 60 - 1.6449 x 0.3 = 59.507 */
    check_says(&f, "no more than 59.51 lbf.");
    check_says(&f, "probability of 95 % or more");
    check_says(&f, "NOT PROVEN: no limit is broken for certain, but 1 of 1 can be proven neither");
    buf_clear(&f.text);
}

static void each_verdict_has_its_sentence(void **state)
{
    (void)state;
    struct sheet f;
    setup(&f);
    know(&f, FIGURE_PEAK_FORCE, 59, 0.1);
    know(&f, FIGURE_LET_OFF, 82, 0.2);
    judge(&f, FIGURE_PEAK_FORCE, 58, 60);
    check_says(&f, "58 to 60 lbf >99.9 % meets");
    check_says(&f, "MEETS its spec: 1 limit of 1 met.");
    check_says_not(&f, "DOES NOT");
    judge(&f, FIGURE_LET_OFF, 75, 80);
    judge(&f, FIGURE_STOP_STAGGER, NAN, 0.1);
    check_says(&f, "75 to 80 % <0.1 % FAILS");
    check_says(&f, "Stop stagger - - at most 0.1 in - not proven");
    check_says(&f, "can't be known from these readings");
    check_says(&f, "DOES NOT MEET its spec: 1 limit of 3 broken, 1 not proven either way.");
    buf_clear(&f.text);
}

static void what_is_safe_is_left_to_the_maker(void **state)
{
    (void)state;
    struct sheet f;
    setup(&f);
    know(&f, FIGURE_PEAK_FORCE, 59, 0.1);
    judge(&f, FIGURE_PEAK_FORCE, 58, 60);
    check_says(&f, "What is safe is decided by the maker's limits");
    check_says(&f, "qualified technician");
    buf_clear(&f.text);
}

static void simple_acceptance_says_that_u_did_not_count(void **state)
{
    (void)state;
    struct sheet f;
    setup(&f);
    f.decision.rule = CONFORMITY_SIMPLE;
    know(&f, FIGURE_LET_OFF, 78, 0);
    judge(&f, FIGURE_LET_OFF, 75, 80);
    check_says(&f, "Simple acceptance");
    check_says(&f, "Let-off (draw side) 78.0 - 75 to 80 % - meets");
    check_says(&f, "uncertainty of this figure is not known");
    check_says(&f, "The number alone was compared.");
    buf_clear(&f.text);
}

static void limits_stand_under_where_they_come_from(void **state)
{
    (void)state;
    struct sheet f;
    const struct verdict_rule rules[] = {
        {.file = "a.ini", .name = "Class A", .source = "Book 1", .date = "2026-01-02"},
        {.file = "b.ini",
         .name = "B",
         .source = "Book 2",
         .status = "hearsay",
         .date = "2025-01-02"}};
    setup(&f);
    know(&f, FIGURE_PEAK_FORCE, 59, 0.1);
    judge(&f, FIGURE_PEAK_FORCE, NAN, 62)->limit.origin = SPEC_RULE;
    judge(&f, FIGURE_PEAK_FORCE, NAN, 63)->limit.origin = SPEC_MAKER;
    f.verdicts[0].limit.rule = 1;
    f.page.rules = rules;
    f.page.n_rules = 2;
    f.page.bow_name = "Thicket 29";
    f.page.bow_statement = 3;
    f.page.bow_made_at = "2026-11-25T09:20:05Z";
    check_says(&f, "Maker's limits of Thicket 29 (statement 3, 2026-11-25) Peak draw force 59.00 "
                   "0.10 at most 63 lbf");
    check_says(&f, "Rule: B Book 2 (hearsay); as of 2025-01-02. Rules change: check the current "
                   "rule book. Peak draw force 59.00 0.10 at most 62 lbf");
    check_says_not(&f, "Class A"); /* no limit of it is here */
    check_says_not(&f, "as asked for");
    buf_clear(&f.text);
}

static void what_has_no_tolerance_is_shown_and_not_judged(void **state)
{
    (void)state;
    struct sheet f;
    const struct verdict_nominal nominals[] = {{FIGURE_BRACE_HEIGHT, 6.75 * 0.0254},
                                               {FIGURE_LET_OFF, 80}};
    setup(&f);
    know(&f, FIGURE_PEAK_FORCE, 59, 0.1);
    know(&f, FIGURE_BRACE_HEIGHT, 6.8, 0.01);
    judge(&f, FIGURE_PEAK_FORCE, 58, 60);
    f.page.nominals = nominals;
    f.page.n_nominals = 2;
    check_says(&f, "no tolerance for it (--tolerance gives one): brace_height 6.75 in, here 6.80 "
                   "in, let_off 80 %.");
    buf_clear(&f.text);
}

static void si_units_are_shown_where_asked_for(void **state)
{
    (void)state;
    struct sheet f;
    setup(&f);
    f.page.units = UNITS_SI;
    know(&f, FIGURE_BRACE_HEIGHT, 7, 0.01);
    judge(&f, FIGURE_BRACE_HEIGHT, 6.5, 7.5);
    check_says(&f, "Brace height 0.17780 0.00025 0.1651 to 0.1905 m >99.9 % meets");
    buf_clear(&f.text);
}

static void hostile_names_do_not_act_on_a_terminal(void **state)
{
    (void)state;
    struct sheet f;
    const struct verdict_rule rule = {.file = "\033]0;x\007",
                                      .name = "\033[31mred",
                                      .source = "a\nb\033[2J",
                                      .status = "\xFF\x1b",
                                      .date = "2026-01-02"};
    setup(&f);
    know(&f, FIGURE_PEAK_FORCE, 59, 0.1);
    judge(&f, FIGURE_PEAK_FORCE, 58, 60)->limit.origin = SPEC_RULE;
    judge(&f, FIGURE_PEAK_FORCE, 58, 60)->limit.origin = SPEC_MAKER;
    f.page.rules = &rule;
    f.page.n_rules = 1;
    f.page.bow_name = "\033[0m\nMEETS its spec";
    f.page.bow_made_at = "2026-11-25T09:20:05Z";
    struct buf out = {0};
    verdict_text(&out, &f.page);
    assert_null(strchr(buf_string(&out), '\033'));
    assert_null(strchr(buf_string(&out), '\007'));
    assert_null(strstr(buf_string(&out), "\nMEETS its spec\n"));
    buf_clear(&out);
}

static void lines_fit_the_terminal(void **state)
{
    (void)state;
    struct sheet f;
    const struct verdict_rule rule = {.name =
                                          "A rule with a rather long name, so that it has to be "
                                          "broken into two lines of the terminal",
                                      .source = "s",
                                      .date = "2026-01-02"};
    setup(&f);
    know(&f, FIGURE_LET_OFF_LET_DOWN, 79.9, 0.15);
    judge(&f, FIGURE_LET_OFF_LET_DOWN, 75.25, 80.25)->limit.origin = SPEC_RULE;
    f.page.rules = &rule;
    f.page.n_rules = 1;
    struct buf out = {0};
    verdict_text(&out, &f.page);
    for (const char *line = buf_string(&out); *line != '\0';) {
        size_t length = strcspn(line, "\n");
        if (length > 80)
            fail_msg("longer than 80: %.*s", (int)length, line);
        line += length + (line[length] == '\n');
    }
    buf_clear(&out);
}

/* --- JSON ------------------------------------------------------------------------------------ */

static json_t *page_json(const struct sheet *f)
{
    json_t *root = json_object();
    verdict_json(root, &f->page);
    return root;
}

static double number_of(const json_t *object, const char *name)
{
    const json_t *value = json_object_get(object, name);
    return json_is_number(value) ? json_number_value(value) : (double)NAN;
}

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(json_object_get(object, name));
    return text != NULL ? text : "(none)";
}

static void json_has_figure_limits_probability_and_verdict(void **state)
{
    (void)state;
    struct sheet f;
    setup(&f);
    know(&f, FIGURE_PEAK_FORCE, 59.6, 0.3);
    judge(&f, FIGURE_PEAK_FORCE, NAN, 60);
    json_t *root = page_json(&f);
    const json_t *limit = json_array_get(json_object_get(root, "limits"), 0);
    assert_string_equal(text_of(limit, "figure"), "peak_force");
    assert_string_equal(text_of(limit, "origin"), "stated");
    assert_string_equal(text_of(limit, "unit"), "lbf");
    assert_true(json_is_null(json_object_get(limit, "low")));
    check_near(number_of(limit, "high"), 60, 1e-12);
    check_near(number_of(limit, "value"), 59.6, 1e-12);
    check_near(number_of(limit, "u"), 0.3, 1e-12);
    /* Phi(1.3333), from tables of the normal distribution */
    check_near(number_of(limit, "probability"), 0.908789, 1e-6);
    check_near(number_of(json_object_get(limit, "acceptance"), "high"), 59.506544, 1e-6);
    assert_string_equal(text_of(limit, "verdict"), "not_proven");
    assert_string_equal(text_of(json_object_get(limit, "reason"), "code"), "uncertainty");
    assert_string_equal(text_of(root, "verdict"), "not_proven");
    assert_true(json_is_null(json_object_get(root, "bow")));
    json_decref(root);
}

static void what_is_not_known_is_null_in_json(void **state)
{
    (void)state;
    struct sheet f;
    setup(&f);
    judge(&f, FIGURE_LET_OFF, 75, 80);
    json_t *root = page_json(&f);
    const json_t *limit = json_array_get(json_object_get(root, "limits"), 0);
    static const char *const names[] = {"value", "u", "probability", "dof", "acceptance"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        assert_true(json_is_null(json_object_get(limit, names[i])));
    assert_string_equal(text_of(limit, "verdict"), "not_proven");
    assert_string_equal(text_of(json_object_get(limit, "reason"), "code"), "no_value");
    json_decref(root);
}

static void json_names_bow_rules_and_what_was_not_judged(void **state)
{
    (void)state;
    struct sheet f;
    const struct verdict_rule rule = {
        .file = "a.ini", .name = "\xFF\"A\"", .source = "Book", .date = "2026-01-02"};
    const struct verdict_nominal nominal = {FIGURE_BRACE_HEIGHT, 6.75 * 0.0254};
    setup(&f);
    know(&f, FIGURE_PEAK_FORCE, 59, 0.1);
    judge(&f, FIGURE_PEAK_FORCE, NAN, 60)->limit.origin = SPEC_RULE;
    warnings_add(&f.warnings, (struct warning){.code = WARNING_NO_LET_DOWN});
    f.page.rules = &rule;
    f.page.n_rules = 1;
    f.page.nominals = &nominal;
    f.page.n_nominals = 1;
    f.page.bow_name = "Thicket 29";
    f.page.bow_statement = 2;
    json_t *root = page_json(&f);
    const json_t *of = json_array_get(json_object_get(root, "rules"), 0);
    assert_string_equal(text_of(of, "name"), "\xEF\xBF\xBD\"A\"");
    assert_string_equal(text_of(of, "date"), "2026-01-02");
    assert_non_null(strstr(text_of(of, "note"), "check the current rule book"));
    const json_t *limit = json_array_get(json_object_get(root, "limits"), 0);
    assert_int_equal(json_integer_value(json_object_get(limit, "rule")), 0);
    assert_string_equal(text_of(limit, "verdict"), "meets");
    assert_true(json_is_null(json_object_get(limit, "reason")));
    const json_t *nominal_of = json_array_get(json_object_get(root, "not_judged"), 0);
    assert_string_equal(text_of(nominal_of, "figure"), "brace_height");
    check_near(number_of(nominal_of, "nominal"), 6.75, 1e-12);
    assert_string_equal(text_of(json_object_get(root, "bow"), "name"), "Thicket 29");
    assert_int_equal(json_array_size(json_object_get(root, "warnings")), 1);
    json_decref(root);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_limit_is_a_row_with_all_that_decided),
        cmocka_unit_test(each_verdict_has_its_sentence),
        cmocka_unit_test(what_is_safe_is_left_to_the_maker),
        cmocka_unit_test(simple_acceptance_says_that_u_did_not_count),
        cmocka_unit_test(limits_stand_under_where_they_come_from),
        cmocka_unit_test(what_has_no_tolerance_is_shown_and_not_judged),
        cmocka_unit_test(si_units_are_shown_where_asked_for),
        cmocka_unit_test(hostile_names_do_not_act_on_a_terminal),
        cmocka_unit_test(lines_fit_the_terminal),
        cmocka_unit_test(json_has_figure_limits_probability_and_verdict),
        cmocka_unit_test(what_is_not_known_is_null_in_json),
        cmocka_unit_test(json_names_bow_rules_and_what_was_not_judged),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
