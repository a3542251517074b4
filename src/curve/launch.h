/*
 * launch: from stored energy to an arrow's speed, and back from a measured speed.
 *
 * Virtual mass K: the mass that, moving at arrow speed, would carry all the energy that the arrow
 * does not get (term of N. F. Mullaney's bow tests, 1975): SE = (m + K) v^2 / 2. It is not constant
 * for most compounds: do not extrapolate far from tested arrow masses. All values SI.
 */
#ifndef PULLCURVE_CURVE_LAUNCH_H
#define PULLCURVE_CURVE_LAUNCH_H

/* m v^2 / 2; mass_kg > 0. */
double launch_kinetic_energy_j(double mass_kg, double speed_m_s);

/* m v, kg m/s. */
double launch_momentum_kg_m_s(double mass_kg, double speed_m_s);

/* Share of the stored energy that the arrow carries, %; stored_j > 0. */
double launch_efficiency_pct(double stored_j, double mass_kg, double speed_m_s);

/* K = 2 SE / v^2 - m, kg; speed_m_s > 0. Negative where the arrow carries more energy than was
 * stored: then one of the inputs is wrong. */
double launch_virtual_mass_kg(double stored_j, double mass_kg, double speed_m_s);

/* v = sqrt(2 SE / (m + K)), m/s; mass_kg + virtual_mass_kg > 0. */
double launch_speed_m_s(double stored_j, double mass_kg, double virtual_mass_kg);

/* Arrow mass over peak draw force in the trade's measure, grains per pound-force; peak_n > 0.
 * Below 5 gr/lbf an arrow is too light (the floor of ASTM F1544). */
double launch_grains_per_pound(double mass_kg, double peak_n);

#endif
