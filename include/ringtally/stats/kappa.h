/* kappa.h: how well two taggers agree, from a confusion table. Pure.
 *
 * A table is `categories` x `categories` counts in row-major order: row = what the first tagger
 * said, column = what the second said of the same thing. Counts may be expected ones, with
 * fractions. At most KAPPA_CATEGORIES_MAX categories.
 * Only things both taggers have are in it; those only one has stand beside it, never inside: no
 * figure here knows of misses.
 *
 * Undefined where a count is below 0 or no number, the table is empty or holds more than
 * INTERVAL_COUNT_MAX, or where the chance correction divides by nothing (all of both taggers in one
 * category).
 */
#ifndef RINGTALLY_STATS_KAPPA_H
#define RINGTALLY_STATS_KAPPA_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define KAPPA_CATEGORIES_MAX 64

/* A chance-corrected coefficient: value = (observed - expected) / (1 - expected). */
struct agreement {
    bool counted;    /* false: nothing to count; else `observed` and `expected` hold */
    bool defined;    /* `value` holds */
    double observed; /* share of agreement */
    double expected; /* the same by chance, as the coefficient models it */
    double value;
};

/* Makes one; undefined where `expected` is 1 but for rounding. */
struct agreement kappa_correct(double observed, double expected);

struct kappa {
    struct agreement agreement;
    double n;
    bool has_interval; /* false too where the standard error is 0 (as at perfect agreement): the
                          large-sample formula has nothing to say there */
    double se;         /* standard error at the value found */
    double low, high;  /* value -+ z se, cut off at -1 and 1 */
};

/* Cohen's kappa (Cohen J 1960, Educational and Psychological Measurement 20:37-46) with its
 * standard error (Fleiss JL, Cohen J, Everitt BS 1969, Psychological Bulletin 72:323-327). */
struct kappa kappa_cohen(const double *table, size_t categories, double level);

/* Krippendorff's alpha for nominal data (Krippendorff K 2011) and Gwet's AC1 (Gwet KL 2008, British
 * Journal of Mathematical and Statistical Psychology 61:29-48). AC1 needs 2 categories or more,
 * counts those that nobody used, and holds where kappa collapses on skewed tables. */
struct agreement kappa_alpha(const double *table, size_t categories);
struct agreement kappa_ac1(const double *table, size_t categories);

/* |one - other| over their mean, in percent (Hughes, Cooper & Nevill 2002). False, *out 0, where a
 * count is below 0 or both are 0. */
bool kappa_percentage_error(double *out, int64_t one, int64_t other);

/* The word of Landis JR, Koch GG 1977, Biometrics 33:159-174: "poor" below 0, then "slight",
 * "fair", "moderate", "substantial" up to and with .20 .40 .60 .80, and "almost perfect". The bands
 * are printed with gaps (.20, .21); here the unrounded value decides. "-" for what is not a number.
 */
const char *kappa_word(double value);

#endif
