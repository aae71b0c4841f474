/* decision.c: what cards and rules imply. */
#include "ringtally/bout/decision.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* --- the sentence --- */

static void say(struct decision *out, const char *format, ...) PRINTF_LIKE(2, 3);

static void say(struct decision *out, const char *format, ...)
{
    size_t used = strlen(out->reason);
    va_list args;
    va_start(args, format);
    vsnprintf(out->reason + used, sizeof out->reason - used, format, args);
    va_end(args);
}

static int32_t round_length(const struct rules *rules, int rounds, int round)
{
    return round > rounds && rules->extension_ms > 0 ? rules->extension_ms : rules->round_ms;
}

/* Rounds that were over when the bout ended; without a time, those before. */
static int rounds_over(const struct rules *rules, int rounds, const struct bout_end *end)
{
    return end->elapsed_ms >= round_length(rules, rounds, end->round) ? end->round : end->round - 1;
}

/* " in round 2 at 1:14" */
static void say_when(struct decision *out, const struct rules *rules, int rounds,
                     const struct bout_end *end)
{
    int seconds = end->elapsed_ms / 1000;
    if (end->round < 1) {
        return;
    }
    if (rounds_over(rules, rounds, end) == end->round) {
        say(out, " at the end of round %d", end->round);
    } else if (end->elapsed_ms < 0) {
        say(out, " in round %d", end->round);
    } else {
        say(out, " in round %d at %d:%02d", end->round, seconds / 60, seconds % 60);
    }
}

/* "a majority decision for blue": name, winner and pattern. */
static void say_name(struct decision *out, const struct rules *rules)
{
    bool none = strncmp(out->name, "no ", 3) == 0;
    const char *article = none ? "" : strchr("aeio", out->name[0]) ? "an " : "a ";
    say(out, "%s%s", article, out->name);
    if (out->winner != CORNER_NONE) {
        say(out, " for %s", corner_names[out->winner]);
    }
    if (out->pattern != out->kind) {
        say(out, ", %s", decision_name(rules, (enum decision_kind)out->pattern));
    }
}

static void say_clause(struct decision *out)
{
    if (out->clause[0]) {
        say(out, " (%s)", out->clause);
    }
}

static void say_count(struct decision *out, const char *unit, int count, const char *before,
                      const char *for_whom)
{
    char number[12] = "none";
    if (count) {
        snprintf(number, sizeof number, "%d", count);
    }
    say(out, "%s%s", before, number);
    if (unit) {
        say(out, " %s%s", unit, count == 1 ? "" : "s");
    }
    say(out, " %s", for_whom);
}

/* "3 cards for blue, 2 even, none for red"; a draw begins with what is even. */
static void say_vote(struct decision *out, enum corner leader)
{
    const struct vote *vote = &out->vote;
    const char *unit =
        out->kind == DECISION_ROUNDS || out->kind == DECISION_DRAW ? "round" : "card";
    int count[CORNER_COUNT] = {vote->red, vote->blue};
    static const char *const whom[CORNER_COUNT] = {"for red", "for blue"};
    if (leader == CORNER_NONE) {
        say_count(out, unit, vote->even, "", "even");
        say_count(out, NULL, count[CORNER_RED], ", ", whom[CORNER_RED]);
        say_count(out, NULL, count[CORNER_BLUE], ", ", whom[CORNER_BLUE]);
        return;
    }
    enum corner other = corner_other(leader);
    say_count(out, unit, count[leader], "", whom[leader]);
    if (vote->even) {
        say_count(out, NULL, vote->even, ", ", "even");
    }
    say_count(out, NULL, count[other], ", ", whom[other]);
}

static void conclude(struct decision *out, const struct rules *rules, enum decision_kind kind,
                     enum corner winner, enum clause clause)
{
    out->kind = (uint8_t)kind;
    out->pattern = (uint8_t)kind;
    out->winner = (uint8_t)winner;
    out->commission = kind == DECISION_COMMISSION;
    out->extension = kind == DECISION_EXTENSION;
    snprintf(out->name, sizeof out->name, "%s", decision_name(rules, kind));
    snprintf(out->clause, sizeof out->clause, "%s", rules->clause[clause]);
}

static void leave_open(struct decision *out, const struct rules *rules)
{
    conclude(out, rules, DECISION_OPEN, CORNER_NONE, CLAUSE_DECISION);
    say(out, ": nothing is implied yet");
}

static void leave_to_commission(struct decision *out, const struct rules *rules, enum clause clause)
{
    conclude(out, rules, DECISION_COMMISSION, CORNER_NONE, clause);
    say(out, ": the rules leave this to the commission");
    say_clause(out);
}

