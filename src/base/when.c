/* when.c: moments as text, and the wall clock. */
#include "ringtally/base/when.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

/* Days since 1970-01-01 of a proleptic Gregorian date, and back: POSIX has gmtime_r but no inverse
 * in UTC. */
static int64_t days_from_date(int64_t year, int month, int day)
{
    year -= month <= 2;
    int64_t era = (year >= 0 ? year : year - 399) / 400;
    int64_t of_era = year - era * 400;
    int64_t of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    return era * 146097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719468;
}

const char *when_rfc3339(char out[WHEN_SIZE], int64_t utc_ms)
{
    int64_t fraction = utc_ms % 1000;
    time_t seconds = (time_t)(utc_ms / 1000);
    struct tm tm = {0};
    if (fraction < 0) {
        fraction += 1000;
        seconds -= 1;
    }
    if (!gmtime_r(&seconds, &tm) || tm.tm_year < -1900 || tm.tm_year > 8099) {
        snprintf(out, WHEN_SIZE, "0000-00-00T00:00:00.000Z");
        return out;
    }
    size_t used = strftime(out, WHEN_SIZE, "%Y-%m-%dT%H:%M:%S", &tm);
    snprintf(out + used, WHEN_SIZE - used, ".%03dZ", (int)fraction);
    return out;
}

static bool digits(const char **at, int count, int *out)
{
    *out = 0;
    for (int i = 0; i < count; i++, (*at)++) {
        if (!isdigit((unsigned char)**at)) {
            return false;
        }
        *out = *out * 10 + (**at - '0');
    }
    return true;
}

static bool literal(const char **at, char c)
{
    return *(*at)++ == c;
}

int64_t when_parse(const char *text)
{
    static const int month_days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    const char *at = text;
    int year, month, day, hour, minute, second;
    int64_t ms = 0;
    int64_t offset = 0;
    if (!digits(&at, 4, &year) || !literal(&at, '-') || !digits(&at, 2, &month) ||
        !literal(&at, '-') || !digits(&at, 2, &day) || (*at != 'T' && *at != 't')) {
        return -1;
    }
    at++;
    if (!digits(&at, 2, &hour) || !literal(&at, ':') || !digits(&at, 2, &minute) ||
        !literal(&at, ':') || !digits(&at, 2, &second)) {
        return -1;
    }
    bool leap_year = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    if (month < 1 || month > 12 || day < 1 ||
        day > month_days[month - 1] + (month == 2 && leap_year) || hour > 23 || minute > 59 ||
        second > 60) {
        return -1;
    }
    if (*at == '.') {
        int64_t unit = 100;
        at++;
        if (!isdigit((unsigned char)*at)) {
            return -1;
        }
        for (; isdigit((unsigned char)*at); at++, unit /= 10) {
            ms += (*at - '0') * unit;
        }
    }
    if (*at == 'Z' || *at == 'z') {
        at++;
    } else {
        int64_t sign = *at == '-' ? -1 : 1;
        int off_hour, off_minute;
        if (*at != '+' && *at != '-') {
            return -1;
        }
        at++;
        if (!digits(&at, 2, &off_hour) || !literal(&at, ':') || !digits(&at, 2, &off_minute) ||
            off_hour > 23 || off_minute > 59) {
            return -1;
        }
        offset = sign * (off_hour * 60 + off_minute);
    }
    if (*at) {
        return -1;
    }
    int64_t days = days_from_date(year, month, day);
    return (((days * 24 + hour) * 60 + minute - offset) * 60 + second) * 1000 + ms;
}

const char *when_clock(char out[WHEN_SIZE], int64_t ms)
{
    int64_t seconds = ms > 0 ? ms / 1000 : 0;
    snprintf(out, WHEN_SIZE, "%lld:%02d", (long long)(seconds / 60), (int)(seconds % 60));
    return out;
}

int64_t when_now(void)
{
    struct timespec now = {0};
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}
