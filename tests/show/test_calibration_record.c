#include "show/calibration_record.h"

#include "base/status.h"
#include "check.h"
#include "show/json.h"

#include <gsl/gsl_errno.h>
#include <string.h>

static struct err err;

enum { N = 22 };

/* A calibration of two runs up and down, with a scatter that is known, and what the page takes. */
struct page {
    struct calibration_point points[N];
    struct calibration calibration, previous;
    struct calibration_choice choice;
    struct calibration_outlier outliers[N];
    struct calibration_summary summary;
    struct calibration_record record;
};

static void page_fill(struct page *page)
{
    static const double loads[11] = {0, 50, 100, 150, 200, 250, 200, 150, 100, 50, 0};
    for (size_t i = 0; i < N; i++)
        page->points[i] = (struct calibration_point){
            .reference_si = loads[i % 11],
            .u_reference_si = 1e-4 * loads[i % 11],
            .count = 8000.0 + 300.0 * loads[i % 11] + (i % 3 == 0 ? 3.0 : -1.5),
            .run = i < 11 ? 1 : 2,
            .decreasing = i % 11 > 5,
        };
    check_ok(calibration_fit(page->points, N, QUANTITY_FORCE, 2, &page->calibration, &err));
    check_ok(calibration_choose(page->points, N, QUANTITY_FORCE, CALIBRATION_REFERENCES_COMMON,
                                &page->choice, &err));
    calibration_summarise(&page->calibration, page->points, N, NULL, &page->summary);
    page->record = (struct calibration_record){
        .key = "0b6e35aa-0000-4000-8000-000000000001",
        .bench = "Hollow Oak bench 1",
        .made_at = "2026-11-25T09:20:05Z",
        .note = "",
        .today = "2026-12-25T08:00:00Z",
        .months = 12,
        .units = UNITS_SI,
        .calibration = &page->calibration,
        .points = page->points,
        .n_points = N,
        .choice = &page->choice,
        .outliers = page->outliers,
        .summary = &page->summary,
        .previous_made_at = "",
    };
}

/* The same cell a year earlier, 1 % less sensitive. */
static void add_previous(struct page *page)
{
    struct calibration_point points[N];
    memcpy(points, page->points, sizeof points);
    for (size_t i = 0; i < N; i++)
        points[i].count = 8000.0 + 0.99 * (points[i].count - 8000.0);
    check_ok(calibration_fit(points, N, QUANTITY_FORCE, 2, &page->previous, &err));
    page->record.previous = &page->previous;
    page->record.previous_made_at = "2025-11-25T10:00:00Z";
}

static void text_of(struct page *page, struct buf *out)
{
    calibration_record_text(out, &page->record);
}

static void check_holds(const struct buf *text, const char *part)
{
    if (strstr(buf_string(text), part) == NULL)
        fail_msg("'%s' is not in: %s", part, buf_string(text));
}

static void check_lacks(const struct buf *text, const char *part)
{
    if (strstr(buf_string(text), part) != NULL)
        fail_msg("'%s' is in: %s", part, buf_string(text));
}

/* --- text ----------------------------------------------------------------------------------- */

static void head_names_bench_date_and_due_date(void **state)
{
    (void)state;
    struct page page = {0};
    struct buf out = {0};
    page_fill(&page);
    text_of(&page, &out);
    check_holds(&out, "Force calibration, Hollow Oak bench 1\n");
    check_holds(&out, "made       2026-11-25T09:20:05Z\n");
    check_holds(&out, "due        2027-11-25 (in 335 days)\n");
    check_holds(&out, "straight line, 22 points, 2 runs, 0.0 N to 250.0 N\n");
    check_holds(&out, "300.00 counts/N");
    check_lacks(&out, "note");
    buf_clear(&out);
    calibration_summary_clear(&page.summary);
}

static void formula_on_the_page_gives_the_value(void **state)
{
    (void)state;
    struct page page = {0};
    struct buf out = {0};
    page_fill(&page);
    text_of(&page, &out);
    double c0 = 0.0, c1 = 0.0, origin = 0.0;
    const char *text = buf_string(&out);
    c0 = strtod(strstr(text, "c0 = ") + 5, NULL);
    c1 = strtod(strstr(text, "c1 = ") + 5, NULL);
    origin = strtod(strstr(text, "count - (") + 9, NULL);
    check_near(c0 + c1 * (51234.0 - origin), calibration_value(&page.calibration, 51234.0), 1e-10);
    buf_clear(&out);
    calibration_summary_clear(&page.summary);
}