/* --- the cards --- */

/* Every judge's total over the span, and the vote. False, and said why, where a score or a name is
 * missing. */
static bool count_cards(struct decision *out, const struct rules *rules,
                        const struct scorecard *card, int from, int to, bool names)
{
    char red[SCORE_BYTES], blue[SCORE_BYTES];
    out->from = from;
    out->to = to;
    out->judges = card->judges;
    out->vote = (struct vote){0};
    for (int judge = 1; judge <= card->judges; judge++) {
        struct card_total *total = &out->total[judge - 1];
        *total = scorecard_total(card, rules, judge, from, to, names);
        int *count = total->missing               ? &out->vote.missing
                     : total->vote == CORNER_RED  ? &out->vote.red
                     : total->vote == CORNER_BLUE ? &out->vote.blue
                                                  : &out->vote.even;
        ++*count;
    }
    if (card->judges == 0) {
        say(out, "the bout has no judges");
        return false;
    }
    for (int judge = 1; judge <= card->judges; judge++) {
        const struct card_total *total = &out->total[judge - 1];
        if (total->missing) {
            say(out, "judge %d has no score for round %d", judge, total->missing);
            return false;
        }
        if (names && total->vote == CORNER_NONE) {
            say(out, "judge %d is even at %s-%s and by the rules names a winner", judge,
                score_words(red, total->half[CORNER_RED]),
                score_words(blue, total->half[CORNER_BLUE]));
            return false;
        }
    }
    out->voted = true;
    return true;
}

/* --- rounds won --- */

/* Who has the round on one card: IWUF Art. 24.2.4 settles equal points by fewer warnings, fewer
 * admonitions, the lighter weight. */
static enum corner round_on_card(const struct scorecard *card, int judge, int round,
                                 const struct round_facts *facts)
{
    const uint8_t *half = card->half[judge][round];
    if (half[CORNER_RED] != half[CORNER_BLUE]) {
        return half[CORNER_RED] > half[CORNER_BLUE] ? CORNER_RED : CORNER_BLUE;
    }
    if (!facts) {
        return CORNER_NONE;
    }
    const uint8_t *warnings = facts->warnings[round], *admonitions = facts->admonitions[round];
    bool weighed = facts->weight_g[CORNER_RED] > 0 && facts->weight_g[CORNER_BLUE] > 0;
    int64_t fewer = warnings[CORNER_RED] - warnings[CORNER_BLUE];
    fewer = fewer ? fewer : admonitions[CORNER_RED] - admonitions[CORNER_BLUE];
    if (!fewer && weighed) {
        fewer = (int64_t)facts->weight_g[CORNER_RED] - facts->weight_g[CORNER_BLUE];
    }
    return fewer == 0 ? CORNER_NONE : fewer < 0 ? CORNER_RED : CORNER_BLUE;
}

/* Who won a round: what officials gave, else more than half of the side judges. */
static enum corner round_winner(const struct scorecard *card, int round,
                                const struct round_facts *facts)
{
    struct vote vote = {0};
    enum corner winner = CORNER_NONE;
    if (facts && facts->awarded[round]) {
        return facts->awarded[round] & 1 << CORNER_RED ? CORNER_RED : CORNER_BLUE;
    }
    for (int judge = 0; judge < card->judges; judge++) {
        enum corner on_card = round_on_card(card, judge, round, facts);
        int *count = on_card == CORNER_RED    ? &vote.red
                     : on_card == CORNER_BLUE ? &vote.blue
                                              : &vote.even;
        ++*count;
    }
    decision_vote(&winner, &vote, NAMING_COMMISSION);
    return winner;
}

/* Counts rounds 1 to `to`; false, and said why, where a score is missing. */
static bool count_rounds(struct decision *out, const struct rules *rules,
                         const struct scorecard *card, int to, const struct round_facts *facts)
{
    out->from = 1;
    out->to = to;
    out->judges = card->judges;
    for (int judge = 1; judge <= card->judges; judge++) {
        out->total[judge - 1] = scorecard_total(card, rules, judge, 1, to, false);
    }
    for (int round = 0; round < to; round++) {
        bool awarded = facts && facts->awarded[round];
        for (int judge = 0; !awarded && judge < card->judges; judge++) {
            if (!card->given[judge][round]) {
                say(out, "judge %d has no score for round %d", judge + 1, round + 1);
                return false;
            }
        }
        if (!awarded && card->judges == 0) {
            say(out, "the bout has no judges");
            return false;
        }
        enum corner winner = round_winner(card, round, facts);
        if (awarded) {
            say(out, "the officials gave %s round %d; ", corner_names[winner], round + 1);
        }
        int *count = winner == CORNER_RED    ? &out->vote.red
                     : winner == CORNER_BLUE ? &out->vote.blue
                                             : &out->vote.even;
        ++*count;
    }
    out->voted = true;
    return true;
}

