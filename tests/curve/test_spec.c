#include "curve/spec.h"

#include "check.h"
#include "curve/interval.h"

#include <gsl/gsl_errno.h>

/* A subject that knows one figure, in SI, with a normal interval; u 0: none is known. */
static struct spec_subject knows(enum figure_id id, double value_si, double u_si)
{
    struct spec_subject subject = {.figures = {{{0}}}};
    struct interval interval = interval_normal(value_si, u_si, 0.95);
    subject.figures.f[id] = (struct figure){.present = true,
                                            .has_u = u_si > 0,
                                            .value_si = value_si,
                                            .u_si = u_si,
                                            .low_si = interval.low,
                                            .high_si = interval.high};
    return subject;
}

static struct spec_limit limit(enum figure_id id, double low_si, double high_si)
{
    return (struct spec_limit){.figure = id,
                               .origin = SPEC_STATED,
                               .tolerance = {.has_low = !isnan(low_si),
                                             .has_high = !isnan(high_si),
                                             .low = low_si,
                                             .high = high_si}};
}

static struct spec_verdict guarded(struct spec_limit of, struct spec_subject subject)
{
    struct conformity_settings settings = conformity_defaults();
    return spec_decide(&of, &subject, &settings);
}

static struct spec_verdict simple(struct spec_limit of, struct spec_subject subject)
{
    struct conformity_settings settings = {.rule = CONFORMITY_SIMPLE, .probability = 0.95};
    return spec_decide(&of, &subject, &settings);
}

static double n_of(double force_lbf)
{
    return unit_to_si(UNIT_LBF, force_lbf);
}

/* --- probabilities and verdicts -------------------------------------------------------------- */

static void a_peak_near_its_limit_is_not_proven(void **state)
{
    (void)state;
    struct spec_verdict got = guarded(limit(FIGURE_PEAK_FORCE, NAN, n_of(60.0)),
                                      knows(FIGURE_PEAK_FORCE, n_of(59.6), n_of(0.3)));
    /* Phi(0.4 / 0.3) = 0.908789 and 60 - 1.644854 x 0.3 = 59.506544, from tables of the normal
     * distribution */
    check_near(got.probability, 0.908789, 1e-6);
    check_near(unit_from_si(UNIT_LBF, got.acceptance.high), 59.506544, 1e-6);
    assert_true(isinf(got.acceptance.low));
    assert_int_equal(got.verdict, VERDICT_NOT_PROVEN);
    assert_int_equal(got.reason, SPEC_REASON_UNCERTAINTY);
}

static void one_sided_limits_have_the_published_probabilities(void **state)
{
    (void)state;
    /* JCGM 106:2012 7.4, examples 1 and 2: 0.92 and 0.99 (from memory; recomputed Phi(1.40),
     * Phi(19.7/8.6)); numbers taken as SI */
    struct spec_verdict upper =
        guarded(limit(FIGURE_STEEPEST_DROP, NAN, -5.40), knows(FIGURE_STEEPEST_DROP, -5.47, 0.05));
    check_near(upper.probability, 0.919243, 1e-6);
    assert_int_equal(upper.verdict, VERDICT_NOT_PROVEN);
    struct spec_verdict lower =
        guarded(limit(FIGURE_PEAK_FORCE, 490.0, NAN), knows(FIGURE_PEAK_FORCE, 509.7, 8.6));
    check_near(lower.probability, 0.98901, 1e-5);
    assert_int_equal(lower.verdict, VERDICT_MEETS);
    assert_int_equal(lower.reason, SPEC_REASON_NONE);
}

static void a_two_sided_limit_has_the_published_probability(void **state)
{
    (void)state;
    /* JCGM 106:2012 7.5: 0.66 (from memory; recomputed 0.6626) */
    struct spec_verdict got =
        guarded(limit(FIGURE_LET_OFF, 12.5, 16.3), knows(FIGURE_LET_OFF, 13.6, 1.8));
    check_near(got.probability, 0.6626, 5e-5);
    assert_int_equal(got.verdict, VERDICT_NOT_PROVEN);
    /* +-1.9 about the middle is less than 1.96 x 1.8: no value is proven at 95 % */
    assert_false(got.acceptance.possible);
    assert_int_equal(got.reason, SPEC_REASON_TOO_UNCERTAIN);
}

