/* coach_words.c: the three sentences of the coach's sheet, none of which says more than the
 * numbers carry: what lands best, what is taken most, what changed since the round before. */
#include "sheet/coach.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ringtally/stats/adjust.h"
#include "ringtally/stats/contingency.h"
#include "ringtally/base/when.h"

#define CELLS (TARGET_COUNT * PAD_COLUMNS)

struct found {
    int target, column; /* -1: none */
    int as_many;        /* cells with as many landed, this one included */
    struct count rest;
    struct estimate difference; /* of the shares landed, this cell less the rest */
};

static struct count rest_of(const struct pad *pad, const struct count *part)
{
    return (struct count){pad->all.attempted - part->attempted, pad->all.landed - part->landed};
}

/* The cell that lands better than all else the corner throws: Newcombe's interval leaves 0 out, and
 * Fisher's p holds against all cells that had enough cases (Benjamini and Hochberg). */
static int find_best(struct found *out, const struct pad *pad, struct error *err)
{
    double p[CELLS];
    int cell_of[CELLS];
    size_t count = 0;
    *out = (struct found){.target = -1, .column = -1};
    for (int at = 0; at < CELLS; at++) {
        const struct count *part = &pad->cell[at / PAD_COLUMNS][at % PAD_COLUMNS].count;
        struct count rest = rest_of(pad, part);
        if (part->attempted >= COACH_CASES && rest.attempted >= COACH_CASES) {
            struct fisher fisher = contingency_fisher(part->landed, part->attempted - part->landed,
                                                      rest.landed, rest.attempted - rest.landed);
            p[count] = fisher.defined ? fisher.two_sided : 1.0;
            cell_of[count++] = at;
        }
    }
    int code = count ? adjust_false_discovery(p, p, count, err) : 0;
    double best = 1.0 - COACH_LEVEL;
    for (size_t i = 0; i < count && !code; i++) {
        int target = cell_of[i] / PAD_COLUMNS, column = cell_of[i] % PAD_COLUMNS;
        const struct count *part = &pad->cell[target][column].count;
        struct count rest = rest_of(pad, part);
        struct estimate difference = interval_newcombe(part->landed, part->attempted, rest.landed,
                                                       rest.attempted, COACH_LEVEL);
        if (difference.value > 0.0 && interval_excludes(difference, 0.0) && p[i] <= best) {
            best = p[i];
            *out = (struct found){target, column, 1, rest, difference};
        }
    }
    return code;
}

static struct found find_most(const struct pad *pad)
{
    struct found out = {.target = -1, .column = -1};
    for (int target = 0; target < TARGET_COUNT && pad->most > 0; target++) {
        for (int column = 0; column < PAD_COLUMNS; column++) {
            if (pad->cell[target][column].count.landed == pad->most) {
                out.target = out.as_many ? out.target : target;
                out.column = out.as_many ? out.column : column;
                out.as_many++;
            }
        }
    }
    return out;
}

static int percent(int part, int whole)
{
    return (int)((200 * (int64_t)part + whole) / (2 * (int64_t)whole));
}

static void big(char *words)
{
    if (words[0] >= 'a' && words[0] <= 'z') {
        words[0] = (char)(words[0] - 'a' + 'A');
    }
}

/* "Left low kick, 12 of 15 landed." */
static void say_cell(struct coach_line *line, const struct pad *pad, const struct found *found)
{
    char name[48];
    const struct count *part = &pad->cell[found->target][found->column].count;
    pad_words(name, (enum pad_column)found->column, (enum target)found->target);
    big(name);
    snprintf(line->words, sizeof line->words, "%s: %d of %d landed.", name, part->landed,
             part->attempted);
}

/* Too little for a sentence about one strike; false where there is enough. */
static bool say_little(struct coach_line *line, const struct pad *pad, const char *nothing_thrown)
{
    if (pad->all.attempted == 0) {
        snprintf(line->words, sizeof line->words, "%s", nothing_thrown);
    } else if (pad->all.landed == 0) {
        snprintf(line->words, sizeof line->words, "Nothing landed, of %d thrown.",
                 pad->all.attempted);
    } else if (pad->most < COACH_NAMED) {
        snprintf(line->words, sizeof line->words, "%d of %d landed, no strike more than %s.",
                 pad->all.landed, pad->all.attempted, pad->most == 1 ? "once" : "twice");
    } else {
        return false;
    }
    return true;
}

static void say_most(struct coach_line *line, const struct pad *pad, const struct found *most)
{
    say_cell(line, pad, most);
    if (most->as_many > 1) {
        size_t used = strlen(line->words) - 1;
        snprintf(line->words + used, sizeof line->words - used, "; %d other%s as often.",
                 most->as_many - 1, most->as_many == 2 ? "" : "s");
    }
}

