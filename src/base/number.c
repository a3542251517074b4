#include "base/number.h"

#include <assert.h>
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { EXACT_DIGITS_MAX = 15, EXACT_POWER_MAX = 22, COPY_MAX = 800, PLAIN_DIGITS_MAX = 19 };

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
    int64_t exponent;         /* of ten, to be applied to `digits` */
    int64_t written_exponent; /* behind the 'e', 0 where there is none */
    const char *stop;         /* behind the number */
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
    d->written_exponent = negative ? -exponent : exponent;
    d->exponent += d->written_exponent;
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

/* Every digit counts here: strtod on a copy without a mark. Digits behind the 770th are cut off and
 * stand as one '1' if they are more than nothing: the longest decimal that lies half-way between
 * two doubles has 767 digits, so all that counts of the rest is whether there is any. */
static bool convert_slowly(const char *text, const struct decimal *d, char mark, double *value)
{
    char copy[COPY_MAX + 32];
    size_t used = 0, significant = 0;
    int64_t dropped = 0;
    bool after_mark = false, more = false;
    for (const char *at = text; at < d->stop && *at != 'e' && *at != 'E'; at++) {
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
                more = more || *at != '0';
                continue;
            }
        }
        copy[used++] = *at;
    }
    if (significant == 0)
        copy[used++] = '0';
    if (more) {
        copy[used++] = '1';
        dropped--;
    }
    (void)snprintf(copy + used, sizeof copy - used, "e%" PRId64, d->written_exponent + dropped);
    double result = strtod(copy, NULL);
    if (!isfinite(result))
        return false;
    *value = result;
    return true;
}

/* digits / 10^decimals to the nearest double: an integer division whose remainder only has to be
 * zero or not, and one rounding. digits > 0, decimals <= 19. */
#ifdef __SIZEOF_INT128__
static bool divide_exactly(uint64_t digits, int decimals, double *value)
{
    static const uint64_t power[PLAIN_DIGITS_MAX + 1] = {
        1u,
        10u,
        100u,
        1000u,
        10000u,
        100000u,
        1000000u,
        10000000u,
        100000000u,
        1000000000u,
        10000000000u,
        100000000000u,
        1000000000000u,
        10000000000000u,
        100000000000000u,
        1000000000000000u,
        10000000000000000u,
        100000000000000000u,
        1000000000000000000u,
        10000000000000000000u,
    };
    __extension__ typedef unsigned __int128 wide;
    int lead = __builtin_clzll(digits);
    wide numerator = (wide)(digits << lead) << 64;
    wide quotient = numerator / power[decimals]; /* at least 63 bits, so its last one can tell */
    quotient |= quotient * power[decimals] != numerator;
    *value = ldexp((double)quotient, -64 - lead);
    return true;
}
#else
static bool divide_exactly(uint64_t digits, int decimals, double *value)
{
    (void)digits, (void)decimals, (void)value;
    return false;
}
#endif

/* The common number: at most 19 digits and no exponent. NULL: take the general way. Branches on
 * each character are the fast way here: they are foretold, where a length that is computed from the
 * bytes holds up the number behind. */
static const char *scan_plain(const char *text, const char *end, char mark, double *value)
{
    const char *at = text;
    bool negative = at < end && *at == '-';
    at += negative || (at < end && *at == '+');
    uint64_t digits = 0;
    const char *whole = at;
    for (; at < end && is_digit(*at); at++)
        digits = digits * 10 + (uint64_t)(*at - '0');
    ptrdiff_t n = at - whole, decimals = 0;
    if (at < end && *at == mark) {
        const char *part = ++at;
        for (; at < end && is_digit(*at); at++)
            digits = digits * 10 + (uint64_t)(*at - '0');
        decimals = at - part;
    }
    n += decimals;
    if (n == 0 || n > PLAIN_DIGITS_MAX || (at < end && (*at == 'e' || *at == 'E')))
        return NULL;
    /* Clinger's fast path: a whole number up to 2^53 over an exact power of ten is one correctly
     * rounded operation (W. D. Clinger, How to read floating point numbers accurately, 1990). */
    double magnitude = (double)digits / power_of_ten[decimals];
    if (digits > UINT64_C(1) << 53 && !divide_exactly(digits, (int)decimals, &magnitude))
        return NULL;
    *value = negative ? -magnitude : magnitude;
    return at;
}

/* Kept out of number_scan, which then needs hardly a register saved. */
__attribute__((noinline)) static const char *scan_general(const char *text, const char *end,
                                                          char mark, double *value)
{
    struct decimal d = scan_decimal(text, end, mark);
    if (!d.any_digit)
        return NULL;
    if (d.n_significant <= EXACT_DIGITS_MAX && d.exponent >= -EXACT_POWER_MAX &&
        d.exponent <= EXACT_POWER_MAX) {
        double magnitude = (double)d.digits;
        magnitude = d.exponent < 0 ? magnitude / power_of_ten[-d.exponent]
                                   : magnitude * power_of_ten[d.exponent];
        *value = d.negative ? -magnitude : magnitude;
        return d.stop;
    }
    return convert_slowly(text, &d, mark, value) ? d.stop : NULL;
}

const char *number_scan(const char *text, const char *end, char mark, double *value)
{
    const char *stop = scan_plain(text, end, mark, value);
    return stop != NULL ? stop : scan_general(text, end, mark, value);
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

const char *number_outside(char text[NUMBER_OUTSIDE_MAX], enum unit unit, double low_si,
                           double high_si)
{
    double low = unit_from_si(unit, low_si), high = unit_from_si(unit, high_si);
    const char *blank = unit == UNIT_NONE ? "" : " ", *name = unit_name(unit);
    if (isinf(high))
        (void)snprintf(text, NUMBER_OUTSIDE_MAX, "is below %.6g%s%s", low, blank, name);
    else if (isinf(low))
        (void)snprintf(text, NUMBER_OUTSIDE_MAX, "is above %.6g%s%s", high, blank, name);
    else
        (void)snprintf(text, NUMBER_OUTSIDE_MAX, "is outside of %.6g to %.6g%s%s", low, high, blank,
                       name);
    return text;
}

/* printf writes the decimal mark of the locale, of one byte or more. */
static void plain_mark(char *text)
{
    char *mark = text + strspn(text, "-0123456789");
    if (*mark == '\0' || *mark == 'e' || *mark == '.')
        return;
    const char *behind = mark + strcspn(mark, "0123456789");
    *mark = '.';
    memmove(mark + 1, behind, strlen(behind) + 1);
}

const char *number_exact(char text[NUMBER_TEXT_MAX], double value)
{
    assert(isfinite(value));
    for (int digits = 15; digits <= 17; digits++) {
        double again;
        (void)snprintf(text, NUMBER_TEXT_MAX, "%.*g", digits, value);
        plain_mark(text);
        if (number_parse(text, &again) && again == value)
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
    plain_mark(text);
    if (text[0] == '-' && strspn(text + 1, "0.") == strlen(text + 1))
        memmove(text, text + 1, strlen(text));
    return text;
}
