/*
 * simulate_output: what `simulate` prints when it does not serve a port.
 */
#ifndef PULLCURVE_VERBS_SIMULATE_OUTPUT_H
#define PULLCURVE_VERBS_SIMULATE_OUTPUT_H

#include "base/buf.h"
#include "base/status.h"
#include "bench/simbench.h"
#include "bench/simbow.h"
#include "bench/simrig.h"

#include <stdbool.h>
#include <stdint.h>

/* One capture as a table file: notes, header draw_in,force_lbf,time_s, a row a reading. Without
 * noise_free the values are what the converters show, read with their nominal constants.
 * Errors: those of simrig_at. */
enum status simulate_csv(struct buf *out, const struct simbow *bow, struct simrig *rig,
                         struct simbench *bench, const struct simbench_settings *settings,
                         bool noise_free, struct err *err);

/* The true figures as JSON, in trade units or SI. Errors: those of simtruth_find. */
enum status simulate_truth(struct buf *out, const struct simbow *bow, double press_n, bool si,
                           struct err *err);

/* What the converters show for known loads or lengths, to calibrate with: two series up and down.
 */
void simulate_known_loads(struct buf *out, struct simbench *bench,
                          const struct simbench_channel *force);
void simulate_known_lengths(struct buf *out, struct simbench *bench,
                            const struct simbench_channel *travel);

#endif
