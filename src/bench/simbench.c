#include "bench/simbench.h"
#include "base/mem.h"
#include "base/units.h"

#include <assert.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* When a fault that begins at a draw position began. */
struct onset {
    bool begun;
    double time_s;
};

struct simbench {
    struct simbench_settings settings;
    gsl_rng *noise, *mischief; /* apart, so that a fault leaves the noise as it is */
    uint16_t sequence;
    struct onset onset[SIMBENCH_FAULTS_MAX];
};

enum { GARBAGE_MAX = 40 };

struct simbench_settings simbench_defaults(void)
{
    return (struct simbench_settings){
        .force = {.zero_count = 41000.0,
                  .counts_per_si = 3700.0,
                  .count_min = -8388608,
                  .count_max = 8388607,
                  .noise_si = unit_to_si(UNIT_LBF, 0.05)},
        .travel = {.zero_count = 1200.0,
                   .counts_per_si = 40000.0,
                   .count_min = -8388608,
                   .count_max = 8388607,
                   .noise_si = unit_to_si(UNIT_IN, 0.002)},
        .seed = 1,
        .rate_hz = 80.0,
        .clock_ppm = 35.0,
    };
}

static gsl_rng *new_generator(uint64_t seed)
{
    gsl_rng *generator = gsl_rng_alloc(gsl_rng_mt19937);
    if (generator == NULL)
        mem_exhausted();
    gsl_rng_set(generator, (unsigned long)seed);
    return generator;
}

enum status simbench_open(struct simbench **out, const struct simbench_settings *settings,
                          struct err *err)
{
    *out = NULL;
    assert(settings->n_faults <= SIMBENCH_FAULTS_MAX);
    if (!(settings->rate_hz >= 0.1 && settings->rate_hz <= 1e5))
        return err_set(err, STATUS_USAGE, "a rate must be from 0.1 to 100000 readings a second");
    if (!(settings->force.noise_si >= 0.0) || !(settings->travel.noise_si >= 0.0) ||
        !isfinite(settings->force.noise_si + settings->travel.noise_si))
        return err_set(err, STATUS_USAGE, "a noise must be zero or more");
    struct simbench *bench = mem_calloc(1, sizeof *bench);
    bench->settings = *settings;
    bench->noise = new_generator(settings->seed);
    bench->mischief = new_generator(settings->seed ^ 0x5bd1e995u);
    *out = bench;
    return STATUS_OK;
}

void simbench_close(struct simbench *bench)
{
    if (bench == NULL)
        return;
    gsl_rng_free(bench->noise);
    gsl_rng_free(bench->mischief);
    free(bench);
}

double simbench_time_s(const struct simbench *bench, uint64_t k)
{
    return (double)k / bench->settings.rate_hz;
}

static int32_t convert(struct simbench *bench, const struct simbench_channel *channel,
                       double value_si)
{
    double noise_si = channel->noise_si * gsl_ran_gaussian_ziggurat(bench->noise, 1.0);
    double count = rint(channel->zero_count + channel->counts_per_si * (value_si + noise_si));
    return (int32_t)fmin(fmax(count, channel->count_min), channel->count_max);
}

static void begin_faults(struct simbench *bench, double time_s, double draw_m)
{
    for (size_t i = 0; i < bench->settings.n_faults; i++) {
        const struct simfault *fault = &bench->settings.faults[i];
        if (fault->kind != SIMFAULT_SILENCE && fault->kind != SIMFAULT_HANG_UP)
            continue;
        if (!bench->onset[i].begun && draw_m >= unit_to_si(UNIT_IN, fault->first))
            bench->onset[i] = (struct onset){.begun = true, .time_s = time_s};
    }
}

/* Is a fault of this kind, which goes on for a while, on? */
static bool goes_on(const struct simbench *bench, enum simfault_kind kind, double time_s)
{
    for (size_t i = 0; i < bench->settings.n_faults; i++) {
        const struct simfault *fault = &bench->settings.faults[i];
        if (fault->kind != kind || !bench->onset[i].begun)
            continue;
        if (!(fault->second > 0.0) || time_s < bench->onset[i].time_s + fault->second)
            return true;
    }
    return false;
}

bool simbench_is_silent(const struct simbench *bench, double time_s)
{
    return goes_on(bench, SIMFAULT_SILENCE, time_s);
}

bool simbench_is_gone(const struct simbench *bench, double time_s)
{
    return goes_on(bench, SIMFAULT_HANG_UP, time_s);
}

void simbench_read(struct simbench *bench, double time_s, double draw_m, double force_n,
                   struct wire_line *line)
{
    const struct simbench_settings *set = &bench->settings;
    begin_faults(bench, time_s, draw_m);
    double device_us = rint(time_s * (1.0 + set->clock_ppm * 1e-6) * 1e6);
    line->sequence = bench->sequence++;
    line->device_us = (uint32_t)(uint64_t)fmax(0.0, device_us);
    line->force_count = convert(bench, &set->force, force_n);
    line->travel_count = convert(bench, &set->travel, draw_m);
    for (size_t i = 0; i < set->n_faults; i++)
        if (set->faults[i].kind == SIMFAULT_SATURATION &&
            force_n >= unit_to_si(UNIT_LBF, set->faults[i].first))
            line->force_count = set->force.count_max;
}

/* Does a fault of this kind, which has a chance at each line, hit this one? */
static bool strikes(struct simbench *bench, enum simfault_kind kind)
{
    bool struck = false;
    for (size_t i = 0; i < bench->settings.n_faults; i++)
        if (bench->settings.faults[i].kind == kind)
            struck = gsl_rng_uniform(bench->mischief) < bench->settings.faults[i].first || struck;
    return struck;
}

static void add_garbage(struct simbench *bench, struct buf *out)
{
    unsigned long n = 1 + gsl_rng_uniform_int(bench->mischief, GARBAGE_MAX);
    for (unsigned long i = 0; i < n; i++)
        buf_char(out, (char)gsl_rng_uniform_int(bench->mischief, 256));
}

void simbench_send(struct simbench *bench, const struct wire_line *line, struct buf *out)
{
    char text[WIRE_LINE_MAX];
    size_t length = wire_encode(line, text);
    if (strikes(bench, SIMFAULT_GARBAGE))
        add_garbage(bench, out);
    if (strikes(bench, SIMFAULT_GAPS))
        return;
    if (strikes(bench, SIMFAULT_CHECKSUM)) {
        char *digit = strrchr(text, '*') + 1;
        *digit = *digit == '0' ? '1' : '0';
    }
    if (strikes(bench, SIMFAULT_FLIP)) {
        unsigned long at = gsl_rng_uniform_int(bench->mischief, length);
        text[at] = (char)(text[at] ^ (1 << gsl_rng_uniform_int(bench->mischief, 8)));
    }
    buf_add(out, text, length);
}

double simbench_value_si(const struct simbench_channel *channel, double count)
{
    return (count - channel->zero_count) / channel->counts_per_si;
}

double simbench_mean_count(struct simbench *bench, const struct simbench_channel *channel,
                           double value_si, int n)
{
    assert(n > 0);
    double sum = 0.0;
    for (int i = 0; i < n; i++)
        sum += convert(bench, channel, value_si);
    return sum / n;
}
