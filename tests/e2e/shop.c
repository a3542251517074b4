#include "shop.h"
#include "check.h"
#include "run.h"

#include <dirent.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char folder[64];
static struct err err;

/* Each test begins in an empty folder of its own with no record. */
int shop_open(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "/tmp/pullcurve-e2e-XXXXXX");
    if (mkdtemp(folder) == NULL || chdir(folder) != 0)
        return -1;
    return setenv("PULLCURVE_RECORD", "shop.db", 1);
}

int shop_close(void **state)
{
    (void)state;
    DIR *directory = opendir(folder);
    if (directory == NULL)
        return -1;
    for (const struct dirent *entry; (entry = readdir(directory)) != NULL;)
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
            (void)remove(entry->d_name);
    closedir(directory);
    return chdir("/") == 0 ? rmdir(folder) : -1;
}

/* Runs the program with `arguments` as a shell reads them; what it prints is in *out, with standard
 * error where `errors` says. Returns the exit code. */
static int run_with(struct buf *out, const char *arguments, const char *errors)
{
    struct buf command = {0};
    assert_non_null(getenv("PULLCURVE"));
    buf_printf(&command, "\"$PULLCURVE\" %s %s", arguments, errors);
    buf_clear(out);
    int code = run_command(out, buf_string(&command));
    buf_clear(&command);
    return code;
}

int shop_run(struct buf *out, const char *arguments)
{
    return run_with(out, arguments, "2>&1");
}

/* Is the part there, whatever the line breaks? */
static bool holds(const struct buf *text, const char *part)
{
    struct buf flat = {0};
    buf_text(&flat, buf_string(text));
    for (size_t i = 0; i < flat.length; i++)
        if (flat.text[i] == '\n')
            flat.text[i] = ' ';
    bool found = strstr(buf_string(text), part) != NULL || strstr(buf_string(&flat), part) != NULL;
    buf_clear(&flat);
    return found;
}

void shop_check(int expected, const char *arguments, const char *part)
{
    struct buf out = {0};
    int code = shop_run(&out, arguments);
    if (code != expected || !holds(&out, part))
        fail_msg("%s: exit %d, not %d, or no '%s' in: %s", arguments, code, expected, part,
                 buf_string(&out));
    buf_clear(&out);
}

/* The JSON that the program prints; the caller releases it. */
json_t *shop_json(int expected, const char *arguments)
{
    struct buf out = {0};
    int code = run_with(&out, arguments, "2>/dev/null");
    json_error_t error;
    json_t *root = json_loads(buf_string(&out), 0, &error);
    if (code != expected || root == NULL)
        fail_msg("%s: exit %d: %s", arguments, code, buf_string(&out));
    buf_clear(&out);
    return root;
}

const char *shop_text_at(const json_t *object, const char *name)
{
    const char *text = json_string_value(json_object_get(object, name));
    if (text == NULL)
        fail_msg("no text '%s'", name);
    return text;
}

int shop_int_at(const json_t *object, const char *name)
{
    const json_t *value = json_object_get(object, name);
    if (!json_is_integer(value))
        fail_msg("no whole number '%s'", name);
    return (int)json_integer_value(value);
}

double shop_number_at(const json_t *object, const char *name, const char *part)
{
    const json_t *value = json_object_get(json_object_get(object, name), part);
    return json_is_number(value) ? json_number_value(value) : (double)NAN;
}

void shop_write(const char *name, const char *text)
{
    struct buf file = {0};
    buf_text(&file, text);
    check_ok(buf_write_file(&file, name, &err));
    buf_clear(&file);
}

void shop_check_same(const char *a, const char *b)
{
    struct buf one = {0}, other = {0};
    check_ok(buf_read_file(&one, a, &err));
    check_ok(buf_read_file(&other, b, &err));
    if (one.length != other.length || memcmp(one.text, other.text, one.length) != 0)
        fail_msg("%s and %s differ:\n%s\n%s", a, b, buf_string(&one), buf_string(&other));
    buf_clear(&one);
    buf_clear(&other);
}

struct raw_reading shop_reading(size_t i)
{
    /* at rest, 12 in of travel up and down again, at rest; a bow that pulls up to 60 lbf */
    size_t up = i < 40 || i > 360 ? 0 : i < 200 ? i - 40 : 360 - i;
    return (struct raw_reading){
        .arrival_us = (int64_t)i * 12500,
        .device_us = 3000000000 + (int64_t)i * 12500,
        .sequence = (uint32_t)i,
        .force_count = 1000 + (int32_t)up * 375,
        .travel_count = (int32_t)up * 75,
        .flags = RAW_HAS_FORCE | RAW_HAS_TRAVEL | RAW_HAS_DEVICE_TIME | RAW_HAS_SEQUENCE,
    };
}

static void add_calibrations(struct record *record, struct record_capture *capture)
{
    struct calibration_point force[] = {{.reference_si = 0, .count = 1000, .run = 1},
                                        {.reference_si = 266.893, .count = 61000, .run = 1}};
    struct calibration_point travel[] = {{.reference_si = 0, .count = 0, .run = 1},
                                         {.reference_si = 0.3048, .count = 12000, .run = 1}};
    struct record_calibration one = {.bench = (char *)"bench 1",
                                     .quantity = QUANTITY_FORCE,
                                     .n_terms = 2,
                                     .points = force,
                                     .n_points = 2};
    struct record_calibration other = {.bench = (char *)"bench 1",
                                       .quantity = QUANTITY_LENGTH,
                                       .n_terms = 2,
                                       .points = travel,
                                       .n_points = 2};
    check_ok(record_calibration_add(record, &one, &err));
    check_ok(record_calibration_add(record, &other, &err));
    memcpy(capture->force_calibration_key, one.key, sizeof one.key);
    memcpy(capture->travel_calibration_key, other.key, sizeof other.key);
}

/* A capture of n readings with its bow and calibrations; state CAPTURE_OPEN leaves it open. */
void shop_capture(size_t n, enum capture_state state)
{
    struct record *record;
    check_ok(record_open(&record, "shop.db", RECORD_CREATE, &err));
    struct record_bow bow = record_bow_blank();
    bow.name = (char *)"Ridge 34";
    check_ok(record_bow_add(record, &bow, &err));
    struct record_capture capture = {.bench = (char *)"bench 1",
                                     .note = (char *)"as it came",
                                     .program = (char *)"pullcurve test",
                                     .has_brace = true,
                                     .brace_m = 0.1778};
    memcpy(capture.bow_key, bow.key, sizeof bow.key);
    add_calibrations(record, &capture);
    check_ok(record_capture_begin(record, &capture, &err));
    struct raw_reading readings[400];
    for (size_t i = 0; i < n; i++)
        readings[i] = shop_reading(i);
    for (size_t i = 0; i < n; i += 50)
        check_ok(record_capture_append(record, capture.key, readings + i, n - i < 50 ? n - i : 50,
                                       &err));
    const struct capture_counts counts = {.n_readings = (int64_t)n, .n_malformed = 2, .n_lost = 3};
    if (state != CAPTURE_OPEN)
        check_ok(record_capture_end(record, capture.key, state, &counts, &err));
    record_close(record);
}
