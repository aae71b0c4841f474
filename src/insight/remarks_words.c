/* remarks_words.c: remarks as sentences. Counts as they are; a rate is rounded to a tenth. */
#include <stdio.h>
#include <string.h>

#include "ringtally/insight/remarks.h"
#include "ringtally/base/when.h"

const char *const remark_kind_names[REMARK_KINDS] = {
    "landed_more", "fewer_thrown", "share",  "milestone", "first",    "run",
    "swing",       "pace",         "stance", "setup",     "knockdown"};
const char *const evidence_names[EVIDENCE_KINDS] = {"event", "share", "difference", "ratio"};

static const char *const group_words[GROUP_COUNT] = {"hand", "knee", "kick", "elbow"};
static const char *const kick_words[TARGET_COUNT] = {"head kick", "body kick", "low kick"};
static const char *const big_names[CORNER_COUNT] = {"Red", "Blue"};

const char *remark_variant_name(const struct remark *remark)
{
    static const char *const shares[] = {"most", "more"};
    static const char *const milestones[] = {"landed", "thrown"};
    static const char *const swings[] = {"accuracy", "output"};
    static const char *const paces[] = {"round", "rounds", "corners"};
    static const char *const stances[] = {"origin", "accuracy"};
    switch (remark->kind) {
    case REMARK_SHARE:
        return shares[remark->variant];
    case REMARK_MILESTONE:
        return milestones[remark->variant];
    case REMARK_SWING:
        return swings[remark->variant];
    case REMARK_PACE:
        return paces[remark->variant];
    case REMARK_STANCE:
        return stances[remark->variant];
    default:
        return "";
    }
}

const char *const *remark_number_names(const struct remark *remark)
{
    static const char *const names[REMARK_KINDS][REMARK_NUMBERS] = {
        [REMARK_LANDED_MORE] = {"landed", "other_landed"},
        [REMARK_FEWER_THROWN] = {"landed", "thrown", "other_landed", "other_thrown"},
        [REMARK_SHARE] = {"part", "whole"},
        [REMARK_MILESTONE] = {"nth", "round", "elapsed_ms"},
        [REMARK_FIRST] = {"round", "elapsed_ms", "own"},
        [REMARK_RUN] = {"length", "since", "from_round", "to_round", "rest_landed", "rest_thrown"},
        [REMARK_SWING] = {"part", "whole", "former_part", "former_whole"},
        [REMARK_PACE] = {"thrown", "than_thrown"},
        [REMARK_STANCE] = {"part", "whole", "rest_part", "rest_whole"},
        [REMARK_SETUP] = {"landed", "thrown", "otherwise_landed", "otherwise_thrown"},
        [REMARK_KNOCKDOWN] = {"round", "elapsed_ms", "red", "blue"},
    };
    static const char *const more[REMARK_NUMBERS] = {"part", "whole", "other_part", "other_whole"};
    return remark->kind == REMARK_SHARE && remark->variant == SHARE_MORE ? more
                                                                         : names[remark->kind];
}

/* "left low kick", "knees to the body", "hands": what a pick takes. */
static void noun(char *out, size_t size, const struct pick *pick, bool plural)
{
    const char *side = "";
    const char *s = plural ? "s" : "";
    int group = pick->limb >= 0 ? (int)limb_group(pick->limb) : pick->group;
    if (pick->limb >= 0 && strncmp(limb_words[pick->limb], "left ", 5) == 0) {
        side = "left ";
    } else if (pick->limb >= 0 && strncmp(limb_words[pick->limb], "right ", 6) == 0) {
        side = "right ";
    }
    const char *technique = pick->technique & TECHNIQUE_SPINNING  ? "spinning "
                            : pick->technique & TECHNIQUE_JUMPING ? "jumping "
                                                                  : "";
    if (group < 0) {
        snprintf(out, size, "%sstrike%s", technique, s);
    } else if (pick->target < 0) {
        snprintf(out, size, "%s%s%s", side, group_words[group], s);
    } else if (group == GROUP_LEGS) {
        snprintf(out, size, "%s%s%s", side, kick_words[pick->target], s);
    } else {
        snprintf(out, size, "%s%s%s to the %s", side, group_words[group], s,
                 target_names[pick->target]);
    }
}

