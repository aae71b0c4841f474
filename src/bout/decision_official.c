/* decision_official.c: what was announced, held against the rules. */
/* The announced result against the rules, the log and what the cards imply. */
#include <stdarg.h>
#include <stdio.h>

#include "ringtally/bout/decision.h"

enum needs { NEEDS_WINNER = 1, NEEDS_DISTANCE = 2, NEEDS_ROUND = 4, BY_VOTE = 8 };

static int needs(enum decision_kind kind)
{
    switch (kind) {
    case DECISION_UNANIMOUS:
    case DECISION_SPLIT:
    case DECISION_MAJORITY:
        return NEEDS_WINNER | NEEDS_DISTANCE | BY_VOTE;
    case DECISION_UNANIMOUS_DRAW:
    case DECISION_SPLIT_DRAW:
    case DECISION_MAJORITY_DRAW:
        return NEEDS_DISTANCE | BY_VOTE;
    case DECISION_ROUNDS:
    case DECISION_DISQUALIFICATION:
    case DECISION_WALKOVER:
        return NEEDS_WINNER;
    case DECISION_TECHNICAL:
    case DECISION_KNOCKOUT:
    case DECISION_TKO_REFEREE:
    case DECISION_TKO_DOCTOR:
    case DECISION_TKO_CORNER:
    case DECISION_TKO_LIMIT:
    case DECISION_RETIREMENT:
        return NEEDS_WINNER | NEEDS_ROUND;
    case DECISION_TECHNICAL_DRAW:
        return NEEDS_ROUND;
    default:
        return 0;
    }
}

struct verdict {
    char *out;
    size_t size;
    enum official_fault fault;
};

static void find(struct verdict *verdict, enum official_fault fault, const char *format, ...)
    PRINTF_LIKE(3, 4);

/* Keeps the first of the gravest. */
static void find(struct verdict *verdict, enum official_fault fault, const char *format, ...)
{
    if (fault <= verdict->fault) {
        return;
    }
    va_list args;
    va_start(args, format);
    vsnprintf(verdict->out, verdict->size, format, args);
    va_end(args);
    verdict->fault = fault;
}

static void check_kind(struct verdict *verdict, const struct rules *rules,
                       const struct official *official)
{
    enum decision_kind kind = (enum decision_kind)official->kind;
    const char *name = decision_name(rules, kind);
    bool winner = official->winner != CORNER_NONE;
    if (kind == DECISION_OPEN || kind == DECISION_COMMISSION || kind == DECISION_EXTENSION) {
        find(verdict, OFFICIAL_IMPOSSIBLE, "%s: no result of a bout", name);
    } else if (needs(kind) & NEEDS_WINNER && !winner) {
        find(verdict, OFFICIAL_IMPOSSIBLE, "%s: a winner is needed", name);
    } else if (!(needs(kind) & NEEDS_WINNER) && winner) {
        find(verdict, OFFICIAL_IMPOSSIBLE, "%s for %s: it has no winner", name,
             corner_names[official->winner]);
    } else if (needs(kind) & NEEDS_ROUND && official->round == 0) {
        find(verdict, OFFICIAL_ODD, "%s: the round is missing", name);
    }
}

static void check_round(struct verdict *verdict, const struct rules *rules,
                        const struct log_facts *log, const struct official *official,
                        const char *name)
{
    int last = log->rounds + rules->extension_rounds;
    int round = official->round;
    int32_t time = official->elapsed_ms;
    if (round < 0 || round > last) {
        find(verdict, OFFICIAL_IMPOSSIBLE, "%s in round %d of %d", name, round, last);
        return;
    }
    if (round > log->rounds && log->last_round <= log->rounds) {
        find(verdict, OFFICIAL_ODD, "%s in round %d of %d: by the log no extension round was begun",
             name, round, log->rounds);
        return;
    }
    if (round == 0) {
        if (time >= 0) {
            find(verdict, OFFICIAL_IMPOSSIBLE, "%s: a time without its round", name);
        }
        return;
    }
    int32_t length = round > log->rounds ? rules->extension_ms : rules->round_ms;
    if (time > length) {
        find(verdict, OFFICIAL_IMPOSSIBLE, "%d:%02d is beyond round %d, which has %d:%02d",
             time / 60000, time / 1000 % 60, round, length / 60000, length / 1000 % 60);
    } else if (round > log->last_round) {
        find(verdict, OFFICIAL_ODD, "%s in round %d: by the log %d %s begun", name, round,
             log->last_round, log->last_round == 1 ? "round was" : "rounds were");
    } else if (round < log->last_round) {
        find(verdict, OFFICIAL_ODD, "%s in round %d: by the log round %d was begun", name, round,
             log->last_round);
    } else if (time > log->elapsed_ms + 999) {
        find(verdict, OFFICIAL_ODD, "%d:%02d in round %d: by the log it stopped at %d:%02d",
             time / 60000, time / 1000 % 60, round, log->elapsed_ms / 60000,
             log->elapsed_ms / 1000 % 60);
    }
}

