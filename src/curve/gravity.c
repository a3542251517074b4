#include "curve/gravity.h"

#include "base/units.h"

#include <assert.h>
#include <math.h>

/* WGS 84, NIMA TR8350.2 tables 3.1 to 3.4. */
static const double equator_m_s2 = 9.7803253359;
static const double somigliana_k = 0.00193185265241;
static const double eccentricity2 = 0.00669437999014;
static const double semi_major_m = 6378137.0;
static const double flattening = 1.0 / 298.257223563;
static const double rotation_m = 0.00344978650684; /* omega^2 a^2 b / GM */

static const double anomaly_sd_m_s2 = 0.0005;
static const double lowest_m_s2 = 9.780, highest_m_s2 = 9.832;

static const double pi = 3.14159265358979323846;

double gravity_normal(double latitude_deg, double height_m)
{
    double sine = sin(latitude_deg * pi / 180.0), sine2 = sine * sine;
    double at_zero_m_s2 =
        equator_m_s2 * (1.0 + somigliana_k * sine2) / sqrt(1.0 - eccentricity2 * sine2);
    double height = height_m / semi_major_m;
    double linear = 2.0 * (1.0 + flattening + rotation_m - 2.0 * flattening * sine2);
    return at_zero_m_s2 * (1.0 - linear * height + 3.0 * height * height);
}

double gravity_normal_u(double latitude_deg, double height_m, double u_latitude_deg,
                        double u_height_m)
{
    double per_deg = (gravity_normal(latitude_deg + 0.01, height_m) -
                      gravity_normal(latitude_deg - 0.01, height_m)) /
                     0.02;
    double per_m = (gravity_normal(latitude_deg, height_m + 1.0) -
                    gravity_normal(latitude_deg, height_m - 1.0)) /
                   2.0;
    return hypot(hypot(per_deg * u_latitude_deg, per_m * u_height_m), anomaly_sd_m_s2);
}

struct gravity gravity_unknown_place(void)
{
    return (struct gravity){
        .m_s2 = STANDARD_GRAVITY_M_S2,
        .u_m_s2 = (highest_m_s2 - lowest_m_s2) / sqrt(12.0),
    };
}

struct hanging_mass gravity_mass(double mass_kg, double u_mass_kg)
{
    return (struct hanging_mass){
        .mass_kg = mass_kg,
        .u_mass_kg = u_mass_kg,
        .mass_density_kg_m3 = 8000.0,
        .u_mass_density_kg_m3 = 800.0,
        .air_density_kg_m3 = 1.2,
        .u_air_density_kg_m3 = 0.06,
    };
}

struct hanging_force gravity_force(const struct hanging_mass *mass, struct gravity gravity)
{
    assert(mass->mass_density_kg_m3 > mass->air_density_kg_m3 && mass->air_density_kg_m3 >= 0.0);
    double buoyancy = mass->air_density_kg_m3 / mass->mass_density_kg_m3;
    double share = 1.0 - buoyancy;
    double u_buoyancy = hypot(mass->u_air_density_kg_m3 / mass->mass_density_kg_m3,
                              buoyancy * mass->u_mass_density_kg_m3 / mass->mass_density_kg_m3);
    double weight_n = mass->mass_kg * gravity.m_s2;
    double u_n =
        hypot(mass->u_mass_kg * gravity.m_s2 * share, mass->mass_kg * gravity.u_m_s2 * share);
    return (struct hanging_force){
        .force_n = weight_n * share,
        .u_force_n = hypot(u_n, weight_n * u_buoyancy),
    };
}
