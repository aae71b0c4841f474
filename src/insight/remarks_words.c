/* remarks_words.c: remarks as sentences for the air. Counts as they are; a rate is rounded to a
 * tenth. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/base/when.h"
#include "ringtally/insight/remarks.h"
#include "ringtally/tally/shares.h"

const char *const remark_kind_names[REMARK_KINDS] = {
    "knockdown", "lead",        "run",      "first", "fewer_thrown", "share",  "origin", "record",
    "milestone", "landed_more", "accuracy", "pace",  "swing",        "stance", "setup"};
const char *const evidence_names[EVIDENCE_KINDS] = {"", "difference", "per_minute"};

const char *remark_variant_name(const struct remark *remark)
{
    static const char *const names[REMARK_KINDS][2] = {
        [REMARK_LEAD] = {"taken", "standing"},     [REMARK_RECORD] = {"here", "own"},
        [REMARK_MILESTONE] = {"landed", "thrown"}, [REMARK_SWING] = {"accuracy", "output"},
        [REMARK_PACE] = {"rounds", "corners"},
    };
    const char *name = names[remark->kind][remark->variant];
    return name ? name : "";
}

const char *const *remark_number_names(const struct remark *remark)
{
    static const char *const names[REMARK_KINDS][REMARK_NUMBERS] = {
        [REMARK_KNOCKDOWN] = {"round", "elapsed_ms", "red", "blue"},
        [REMARK_LEAD] = {"round", "elapsed_ms", "landed", "other_landed"},
        [REMARK_RUN] = {"length", "since", "from_round", "to_round"},
        [REMARK_FIRST] = {"round", "elapsed_ms", "own"},
        [REMARK_FEWER_THROWN] = {"landed", "thrown", "other_landed", "other_thrown"},
        [REMARK_SHARE] = {"part", "whole"},
        [REMARK_ORIGIN] = {"part", "whole", "rest_part", "rest_whole"},
        [REMARK_RECORD] = {"number", "former", "bouts"},
        [REMARK_MILESTONE] = {"nth", "round", "elapsed_ms"},
        [REMARK_LANDED_MORE] = {"landed", "other_landed"},
        [REMARK_ACCURACY] = {"landed", "thrown", "other_landed", "other_thrown"},
        [REMARK_PACE] = {"thrown", "than_thrown"},
        [REMARK_SWING] = {"part", "whole", "former_part", "former_whole"},
        [REMARK_STANCE] = {"part", "whole", "rest_part", "rest_whole"},
        [REMARK_SETUP] = {"landed", "thrown", "otherwise_landed", "otherwise_thrown"},
    };
    bool lead_now = remark->kind == REMARK_LEAD && remark->variant == LEAD_STANDING;
    return names[lead_now ? REMARK_LANDED_MORE : remark->kind];
}

/* What a sentence is made of. */
struct speech {
    char *out;
    size_t size;
    const struct remark *remark;
    const char *who, *other;
    long long n[REMARK_NUMBERS];
    char in[24]; /* " in round 2", or nothing */
    char so_far[8];
    char through[24]; /* " through round 2" */
};

/* A number as it is spoken: in words up to twelve. */
static const char *spoken(char out[24], long long number)
{
    static const char *const words[] = {"no",    "one",   "two",  "three", "four",   "five",  "six",
                                        "seven", "eight", "nine", "ten",   "eleven", "twelve"};
    if (number >= 0 && number <= 12) {
        return words[number];
    }
    snprintf(out, 24, "%lld", number);
    return out;
}

/* "left low kick", "knees to the body", "punches": what a pick takes. */
static void noun(char *out, size_t size, const struct pick *pick, bool plural)
{
    static const char *const groups[GROUP_COUNT] = {"punch", "knee", "kick", "elbow"};
    static const char *const sides[] = {"", "left ", "right "};
    const char *side = "";
    int group = pick->limb >= 0 ? (int)limb_group(pick->limb) : pick->group;
    const char *s = !plural ? "" : group == GROUP_HANDS && pick->limb < 0 ? "es" : "s";
    if (pick->limb >= 0) {
        side = sides[limb_side((enum limb)pick->limb)];
    }
    const char *word = group < 0                                  ? "strike"
                       : group == GROUP_LEGS && pick->target >= 0 ? target_kicks[pick->target]
                       : group == GROUP_HANDS && pick->limb >= 0  ? "hand"
                                                                  : groups[group];
    const char *technique = pick->technique & TECHNIQUE_SPINNING  ? "spinning "
                            : pick->technique & TECHNIQUE_JUMPING ? "jumping "
                                                                  : "";
    int used = snprintf(out, size, "%s%s%s%s", technique, side, word, s);
    if (pick->target >= 0 && group != GROUP_LEGS && used > 0 && (size_t)used < size) {
        snprintf(out + used, size - (size_t)used, " to the %s", target_names[pick->target]);
    }
}

