/* align_fit.h: two lists of strikes while they are aligned: the candidates, the clocks, the rates
 * of error. Private to the room. */
#ifndef RINGTALLY_INSIGHT_ALIGN_FIT_H
#define RINGTALLY_INSIGHT_ALIGN_FIT_H

#include "ringtally/insight/align.h"
#include "insight/match.h"

enum fit_field { FIT_CORNER, FIT_LIMB, FIT_TARGET, FIT_LANDED, FIT_FIELDS };

#define FIT_LAG_MS 25
#define FIT_LAGS   40
#define FIT_CODES  (CORNER_COUNT * LIMB_COUNT * TARGET_COUNT * 2)

/* What is believed of the two desks. Shares are of all strikes that either has. */
struct rates {
    double both, only_a, only_b;
    double jitter_ms;        /* standard deviation of B's moment less A's, lateness taken out */
    double same[FIT_FIELDS]; /* of a pair */
    double side;             /* of pairs whose limbs differ: of the same kind */
};

/* How the moments of one round of A are found in B. */
struct track {
    enum align_base base;
    double late_ms; /* B behind A in the middle, at `middle_ms` of A's clock */
    double drift;   /* milliseconds more for each of the round's */
    double middle_ms;
    bool has_utc;  /* UTC keeps step as well, and finds what the other desk had in another round */
    double utc_ms; /* how far B is behind A by it */
    bool at_limit;
};

struct fit {
    const struct align_strike *a, *b;
    size_t a_count, b_count;
    const struct align_options *options;
    bool used[FIT_FIELDS][LIMB_COUNT]; /* categories that either desk used: limbs and targets */
    double said[LIMB_COUNT * TARGET_COUNT],
        was[LIMB_COUNT * TARGET_COUNT];                   /* shares, both desks' */
    double landed;                                        /* the share of strikes said to have */
    size_t *loose_b, loose_count;                         /* strikes of B off its clock */
    int (*near_a)[CORNER_COUNT], (*near_b)[CORNER_COUNT]; /* others of its desk around each */
    double usual[2];  /* of them a millisecond, both desks together: of its corner, of the other */
    double belief[2]; /* strikes' worth of it in what is usual: likewise */
    double shape[2][FIT_LAGS]; /* how much more usual that far apart: likewise */
    struct rates rates;
    struct track track[ROUND_MAX + 1];
    struct match *match;
    struct match_pair *pairs; /* of the rounds taken last */
    size_t pair_count, pair_room;
    int64_t *moment_a, *moment_b, *utc_a, *utc_b; /* milliseconds: on the round clock, and UTC */
    uint8_t *code_a, *code_b;                     /* what each says, as one number */
    double content[FIT_CODES][FIT_CODES]; /* logarithm of the odds of what two say, by rates */
};

/* What a strike says in a field. */
int fit_says(const struct strike *strike, enum fit_field field);

/* Shares, neighbourhoods, and rates as the options expect them. 0 or ERROR_MEMORY. */
int fit_init(struct fit *fit);
void fit_release(struct fit *fit);

/* What strikes say, and, to be called when rates changed, the odds of that: align_content.c. */
int fit_code(const struct strike *strike);
void fit_shares(struct fit *fit);
void fit_content(struct fit *fit);

/* The candidates of a round of A (0: of all) within the window of where their tracks expect them,
 * every track moved by `shift_ms`. 0 or ERROR_MEMORY. */
int fit_candidates(struct fit *fit, int round, double shift_ms);
/* Weighs the candidates by the rates and solves. 0 or ERROR_MEMORY. */
int fit_solve(struct fit *fit, double *log_sum);

/* From the solved candidates: how many pairs are expected, then new rates, then new tracks. */
double fit_expected(const struct fit *fit);
void fit_shares_alone(struct fit *fit); /* those of the rates */
void fit_rates(struct fit *fit);
void fit_tracks(struct fit *fit);

/* How far B is behind where that strike of A is. */
double fit_late(const struct fit *fit, size_t a);

/* Writes ties and links, with their sums: align_links.c. 0 or ERROR_MEMORY. */
int fit_links(struct align *out, const struct fit *fit);

/* Chooses each round's base and lateness: align_clock.c. 0 or ERROR_MEMORY. */
int fit_clocks(struct fit *fit);

#endif