/* Nobody tagged that side: nothing is said about it. */
static bool say_untagged(struct coach *coach, struct coach_line *line, enum side side)
{
    if (!coach_part(coach, side)->tagged) {
        snprintf(line->words, sizeof line->words, "%s corner was not tagged: unknown.",
                 side == SIDE_WE ? "Our" : "Their");
        return true;
    }
    return false;
}

/* "Seen: 1:15 of 3:00." where there was time with nobody to tag that side. */
static void say_seen(const struct coach *coach, struct coach_line *line, enum side side)
{
    const struct coverage_part *part = coach_part(coach, side);
    char covered[WHEN_SIZE], ran[WHEN_SIZE];
    size_t used = strlen(line->words);
    if (part->tagged && part->covered_ms < part->ran_ms) {
        snprintf(line->words + used, sizeof line->words - used, " Seen: %s of %s.",
                 when_clock(covered, part->covered_ms), when_clock(ran, part->ran_ms));
    }
}

static int say_lands(struct coach *coach, struct error *err)
{
    struct coach_line *line = &coach->line[LINE_LANDS];
    const struct pad *pad = &coach->pad[SIDE_WE];
    struct found best = {.target = -1};
    coach->best_target = coach->best_column = -1;
    int code = find_best(&best, pad, err);
    line->label = "Lands most";
    if (code || say_untagged(coach, line, SIDE_WE) ||
        say_little(line, pad, "Nothing thrown yet.")) {
        return code;
    }
    if (best.target >= 0) {
        line->label = "Lands best";
        say_cell(line, pad, &best);
        snprintf(line->proof, sizeof line->proof,
                 "All else %d of %d. %.0f points better, interval %.0f to %.0f.", best.rest.landed,
                 best.rest.attempted, best.difference.value * 100, best.difference.low * 100,
                 best.difference.high * 100);
    } else {
        best = find_most(pad);
        say_most(line, pad, &best);
        snprintf(line->proof, sizeof line->proof,
                 "No strike lands better than the rest (%d of %d) that the numbers carry.",
                 pad->all.landed, pad->all.attempted);
    }
    coach->best_target = best.target;
    coach->best_column = best.column;
    return 0;
}

/* Knockdowns come first: by which strike and when, the newest. */
static void say_down(struct coach *coach)
{
    const struct figures *figures = coach->figures;
    struct coach_line *line = &coach->line[LINE_TAKES];
    const struct entry *newest = NULL;
    int downs = 0;
    for (size_t i = 0; i < figures->listed[LIST_KNOCKDOWNS]; i++) {
        const struct entry *now = &figures->list[LIST_KNOCKDOWNS][i].subject->now;
        if (now->strike.corner == coach->corner[SIDE_THEY]) {
            newest = now;
            downs++;
        }
    }
    if (newest) {
        char clock[WHEN_SIZE], what[48], words[sizeof line->words], often[32] = "once";
        pad_words(what, pad_column(newest->strike.limb), (enum target)newest->strike.target);
        if (downs > 1) {
            snprintf(often, sizeof often, "%d times, the last", downs);
        }
        snprintf(words, sizeof words, "Knocked down %s: %s, R%d %s.%s%.100s", often, what,
                 newest->round, when_clock(clock, newest->elapsed_ms), line->words[0] ? " " : "",
                 line->words);
        snprintf(line->words, sizeof line->words, "%s", words);
    }
}

static void say_takes(struct coach *coach)
{
    struct coach_line *line = &coach->line[LINE_TAKES];
    const struct pad *pad = &coach->pad[SIDE_THEY];
    coach->worst_target = coach->worst_column = -1;
    line->label = "Takes most";
    if (!say_untagged(coach, line, SIDE_THEY) &&
        !say_little(line, pad, "Nothing thrown at us yet.")) {
        struct found most = find_most(pad);
        int taken = pad->cell[most.target][most.column].count.landed;
        struct estimate share = interval_wilson(taken, pad->all.landed, COACH_LEVEL);
        say_most(line, pad, &most);
        snprintf(
            line->proof, sizeof line->proof, "%d%% of the %d that we take, interval %.0f to %.0f.",
            percent(taken, pad->all.landed), pad->all.landed, share.low * 100, share.high * 100);
        coach->worst_target = most.target;
        coach->worst_column = most.column;
    }
    say_down(coach);
}

/* Output is not compared with time in which nobody was there to tag. */
static bool seen_whole(const struct coach *coach, enum corner corner, int from, int to)
{
    bool whole = true;
    for (int round = from; round <= to; round++) {
        whole = whole && coverage_whole(&coach->figures->coverage, round, corner);
    }
    return whole;
}

static bool is_change(const struct coach *coach, const struct remark *remark, int round)
{
    if (remark->kind == REMARK_PACE && remark->variant != PACE_CORNERS &&
        !seen_whole(coach, (enum corner)remark->corner,
                    remark->variant == PACE_ROUND ? round - 1 : 1, round)) {
        return false;
    }
    return remark->round == round &&
           (remark->kind == REMARK_SWING ||
            (remark->kind == REMARK_PACE && remark->variant != PACE_CORNERS));
}

