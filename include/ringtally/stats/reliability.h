/* reliability.h: how well many taggers agree. Pure.
 *
 * Counts are `units` x `categories` in row-major order: how many taggers put this unit into that
 * category. A tagger who did not see a unit is counted nowhere in its row. At most
 * RELIABILITY_CATEGORIES_MAX categories and 1e6 counts to a cell. Each result is undefined where a
 * count is out of range or where it divides by nothing. struct agreement: see kappa.h.
 */
#ifndef RINGTALLY_STATS_RELIABILITY_H
#define RINGTALLY_STATS_RELIABILITY_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/stats/kappa.h"

#define RELIABILITY_CATEGORIES_MAX KAPPA_CATEGORIES_MAX

/* Fleiss' kappa (Fleiss JL 1971, Psychological Bulletin 76:378-382). Not counted unless every unit
 * has the same number of ratings, 2 or more. */
struct agreement reliability_fleiss(const int *counts, size_t units, size_t categories);

/* Krippendorff's alpha for nominal data (Krippendorff K 2011, Computing Krippendorff's
 * Alpha-Reliability). Units with fewer than 2 ratings drop out. */
struct agreement reliability_alpha(const int *counts, size_t units, size_t categories);

/* Gwet's AC1 (Gwet KL 2008). Units with 1 rating count for how often a category is used, not for
 * the agreement. Needs 2 categories or more. */
struct agreement reliability_ac1(const int *counts, size_t units, size_t categories);

#endif
