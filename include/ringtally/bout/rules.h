/* rules.h: a rule set as data. Parsed from INI text; the files are in shared/rules/.
 *
 * A rule set says what a bout is (rounds, strikes, fouls) and what its officials go by: how rounds
 * are scored, what the limits are, what a stoppage is called, and which clause says so.
 * It is a plain value. What a file does not say is 0, which leaves it to the commission; but even
 * rounds are allowed unless it says no.
 */
#ifndef RINGTALLY_BOUT_RULES_H
#define RINGTALLY_BOUT_RULES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/error.h"
#include "ringtally/bout/strike.h"

#define FOUL_MAX 9

struct foul {
    char id[32];    /* "low_blow" */
    char words[48]; /* "low blow" */
};

/* What a bout can come to. */
enum decision_kind {
    DECISION_OPEN,       /* nothing is implied yet */
    DECISION_COMMISSION, /* the rules leave it to the commission */
    DECISION_EXTENSION,  /* an extension round is called for */
    DECISION_UNANIMOUS,
    DECISION_SPLIT,
    DECISION_MAJORITY,
    DECISION_UNANIMOUS_DRAW,
    DECISION_SPLIT_DRAW,
    DECISION_MAJORITY_DRAW,
    DECISION_ROUNDS,         /* won by rounds, where rounds and not points decide */
    DECISION_DRAW,           /* without a vote, or on rounds */
    DECISION_TECHNICAL,      /* stopped by a foul, the cards decide */
    DECISION_TECHNICAL_DRAW, /* stopped by a foul, the cards are even */
    DECISION_KNOCKOUT,
    DECISION_TKO_REFEREE,
    DECISION_TKO_DOCTOR,
    DECISION_TKO_CORNER,
    DECISION_TKO_LIMIT, /* the rules' limit of knockdowns or counts */
    DECISION_RETIREMENT,
    DECISION_DISQUALIFICATION,
    DECISION_NO_CONTEST,
    DECISION_NO_DECISION,
    DECISION_WALKOVER,
    DECISION_KIND_COUNT
};
extern const char *const decision_ids[DECISION_KIND_COUNT]; /* "majority_decision", ... */

/* What a clause of the rules is about. */
enum clause {
    CLAUSE_SCORE,
    CLAUSE_DECISION,
    CLAUSE_TIE,
    CLAUSE_DEDUCTION,
    CLAUSE_OPEN, /* open or closed scoring */
    CLAUSE_THROWS,
    CLAUSE_KNOCKOUT,
    CLAUSE_STOPPAGE, /* by referee, doctor or corner */
    CLAUSE_RETIREMENT,
    CLAUSE_LIMIT,       /* of knockdowns and counts */
    CLAUSE_ROUND_LIMIT, /* where that ends the round and not the bout */
    CLAUSE_WARNINGS,
    CLAUSE_DISQUALIFICATION,
    CLAUSE_KICKS,
    CLAUSE_ACCIDENTAL,
    CLAUSE_INTENTIONAL,
    CLAUSE_BOTH_OUT,
    CLAUSE_NO_CONTEST,
    CLAUSE_NO_DECISION,
    CLAUSE_WALKOVER,
    CLAUSE_COUNT
};

enum scoring_system { SYSTEM_POINTS, SYSTEM_ROUNDS }; /* 10-point must; rounds won */
enum deductions { DEDUCTED_BY_JUDGES, DEDUCTED_BY_OFFICIALS };
enum tie { TIE_DRAW, TIE_EXTENSION, TIE_JUDGES }; /* TIE_JUDGES: a tied judge names a winner */
enum extension_scored { EXTENSION_ALONE, EXTENSION_ADDED };
enum naming { NAMING_COMMISSION, NAMING_AMATEUR };
enum round_limit { ROUND_LIMIT_BOUT, ROUND_LIMIT_ROUND };
enum kick_counted { KICK_ATTEMPTED, KICK_LANDED };
enum kick_limbs { KICK_LEGS, KICK_LEGS_AND_KNEES };
enum foul_early { EARLY_COMMISSION, EARLY_NO_CONTEST, EARLY_DRAW, EARLY_NO_DECISION };
enum left_to { LEFT_TO_COMMISSION, LEFT_TO_RULES };

