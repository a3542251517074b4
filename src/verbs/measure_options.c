#include "verbs/measure_options.h"

#include "base/number.h"

#include <string.h>
#include <strings.h>

#define DRAW_LOW_M 0.1
#define DRAW_HIGH_M 2.0
#define BAND_HIGH_N 1000.0

static enum status read_full_draw(const struct options *options, struct measure_settings *settings,
                                  struct err *err)
{
    static const enum full_draw_rule rules[] = {FULL_DRAW_VALLEY, FULL_DRAW_WALL,
                                                FULL_DRAW_LARGEST};
    const char *text = options_text(options, "full-draw", NULL);
    for (size_t i = 0; text != NULL && i < sizeof rules / sizeof rules[0]; i++) {
        if (strcasecmp(text, full_draw_rule_name(rules[i])) == 0) {
            settings->full_draw = rules[i];
            return STATUS_OK;
        }
    }
    double ata_m, ignored;
    enum status status = options_quantity(options, "full-draw", QUANTITY_LENGTH, UNIT_IN,
                                          DRAW_LOW_M, DRAW_HIGH_M, 0, &ata_m, err);
    if (status != STATUS_OK && number_scan(text, text + strlen(text), '.', &ignored) == NULL)
        return err_set(err, STATUS_USAGE,
                       "--full-draw: '%s' is neither valley, wall nor largest, nor a draw length "
                       "such as 29 in",
                       text);
    if (status == STATUS_OK && text != NULL) {
        settings->full_draw = FULL_DRAW_STATED;
        settings->full_draw_m = ata_m - ATA_AXIS_OFFSET_M;
    }
    return status;
}

static enum status read_lag(const struct options *options, struct measure_settings *settings,
                            struct err *err)
{
    const char *text = options_text(options, "lag", lag_rule_name(settings->lag));
    settings->lag = strcasecmp(text, lag_rule_name(LAG_OFF)) == 0 ? LAG_OFF : LAG_FIND;
    if (strcasecmp(text, lag_rule_name(settings->lag)) != 0)
        return err_set(err, STATUS_USAGE, "--lag: '%s' is neither find nor off", text);
    return STATUS_OK;
}

enum status measure_options_read(const struct options *options, struct measure_settings *settings,
                                 enum unit_system *units, struct err *err)
{
    const char *system = options_text(options, "units", "trade");
    *settings = measure_defaults();
    settings->smooth = !options_has(options, "as-is");
    if (!unit_system_parse(system, units))
        return err_set(err, STATUS_USAGE, "--units: '%s' is neither trade nor si", system);
    enum status status = read_full_draw(options, settings, err);
    if (status == STATUS_OK)
        status = read_lag(options, settings, err);
    if (status == STATUS_OK)
        status = options_quantity(options, "valley-band", QUANTITY_FORCE, UNIT_LBF, 0, BAND_HIGH_N,
                                  settings->valley_band_n, &settings->valley_band_n, err);
    return status;
}
