/* simulate: a bench without hardware: a simulated bow, a hand, converters and a serial port. */
#include "base/buf.h"
#include "base/mem.h"
#include "base/number.h"
#include "bench/simbench.h"
#include "bench/simbow.h"
#include "bench/simhand.h"
#include "bench/simrig.h"
#include "bench/simserve.h"
#include "bench/simtruth.h"
#include "verbs/options.h"
#include "verbs/simulate_output.h"
#include "verbs/stop.h"
#include "verbs/verb.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct option_spec spec[] = {
    {"pty", NULL, "serve a port: its path is printed, then runs until Ctrl-C"},
    {"csv", NULL, "print one capture as a table file"},
    {"truth", NULL, "print the true figures, from the model itself, as JSON"},
    {"known-loads", NULL, "print what the converter shows for known loads, to calibrate with"},
    {"known-lengths", NULL, "print what the encoder shows for known lengths"},
    {"bow", "FILE", "the bow file, or the name of one of ours, e.g. hunting_compound"},
    {"limb-bolt-turns", "N[,N]",
     "limb bolts, from bottomed (backed out is negative): both, or "
     "top and bottom (default 0)"},
    {"cam-setting", "LENGTH", "the cams' labelled draw length, ATA"},
    {"string-twists", "N", "twists added to the string (default 0)"},
    {"cable-twists", "N", "twists added to each cable (default 0)"},
    {"stop-top", "DEGREES", "the top draw stop lands so much cam angle later (default 0)"},
    {"stop-bottom", "DEGREES", "the same of the bottom one"},
    {"friction", "N", "friction, as a share of what the bow file says (default 1)"},
    {"pulls", "N", "how many pulls (default 1)"},
    {"press", "FORCE", "how hard the wall is pressed, above holding (default 20 lbf)"},
    {"draw-time", "TIME", "how long a draw takes (default 8 s)"},
    {"let-down-time", "TIME", "how long a let-down takes (default 7 s)"},
    {"hold-time", "TIME", "how long the largest draw is held (default 1.5 s)"},
    {"rest-time", "TIME", "how long the string rests before and after (default 1 s)"},
    {"unevenness", "N",
     "of the crank's speed: 0 even, 1 stands still between strokes, up to 1.5 "
     "(default 0.5)"},
    {"pauses", "N", "pauses in each draw (default 0)"},
    {"slip", "LENGTH", "the string slips back once in each draw (default 0)"},
    {"bounce", "LENGTH", "the string swings back from the wall (default 0)"},
    {"short-of", "LENGTH", "each pull turns round so far before the wall (default 0)"},
    {"seed", "N", "the same seed gives the same capture (default 1)"},
    {"rate", "HZ", "readings a second (default 80)"},
    {"noise-force", "FORCE", "standard deviation of a force reading (default 0.05 lbf)"},
    {"noise-travel", "LENGTH", "the same of a travel reading (default 0.002 in)"},
    {"noise-free", NULL, "no noise and no rounding to counts (with --csv)"},
    {"drift", "FORCE", "how far the load cell's zero drifts over the capture (default 0)"},
    {"fault", "NAME[:ARG]",
     "something that goes wrong (with --pty), may be repeated: "
     "garbage, gaps, flip, checksum, saturation, silence, hang-up"},
    {"speed-up", "N", "so much faster than life (with --pty, default 1)"},
    {"link", "PATH", "make a symbolic link to the port there (with --pty)"},
    {"hold-load", "FORCE", "a known weight instead of a bow (with --pty)"},
    {"hold-travel", "LENGTH", "a known length with it (with --pty, default 0)"},
    {"units", "si | trade", "of the true figures (default trade)"},
    {NULL, NULL, NULL},
};

static const char *const modes[] = {"pty", "csv", "truth", "known-loads", "known-lengths"};
enum { N_MODES = sizeof modes / sizeof modes[0] };

#ifdef PULLCURVE_DATADIR
#define INSTALLED_BOWS PULLCURVE_DATADIR "/bows"
#else
#define INSTALLED_BOWS NULL
#endif

/* All that the options say, in one place. */
struct plan {
    struct simbow_settings bow;
    struct simhand_settings hand;
    struct simbench_settings bench;
    double press_n, drift_n, speed_up;
    bool holds;
    double hold_n, hold_m;
};

