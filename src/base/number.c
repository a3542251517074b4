#include "base/number.h"

#include <assert.h>
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { EXACT_DIGITS_MAX = 15, EXACT_POWER_MAX = 22, COPY_MAX = 800 };

static const double power_of_ten[EXACT_POWER_MAX + 1] = {
    1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
    1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* What a scan over the characters of a number found. */
struct decimal {
    bool negative;
    uint64_t digits; /* the first 15 significant ones as a whole number */
    int n_significant;
    bool any_digit;
    int64_t exponent; /* of ten, to be applied to `digits` */
    const char *stop; /* behind the number */
};

static void take_digit(struct decimal *d, char c, bool after_mark)
{
    d->any_digit = true;
    if (d->n_significant > 0 || c != '0')
        d->n_significant++;
    if (d->n_significant <= EXACT_DIGITS_MAX)
        d->digits = d->digits * 10 + (uint64_t)(c - '0');
    if (after_mark)
        d->exponent--;
}

/* The exponent part, if a whole one is there: "e" alone belongs to what follows the number. */
static void take_exponent(struct decimal *d, const char *at, const char *end)
{
    if (at >= end || (*at != 'e' && *at != 'E'))
        return;
    at++;
    bool negative = at < end && *at == '-';
    if (at < end && (*at == '-' || *at == '+'))
        at++;
    if (at >= end || !is_digit(*at))
        return;
    int64_t exponent = 0;
    for (; at < end && is_digit(*at); at++)
        if (exponent < 100000)
            exponent = exponent * 10 + (*at - '0');
    d->exponent += negative ? -exponent : exponent;
    d->stop = at;
}

static struct decimal scan_decimal(const char *text, const char *end, char mark)
{
    struct decimal d = {.negative = text < end && *text == '-'};
    const char *at = text;
    if (at < end && (*at == '-' || *at == '+'))
        at++;
    bool after_mark = false;
    for (; at < end; at++) {
        if (is_digit(*at))
            take_digit(&d, *at, after_mark);
        else if (*at == mark && !after_mark)
            after_mark = true;
        else
            break;
    }
    d.stop = at;
    if (d.any_digit)
        take_exponent(&d, at, end);
    return d;
}

/* Every digit counts here: strtod on a copy with '.' as its mark. Longer texts than COPY_MAX are
 * cut behind the 770th digit, past which no digit can change the nearest double (the longest
 * decimal that lies half-way between two doubles has 767). */
static bool convert_slowly(const char *text, const char *stop, char mark, double *value)
{
    char copy[COPY_MAX + 32];
    size_t used = 0, significant = 0;
    int64_t dropped = 0;
    bool after_mark = false;
    const char *at = text;
    for (; at < stop && *at != 'e' && *at != 'E'; at++) {
        if (*at == mark) {
            after_mark = true;
            continue;
        }
        if (is_digit(*at)) {
            if (significant > 0 || *at != '0')
                significant++;
            if (after_mark)
                dropped--;
            if (significant == 0)
                continue;
            if (significant > 770) {
                dropped++;
                continue;
            }
        }
        copy[used++] = *at;
    }
    int64_t exponent = at < stop ? strtoll(at + 1, NULL, 10) : 0;
    if (exponent > 1000000)
        exponent = 1000000;
    if (exponent < -1000000)
        exponent = -1000000;
    if (significant == 0)
        copy[used++] = '0';
    (void)snprintf(copy + used, sizeof copy - used, "e%" PRId64, exponent + dropped);
    double result = strtod(copy, NULL);
    if (!isfinite(result))
        return false;
    *value = result;
    return true;
}

const char *number_scan(const char *text, const char *end, char mark, double *value)
{
    struct decimal d = scan_decimal(text, end, mark);
    if (!d.any_digit)
        return NULL;
    /* Clinger's fast path: a whole number below 2^53 times or over an exact power of ten is one
     * correctly rounded operation (W. D. Clinger, How to read floating point numbers accurately,
     * 1990). */
    if (d.n_significant <= EXACT_DIGITS_MAX && d.exponent >= -EXACT_POWER_MAX &&
        d.exponent <= EXACT_POWER_MAX) {
        double magnitude = (double)d.digits;
        magnitude = d.exponent < 0 ? magnitude / power_of_ten[-d.exponent]
                                   : magnitude * power_of_ten[d.exponent];
        *value = d.negative ? -magnitude : magnitude;
        return d.stop;
    }
    return convert_slowly(text, d.stop, mark, value) ? d.stop : NULL;
}

static const char *skip_blanks(const char *at, const char *end)
{
    while (at < end && (*at == ' ' || *at == '\t' || *at == '\r' || *at == '\n'))
        at++;
    return at;
}

bool number_parse(const char *text, double *value)
{
    const char *end = text + strlen(text);
    double parsed;
    const char *stop = number_scan(skip_blanks(text, end), end, '.', &parsed);
    if (stop == NULL || skip_blanks(stop, end) != end)
        return false;
    *value = parsed;
    return true;
}

bool number_parse_int(const char *text, int64_t *value)
{
    const char *end = text + strlen(text);
    const char *at = skip_blanks(text, end);
    if (at == end || !(is_digit(*at) || *at == '-' || *at == '+'))
        return false;
    char *stop;
    errno = 0;
    long long parsed = strtoll(at, &stop, 10);
    if (errno != 0 || stop == at || skip_blanks(stop, end) != end)
        return false;
    *value = parsed;
    return true;
}

enum status number_parse_quantity(const char *text, enum quantity quantity, enum unit assumed,
                                  const char *what, double *value_si, struct err *err)
{
    const char *end = text + strlen(text);
    double value;
    const char *stop = number_scan(skip_blanks(text, end), end, '.', &value);
    if (stop == NULL)
        return err_set(err, STATUS_USAGE, "%s: '%s' is not a number; write it like 12.5%s%s", what,
                       text, assumed == UNIT_NONE ? "" : " ", unit_name(assumed));
    stop = skip_blanks(stop, end);
    while (end > stop && (end[-1] == ' ' || end[-1] == '\t'))
        end--;
    enum unit unit = assumed;
    if (stop < end &&
        (!unit_parse(stop, (size_t)(end - stop), &unit) || unit_quantity(unit) != quantity))
        return err_set(err, STATUS_USAGE,
                       "%s: '%.*s' in '%s' is not a unit that fits here; %s is what is assumed",
                       what, (int)(end - stop), stop, text, unit_name(assumed));
    *value_si = unit_to_si(unit, value);
    return STATUS_OK;
}

const char *number_exact(char text[NUMBER_TEXT_MAX], double value)
{
    assert(isfinite(value));
    for (int digits = 15; digits <= 17; digits++) {
        (void)snprintf(text, NUMBER_TEXT_MAX, "%.*g", digits, value);
        if (digits == 17 || strtod(text, NULL) == value)
            break;
    }
    return text;
}

const char *number_fixed(char text[NUMBER_TEXT_MAX], double value, int decimals)
{
    assert(isfinite(value) && decimals >= 0 && decimals <= 12);
    if (fabs(value) >= 1e20)
        return number_exact(text, value);
    (void)snprintf(text, NUMBER_TEXT_MAX, "%.*f", decimals, value);
    if (text[0] == '-' && strspn(text + 1, "0.") == strlen(text + 1))
        memmove(text, text + 1, strlen(text));
    return text;
}