static void check_distance(struct verdict *verdict, const struct rules *rules,
                           const struct log_facts *log, const struct official *official)
{
    enum decision_kind kind = (enum decision_kind)official->kind;
    const char *name = decision_name(rules, kind);
    int over = log->last_round - (log->over ? 0 : 1);
    if (needs(kind) & NEEDS_DISTANCE && official->round > 0 && official->round < log->rounds) {
        find(verdict, OFFICIAL_IMPOSSIBLE, "%s after round %d of %d: the cards decide at the end",
             name, official->round, log->rounds);
    } else if (needs(kind) & NEEDS_DISTANCE && over < log->rounds) {
        find(verdict, OFFICIAL_ODD, "%s: by the log %d of %d rounds are over", name,
             over < 0 ? 0 : over, log->rounds);
    }
    if (kind == DECISION_WALKOVER && (official->round > 0 || log->last_round > 0)) {
        find(verdict, OFFICIAL_ODD, "%s: by the log %d %s begun", name, log->last_round,
             log->last_round == 1 ? "round was" : "rounds were");
    }
}

static void check_vote(struct verdict *verdict, const struct rules *rules,
                       const struct log_facts *log, const struct official *official)
{
    const struct vote *vote = &official->vote;
    enum decision_kind kind = (enum decision_kind)official->kind;
    enum corner winner = CORNER_NONE;
    char words[16];
    if (!official->voted) {
        return;
    }
    if (vote->red < 0 || vote->blue < 0 || vote->even < 0 ||
        vote->red + vote->blue + vote->even == 0) {
        find(verdict, OFFICIAL_IMPOSSIBLE, "%s: no vote", vote_words(words, vote));
        return;
    }
    vote_words(words, vote);
    enum decision_kind by_vote = decision_vote(&winner, vote, (enum naming)rules->scoring.naming);
    bool decided = needs(kind) & NEEDS_WINNER;
    if (needs(kind) & BY_VOTE && decided && winner != official->winner) {
        find(verdict, OFFICIAL_ODD, "%s for %s: the vote %s is none for %s",
             decision_name(rules, kind), corner_names[official->winner], words,
             corner_names[official->winner]);
    } else if (needs(kind) & BY_VOTE && by_vote != kind) {
        find(verdict, OFFICIAL_ODD, "%s: the vote %s makes a %s", decision_name(rules, kind), words,
             decision_name(rules, by_vote));
    } else if (rules->scoring.system == SYSTEM_POINTS && log->judges > 0 &&
               vote->red + vote->blue + vote->even != log->judges) {
        find(verdict, OFFICIAL_ODD, "the vote %s has %d cards, the bout %d judges", words,
             vote->red + vote->blue + vote->even, log->judges);
    }
}

enum official_fault official_check(char *out, size_t size, const struct rules *rules,
                                   const struct log_facts *log, const struct official *official)
{
    struct verdict verdict = {out, size, OFFICIAL_FITS};
    out[0] = '\0';
    check_kind(&verdict, rules, official);
    check_round(&verdict, rules, log, official,
                decision_name(rules, (enum decision_kind)official->kind));
    check_distance(&verdict, rules, log, official);
    check_vote(&verdict, rules, log, official);
    return verdict.fault;
}

/* The result that an ending is by itself; DECISION_OPEN: it waits for the cards. */
static enum decision_kind result_of(enum ending how)
{
    static const uint8_t kinds[END_COUNT] = {
        [END_KNOCKOUT] = DECISION_KNOCKOUT,
        [END_REFEREE] = DECISION_TKO_REFEREE,
        [END_DOCTOR] = DECISION_TKO_DOCTOR,
        [END_CORNER] = DECISION_TKO_CORNER,
        [END_LIMIT] = DECISION_TKO_LIMIT,
        [END_RETIREMENT] = DECISION_RETIREMENT,
        [END_DISQUALIFICATION] = DECISION_DISQUALIFICATION,
        [END_WALKOVER] = DECISION_WALKOVER,
        [END_NO_CONTEST] = DECISION_NO_CONTEST,
        [END_NO_DECISION] = DECISION_NO_DECISION,
    };
    return (enum decision_kind)kinds[how];
}

