/* The verb calibrate: from tables and, with a played bench, load by load. */
#include "base/buf.h"
#include "base/number.h"
#include "bench/wire.h"
#include "check.h"
#include "run.h"

#include <errno.h>
#include <fcntl.h>
#include <jansson.h>
#include <poll.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static char folder[] = "/tmp/pullcurve-calibrate-XXXXXX";

static int set_up(void **state)
{
    (void)state;
    if (mkdtemp(folder) == NULL || setenv("CALIBRATE_TEST", folder, 1) != 0)
        return -1;
    return chdir(source_root());
}

static int tear_down(void **state)
{
    (void)state;
    struct buf out = {0};
    int code = run_command(&out, "rm -rf \"$CALIBRATE_TEST\"");
    buf_clear(&out);
    return code;
}

/* A new record for each test. */
static int begin(void **state)
{
    (void)state;
    static int number;
    char path[64];
    (void)snprintf(path, sizeof path, "%s/record-%d.db", folder, ++number);
    return setenv("PULLCURVE_RECORD", path, 1);
}

static void write_file(const char *name, const char *text)
{
    char path[128];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0 && fclose(file) == 0);
}

/* Runs `pullcurve calibrate ...` in a shell; $T is the test's folder. Both outputs are in *out. */
static int calibrate(struct buf *out, const char *arguments)
{
    struct buf command = {0};
    assert_non_null(getenv("PULLCURVE"));
    buf_printf(&command, "T=\"$CALIBRATE_TEST\"; \"$PULLCURVE\" calibrate %s 2>&1", arguments);
    buf_clear(out);
    int code = run_command(out, buf_string(&command));
    buf_clear(&command);
    return code;
}

static void check_holds(const struct buf *text, const char *part)
{
    if (strstr(buf_string(text), part) == NULL)
        fail_msg("'%s' is not in: %s", part, buf_string(text));
}

static void check_says(const char *arguments, int code, const char *part)
{
    struct buf out = {0};
    int got = calibrate(&out, arguments);
    if (got != code)
        print_error("%s: %s\n", arguments, buf_string(&out));
    assert_int_equal(got, code);
    check_holds(&out, part);
    buf_clear(&out);
}

/* --- JSON ----------------------------------------------------------------------------------- */

static json_t *parse(const struct buf *text)
{
    json_error_t error;
    json_t *tree = json_loads(buf_string(text), 0, &error);
    if (tree == NULL)
        fail_msg("no JSON: %s in: %s", error.text, buf_string(text));
    return tree;
}

/* What stands at "calibrations.0.fit.terms". */
static const json_t *at(const json_t *tree, const char *path)
{
    while (*path != '\0') {
        size_t length = strcspn(path, ".");
        char *key = strndup(path, length);
        tree = json_is_array(tree) ? json_array_get(tree, (size_t)strtoul(key, NULL, 10))
                                   : json_object_get(tree, key);
        if (tree == NULL)
            fail_msg("there is no %s", path);
        free(key);
        path += length + (path[length] == '.');
    }
    return tree;
}

static double number_at(const json_t *tree, const char *path)
{
    const json_t *value = at(tree, path);
    if (!json_is_number(value))
        fail_msg("%s is no number", path);
    return json_number_value(value);
}

/* Does the newest page hold this warning? */
static bool has_warning(const json_t *tree, const char *code)
{
    const json_t *list = at(tree, "calibrations.0.warnings");
    for (size_t i = 0; i < json_array_size(list); i++)
        if (strcmp(json_string_value(at(json_array_get(list, i), "code")), code) == 0)
            return true;
    return false;
}

static json_t *calibrate_json(const char *arguments)
{
    struct buf out = {0};
    int code = calibrate(&out, arguments);
    if (code != 0)
        fail_msg("%d: %s", code, buf_string(&out));
    json_t *tree = parse(&out);
    buf_clear(&out);
    return tree;
}

/* --- tables --------------------------------------------------------------------------------- */

#define FORCE "force --bench fixtures/bench.ini "
#define TRAVEL "travel --bench fixtures/bench.ini "
#define SHOP_TABLE "--table fixtures/calibrations/force.csv "
#define SHOP_WEIGHTS SHOP_TABLE "--masses --latitude 44.5 --height 220m "

