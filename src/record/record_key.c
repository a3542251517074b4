#include "record/record_private.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/random.h>
#include <time.h>

static bool is_hex(char c)
{
    return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f');
}

static bool is_dash_place(size_t i)
{
    return i == 8 || i == 13 || i == 18 || i == 23;
}

enum status record_key_new(char key[RECORD_KEY_MAX], struct err *err)
{
    unsigned char random[16];
    ssize_t got;
    do
        got = getrandom(random, sizeof random, 0); /* up to 256 bytes come whole or not at all */
    while (got < 0 && errno == EINTR);
    if (got != (ssize_t)sizeof random)
        return err_set(err, STATUS_INTERNAL, "the system gives no random numbers: %s",
                       strerror(errno));
    random[6] = (unsigned char)((random[6] & 0x0F) | 0x40); /* version 4 */
    random[8] = (unsigned char)((random[8] & 0x3F) | 0x80); /* variant of RFC 9562 */
    static const char digits[] = "0123456789abcdef";
    size_t used = 0;
    for (size_t i = 0; i < sizeof random; i++) {
        if (is_dash_place(used))
            key[used++] = '-';
        key[used++] = digits[random[i] >> 4];
        key[used++] = digits[random[i] & 0x0F];
    }
    key[used] = '\0';
    return STATUS_OK;
}

bool record_key_valid(const char *key)
{
    for (size_t i = 0; i < RECORD_KEY_MAX - 1; i++)
        if (!(is_dash_place(i) ? key[i] == '-' : is_hex(key[i])))
            return false;
    return key[RECORD_KEY_MAX - 1] == '\0';
}

bool record_key_beginning(const char *text)
{
    size_t length = strlen(text);
    if (length < 4 || length > RECORD_KEY_MAX - 1)
        return false;
    for (size_t i = 0; i < length; i++)
        if (!(is_dash_place(i) ? text[i] == '-' : is_hex(text[i])))
            return false;
    return true;
}

void record_now(char text[RECORD_TIME_MAX])
{
    struct timespec now = {0};
    (void)clock_gettime(CLOCK_REALTIME, &now); /* this clock is always there */
    struct tm utc = {0};
    (void)gmtime_r(&now.tv_sec, &utc);
    (void)strftime(text, RECORD_TIME_MAX, "%Y-%m-%dT%H:%M:%SZ", &utc);
}

bool record_time_valid(const char *text)
{
    static const char shape[] = "dddd-dd-ddTdd:dd:dd";
    size_t i = 0;
    for (; shape[i] != '\0'; i++)
        if (shape[i] == 'd' ? !isdigit((unsigned char)text[i]) : text[i] != shape[i])
            return false;
    if (text[i] == '.') {
        i++;
        if (!isdigit((unsigned char)text[i]))
            return false;
        while (isdigit((unsigned char)text[i]))
            i++;
    }
    return text[i] == 'Z' && text[i + 1] == '\0' && i + 1 < RECORD_TIME_MAX;
}