static void what_is_far_inside_meets_and_far_outside_fails(void **state)
{
    (void)state;
    struct spec_limit of = limit(FIGURE_LET_OFF, 75, 80);
    assert_int_equal(guarded(of, knows(FIGURE_LET_OFF, 78, 0.2)).verdict, VERDICT_MEETS);
    assert_int_equal(guarded(of, knows(FIGURE_LET_OFF, 74, 0.2)).verdict, VERDICT_FAILS);
    assert_int_equal(guarded(of, knows(FIGURE_LET_OFF, 81, 0.2)).verdict, VERDICT_FAILS);
    assert_int_equal(guarded(of, knows(FIGURE_LET_OFF, 80, 0.2)).verdict, VERDICT_NOT_PROVEN);
}

static void simple_acceptance_asks_the_number_alone(void **state)
{
    (void)state;
    struct spec_limit of = limit(FIGURE_PEAK_FORCE, NAN, n_of(60));
    struct spec_verdict got = simple(of, knows(FIGURE_PEAK_FORCE, n_of(59.6), n_of(0.3)));
    assert_int_equal(got.verdict, VERDICT_MEETS);
    check_near(got.probability, 0.908789, 1e-6);
    got = simple(of, knows(FIGURE_PEAK_FORCE, n_of(60.1), n_of(0.3)));
    assert_int_equal(got.verdict, VERDICT_FAILS);
}

/* --- what proves nothing --------------------------------------------------------------------- */

static void a_figure_that_is_not_there_is_not_proven_by_either_rule(void **state)
{
    (void)state;
    struct spec_subject nothing = {.figures = {{{0}}}};
    struct spec_limit of = limit(FIGURE_LET_OFF, 75, 80);
    struct spec_verdict one = guarded(of, nothing), other = simple(of, nothing);
    assert_int_equal(one.verdict, VERDICT_NOT_PROVEN);
    assert_int_equal(one.reason, SPEC_REASON_NO_VALUE);
    assert_false(one.has_probability);
    assert_int_equal(other.verdict, VERDICT_NOT_PROVEN);
    assert_int_equal(other.reason, SPEC_REASON_NO_VALUE);
}

static void a_figure_without_uncertainty_is_compared_by_simple_acceptance_only(void **state)
{
    (void)state;
    struct spec_limit of = limit(FIGURE_LET_OFF, 75, 80);
    struct spec_verdict got = guarded(of, knows(FIGURE_LET_OFF, 78, 0));
    assert_int_equal(got.verdict, VERDICT_NOT_PROVEN);
    assert_int_equal(got.reason, SPEC_REASON_NO_U);
    assert_false(got.has_probability);
    got = simple(of, knows(FIGURE_LET_OFF, 78, 0));
    assert_int_equal(got.verdict, VERDICT_MEETS);
    assert_int_equal(got.reason, SPEC_REASON_NO_U); /* and it is said */
    assert_int_equal(simple(of, knows(FIGURE_LET_OFF, 81, 0)).verdict, VERDICT_FAILS);
}

static void what_was_entered_or_assumed_proves_nothing(void **state)
{
    (void)state;
    struct spec_limit of = limit(FIGURE_BRACE_HEIGHT, 0.17, 0.18);
    struct spec_subject subject = knows(FIGURE_BRACE_HEIGHT, 0.175, 1e-5);
    subject.basis[FIGURE_BRACE_HEIGHT] = SPEC_ENTERED;
    assert_int_equal(guarded(of, subject).verdict, VERDICT_NOT_PROVEN);
    assert_int_equal(guarded(of, subject).reason, SPEC_REASON_ENTERED);
    subject.basis[FIGURE_BRACE_HEIGHT] = SPEC_ASSUMED;
    assert_int_equal(guarded(of, subject).reason, SPEC_REASON_ASSUMED);
}

static void a_lower_bound_breaks_an_upper_limit_and_never_proves_it(void **state)
{
    (void)state;
    struct spec_subject subject = knows(FIGURE_PEAK_FORCE, n_of(50), n_of(0.2));
    subject.basis[FIGURE_PEAK_FORCE] = SPEC_AT_LEAST;
    struct spec_verdict got = guarded(limit(FIGURE_PEAK_FORCE, NAN, n_of(60)), subject);
    assert_int_equal(got.verdict, VERDICT_NOT_PROVEN);
    assert_int_equal(got.reason, SPEC_REASON_PULL_ENDED);
    got = guarded(limit(FIGURE_PEAK_FORCE, n_of(40), n_of(60)), subject);
    assert_int_equal(got.verdict, VERDICT_NOT_PROVEN);
    got = guarded(limit(FIGURE_PEAK_FORCE, n_of(55), n_of(60)), subject);
    assert_int_equal(got.verdict, VERDICT_NOT_PROVEN); /* it may yet be in there */
    got = guarded(limit(FIGURE_PEAK_FORCE, NAN, n_of(45)), subject);
    assert_int_equal(got.verdict, VERDICT_FAILS);
    assert_int_equal(got.reason, SPEC_REASON_NONE);
    got = guarded(limit(FIGURE_PEAK_FORCE, n_of(40), NAN), subject);
    assert_int_equal(got.verdict, VERDICT_MEETS);
    got = guarded(limit(FIGURE_PEAK_FORCE, n_of(55), NAN), subject);
    assert_int_equal(got.verdict, VERDICT_NOT_PROVEN);
}

