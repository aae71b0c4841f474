/* match.h: what all one-to-one pairings of two lists say together, of candidates with odds. Pure.
 *
 * A pairing takes any candidates that share no member; what it leaves out stays alone. It weighs
 * the product of its candidates' odds. Summed over all pairings, exactly: members of the first list
 * one after another, the state being which members of the second are taken that later ones could
 * still take (variable elimination; Bishop CM 2006, Pattern Recognition and Machine Learning, 8.4).
 * This is the joint probabilistic data association of target tracking (Fortmann TE, Bar-Shalom Y,
 * Scheffe M 1983, IEEE Journal of Oceanic Engineering 8:173-184). Only where more than MATCH_BEAM
 * states are alive at once the least likely of them are dropped. */
#ifndef RINGTALLY_INSIGHT_MATCH_H
#define RINGTALLY_INSIGHT_MATCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifndef MATCH_BEAM
#define MATCH_BEAM 64
#endif

struct match_pair {
    int32_t a, b;
    double log_odds;    /* of the two being one, against each being alone */
    double odds;        /* scratch */
    double distance_ms; /* the caller's own: from where the first is expected in the second */
    double likely;      /* out: the probability that they are one */
    bool chosen;        /* out: in the likeliest pairing */
};

struct match; /* scratch, kept from call to call; opaque */
struct match *match_new(size_t b_count);
void match_free(struct match *match);

/* `pairs` by a, then b, each once; b below b_count. *log_sum: logarithm of the sum over all
 * pairings. Equally likely pairings: the one that pairs the later ones, without crossing. 0 or
 * ERROR_MEMORY. */
int match_solve(struct match *match, struct match_pair *pairs, size_t count, double *log_sum);

#endif
