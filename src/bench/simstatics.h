/*
 * simstatics: the forces of the simulated bow in a state that is closed (bench/simpose.h).
 *
 * Private to the simulated bow (bench/simbow.c). Tensions come from the balance of torques on cam
 * and limb, the draw force from the string's tension and angle; energy plays no part in it, so
 * that work against energy is a check of the whole model.
 */
#ifndef PULLCURVE_BENCH_SIMSTATICS_H
#define PULLCURVE_BENCH_SIMSTATICS_H

#include "bench/simbow.h"
#include "bench/simpose.h"

/* The state; friction's direction is from -1 (letting down) to 1 (drawing). */
struct simbow_state simstatics_state(const struct simpose *pose, double direction);

/* Energy in limbs and stops, from limbs without load. */
double simstatics_energy_j(const struct simpose *pose);

#endif
