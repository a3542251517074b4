/*
 * utf8: is a text valid UTF-8 (Unicode 15, table 3-7), and which code point stands here.
 */
#ifndef PULLCURVE_BASE_UTF8_H
#define PULLCURVE_BASE_UTF8_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Decodes the code point at text[0..length), length > 0. Returns the bytes it takes (1..4), or 0
 * where the bytes there are not valid UTF-8 (then skip one). */
size_t utf8_decode(const char *text, size_t length, uint32_t *code_point);

/* Is the whole of text[0..length) valid? */
bool utf8_valid(const char *text, size_t length);

#endif
