#include "bench/simdesign.h"
#include "base/ini.h"
#include "base/mem.h"
#include "base/units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FOR_COMPOUND = 1, FOR_RECURVE = 2, FOR_BOTH = 3, FOR_STOPS = 4 };

/* One number of the file. low, high and absent are in `unit`; absent NAN: it must be there. */
struct key {
    const char *section, *name;
    size_t offset;
    enum unit unit;
    double low, high, absent;
    unsigned used_by;
};

static const double degree = M_PI / 180.0;

#define FIELD(name) offsetof(struct simdesign, name)

static const struct key keys[] = {
    {"geometry", "axle_to_axle", FIELD(axle_to_axle_m), UNIT_IN, 15, 80, NAN, FOR_BOTH},
    {"geometry", "brace_height", FIELD(brace_m), UNIT_IN, 3, 12, NAN, FOR_BOTH},
    {"geometry", "hinge_x", FIELD(hinge_x_m), UNIT_IN, -10, 10, NAN, FOR_BOTH},
    {"geometry", "hinge_y", FIELD(hinge_y_m), UNIT_IN, 3, 30, NAN, FOR_BOTH},
    {"geometry", "cam_angle_deg", FIELD(cam_angle_rad), UNIT_NONE, -180, 180, 0, FOR_COMPOUND},
    {"geometry", "full_draw", FIELD(full_draw_m), UNIT_IN, 12, 40, NAN, FOR_RECURVE},
    {"limb", "tip_stiffness", FIELD(tip_stiffness_n_per_m), UNIT_LBF_PER_IN, 0.1, 500, NAN,
     FOR_BOTH},
    {"limb", "tip_preload", FIELD(tip_preload_m), UNIT_IN, 0.1, 30, NAN, FOR_BOTH},
    {"limb", "bolt_deg_per_turn", FIELD(bolt_rad_per_turn), UNIT_NONE, 0, 5, 0, FOR_BOTH},
    {"limb", "bolt_arm", FIELD(bolt_arm_m), UNIT_IN, 0, 6, 0, FOR_BOTH},
    {"limb", "bolt_turns_low", FIELD(bolt_turns_low), UNIT_NONE, -20, 0, 0, FOR_BOTH},
    {"limb", "bolt_turns_high", FIELD(bolt_turns_high), UNIT_NONE, 0, 20, 0, FOR_BOTH},
    {"setting", "nominal", FIELD(setting_m), UNIT_IN, 12, 40, NAN, FOR_COMPOUND},
    {"setting", "low", FIELD(setting_low_m), UNIT_IN, 12, 40, NAN, FOR_COMPOUND},
    {"setting", "high", FIELD(setting_high_m), UNIT_IN, 12, 40, NAN, FOR_COMPOUND},
    {"setting", "module_deg_per_in", FIELD(module_rad_per_m), UNIT_NONE, 0, 60, NAN, FOR_COMPOUND},
    {"stops", "angle_deg", FIELD(stop_rad), UNIT_NONE, 30, 330, NAN, FOR_STOPS},
    {"stops", "stiffness", FIELD(stop_stiffness_n_per_m), UNIT_LBF_PER_IN, 10, 20000, NAN,
     FOR_STOPS},
    {"stops", "radius", FIELD(stop_radius_m), UNIT_IN, 0.2, 4, NAN, FOR_STOPS},
    {"string", "twist_shortening", FIELD(string_twist_m), UNIT_IN, 0, 0.5, 0, FOR_BOTH},
    {"cable", "twist_shortening", FIELD(cable_twist_m), UNIT_IN, 0, 0.5, 0, FOR_COMPOUND},
    {"friction", "axle_radius", FIELD(axle_radius_m), UNIT_IN, 0, 1, 0, FOR_COMPOUND},
    {"friction", "axle_coefficient", FIELD(axle_friction), UNIT_NONE, 0, 0.5, 0, FOR_COMPOUND},
    {"friction", "limb_loss", FIELD(limb_loss), UNIT_NONE, 0, 0.2, 0, FOR_BOTH},
    {"friction", "presliding", FIELD(presliding_m), UNIT_MM, 0.05, 10, 1, FOR_BOTH},
};

static double *field(struct simdesign *design, const struct key *key)
{
    return (double *)(void *)((char *)design + key->offset);
}

static enum status read_numbers(struct ini *ini, struct simdesign *design, struct err *err)
{
    unsigned used = design->kind == SIMDESIGN_COMPOUND ? FOR_COMPOUND : FOR_RECURVE;
    if (design->has_stops)
        used |= FOR_STOPS;
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        const struct key *key = &keys[i];
        if ((key->used_by & used) == 0)
            continue;
        enum status status =
            ini_quantity(ini, key->section, key->name, unit_quantity(key->unit), key->unit,
                         unit_to_si(key->unit, key->low), unit_to_si(key->unit, key->high),
                         unit_to_si(key->unit, key->absent), field(design, key), err);
        if (status != STATUS_OK)
            return status;
    }
    design->cam_angle_rad *= degree;
    design->bolt_rad_per_turn *= degree;
    design->stop_rad *= degree;
    design->module_rad_per_m *= degree / unit_to_si(UNIT_IN, 1.0);
    return STATUS_OK;
}