static void weights_become_forces_and_are_fitted_as_numpy_does(void **state)
{
    (void)state;
    json_t *tree = calibrate_json(FORCE SHOP_WEIGHTS "--units si --json");
    struct buf truth = {0};
    /* normal gravity after Somigliana (NIMA TR8350.2), the usual -0.3086 mGal/m; F = m g (1 -
     * 1.2/8000) */
    assert_int_equal(
        run_command(
            &truth,
            "/usr/bin/python3 -c 'import numpy as np, math\n"
            "s = math.sin(math.radians(44.5)) ** 2\n"
            "g = 9.7803253359 * (1 + 0.00193185265241 * s) / math.sqrt(1 - 0.00669437999014 * s)\n"
            "g -= 3.086e-6 * 220\n"
            "d = [l.split(\",\") for l in open(\"fixtures/calibrations/force.csv\")"
            " if l[0].isdigit()]\n"
            "f = np.array([float(r[0]) for r in d]) * 0.45359237 * g * (1 - 1.2 / 8000)\n"
            "c = np.array([float(r[1]) for r in d])\n"
            "p = np.polyfit((c - 7e5) / 7e5, f, 2)\n"
            "r = f - np.polyval(p, (c - 7e5) / 7e5)\n"
            "print(repr(f.max()), repr(math.sqrt((r ** 2).sum() / 30)))'"),
        0);
    char *end;
    double largest = strtod(buf_string(&truth), &end), sd = strtod(end, NULL);
    check_near(number_at(tree, "calibrations.0.fit.high"), largest, 1e-5 * largest / 9.8);
    check_near(number_at(tree, "calibrations.0.fit.residual_sd"), sd, 1e-6 * sd);
    check_near(number_at(tree, "calibrations.0.fit.terms"), 3, 0);
    check_near(number_at(tree, "calibrations.0.summary.runs"), 3, 0);
    /* expanded 0.02 % over k = 2, and 0.005 % of gravity: more than 0.02 % and less than 0.03 % */
    double reference = number_at(tree, "calibrations.0.summary.worst_pct.reference");
    assert_true(reference > 0.02 && reference < 0.03);
    check_near(number_at(tree, "calibrations.0.summary.worst_pct.creep"), 0.009, 0.0005);
    assert_false(has_warning(tree, "place_unknown"));
    buf_clear(&truth);
    json_decref(tree);
}

static void simulated_bench_is_calibrated_back_to_its_own_constants(void **state)
{
    (void)state;
    struct buf out = {0};
    assert_int_equal(run_command(&out, "\"$PULLCURVE\" simulate --known-loads "
                                       ">\"$CALIBRATE_TEST/loads.csv\" && \"$PULLCURVE\" simulate "
                                       "--known-lengths >\"$CALIBRATE_TEST/lengths.csv\""),
                     0);
    buf_clear(&out);
    json_t *force = calibrate_json(FORCE "--table $T/loads.csv --units si --terms 2 --json");
    json_t *travel = calibrate_json(TRAVEL "--table $T/lengths.csv --units si --terms 2 --json");
    /* the simulated converters: zero 41000, 3700 counts/N; zero 1200, 40000 counts/m */
    double slope = number_at(force, "calibrations.0.fit.coefficients.1");
    double u = number_at(force, "calibrations.0.fit.u.1");
    check_near(slope, 1.0 / 3700.0, 4.0 * u);
    assert_true(u < 1e-3 / 3700.0);
    slope = number_at(travel, "calibrations.0.fit.coefficients.1");
    u = number_at(travel, "calibrations.0.fit.u.1");
    check_near(slope, 1.0 / 40000.0, 4.0 * u);
    assert_string_equal(json_string_value(at(travel, "calibrations.0.channel")), "travel");
    json_decref(force);
    json_decref(travel);
}

static void weights_without_a_place_are_warned_of(void **state)
{
    (void)state;
    json_t *tree = calibrate_json(FORCE SHOP_TABLE "--masses --json");
    assert_true(has_warning(tree, "place_unknown"));
    /* 0.015 of 9.8 m/s2, twice */
    check_near(number_at(tree, "calibrations.0.summary.worst_pct.reference"), 0.31, 0.01);
    json_decref(tree);
}

