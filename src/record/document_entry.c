#include "base/mem.h"
#include "record/document_private.h"

#include <math.h>

json_t *calibration_to_json(const struct record_calibration *calibration)
{
    json_t *object = json_object();
    fields_to_json(object, calibration_fields, calibration);
    document_put(object, "n_terms", json_integer((json_int_t)calibration->n_terms));
    json_t *points = json_array();
    for (size_t i = 0; i < calibration->n_points; i++) {
        json_t *point = json_object();
        fields_to_json(point, calibration_point_fields, &calibration->points[i]);
        document_add(points, point);
    }
    document_put(object, "points", points);
    return object;
}

enum status calibration_from_json(const json_t *object, struct record_calibration *calibration,
                                  struct err *err)
{
    *calibration = (struct record_calibration){0};
    json_t *points;
    int64_t n_terms;
    enum status status = fields_from_json(object, calibration_fields, calibration, err);
    if (status == STATUS_OK)
        status = json_take_int(json_object_get(object, "n_terms"), "n_terms", 2, 3, &n_terms, err);
    if (status == STATUS_OK)
        status = json_take_array(object, "points", &points, err);
    if (status != STATUS_OK)
        return status;
    calibration->n_terms = (size_t)n_terms;
    calibration->n_points = json_array_size(points);
    calibration->points = mem_calloc(calibration->n_points, sizeof *calibration->points);
    for (size_t i = 0; status == STATUS_OK && i < calibration->n_points; i++)
        status = fields_from_json(json_array_get(points, i), calibration_point_fields,
                                  &calibration->points[i], err);
    return status;
}

json_t *capture_to_json(const struct record_capture *capture)
{
    json_t *object = json_object();
    fields_to_json(object, capture_fields, capture);
    document_put(object, "brace_m", capture->has_brace ? json_real(capture->brace_m) : json_null());
    document_put(object, "fixture", fixture_to_json(&capture->fixture));
    json_t *end = capture->state == CAPTURE_OPEN ? json_null() : json_object();
    if (capture->state != CAPTURE_OPEN)
        fields_to_json(end, capture_end_fields, capture);
    document_put(object, "end", end);
    return object;
}

enum status capture_from_json(const json_t *object, struct record_capture *capture, struct err *err)
{
    *capture = (struct record_capture){0};
    enum status status = fields_from_json(object, capture_fields, capture, err);
    const json_t *brace = json_object_get(object, "brace_m"), *end = json_object_get(object, "end");
    if (status == STATUS_OK && !json_is_null(brace) && !json_is_number(brace))
        status = err_set(err, STATUS_BAD_INPUT, "'brace_m' is missing or is not a number");
    if (status == STATUS_OK && json_is_number(brace)) {
        capture->has_brace = true;
        capture->brace_m = json_number_value(brace);
    }
    if (status == STATUS_OK)
        status = fixture_from_json(json_object_get(object, "fixture"), &capture->fixture, err);
    if (status == STATUS_OK && !json_is_null(end) && !json_is_object(end))
        status = err_set(err, STATUS_BAD_INPUT, "'end' is missing or is neither null nor {...}");
    if (status == STATUS_OK && json_is_object(end))
        status = fields_from_json(end, capture_end_fields, capture, err);
    return status;
}