static void code_noun(char *out, size_t size, int code)
{
    struct pick pick = PICK_ALL;
    pick.limb = (int8_t)(code / TARGET_COUNT);
    pick.target = (int8_t)(code % TARGET_COUNT);
    noun(out, size, &pick, false);
}

static const char *article(const char *word)
{
    return strchr("aeiou", word[0]) ? "an" : "a";
}

static void when_words(char out[64], const struct remark *c, long long round, long long elapsed_ms)
{
    char clock[WHEN_SIZE];
    if (c->at_start || c->at_bell) {
        snprintf(out, 64, "at the %s of round %lld", c->at_start ? "start" : "end", round);
    } else if (elapsed_ms < 60000) { /* as it is said: nobody reads "0:28" aloud */
        long long seconds = elapsed_ms / 1000;
        snprintf(out, 64, "%s second%s into round %lld", spoken(clock, seconds),
                 seconds == 1 ? "" : "s", round);
    } else {
        snprintf(out, 64, "%s into round %lld", when_clock(clock, elapsed_ms), round);
    }
}

static void say_knockdown(const struct speech *s)
{
    char what[64], when[64], own[24], other[24];
    long long mine = s->n[2 + s->remark->corner], theirs = s->n[3 - s->remark->corner];
    noun(what, sizeof what, &s->remark->pick, false);
    when_words(when, s->remark, s->n[0], s->n[1]);
    if (mine + theirs == 1) {
        snprintf(s->out, s->size, "First knockdown of the bout: %s with %s %s, %s.", s->who,
                 article(what), what, when);
    } else if (mine == theirs) {
        snprintf(s->out, s->size, "Knockdown by %s with %s %s, %s: %s each now.", s->who,
                 article(what), what, when, spoken(own, mine));
    } else {
        snprintf(s->out, s->size, "Knockdown by %s with %s %s, %s: %s to %s now.", s->who,
                 article(what), what, when, spoken(own, mine), spoken(other, theirs));
    }
}

static void say_lead(const struct speech *s)
{
    char when[64];
    if (s->remark->variant == LEAD_STANDING) {
        snprintf(s->out, s->size, "%s landed %lld strikes%s%s, %s %lld.", s->who, s->n[0], s->in,
                 s->so_far, s->other, s->n[1]);
        return;
    }
    when_words(when, s->remark, s->n[0], s->n[1]);
    snprintf(s->out, s->size, "%s took the lead in landed strikes, %lld to %lld, %s.", s->who,
             s->n[2], s->n[3], when);
}

static void say_run(const struct speech *s)
{
    char what[64], where[48], number[24];
    noun(what, sizeof what, &s->remark->pick, true);
    if (s->n[2] == s->n[3]) {
        snprintf(where, sizeof where, "in round %lld", s->n[3]);
    } else {
        snprintf(where, sizeof where, "from round %lld into round %lld", s->n[2], s->n[3]);
    }
    if (s->n[1] == 0) {
        snprintf(s->out, s->size, "%s's last %s %s all landed, %s.", s->who,
                 spoken(number, s->n[0]), what, where);
    } else {
        snprintf(s->out, s->size, "%s landed %s %s in a row %s.", s->who, spoken(number, s->n[0]),
                 what, where);
    }
}

static void say_first(const struct speech *s)
{
    char what[64], when[64];
    noun(what, sizeof what, &s->remark->pick, false);
    when_words(when, s->remark, s->n[0], s->n[1]);
    snprintf(s->out, s->size, "%s landed the first %s of the bout, %s.", s->who, what, when);
}

static void say_fewer_thrown(const struct speech *s)
{
    snprintf(s->out, s->size, "%s threw fewer and landed more%s%s: %lld of %lld, %s %lld of %lld.",
             s->who, s->in, s->so_far, s->n[0], s->n[1], s->other, s->n[2], s->n[3]);
}

