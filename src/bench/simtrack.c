#include "bench/simtrack.h"
#include "base/mem.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_interp.h>
#include <gsl/gsl_spline.h>
#include <math.h>
#include <stdlib.h>

struct simtrack {
    /* table: n > 0 */
    size_t n;
    double *normal_rad;
    double *lever_m;
    double *curvature_m; /* p'' at the entries */
    double *wound_m;     /* integral of p from the first entry */
    double wound_zero_m; /* what that integral is at direction 0 */
    /* circle: n == 0 */
    double radius_m, eccentricity_m, toward_rad;
    bool has_end;
    double end_rad;
    double end_x_m, end_y_m; /* where the cord is made fast, in the cam's frame */
};

static const double degree = M_PI / 180.0;

/* The cubic between entries i and i + 1, its integral counted from entry i. */
static struct simtrack_point between(const struct simtrack *track, size_t i, double normal_rad)
{
    double h = track->normal_rad[i + 1] - track->normal_rad[i];
    double b = (normal_rad - track->normal_rad[i]) / h, a = 1.0 - b;
    double p0 = track->lever_m[i], p1 = track->lever_m[i + 1];
    double m0 = track->curvature_m[i] * h * h / 6.0, m1 = track->curvature_m[i + 1] * h * h / 6.0;
    double aa = a * a, bb = b * b;
    return (struct simtrack_point){
        .lever_m = a * p0 + b * p1 + (aa * a - a) * m0 + (bb * b - b) * m1,
        .slope_m = (p1 - p0 - (3.0 * aa - 1.0) * m0 + (3.0 * bb - 1.0) * m1) / h,
        .curvature_m = a * track->curvature_m[i] + b * track->curvature_m[i + 1],
        .wound_m =
            h * ((1.0 - aa) * p0 / 2.0 + bb * p1 / 2.0 +
                 ((1.0 - aa * aa) / 4.0 - (1.0 - aa) / 2.0) * m0 + (bb * bb / 4.0 - bb / 2.0) * m1),
    };
}

static struct simtrack_point straight_on(struct simtrack_point end, double further_rad)
{
    end.wound_m += further_rad * (end.lever_m + end.slope_m * further_rad / 2.0);
    end.lever_m += end.slope_m * further_rad;
    end.curvature_m = 0.0;
    return end;
}

static struct simtrack_point in_table(const struct simtrack *track, double normal_rad)
{
    size_t last = track->n - 1;
    double first_rad = track->normal_rad[0], last_rad = track->normal_rad[last];
    double inside_rad = fmin(fmax(normal_rad, first_rad), last_rad);
    size_t i = gsl_interp_bsearch(track->normal_rad, inside_rad, 0, last);
    struct simtrack_point point = between(track, i, inside_rad);
    point.wound_m += track->wound_m[i];
    if (inside_rad < normal_rad || inside_rad > normal_rad)
        point = straight_on(point, normal_rad - inside_rad);
    point.wound_m -= track->wound_zero_m;
    return point;
}

static struct simtrack_point on_circle(const struct simtrack *track, double normal_rad)
{
    double from_rad = normal_rad - track->toward_rad;
    double along_m = track->eccentricity_m * cos(from_rad);
    double across_m = track->eccentricity_m * sin(from_rad);
    return (struct simtrack_point){
        .lever_m = track->radius_m + along_m,
        .slope_m = -across_m,
        .curvature_m = -along_m,
        .wound_m = track->radius_m * normal_rad + across_m +
                   track->eccentricity_m * sin(track->toward_rad),
    };
}

/* Beyond its end the cord hangs from one point, whose support function is its distance along n. */
static struct simtrack_point from_end(const struct simtrack *track, double normal_rad)
{
    double x_m = track->end_x_m, y_m = track->end_y_m;
    double c = cos(normal_rad), s = sin(normal_rad);
    double wound_end_m = x_m * sin(track->end_rad) - y_m * cos(track->end_rad);
    return (struct simtrack_point){
        .lever_m = x_m * c + y_m * s,
        .slope_m = -x_m * s + y_m * c,
        .curvature_m = -x_m * c - y_m * s,
        .wound_m = on_circle(track, track->end_rad).wound_m + x_m * s - y_m * c - wound_end_m,
    };
}

struct simtrack_point simtrack_at(const struct simtrack *track, double normal_rad)
{
    if (track->n > 0)
        return in_table(track, normal_rad);
    if (track->has_end && normal_rad > track->end_rad)
        return from_end(track, normal_rad);
    return on_circle(track, normal_rad);
}

bool simtrack_covers(const struct simtrack *track, double normal_rad)
{
    return track->n == 0 ||
           (normal_rad >= track->normal_rad[0] && normal_rad <= track->normal_rad[track->n - 1]);
}

