#include "curve/gravity.h"

#include "base/units.h"
#include "check.h"

static void normal_gravity_has_the_ellipsoids_values(void **state)
{
    (void)state;
    /* NIMA TR8350.2 table 3.4 (WGS 84): gravity at the equator and at the poles; from memory */
    check_near(gravity_normal(0.0, 0.0), 9.7803253359, 1e-10);
    check_near(gravity_normal(90.0, 0.0), 9.8321849378, 2e-10);
    check_near(gravity_normal(-90.0, 0.0), 9.8321849378, 2e-10);
    /* normal gravity at 45 degrees, 9.80620 m/s2 (GRS 80: 9.806 199 203; from memory) */
    check_near(gravity_normal(45.0, 0.0), 9.80620, 0.000005);
    check_near(gravity_normal(-45.0, 0.0), gravity_normal(45.0, 0.0), 1e-12);
}

static void gravity_falls_with_height_as_the_free_air_rule_says(void **state)
{
    (void)state;
    /* the free-air gradient, 0.3086 mGal/m: any textbook of geodesy */
    check_near(gravity_normal(45.0, 0.0) - gravity_normal(45.0, 1000.0), 0.003086, 0.000002);
    /* and exactly: g of a sphere falls as 1/r^2, to second order 1 - 2 h/a + 3 h^2/a^2 */
    double bend = gravity_normal(45.0, 2000.0) - 2.0 * gravity_normal(45.0, 1000.0) +
                  gravity_normal(45.0, 0.0);
    check_near(bend / (6.0 * 9.8062 * 1e6 / (6378137.0 * 6378137.0)), 1.0, 0.001);
}

static void known_places_lie_within_the_stated_uncertainty(void **state)
{
    (void)state;
    /* Absolute values published for two national laboratories' sites; from memory, to 5 digits:
     * Braunschweig 9.81252 (52.29 N, 75 m), Boulder 9.79608 (40.13 N, 1680 m) */
    check_near(gravity_normal(52.29, 75.0), 9.81252, 2.0 * gravity_normal_u(52.29, 75.0, 0, 0));
    check_near(gravity_normal(40.13, 1680.0), 9.79608, 2.0 * gravity_normal_u(40.13, 1680.0, 0, 0));
}

static void uncertainty_of_the_place_is_carried(void **state)
{
    (void)state;
    double u = gravity_normal_u(45.0, 0.0, 0.1, 100.0);
    /* 0.0516 m/s2 sin(2 x 45 deg) per radian; 3.086e-6 m/s2 per metre */
    double latitude = 0.0518 * 0.1 * 3.14159265 / 180.0, height = 3.086e-4;
    check_near(u, sqrt(latitude * latitude + height * height + 0.0005 * 0.0005), 1e-6);
}

static void unknown_place_covers_the_whole_earth(void **state)
{
    (void)state;
    struct gravity gravity = gravity_unknown_place();
    check_near(gravity.m_s2, STANDARD_GRAVITY_M_S2, 0.0);
    check_near(gravity.u_m_s2, 0.015, 0.0005);
}

static void mass_in_air_weighs_a_little_less(void **state)
{
    (void)state;
    struct hanging_mass mass = gravity_mass(10.0, 0.0);
    struct hanging_force force = gravity_force(&mass, (struct gravity){9.81, 0.0});
    /* F = m g (1 - 1.2/8000): the 0.015 % of buoyancy that force laboratories correct for */
    check_near(force.force_n, 98.1 * (1.0 - 0.00015), 1e-12);
    /* cast iron of 7200 kg/m3 */
    mass.mass_density_kg_m3 = 7200.0;
    check_near(gravity_force(&mass, (struct gravity){9.81, 0.0}).force_n,
               98.1 * (1.0 - 1.2 / 7200.0), 1e-12);
}

static void uncertainty_of_the_force_is_that_of_its_parts(void **state)
{
    (void)state;
    struct hanging_mass mass = gravity_mass(20.0, 0.002);
    mass.u_mass_density_kg_m3 = 0.0;
    mass.u_air_density_kg_m3 = 0.0;
    struct hanging_force force = gravity_force(&mass, (struct gravity){9.80665, 0.0005});
    double relative = sqrt(0.0001 * 0.0001 + pow(0.0005 / 9.80665, 2.0));
    check_near(force.u_force_n / force.force_n, relative, 1e-12);
    mass = gravity_mass(20.0, 0.0);
    force = gravity_force(&mass, (struct gravity){9.80665, 0.0});
    /* 0.06/8000 and 1.2/8000 x 10 % */
    check_near(force.u_force_n / (20.0 * 9.80665), hypot(7.5e-6, 1.5e-5), 1e-12);
}

static void no_mass_has_no_force(void **state)
{
    (void)state;
    struct hanging_mass mass = gravity_mass(0.0, 0.0);
    struct hanging_force force = gravity_force(&mass, gravity_unknown_place());
    check_near(force.force_n, 0.0, 0.0);
    check_near(force.u_force_n, 0.0, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(normal_gravity_has_the_ellipsoids_values),
        cmocka_unit_test(gravity_falls_with_height_as_the_free_air_rule_says),
        cmocka_unit_test(known_places_lie_within_the_stated_uncertainty),
        cmocka_unit_test(uncertainty_of_the_place_is_carried),
        cmocka_unit_test(unknown_place_covers_the_whole_earth),
        cmocka_unit_test(mass_in_air_weighs_a_little_less),
        cmocka_unit_test(uncertainty_of_the_force_is_that_of_its_parts),
        cmocka_unit_test(no_mass_has_no_force),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
