/*
 * simbench: the converters and the controller of the simulated bench: from draw position and force
 * to counts, lines and bytes, with noise and faults.
 *
 *   count = zero + counts_per_si * (value + noise), rounded, held within the converter's range
 *
 * The same seed gives the same bytes. Not for: where draw and force come from (bench/simrig.h), the
 * port (bench/simpty.h). No clock, no files.
 */
#ifndef PULLCURVE_BENCH_SIMBENCH_H
#define PULLCURVE_BENCH_SIMBENCH_H

#include "base/buf.h"
#include "base/status.h"
#include "bench/simfault.h"
#include "bench/wire.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { SIMBENCH_FAULTS_MAX = 16 };

/* One converter, as its maker would state it. */
struct simbench_channel {
    double zero_count;    /* at 0 N; at the grip pivot point */
    double counts_per_si; /* per N; per m */
    int32_t count_min, count_max;
    double noise_si; /* standard deviation of a reading */
};

struct simbench_settings {
    struct simbench_channel force, travel;
    uint64_t seed;
    double rate_hz;
    double clock_ppm; /* how much the controller's clock runs fast */
    size_t n_faults;
    struct simfault faults[SIMBENCH_FAULTS_MAX];
};

struct simbench;

/* A 24-bit load cell converter: zero 41000, 3700 counts/N (full scale about 510 lbf), noise
 * 0.05 lbf. An encoder: zero 1200, 40000 counts/m (0.001 in), noise 0.002 in. 80 readings a
 * second, clock 35 ppm fast, seed 1, no faults. */
struct simbench_settings simbench_defaults(void);

/* Errors: STATUS_USAGE (rate outside of 0.1..100000 Hz, noise below zero or not finite).
 * *bench is NULL on failure. Caller ends it with simbench_close. */
enum status simbench_open(struct simbench **bench, const struct simbench_settings *settings,
                          struct err *err);

/* Releases it; NULL is allowed. */
void simbench_close(struct simbench *bench);

/* The time of reading k. */
double simbench_time_s(const struct simbench *bench, uint64_t k);

/* Takes the next reading, at time_s since the controller began. Sequence and clock go on and
 * wrap. Faults that begin at a draw position begin here. */
void simbench_read(struct simbench *bench, double time_s, double draw_m, double force_n,
                   struct wire_line *line);

/* Adds the bytes that the controller sends for a reading to *out; none where the line is lost. */
void simbench_send(struct simbench *bench, const struct wire_line *line, struct buf *out);

/* Does the controller keep silent, is its port gone, at this time? */
bool simbench_is_silent(const struct simbench *bench, double time_s);
bool simbench_is_gone(const struct simbench *bench, double time_s);

/* What a count means with the nominal constants, in N or m. */
double simbench_value_si(const struct simbench_channel *channel, double count);

/* The mean count of n readings of a value that stays, as a calibration takes them; n > 0. */
double simbench_mean_count(struct simbench *bench, const struct simbench_channel *channel,
                           double value_si, int n);

#endif
