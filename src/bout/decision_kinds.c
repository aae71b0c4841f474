/* decision_kinds.c: how bouts end, in names and words. */
/* The kinds of decision: their names, their clauses, and which one a vote is. */
#include "ringtally/bout/decision.h"

const char *const decision_ids[DECISION_KIND_COUNT] = {
    [DECISION_OPEN] = "open",
    [DECISION_COMMISSION] = "commission",
    [DECISION_EXTENSION] = "extension",
    [DECISION_UNANIMOUS] = "unanimous_decision",
    [DECISION_SPLIT] = "split_decision",
    [DECISION_MAJORITY] = "majority_decision",
    [DECISION_UNANIMOUS_DRAW] = "unanimous_draw",
    [DECISION_SPLIT_DRAW] = "split_draw",
    [DECISION_MAJORITY_DRAW] = "majority_draw",
    [DECISION_ROUNDS] = "rounds_won",
    [DECISION_DRAW] = "draw",
    [DECISION_TECHNICAL] = "technical_decision",
    [DECISION_TECHNICAL_DRAW] = "technical_draw",
    [DECISION_KNOCKOUT] = "knockout",
    [DECISION_TKO_REFEREE] = "tko_referee",
    [DECISION_TKO_DOCTOR] = "tko_doctor",
    [DECISION_TKO_CORNER] = "tko_corner",
    [DECISION_TKO_LIMIT] = "tko_limit",
    [DECISION_RETIREMENT] = "retirement",
    [DECISION_DISQUALIFICATION] = "disqualification",
    [DECISION_NO_CONTEST] = "no_contest",
    [DECISION_NO_DECISION] = "no_decision",
    [DECISION_WALKOVER] = "walkover",
};

const char *const ending_ids[END_COUNT] = {
    [END_NOT_YET] = "not_yet",
    [END_DISTANCE] = "distance",
    [END_KNOCKOUT] = "knockout",
    [END_REFEREE] = "referee",
    [END_DOCTOR] = "doctor",
    [END_CORNER] = "corner",
    [END_LIMIT] = "limit",
    [END_RETIREMENT] = "retirement",
    [END_DISQUALIFICATION] = "disqualification",
    [END_WALKOVER] = "walkover",
    [END_ACCIDENTAL] = "accidental_foul",
    [END_INTENTIONAL] = "intentional_foul",
    [END_BOTH_OUT] = "both_out",
    [END_NO_CONTEST] = "no_contest",
    [END_NO_DECISION] = "no_decision",
};

static const struct {
    const char *words;
    enum clause clause;
} kinds[DECISION_KIND_COUNT] = {
    [DECISION_OPEN] = {"open", CLAUSE_DECISION},
    [DECISION_COMMISSION] = {"left to the commission", CLAUSE_DECISION},
    [DECISION_EXTENSION] = {"extension round", CLAUSE_TIE},
    [DECISION_UNANIMOUS] = {"unanimous decision", CLAUSE_DECISION},
    [DECISION_SPLIT] = {"split decision", CLAUSE_DECISION},
    [DECISION_MAJORITY] = {"majority decision", CLAUSE_DECISION},
    [DECISION_UNANIMOUS_DRAW] = {"unanimous draw", CLAUSE_TIE},
    [DECISION_SPLIT_DRAW] = {"split draw", CLAUSE_TIE},
    [DECISION_MAJORITY_DRAW] = {"majority draw", CLAUSE_TIE},
    [DECISION_ROUNDS] = {"win on rounds", CLAUSE_DECISION},
    [DECISION_DRAW] = {"draw", CLAUSE_TIE},
    [DECISION_TECHNICAL] = {"technical decision", CLAUSE_ACCIDENTAL},
    [DECISION_TECHNICAL_DRAW] = {"technical draw", CLAUSE_ACCIDENTAL},
    [DECISION_KNOCKOUT] = {"knockout", CLAUSE_KNOCKOUT},
    [DECISION_TKO_REFEREE] = {"technical knockout (referee)", CLAUSE_STOPPAGE},
    [DECISION_TKO_DOCTOR] = {"technical knockout (doctor)", CLAUSE_STOPPAGE},
    [DECISION_TKO_CORNER] = {"technical knockout (corner)", CLAUSE_STOPPAGE},
    [DECISION_TKO_LIMIT] = {"technical knockout (limit of counts)", CLAUSE_LIMIT},
    [DECISION_RETIREMENT] = {"retirement", CLAUSE_RETIREMENT},
    [DECISION_DISQUALIFICATION] = {"disqualification", CLAUSE_DISQUALIFICATION},
    [DECISION_NO_CONTEST] = {"no contest", CLAUSE_NO_CONTEST},
    [DECISION_NO_DECISION] = {"no decision", CLAUSE_NO_DECISION},
    [DECISION_WALKOVER] = {"walkover", CLAUSE_WALKOVER},
};

const char *decision_name(const struct rules *rules, enum decision_kind kind)
{
    return rules->name[kind][0] ? rules->name[kind] : kinds[kind].words;
}

enum clause decision_clause(enum decision_kind kind)
{
    return kinds[kind].clause;
}

enum decision_kind decision_vote(enum corner *winner, const struct vote *vote, enum naming naming)
{
    int cards = vote->red + vote->blue + vote->even;
    int most = vote->red > vote->blue ? vote->red : vote->blue;
    int least = vote->red > vote->blue ? vote->blue : vote->red;
    *winner = CORNER_NONE;
    if (2 * most > cards) {
        *winner = vote->red > vote->blue ? CORNER_RED : CORNER_BLUE;
        if (most == cards) {
            return DECISION_UNANIMOUS;
        }
        /* Five judges of old amateur usage: 4-1 is a majority, 3-2 split. */
        bool wide = naming == NAMING_AMATEUR && most - least > 1;
        return least > 0 && !wide ? DECISION_SPLIT : DECISION_MAJORITY;
    }
    return vote->even == cards      ? DECISION_UNANIMOUS_DRAW
           : 2 * vote->even > cards ? DECISION_MAJORITY_DRAW
                                    : DECISION_SPLIT_DRAW;
}