/* From when on an accidental foul sends the bout to the cards. */
enum cards_from_kind {
    CARDS_COMMISSION,
    CARDS_AFTER,   /* `cards_from` rounds are over */
    CARDS_ROUND,   /* the bell of round `cards_from` has rung */
    CARDS_HALF,    /* more than half of the scheduled rounds are over; exactly half: not said */
    CARDS_MAJORITY /* more than half are over; else not */
};

/* [scoring]. Members that say yes or no are 1 or 0. */
struct scoring_rules {
    int system; /* enum scoring_system */
    int lowest; /* that a round's loser gets, deductions not counted; 0: not said */
    int half_points, even_rounds;
    int deductions; /* enum deductions: by the judges in their scores, or off every card later */
    int tie;        /* enum tie: a bout that is even after the scheduled rounds */
    int tie_after;  /* TIE_DRAW or TIE_JUDGES: even after the extension rounds too */
    int extension;  /* enum extension_scored: alone, or added to the rounds before */
    int naming;     /* enum naming; see decision_vote */
    int open;       /* scores are read out round by round, unless the bout says otherwise */
    int throws;     /* throws are scored, so logged as incidents */
};

/* [limits] that the rules say end a round or a bout; 0: none. A count is a standing one or one
 * after a knockdown. */
struct limit_rules {
    int knockdowns_round, knockdowns_bout;
    int counts_round, counts_bout;
    int round_limit; /* enum round_limit: what a round's limit ends */
    int warnings;    /* official warnings in the bout that disqualify */
};

struct kick_rules {
    int minimum; /* that each fighter owes a round; 0: none */
    int counted; /* enum kick_counted */
    int limbs;   /* enum kick_limbs */
};

struct stop_rules {
    int cards_kind, cards_from; /* enum cards_from_kind, and its number */
    int early;                  /* enum foul_early: what an earlier stop by accidental foul is */
    int partial;                /* 1: the round not finished is scored; 0: left out */
    int empty_even;             /* a round not finished in which nothing happened is even */
    int intentional; /* enum left_to: ended later by an intentional foul's injury: see decision.h */
    int both_out;    /* enum left_to: both counted out is a draw */
};

struct rules {
    char id[32];
    char title[64];
    int rounds; /* scheduled */
    int32_t round_ms, rest_ms;
    int extension_rounds; /* that the rules allow after the scheduled ones */
    int32_t extension_ms;
    int judges;
    uint8_t targets[LIMB_COUNT]; /* bit 1 << target for each target that exists for the limb; 0: no
                                    such limb */
    int fouls;
    struct foul foul[FOUL_MAX]; /* picked by number 1.. in this order */
    struct scoring_rules scoring;
    struct limit_rules limits;
    struct kick_rules kicks;
    struct stop_rules stops;
    char clause[CLAUSE_COUNT][96];      /* as to be cited; "": not said */
    char name[DECISION_KIND_COUNT][48]; /* what this body calls it; "": the usual name */
};

/* Reads a rule set. On error *out is undefined and the message names file, line and reason. */
int rules_parse(struct rules *out, const char *text, size_t size, const char *file,
                struct error *err);

/* Sets one value for one bout, by its name in the file: "round_seconds" for a number of [rules],
 * else SECTION.KEY ("scoring.tie", "clauses.tie"). The clause that a changed value came from is
 * then cited as this bout's own terms, unless clauses.KEY is set after it. Call rules_check when
 * all are set. On error *rules is as before. */
int rules_override(struct rules *rules, const char *key, const char *value, struct error *err);

/* Sets several: "KEY = VALUE, KEY = VALUE", then checks the whole. "" sets nothing. */
int rules_terms(struct rules *rules, const char *terms, struct error *err);

/* What a bout's terms can set, one after the other from index 0: the key as rules_override takes
 * it, what these rules say, and what can be said. False behind the last one. Besides, clauses.KEY
 * and names.KEY take any text. */
struct rules_key {
    char key[48], value[32], allowed[96];
};
bool rules_key(struct rules_key *out, const struct rules *rules, size_t index);

/* What does not fit together in the rules, or 0. */
int rules_check(const struct rules *rules, struct error *err);

/* Whether such a strike exists under the rules. */
bool rules_allow(const struct rules *rules, enum limb limb, enum target target);

#endif
