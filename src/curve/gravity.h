/*
 * gravity: local gravity, and the force of a mass that hangs in air.
 *
 * Normal gravity of the WGS 84 ellipsoid (Somigliana's closed form, NIMA TR8350.2 equation 4-1)
 * carried to a height by the second-order free-air formula (equation 4-3). The ground below makes
 * true gravity differ from it: gravity_normal_u.
 */
#ifndef PULLCURVE_CURVE_GRAVITY_H
#define PULLCURVE_CURVE_GRAVITY_H

/* m/s2 at a geodetic latitude (-90..90 degrees) and a height above the ellipsoid (-1000..10000 m;
 * height above sea level will do, it differs by less than 110 m or 0.0004 m/s2). */
double gravity_normal(double latitude_deg, double height_m);

/* Standard uncertainty of gravity_normal as local gravity, m/s2: that of latitude and height, and
 * 0.0005 m/s2 for what lies in the ground (the usual size of free-air anomalies; from memory). */
double gravity_normal_u(double latitude_deg, double height_m, double u_latitude_deg,
                        double u_height_m);

/* What is known where no place is stated: standard gravity, and as u the whole range on the earth's
 * surface at sea level, 9.780 to 9.832 m/s2, taken as rectangular. */
struct gravity {
    double m_s2;
    double u_m_s2;
};

struct gravity gravity_unknown_place(void);

/* A mass that hangs in air: F = m g (1 - air density / mass density). */
struct hanging_mass {
    double mass_kg, u_mass_kg;
    double mass_density_kg_m3; /* 8000: steel, and what conventional mass is referred to */
    double u_mass_density_kg_m3;
    double air_density_kg_m3; /* 1.2 */
    double u_air_density_kg_m3;
};

/* The usual surroundings: densities 8000 and 1.2 kg/m3, known to 10 % and to 5 % (1 sd). */
struct hanging_mass gravity_mass(double mass_kg, double u_mass_kg);

struct hanging_force {
    double force_n;
    double u_force_n;
};

/* Its force on the hook. Densities > 0, air thinner than the mass (asserted). */
struct hanging_force gravity_force(const struct hanging_mass *mass, struct gravity gravity);

#endif