static void by_rounds(struct decision *out, const struct rules *rules, int rounds,
                      const struct scorecard *card, const struct bout_end *end,
                      const struct round_facts *facts)
{
    if (!count_rounds(out, rules, card, end->round, facts)) {
        leave_open(out, rules);
        return;
    }
    const struct vote *vote = &out->vote;
    int most = vote->red > vote->blue ? vote->red : vote->blue;
    enum corner leader = vote->red == vote->blue  ? CORNER_NONE
                         : vote->red > vote->blue ? CORNER_RED
                                                  : CORNER_BLUE;
    if (2 * most > rounds) {
        conclude(out, rules, DECISION_ROUNDS, leader, CLAUSE_DECISION);
        say_vote(out, leader);
        say(out, ": the cards imply ");
        say_name(out, rules);
        say_clause(out);
        return;
    }
    if (end->round < rounds) {
        say(out, "%d of %d rounds are over", end->round, rounds);
        leave_open(out, rules);
        return;
    }
    conclude(out, rules, DECISION_DRAW, CORNER_NONE, CLAUSE_TIE);
    say_vote(out, leader);
    if (leader != CORNER_NONE) {
        leave_to_commission(out, rules, CLAUSE_DECISION);
        return;
    }
    if (rules->scoring.tie == TIE_EXTENSION && end->round < rounds + rules->extension_rounds) {
        conclude(out, rules, DECISION_EXTENSION, CORNER_NONE, CLAUSE_TIE);
    }
    say(out, ": the cards imply ");
    say_name(out, rules);
    say_clause(out);
}

/* --- the distance --- */

static void by_cards(struct decision *out, const struct rules *rules, int rounds,
                     const struct scorecard *card, const struct bout_end *end)
{
    const struct scoring_rules *scoring = &rules->scoring;
    bool extended = end->round > rounds;
    bool last = scoring->tie == TIE_EXTENSION && end->round >= rounds + rules->extension_rounds;
    bool names = scoring->tie == TIE_JUDGES || (last && scoring->tie_after == TIE_JUDGES);
    int from = extended && scoring->extension == EXTENSION_ALONE ? end->round : 1;
    enum corner winner = CORNER_NONE;
    if (!count_cards(out, rules, card, from, end->round, names)) {
        leave_open(out, rules);
        return;
    }
    enum decision_kind kind = decision_vote(&winner, &out->vote, (enum naming)scoring->naming);
    if (winner == CORNER_NONE && scoring->tie == TIE_EXTENSION && !last) {
        kind = DECISION_EXTENSION;
    }
    conclude(out, rules, kind, winner, decision_clause(kind));
    say_vote(out, winner);
    say(out, ": the cards imply ");
    say_name(out, rules);
    say_clause(out);
}

static void by_distance(struct decision *out, const struct rules *rules, int rounds,
                        const struct scorecard *card, const struct bout_end *end,
                        const struct round_facts *facts)
{
    if (rules->scoring.system == SYSTEM_ROUNDS) {
        by_rounds(out, rules, rounds, card, end, facts);
    } else if (end->round < rounds) {
        say(out, "%d of %d rounds are over", end->round, rounds);
        leave_open(out, rules);
    } else {
        by_cards(out, rules, rounds, card, end);
    }
}

/* --- fouls --- */

enum when { TOO_EARLY, TO_THE_CARDS, NOT_SAID };

static enum when foul_when(const struct rules *rules, int rounds, int over, int round)
{
    int from = rules->stops.cards_from;
    switch ((enum cards_from_kind)rules->stops.cards_kind) {
    case CARDS_AFTER:
        return over >= from ? TO_THE_CARDS : TOO_EARLY;
    case CARDS_ROUND:
        return round >= from ? TO_THE_CARDS : TOO_EARLY;
    case CARDS_MAJORITY:
        return 2 * over > rounds ? TO_THE_CARDS : TOO_EARLY;
    case CARDS_HALF:
        return 2 * over > rounds ? TO_THE_CARDS : 2 * over < rounds ? TOO_EARLY : NOT_SAID;
    case CARDS_COMMISSION:
        break;
    }
    return NOT_SAID;
}