static enum status read_circle(struct ini *ini, const char *section, struct simtrack **track,
                               struct err *err)
{
    double radius_m = 0.0, eccentricity_m = 0.0, toward_deg = 0.0, end_deg = 0.0;
    double in = unit_to_si(UNIT_IN, 1.0);
    bool has_end = ini_line(ini, section, "end_deg") > 0;
    enum status status = ini_quantity(ini, section, "radius", QUANTITY_LENGTH, UNIT_IN, 0.05 * in,
                                      20 * in, NAN, &radius_m, err);
    if (status == STATUS_OK)
        status = ini_quantity(ini, section, "eccentricity", QUANTITY_LENGTH, UNIT_IN, 0.0, 20 * in,
                              0.0, &eccentricity_m, err);
    if (status == STATUS_OK)
        status = ini_quantity(ini, section, "toward_deg", QUANTITY_NONE, UNIT_NONE, -360, 360, 0.0,
                              &toward_deg, err);
    if (status == STATUS_OK)
        status = ini_quantity(ini, section, "end_deg", QUANTITY_NONE, UNIT_NONE, -360, 720, 0.0,
                              &end_deg, err);
    if (status != STATUS_OK)
        return status;
    struct err why;
    status = simtrack_open_circle(track, radius_m, eccentricity_m, toward_deg * degree, has_end,
                                  end_deg * degree, &why);
    return status == STATUS_OK ? status : ini_fault(ini, section, "radius", err, "%s", why.text);
}

static enum status read_table(struct ini *ini, const char *section, struct simtrack **track,
                              struct err *err)
{
    double *normal_deg = NULL, *lever_in = NULL;
    size_t n_normal = 0, n_lever = 0;
    enum status status = ini_list(ini, section, "normal_deg", &normal_deg, &n_normal, err);
    if (status == STATUS_OK)
        status = ini_list(ini, section, "lever_in", &lever_in, &n_lever, err);
    if (status == STATUS_OK && n_normal != n_lever)
        status =
            ini_fault(ini, section, "lever_in", err,
                      "has %zu entries, normal_deg has %zu; they go in pairs", n_lever, n_normal);
    if (status == STATUS_OK) {
        for (size_t i = 0; i < n_normal; i++) {
            normal_deg[i] *= degree;
            lever_in[i] = unit_to_si(UNIT_IN, lever_in[i]);
        }
        struct err why;
        if (simtrack_open_table(track, normal_deg, lever_in, n_normal, &why) != STATUS_OK)
            status = ini_fault(ini, section, "lever_in", err, "%s", why.text);
    }
    free(normal_deg);
    free(lever_in);
    return status;
}

static enum status read_track(struct ini *ini, const char *section, struct simtrack **track,
                              struct err *err)
{
    if (ini_line(ini, section, "radius") > 0)
        return read_circle(ini, section, track, err);
    if (ini_line(ini, section, "lever_in") > 0)
        return read_table(ini, section, track, err);
    return ini_fault(ini, section, "lever_in", err,
                     "is missing; a track is normal_deg with lever_in, or radius");
}

static enum status read_kind(struct ini *ini, struct simdesign *design, struct err *err)
{
    const char *name = ini_text(ini, "bow", "name"), *kind = ini_text(ini, "bow", "kind");
    if (name == NULL || name[0] == '\0')
        return ini_fault(ini, "bow", "name", err, "is missing and needed");
    design->name = mem_strdup(name);
    if (kind != NULL && strcmp(kind, "compound") == 0)
        design->kind = SIMDESIGN_COMPOUND;
    else if (kind != NULL && strcmp(kind, "recurve") == 0)
        design->kind = SIMDESIGN_RECURVE;
    else
        return ini_fault(ini, "bow", "kind", err, "must be compound or recurve");
    design->has_stops = design->kind == SIMDESIGN_COMPOUND && ini_has_section(ini, "stops");
    return STATUS_OK;
}

static enum status check_sense(struct ini *ini, const struct simdesign *design, struct err *err)
{
    if (design->hinge_y_m >= design->axle_to_axle_m / 2.0)
        return ini_fault(ini, "geometry", "hinge_y", err,
                         "must be less than half of axle_to_axle: the limbs lie outside of it");
    if (design->kind == SIMDESIGN_RECURVE)
        return STATUS_OK;
    if (!(design->setting_low_m <= design->setting_m) ||
        !(design->setting_m <= design->setting_high_m))
        return ini_fault(ini, "setting", "nominal", err, "must lie between low and high");
    return STATUS_OK;
}

static enum status read_all(struct ini *ini, struct simdesign *design, struct err *err)
{
    enum status status = read_kind(ini, design, err);
    if (status == STATUS_OK)
        status = read_numbers(ini, design, err);
    if (status == STATUS_OK)
        status = read_track(ini, "string_track", &design->string_track, err);
    if (status == STATUS_OK && design->kind == SIMDESIGN_COMPOUND)
        status = read_track(ini, "cable_track", &design->cable_track, err);
    if (status == STATUS_OK)
        status = check_sense(ini, design, err);
    if (status == STATUS_OK)
        status = ini_check_all_known(ini, err);
    return status;
}

enum status simdesign_open(struct simdesign **out, const char *path, struct err *err)
{
    *out = NULL;
    struct ini *ini = NULL;
    enum status status = ini_open(&ini, path, err);
    if (status != STATUS_OK)
        return status;
    struct simdesign *design = mem_calloc(1, sizeof *design);
    status = read_all(ini, design, err);
    ini_close(ini);
    if (status == STATUS_OK)
        *out = design;
    else
        simdesign_close(design);
    return status;
}

void simdesign_close(struct simdesign *design)
{
    if (design == NULL)
        return;
    free(design->name);
    simtrack_close(design->string_track);
    simtrack_close(design->cable_track);
    free(design);
}
