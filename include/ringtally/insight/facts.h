/* facts.h: what the strikes of a bout or a round say beyond the tally. Pure.
 *
 * Shares of hands, knees and kicks, and accuracies, are in the tally already (tally.h: group, all);
 * slices.h says how sure they are.
 */
#ifndef RINGTALLY_INSIGHT_FACTS_H
#define RINGTALLY_INSIGHT_FACTS_H

#include "ringtally/stats/interval.h"
#include "ringtally/tally/stream.h"

#define FAVOURITES 3

struct favourite {
    uint8_t code; /* strike_code */
    struct count count;
};

/* From one stance. Share of output: all.attempted of the corner's. */
struct stance_facts {
    struct count all;
    int favourites; /* the most thrown, most first */
    struct favourite favourite[FAVOURITES];
};

struct corner_facts {
    struct count all;
    struct count role[ROLE_COUNT];            /* by lead and rear limb */
    struct count met[ROLE_COUNT];             /* kicks to the leg, by the leg they met (leg_met) */
    struct stance_facts stance[STANCE_COUNT]; /* that the corner threw from */
};

struct facts {
    int round; /* 0: the bout */
    struct corner_facts corner[CORNER_COUNT];
};

/* Fills *out with what `round` (0: the bout) holds. */
void facts_read(struct facts *out, const struct stream *stream, int round);

/* What a corner takes: the other's strikes. attempted = thrown at it, landed = taken. */
static inline const struct corner_tally *tally_taken(const struct round_tally *tally,
                                                     enum corner corner)
{
    return &tally->corner[corner_other(corner)];
}

#endif