static void say_share(const struct speech *s)
{
    const struct pick *pick = &s->remark->pick;
    char what[64], how[48], number[24];
    long long part = s->n[0], whole = s->n[1];
    long long tenths = (20 * part + whole) / (2 * whole);
    if (pick->group >= 0) {
        char plural[48];
        noun(plural, sizeof plural, pick, true);
        snprintf(what, sizeof what, "were %s", plural);
    } else {
        snprintf(what, sizeof what, "went to the %s", target_names[pick->target]);
    }
    if (part == whole) {
        snprintf(s->out, s->size, "All %lld strikes that %s landed%s%s %s.", whole, s->who, s->in,
                 s->so_far, what);
        return;
    }
    if (tenths == 10) {
        snprintf(how, sizeof how, "More than nine");
    } else {
        snprintf(how, sizeof how, "%s%s", 10 * part == tenths * whole ? "" : "About ",
                 spoken(number, tenths));
        how[0] = how[0] >= 'a' && how[0] <= 'z' ? (char)(how[0] - 'a' + 'A') : how[0];
    }
    snprintf(s->out, s->size, "%s in ten strikes that %s landed%s%s %s: %lld of %lld.", how, s->who,
             s->in, s->so_far, what, part, whole);
}

static void say_origin(const struct speech *s)
{
    char what[64];
    const char *stance = stance_names[s->remark->pick.stance];
    noun(what, sizeof what, &s->remark->pick, true);
    if (s->n[0] == s->n[1]) {
        snprintf(s->out, s->size, "All %lld of %s's %s came from %s%s.", s->n[1], s->who, what,
                 stance, s->so_far);
    } else {
        snprintf(s->out, s->size, "%lld of %s's %lld %s came from %s%s.", s->n[0], s->who, s->n[1],
                 what, stance, s->so_far);
    }
}

/* "Reef landed 14 body kicks so far, a record here: 12 was the most in 58 bouts logged." */
static void say_record(const struct speech *s)
{
    const struct remark *remark = s->remark;
    const bool own = remark->variant == RECORD_OWN, cut = remark->records->cut;
    const char *did = remark->sort == RECORD_THROWN       ? "threw"
                      : remark->sort == RECORD_KNOCKDOWNS ? "scored"
                                                          : "landed";
    char what[64] = "knockdowns", bouts[24], before[48], number[24];
    snprintf(before, sizeof before, "%s was the most", spoken(number, s->n[1]));
    if (remark->sort != RECORD_KNOCKDOWNS) {
        noun(what, sizeof what, &remark->pick, true);
    }
    int used =
        snprintf(s->out, s->size, "%s %s %s %s%s%s, a %s: ", s->who, did, spoken(number, s->n[0]),
                 what, s->in, s->so_far, own ? "personal best" : "record here");
    if (used > 0 && (size_t)used < s->size) {
        snprintf(s->out + used, s->size - (size_t)used, "%s in %s%s%s bouts logged%s.",
                 s->n[1] ? before : "there was none", remark->round ? "a round of " : "",
                 cut ? "the last " : "", spoken(bouts, s->n[2]), own ? " here" : "");
    }
}

static void say_milestone(const struct speech *s)
{
    char when[64];
    when_words(when, s->remark, s->n[1], s->n[2]);
    snprintf(s->out, s->size, "%s's %lldth %sstrike came %s.", s->who, s->n[0],
             s->remark->variant == MILESTONE_LANDED ? "landed " : "", when);
}

static void say_landed_more(const struct speech *s)
{
    snprintf(s->out, s->size, "%s lands more%s: %lld strikes, %s %lld.", s->who, s->through,
             s->n[0], s->other, s->n[1]);
}

static void say_accuracy(const struct speech *s)
{
    snprintf(s->out, s->size, "%s lands better%s: %lld of %lld, %s %lld of %lld.", s->who,
             s->through, s->n[0], s->n[1], s->other, s->n[2], s->n[3]);
}