/* A number option and where its value goes. */
struct number {
    const char *name;
    enum unit unit;
    double low, high; /* in unit */
    double *value_si; /* holds the default */
};

static enum status read_numbers(const struct options *options, const struct number *numbers,
                                size_t n, struct err *err)
{
    for (size_t i = 0; i < n; i++) {
        const struct number *number = &numbers[i];
        enum status status = options_quantity(options, number->name, unit_quantity(number->unit),
                                              number->unit, unit_to_si(number->unit, number->low),
                                              unit_to_si(number->unit, number->high),
                                              *number->value_si, number->value_si, err);
        if (status != STATUS_OK)
            return status;
    }
    return STATUS_OK;
}

/* "N" or "TOP,BOTTOM". */
static enum status read_bolts(const struct options *options, struct plan *plan, struct err *err)
{
    const char *text = options_text(options, "limb-bolt-turns", "0");
    const char *comma = strchr(text, ',');
    char *top = mem_strndup(text, comma != NULL ? (size_t)(comma - text) : strlen(text));
    bool good = number_parse(top, &plan->bow.bolt_turns_top) &&
                number_parse(comma != NULL ? comma + 1 : text, &plan->bow.bolt_turns_bottom);
    free(top);
    if (good)
        return STATUS_OK;
    return err_set(err, STATUS_USAGE,
                   "--limb-bolt-turns: '%s' is neither a number of turns nor two of them with a "
                   "comma between, top and bottom",
                   text);
}

static enum status read_bow_settings(const struct options *options, struct plan *plan,
                                     struct err *err)
{
    double top_deg = 0.0, bottom_deg = 0.0, degree = M_PI / 180.0;
    plan->bow = simbow_nominal();
    plan->bow.has_cam_setting = options_has(options, "cam-setting");
    const struct number numbers[] = {
        {"cam-setting", UNIT_IN, 10, 50, &plan->bow.cam_setting_m},
        {"string-twists", UNIT_NONE, -100, 100, &plan->bow.string_twists},
        {"cable-twists", UNIT_NONE, -100, 100, &plan->bow.cable_twists},
        {"stop-top", UNIT_NONE, -90, 90, &top_deg},
        {"stop-bottom", UNIT_NONE, -90, 90, &bottom_deg},
        {"friction", UNIT_NONE, 0, 5, &plan->bow.friction_scale},
    };
    enum status status = read_numbers(options, numbers, sizeof numbers / sizeof numbers[0], err);
    plan->bow.stop_top_rad = top_deg * degree;
    plan->bow.stop_bottom_rad = bottom_deg * degree;
    return status == STATUS_OK ? read_bolts(options, plan, err) : status;
}

static enum status read_hand(const struct options *options, struct plan *plan, struct err *err)
{
    plan->hand = simhand_defaults();
    plan->press_n = SIMTRUTH_PRESS_N;
    const struct number numbers[] = {
        {"press", UNIT_LBF, 0.1, 100, &plan->press_n},
        {"draw-time", UNIT_S, 0.1, 3600, &plan->hand.draw_s},
        {"let-down-time", UNIT_S, 0.1, 3600, &plan->hand.let_down_s},
        {"hold-time", UNIT_S, 0, 3600, &plan->hand.hold_s},
        {"rest-time", UNIT_S, 0, 3600, &plan->hand.rest_s},
        {"unevenness", UNIT_NONE, 0, 1.5, &plan->hand.unevenness},
        {"slip", UNIT_IN, 0, 6, &plan->hand.slip_m},
        {"bounce", UNIT_IN, 0, 1.5, &plan->hand.bounce_m},
        {"short-of", UNIT_IN, 0, 30, &plan->hand.short_of_m},
    };
    int64_t pulls, pauses;
    enum status status = read_numbers(options, numbers, sizeof numbers / sizeof numbers[0], err);
    if (status == STATUS_OK)
        status = options_int(options, "pulls", 0, 1000, plan->hand.n_pulls, &pulls, err);
    if (status == STATUS_OK)
        status = options_int(options, "pauses", 0, 50, plan->hand.n_pauses, &pauses, err);
    if (status != STATUS_OK)
        return status;
    plan->hand.n_pulls = (int)pulls;
    plan->hand.n_pauses = (int)pauses;
    return STATUS_OK;
}