static void stated_gravity_is_right_to_half_its_last_digit(void **state)
{
    (void)state;
    json_t *tree = calibrate_json(FORCE SHOP_TABLE "--masses --gravity 9.81 --units si --json");
    check_near(number_at(tree, "calibrations.0.fit.high"),
               80.0 * 0.45359237 * 9.81 * (1.0 - 1.2 / 8000.0), 1e-9);
    /* 0.01/sqrt(12) of 9.81 is 0.0294 %, with 0.01 % of the weights, twice */
    check_near(number_at(tree, "calibrations.0.summary.worst_pct.reference"), 0.0624, 0.001);
    json_decref(tree);
}

static void columns_of_uncertainty_weigh_the_points(void **state)
{
    (void)state;
    write_file("weighted.csv", "load_n,count,u_count,u_load_n\n0,1000,1,0\n50,6000,1,0.01\n"
                               "100,11000,1,0.01\n150,16000,1,0.02\n200,25000,2000,0.02\n");
    json_t *tree = calibrate_json(FORCE "--table $T/weighted.csv --terms 2 --units si --json");
    assert_true(json_is_true(at(tree, "calibrations.0.fit.weighted")));
    check_near(number_at(tree, "calibrations.0.fit.coefficients.1"), 0.01, 1e-5);
    json_decref(tree);
}

static void straight_line_and_quadratic_can_be_asked_for(void **state)
{
    (void)state;
    json_t *tree = calibrate_json(FORCE SHOP_WEIGHTS "--terms 2 --json");
    check_near(number_at(tree, "calibrations.0.fit.terms"), 2, 0);
    assert_true(has_warning(tree, "terms_stated"));
    json_decref(tree);
}

static void kind_of_references_is_kept_with_the_calibration(void **state)
{
    (void)state;
    json_t *tree = calibrate_json(FORCE SHOP_WEIGHTS "--references independent --json");
    json_decref(tree);
    tree = calibrate_json("show --json");
    assert_string_equal(json_string_value(at(tree, "calibrations.0.fit.references")),
                        "independent");
    json_decref(tree);
}

static void page_fits_a_terminal_and_says_what_it_is(void **state)
{
    (void)state;
    struct buf out = {0};
    assert_int_equal(calibrate(&out, FORCE SHOP_WEIGHTS "--note \"after the move\a\""), 0);
    check_holds(&out, "Force calibration, Hollow Oak bench 1");
    check_holds(&out, "after the move\xEF\xBF\xBD");
    check_holds(&out, "In the manner of ISO 376 (limits from memory): class 1");
    check_holds(&out, "Only an accredited laboratory certifies.");
    for (const char *line = buf_string(&out); *line != '\0'; line += strcspn(line, "\n") + 1)
        assert_true(strcspn(line, "\n") <= 82); /* a replacement character has three bytes */
    buf_clear(&out);
}

/* --- show ----------------------------------------------------------------------------------- */

static void show_tells_what_is_in_force_and_how_it_drifted(void **state)
{
    (void)state;
    write_file("first.csv", "load_n,count\n0,1000\n50,6001\n100,10999\n150,16001\n200,20999\n");
    write_file("second.csv", "load_n,count\n0,1000\n50,6101\n100,11199\n150,16301\n200,21399\n");
    json_decref(calibrate_json(FORCE "--table $T/first.csv --json"));
    json_decref(calibrate_json(FORCE "--table $T/second.csv --json"));
    json_decref(calibrate_json(TRAVEL "--table fixtures/calibrations/travel.csv --json"));
    json_t *tree = calibrate_json("show --bench fixtures/bench.ini --units si --json");
    assert_int_equal(json_array_size(at(tree, "calibrations")), 2);
    assert_string_equal(json_string_value(at(tree, "calibrations.0.channel")), "force");
    /* 2 % more counts per newton: the old line would read 102 N at 100 N */
    check_near(number_at(tree, "calibrations.0.drift.rows.5.difference"), 4.0, 0.05);
    assert_true(json_is_true(at(tree, "calibrations.0.drift.rows.5.significant")));
    assert_true(has_warning(tree, "drift"));
    assert_true(json_is_null(at(tree, "calibrations.1.drift")));
    check_near(number_at(tree, "calibrations.0.due.months"), 12, 0);
    assert_true(number_at(tree, "calibrations.0.due.days") >= 364);
    json_decref(tree);
}

static void show_without_a_calibration_says_so(void **state)
{
    (void)state;
    check_says("show", 66, "");
    json_decref(calibrate_json(FORCE SHOP_WEIGHTS "--json"));
    write_file("other.ini", "[bench]\nname = another bench\n");
    check_says("show --bench $T/other.ini", 66, "another bench");
}

