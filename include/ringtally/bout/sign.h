/* sign.h: signs of life of a desk, and what they say. Pure.
 *
 * A desk that is open leaves a sign every SIGN_EVERY_MS, made by the loop that reads keys together
 * with the thread that writes: a desk that hangs leaves none. A quiet desk and a dead one are told
 * apart by this and by nothing else.
 */
#ifndef RINGTALLY_BOUT_SIGN_H
#define RINGTALLY_BOUT_SIGN_H

#include <stdbool.h>
#include <stdint.h>

#define SIGN_EVERY_MS 1000
#define SIGN_STALE_MS 2500 /* two are missing */

struct desk_sign {
    bool held;          /* a process has the desk open */
    bool left;          /* the last sign was a farewell */
    int64_t seen_ms;    /* UTC of the last sign; 0: none is known */
    int64_t age_ms;     /* of the last sign when it was read; never negative */
    int64_t session_ms; /* UTC of the last sign of this very session, while all of the above is its
                           chain's; 0: none is known */
};

enum sign_state {
    SIGN_UNKNOWN, /* not open on this machine, and left no sign on it */
    SIGN_LIVE,
    SIGN_SILENT, /* open, but no sign lately: it hangs */
    SIGN_LOST,   /* ended without a farewell */
    SIGN_LEFT,
    SIGN_STATES
};
extern const char
    *const sign_state_names[SIGN_STATES]; /* "unknown" "live" "silent" "lost" "left" */

enum sign_state sign_state(const struct desk_sign *sign);

#endif
