#include "curve/give.h"

#include <gsl/gsl_fit.h>
#include <math.h>

/* The readings with their residuals about the line. */
struct line {
    const double *force_n, *draw_m;
    size_t n;
    double slope, offset, middle_n;
};

static double residual_m(const struct line *line, size_t i)
{
    return line->draw_m[i] - line->offset - line->slope * line->force_n[i];
}

static void find_range(const double *force_n, size_t n, struct give *give)
{
    give->force_low_n = give->force_high_n = force_n[0];
    for (size_t i = 1; i < n; i++) {
        give->force_low_n = fmin(give->force_low_n, force_n[i]);
        give->force_high_n = fmax(give->force_high_n, force_n[i]);
    }
}

static void find_largest(const struct line *line, struct give *give)
{
    for (size_t i = 0; i < line->n; i++) {
        double miss_m = residual_m(line, i);
        if (fabs(miss_m) > fabs(give->largest_residual_m)) {
            give->largest_residual_m = miss_m;
            give->largest_at_n = line->force_n[i];
        }
    }
}

/* v^2 less its own line, v = (force - middle)/half: what a parabola has beyond a line. */
struct parabola {
    double mean, slope, half_n;
};

static double parabola_value(const struct parabola *parabola, const struct line *line,
                             double force_n)
{
    double v = (force_n - line->middle_n) / parabola->half_n;
    return v * v - parabola->mean - parabola->slope * v;
}

/* The residuals about the line are orthogonal to 1 and v, so one projection gives the parabola. */
static double curved_m(const struct line *line, double low_n, double high_n)
{
    struct parabola parabola = {.half_n = 0.5 * (high_n - low_n)};
    double v_mean = 0, vv = 0, v2 = 0, v2v = 0, count = (double)line->n;
    for (size_t i = 0; i < line->n; i++) {
        double v = (line->force_n[i] - line->middle_n) / parabola.half_n;
        v_mean += v / count;
        v2 += v * v / count;
    }
    for (size_t i = 0; i < line->n; i++) {
        double v = (line->force_n[i] - line->middle_n) / parabola.half_n;
        vv += (v - v_mean) * (v - v_mean);
        v2v += (v - v_mean) * (v * v - v2);
    }
    parabola.slope = v2v / vv;
    parabola.mean = v2 - parabola.slope * v_mean;
    double square = 0, product = 0;
    for (size_t i = 0; i < line->n; i++) {
        double b = parabola_value(&parabola, line, line->force_n[i]);
        square += b * b;
        product += b * residual_m(line, i);
    }
    if (!(square > 1e-9 * count))
        return 0; /* two forces alone */
    double most = fmax(fabs(parabola_value(&parabola, line, low_n)),
                       fabs(parabola_value(&parabola, line, high_n)));
    double lowest_n = line->middle_n + 0.5 * parabola.slope * parabola.half_n;
    return fabs(product / square) * fmax(most, fabs(parabola_value(&parabola, line, lowest_n)));
}

enum status give_fit(const double *force_n, const double *draw_m, size_t n, struct give *give,
                     struct err *err)
{
    *give = (struct give){.n = n};
    if (n < 3)
        return err_set(err, STATUS_TOO_FEW,
                       "%zu reading(s) are too few for a line; take three or "
                       "more, at forces over the whole range",
                       n);
    find_range(force_n, n, give);
    if (!(give->force_high_n > give->force_low_n))
        return err_set(err, STATUS_BAD_INPUT,
                       "all readings are at one force; take them at forces "
                       "over the whole range");
    double offset, slope, u00, u01, u11, squares;
    if (gsl_fit_linear(force_n, 1, draw_m, 1, n, &offset, &slope, &u00, &u01, &u11, &squares) != 0)
        return err_set(err, STATUS_INTERNAL, "the line can't be fitted");
    if (slope < 0)
        return err_set(err, STATUS_BAD_INPUT,
                       "the position falls while the force rises, so this is "
                       "not the give of a fixture; are the columns right?");
    const struct line line = {.force_n = force_n,
                              .draw_m = draw_m,
                              .n = n,
                              .slope = slope,
                              .offset = offset,
                              .middle_n = 0.5 * (give->force_low_n + give->force_high_n)};
    give->give_m_per_n = slope;
    give->offset_m = offset;
    give->u_give_m_per_n = sqrt(fmax(u11, 0));
    give->residual_sd_m = sqrt(squares / (double)(n - 2));
    find_largest(&line, give);
    give->curved_m = curved_m(&line, give->force_low_n, give->force_high_n);
    return STATUS_OK;
}

double give_u_m(const struct give *give, double force_n)
{
    return hypot(give->u_give_m_per_n * force_n, give->residual_sd_m);
}
