#include "curve/correct.h"
#include "base/mem.h"

#include <math.h>
#include <stdlib.h>

enum { REST_READINGS_MIN = 5 };

/* Zero of the force at a moment, from the readings at rest around it. */
struct zero {
    double at; /* index of the reading, a fraction */
    double force_n, u_n;
    size_t n;
};

static struct zero mean_zero(const struct readings *r, size_t first, size_t last)
{
    struct zero zero = {.n = 0};
    double squares = 0.0;
    for (size_t i = first; i <= last && i < r->n; i++) {
        double miss = r->force_n[i] - zero.force_n;
        zero.n++;
        zero.force_n += miss / (double)zero.n;
        zero.at += ((double)i - zero.at) / (double)zero.n;
        squares += miss * (r->force_n[i] - zero.force_n);
    }
    if (zero.n > 1)
        zero.u_n = sqrt(squares / (double)(zero.n - 1) / (double)zero.n);
    return zero;
}

/* Readings from `from` to `to` that lie at rest, but for the first and last that may be moving. */
static struct zero rest_zero(const struct readings *r, size_t from, size_t to)
{
    size_t room = to - from + 1, margin = room / 8;
    return mean_zero(r, from + margin, to - margin);
}

/* One zero before each pull and one after the last; those without enough readings have n 0. */
static struct zero *find_zeros(const struct readings *r, const struct sweeps *sweeps)
{
    struct zero *zeros = mem_calloc(sweeps->n + 1, sizeof *zeros);
    for (size_t k = 0; k < sweeps->n; k++)
        zeros[k] = rest_zero(r, sweeps->sweep[k].rest_first, sweeps->sweep[k].first);
    size_t last = sweeps->sweep[sweeps->n - 1].last;
    if (last + 1 < r->n)
        zeros[sweeps->n] = rest_zero(r, last + 1, r->n - 1);
    size_t kept = 0;
    for (size_t k = 0; k <= sweeps->n; k++)
        if (zeros[k].n >= REST_READINGS_MIN)
            zeros[kept++] = zeros[k];
    for (size_t k = kept; k <= sweeps->n; k++)
        zeros[k].n = 0;
    return zeros;
}

static double zero_at(const struct zero *zeros, size_t n, bool drift, double at)
{
    if (n == 0)
        return 0.0;
    if (!drift || at <= zeros[0].at)
        return zeros[0].force_n;
    for (size_t k = 0; k + 1 < n; k++)
        if (at <= zeros[k + 1].at)
            return zeros[k].force_n + (zeros[k + 1].force_n - zeros[k].force_n) *
                                          (at - zeros[k].at) / (zeros[k + 1].at - zeros[k].at);
    return zeros[n - 1].force_n;
}

/* What the zero moved by, beyond what the scatter of the two means explains. */
static double drift_between(const struct zero *a, const struct zero *b)
{
    double change_n = b->force_n - a->force_n;
    return sqrt(fmax(change_n * change_n - a->u_n * a->u_n - b->u_n * b->u_n, 0.0));
}

void correct_readings(const struct readings *readings, const struct sweeps *sweeps,
                      const struct fixture *fixture, struct corrected *corrected)
{
    size_t n = readings->n, n_zeros = 0;
    *corrected = (struct corrected){.draw_m = mem_calloc(n, sizeof(double)),
                                    .force_n = mem_calloc(n, sizeof(double))};
    corrected->readings = (struct readings){.n = n,
                                            .draw_m = corrected->draw_m,
                                            .force_n = corrected->force_n,
                                            .time_s = readings->time_s};
    for (size_t i = 0; i < n; i++)
        corrected->force_n[i] = readings->force_n[i] * cos(fixture->angle_rad) - fixture->hook_n;
    struct zero *zeros = find_zeros(&corrected->readings, sweeps);
    while (n_zeros <= sweeps->n && zeros[n_zeros].n > 0)
        n_zeros++;
    corrected->zero_known = n_zeros > 0;
    if (n_zeros > 0) {
        corrected->zero_n = zeros[0].force_n;
        corrected->u_zero_n = zeros[0].u_n;
    }
    for (size_t k = 0; k + 1 < n_zeros; k++)
        corrected->drift_n = fmax(corrected->drift_n, drift_between(&zeros[k], &zeros[k + 1]));
    bool moves = fixture->drift && n_zeros > 1;
    for (size_t i = 0; i < n; i++) {
        double zero_n = zero_at(zeros, n_zeros, moves, (double)i);
        /* Drift without tare takes away the change since the first rest alone. */
        if (fixture->tare)
            corrected->force_n[i] -= zero_n;
        else if (moves)
            corrected->force_n[i] -= zero_n - zeros[0].force_n;
        corrected->draw_m[i] = readings->draw_m[i] - fixture->give_m_per_n * corrected->force_n[i];
    }
    free(zeros);
}

void corrected_clear(struct corrected *corrected)
{
    free(corrected->draw_m);
    free(corrected->force_n);
    *corrected = (struct corrected){.zero_known = false};
}

void correct_uncertainty(const struct fixture *fixture, const struct corrected *corrected,
                         struct uncertainty_inputs *inputs)
{
    double gain = tan(fixture->angle_rad) * fixture->u_angle_rad;
    /* An angle of zero that is not exactly zero shortens the force by half its square. */
    gain = hypot(gain, 0.5 * fixture->u_angle_rad * fixture->u_angle_rad);
    inputs->force.covariance[0][0] += fixture->u_hook_n * fixture->u_hook_n;
    inputs->force.covariance[1][1] += gain * gain;
    if (fixture->tare && corrected->zero_known) {
        for (size_t k = 0; k < 3; k++)
            inputs->force.covariance[0][k] = inputs->force.covariance[k][0] = 0.0;
        inputs->force.covariance[0][0] = corrected->u_zero_n * corrected->u_zero_n;
    }
    /* Of a drift that was taken away as a straight line a quarter may be left either way; one that
     * was not is all there: rectangular distributions. */
    double half_n = corrected->drift_n * (fixture->drift ? 0.25 : 1.0);
    inputs->u_drift_n = hypot(inputs->u_drift_n, half_n / sqrt(3.0));
    inputs->u_compliance_m_per_n = hypot(inputs->u_compliance_m_per_n, fixture->u_give_m_per_n);
}
