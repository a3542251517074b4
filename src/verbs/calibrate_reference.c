#include "verbs/calibrate_reference.h"

#include "base/number.h"

#include <math.h>
#include <string.h>

/* How well a place is usually stated. */
static const double u_latitude_deg = 0.05, u_height_m = 10.0;

/* A number that was typed is right to half its last digit: a rectangular distribution. */
static double u_of_digits(const char *text)
{
    const char *mark = strchr(text, '.');
    double step = 1.0;
    for (const char *at = mark != NULL ? mark + 1 : ""; *at >= '0' && *at <= '9'; at++)
        step /= 10.0;
    return step / sqrt(12.0);
}

static enum status read_gravity(struct reference_settings *settings, const struct options *options,
                                struct err *err)
{
    const char *gravity = options_text(options, "gravity", NULL);
    double latitude_deg, height_m, value;
    enum status status = options_quantity(options, "latitude", QUANTITY_NONE, UNIT_NONE, -90.0,
                                          90.0, NAN, &latitude_deg, err);
    if (status == STATUS_OK)
        status = options_quantity(options, "height", QUANTITY_LENGTH, UNIT_M, -500.0, 9000.0, NAN,
                                  &height_m, err);
    if (status == STATUS_OK)
        status = options_quantity(options, "gravity", QUANTITY_NONE, UNIT_NONE, 9.7, 9.9, NAN,
                                  &value, err);
    if (status != STATUS_OK)
        return status;
    bool has_latitude = !isnan(latitude_deg), has_height = !isnan(height_m);
    if (gravity != NULL && (has_latitude || has_height))
        return err_set(err, STATUS_USAGE, "--gravity or --latitude with --height, not both");
    if (has_height && !has_latitude)
        return err_set(err, STATUS_USAGE, "--height says nothing without --latitude");
    settings->place_stated = gravity != NULL || has_latitude;
    settings->gravity = gravity_unknown_place();
    if (gravity != NULL)
        settings->gravity = (struct gravity){.m_s2 = value, .u_m_s2 = u_of_digits(gravity)};
    if (has_latitude)
        settings->gravity = (struct gravity){
            .m_s2 = gravity_normal(latitude_deg, has_height ? height_m : 0.0),
            /* without a height: somewhere between the sea and a mountain town */
            .u_m_s2 = gravity_normal_u(latitude_deg, has_height ? height_m : 0.0, u_latitude_deg,
                                       has_height ? u_height_m : 1000.0),
        };
    return STATUS_OK;
}

enum status reference_settings_read(struct reference_settings *settings,
                                    const struct options *options, struct err *err)
{
    *settings = (struct reference_settings){
        .masses = options_has(options, "masses"),
        .u_text = options_text(options, "u-reference", NULL),
    };
    struct hanging_mass usual = gravity_mass(1.0, 0.0);
    enum status status = read_gravity(settings, options, err);
    if (status == STATUS_OK)
        status = options_quantity(options, "mass-density", QUANTITY_NONE, UNIT_NONE, 500.0, 25000.0,
                                  usual.mass_density_kg_m3, &settings->mass_density_kg_m3, err);
    if (status == STATUS_OK)
        status = options_quantity(options, "air-density", QUANTITY_NONE, UNIT_NONE, 0.5, 1.6,
                                  usual.air_density_kg_m3, &settings->air_density_kg_m3, err);
    return status;
}

enum status reference_unit(const struct reference_settings *settings, enum unit stated,
                           enum unit *unit, struct err *err)
{
    *unit = stated;
    if (!settings->masses || unit_quantity(stated) != QUANTITY_FORCE)
        return STATUS_OK;
    if (stated == UNIT_LBF)
        *unit = UNIT_LB;
    else if (stated == UNIT_KGF)
        *unit = UNIT_KG;
    else
        return err_set(err, STATUS_USAGE,
                       "--masses: weights are marked in lb or kg, but the loads are stated in %s",
                       unit_name(stated));
    return STATUS_OK;
}

enum status reference_u(const char *u_text, const char *what, enum unit unit, double value_si,
                        double *u_si, struct err *err)
{
    *u_si = 0.0;
    if (u_text == NULL)
        return STATUS_OK;
    bool share = strchr(u_text, '%') != NULL;
    double u = 0.0;
    enum status status =
        number_parse_quantity(u_text, share ? QUANTITY_PERCENT : unit_quantity(unit),
                              share ? UNIT_PERCENT : unit, what, &u, err);
    if (status != STATUS_OK)
        return status;
    if (!(u >= 0.0))
        return err_set(err, STATUS_USAGE, "%s: '%s' must be 0 or more", what, u_text);
    if (share)
        *u_si = fabs(value_si) * u / 100.0;
    else if (fabs(value_si) > 0.0)
        *u_si = u;
    return STATUS_OK;
}

struct calibration_point reference_point(const struct reference_settings *settings,
                                         enum quantity quantity, double value_si, double u_si)
{
    if (quantity != QUANTITY_MASS)
        return (struct calibration_point){.reference_si = value_si, .u_reference_si = u_si};
    struct hanging_mass mass = gravity_mass(value_si, u_si);
    mass.mass_density_kg_m3 = settings->mass_density_kg_m3;
    mass.u_mass_density_kg_m3 = 0.1 * settings->mass_density_kg_m3;
    mass.air_density_kg_m3 = settings->air_density_kg_m3;
    mass.u_air_density_kg_m3 = 0.05 * settings->air_density_kg_m3;
    struct hanging_force force = gravity_force(&mass, settings->gravity);
    return (struct calibration_point){.reference_si = force.force_n,
                                      .u_reference_si = force.u_force_n};
}