static void nothing_is_stored_when_asked_so(void **state)
{
    (void)state;
    json_t *tree = calibrate_json(FORCE SHOP_WEIGHTS "--no-store --json");
    assert_true(json_is_null(at(tree, "calibrations.0.key")));
    json_decref(tree);
    assert_int_not_equal(access(getenv("PULLCURVE_RECORD"), F_OK), 0);
}

/* --- faults --------------------------------------------------------------------------------- */

static void wrong_usage_is_told(void **state)
{
    (void)state;
    check_says("", 64, "force | travel | give | show");
    check_says("torque", 64, "'torque'");
    check_says("force " SHOP_TABLE, 64, "--bench");
    check_says(FORCE, 64, "--table FILE or --live");
    check_says(FORCE SHOP_TABLE "--live", 64, "--table FILE or --live");
    check_says(FORCE SHOP_TABLE "--terms 4", 64, "--terms: '4'");
    check_says(FORCE SHOP_TABLE "--gravity 9.81 --latitude 50", 64, "not both");
    check_says(FORCE SHOP_TABLE "--height 200", 64, "--latitude");
    check_says(FORCE SHOP_TABLE "--latitude 91", 64, "--latitude");
    check_says(FORCE SHOP_TABLE "--creep 12", 64, "two counts");
    check_says(FORCE SHOP_TABLE "--u-reference 2in", 64, "--u-reference");
    check_says(FORCE SHOP_TABLE "--units metric", 64, "--units");
    check_says(TRAVEL "--masses --table fixtures/calibrations/travel.csv", 64, "--masses");
}

static void bad_tables_are_told_with_line_and_column(void **state)
{
    (void)state;
    write_file("no-count.csv", "load_n\n1\n2\n");
    write_file("no-load.csv", "length_in,count\n1,2\n2,3\n");
    write_file("two.csv", "load_n,load_lbf,count\n1,2,3\n");
    write_file("direction.csv", "load_n,count,direction\n0,0,up\n1,10,sideways\n");
    write_file("run.csv", "load_n,count,run\n0,0,1\n1,10,1.5\n");
    write_file("mass.csv", "mass_kg,count\n0,0\n-1,10\n");
    write_file("u.csv", "load_n,count,u_load_n\n0,0,0\n1,10,-1\n");
    write_file("cell.csv", "load_n,count\n0,0\n1,ten\n");
    write_file("k.csv", "# expanded_uncertainty: 1 N\n# k: 0\nload_n,count\n0,0\n1,10\n");
    write_file("note.csv", "# expanded_uncertainty: much\nload_n,count\n0,0\n1,10\n");
    write_file("few.csv", "load_n,count\n0,0\n");
    write_file("same.csv", "load_n,count\n0,5\n1,5\n2,5\n");
    check_says(FORCE "--table $T/no-count.csv", 65, "count");
    check_says(FORCE "--table $T/no-load.csv", 65, "load_n");
    check_says(FORCE "--table $T/two.csv", 65, "both load_n and load_lbf");
    check_says(FORCE "--table $T/direction.csv", 65, "direction.csv:3: direction");
    check_says(FORCE "--table $T/run.csv", 65, "run.csv:3: run");
    check_says(FORCE "--table $T/mass.csv", 65, "mass.csv:3: the mass");
    check_says(FORCE "--table $T/u.csv", 65, "u.csv:3: the uncertainty");
    check_says(FORCE "--table $T/cell.csv", 65, "ten");
    check_says(FORCE "--table $T/k.csv", 65, "note k");
    check_says(FORCE "--table $T/note.csv", 65, "expanded_uncertainty");
    check_says(FORCE "--table $T/few.csv", 65, "add loads");
    check_says(FORCE "--table $T/same.csv", 65, "same count");
    check_says(FORCE "--table $T/none.csv", 66, "none.csv");
    check_says("force --bench $T/none.ini --table $T/few.csv", 66, "none.ini");
    check_says("show", 66, ""); /* and none of them was stored */
}

static void masses_in_newtons_make_no_sense(void **state)
{
    (void)state;
    write_file("newtons.csv", "load_n,count\n0,0\n1,10\n");
    check_says(FORCE "--table $T/newtons.csv --masses", 64, "lb or kg");
}

