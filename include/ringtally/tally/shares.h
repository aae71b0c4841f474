/* shares.h: how a share and a rate are written for people, in every printer alike. Pure.
 *
 * Whole numbers only go in, so that no binary fraction rounds wrongly, and every locale prints the
 * same. A share is whole per cents: of the strikes of a bout a tenth of one says nothing.
 */
#ifndef RINGTALLY_TALLY_SHARES_H
#define RINGTALLY_TALLY_SHARES_H

#include <stdint.h>

#define SHARE_SIZE    24
#define RATE_LEAST_MS 30000 /* of running clock: before that a rate a minute is no rate */

/* Per cent, half up; but 100 is all and 0 is none: 199 of 200 is 99, 1 of 300 is 1. -1 where there
 * is no whole. */
int share_percent(int64_t part, int64_t whole);

/* "42%", "-" where there is no whole. */
void share_text(char out[SHARE_SIZE], int64_t part, int64_t whole);

/* `count` a minute of running clock, "23.4", half up; "-" below RATE_LEAST_MS. */
void rate_text(char out[SHARE_SIZE], int64_t count, int64_t ran_ms);

#endif