static void an_upper_bound_breaks_a_lower_limit_and_never_proves_it(void **state)
{
    (void)state;
    struct spec_subject subject = knows(FIGURE_HOLDING_FORCE, n_of(15), n_of(0.1));
    subject.basis[FIGURE_HOLDING_FORCE] = SPEC_AT_MOST;
    assert_int_equal(guarded(limit(FIGURE_HOLDING_FORCE, n_of(10), n_of(20)), subject).verdict,
                     VERDICT_NOT_PROVEN);
    assert_int_equal(guarded(limit(FIGURE_HOLDING_FORCE, NAN, n_of(20)), subject).verdict,
                     VERDICT_MEETS);
    assert_int_equal(guarded(limit(FIGURE_HOLDING_FORCE, n_of(16), NAN), subject).verdict,
                     VERDICT_FAILS);
}

/* --- uncertainty that is added --------------------------------------------------------------- */

static void stated_uncertainty_adds_up_in_squares(void **state)
{
    (void)state;
    struct spec_subject subject = knows(FIGURE_PEAK_FORCE, 100, 3);
    spec_add_u(&subject, FIGURE_PEAK_FORCE, 4);
    const struct figure *peak = &subject.figures.f[FIGURE_PEAK_FORCE];
    check_near(peak->u_si, 5, 1e-12);
    check_near(peak->high_si, 100 + 5 * 1.959964, 1e-5); /* JCGM 100 table G.1: 1.960 */
    check_near(peak->low_si, 100 - 5 * 1.959964, 1e-5);
}

static void stated_uncertainty_alone_makes_a_coarse_figure_decidable(void **state)
{
    (void)state;
    struct spec_subject subject = knows(FIGURE_PEAK_FORCE, n_of(59.6), 0);
    spec_add_u(&subject, FIGURE_PEAK_FORCE, n_of(0.3));
    struct spec_verdict got = guarded(limit(FIGURE_PEAK_FORCE, NAN, n_of(60)), subject);
    check_near(got.probability, 0.908789, 1e-6);
}

static void stated_uncertainty_makes_a_measurement_of_what_was_entered(void **state)
{
    (void)state;
    struct spec_subject subject = knows(FIGURE_BRACE_HEIGHT, 0.175, 1e-5);
    subject.basis[FIGURE_BRACE_HEIGHT] = SPEC_ENTERED;
    spec_add_u(&subject, FIGURE_BRACE_HEIGHT, 0.001);
    assert_int_equal(guarded(limit(FIGURE_BRACE_HEIGHT, 0.17, 0.18), subject).verdict,
                     VERDICT_MEETS);
}

static void stated_uncertainty_makes_no_figure_out_of_nothing(void **state)
{
    (void)state;
    struct spec_subject nothing = {.figures = {{{0}}}};
    spec_add_u(&nothing, FIGURE_LET_OFF, 0.1);
    assert_false(nothing.figures.f[FIGURE_LET_OFF].present);
}

/* --- degrees of freedom ---------------------------------------------------------------------- */

static void a_wide_interval_is_student_t_with_its_degrees_of_freedom(void **state)
{
    (void)state;
    /* JCGM 100:2008 table G.2, fraction 95 %: 12.71 at 1, 4.30 at 2, 2.57 at 5, 2.23 at 10 */
    static const struct {
        double factor, dof;
    } row[] = {{12.7062, 1}, {4.3027, 2}, {2.5706, 5}, {2.2281, 10}, {40, 1}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct figure figure = {.present = true,
                                .has_u = true,
                                .value_si = 10,
                                .u_si = 0.5,
                                .low_si = 10 - 0.5 * row[i].factor,
                                .high_si = 10 + 0.5 * row[i].factor};
        check_near(spec_measured(&figure).dof, row[i].dof, 0.002 * row[i].dof);
    }
}

static void an_interval_about_as_wide_as_the_normal_one_is_normal(void **state)
{
    (void)state;
    struct figure figure = {.present = true,
                            .has_u = true,
                            .value_si = 10,
                            .u_si = 0.5,
                            .low_si = 10 - 0.5 * 2.02,
                            .high_si = 10 + 0.5 * 1.90};
    assert_true(isinf(spec_measured(&figure).dof));
}