static void every_line_fits_80_columns(void **state)
{
    (void)state;
    struct page page = {0};
    struct buf out = {0};
    page_fill(&page);
    add_previous(&page);
    page.record.note = "a note that is rather long, as notes in a shop may be when there was "
                       "something out of the common run to tell about the day";
    page.record.n_outliers = 1;
    page.record.place_unknown = true;
    text_of(&page, &out);
    size_t n_lines = 0;
    for (const char *line = buf_string(&out); *line != '\0'; n_lines++) {
        size_t length = strcspn(line, "\n");
        if (length > 80)
            fail_msg("%zu columns: %.*s", length, (int)length, line);
        line += length + 1;
    }
    assert_true(n_lines < 66); /* one page */
    buf_clear(&out);
    calibration_summary_clear(&page.summary);
}

static void what_a_person_wrote_cannot_act_on_the_terminal(void **state)
{
    (void)state;
    struct page page = {0};
    struct buf out = {0};
    page_fill(&page);
    page.record.note = "\x1b[2Jgone";
    page.record.bench = "bench\r\n2";
    text_of(&page, &out);
    check_lacks(&out, "\x1b");
    check_lacks(&out, "\r");
    check_holds(&out, "gone");
    buf_clear(&out);
    calibration_summary_clear(&page.summary);
}

static void drift_is_shown_and_warned_of(void **state)
{
    (void)state;
    struct page page = {0};
    struct buf out = {0};
    page_fill(&page);
    add_previous(&page);
    text_of(&page, &out);
    check_holds(&out, "Drift: what the one of 2025-11-25T10:00:00Z would show now");
    check_holds(&out, "significant");
    check_holds(&out, "It differs significantly from the one before");
    struct calibration_drift drift;
    assert_true(calibration_record_drift(&page.record, 5, &drift));
    check_near(drift.difference_si, 250.0 / 0.99 - 250.0, 0.01);
    buf_clear(&out);
    calibration_summary_clear(&page.summary);
}

static void drift_is_not_extrapolated(void **state)
{
    (void)state;
    struct page page = {0};
    page_fill(&page);
    add_previous(&page);
    page.previous.count_high = page.previous.count_middle; /* it only went half as far */
    page.previous.count_middle = (page.previous.count_low + page.previous.count_high) / 2.0;
    struct calibration_drift drift;
    assert_true(calibration_record_drift(&page.record, 0, &drift));
    assert_false(calibration_record_drift(&page.record, 5, &drift));
    calibration_summary_clear(&page.summary);
}

/* --- notes ---------------------------------------------------------------------------------- */

static bool holds(const struct page *page, enum calibration_note note)
{
    bool notes[CALIBRATION_NOTE_COUNT];
    calibration_record_notes(&page->record, notes);
    return notes[note];
}

static void good_calibration_has_no_notes(void **state)
{
    (void)state;
    struct page page = {0};
    page_fill(&page);
    for (int i = 0; i < CALIBRATION_NOTE_COUNT; i++)
        assert_false(holds(&page, (enum calibration_note)i));
    calibration_summary_clear(&page.summary);
}

static void overdue_calibration_is_told(void **state)
{
    (void)state;
    struct page page = {0};
    struct buf out = {0};
    page_fill(&page);
    page.record.today = "2027-11-25";
    assert_false(holds(&page, CALIBRATION_NOTE_OVERDUE)); /* the day itself */
    page.record.today = "2027-11-26";
    assert_true(holds(&page, CALIBRATION_NOTE_OVERDUE));
    text_of(&page, &out);
    check_holds(&out, "2027-11-25 (1 day ago)");
    page.record.months = 6;
    page.record.today = "2026-12-25";
    assert_false(holds(&page, CALIBRATION_NOTE_OVERDUE));
    buf_clear(&out);
    calibration_summary_clear(&page.summary);
}