static enum status read_faults(const struct options *options, struct plan *plan, struct err *err)
{
    size_t n = options_count(options, "fault");
    if (n > SIMBENCH_FAULTS_MAX)
        return err_set(err, STATUS_USAGE, "more than %d faults at once", SIMBENCH_FAULTS_MAX);
    for (size_t i = 0; i < n; i++) {
        enum status status =
            simfault_parse(options_nth(options, "fault", i), &plan->bench.faults[i], err);
        if (status != STATUS_OK)
            return status;
    }
    plan->bench.n_faults = n;
    return STATUS_OK;
}

static enum status read_bench(const struct options *options, struct plan *plan, struct err *err)
{
    plan->bench = simbench_defaults();
    plan->speed_up = 1.0;
    plan->holds = options_has(options, "hold-load") || options_has(options, "hold-travel");
    const struct number numbers[] = {
        {"rate", UNIT_NONE, 0.1, 1e5, &plan->bench.rate_hz},
        {"noise-force", UNIT_LBF, 0, 100, &plan->bench.force.noise_si},
        {"noise-travel", UNIT_IN, 0, 10, &plan->bench.travel.noise_si},
        {"drift", UNIT_LBF, -100, 100, &plan->drift_n},
        {"speed-up", UNIT_NONE, 0.01, 10000, &plan->speed_up},
        {"hold-load", UNIT_LBF, -1000, 1000, &plan->hold_n},
        {"hold-travel", UNIT_IN, -100, 100, &plan->hold_m},
    };
    enum status status = read_numbers(options, numbers, sizeof numbers / sizeof numbers[0], err);
    int64_t seed;
    if (status == STATUS_OK)
        status = options_int(options, "seed", 0, UINT32_MAX, 1, &seed, err);
    if (status != STATUS_OK)
        return status;
    plan->bench.seed = (uint64_t)seed;
    plan->hand.seed = (uint64_t)seed ^ 0x9e3779b9u; /* not the numbers of the noise again */
    return read_faults(options, plan, err);
}

/* Options that mean nothing in a mode are refused, so that nobody relies on them. */
static enum status check_mode(const struct options *options, struct err *err)
{
    static const char *const of_pty[] = {"link", "speed-up", "fault", "hold-load", "hold-travel"};
    int n = 0;
    for (int i = 0; i < N_MODES; i++)
        n += options_has(options, modes[i]) ? 1 : 0;
    if (n != 1)
        return err_set(err, STATUS_USAGE,
                       "one of --pty, --csv, --truth, --known-loads, --known-lengths is needed");
    for (size_t i = 0; i < sizeof of_pty / sizeof of_pty[0]; i++)
        if (options_has(options, of_pty[i]) && !options_has(options, "pty"))
            return err_set(err, STATUS_USAGE, "--%s goes with --pty only", of_pty[i]);
    if (options_has(options, "noise-free") && !options_has(options, "csv"))
        return err_set(err, STATUS_USAGE, "--noise-free goes with --csv only");
    const char *units = options_text(options, "units", "trade");
    if (strcmp(units, "si") != 0 && strcmp(units, "trade") != 0)
        return err_set(err, STATUS_USAGE, "--units is si or trade, not '%s'", units);
    return STATUS_OK;
}

/* folder/name.ini where that can be read, else NULL. Freed by the caller. */
static char *bow_in(const char *folder, const char *below, const char *name)
{
    if (folder == NULL || folder[0] == '\0')
        return NULL;
    struct buf path = {0};
    buf_printf(&path, "%s%s/%s.ini", folder, below, name);
    char *found = access(buf_string(&path), R_OK) == 0 ? mem_strdup(buf_string(&path)) : NULL;
    buf_clear(&path);
    return found;
}

/* A path, or the bare name of a bow of ours. */
static enum status find_bow(const char *name, char **path, struct err *err)
{
    if (strchr(name, '/') != NULL || access(name, F_OK) == 0) {
        *path = mem_strdup(name);
        return STATUS_OK;
    }
    *path = bow_in(getenv("PULLCURVE_DATA"), "/bows", name);
    if (*path == NULL)
        *path = bow_in("fixtures", "/bows", name);
    if (*path == NULL)
        *path = bow_in(INSTALLED_BOWS, "", name);
    if (*path != NULL)
        return STATUS_OK;
    return err_set(
        err, STATUS_NO_INPUT,
        "no bow '%s': neither a file nor %s.ini in $PULLCURVE_DATA/bows, fixtures/bows%s%s", name,
        name, INSTALLED_BOWS != NULL ? ", " : "", INSTALLED_BOWS != NULL ? INSTALLED_BOWS : "");
}