static void two_pulls_prove_less_than_their_u_alone_would(void **state)
{
    (void)state;
    struct spec_subject subject = knows(FIGURE_PEAK_FORCE, n_of(59), n_of(0.3));
    struct spec_limit of = limit(FIGURE_PEAK_FORCE, NAN, n_of(60));
    assert_int_equal(guarded(of, subject).verdict, VERDICT_MEETS);
    struct figure *peak = &subject.figures.f[FIGURE_PEAK_FORCE];
    peak->low_si = n_of(59 - 12.7062 * 0.3);
    peak->high_si = n_of(59 + 12.7062 * 0.3);
    struct spec_verdict got = guarded(of, subject);
    /* Student t with 1 degree of freedom is Cauchy's: 1/2 + atan(1/0.3)/pi = 0.907226 */
    check_near(got.probability, 0.907226, 1e-4);
    assert_int_equal(got.verdict, VERDICT_NOT_PROVEN);
}

/* --- what figures stand for ------------------------------------------------------------------ */

static struct measurement pulls_that_ended(struct pull *pulls, size_t n, enum full_draw_rule rule)
{
    for (size_t i = 0; i < n; i++)
        pulls[i] = (struct pull){.full_draw = rule};
    return (struct measurement){.n_pulls = n, .pulls = pulls, .full_draw = rule};
}

static void a_pull_to_the_wall_is_measured_throughout(void **state)
{
    (void)state;
    struct pull pulls[2];
    struct measurement measurement = pulls_that_ended(pulls, 2, FULL_DRAW_VALLEY);
    struct measure_settings settings = measure_defaults();
    struct spec_subject subject = spec_subject_of(&measurement, &settings, false);
    for (int i = 0; i < FIGURE_COUNT; i++)
        assert_int_equal(subject.basis[i], SPEC_MEASURED);
}

static void one_pull_without_a_valley_makes_the_peak_a_lower_bound(void **state)
{
    (void)state;
    struct pull pulls[2];
    struct measurement measurement = pulls_that_ended(pulls, 2, FULL_DRAW_VALLEY);
    struct measure_settings settings = measure_defaults();
    pulls[1].full_draw = FULL_DRAW_LARGEST;
    struct spec_subject subject = spec_subject_of(&measurement, &settings, false);
    assert_int_equal(subject.basis[FIGURE_PEAK_FORCE], SPEC_AT_LEAST);
    assert_int_equal(subject.basis[FIGURE_DRAW_LENGTH_ATA], SPEC_AT_LEAST);
    assert_int_equal(subject.basis[FIGURE_FULLNESS], SPEC_OPEN);
    assert_int_equal(subject.basis[FIGURE_BRACE_HEIGHT], SPEC_MEASURED);
    settings.full_draw = FULL_DRAW_LARGEST; /* the user says that the pull ended at full draw */
    subject = spec_subject_of(&measurement, &settings, false);
    assert_int_equal(subject.basis[FIGURE_PEAK_FORCE], SPEC_MEASURED);
}

static void a_coarse_table_may_have_ended_before_the_valley(void **state)
{
    (void)state;
    struct pull pull;
    struct measurement measurement = pulls_that_ended(&pull, 1, FULL_DRAW_VALLEY);
    struct measure_settings settings = measure_defaults();
    warnings_add(&measurement.warnings, (struct warning){.code = WARNING_VALLEY_AT_END});
    warnings_add(&measurement.warnings, (struct warning){.code = WARNING_COARSE});
    struct spec_subject subject = spec_subject_of(&measurement, &settings, false);
    assert_int_equal(subject.basis[FIGURE_LET_OFF], SPEC_AT_LEAST);
    assert_int_equal(subject.basis[FIGURE_HOLDING_FORCE], SPEC_AT_MOST);
    assert_int_equal(subject.basis[FIGURE_PEAK_FORCE], SPEC_MEASURED);
    settings.full_draw = FULL_DRAW_VALLEY;
    subject = spec_subject_of(&measurement, &settings, false);
    assert_int_equal(subject.basis[FIGURE_LET_OFF], SPEC_MEASURED);
}

