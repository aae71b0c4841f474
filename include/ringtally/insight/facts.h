/* facts.h: what the strikes of a bout or a round say beyond the tally. Pure.
 *
 * Shares of hands, knees and kicks, and accuracies, are in the tally already (tally.h: group, all);
 * interval_wilson says how sure they are. Where nothing was thrown there is no figure: the
 * estimates are then not `defined`, and whoever prints writes a dash.
 */
#ifndef RINGTALLY_INSIGHT_FACTS_H
#define RINGTALLY_INSIGHT_FACTS_H

#include "ringtally/stats/interval.h"
#include "ringtally/tally/stream.h"

/* How near in time things must be to belong together. Counted by the wall, within a round; a gap of
 * exactly that length still belongs. The defaults are own choice. */
struct windows {
    int32_t combination_ms; /* between two strikes of one corner in a combination: 1200 */
    int32_t exchange_ms;    /* between a strike and the other's answer: 1000 */
    int32_t pace_ms;        /* of running clock in the moving pace: 60000 */
};
extern const struct windows windows_default;

#define FAVOURITES          3
#define SEQUENCES           5
#define SEQUENCE_LONGEST    3
#define COMBINATION_LONGEST 10 /* combinations this long and longer are counted together */

struct favourite {
    uint8_t code; /* strike_code */
    struct count count;
};

/* Strikes that followed each other in one combination. */
struct sequence {
    uint8_t length; /* 2 or 3 */
    uint8_t code[SEQUENCE_LONGEST];
    struct count count; /* attempted: how often; landed: how often its last strike landed */
};

/* From one stance. Share of output: all.attempted of the corner's. */
struct stance_facts {
    struct count all;
    int favourites; /* the most thrown, most first */
    struct favourite favourite[FAVOURITES];
};

/* Strikes of one corner with at most combination_ms from each to the next, whatever the other does
 * meanwhile. One strike alone is none. */
struct combination_facts {
    int count;                           /* of length 2 or more */
    int length[COMBINATION_LONGEST + 1]; /* how many of each length; [1]: strikes alone */
    int longest;                         /* 0: nothing thrown */
    struct count end[STRIKE_CODES];      /* the last strike of each */
    struct count ends;                   /* their sum */
    int sequences[SEQUENCE_LONGEST + 1]; /* how many there are to show of length 2, 3 */
    struct sequence sequence[SEQUENCE_LONGEST + 1][SEQUENCES]; /* the commonest, most first */
};

/* An exchange: strikes of one round, each at most exchange_ms after the one before, in which both
 * corners throw. A counter: a strike for which the newest one before is the other's, at most
 * exchange_ms earlier. */
struct exchange_facts {
    int opened, ended; /* exchanges that this corner threw the first, the last strike of */
    struct count in;   /* its strikes in exchanges */
    struct count counters;
};

/* The stretch of pace_ms of running clock in which the corner threw most; the earliest of several.
 */
struct busiest {
    struct count count; /* nothing: no strike */
    int round;
    int32_t until_ms; /* on the round clock; it begins pace_ms before, or with the round */
};

struct corner_facts {
    struct count all;
    struct count role[ROLE_COUNT];            /* by lead and rear limb */
    struct count met[ROLE_COUNT];             /* kicks to the leg, by the leg they met (leg_met) */
    struct stance_facts stance[STANCE_COUNT]; /* that the corner threw from */
    struct combination_facts combinations;
    struct exchange_facts exchanges;
    struct busiest busiest;
};

struct facts {
    int round; /* 0: the bout */
    int exchanges;
    struct corner_facts corner[CORNER_COUNT];
};

/* Fills *out with what `round` (0: the bout) holds. 0 or ERROR_MEMORY. */
int facts_read(struct facts *out, const struct stream *stream, const struct windows *windows,
               int round, struct error *err);

/* What a corner takes: the other's strikes. attempted = thrown at it, landed = taken. */
static inline const struct corner_tally *tally_taken(const struct round_tally *tally,
                                                     enum corner corner)
{
    return &tally->corner[corner_other(corner)];
}

/* Strikes a minute of running clock. `thrown` and `landed` come with the exact interval of a
 * Poisson rate; strikes come in combinations, so that the true one is wider. Not defined where the
 * clock has not run. Strikes off the clock are counted, as in the tally. */
struct pace {
    struct count count;
    int64_t ran_ms;
    struct estimate thrown, landed;
};

/* Of a round (0: the bout) up to `now_ms`. */
struct pace pace_read(const struct fold *fold, enum corner corner, int round, int64_t now_ms,
                      double level);
/* Of the `window_ms` of running clock that end at `elapsed_ms` of a round, that moment included;
 * less where the round is younger. */
struct pace pace_moving(const struct stream *stream, enum corner corner, int round,
                        int32_t elapsed_ms, int32_t window_ms, double level);

#endif