static void code_noun(char *out, size_t size, int code)
{
    struct pick pick = PICK_ALL;
    pick.limb = (int8_t)(code / TARGET_COUNT);
    pick.target = (int8_t)(code % TARGET_COUNT);
    noun(out, size, &pick, false);
}

/* Strikes a minute with one digit, and a point in every locale. */
static void rate_words(char out[32], int64_t count, int64_t ran_ms)
{
    if (ran_ms <= 0) {
        snprintf(out, 32, "-");
        return;
    }
    long long tenths = (long long)((count * 600000 + ran_ms / 2) / ran_ms);
    snprintf(out, 32, "%lld.%lld", tenths / 10, tenths % 10);
}

static void share_words(char *out, size_t size, const struct remark *c, const char *who,
                        const char *in)
{
    char what[64] = "";
    char how[48] = "";
    long long part = (long long)c->number[0], whole = (long long)c->number[1];
    if (c->pick.group >= 0) {
        noun(what, sizeof what, &c->pick, true);
    }
    const char *verb = c->pick.group >= 0 ? "were " : "went to the ";
    const char *end = c->pick.group >= 0 ? what : target_names[c->pick.target];
    if (c->variant == SHARE_MORE) {
        snprintf(out, size, "%lld of %lld that %s landed%s %s%s, %lld of %lld that %s landed.",
                 part, whole, who, in, verb, end, (long long)c->number[2], (long long)c->number[3],
                 corner_names[corner_other(c->corner)]);
        return;
    }
    if (part == whole) {
        snprintf(out, size, "All %lld that %s landed%s %s%s.", whole, who, in, verb, end);
        return;
    }
    long long tenths = (20 * part + whole) / (2 * whole);
    if (tenths == 10) {
        snprintf(how, sizeof how, "More than 9");
    } else {
        snprintf(how, sizeof how, "%s%lld", 10 * part == tenths * whole ? "" : "About ", tenths);
    }
    snprintf(out, size, "%s in 10 of what %s landed%s %s%s (%lld of %lld).", how, who, in, verb,
             end, part, whole);
}

static void milestone_words(char *out, size_t size, const struct remark *c, const char *when)
{
    snprintf(out, size, "%s %s its %lldth strike %s.", big_names[c->corner],
             c->variant == MILESTONE_LANDED ? "landed" : "threw", (long long)c->number[0], when);
}

static void run_words(char *out, size_t size, const struct remark *c)
{
    char what[64];
    char where[40];
    long long from = (long long)c->number[2], to = (long long)c->number[3];
    noun(what, sizeof what, &c->pick, true);
    if (from == to) {
        snprintf(where, sizeof where, "in round %lld", to);
    } else {
        snprintf(where, sizeof where, "in rounds %lld to %lld", from, to);
    }
    if (c->number[1] == 0) {
        snprintf(out, size, "%s's last %lld %s all landed, %s.", big_names[c->corner],
                 (long long)c->number[0], what, where);
    } else {
        snprintf(out, size, "%s landed %lld %s in a row %s.", big_names[c->corner],
                 (long long)c->number[0], what, where);
    }
}

static void pace_words(char *out, size_t size, const struct remark *c, const char *other)
{
    char now[32], than[32], beside[40];
    rate_words(now, c->number[0], c->ran_ms[0]);
    rate_words(than, c->number[1], c->ran_ms[1]);
    if (c->variant == PACE_CORNERS) {
        snprintf(out, size, "%s threw %s a minute, %s %s.", big_names[c->corner], now, other, than);
        return;
    }
    if (c->variant == PACE_ROUND) {
        snprintf(beside, sizeof beside, "in round %d", c->round - 1);
    } else {
        snprintf(beside, sizeof beside, "in the rounds before");
    }
    snprintf(out, size, "%s threw %s a minute in round %d, %s %s.", big_names[c->corner], now,
             c->round, than, beside);
}

static void stance_words(char *out, size_t size, const struct remark *c, const char *who)
{
    char what[64];
    const long long n[4] = {(long long)c->number[0], (long long)c->number[1],
                            (long long)c->number[2], (long long)c->number[3]};
    const char *stance = stance_names[c->pick.stance];
    if (c->variant == STANCE_ACCURACY) {
        snprintf(out, size, "%s landed %lld of %lld from %s, %lld of %lld otherwise.",
                 big_names[c->corner], n[0], n[1], stance, n[2], n[3]);
        return;
    }
    noun(what, sizeof what, &c->pick, true);
    if (n[0] == n[1]) {
        snprintf(out, size, "All %lld of %s's %s came from %s.", n[1], who, what, stance);
    } else {
        snprintf(out, size, "%lld of %s's %lld %s came from %s.", n[0], who, n[1], what, stance);
    }
}

