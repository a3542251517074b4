/*
 * random: random cases for a test, the same again from the same seed.
 *
 * The seed is printed and may be set: TEST_SEED=... makes a failure come again.
 * Generator: splitmix64 (G. L. Steele, D. Lea, C. H. Flood, Fast splittable pseudorandom number
 * generators, 2014).
 */
#ifndef PULLCURVE_TESTS_RANDOM_H
#define PULLCURVE_TESTS_RANDOM_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

struct random {
    uint64_t state;
};

static inline struct random random_start(void)
{
    const char *stated = getenv("TEST_SEED");
    uint64_t seed = stated != NULL ? strtoull(stated, NULL, 10) : (uint64_t)time(NULL);
    printf("TEST_SEED=%llu\n", (unsigned long long)seed);
    return (struct random){.state = seed};
}

static inline uint64_t random_bits(struct random *random)
{
    uint64_t z = random->state += 0x9E3779B97F4A7C15u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

/* A whole number within low..high, both included. */
static inline int random_int(struct random *random, int low, int high)
{
    return low + (int)(random_bits(random) % (uint64_t)(high - low + 1));
}

#endif
