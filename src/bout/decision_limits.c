/* decision_limits.c: the rules' limits on counts and knockdowns. */
/* What the rules' limits say while the bout goes on. */
#include <stdio.h>

#include "ringtally/bout/decision.h"

bool limit_notice(char *out, size_t size, const struct rules *rules,
                  const struct limit_counts *counts, enum corner corner)
{
    const struct limit_rules *limits = &rules->limits;
    const char *bout = decision_name(rules, DECISION_TKO_LIMIT);
    enum clause round_clause =
        limits->round_limit == ROUND_LIMIT_ROUND ? CLAUSE_ROUND_LIMIT : CLAUSE_LIMIT;
    const char *round =
        limits->round_limit == ROUND_LIMIT_ROUND ? "the round goes to the opponent" : bout;
    const struct {
        int limit, count;
        const char *what, *span, *end;
        enum clause clause;
    } checks[] = {
        {limits->knockdowns_bout, counts->knockdowns_bout, "knockdowns", "bout", bout,
         CLAUSE_LIMIT},
        {limits->counts_bout, counts->counts_bout, "counts", "bout", bout, CLAUSE_LIMIT},
        {limits->knockdowns_round, counts->knockdowns_round, "knockdowns", "round", round,
         round_clause},
        {limits->counts_round, counts->counts_round, "counts", "round", round, round_clause},
        {limits->warnings, counts->warnings, "warnings", "bout",
         decision_name(rules, DECISION_DISQUALIFICATION), CLAUSE_WARNINGS},
    };
    out[0] = '\0';
    for (size_t i = 0; i < sizeof checks / sizeof checks[0]; i++) {
        const char *clause = rules->clause[checks[i].clause];
        if (checks[i].limit > 0 && checks[i].count >= checks[i].limit) {
            /* Who decides stands before what may be cut. */
            snprintf(out, size,
                     "%s: %d %s in the %s, the rules' limit; the officials decide (%s%s%s)",
                     corner_names[corner], checks[i].count, checks[i].what, checks[i].span,
                     checks[i].end, clause[0] ? ", " : "", clause);
            return true;
        }
    }
    return false;
}

bool kick_counts(const struct rules *rules, const struct strike *strike)
{
    enum limb_group group = limb_group((enum limb)strike->limb);
    bool limb =
        group == GROUP_LEGS || (rules->kicks.limbs == KICK_LEGS_AND_KNEES && group == GROUP_KNEES);
    return limb && (rules->kicks.counted == KICK_ATTEMPTED || strike->outcome == OUTCOME_LANDED);
}

bool kick_notice(char *out, size_t size, const struct rules *rules, int kicks, enum corner corner)
{
    out[0] = '\0';
    if (kicks >= rules->kicks.minimum) {
        return false;
    }
    const char *clause = rules->clause[CLAUSE_KICKS];
    snprintf(out, size, "%s: %d of %d kicks in the round; the officials decide%s%s%s",
             corner_names[corner], kicks, rules->kicks.minimum, clause[0] ? " (" : "", clause,
             clause[0] ? ")" : "");
    return true;
}