static void missing_evidence_is_told(void **state)
{
    (void)state;
    struct page page = {0};
    page_fill(&page);
    for (size_t i = 0; i < N; i++) {
        page.points[i].u_reference_si = 0.0;
        page.points[i].decreasing = false;
    }
    assert_true(holds(&page, CALIBRATION_NOTE_NO_REFERENCE_U));
    assert_true(holds(&page, CALIBRATION_NOTE_NO_FALLING));
    page.record.points = page.points + 1; /* 50 ... 50 N */
    page.record.n_points = 9;
    assert_true(holds(&page, CALIBRATION_NOTE_NO_ZERO));
    page.calibration.dof = 0;
    assert_true(holds(&page, CALIBRATION_NOTE_NO_SCATTER));
    page.choice.n_loads = 4;
    assert_true(holds(&page, CALIBRATION_NOTE_FEW_LOADS));
    page.choice.n_terms = 3;
    assert_true(holds(&page, CALIBRATION_NOTE_TERMS));
    calibration_summary_clear(&page.summary);
}

/* --- JSON ----------------------------------------------------------------------------------- */

static void json_numbers_read_back_exactly(void **state)
{
    (void)state;
    struct page page = {0};
    struct buf out = {0};
    page_fill(&page);
    add_previous(&page);
    json_t *made = calibration_record_json(&page.record);
    json_render(&out, made);
    json_error_t error;
    json_t *read = json_loads(buf_string(&out), 0, &error);
    assert_non_null(read);
    json_t *fit = json_object_get(read, "fit");
    check_near(json_number_value(json_object_get(fit, "residual_sd")),
               page.calibration.residual_sd_si, 0.0);
    struct calibration_polynomial about = calibration_about(
        &page.calibration, json_number_value(json_object_get(fit, "about_count")));
    check_near(json_number_value(json_array_get(json_object_get(fit, "coefficients"), 1)),
               about.coefficient[1], 0.0);
    check_near(json_number_value(json_array_get(json_object_get(fit, "u"), 1)),
               sqrt(about.covariance[1][1]), 0.0);
    assert_int_equal(json_array_size(json_object_get(read, "points")), N);
    assert_string_equal(json_string_value(json_object_get(read, "unit")), "N");
    json_decref(made);
    json_decref(read);
    buf_clear(&out);
    calibration_summary_clear(&page.summary);
}

static void json_has_null_for_what_is_not_known(void **state)
{
    (void)state;
    struct page page = {0};
    page_fill(&page);
    page.record.key = "";
    page.record.made_at = "some day";
    json_t *tree = calibration_record_json(&page.record);
    assert_true(json_is_null(json_object_get(tree, "key")));
    assert_true(json_is_null(json_object_get(tree, "due")));
    assert_true(json_is_null(json_object_get(tree, "drift")));
    json_t *worst = json_object_get(json_object_get(tree, "summary"), "worst_pct");
    assert_true(json_is_null(json_object_get(worst, "creep")));
    assert_true(json_is_null(json_object_get(worst, "repeatability")));
    json_decref(tree);
    calibration_summary_clear(&page.summary);
}

static void json_speaks_trade_units_when_asked(void **state)
{
    (void)state;
    struct page page = {0};
    page_fill(&page);
    page.record.units = UNITS_TRADE;
    json_t *tree = calibration_record_json(&page.record);
    assert_string_equal(json_string_value(json_object_get(tree, "unit")), "lbf");
    /* 250 N over 4.4482216152605 N/lbf (NIST SP 811, exact by definition) */
    check_near(json_number_value(json_object_get(json_object_get(tree, "fit"), "high")),
               250.0 / 4.4482216152605, 1e-12);
    json_decref(tree);
    calibration_summary_clear(&page.summary);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(head_names_bench_date_and_due_date),
        cmocka_unit_test(formula_on_the_page_gives_the_value),
        cmocka_unit_test(every_line_fits_80_columns),
        cmocka_unit_test(what_a_person_wrote_cannot_act_on_the_terminal),
        cmocka_unit_test(drift_is_shown_and_warned_of),
        cmocka_unit_test(drift_is_not_extrapolated),
        cmocka_unit_test(good_calibration_has_no_notes),
        cmocka_unit_test(overdue_calibration_is_told),
        cmocka_unit_test(missing_evidence_is_told),
        cmocka_unit_test(json_numbers_read_back_exactly),
        cmocka_unit_test(json_has_null_for_what_is_not_known),
        cmocka_unit_test(json_speaks_trade_units_when_asked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
