/*
 * simbow_support: opening the simulated bows that we ship, and ones that a test writes itself.
 */
#ifndef PULLCURVE_TESTS_BENCH_SIMBOW_SUPPORT_H
#define PULLCURVE_TESTS_BENCH_SIMBOW_SUPPORT_H

#include "base/buf.h"
#include "base/units.h"
#include "bench/simbow.h"

#include "check.h"
#include "run.h"

#include <stdlib.h>
#include <unistd.h>

static const char *const shipped_bows[] = {"hunting_compound", "target_compound", "round_wheel",
                                           "recurve"};
enum { N_SHIPPED_BOWS = sizeof shipped_bows / sizeof shipped_bows[0], N_SHIPPED_COMPOUNDS = 3 };

static inline struct simbow *open_bow(const char *name, const struct simbow_settings *settings)
{
    struct err err;
    struct simbow *bow = NULL;
    struct buf path = {0};
    buf_printf(&path, "%s/fixtures/bows/%s.ini", source_root(), name);
    check_ok(simbow_open(&bow, buf_string(&path), settings, &err));
    buf_clear(&path);
    return bow;
}

/* Opens a bow whose file is this text. */
static inline enum status open_text(struct simbow **bow, const char *text,
                                    const struct simbow_settings *settings, struct err *err)
{
    char path[] = "/tmp/pullcurve-bow-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(close(fd), 0);
    struct buf content = {0};
    buf_text(&content, text);
    assert_int_equal(buf_write_file(&content, path, err), STATUS_OK);
    buf_clear(&content);
    enum status status = simbow_open(bow, path, settings, err);
    assert_int_equal(unlink(path), 0);
    return status;
}

static inline struct simbow_state state_at(const struct simbow *bow, double draw_m,
                                           double direction)
{
    struct err err;
    struct simbow_state state;
    check_ok(simbow_at(bow, draw_m, direction, &state, &err));
    return state;
}

/* The i-th of n places, evenly from just behind brace to just before the limit. */
static inline double place_m(const struct simbow *bow, int i, int n)
{
    double brace_m = simbow_brace_m(bow), limit_m = simbow_limit_m(bow);
    return brace_m + (limit_m - brace_m) * (i + 0.5) / n;
}

#endif
