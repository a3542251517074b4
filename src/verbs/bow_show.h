/*
 * bow_show: what the record knows of bows, for people and as JSON.
 */
#ifndef PULLCURVE_VERBS_BOW_SHOW_H
#define PULLCURVE_VERBS_BOW_SHOW_H

#include "base/buf.h"
#include "record/record.h"
#include "show/shown.h"

#include <jansson.h>
#include <stddef.h>

/* Adds one statement about a bow, a line for each thing that is known. */
void bow_text(struct buf *out, const struct record_bow *bow, enum unit_system units);

/* The same as a JSON object; what is not known is null. */
json_t *bow_json(const struct record_bow *bow, enum unit_system units);

/* Adds a table of bows. */
void bow_list_text(struct buf *out, const struct record_bow *bows, size_t n,
                   enum unit_system units);

#endif