static void setup_words(char *out, size_t size, const struct remark *c)
{
    char first[64], then[64], window[16];
    code_noun(first, sizeof first, c->first);
    code_noun(then, sizeof then, c->then);
    if (c->window_ms % 1000) {
        snprintf(window, sizeof window, "%d.%d", c->window_ms / 1000, c->window_ms % 1000 / 100);
    } else {
        snprintf(window, sizeof window, "%d", c->window_ms / 1000);
    }
    snprintf(out, size,
             "%s's %s landed %lld of %lld within %s s after a %s, %lld of %lld otherwise.",
             big_names[c->corner], then, (long long)c->number[0], (long long)c->number[1], window,
             first, (long long)c->number[2], (long long)c->number[3]);
}

static void knockdown_words(char *out, size_t size, const struct remark *c, const char *when)
{
    char what[64];
    noun(what, sizeof what, &c->pick, false);
    if (c->number[2] + c->number[3] == 1) {
        snprintf(out, size, "First knockdown of the bout, by %s, %s: %s.", corner_names[c->corner],
                 when, what);
    } else {
        snprintf(out, size, "Knockdown by %s, %s: %s. Knockdowns: red %lld, blue %lld.",
                 corner_names[c->corner], when, what, (long long)c->number[2],
                 (long long)c->number[3]);
    }
}

static void when_words(char *out, size_t size, int64_t round, int64_t elapsed_ms)
{
    char clock[WHEN_SIZE];
    snprintf(out, size, "%s into round %lld", when_clock(clock, elapsed_ms), (long long)round);
}

void remark_words(char *out, size_t size, const struct remark *remark)
{
    const struct remark *c = remark;
    const char *big = big_names[c->corner];
    const char *who = corner_names[c->corner];
    const char *other = corner_names[corner_other(c->corner)];
    const long long n[4] = {(long long)c->number[0], (long long)c->number[1],
                            (long long)c->number[2], (long long)c->number[3]};
    char what[64] = "", when[64] = "", in[24] = "";
    if (c->round > 0) {
        snprintf(in, sizeof in, " in round %d", c->round);
    }
    switch (c->kind) {
    case REMARK_LANDED_MORE:
        if (c->pick.target >= 0) {
            snprintf(what, sizeof what, " to the %s", target_names[c->pick.target]);
        }
        snprintf(out, size, "%s landed %lld%s%s, %s %lld.", big, n[0], what, in, other, n[1]);
        break;
    case REMARK_FEWER_THROWN:
        snprintf(out, size, "%s threw fewer and landed more%s: %lld of %lld, %s %lld of %lld.", big,
                 in, n[0], n[1], other, n[2], n[3]);
        break;
    case REMARK_SHARE:
        share_words(out, size, c, who, in);
        break;
    case REMARK_MILESTONE:
        when_words(when, sizeof when, n[1], n[2]);
        milestone_words(out, size, c, when);
        break;
    case REMARK_FIRST:
        noun(what, sizeof what, &c->pick, false);
        when_words(when, sizeof when, n[0], n[1]);
        snprintf(out, size, "%s landed the first %s of the bout, %s.", big, what, when);
        break;
    case REMARK_RUN:
        run_words(out, size, c);
        break;
    case REMARK_SWING:
        if (c->variant == SWING_OUTPUT) {
            snprintf(what, sizeof what, " to the %s", target_names[c->pick.target]);
        }
        snprintf(out, size, "%s %s %lld of %lld%s in round %d, %lld of %lld in round %d.", big,
                 c->variant == SWING_OUTPUT ? "threw" : "landed", n[0], n[1], what, c->round, n[2],
                 n[3], c->round - 1);
        break;
    case REMARK_PACE:
        pace_words(out, size, c, other);
        break;
    case REMARK_STANCE:
        stance_words(out, size, c, who);
        break;
    case REMARK_SETUP:
        setup_words(out, size, c);
        break;
    case REMARK_KNOCKDOWN:
        when_words(when, sizeof when, n[0], n[1]);
        knockdown_words(out, size, c, when);
        break;
    default:
        snprintf(out, size, "-");
        break;
    }
}