static enum status check_table(const double *normal_rad, const double *lever_m, size_t n,
                               struct err *err)
{
    if (n < SIMTRACK_TABLE_MIN)
        return err_set(err, STATUS_BAD_INPUT, "a track needs at least %d entries, not %zu",
                       SIMTRACK_TABLE_MIN, n);
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(normal_rad[i]) || (i > 0 && normal_rad[i] <= normal_rad[i - 1]))
            return err_set(err, STATUS_BAD_INPUT,
                           "the directions of a track must rise; entry %zu does not", i + 1);
        if (!(lever_m[i] > 0.0) || !isfinite(lever_m[i]))
            return err_set(err, STATUS_BAD_INPUT,
                           "the lever arms of a track must be above zero; entry %zu is not", i + 1);
    }
    return STATUS_OK;
}

/* p'' at the entries of the natural spline, from the library. */
static enum status fit_spline(struct simtrack *track, struct err *err)
{
    gsl_spline *spline = gsl_spline_alloc(gsl_interp_cspline, track->n);
    if (spline == NULL)
        return err_set(err, STATUS_INTERNAL, "no spline of %zu entries could be made", track->n);
    int code = gsl_spline_init(spline, track->normal_rad, track->lever_m, track->n);
    for (size_t i = 0; i < track->n && code == GSL_SUCCESS; i++)
        code = gsl_spline_eval_deriv2_e(spline, track->normal_rad[i], NULL, &track->curvature_m[i]);
    gsl_spline_free(spline);
    if (code != GSL_SUCCESS)
        return err_set(err, STATUS_INTERNAL, "the spline of a track failed: %s",
                       gsl_strerror(code));
    return STATUS_OK;
}

static enum status check_round(const struct simtrack *track, struct err *err)
{
    for (size_t i = 0; i + 1 < track->n; i++)
        for (int part = 0; part <= 32; part++) {
            double h_rad = track->normal_rad[i + 1] - track->normal_rad[i];
            double at_rad = track->normal_rad[i] + h_rad * part / 32.0;
            struct simtrack_point point = between(track, i, at_rad);
            if (point.lever_m + point.curvature_m < 0.0)
                return err_set(err, STATUS_BAD_INPUT,
                               "the track is hollow near %.1f degrees: a cord would not lie on it",
                               at_rad / degree);
        }
    return STATUS_OK;
}

enum status simtrack_open_table(struct simtrack **out, const double *normal_rad,
                                const double *lever_m, size_t n, struct err *err)
{
    *out = NULL;
    enum status status = check_table(normal_rad, lever_m, n, err);
    if (status != STATUS_OK)
        return status;
    struct simtrack *track = mem_calloc(1, sizeof *track);
    track->n = n;
    track->normal_rad = mem_calloc(n, sizeof *track->normal_rad);
    track->lever_m = mem_calloc(n, sizeof *track->lever_m);
    track->curvature_m = mem_calloc(n, sizeof *track->curvature_m);
    track->wound_m = mem_calloc(n, sizeof *track->wound_m);
    for (size_t i = 0; i < n; i++) {
        track->normal_rad[i] = normal_rad[i];
        track->lever_m[i] = lever_m[i];
    }
    status = fit_spline(track, err);
    if (status == STATUS_OK)
        status = check_round(track, err);
    if (status != STATUS_OK) {
        simtrack_close(track);
        return status;
    }
    for (size_t i = 0; i + 1 < n; i++)
        track->wound_m[i + 1] =
            track->wound_m[i] + between(track, i, track->normal_rad[i + 1]).wound_m;
    track->wound_zero_m = in_table(track, 0.0).wound_m;
    *out = track;
    return STATUS_OK;
}

enum status simtrack_open_circle(struct simtrack **out, double radius_m, double eccentricity_m,
                                 double toward_rad, bool has_end, double end_rad, struct err *err)
{
    *out = NULL;
    if (!(radius_m > 0.0) || !(eccentricity_m >= 0.0) || !(eccentricity_m <= radius_m))
        return err_set(err, STATUS_BAD_INPUT,
                       "a round track needs a radius above zero and an eccentricity from zero to "
                       "the radius");
    struct simtrack *track = mem_calloc(1, sizeof *track);
    track->radius_m = radius_m;
    track->eccentricity_m = eccentricity_m;
    track->toward_rad = toward_rad;
    track->has_end = has_end;
    track->end_rad = end_rad;
    struct simtrack_point end = on_circle(track, end_rad);
    track->end_x_m = end.lever_m * cos(end_rad) - end.slope_m * sin(end_rad);
    track->end_y_m = end.lever_m * sin(end_rad) + end.slope_m * cos(end_rad);
    *out = track;
    return STATUS_OK;
}

void simtrack_close(struct simtrack *track)
{
    if (track == NULL)
        return;
    free(track->normal_rad);
    free(track->lever_m);
    free(track->curvature_m);
    free(track->wound_m);
    free(track);
}
