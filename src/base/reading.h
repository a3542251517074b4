/*
 * reading: one reading as the bench gave it, before any calibration.
 *
 * The bench makes them, the record keeps them, the curve room turns them into newtons and metres.
 * Raw counts and times are what is stored, so that a better calibration fits old pulls too.
 */
#ifndef PULLCURVE_BASE_READING_H
#define PULLCURVE_BASE_READING_H

#include <stdint.h>

enum raw_flag {
    RAW_HAS_FORCE = 1,        /* force_count holds a converter's count */
    RAW_HAS_TRAVEL = 2,       /* travel_count holds an encoder's count */
    RAW_HAS_DEVICE_TIME = 4,  /* device_us holds the device's own clock */
    RAW_HAS_SEQUENCE = 8,     /* sequence holds the device's own number of the line */
    RAW_FORCE_SATURATED = 16, /* the force count lies at or beyond the converter's range */
    RAW_TRAVEL_SATURATED = 32,
    RAW_AFTER_GAP = 64, /* lines are known to be lost between the reading before and this one */
};

struct raw_reading {
    int64_t arrival_us; /* host's monotonic clock, microseconds since the capture began */
    int64_t device_us;  /* device's clock, microseconds, unwrapped by the bench room */
    uint32_t sequence;
    int32_t force_count;
    int32_t travel_count;
    uint32_t flags; /* enum raw_flag, or-ed */
};

#endif
