/* coach_words.c: the three sentences for a corner, none of which says more than the numbers carry:
 * what lands, what is taken, what changed in the newest round. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "insight/coach_say.h"
#include "ringtally/base/when.h"
#include "ringtally/stats/contingency.h"
#include "ringtally/tally/shares.h"

#define CELLS (TARGET_COUNT * PAD_COLUMNS)

struct found {
    int target, column; /* -1: none */
    int as_many;        /* cells with as many landed, this one included */
    struct count part, rest;
    struct estimate difference; /* of the shares landed, this cell less the rest */
};

static struct found find_most(const struct pad *pad)
{
    struct found out = {.target = -1, .column = -1};
    for (int target = 0; target < TARGET_COUNT && pad->most > 0; target++) {
        for (int column = 0; column < PAD_COLUMNS; column++) {
            if (pad->cell[target][column].count.landed == pad->most) {
                out.target = out.as_many ? out.target : target;
                out.column = out.as_many ? out.column : column;
                out.part = pad->cell[out.target][out.column].count;
                out.as_many++;
            }
        }
    }
    return out;
}

static void big(char *words)
{
    if (words[0] >= 'a' && words[0] <= 'z') {
        words[0] = (char)(words[0] - 'a' + 'A');
    }
}

/* "Left low kick, 12 of 15 landed." */
static void say_cell(struct coach_line *line, const struct found *found)
{
    char name[48];
    pad_words(name, (enum pad_column)found->column, (enum target)found->target);
    big(name);
    snprintf(line->words, sizeof line->words, "%s: %d of %d landed.", name, found->part.landed,
             found->part.attempted);
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

static void say_most(struct coach_line *line, const struct found *most)
{
    say_cell(line, most);
    if (most->as_many > 1) {
        size_t used = strlen(line->words) - 1;
        snprintf(line->words + used, sizeof line->words - used, "; %d other%s as often.",
                 most->as_many - 1, most->as_many == 2 ? "" : "s");
    }
}

/* The strike that lands better than all else the corner threw up to the bell, by Fisher's exact
 * test of one side; the strikes weigh 1 together. */
static void ask_cells(struct family *family, const struct pad *pad, double error)
{
    struct question question[CELLS];
    int count = 0;
    for (int at = 0; at < CELLS; at++) {
        struct count part = pad->cell[at / PAD_COLUMNS][at % PAD_COLUMNS].count;
        struct count rest = {pad->all.attempted - part.attempted, pad->all.landed - part.landed};
        struct fisher fisher = contingency_fisher(part.landed, part.attempted - part.landed,
                                                  rest.landed, rest.attempted - rest.landed);
        if (part.attempted >= COACH_CASES && rest.attempted >= COACH_CASES &&
            fisher.least <= error) {
            question[count] = (struct question){.p = fisher.greater};
            question[count++].remark = (struct remark){
                .kind = REMARK_KINDS,
                .number = {at, part.landed, part.attempted, rest.landed, rest.attempted}};
        }
    }
    for (int i = 0; i < count; i++) {
        question[i].weight = 1.0 / count;
        family_ask(family, &question[i]);
    }
}

/* Plain counts of a round, for a corner to use where nothing stands out. */
static void say_counts(char *out, size_t size, const struct coach *coach, int round)
{
    const struct coach_round *now = &coach->round[round - 1];
    const struct coach_round *before = &coach->round[round - 2];
    snprintf(out, size,
             "We landed %d of %d in round %d, %d of %d in round %d; they %d of %d, %d of %d.",
             now->count[SIDE_WE].landed, now->count[SIDE_WE].attempted, round,
             before->count[SIDE_WE].landed, before->count[SIDE_WE].attempted, round - 1,
             now->count[SIDE_THEY].landed, now->count[SIDE_THEY].attempted,
             before->count[SIDE_THEY].landed, before->count[SIDE_THEY].attempted);
}

/* How large our own change would have had to be. */
static void add_least(char *out, size_t size, const struct coach *coach,
                      const struct family *family, double error)
{
    double pace = 0.0, accuracy = 0.0;
    for (size_t i = 0; i < family->count; i++) {
        const struct question *question = &family->question[i];
        const struct remark *remark = &question->remark;
        double p = error * question->weight / family->weight;
        if (remark->corner == coach->corner[SIDE_WE] && remark->kind == REMARK_PACE) {
            pace = pieces_least(&question->contrast, p);
        } else if (remark->corner == coach->corner[SIDE_WE] && remark->kind == REMARK_SWING &&
                   remark->variant == SWING_ACCURACY) {
            accuracy = pieces_least(&question->contrast, p);
        }
    }
    size_t used = strlen(out);
    if (pace > 0.0 && accuracy > 0.0 && used < size) {
        snprintf(out + used, size - used,
                 " A change of ours by some %lld strikes a minute or %lld points of accuracy would "
                 "show.",
                 llround(ceil(pace)), llround(ceil(accuracy * 100.0)));
    }
}

static void say_change(char *words, size_t words_size, char *proof, size_t proof_size,
                       const struct remark *c, const char *who, bool newest)
{
    char before[32], when[32] = "";
    const long long n[4] = {(long long)c->number[0], (long long)c->number[1],
                            (long long)c->number[2], (long long)c->number[3]};
    bool more = c->estimate.value > 0.0;
    if (c->from == c->round - 1) {
        snprintf(before, sizeof before, "in round %d", c->round - 1);
    } else {
        snprintf(before, sizeof before, "in the rounds before");
    }
    if (!newest) {
        snprintf(when, sizeof when, " in round %d", c->round);
    }
    if (c->kind == REMARK_PACE) {
        char now[SHARE_SIZE], than[SHARE_SIZE];
        rate_text(now, n[0], c->ran_ms[0]);
        rate_text(than, n[1], c->ran_ms[1]);
        snprintf(words, words_size, "%s throw %s%s: %s a minute, %s %s.", who,
                 more ? "more" : "less", when, now, than, before);
        snprintf(proof, proof_size, "%+lld strikes a minute, interval %+lld to %+lld.",
                 llround(c->estimate.value), llround(c->estimate.low), llround(c->estimate.high));
        return;
    }
    if (c->variant == SWING_ACCURACY) {
        snprintf(words, words_size, "%s land %s%s: %lld of %lld, %lld of %lld %s.", who,
                 more ? "better" : "worse", when, n[0], n[1], n[2], n[3], before);
    } else {
        snprintf(words, words_size, "%s go to the %s %s%s: %lld of %lld, %lld of %lld %s.", who,
                 target_names[c->pick.target], more ? "more" : "less", when, n[0], n[1], n[2], n[3],
                 before);
    }
    snprintf(proof, proof_size, "%+lld points, interval %+lld to %+lld.",
             llround(c->estimate.value * 100), llround(c->estimate.low * 100),
             llround(c->estimate.high * 100));
}

/* Of those about the corner the one that chance would make least. */
static const struct remark *strongest(const struct family *family, enum corner corner, double error)
{
    const struct question *best = NULL;
    for (size_t i = 0; i < family->count; i++) {
        struct question *question = &family->question[i];
        if (question->remark.kind != REMARK_KINDS && question->remark.corner == corner &&
            question_holds(question, error, COACH_LEVEL) && (!best || question->p < best->p)) {
            best = question;
        }
    }
    return best ? &best->remark : NULL;
}

/* At a bell: what changed in the round that it ended. */
static void say_changed_at(struct coach *coach, const struct family *family, double error)
{
    static const char *const who[SIDE_COUNT] = {"We", "They"};
    struct coach_line *line = &coach->line[LINE_CHANGED];
    for (int side = 0; side < SIDE_COUNT; side++) {
        const struct remark *c = strongest(family, coach->corner[side], error);
        char words[112] = "", proof[112] = "";
        if (c) {
            size_t used = strlen(line->words), proved = strlen(line->proof);
            say_change(words, sizeof words, proof, sizeof proof, c, who[side],
                       coach->bell == coach->rounds);
            snprintf(line->words + used, sizeof line->words - used, "%s%s", used ? " " : "", words);
            snprintf(line->proof + proved, sizeof line->proof - proved, "%s%s", proved ? " " : "",
                     proof);
            line->finding = true;
        }
    }
    if (!line->finding) {
        snprintf(line->words, sizeof line->words, "Nothing in round %d that the numbers carry.",
                 coach->bell);
        say_counts(line->proof, sizeof line->proof, coach, coach->bell);
        add_least(line->proof, sizeof line->proof, coach, family, error);
    }
}

/* Before there is a bell to speak of. */
static void say_unchanged(struct coach *coach, const struct coach_study *study)
{
    struct coach_line *line = &coach->line[LINE_CHANGED];
    if (coach->rounds < 2) {
        snprintf(line->words, sizeof line->words, "No round before to compare with.");
    } else if (coach->rounds > study->slices->over) {
        snprintf(line->words, sizeof line->words, "Round %d is compared when it is over.",
                 coach->rounds);
        say_counts(line->proof, sizeof line->proof, coach, coach->rounds);
    } else {
        snprintf(line->words, sizeof line->words, "An extension round is not compared.");
        say_counts(line->proof, sizeof line->proof, coach, coach->rounds);
    }
}

static const struct coverage_part *part_of(const struct coach *coach,
                                           const struct coach_study *study, enum side side)
{
    return coverage_of(&study->slices->coverage, study->asked, coach->corner[side]);
}

/* Nobody tagged that side: nothing is said about it. */
static bool say_untagged(const struct coach *coach, const struct coach_study *study,
                         struct coach_line *line, enum side side)
{
    if (!part_of(coach, study, side)->tagged) {
        snprintf(line->words, sizeof line->words, "%s corner was not tagged: unknown.",
                 side == SIDE_WE ? "Our" : "Their");
        return true;
    }
    return false;
}

/* "Seen: 1:15 of 3:00." where there was time with nobody to tag that side. */
static void say_seen(const struct coach *coach, const struct coach_study *study,
                     struct coach_line *line, enum side side)
{
    const struct coverage_part *part = part_of(coach, study, side);
    char covered[WHEN_SIZE], ran[WHEN_SIZE];
    size_t used = strlen(line->words);
    if (part->tagged && part->covered_ms < part->ran_ms) {
        snprintf(line->words + used, sizeof line->words - used, " Seen: %s of %s.",
                 when_clock(covered, part->covered_ms), when_clock(ran, part->ran_ms));
    }
}

/* Rounds that nobody saw the whole of are compared with nothing. */
static void say_not_seen(struct coach *coach, const struct coach_study *study)
{
    struct coach_line *line = &coach->line[LINE_CHANGED];
    bool whole = true;
    for (int round = coach->rounds - 1; round >= 1 && round <= coach->rounds; round++) {
        whole = whole && study->slices->whole[CORNER_RED][round] &&
                study->slices->whole[CORNER_BLUE][round];
    }
    if (!whole) {
        size_t used = strlen(line->words);
        snprintf(line->words + used, sizeof line->words - used,
                 " Not all of rounds %d and %d was seen.", coach->rounds - 1, coach->rounds);
    }
}

static void say_lands(struct coach *coach, const struct coach_study *study,
                      const struct found *best)
{
    struct coach_line *line = &coach->line[LINE_LANDS];
    const struct pad *pad = &coach->pad[SIDE_WE];
    coach->best_target = coach->best_column = -1;
    line->label = "Lands most";
    if (say_untagged(coach, study, line, SIDE_WE) ||
        (best->target < 0 && say_little(line, pad, "Nothing thrown yet."))) {
        return;
    }
    struct found most = find_most(pad);
    if (best->target >= 0) {
        line->label = "Lands best";
        line->finding = true;
        say_cell(line, best);
        snprintf(line->proof, sizeof line->proof,
                 "All else %d of %d. %lld points better, interval %lld to %lld; through round %d.",
                 best->rest.landed, best->rest.attempted, llround(best->difference.value * 100),
                 llround(best->difference.low * 100), llround(best->difference.high * 100),
                 coach->bell);
        most = *best;
    } else {
        say_most(line, &most);
        snprintf(line->proof, sizeof line->proof, "In all %d of %d landed.", pad->all.landed,
                 pad->all.attempted);
    }
    coach->best_target = most.target;
    coach->best_column = most.column;
}

/* Knockdowns come first: by which strike and when, the newest. */
static void say_down(struct coach *coach, const struct coach_study *study)
{
    struct coach_line *line = &coach->line[LINE_TAKES];
    const struct entry *newest = NULL;
    int downs = 0;
    size_t at = 0;
    for (const struct entry *now; (now = fold_knockdown(study->fold, &at)) != NULL;) {
        if (knockdown_by(now) == coach->corner[SIDE_THEY] &&
            (study->asked == 0 || now->round == study->asked)) {
            downs++;
            if (!newest || now->round > newest->round ||
                (now->round == newest->round && now->elapsed_ms >= newest->elapsed_ms)) {
                newest = now;
            }
        }
    }
    if (newest) {
        char clock[WHEN_SIZE], what[64] = "", words[sizeof line->words], often[32] = "once";
        if (newest->kind == ENTRY_STRIKE) { /* else nobody said with what */
            pad_words(what, limb_column(newest->strike.limb), (enum target)newest->strike.target);
            snprintf(what + strlen(what), sizeof what - strlen(what), ", ");
        }
        if (downs > 1) {
            snprintf(often, sizeof often, "%d times, the last", downs);
        }
        snprintf(words, sizeof words, "Knocked down %s: %sR%d %s.%s%.100s", often, what,
                 newest->round, when_clock(clock, newest->elapsed_ms), line->words[0] ? " " : "",
                 line->words);
        snprintf(line->words, sizeof line->words, "%s", words);
    }
}

static void say_takes(struct coach *coach, const struct coach_study *study)
{
    struct coach_line *line = &coach->line[LINE_TAKES];
    const struct pad *pad = &coach->pad[SIDE_THEY];
    coach->worst_target = coach->worst_column = -1;
    line->label = "Takes most";
    if (!say_untagged(coach, study, line, SIDE_THEY) &&
        !say_little(line, pad, "Nothing thrown at us yet.")) {
        struct found most = find_most(pad);
        say_most(line, &most);
        snprintf(line->proof, sizeof line->proof, "That is %d of the %d that we take.",
                 most.part.landed, pad->all.landed);
        coach->worst_target = most.target;
        coach->worst_column = most.column;
    }
    say_down(coach, study);
}

/* The cell that lands best, if its p holds. */
static struct found best_of(const struct family *family, double error)
{
    struct found out = {.target = -1, .column = -1, .as_many = 1};
    double least = error;
    for (size_t i = 0; i < family->count; i++) {
        const struct question *question = &family->question[i];
        const int64_t *n = question->remark.number;
        if (question->remark.kind != REMARK_KINDS || question->adjusted > least) {
            continue;
        }
        struct estimate difference = interval_newcombe(n[1], n[2], n[3], n[4], COACH_LEVEL);
        if (interval_excludes(difference, 0.0)) {
            least = question->adjusted;
            out.target = (int)n[0] / PAD_COLUMNS;
            out.column = (int)n[0] % PAD_COLUMNS;
            out.part = (struct count){(int)n[2], (int)n[1]};
            out.rest = (struct count){(int)n[4], (int)n[3]};
            out.difference = difference;
        }
    }
    return out;
}

/* Everything that is asked at the bell, and how much of the error it may spend; 0: nothing. */
static double ask_all(struct family *family, struct coach *coach, const struct coach_study *study,
                      struct error *err, int *code)
{
    struct remark_rule rule = remark_rule_default;
    int planned = fold_clock(study->fold)->plan.rounds;
    int over = study->slices->over;
    rule.cases = COACH_CASES;
    coach->bell = coach->rounds < over ? coach->rounds : over;
    if (coach->bell < 2 || coach->bell > planned) {
        coach->bell = 0;
        return 0.0;
    }
    struct pad pad;
    double error = COACH_ERROR / (planned - 1);
    *code = family_reserve(family, FAMILY_CHANGES + CELLS, err);
    if (!*code) {
        family_changes(family, study->slices, fold_tally(study->fold), &rule, coach->bell);
        pad_read(&pad, study->fold, study->rules, coach->corner[SIDE_WE], 1, coach->bell);
        ask_cells(family, &pad, error / (family->weight + 1.0));
        *code = family_adjust(family, err);
        coach->looked_at = (int)family->count;
    }
    return error;
}

int coach_say(struct coach *coach, const struct coach_study *study, struct error *err)
{
    struct family family = {.question = NULL};
    int code = 0;
    double error = ask_all(&family, coach, study, err, &code);
    coach->line[LINE_CHANGED].label = "Changed";
    if (!code) {
        struct found best = best_of(&family, error);
        say_lands(coach, study, &best);
        say_seen(coach, study, &coach->line[LINE_LANDS], SIDE_WE);
        say_takes(coach, study);
        say_seen(coach, study, &coach->line[LINE_TAKES], SIDE_THEY);
        if (coach->bell) {
            say_changed_at(coach, &family, error);
        } else {
            say_unchanged(coach, study);
        }
        say_not_seen(coach, study);
    }
    family_release(&family);
    return code;
}
