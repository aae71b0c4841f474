/* sign.c: names of the signs of life. */
#include "ringtally/bout/sign.h"

const char *const sign_state_names[SIGN_STATES] = {"unknown", "live", "silent", "lost", "left"};

enum sign_state sign_state(const struct desk_sign *sign)
{
    if (sign->held) {
        return sign->seen_ms && !sign->left && sign->age_ms < SIGN_STALE_MS ? SIGN_LIVE
                                                                            : SIGN_SILENT;
    }
    if (!sign->seen_ms) {
        return SIGN_UNKNOWN;
    }
    return sign->left ? SIGN_LEFT : SIGN_LOST;
}