/* "accidental foul" of "accidental_foul". */
static void ending_words(char out[32], enum ending how)
{
    snprintf(out, 32, "%s", ending_ids[how]);
    for (char *at = out; *at; at++) {
        *at = *at == '_' ? ' ' : *at;
    }
}

enum official_fault ending_check(char *out, size_t size, const struct rules *rules,
                                 const struct log_facts *log, const struct bout_end *end)
{
    struct verdict verdict = {out, size, OFFICIAL_FITS};
    enum ending how = (enum ending)end->how;
    bool foul = how == END_ACCIDENTAL || how == END_INTENTIONAL;
    char name[32];
    out[0] = '\0';
    ending_words(name, how);
    struct official official = {.kind = (uint8_t)result_of(how),
                                .winner = end->corner,
                                .round = end->round,
                                .elapsed_ms = end->elapsed_ms};
    if (official.kind != DECISION_OPEN) {
        return official_check(out, size, rules, log, &official);
    }
    if (how == END_INTENTIONAL && end->corner == CORNER_NONE) {
        find(&verdict, OFFICIAL_IMPOSSIBLE, "%s: the corner that it injured is needed", name);
    } else if (how != END_INTENTIONAL && end->corner != CORNER_NONE) {
        find(&verdict, OFFICIAL_IMPOSSIBLE, "%s: it names no corner", name);
    } else if (how == END_NOT_YET && (end->round > 0 || end->elapsed_ms >= 0)) {
        find(&verdict, OFFICIAL_IMPOSSIBLE, "%s: it has no round and no time", name);
    } else if (how != END_NOT_YET && end->round == 0) {
        find(&verdict, OFFICIAL_IMPOSSIBLE, "%s: the round is missing", name);
    } else if (foul && end->elapsed_ms < 0) {
        find(&verdict, OFFICIAL_ODD, "%s: the time in the round is missing", name);
    } else if (how == END_DISTANCE && end->round < log->rounds &&
               rules->scoring.system == SYSTEM_POINTS) {
        find(&verdict, OFFICIAL_IMPOSSIBLE, "%s after round %d of %d", name, end->round,
             log->rounds);
    } else if (how == END_DISTANCE && log->last_round == end->round && !log->over) {
        find(&verdict, OFFICIAL_ODD, "%s: by the log round %d is not over", name, end->round);
    }
    if (how != END_NOT_YET) {
        check_round(&verdict, rules, log, &official, name);
    }
    return verdict.fault;
}

/* "split decision for red" */
static void result_words(char *out, size_t size, const struct rules *rules, int kind, int winner)
{
    bool won = winner == CORNER_RED || winner == CORNER_BLUE;
    snprintf(out, size, "%s%s%s", decision_name(rules, (enum decision_kind)kind),
             won ? " for " : "", won ? corner_names[winner] : "");
}

/* Why an announced result was not held against anything. */
static void not_compared(char *out, size_t size, const struct official *official,
                         const struct bout_end *end, const struct decision *implied)
{
    bool stopped = official->kind >= DECISION_TECHNICAL;
    if (end->announced || (stopped && end->how == END_NOT_YET)) {
        snprintf(out, size, "how it ended was not entered: not compared");
    } else if (implied->kind == DECISION_COMMISSION) {
        snprintf(out, size, "the rules leave it to the commission: not compared");
    } else {
        snprintf(out, size, "nothing is implied: not compared");
    }
}

enum official_compared official_compare(char *out, size_t size, const struct rules *rules,
                                        const struct official *official, const struct bout_end *end,
                                        const struct decision *implied)
{
    char announced[80], expected[80], vote[16], counted[16];
    out[0] = '\0';
    if (end->announced || implied->kind == DECISION_OPEN || implied->kind == DECISION_COMMISSION) {
        not_compared(out, size, official, end, implied);
        return OFFICIAL_NOT_COMPARED;
    }
    result_words(announced, sizeof announced, rules, official->kind, official->winner);
    result_words(expected, sizeof expected, rules, implied->kind, implied->winner);
    if (official->kind != implied->kind || official->winner != implied->winner) {
        snprintf(out, size, "announced: %s; the cards and rules imply: %s", announced, expected);
        return OFFICIAL_DIFFERS;
    }
    bool votes = official->voted && implied->voted;
    if (votes &&
        (official->vote.red != implied->vote.red || official->vote.blue != implied->vote.blue ||
         official->vote.even != implied->vote.even)) {
        snprintf(out, size, "announced: %s; the cards make it %s",
                 vote_words(vote, &official->vote), vote_words(counted, &implied->vote));
        return OFFICIAL_DIFFERS;
    }
    return OFFICIAL_AGREES;
}