/* The cards with an unfinished round in which nothing happened filled in as even. */
static struct scorecard with_empty_round(const struct scorecard *card, const struct rules *rules,
                                         int round)
{
    struct scorecard filled = *card;
    for (int judge = 0; judge < card->judges; judge++) {
        for (int corner = 0; corner < CORNER_COUNT && !card->given[judge][round - 1]; corner++) {
            bool off = rules->scoring.deductions == DEDUCTED_BY_JUDGES;
            int half = rules->scoring.system == SYSTEM_POINTS ? 20 : 0;
            half -= off ? card->deducted[round - 1][corner] : 0;
            filled.half[judge][round - 1][corner] = (uint8_t)(half < 0 ? 0 : half);
        }
        filled.given[judge][round - 1] = true;
    }
    return filled;
}

/* After a foul: who is ahead on the cards as they stand. */
static void by_cards_so_far(struct decision *out, const struct rules *rules, int rounds,
                            const struct scorecard *card, const struct bout_end *end,
                            const struct round_facts *facts)
{
    bool intentional = end->how == END_INTENTIONAL;
    enum clause clause = intentional ? CLAUSE_INTENTIONAL : CLAUSE_ACCIDENTAL;
    int over = rounds_over(rules, rounds, end);
    int to = rules->stops.partial ? end->round : over;
    enum corner winner = CORNER_NONE;
    bool empty = to > over && end->no_action && rules->stops.empty_even;
    struct scorecard cards = empty ? with_empty_round(card, rules, end->round) : *card;
    bool alone = end->round > rounds && rules->scoring.extension == EXTENSION_ALONE;
    if (alone || to < 1) {
        say(out, "%s", to < 1 ? ", no round to count" : "");
        leave_to_commission(out, rules, clause);
        return;
    }
    say(out, "; ");
    bool by_round = rules->scoring.system == SYSTEM_ROUNDS;
    if (by_round ? !count_rounds(out, rules, &cards, to, facts)
                 : !count_cards(out, rules, &cards, 1, to, rules->scoring.tie == TIE_JUDGES)) {
        leave_open(out, rules);
        return;
    }
    enum decision_kind pattern =
        decision_vote(&winner, &out->vote, (enum naming)rules->scoring.naming);
    if (by_round) {
        winner = out->vote.red == out->vote.blue  ? CORNER_NONE
                 : out->vote.red > out->vote.blue ? CORNER_RED
                                                  : CORNER_BLUE;
        pattern = winner == CORNER_NONE ? DECISION_DRAW : DECISION_ROUNDS;
    }
    out->kind = (uint8_t)pattern; /* for the unit that the vote is told in */
    say_vote(out, winner);
    /* Behind or even, whom an intentional foul injured: Utah Admin. Code R457-1-605(3); the same in
     * N.J.A.C. 13:46-24A item 8, of mixed martial arts. */
    bool decided = winner != CORNER_NONE && (!intentional || winner == end->corner);
    conclude(out, rules, decided ? DECISION_TECHNICAL : DECISION_TECHNICAL_DRAW,
             decided ? winner : CORNER_NONE, clause);
    out->pattern = (uint8_t)pattern;
    if (!decided && winner != CORNER_NONE) {
        say(out, ": %s on the cards for %s, but %s, whom the foul injured, is behind: ",
            decision_name(rules, pattern), corner_names[winner], corner_names[end->corner]);
        say(out, "the rules make it a %s", out->name);
    } else {
        say(out, ": the cards imply ");
        say_name(out, rules);
    }
    say_clause(out);
}

static void by_accidental_foul(struct decision *out, const struct rules *rules, int rounds,
                               const struct scorecard *card, const struct bout_end *end,
                               const struct round_facts *facts)
{
    static const enum decision_kind early[] = {
        [EARLY_COMMISSION] = DECISION_COMMISSION,
        [EARLY_NO_CONTEST] = DECISION_NO_CONTEST,
        [EARLY_DRAW] = DECISION_DRAW,
        [EARLY_NO_DECISION] = DECISION_NO_DECISION,
    };
    int over = rounds_over(rules, rounds, end);
    enum decision_kind kind = early[rules->stops.early];
    say(out, "stopped by an accidental foul");
    say_when(out, rules, rounds, end);
    say(out, ", %d of %d rounds over", over, rounds);
    enum when when = foul_when(rules, rounds, over, end->round);
    if (when == TO_THE_CARDS) {
        by_cards_so_far(out, rules, rounds, card, end, facts);
    } else if (when == NOT_SAID || kind == DECISION_COMMISSION) {
        leave_to_commission(out, rules, CLAUSE_ACCIDENTAL);
    } else {
        conclude(out, rules, kind, CORNER_NONE, CLAUSE_ACCIDENTAL);
        say(out, ", too early for the cards: the rules call this ");
        say_name(out, rules);
        say_clause(out);
    }
}

