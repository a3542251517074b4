#include "verbs/simulate_output.h"
#include "base/number.h"
#include "base/units.h"
#include "bench/simtruth.h"
#include "show/escape.h"
#include "show/json.h"

#include <jansson.h>

/* A known load is read for a second at the usual rate. */
enum { READINGS_EACH = 80, SERIES = 2 };

static const int decimals = 6; /* of a noisy value; a count is about 0.001 lbf and 0.001 in */

static void add_notes(struct buf *out, const struct simbow *bow,
                      const struct simbench_settings *settings, bool noise_free)
{
    char text[NUMBER_TEXT_MAX];
    buf_text(out, "# source: simulated bench\n# bow: ");
    escape_terminal(out, simbow_name(bow));
    buf_printf(out, "\n# axis: pivot\n# seed: %llu\n", (unsigned long long)settings->seed);
    buf_printf(out, "# rate_hz: %s\n", number_exact(text, settings->rate_hz));
    if (noise_free) {
        buf_text(out, "# noise: none\n");
        return;
    }
    double force_lbf = unit_from_si(UNIT_LBF, settings->force.noise_si);
    double travel_in = unit_from_si(UNIT_IN, settings->travel.noise_si);
    buf_printf(out, "# noise_force_lbf: %s\n", number_fixed(text, force_lbf, decimals));
    buf_printf(out, "# noise_travel_in: %s\n", number_fixed(text, travel_in, decimals));
}

static void add_row(struct buf *out, double draw_m, double force_n, double time_s, bool noise_free)
{
    char draw[NUMBER_TEXT_MAX], force[NUMBER_TEXT_MAX], time[NUMBER_TEXT_MAX];
    double draw_in = unit_from_si(UNIT_IN, draw_m), force_lbf = unit_from_si(UNIT_LBF, force_n);
    if (noise_free) {
        buf_printf(out, "%s,%s,%s\n", number_exact(draw, draw_in), number_exact(force, force_lbf),
                   number_exact(time, time_s));
        return;
    }
    buf_printf(out, "%s,%s,%s\n", number_fixed(draw, draw_in, decimals),
               number_fixed(force, force_lbf, decimals), number_fixed(time, time_s, decimals));
}

enum status simulate_csv(struct buf *out, const struct simbow *bow, struct simrig *rig,
                         struct simbench *bench, const struct simbench_settings *settings,
                         bool noise_free, struct err *err)
{
    add_notes(out, bow, settings, noise_free);
    buf_text(out, "draw_in,force_lbf,time_s\n");
    for (uint64_t k = 0; simbench_time_s(bench, k) <= simrig_duration_s(rig); k++) {
        double time_s = simbench_time_s(bench, k), draw_m, force_n;
        enum status status = simrig_at(rig, time_s, &draw_m, &force_n, err);
        if (status != STATUS_OK)
            return status;
        struct wire_line line;
        simbench_read(bench, time_s, draw_m, force_n, &line);
        if (!noise_free) {
            draw_m = simbench_value_si(&settings->travel, line.travel_count);
            force_n = simbench_value_si(&settings->force, line.force_count);
        }
        add_row(out, draw_m, force_n, time_s, noise_free);
    }
    return STATUS_OK;
}

static json_t *figure(const struct simtruth *truth, enum simtruth_id id, bool si)
{
    const struct simtruth_info *info = simtruth_info(id);
    enum unit unit = si ? info->si_unit : info->trade_unit;
    json_t *object = json_object();
    json_put(object, "value",
             json_number_or_null(truth->present[id], unit_from_si(unit, truth->value_si[id])));
    json_put(object, "unit", json_text(unit_name(unit)));
    return object;
}

enum status simulate_truth(struct buf *out, const struct simbow *bow, double press_n, bool si,
                           struct err *err)
{
    struct simtruth truth;
    enum status status = simtruth_find(bow, press_n, &truth, err);
    if (status != STATUS_OK)
        return status;
    json_t *tree = json_object(), *figures = json_object();
    for (int id = 0; id < SIMTRUTH_COUNT; id++)
        json_put(figures, simtruth_info((enum simtruth_id)id)->name,
                 figure(&truth, (enum simtruth_id)id, si));
    json_put(tree, "schema", json_integer(1));
    json_put(tree, "bow", json_text(simbow_name(bow)));
    json_put(tree, "figures", figures);
    json_render(out, tree);
    json_decref(tree);
    return STATUS_OK;
}

/* From the lowest value to the highest and back, in equal steps. */
struct ladder {
    double low, step;
    int n;
    enum unit unit;
};

static void add_series(struct buf *out, struct simbench *bench,
                       const struct simbench_channel *channel, const struct ladder *ladder)
{
    for (int run = 1; run <= SERIES; run++)
        for (int i = 0; i < 2 * ladder->n; i++) {
            bool decreasing = i >= ladder->n;
            int rung = decreasing ? 2 * ladder->n - 1 - i : i;
            double value = ladder->low + ladder->step * rung;
            double count =
                simbench_mean_count(bench, channel, unit_to_si(ladder->unit, value), READINGS_EACH);
            char known[NUMBER_TEXT_MAX], shown[NUMBER_TEXT_MAX];
            buf_printf(out, "%s,%s,%d,%s\n", number_exact(known, value),
                       number_fixed(shown, count, 2), run,
                       decreasing ? "decreasing" : "increasing");
        }
}

void simulate_known_loads(struct buf *out, struct simbench *bench,
                          const struct simbench_channel *force)
{
    buf_text(out, "load_lbf,count,run,direction\n");
    add_series(out, bench, force, &(struct ladder){.step = 10.0, .n = 13, .unit = UNIT_LBF});
}

void simulate_known_lengths(struct buf *out, struct simbench *bench,
                            const struct simbench_channel *travel)
{
    buf_text(out, "length_in,count,run,direction\n");
    add_series(out, bench, travel,
               &(struct ladder){.low = 4.0, .step = 4.0, .n = 8, .unit = UNIT_IN});
}
