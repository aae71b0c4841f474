/* remarks.h: short sentences about a bout that are true and that the numbers carry. Pure.
 *
 * A remark is a value: what it speaks of, its numbers, and how sure they are. Its words and the
 * SQL that proves it are made from that value when asked for. Wording is neutral: counts, no
 * judgement of who is ahead.
 *
 * A statistic is told only when its evidence holds: at least `cases` strikes on each side that is
 * compared, and an interval (95 % by default) that leaves out the value that would say nothing.
 * Events (a first, a milestone, a run, a knockdown) are facts; a run needs an interval besides.
 * The formulas take strikes as independent, and they come in combinations: the true intervals are
 * somewhat wider. And the more figures are looked at, the more stand out by chance: `looked_at`
 * says how many there were; among set-ups the false-discovery rate is held (setups.h). Whoever
 * prints remarks says both.
 */
#ifndef RINGTALLY_INSIGHT_REMARKS_H
#define RINGTALLY_INSIGHT_REMARKS_H

#include "ringtally/base/buf.h"
#include "ringtally/insight/facts.h"
#include "ringtally/stats/rate.h"
#include "ringtally/insight/setups.h"

enum remark_kind {
    REMARK_LANDED_MORE,  /* a corner lands clearly more: share of all landed against 1/2 */
    REMARK_FEWER_THROWN, /* throws fewer and lands more: difference of accuracies */
    REMARK_SHARE,     /* most of what a corner lands is of one sort, or more than the other's is */
    REMARK_MILESTONE, /* the 50th, 100th, ... landed; the 100th, 200th, ... thrown */
    REMARK_FIRST,     /* the first landed knee, elbow, head kick, ... of the bout */
    REMARK_RUN,       /* landed so many in a row; difference to the corner's other strikes */
    REMARK_SWING,     /* a share changed since the round before: difference */
    REMARK_PACE,      /* strikes a running minute: ratio of two rates */
    REMARK_STANCE,    /* from which stance strikes come, and land: difference */
    REMARK_SETUP,     /* B after A against B otherwise: difference, adjusted */
    REMARK_KNOCKDOWN,
    REMARK_KINDS
};

/* What within its kind; the kinds that are not named have one only. */
enum remark_variant {
    VARIANT_ONLY,
    SHARE_MOST = 0, /* share against 1/2 */
    SHARE_MORE,     /* over the bout, against the other's share: difference */
    MILESTONE_LANDED = 0,
    MILESTONE_THROWN,
    SWING_ACCURACY = 0, /* landed of thrown */
    SWING_OUTPUT,       /* thrown to a target of all thrown */
    PACE_ROUND = 0,     /* a round against the one before */
    PACE_ROUNDS,        /* a round against all before */
    PACE_CORNERS,       /* a corner against the other, over the bout */
    STANCE_ORIGIN = 0,  /* clearly most of some strikes came from it, more than of the others */
    STANCE_ACCURACY     /* landed from it, against all other stances */
};

/* Which strikes of a corner; -1: any. */
struct pick {
    int8_t limb, group, target, stance;
    uint8_t technique; /* all of these flags */
};
#define PICK_ALL ((struct pick){-1, -1, -1, -1, 0})
bool pick_takes(const struct pick *pick, const struct strike *strike);

enum remark_evidence {
    EVIDENCE_NONE,       /* an event */
    EVIDENCE_SHARE,      /* interval of a share; 1/2 would say nothing */
    EVIDENCE_DIFFERENCE, /* of two shares; 0 would say nothing */
    EVIDENCE_RATIO,      /* of two rates; 1 would say nothing */
    EVIDENCE_KINDS
};

#define REMARK_NUMBERS 6

struct remark {
    uint8_t kind, variant;
    uint8_t corner; /* whom it is about */
    uint8_t round;  /* that it speaks of; 0: the bout */
    struct pick pick;
    uint8_t first, then;            /* of a set-up: strike_code of A and B */
    int32_t window_ms;              /* of a set-up */
    int64_t number[REMARK_NUMBERS]; /* remark_number_names says which */
    int64_t ran_ms[2]; /* of pace: running clock under the first and the second number; from the
                          clock's entries, not from strikes */
    uint8_t evidence;  /* enum remark_evidence */
    bool bounded;      /* false: a ratio without an upper limit, and without a value */
    struct estimate estimate;
    double p, adjusted; /* of a set-up */

    /* The rank. */
    uint8_t in_round; /* in which it came about: the last for what speaks of the bout */
    uint8_t tier;     /* knockdowns, other events, the round's statistics, the bout's */
    int64_t at_ms;    /* of an event */
    double strength;  /* how far the estimate is from saying nothing, in widths of its interval */
};

struct remark_rule {
    struct setup_rule setups;
    double level;
    int cases; /* strikes on each side of what is compared */
    int run;   /* strikes in a row */
};
/* 0.95, 10 cases, runs of 6; setup_rule_default. */
extern const struct remark_rule remark_rule_default;

struct remarks {
    struct remark *item; /* the order to be told in: newest round first, within it by tier, events
                             newest first, statistics by strength */
    size_t count;
    int rounds;         /* of the bout so far */
    int looked_at;      /* comparisons that had enough cases, without the set-ups */
    size_t pairs;       /* set-ups that had enough cases */
    double level, rate; /* as in the rule */
};

/* All that can be said at `now_ms`. 0 or ERROR_MEMORY, then with nothing to release. */
int remarks_init(struct remarks *out, const struct fold *fold, const struct remark_rule *rule,
                 int64_t now_ms, struct error *err);
void remarks_release(struct remarks *remarks);

extern const char *const remark_kind_names[REMARK_KINDS]; /* "landed_more" ... */
extern const char *const evidence_names[EVIDENCE_KINDS];  /* "event" "share" "difference" "ratio" */
const char *remark_variant_name(const struct remark *remark); /* "accuracy"; "" where only one */
/* The names of the numbers, in their order; ends with NULL or after REMARK_NUMBERS. They are the
 * column names of the query too. */
const char *const *remark_number_names(const struct remark *remark);

/* The sentence. */
void remark_words(char *out, size_t size, const struct remark *remark);
#define REMARK_WORDS 200 /* holds every sentence with its NUL */

/* Adds a query over the view `strike` that gives one row: the numbers, by their names. `bout` =
 * "CARDID/NUMBER". */
void remark_query(struct buf *out, const struct remark *remark, const char *bout);

#endif
