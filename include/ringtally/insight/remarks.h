/* remarks.h: short sentences about a bout that are true and that the numbers carry. Pure.
 *
 * A remark is a value: what it speaks of, its numbers, and how sure they are. Its words and the
 * SQL that proves it are made from that value when asked for. Wording is neutral: counts, no
 * judgement of who is ahead on the cards.
 *
 * There are two sorts. A *fact* tells what happened (a knockdown, the first, the most, a lead, a
 * milestone, so many landed in a row, a share) and claims no more. A *finding* claims a difference:
 * more, less, better, worse, a set-up. It is told only where chance would hardly make it:
 *
 * - What is independent is a slice of time, not a strike (slices.h): combinations and outcomes that
 *   they share widen every comparison but the set-ups' exact test.
 * - Findings are formed at bells only, of the rounds that are over. In between nothing is tested,
 *   so that looking often finds no more.
 * - At each bell all that is looked at is one family, in which false discoveries are held
 *   (adjust.h), and each bell may spend a part of the error only: over the scheduled rounds the
 *   parts add up to `error` (spending as the square of the time that passed: Kim K, DeMets DL 1987,
 *   Biometrika 74:149-154, rho 2). Where nothing differs at most `error` of bouts get any finding
 *   at all. After the scheduled rounds nothing is left to spend: extension rounds have facts only.
 * - A corner that nobody tagged for the whole of a round is compared with nothing there.
 */
#ifndef RINGTALLY_INSIGHT_REMARKS_H
#define RINGTALLY_INSIGHT_REMARKS_H

#include "ringtally/base/buf.h"
#include "ringtally/bout/card.h"
#include "ringtally/insight/setups.h"
#include "ringtally/insight/slices.h"
#include "ringtally/tally/records.h"

enum remark_kind {
    /* facts */
    REMARK_KNOCKDOWN,
    REMARK_LEAD,         /* in landed strikes */
    REMARK_RUN,          /* landed so many in a row */
    REMARK_FIRST,        /* the first landed knee, elbow, head kick, ... of the bout */
    REMARK_FEWER_THROWN, /* threw fewer and landed more */
    REMARK_SHARE,        /* most of what a corner lands is of one sort */
    REMARK_ORIGIN,       /* (nearly) all strikes of a sort came from one stance */
    REMARK_RECORD,       /* more than in any former bout: of anybody's, or of the fighter's own */
    REMARK_MILESTONE,    /* the 50th, 100th, ... landed; the 100th, 200th, ... thrown */
    /* findings */
    REMARK_LANDED_MORE, /* landed a minute: a corner against the other */
    REMARK_ACCURACY,    /* landed of thrown: a corner against the other */
    REMARK_PACE,        /* thrown a minute */
    REMARK_SWING,       /* a share in a round against the rounds before */
    REMARK_STANCE,      /* landed of thrown: from a stance against all others */
    REMARK_SETUP,       /* B after A against B otherwise */
    REMARK_KINDS
};
#define REMARK_FINDINGS REMARK_LANDED_MORE /* the first of them */

/* What within its kind; the kinds that are not named have one only. */
enum remark_variant {
    VARIANT_ONLY,
    LEAD_TAKEN = 0,  /* the newest change of who has landed more */
    LEAD_STANDING,   /* who has landed more, in a round or in the bout */
    RECORD_HERE = 0, /* of all that is logged here */
    RECORD_OWN,      /* of the fighter's own bouts */
    MILESTONE_LANDED = 0,
    MILESTONE_THROWN,
    SWING_ACCURACY = 0, /* landed of thrown */
    SWING_OUTPUT,       /* thrown to a target of all thrown */
    PACE_ROUNDS = 0,    /* a round against the rounds before */
    PACE_CORNERS        /* a corner against the other */
};

