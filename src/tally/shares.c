/* shares.c: shares and rates as text. */
#include "ringtally/tally/shares.h"

#include <stdio.h>

int share_percent(int64_t part, int64_t whole)
{
    if (whole <= 0) {
        return -1;
    }
    int percent = (int)((200 * part + whole) / (2 * whole));
    return percent == 100 && part < whole ? 99 : percent == 0 && part > 0 ? 1 : percent;
}

void share_text(char out[SHARE_SIZE], int64_t part, int64_t whole)
{
    int percent = share_percent(part, whole);
    snprintf(out, SHARE_SIZE, percent < 0 ? "-" : "%d%%", percent);
}

void rate_text(char out[SHARE_SIZE], int64_t count, int64_t ran_ms)
{
    if (ran_ms < RATE_LEAST_MS) {
        snprintf(out, SHARE_SIZE, "-");
        return;
    }
    long long tenths = (long long)((1200000 * count + ran_ms) / (2 * ran_ms));
    if (tenths < 10000) {
        snprintf(out, SHARE_SIZE, "%lld.%lld", tenths / 10, tenths % 10);
    } else { /* as narrow as the others */
        snprintf(out, SHARE_SIZE, "%lld", (tenths + 5) / 10);
    }
}
