/* agree.h: how well two desks on one bout, or more, agree. Pure.
 *
 * Strikes are paired first (align.h). Each field then has its own figures, on the pairs only; what
 * one desk alone has stands beside them, since no kappa knows of misses. Every figure is there
 * twice: of the pairs listed, among which some are wrong, and as it is expected over all pairings,
 * which wrong pairs do not bend. The figures are those of kappa.h, reliability.h and contingency.h;
 * sources there.
 */
#ifndef RINGTALLY_INSIGHT_AGREE_H
#define RINGTALLY_INSIGHT_AGREE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/insight/align.h"
#include "ringtally/stats/kappa.h"
#include "ringtally/stats/reliability.h"
#include "ringtally/bout/rules.h"

#define AGREE_DESKS_MAX 8
#define AGREE_LEVEL     0.95

enum agree_fields { AGREE_CORNER, AGREE_LIMB, AGREE_TARGET, AGREE_LANDED, AGREE_FIELDS };
extern const char *const agree_field_names[AGREE_FIELDS]; /* "corner" "limb" "target" "landed" */

struct agree_field {
    int categories;               /* what the rules know, or a desk used */
    uint8_t category[LIMB_COUNT]; /* each one's value: enum corner, limb, target; 1: landed */
    int64_t table[LIMB_COUNT * LIMB_COUNT]; /* categories x categories; row = A says, column = B */
    int64_t agreed;
    struct kappa kappa;
    struct agreement alpha, ac1;
    bool has_q; /* Yule's Q, of two categories only */
    double q;
    double expected[LIMB_COUNT * LIMB_COUNT]; /* the table over all pairings */
    struct kappa estimated; /* of that; its interval counts each pair by how sure it is */
};

/* What a reader must know before he reads the figures. */
enum agree_warning {
    AGREE_CHANCE, /* hardly more pairs than bouts with nothing in common would have, or a pair for
                     less than AGREE_PAIRED_SHARE of the strikes of the desk that has fewer */
    AGREE_LIMIT,  /* a round's lateness stands at the edge of where it was looked for */
    AGREE_ALONE,  /* AGREE_ALONE_SHARE of the strikes or more are one desk's alone */
    AGREE_UNSURE, /* which strike is which cannot be told: nothing is estimated */
    AGREE_WARNINGS
};
extern const char *const agree_warning_names[AGREE_WARNINGS]; /* "chance" "limit" ... */

#define AGREE_ALONE_SHARE  0.25
#define AGREE_CHANCE_SHARE 0.5 /* of the pairs expected: what chance alone may make up */
/* The grid of tests/outside/agree_grid.c: rates are given back while both desks' fingers are within
 * 150 ms, which is 212 between the two; beyond it they are not. */
#define AGREE_PAIRED_SHARE  0.25
#define AGREE_JITTER_MAX_MS 255.0
#define AGREE_WRONG_SHARE   0.5 /* of the pairs listed */

/* A total that would go on air, by each desk alone. */
struct agree_total {
    uint8_t corner;
    int8_t limb; /* -1: all */
    bool landed; /* else attempted */
    int a, b;
    bool has_error;
    double error; /* |a - b| over their mean, in percent */
};

/* Of the cells (corner x limb x target) in which either desk has a count: in how many both have the
 * same, and in how many they are one apart at most (the first included). After Cooper S-M, Hughes
 * M, O'Donoghue P, Nevill AM 2007, International Journal of Performance Analysis in Sport 7(1). */
struct agree_cells {
    int used, exact, within_one;
};

/* B behind A, each on its own round clock, over the pairs that are in one round and were found by
 * the clock; what align took out is in it. Quartiles
 * by linear interpolation (type 7 of Hyndman RJ, Fan Y 1996, The American Statistician
 * 50:361-365). */
struct agree_lateness {
    bool defined;
    double median, low, high; /* milliseconds */
};

/* A strike that one desk alone has, or that differs in a field. */
struct agree_difference {
    struct align_link link;
    uint8_t fields; /* 1 << enum agree_fields; 0: one desk alone */
};

#define AGREE_TOTALS_MAX (CORNER_COUNT * (1 + LIMB_COUNT) * 2)

struct agree {
    struct align_strike *a, *b; /* owned, in time order */
    size_t a_count, b_count;
    struct align align;
    struct agree_field field[AGREE_FIELDS];
    struct agree_total total[AGREE_TOTALS_MAX]; /* by corner; all, then limbs that either has */
    int totals;
    struct agree_cells attempted, landed;
    struct agree_lateness lateness;
    struct agree_difference *difference; /* in time order; owned */
    size_t differences;
    uint8_t warnings; /* 1 << enum agree_warning */
};

/* False: the desks' strikes cannot be told apart well enough to estimate anything. */
bool agree_tells(const struct agree *agree);

/* Whether the pairs of that round were found by its clock, so that how far apart they are on it
 * says something. */
bool agree_by_clock(const struct agree *agree, int round);

/* Compares two lists in align_sort order; they are copied. 0 or ERROR_MEMORY; release it in any
 * case. */
int agree_make(struct agree *out, const struct align_strike *a, size_t a_count,
               const struct align_strike *b, size_t b_count, const struct align_options *options,
               const struct rules *rules);

/* The same for two desks of a bout, named by their roots, each taken alone: its own entries and
 * its own corrections of them, of the corners in `corners` (1 << corner): of what only one of them
 * tags, nothing can be said. `fold` holds the bout's desks and entries; whose view it is does not
 * matter. */
int agree_desks(struct agree *out, const struct fold *fold, const struct bout *bout, int root_a,
                int root_b, uint8_t corners, const struct align_options *options,
                const struct rules *rules);
void agree_release(struct agree *agree);

/* The strikes of one desk taken alone, in align_sort order. *out is malloc'd, the caller frees. 0
 * or ERROR_MEMORY. */
int agree_read_alone(struct align_strike **out, size_t *count, const struct fold *fold,
                     const struct bout *bout, int root, uint8_t corners);

/* The corners that a desk tags, 1 << corner. */
uint8_t agree_corners(const struct fold *fold, int root);

/* "red left hand head, landed"; "-" for NULL. */
void agree_words(char *out, unsigned size, const struct align_strike *strike);

/* Three desks and more: each is aligned to the first. Fleiss' kappa is taken over the strikes of
 * the first that all the others have too; Krippendorff's alpha and Gwet's AC1 over all strikes
 * of the first, with those that a desk lacks as missing; AC1 of the categories that
 * agree_field has. Strikes that the first lacks are in neither, so the best
 * desk belongs first. */
struct agree_many {
    int desks;
    size_t strikes; /* of the first */
    size_t shared;  /* that all have */
    struct {
        struct agreement fleiss, alpha, ac1;
    } field[AGREE_FIELDS];
};

/* `pairs`: the first desk against each of the others, in agree_make's form, with the same strikes
 * of the first. 0 or ERROR_MEMORY. */
int agree_many_make(struct agree_many *out, const struct agree *pairs, int pair_count);

#endif
