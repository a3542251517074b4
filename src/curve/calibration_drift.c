#include "curve/calibration_drift.h"

#include "curve/interval.h"

#include <assert.h>
#include <math.h>
#include <string.h>

enum status calibration_drift_at(const struct calibration *previous,
                                 const struct calibration *current, double value_si,
                                 struct calibration_drift *drift, struct err *err)
{
    assert(previous->quantity == current->quantity);
    struct calibration_inverse inverse;
    enum status status = calibration_invert(current, value_si, 0.95, &inverse, err);
    if (status != STATUS_OK)
        return status;
    const double u[2] = {calibration_u(previous, inverse.count),
                         calibration_u(current, inverse.count)};
    const double dof[2] = {previous->dof > 0 ? (double)previous->dof : INFINITY,
                           current->dof > 0 ? (double)current->dof : INFINITY};
    *drift = (struct calibration_drift){
        .value_si = value_si,
        .count = inverse.count,
        .difference_si = calibration_value(previous, inverse.count) - value_si,
        .u_si = hypot(u[0], u[1]),
    };
    drift->has_u = drift->u_si > 0.0;
    if (!drift->has_u)
        return STATUS_OK;
    struct interval interval = interval_student(drift->difference_si, drift->u_si,
                                                interval_effective_dof(u, dof, 2), 0.95);
    drift->low_si = interval.low;
    drift->high_si = interval.high;
    drift->significant = interval.low > 0.0 || interval.high < 0.0;
    return STATUS_OK;
}

/* --- dates ---------------------------------------------------------------------------------- */

struct date {
    int year, month, day;
};

static int days_of_month(int year, int month)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return days[month - 1] + (month == 2 && leap);
}

static bool read_digits(const char *text, int n, int *value)
{
    *value = 0;
    for (int i = 0; i < n; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        *value = 10 * *value + (text[i] - '0');
    }
    return true;
}

static bool read_date(const char *text, struct date *date)
{
    return strlen(text) >= 10 && read_digits(text, 4, &date->year) && text[4] == '-' &&
           read_digits(text + 5, 2, &date->month) && text[7] == '-' &&
           read_digits(text + 8, 2, &date->day) && !(text[10] >= '0' && text[10] <= '9') &&
           date->year >= 1583 && date->month >= 1 && date->month <= 12 && date->day >= 1 &&
           date->day <= days_of_month(date->year, date->month);
}

static void write_digits(char *text, int n, int value)
{
    for (int i = n; i-- > 0; value /= 10)
        text[i] = (char)('0' + value % 10);
}

bool calibration_due(const char *made_at, int months, char due[CALIBRATION_DATE_SIZE])
{
    assert(months >= 1 && months <= 1200);
    struct date date;
    due[0] = '\0';
    if (!read_date(made_at, &date))
        return false;
    int month = date.month - 1 + months;
    date.year += month / 12;
    date.month = month % 12 + 1;
    if (date.year > 9999)
        return false;
    int last = days_of_month(date.year, date.month);
    if (date.day > last)
        date.day = last;
    memcpy(due, "0000-00-00", CALIBRATION_DATE_SIZE);
    write_digits(due, 4, date.year);
    write_digits(due + 5, 2, date.month);
    write_digits(due + 8, 2, date.day);
    return true;
}

/* Days since 1 March of year 0, the year begun with March so that leap days come last. */
static long day_number(const struct date *date)
{
    long year = date->month > 2 ? date->year : date->year - 1;
    long month = (date->month + 9) % 12;
    return 365 * year + year / 4 - year / 100 + year / 400 + (153 * month + 2) / 5 + date->day - 1;
}

bool calibration_days_between(const char *from, const char *to, long *days)
{
    struct date first, second;
    if (!read_date(from, &first) || !read_date(to, &second))
        return false;
    *days = day_number(&second) - day_number(&first);
    return true;
}
