/* stream.h: the strikes that count, in the order of the fight. Pure.
 *
 * The tally says how many; what came after what is read from here. Only subjects that count
 * (fold.h) are in it, off-the-clock strikes too: as many as the tally has. Order: round, the moment
 * spoken of, desk uid, sequence number, so that the view `strike` of the database gives the same
 * one with ORDER BY round, at_ms, desk, seq.
 */
#ifndef RINGTALLY_TALLY_STREAM_H
#define RINGTALLY_TALLY_STREAM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/error.h"
#include "ringtally/tally/fold.h"

/* A strike as limb and target, in one number. */
enum { STRIKE_CODES = LIMB_COUNT * TARGET_COUNT };

/* What stance makes of a side. */
enum limb_role { ROLE_NONE, ROLE_LEAD, ROLE_REAR, ROLE_COUNT };
extern const char *const role_names[ROLE_COUNT]; /* "-" "lead" "rear" */

struct blow {
    struct strike strike;
    struct entry_name name;
    int64_t at_ms;      /* UTC, the moment spoken of */
    int32_t elapsed_ms; /* on the round clock */
    int32_t desk_place; /* of its desk by uid */
    uint8_t round;
    uint8_t role; /* enum limb_role of the limb that threw it */
    uint8_t met;  /* enum limb_role of the leg that a kick to the leg met; else ROLE_NONE */
    bool off_clock;
};

struct stream {
    struct blow *blow;
    size_t count;
};

/* Reads the strikes that count out of a fold; whose count, the fold knows. 0 or ERROR_MEMORY, then
 * with nothing to release. */
int stream_init(struct stream *out, const struct fold *fold, struct error *err);
void stream_release(struct stream *stream);

static inline int strike_code(const struct strike *strike)
{
    return strike->limb * TARGET_COUNT + strike->target;
}

static inline bool blow_landed(const struct blow *blow)
{
    return blow->strike.outcome == OUTCOME_LANDED;
}

/* Orthodox: the left limbs are the lead ones; southpaw: the right ones (common practice: stance is
 * named by the foot that stands behind). ROLE_NONE where the stance is square, or the knee has no
 * side. */
enum limb_role limb_role(enum limb limb, enum stance stance);

/* Which leg of the other a kick to the leg met, as far as that follows from side and stance.
 *
 * Common practice, from memory: the two face each other, so that one's right side is before
 * the other's left side. A round kick swings from its own side inwards and first meets what stands
 * on that side, from outside: the right kick the other's left leg, the left kick the other's right
 * leg. Whether that leg leads, the other's stance says: a right low kick meets an orthodox
 * fighter's lead leg and a southpaw's rear leg.
 *
 * What a log does not tell: a kick to the *inside* of the leg farther across looks the same. Those
 * go mostly to the lead leg, which stands nearer; so ROLE_LEAD is rather safe, and ROLE_REAR holds
 * the kicks to the rear leg together with the inside kicks to the lead leg. A spinning kick swings
 * the other way and has ROLE_NONE, as has a kick where either stance is not known or is square. */
enum limb_role leg_met(const struct strike *kick, enum stance other);

#endif