/* Which strikes of a corner; -1: any. */
struct pick {
    int8_t limb, group, target, stance;
    uint8_t technique; /* all of these flags */
};
#define PICK_ALL ((struct pick){-1, -1, -1, -1, 0})
bool pick_takes(const struct pick *pick, const struct strike *strike);

enum remark_evidence {
    EVIDENCE_NONE,       /* a fact */
    EVIDENCE_DIFFERENCE, /* of two shares */
    EVIDENCE_PER_MINUTE, /* difference of two rates */
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
    uint8_t sort;                   /* of a record: enum record_sort */
    const struct records *records;  /* what it is held against; belongs to `former` */
    int64_t number[REMARK_NUMBERS]; /* remark_number_names says which */
    bool at_bell, at_start;         /* of a moment: in the round's last or first seconds */
    bool open;                      /* the round, or the bout, goes on: "so far" */

    /* Of a finding: */
    uint8_t from, through; /* the rounds that its numbers come from; through: the bell */
    int64_t ran_ms[2]; /* of rates: running clock under the first and the second number; from the
                          clock's entries, not from strikes */
    uint8_t evidence;  /* enum remark_evidence */
    struct estimate estimate;
    double p, adjusted; /* for all that was looked at at that bell */

    /* The rank. */
    uint8_t in_round; /* in which it came about: the last for what speaks of the bout */
    uint8_t tier;     /* enum tier of remarks_find.h */
    int64_t at_ms;    /* of a moment; else 0 */
};

static inline bool remark_is_finding(const struct remark *remark)
{
    return remark->kind >= REMARK_FINDINGS;
}

struct remark_rule {
    struct setup_rule setups;
    double level;              /* of the intervals */
    double error;              /* that all findings of a bout together may spend */
    int cases;                 /* strikes on each side of what is compared */
    int run;                   /* strikes in a row */
    int bouts_here, bouts_own; /* before more than in any of them is a record */
};
/* 0.95, 0.05, 10 cases, runs of 6, 10 bouts here and 3 of one's own. */
extern const struct remark_rule remark_rule_default;

struct remarks {
    struct remark *item; /* the order to be told in: news first, milestones last */
    size_t count;
    int rounds;    /* of the bout so far */
    int over;      /* of these over */
    int bell;      /* the newest at whose bell something was looked at; 0: none */
    int looked_at; /* comparisons at the newest bell, without the set-ups */
    size_t pairs;  /* set-ups looked at there */
    double level, error;
    double spent;        /* of the error, at the newest bell */
    double setup_chance; /* to have found one of 30 points there, had one of the pairs with cases
                            enough been one */
};

/* All that can be said at `now_ms`; `signs` as for coverage_init; `former` NULL: nothing is known
 * of former bouts; it is needed as long as the remarks are. 0 or ERROR_MEMORY, then with nothing to
 * release. */
int remarks_init(struct remarks *out, const struct fold *fold, const struct desk_sign *signs,
                 const struct former *former, const struct remark_rule *rule, int64_t now_ms,
                 struct error *err);
void remarks_release(struct remarks *remarks);

extern const char *const remark_kind_names[REMARK_KINDS];     /* "knockdown" ... */
extern const char *const evidence_names[EVIDENCE_KINDS];      /* "" "difference" "per_minute" */
const char *remark_variant_name(const struct remark *remark); /* "accuracy"; "" where only one */
/* The names of the numbers, in their order; ends with NULL or after REMARK_NUMBERS. They are the
 * column names of the query too. */
const char *const *remark_number_names(const struct remark *remark);

/* The sentence, short enough to be read aloud in six seconds. Fighters go by their short names;
 * `bout` NULL or nameless: "Red" and "Blue". */
void remark_words(char *out, size_t size, const struct remark *remark, const struct bout *bout);
#define REMARK_WORDS 400 /* holds every sentence with its NUL */

/* Adds a query over the view `strike` that gives one row: the numbers, by their names. `bout` =
 * "CARDID/NUMBER". */
void remark_query(struct buf *out, const struct remark *remark, const char *bout);

#endif
