/* when.h: moments and spans as text. Moments are milliseconds since 1970 in UTC, spans
 * milliseconds. */
#ifndef RINGTALLY_BASE_WHEN_H
#define RINGTALLY_BASE_WHEN_H

#include <stdint.h>

#define WHEN_SIZE 32

/* RFC 3339 in UTC with three digits of fraction, so that text order is time order:
 * 2026-12-05T20:15:30.250Z */
const char *when_rfc3339(char out[WHEN_SIZE], int64_t utc_ms);
/* The moment that an RFC 3339 text names; -1 where it is none. */
int64_t when_parse(const char *text);
/* A span as a round clock shows it: "2:31"; what remains is rounded up, what has passed down: the
 * caller chooses. A negative one is "0:00". */
const char *when_clock(char out[WHEN_SIZE], int64_t ms);
/* The moment now, by the wall. */
int64_t when_now(void);

#endif