static void by_intentional_foul(struct decision *out, const struct rules *rules, int rounds,
                                const struct scorecard *card, const struct bout_end *end,
                                const struct round_facts *facts)
{
    say(out, "stopped by what an intentional foul did to %s before",
        end->corner < CORNER_COUNT ? corner_names[end->corner] : "one of them");
    say_when(out, rules, rounds, end);
    if (rules->stops.intentional == LEFT_TO_RULES && end->corner < CORNER_COUNT) {
        by_cards_so_far(out, rules, rounds, card, end, facts);
    } else {
        leave_to_commission(out, rules, CLAUSE_INTENTIONAL);
    }
}

/* --- stoppages --- */

static const struct {
    enum decision_kind kind;
    const char *words; /* %s: the loser, where the kind has one */
} stoppages[END_COUNT] = {
    [END_KNOCKOUT] = {DECISION_KNOCKOUT, "%s was counted out"},
    [END_REFEREE] = {DECISION_TKO_REFEREE, "the referee stopped %s"},
    [END_DOCTOR] = {DECISION_TKO_DOCTOR, "%s was stopped on the doctor's word"},
    [END_CORNER] = {DECISION_TKO_CORNER, "%s's corner stopped it"},
    [END_LIMIT] = {DECISION_TKO_LIMIT, "%s reached the rules' limit of knockdowns or counts"},
    [END_RETIREMENT] = {DECISION_RETIREMENT, "%s did not go on"},
    [END_DISQUALIFICATION] = {DECISION_DISQUALIFICATION, "the referee disqualified %s"},
    [END_WALKOVER] = {DECISION_WALKOVER, "%s did not come to box"},
    [END_NO_CONTEST] = {DECISION_NO_CONTEST, "the officials let it count for nothing"},
    [END_NO_DECISION] = {DECISION_NO_DECISION, "the referee saw no earnest bout"},
};

static void by_stoppage(struct decision *out, const struct rules *rules, int rounds,
                        const struct bout_end *end)
{
    bool won = end->how != END_NO_CONTEST && end->how != END_NO_DECISION;
    const char *words = stoppages[end->how].words;
    enum decision_kind kind = stoppages[end->how].kind;
    const char *loser = end->corner == CORNER_NONE
                            ? "one of them"
                            : corner_names[corner_other((enum corner)end->corner)];
    const char *gap = strstr(words, "%s");
    say(out, "%s", end->announced ? "as announced, " : "");
    if (gap) {
        say(out, "%.*s%s%s", (int)(gap - words), words, loser, gap + 2);
    } else {
        say(out, "%s", words);
    }
    say_when(out, rules, rounds, end);
    conclude(out, rules, kind, won ? (enum corner)end->corner : CORNER_NONE, decision_clause(kind));
    say(out, ": the rules call this ");
    say_name(out, rules);
    say_clause(out);
}

void decision_make(struct decision *out, const struct rules *rules, int rounds,
                   const struct scorecard *card, const struct bout_end *end,
                   const struct round_facts *facts)
{
    memset(out, 0, sizeof *out);
    out->winner = CORNER_NONE;
    bool foul = end->how == END_ACCIDENTAL || end->how == END_INTENTIONAL;
    if (end->round < (foul ? 1 : 0) || end->round > ROUND_MAX) {
        say(out, "the round that it ended in is missing");
        leave_open(out, rules);
        return;
    }
    switch ((enum ending)end->how) {
    case END_DISTANCE:
        by_distance(out, rules, rounds, card, end, facts);
        return;
    case END_ACCIDENTAL:
        by_accidental_foul(out, rules, rounds, card, end, facts);
        return;
    case END_INTENTIONAL:
        by_intentional_foul(out, rules, rounds, card, end, facts);
        return;
    case END_BOTH_OUT:
        say(out, "both were counted out");
        say_when(out, rules, rounds, end);
        if (rules->stops.both_out == LEFT_TO_RULES) {
            conclude(out, rules, DECISION_DRAW, CORNER_NONE, CLAUSE_BOTH_OUT);
            say(out, ": the rules call this ");
            say_name(out, rules);
            say_clause(out);
        } else {
            leave_to_commission(out, rules, CLAUSE_BOTH_OUT);
        }
        return;
    case END_NOT_YET:
    case END_COUNT:
        if (rules->scoring.system == SYSTEM_ROUNDS && end->round > 0) {
            by_rounds(out, rules, rounds, card, end, facts);
            return;
        }
        say(out, "%d of %d rounds are over", end->round, rounds);
        leave_open(out, rules);
        return;
    default:
        by_stoppage(out, rules, rounds, end);
        return;
    }
}