/* --- on the bench --------------------------------------------------------------------------- */

/* A played bench: a controller on a pseudo-terminal, and the person with the loads. */
struct bench_play {
    int master, answers, said; /* the port, the program's input, what it says (both outputs) */
    pid_t pid;
    struct buf heard;
    size_t read_to; /* what of heard was acted on */
    struct wire_line line;
    double load_lbf;
    unsigned noise;
};

static const double played_zero = 41000.0, played_counts_per_lbf = 16458.0;

static void play_start(struct bench_play *play, const char *arguments)
{
    int input[2], output[2];
    *play = (struct bench_play){.master = posix_openpt(O_RDWR | O_NOCTTY), .noise = 12345};
    assert_true(play->master >= 0 && grantpt(play->master) == 0 && unlockpt(play->master) == 0);
    assert_true(pipe(input) == 0 && pipe(output) == 0);
    (void)fcntl(play->master, F_SETFL, O_NONBLOCK);
    struct buf command = {0};
    buf_printf(&command, "T=\"$CALIBRATE_TEST\"; exec \"$PULLCURVE\" calibrate %s --port %s 2>&1",
               arguments, ptsname(play->master));
    play->pid = fork();
    assert_true(play->pid >= 0);
    if (play->pid == 0) {
        (void)dup2(input[0], STDIN_FILENO);
        (void)dup2(output[1], STDOUT_FILENO);
        (void)close(input[1]);
        (void)close(output[0]);
        (void)close(play->master);
        (void)execl("/bin/sh", "sh", "-c", buf_string(&command), (char *)NULL);
        _exit(127);
    }
    buf_clear(&command);
    (void)close(input[0]);
    (void)close(output[1]);
    play->answers = input[1];
    play->said = output[0];
}

static void play_send(struct bench_play *play)
{
    char text[WIRE_LINE_MAX];
    play->noise = play->noise * 1103515245u + 12345u;
    double noise = (double)(play->noise >> 16 & 0xff) / 25.6 - 5.0;
    play->line.sequence++;
    play->line.device_us += 5000;
    play->line.force_count =
        (int32_t)lrint(played_zero + played_counts_per_lbf * play->load_lbf + noise);
    play->line.travel_count = 1200;
    size_t length = wire_encode(&play->line, text);
    if (play->master >= 0)
        (void)!write(play->master, text, length);
}

/* Sends readings at 200 a second until the program has said `part`, or ended; false then. */
static bool play_until(struct bench_play *play, const char *part)
{
    for (;;) {
        const char *text = buf_string(&play->heard) + play->read_to;
        const char *found = strstr(text, part);
        if (found != NULL) {
            play->read_to += (size_t)(found - text) + strlen(part);
            return true;
        }
        play_send(play);
        struct pollfd said = {.fd = play->said, .events = POLLIN};
        struct timespec pause = {.tv_nsec = 5000000};
        if (poll(&said, 1, 0) > 0) {
            char chunk[4096];
            ssize_t got = read(play->said, chunk, sizeof chunk);
            if (got <= 0)
                return false;
            buf_add(&play->heard, chunk, (size_t)got);
        }
        (void)nanosleep(&pause, NULL);
    }
}

static void play_answer(const struct bench_play *play, const char *text)
{
    assert_int_equal(write(play->answers, text, strlen(text)), (ssize_t)strlen(text));
}

/* Puts the load on when it is asked for, and answers. */
static void play_load(struct bench_play *play, double load_lbf, const char *answer)
{
    if (!play_until(play, "put on "))
        fail_msg("it ended: %s", buf_string(&play->heard));
    play->load_lbf = load_lbf;
    if (!play_until(play, "q stops:"))
        fail_msg("it ended: %s", buf_string(&play->heard));
    play_answer(play, answer);
}

