/* pieces.h: shares and rates of what comes in bursts. Pure.
 *
 * Strikes come in combinations, and those of one combination share their fate more often than not:
 * formulas for independent trials promise too much. So time is cut into pieces that are longer than
 * a combination, and a piece, not a strike, is what is counted as independent. Of each piece two
 * numbers are known, a part and a whole: landed of thrown, to the leg of thrown, thrown in so many
 * minutes. What is asked is the ratio R = sum of parts / sum of wholes; how sure it is, the
 * residuals part - R whole say (ratio estimator: Cochran WG 1977, Sampling Techniques, 3rd ed., ch.
 * 6). Pieces without a whole count nowhere.
 */
#ifndef RINGTALLY_STATS_PIECES_H
#define RINGTALLY_STATS_PIECES_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/stats/interval.h"

struct piece {
    double part, whole; /* neither below 0 */
};

/* One group of pieces against another. */
struct contrast {
    bool defined; /* false: fewer than 3 pieces in a group or 8 in all, no whole, or no variance */
    double value[2];   /* R of either */
    double difference; /* value[0] - value[1] */
    double p;          /* two-sided, of "the pieces are of one kind" */
    double error;      /* standard error of the difference */
    double df;         /* pieces less 2 */
};

/* If the groups do not differ, every way to deal the pieces out to them is as likely: the
 * permutation distribution of the sum of residuals in one group, which Student's t with
 * pieces - 2 degrees of freedom approaches (Pitman EJG 1937, J. R. Statist. Soc. Suppl. 4:119-130
 * and 225-232). With equal wholes this is the two-sample t test. p is never below one over the
 * number of ways to deal. */
struct contrast pieces_compare(const struct piece *one, size_t count1, const struct piece *other,
                               size_t count2);

/* The difference with its interval, which leaves 0 out where t has a p below 1 - level. */
struct estimate pieces_interval(const struct contrast *contrast, double level);

/* The least difference, either way, that would have had this p in a contrast as sure as this one.
 * 0 where undefined. */
double pieces_least(const struct contrast *contrast, double p);

/* A share (0 <= part <= whole, wholes are trials): Wilson's interval of so many trials as these are
 * worth, that is divided by the design effect, never by less than 1 (Rao JNK, Scott AJ 1992,
 * Biometrics 48:577-585). With fewer than 2 pieces as if independent. */
struct estimate pieces_share(const struct piece *piece, size_t count, double level);

/* The same of sums, where the pieces are not kept: sums of several bouts add up. */
struct piece_sums {
    double n, part, whole;      /* of pieces with a whole */
    double parts, wholes, both; /* of the squares, and of part x whole */
};
void piece_sums_add(struct piece_sums *sums, const struct piece *piece, size_t count);
struct estimate piece_sums_share(const struct piece_sums *sums, double level);

/* A rate (part: a count, whole: time): Garwood's interval with the count and the time divided by
 * the dispersion, never by less than 1 (McCullagh P, Nelder JA 1989, Generalized Linear Models, 2nd
 * ed., 6.2.3). */
struct estimate pieces_rate(const struct piece *piece, size_t count, double level);

/* P(|T| >= t) of Student's t, and the t with that p; df > 0, 0 < p < 1. */
double student_two_sided(double t, double df);
double student_quantile(double p, double df);

#endif