static enum status open_bow(const struct options *options, const struct plan *plan,
                            struct simbow **bow, struct err *err)
{
    *bow = NULL;
    const char *name = options_text(options, "bow", NULL);
    if (name == NULL)
        return err_set(err, STATUS_USAGE, "--bow is needed");
    char *path;
    enum status status = find_bow(name, &path, err);
    if (status != STATUS_OK)
        return status;
    status = simbow_open(bow, path, &plan->bow, err);
    free(path);
    return status;
}

static enum status announce(const char *path, void *context, struct err *err)
{
    (void)context;
    struct buf line = {0};
    buf_printf(&line, "%s\n", path);
    enum status status = buf_write_stdout(&line, err);
    buf_clear(&line);
    return status;
}

static enum status serve(const struct options *options, const struct plan *plan, struct simrig *rig,
                         struct simbench *bench, struct err *err)
{
    const struct simserve_settings settings = {.link = options_text(options, "link", NULL),
                                               .speed_up = plan->speed_up,
                                               .stop = stop_flag(),
                                               .announce = announce};
    stop_install();
    return simserve_run(rig, bench, &settings, err);
}

/* The modes that need a rig. */
static enum status run_rig(const struct options *options, const struct plan *plan,
                           const struct simbow *bow, struct simbench *bench, struct buf *out,
                           struct err *err)
{
    struct simrig *rig = NULL;
    enum status status = STATUS_OK;
    if (plan->holds)
        simrig_open_constant(&rig, plan->hold_m, plan->hold_n);
    else
        status = simrig_open(&rig, bow, &plan->hand, plan->press_n, plan->drift_n, err);
    if (status == STATUS_OK && options_has(options, "pty"))
        status = serve(options, plan, rig, bench, err);
    else if (status == STATUS_OK)
        status = simulate_csv(out, bow, rig, bench, &plan->bench,
                              options_has(options, "noise-free"), err);
    simrig_close(rig);
    return status;
}

static enum status run_mode(const struct options *options, const struct plan *plan,
                            struct simbench *bench, struct buf *out, struct err *err)
{
    bool si = strcmp(options_text(options, "units", "trade"), "si") == 0;
    if (options_has(options, "known-loads")) {
        simulate_known_loads(out, bench, &plan->bench.force);
        return STATUS_OK;
    }
    if (options_has(options, "known-lengths")) {
        simulate_known_lengths(out, bench, &plan->bench.travel);
        return STATUS_OK;
    }
    struct simbow *bow = NULL;
    enum status status = plan->holds ? STATUS_OK : open_bow(options, plan, &bow, err);
    if (status == STATUS_OK && options_has(options, "truth"))
        status = simulate_truth(out, bow, plan->press_n, si, err);
    else if (status == STATUS_OK)
        status = run_rig(options, plan, bow, bench, out, err);
    simbow_close(bow);
    return status;
}

static enum status run(const struct options *options, struct err *err)
{
    struct plan plan = {0};
    struct simbench *bench = NULL;
    struct buf out = {0};
    enum status status = check_mode(options, err);
    if (status == STATUS_OK)
        status = read_bow_settings(options, &plan, err);
    if (status == STATUS_OK)
        status = read_hand(options, &plan, err);
    if (status == STATUS_OK)
        status = read_bench(options, &plan, err);
    if (status == STATUS_OK)
        status = simbench_open(&bench, &plan.bench, err);
    if (status == STATUS_OK)
        status = run_mode(options, &plan, bench, &out, err);
    if (status == STATUS_OK && out.length > 0)
        status = buf_write_stdout(&out, err);
    buf_clear(&out);
    simbench_close(bench);
    return status;
}

const struct verb verb_simulate = {
    .name = "simulate",
    .operands = "",
    .summary = "be a bench without hardware: a simulated bow on a simulated port",
    .description =
        "Draws a bow that exists as a physical model (docs/simulated-bench.md): limbs, cams, "
        "cords, "
        "stops, friction, set up as the options say. With --pty it is a serial port like that of a "
        "real controller, for `capture --port`: a second after a reader has opened it the pulls "
        "begin. With --csv it prints a capture, with --truth what a perfect bench would find, with "
        "--known-loads and --known-lengths what to calibrate with.",
    .spec = spec,
    .operands_max = 0,
    .run = run,
};