/* Lets it end; its exit code. What it said is in heard until play_clear. */
static int play_end(struct bench_play *play)
{
    int status = 0;
    (void)close(play->answers);
    while (play_until(play, "\x01"))
        continue;
    assert_int_equal(waitpid(play->pid, &status, 0), play->pid);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void play_clear(struct bench_play *play)
{
    buf_clear(&play->heard);
    (void)close(play->said);
    if (play->master >= 0)
        (void)close(play->master);
}

#define LIVE FORCE "--live --average 0.3 --units trade "

static void loads_on_the_bench_make_a_calibration(void **state)
{
    (void)state;
    struct bench_play play;
    play_start(&play, LIVE "--loads 0,10,20,40,20,0 --runs 2 --u-reference 0.1%");
    for (int run = 0; run < 2; run++) {
        if (run == 1) {
            assert_true(play_until(&play, "Then Enter (q stops):"));
            play_answer(&play, "\n");
        }
        const double loads[] = {0, 10, 20, 40, 20, 0};
        for (size_t i = 0; i < 6; i++)
            play_load(&play, loads[i], "\n");
    }
    assert_int_equal(play_end(&play), 0);
    check_holds(&play.heard, "Loads that hang can fall.");
    check_holds(&play.heard, "Force calibration, Hollow Oak bench 1");
    play_clear(&play);
    json_t *tree = calibrate_json("show --json");
    assert_int_equal(json_array_size(at(tree, "calibrations.0.points")), 12);
    check_near(number_at(tree, "calibrations.0.summary.runs"), 2, 0);
    check_near(number_at(tree, "calibrations.0.fit.coefficients.1") * played_counts_per_lbf, 1.0,
               1e-5);
    check_near(number_at(tree, "calibrations.0.points.3.reference"), 40.0, 1e-12);
    check_near(number_at(tree, "calibrations.0.points.3.u_reference"), 0.04, 1e-12);
    check_near(number_at(tree, "calibrations.0.points.3.count"),
               played_zero + 40.0 * played_counts_per_lbf, 3.0);
    double u = number_at(tree, "calibrations.0.points.3.u_count");
    assert_true(u > 0.05 && u < 2.0); /* noise of 2.9 counts, some 60 readings */
    assert_string_equal(json_string_value(at(tree, "calibrations.0.points.4.direction")), "down");
    json_decref(tree);
}

static void reading_waits_for_the_load_and_can_be_repeated(void **state)
{
    (void)state;
    struct bench_play play;
    play_start(&play, LIVE "--loads 0,20,40");
    play_load(&play, 0.0, "\n");
    assert_true(play_until(&play, "put on 20"));
    for (int i = 0; i < 200; i++) { /* a second of the old load: it must not be taken for the new */
        struct timespec pause = {.tv_nsec = 5000000};
        play_send(&play);
        (void)nanosleep(&pause, NULL);
    }
    play.load_lbf = 19.0;
    assert_true(play_until(&play, "q stops:"));
    play.load_lbf = 20.0; /* it hung askew */
    for (int i = 0; i < 10; i++)
        play_send(&play);
    play_answer(&play, "r\n");
    assert_true(play_until(&play, "q stops:"));
    play_answer(&play, "\n");
    play_load(&play, 40.0, "\n");
    assert_int_equal(play_end(&play), 0);
    play_clear(&play);
    json_t *tree = calibrate_json("show --json");
    assert_int_equal(json_array_size(at(tree, "calibrations.0.points")), 3);
    check_near(number_at(tree, "calibrations.0.points.1.count"),
               played_zero + 20.0 * played_counts_per_lbf, 3.0);
    json_decref(tree);
}

static void stopped_points_are_stored_only_where_agreed(void **state)
{
    (void)state;
    struct bench_play play;
    play_start(&play, LIVE "--loads 0,20,40,60");
    play_load(&play, 0.0, "\n");
    play_load(&play, 20.0, "\n");
    play_load(&play, 40.0, "q\n");
    assert_true(play_until(&play, "y/N"));
    play_answer(&play, "n\n");
    assert_int_equal(play_end(&play), 75);
    check_holds(&play.heard, "no calibration is stored");
    check_holds(&play.heard, "load_n,u_load_n,count,u_count,run,direction\n0,0,4");
    play_clear(&play);
    check_says("show", 66, "");
    play_start(&play, LIVE "--loads 0,20,40,60");
    play_load(&play, 0.0, "\n");
    play_load(&play, 20.0, "\n");
    play_load(&play, 40.0, "\n");
    play_load(&play, 60.0, "q\n");
    assert_true(play_until(&play, "y/N"));
    play_answer(&play, "y\n");
    assert_int_equal(play_end(&play), 0);
    play_clear(&play);
    json_t *tree = calibrate_json("show --json");
    assert_int_equal(json_array_size(at(tree, "calibrations.0.points")), 3);
    json_decref(tree);
}

static void loads_may_be_typed_one_by_one(void **state)
{
    (void)state;
    struct bench_play play;
    play_start(&play, LIVE "--masses --gravity 9.80665");
    const char *const typed[] = {"0\n", "20\n", "5 kg\n"};
    const double pounds[] = {0.0, 20.0, 5.0 / 0.45359237};
    for (size_t i = 0; i < 3; i++) {
        assert_true(play_until(&play, "that was all)?"));
        play.load_lbf = pounds[i] * (1.0 - 1.2 / 8000.0);
        if (i == 1) {
            play_answer(&play, "twenty\n");
            assert_true(play_until(&play, "'twenty' is not a number"));
        }
        play_answer(&play, typed[i]);
        assert_true(play_until(&play, "q stops:"));
        play_answer(&play, "\n");
    }
    assert_true(play_until(&play, "that was all)?"));
    play_answer(&play, "q\n");
    assert_int_equal(play_end(&play), 0);
    play_clear(&play);
    json_t *tree = calibrate_json("show --units si --json");
    check_near(number_at(tree, "calibrations.0.points.2.reference"),
               5.0 * 9.80665 * (1.0 - 1.2 / 8000.0), 1e-9);
    json_decref(tree);
}

static void end_of_input_counts_as_enter(void **state)
{
    (void)state;
    struct bench_play play;
    play_start(&play, LIVE "--loads 0,30");
    assert_true(play_until(&play, "put on 0"));
    (void)close(play.answers);
    assert_true(play_until(&play, "put on 30"));
    play.load_lbf = 30.0;
    play.answers = open("/dev/null", O_WRONLY);
    assert_int_equal(play_end(&play), 0);
    play_clear(&play);
}

static void port_that_goes_away_loses_no_point(void **state)
{
    (void)state;
    struct bench_play play;
    write_file("short.ini", "[bench]\nname = Hollow Oak bench 1\nreopen = 1 s\n");
    play_start(&play, "force --bench $T/short.ini --live --average 0.3 --loads 0,20,40");
    play_load(&play, 0.0, "\n");
    play_load(&play, 20.0, "\n");
    assert_true(play_until(&play, "put on 40"));
    (void)close(play.master);
    play.master = -1;
    assert_int_equal(play_end(&play), 69);
    check_holds(&play.heard, "The port went away.");
    check_holds(&play.heard, "did not come back");
    check_holds(&play.heard, "for --table:\nload_n");
    play_clear(&play);
}

static void silent_port_is_told(void **state)
{
    (void)state;
    write_file("silent.ini", "[bench]\nname = b\nstart_wait = 0.3 s\n");
    int master = posix_openpt(O_RDWR | O_NOCTTY);
    assert_true(master >= 0 && grantpt(master) == 0 && unlockpt(master) == 0);
    char arguments[160];
    (void)snprintf(arguments, sizeof arguments,
                   "force --bench $T/silent.ini --live --loads 0,1 --port %s </dev/null",
                   ptsname(master));
    check_says(arguments, 69, "silence");
    (void)close(master);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define TEST(name) cmocka_unit_test_setup(name, begin)
        TEST(weights_become_forces_and_are_fitted_as_numpy_does),
        TEST(simulated_bench_is_calibrated_back_to_its_own_constants),
        TEST(weights_without_a_place_are_warned_of),
        TEST(stated_gravity_is_right_to_half_its_last_digit),
        TEST(columns_of_uncertainty_weigh_the_points),
        TEST(straight_line_and_quadratic_can_be_asked_for),
        TEST(kind_of_references_is_kept_with_the_calibration),
        TEST(page_fits_a_terminal_and_says_what_it_is),
        TEST(show_tells_what_is_in_force_and_how_it_drifted),
        TEST(show_without_a_calibration_says_so),
        TEST(nothing_is_stored_when_asked_so),
        TEST(wrong_usage_is_told),
        TEST(bad_tables_are_told_with_line_and_column),
        TEST(masses_in_newtons_make_no_sense),
        TEST(loads_on_the_bench_make_a_calibration),
        TEST(reading_waits_for_the_load_and_can_be_repeated),
        TEST(stopped_points_are_stored_only_where_agreed),
        TEST(loads_may_be_typed_one_by_one),
        TEST(end_of_input_counts_as_enter),
        TEST(port_that_goes_away_loses_no_point),
        TEST(silent_port_is_told),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