/* Of those about the corner the one whose interval is farthest from saying nothing. */
static const struct remark *strongest(const struct coach *coach, const struct remarks *remarks,
                                      enum corner corner, int round)
{
    const struct remark *best = NULL;
    for (size_t i = 0; i < remarks->count; i++) {
        const struct remark *item = &remarks->item[i];
        if (item->corner == corner && is_change(coach, item, round) &&
            (!best || item->strength > best->strength)) {
            best = item;
        }
    }
    return best;
}

static void say_change(char *words, size_t words_size, char *proof, size_t proof_size,
                       const struct remark *c, const char *who)
{
    char before[32];
    const long long n[4] = {(long long)c->number[0], (long long)c->number[1],
                            (long long)c->number[2], (long long)c->number[3]};
    if (c->kind == REMARK_PACE) {
        char now[CELL_SIZE], than[CELL_SIZE];
        ratio_cell(now, n[0] * 60000, c->ran_ms[0], 1, "-");
        ratio_cell(than, n[1] * 60000, c->ran_ms[1], 1, "-");
        snprintf(before, sizeof before, c->variant == PACE_ROUND ? "in round %d" : "before",
                 c->round - 1);
        bool more = n[0] * c->ran_ms[1] > n[1] * c->ran_ms[0];
        snprintf(words, words_size, "%s throw %s: %s a minute, %s %s.", who, more ? "more" : "less",
                 now, than, before);
        if (c->bounded) {
            snprintf(proof, proof_size, "Ratio %lld.%02lld, interval %lld.%02lld to %lld.%02lld.",
                     llround(c->estimate.value * 100) / 100, llround(c->estimate.value * 100) % 100,
                     llround(c->estimate.low * 100) / 100, llround(c->estimate.low * 100) % 100,
                     llround(c->estimate.high * 100) / 100, llround(c->estimate.high * 100) % 100);
        }
        return;
    }
    bool more = c->estimate.value > 0.0;
    if (c->variant == SWING_ACCURACY) {
        snprintf(words, words_size, "%s land %s: %lld of %lld, %lld of %lld in round %d.", who,
                 more ? "more" : "less", n[0], n[1], n[2], n[3], c->round - 1);
    } else {
        snprintf(words, words_size, "%s go to the %s %s: %lld of %lld, %lld of %lld in round %d.",
                 who, target_names[c->pick.target], more ? "more" : "less", n[0], n[1], n[2], n[3],
                 c->round - 1);
    }
    snprintf(proof, proof_size, "%+.0f points, interval %+.0f to %+.0f.", c->estimate.value * 100,
             c->estimate.low * 100, c->estimate.high * 100);
}

static int say_changed(struct coach *coach, struct error *err)
{
    static const char *const who[SIDE_COUNT] = {"We", "They"};
    const struct sheet_view *view = coach->figures->view;
    struct coach_line *line = &coach->line[LINE_CHANGED];
    struct remarks remarks = {.item = NULL};
    int round = coach->rounds;
    line->label = "Changed";
    if (round < 2) {
        snprintf(line->words, sizeof line->words, "No round before to compare with.");
        return 0;
    }
    int code = remarks_init(&remarks, view->fold, &remark_rule_default, view->now_ms, err);
    if (code) {
        return code;
    }
    for (int side = 0; side < SIDE_COUNT; side++) {
        const struct remark *c = strongest(coach, &remarks, coach->corner[side], round);
        char words[112] = "", proof[112] = "";
        if (c) {
            size_t used = strlen(line->words), proved = strlen(line->proof);
            say_change(words, sizeof words, proof, sizeof proof, c, who[side]);
            snprintf(line->words + used, sizeof line->words - used, "%s%s", used ? " " : "", words);
            snprintf(line->proof + proved, sizeof line->proof - proved, "%s%s", proved ? " " : "",
                     proof);
        }
    }
    if (!line->words[0]) {
        snprintf(line->words, sizeof line->words, "Nothing since round %d that the numbers carry.",
                 round - 1);
    }
    if (!seen_whole(coach, CORNER_RED, round - 1, round) ||
        !seen_whole(coach, CORNER_BLUE, round - 1, round)) {
        size_t used = strlen(line->words);
        snprintf(line->words + used, sizeof line->words - used,
                 " Not all of rounds %d and %d was seen.", round - 1, round);
    }
    remarks_release(&remarks);
    return 0;
}

int coach_say(struct coach *coach, struct error *err)
{
    int code = say_lands(coach, err);
    if (!code) {
        say_seen(coach, &coach->line[LINE_LANDS], SIDE_WE);
        say_takes(coach);
        say_seen(coach, &coach->line[LINE_TAKES], SIDE_THEY);
        code = say_changed(coach, err);
    }
    return code;
}
