#include "curve/launch.h"
#include "base/units.h"

#include <assert.h>
#include <math.h>

double launch_kinetic_energy_j(double mass_kg, double speed_m_s)
{
    return 0.5 * mass_kg * speed_m_s * speed_m_s;
}

double launch_momentum_kg_m_s(double mass_kg, double speed_m_s)
{
    return mass_kg * speed_m_s;
}

double launch_efficiency_pct(double stored_j, double mass_kg, double speed_m_s)
{
    assert(stored_j > 0.0);
    return 100.0 * launch_kinetic_energy_j(mass_kg, speed_m_s) / stored_j;
}

double launch_virtual_mass_kg(double stored_j, double mass_kg, double speed_m_s)
{
    assert(speed_m_s > 0.0);
    return 2.0 * stored_j / (speed_m_s * speed_m_s) - mass_kg;
}

double launch_speed_m_s(double stored_j, double mass_kg, double virtual_mass_kg)
{
    assert(mass_kg + virtual_mass_kg > 0.0);
    return sqrt(2.0 * stored_j / (mass_kg + virtual_mass_kg));
}

double launch_grains_per_pound(double mass_kg, double peak_n)
{
    assert(peak_n > 0.0);
    return unit_from_si(UNIT_GR, mass_kg) / unit_from_si(UNIT_LBF, peak_n);
}
