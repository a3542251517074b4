/* give: the line through readings of a rigid bar, against numpy. */
#include "check.h"
#include "python.h"

#include "curve/give.h"

#include <string.h>

static struct err err;

/* A frame that gives 2 um/N, with play, a little curvature and some noise, loaded and unloaded. */
static const double force_n[] = {0, 50, 100, 150, 200, 250, 300, 250, 200, 150, 100, 50, 5};
static const double draw_m[] = {0.500003, 0.500112, 0.500214, 0.500306, 0.500409,
                                0.500502, 0.500589, 0.500509, 0.500418, 0.500320,
                                0.500221, 0.500123, 0.500020};
enum { N = sizeof force_n / sizeof force_n[0] };

static void the_line_is_that_of_numpy(void **state)
{
    (void)state;
    struct give give;
    check_ok(give_fit(force_n, draw_m, N, &give, &err));
    double truth[7];
    python_numbers("f = np.array([0, 50, 100, 150, 200, 250, 300, 250, 200, 150, 100, 50, 5.])\n"
                   "x = np.array([.500003, .500112, .500214, .500306, .500409, .500502, .500589,\n"
                   "              .500509, .500418, .500320, .500221, .500123, .500020])\n"
                   "r = st.linregress(f, x)\n"
                   "m = x - r.intercept - r.slope * f\n"
                   "k = np.argmax(abs(m))\n"
                   "g = np.linspace(0, 300, 30001)\n"
                   "c = np.polyval(np.polyfit(f, x, 2), g) - r.intercept - r.slope * g\n"
                   "print(*map(repr, map(float, [r.slope, r.stderr, r.intercept,\n"
                   "    np.sqrt((m ** 2).sum() / (len(f) - 2)), m[k], f[k], abs(c).max()])))\n",
                   truth, 7);
    check_near(give.give_m_per_n, truth[0], 1e-9 * truth[0]);
    check_near(give.u_give_m_per_n, truth[1], 1e-7 * truth[1]);
    check_near(give.offset_m, truth[2], 1e-12);
    check_near(give.residual_sd_m, truth[3], 1e-7 * truth[3]);
    check_near(give.largest_residual_m, truth[4], 1e-12);
    check_near(give.largest_at_n, truth[5], 0);
    check_near(give.curved_m, truth[6], 1e-6 * truth[6]);
    check_near(give.force_low_n, 0, 0);
    check_near(give.force_high_n, 300, 0);
    assert_int_equal(give.n, N);
}

static void a_perfect_frame_gives_its_own_line(void **state)
{
    (void)state;
    const double force[] = {0, 100, 200, 400}, draw[] = {0.25, 0.2505, 0.251, 0.252};
    struct give give;
    check_ok(give_fit(force, draw, 4, &give, &err));
    check_near(give.give_m_per_n, 5e-6, 1e-18);
    check_near(give.residual_sd_m, 0, 1e-15);
    check_near(give.curved_m, 0, 1e-15);
}

static void two_forces_say_nothing_of_a_curve(void **state)
{
    (void)state;
    const double force[] = {0, 300, 0, 300}, draw[] = {0.25, 0.2515, 0.2501, 0.2516};
    struct give give;
    check_ok(give_fit(force, draw, 4, &give, &err));
    check_near(give.give_m_per_n, 5e-6, 1e-15);
    check_near(give.curved_m, 0, 0);
}

static void what_one_reading_is_off_by_does_not_average_out(void **state)
{
    (void)state;
    const struct give give = {.u_give_m_per_n = 3e-8, .residual_sd_m = 4e-6};
    check_near(give_u_m(&give, 100), 5e-6, 1e-18);
}

static void check_refused(const double *force, const double *draw, size_t n, enum status status,
                          const char *part)
{
    struct give give;
    assert_int_equal(give_fit(force, draw, n, &give, &err), status);
    if (strstr(err.text, part) == NULL)
        fail_msg("'%s' is not in: %s", part, err.text);
}

static void what_is_no_line_is_refused(void **state)
{
    (void)state;
    const double rising[] = {0, 100, 200}, same[] = {50, 50, 50}, draw[] = {0.25, 0.2505, 0.251},
                 falling[] = {0.25, 0.2495, 0.249};
    check_refused(rising, draw, 2, STATUS_TOO_FEW, "too few");
    check_refused(same, draw, 3, STATUS_BAD_INPUT, "one force");
    check_refused(rising, falling, 3, STATUS_BAD_INPUT, "falls");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_line_is_that_of_numpy),
        cmocka_unit_test(a_perfect_frame_gives_its_own_line),
        cmocka_unit_test(two_forces_say_nothing_of_a_curve),
        cmocka_unit_test(what_one_reading_is_off_by_does_not_average_out),
        cmocka_unit_test(what_is_no_line_is_refused),
    };
    return cmocka_run_group_tests_name("give", tests, NULL, NULL);
}
