/* decision.h: what the cards and the way a bout ended imply under its rules. Pure.
 *
 * Nothing here decides: referee, ringside physician and commission do. A decision says what follows
 * from the cards as written, names the clause, and names what the rules leave to the commission.
 *
 * How cards are counted: a corner wins with more than half of them. All for it: unanimous; at least
 * one for the opponent: split; none for the opponent, some even: majority. Without a winner it is a
 * draw, named by its pattern: all even, unanimous; more than half even, majority; else split.
 * Sources: 58 Pa. Code 21.5(a)(6) and (7) (boxing, excerpt) for who wins, also with one card each
 * and one even; the names are those of two chapters on mixed martial arts, N.J.A.C. 13:46-24A
 * (secondary: a forum that quotes it) and S.D. Admin. R. 20:81:05:18 (excerpt), for three judges.
 * Other numbers of judges generalise these (own choice).
 */
#ifndef RINGTALLY_BOUT_DECISION_H
#define RINGTALLY_BOUT_DECISION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/bout/rules.h"
#include "ringtally/bout/scorecard.h"

/* How a bout ended, as far as it has. */
enum ending {
    END_NOT_YET,
    END_DISTANCE, /* `round` rounds were boxed to the bell */
    END_KNOCKOUT, /* `corner` = the winner, here and below */
    END_REFEREE,
    END_DOCTOR,
    END_CORNER,
    END_LIMIT,
    END_RETIREMENT,
    END_DISQUALIFICATION,
    END_WALKOVER,
    END_ACCIDENTAL,  /* stopped by an accidental foul's injury; no corner */
    END_INTENTIONAL, /* stopped later by an intentional foul's injury: `corner` = the injured */
    END_BOTH_OUT,    /* both counted out */
    END_NO_CONTEST,
    END_NO_DECISION,
    END_COUNT
};
extern const char *const ending_ids[END_COUNT]; /* "distance", "knockout", ... */

struct bout_end {
    uint8_t how;        /* enum ending */
    uint8_t corner;     /* enum corner, as above */
    int round;          /* that it ended in; in a rest, the round before it. For END_NOT_YET: rounds
                           over */
    int32_t elapsed_ms; /* on that round's clock: its full length where it was over; -1: not said */
    bool no_action;     /* an official said that nothing happened in the round not finished */
    bool announced;     /* known from the announced result alone: nobody entered how it ended */
};

/* What settles rounds, where rounds and not points win a bout. Indexes from 0. */
struct round_facts {
    uint8_t awarded[ROUND_MAX]; /* bit 1 << corner that officials gave the round to under the
                                   limits; 0: by the cards */
    uint8_t warnings[ROUND_MAX][CORNER_COUNT];
    uint8_t admonitions[ROUND_MAX][CORNER_COUNT];
    int32_t weight_g[CORNER_COUNT]; /* of the day; 0: not known */
};

struct decision {
    uint8_t kind;     /* enum decision_kind */
    uint8_t winner;   /* enum corner; CORNER_NONE: none */
    uint8_t pattern;  /* of the cards behind a technical decision or draw: DECISION_UNANIMOUS ...;
                         else `kind` */
    bool voted;       /* `vote` holds a whole vote */
    bool extension;   /* an extension round is called for */
    bool commission;  /* the rules leave it to the commission */
    struct vote vote; /* cards; rounds, where those decide: won by red, by blue, even */
    int from, to;     /* rounds that the cards were counted over; 0: no cards counted */
    int judges;
    struct card_total total[JUDGE_MAX];
    char name[48];    /* "majority decision" */
    char clause[96];  /* "" where the rule set names none */
    char reason[400]; /* one sentence that says why */
};

/* The kind of decision that a vote of `judges` cards is, and in *winner whose. */
enum decision_kind decision_vote(enum corner *winner, const struct vote *vote, enum naming naming);

/* What is implied. `rounds` = scheduled. `facts` may be NULL. Never fails: what is missing leaves
 * the kind DECISION_OPEN and is named in `reason`. */
void decision_make(struct decision *out, const struct rules *rules, int rounds,
                   const struct scorecard *card, const struct bout_end *end,
                   const struct round_facts *facts);

/* What the rules call such a decision: "technical knockout". */
const char *decision_name(const struct rules *rules, enum decision_kind kind);
enum clause decision_clause(enum decision_kind kind);

/* --- limits --- */

/* Of one corner: how often it was down or counted, warned, and how it kicked. */
struct limit_counts {
    int knockdowns_round, knockdowns_bout;
    int counts_round, counts_bout; /* standing counts and those after a knockdown */
    int warnings;                  /* official ones, in the bout */
};

/* Says in words which limit of the rules the corner has reached, and that the officials decide;
 * false, and "" in out, where none. */
bool limit_notice(char *out, size_t size, const struct rules *rules,
                  const struct limit_counts *counts, enum corner corner);

/* Whether such a strike counts as a kick that the rules ask for. */
bool kick_counts(const struct rules *rules, const struct strike *strike);
/* Says in words how many kicks the corner still owes in the round; false where none. */
bool kick_notice(char *out, size_t size, const struct rules *rules, int kicks, enum corner corner);

/* --- the official result --- */

/* As announced. */
struct official {
    uint8_t kind;       /* enum decision_kind: not OPEN, COMMISSION or EXTENSION */
    uint8_t winner;     /* enum corner */
    int round;          /* 0: not said */
    int32_t elapsed_ms; /* -1: not said */
    bool voted;         /* `vote` was announced */
    struct vote vote;
};

/* What the log knows. */
struct log_facts {
    int rounds;         /* scheduled */
    int judges;         /* on the bout */
    int last_round;     /* begun, by the log; 0: none */
    int32_t elapsed_ms; /* of that round, by the log */
    bool over;          /* that round has ended */
};

enum official_fault {
    OFFICIAL_FITS,
    OFFICIAL_ODD,       /* the log says otherwise; an official can have ruled so */
    OFFICIAL_IMPOSSIBLE /* no official can have ruled so */
};

/* Checks an official result against rules and log; the precise reason goes into out[size] ("" where
 * it fits). The gravest fault comes first. */
enum official_fault official_check(char *out, size_t size, const struct rules *rules,
                                   const struct log_facts *log, const struct official *official);

/* The same of how a bout ended, before anything is announced (elapsed_ms -1: not said). */
enum official_fault ending_check(char *out, size_t size, const struct rules *rules,
                                 const struct log_facts *log, const struct bout_end *end);

enum official_compared {
    OFFICIAL_AGREES,
    OFFICIAL_DIFFERS,
    OFFICIAL_NOT_COMPARED /* nothing is implied that it could be held against */
};

/* Holds an announced result against what the cards and rules imply. out[size]: what differs, or why
 * the two were not compared, in words; "" where they agree. */
enum official_compared official_compare(char *out, size_t size, const struct rules *rules,
                                        const struct official *official, const struct bout_end *end,
                                        const struct decision *implied);

#endif
