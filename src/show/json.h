/*
 * json: a tree of jansson's as text, with numbers as short as they can be and still read back
 * exactly (jansson itself always writes 17 digits).
 */
#ifndef PULLCURVE_SHOW_JSON_H
#define PULLCURVE_SHOW_JSON_H

#include "base/buf.h"

#include <jansson.h>
#include <stdbool.h>

/* Adds the tree, indented by two, members in the order they were put in, and a line feed. */
void json_render(struct buf *out, const json_t *tree);

/* A string out of any text: bytes that are no UTF-8 become U+FFFD. "" for NULL. */
json_t *json_text(const char *text);

/* A number, or null where has is false or the value is not finite. */
json_t *json_number_or_null(bool has, double value);

/* Puts value under key and takes it over. The tree is made of known parts, so that this can only
 * fail for want of memory, which ends the program. */
void json_put(json_t *object, const char *key, json_t *value);

/* Appends to an array, the same way. */
void json_add(json_t *array, json_t *value);

#endif