static void say_pace(const struct speech *s)
{
    const struct remark *c = s->remark;
    char now[SHARE_SIZE], than[SHARE_SIZE];
    rate_text(now, s->n[0], c->ran_ms[0]);
    rate_text(than, s->n[1], c->ran_ms[1]);
    if (c->variant == PACE_CORNERS) {
        snprintf(s->out, s->size, "%s throws more%s: %s strikes a minute, %s %s.", s->who,
                 s->through, now, s->other, than);
    } else {
        snprintf(s->out, s->size, "%s threw %s in round %d: %s strikes a minute, %s before.",
                 s->who, c->estimate.value > 0.0 ? "more" : "less", c->round, now, than);
    }
}

static void say_swing(const struct speech *s)
{
    const struct remark *c = s->remark;
    bool more = c->estimate.value > 0.0;
    if (c->variant == SWING_ACCURACY) {
        snprintf(s->out, s->size,
                 "%s's accuracy %s in round %d: %lld of %lld landed, %lld of %lld before.", s->who,
                 more ? "rose" : "fell", c->round, s->n[0], s->n[1], s->n[2], s->n[3]);
    } else {
        snprintf(s->out, s->size,
                 "%s went to the %s %s in round %d: %lld of %lld strikes, %lld of %lld before.",
                 s->who, target_spoken[c->pick.target], more ? "more" : "less", c->round, s->n[0],
                 s->n[1], s->n[2], s->n[3]);
    }
}

static void say_stance(const struct speech *s)
{
    bool more = s->remark->estimate.value > 0.0;
    snprintf(s->out, s->size, "%s lands %s from %s%s: %lld of %lld, %lld of %lld otherwise.",
             s->who, more ? "better" : "worse", stance_names[s->remark->pick.stance], s->through,
             s->n[0], s->n[1], s->n[2], s->n[3]);
}

static void say_setup(const struct speech *s)
{
    char first[64], then[64];
    code_noun(first, sizeof first, s->remark->first);
    code_noun(then, sizeof then, s->remark->then);
    snprintf(s->out, s->size,
             "%s's %s landed %lld of %lld right after %s %s, %lld of %lld otherwise.", s->who, then,
             s->n[0], s->n[1], article(first), first, s->n[2], s->n[3]);
}

/* A name may come from a database that another program wrote into: never trusted. */
static void name_of(char out[96], const struct bout *bout, int corner)
{
    const struct fighter *fighter = bout ? &bout->fighter[corner] : NULL;
    const char *name = !fighter ? "" : fighter->short_name[0] ? fighter->short_name : fighter->name;
    if (!name[0] || !text_clean(out, 96, name)) {
        snprintf(out, 96, "%s", corner == CORNER_RED ? "Red" : "Blue");
    }
}

void remark_words(char *out, size_t size, const struct remark *remark, const struct bout *bout)
{
    static void (*const speakers[REMARK_KINDS])(const struct speech *) = {
        [REMARK_KNOCKDOWN] = say_knockdown,
        [REMARK_LEAD] = say_lead,
        [REMARK_RUN] = say_run,
        [REMARK_FIRST] = say_first,
        [REMARK_FEWER_THROWN] = say_fewer_thrown,
        [REMARK_SHARE] = say_share,
        [REMARK_ORIGIN] = say_origin,
        [REMARK_RECORD] = say_record,
        [REMARK_MILESTONE] = say_milestone,
        [REMARK_LANDED_MORE] = say_landed_more,
        [REMARK_ACCURACY] = say_accuracy,
        [REMARK_PACE] = say_pace,
        [REMARK_SWING] = say_swing,
        [REMARK_STANCE] = say_stance,
        [REMARK_SETUP] = say_setup,
    };
    struct speech s = {.out = out, .size = size, .remark = remark};
    char name[CORNER_COUNT][96];
    name_of(name[CORNER_RED], bout, CORNER_RED);
    name_of(name[CORNER_BLUE], bout, CORNER_BLUE);
    s.who = name[remark->corner];
    s.other = name[corner_other(remark->corner)];
    for (int i = 0; i < REMARK_NUMBERS; i++) {
        s.n[i] = (long long)remark->number[i];
    }
    if (remark->round > 0) {
        snprintf(s.in, sizeof s.in, " in round %d", remark->round);
    }
    snprintf(s.so_far, sizeof s.so_far, "%s", remark->open ? " so far" : "");
    if (remark->through > 0) {
        snprintf(s.through, sizeof s.through, " through round %d", remark->through);
    }
    speakers[remark->kind](&s);
}
