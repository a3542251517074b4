/*
 * stand: what an end-to-end test of a capture needs: a folder of its own with a calibrated record
 * and a bench file, a controller that plays a script, the program on it, and a look at what was
 * kept.
 */
#ifndef PULLCURVE_TESTS_E2E_STAND_H
#define PULLCURVE_TESTS_E2E_STAND_H

#include "child.h"
#include "controller.h"
#include "record/record.h"

#include <stddef.h>

/* No step of a test takes this long; what does hangs. */
#define PATIENCE_S 20.0

struct stand {
    char folder[32];
    char record[64], bench[64];
    struct controller controller;
    struct child program;
};

/* Sets up a stand with a bench file that holds `more` besides name ("test bench") and patience. */
void stand_open(struct stand *stand, const char *more);

void stand_close(struct stand *stand);

/* Writes a file. */
void stand_write(const char *path, const char *text);

/* Up to six arguments, for stand_start and stand_run. */
#define WITH(...) ((const char *const[6]){__VA_ARGS__})
#define ALONE ((const char *const[6]){NULL})

/* Starts `capture` on a bench that plays this script, with more arguments. */
void stand_start(struct stand *stand, const struct controller_script *script,
                 const char *const more[6]);

/* The same, and waits for its end: its exit code. */
int stand_run(struct stand *stand, const struct controller_script *script,
              const char *const more[6]);

/* The program ended with this code; else what it said is shown. */
void stand_check_exit(const struct stand *stand, int code, int expected);

/* The program said this, on either output. */
void stand_check_said(const struct stand *stand, const char *part);

/* The record holds no capture at all. */
void stand_check_no_capture(const struct stand *stand);

/* The last capture and its readings. */
struct kept {
    struct record_capture capture;
    struct raw_reading *readings;
    size_t n;
};

struct kept kept_look(const struct stand *stand);

void kept_clear(struct kept *kept);

/* Every line from the first on is there once, in its order, with the controller's clock. */
void kept_check_unbroken(const struct kept *kept);

#endif