static void a_stated_draw_length_is_entered_and_so_may_be_the_brace_height(void **state)
{
    (void)state;
    struct pull pull;
    struct measurement measurement = pulls_that_ended(&pull, 1, FULL_DRAW_STATED);
    struct measure_settings settings = measure_defaults();
    settings.full_draw = FULL_DRAW_STATED;
    struct spec_subject subject = spec_subject_of(&measurement, &settings, true);
    assert_int_equal(subject.basis[FIGURE_DRAW_LENGTH_ATA], SPEC_ENTERED);
    assert_int_equal(subject.basis[FIGURE_FULL_DRAW], SPEC_ENTERED);
    assert_int_equal(subject.basis[FIGURE_BRACE_HEIGHT], SPEC_ENTERED);
    assert_int_equal(subject.basis[FIGURE_PEAK_FORCE], SPEC_MEASURED);
    warnings_add(&measurement.warnings, (struct warning){.code = WARNING_BRACE_ASSUMED});
    subject = spec_subject_of(&measurement, &settings, false);
    assert_int_equal(subject.basis[FIGURE_BRACE_HEIGHT], SPEC_ASSUMED);
}

/* --- lists ----------------------------------------------------------------------------------- */

static void the_worst_verdict_is_that_of_the_whole(void **state)
{
    (void)state;
    struct spec_verdict verdicts[3] = {
        {.verdict = VERDICT_MEETS}, {.verdict = VERDICT_NOT_PROVEN}, {.verdict = VERDICT_FAILS}};
    assert_int_equal(spec_overall(verdicts, 1), VERDICT_MEETS);
    assert_int_equal(spec_overall(verdicts, 2), VERDICT_NOT_PROVEN);
    assert_int_equal(spec_overall(verdicts, 3), VERDICT_FAILS);
}

static void a_spec_holds_as_many_limits_as_are_added(void **state)
{
    (void)state;
    struct spec spec = {0};
    for (int i = 0; i < 100; i++) {
        struct spec_limit one = limit((enum figure_id)(i % FIGURE_COUNT), i, NAN);
        spec_add(&spec, &one);
    }
    assert_int_equal(spec.n, 100);
    check_near(spec.limits[99].tolerance.low, 99, 0);
    assert_int_equal(spec.limits[30].figure, 30 % FIGURE_COUNT);
    spec_clear(&spec);
    assert_int_equal(spec.n, 0);
}

static void names_are_those_of_json(void **state)
{
    (void)state;
    assert_string_equal(spec_origin_name(SPEC_MAKER), "maker");
    assert_string_equal(spec_origin_name(SPEC_RULE), "rule");
    assert_string_equal(spec_reason_name(SPEC_REASON_NO_U), "no_uncertainty");
    assert_string_equal(spec_reason_text(SPEC_REASON_NONE), "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_peak_near_its_limit_is_not_proven),
        cmocka_unit_test(one_sided_limits_have_the_published_probabilities),
        cmocka_unit_test(a_two_sided_limit_has_the_published_probability),
        cmocka_unit_test(what_is_far_inside_meets_and_far_outside_fails),
        cmocka_unit_test(simple_acceptance_asks_the_number_alone),
        cmocka_unit_test(a_figure_that_is_not_there_is_not_proven_by_either_rule),
        cmocka_unit_test(a_figure_without_uncertainty_is_compared_by_simple_acceptance_only),
        cmocka_unit_test(what_was_entered_or_assumed_proves_nothing),
        cmocka_unit_test(a_lower_bound_breaks_an_upper_limit_and_never_proves_it),
        cmocka_unit_test(an_upper_bound_breaks_a_lower_limit_and_never_proves_it),
        cmocka_unit_test(stated_uncertainty_adds_up_in_squares),
        cmocka_unit_test(stated_uncertainty_alone_makes_a_coarse_figure_decidable),
        cmocka_unit_test(stated_uncertainty_makes_a_measurement_of_what_was_entered),
        cmocka_unit_test(stated_uncertainty_makes_no_figure_out_of_nothing),
        cmocka_unit_test(a_wide_interval_is_student_t_with_its_degrees_of_freedom),
        cmocka_unit_test(an_interval_about_as_wide_as_the_normal_one_is_normal),
        cmocka_unit_test(two_pulls_prove_less_than_their_u_alone_would),
        cmocka_unit_test(a_pull_to_the_wall_is_measured_throughout),
        cmocka_unit_test(one_pull_without_a_valley_makes_the_peak_a_lower_bound),
        cmocka_unit_test(a_coarse_table_may_have_ended_before_the_valley),
        cmocka_unit_test(a_stated_draw_length_is_entered_and_so_may_be_the_brace_height),
        cmocka_unit_test(the_worst_verdict_is_that_of_the_whole),
        cmocka_unit_test(a_spec_holds_as_many_limits_as_are_added),
        cmocka_unit_test(names_are_those_of_json),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
