/* officials.c: the officials' side of a bout as the log has it. */
#include "ringtally/tally/officials.h"

#include <stdio.h>
#include <string.h>

int64_t score_value(int seat, int red_half, int blue_half)
{
    return (int64_t)seat << 16 | (int64_t)red_half << 8 | blue_half;
}

static int seat_of(const struct entry *entry)
{
    return (int)(entry->value >> 16 & 0xff);
}

const struct subject *officials_score(const struct fold *fold, int seat, int round)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(fold, &subjects);
    while (count-- > 0) {
        const struct entry *now = &subjects[count].now;
        if (subjects[count].live && now->kind == ENTRY_SCORE && now->code == CODE_NONE &&
            seat_of(now) == seat && now->round == round) {
            return &subjects[count];
        }
    }
    return NULL;
}

bool result_write(char *out, size_t size, const struct result_text *result)
{
    char vote[16] = "-";
    char time[16] = "-";
    if (result->voted) {
        vote_words(vote, &result->vote);
    }
    if (result->elapsed_ms >= 0) {
        snprintf(time, sizeof time, "%d:%02d", (int)(result->elapsed_ms / 60000),
                 (int)(result->elapsed_ms / 1000 % 60));
    }
    char flags[40] = "";
    snprintf(flags, sizeof flags, "%s%s%s", result->overridden ? ",override" : "",
             result->implied ? ",implied" : "", result->no_action ? ",no_action" : "");
    int length = snprintf(out, size, "%s %s %s %d %s %s %s", result->kind,
                          result->corner < CORNER_COUNT ? corner_names[result->corner] : "-", vote,
                          result->round, time, flags[0] ? flags + 1 : "-",
                          result->referee[0] ? result->referee : "-");
    return length > 0 && (size_t)length < size;
}

bool result_read(struct result_text *out, const char *text)
{
    char corner[8], vote[16], time[16], flags[40];
    int minutes = 0, seconds = 0;
    memset(out, 0, sizeof *out);
    if (sscanf(text, "%31s %7s %15s %d %15s %39s %63[^\n]", out->kind, corner, vote, &out->round,
               time, flags, out->referee) != 7) {
        return false;
    }
    int index = name_index(corner_names, CORNER_COUNT, corner);
    out->corner = (uint8_t)(index < 0 ? CORNER_NONE : index);
    out->voted = sscanf(vote, "%d-%d-%d", &out->vote.red, &out->vote.blue, &out->vote.even) == 3;
    out->elapsed_ms = -1;
    if (sscanf(time, "%d:%d", &minutes, &seconds) == 2) {
        out->elapsed_ms = (minutes * 60 + seconds) * 1000;
    }
    out->overridden = strstr(flags, "override") != NULL;
    out->implied = strstr(flags, "implied") != NULL;
    out->no_action = strstr(flags, "no_action") != NULL;
    if (strcmp(out->referee, "-") == 0) {
        out->referee[0] = '\0';
    }
    return true;
}

static void read_score(struct officials *out, const struct entry *now)
{
    int seat = seat_of(now);
    if (now->code == CODE_AWARDED && now->round >= 1 && now->round <= ROUND_MAX) {
        out->facts.awarded[now->round - 1] = (uint8_t)(now->value ? 1u << now->strike.corner : 0);
        return;
    }
    if (now->code == CODE_WEIGHED) {
        out->facts.weight_g[now->strike.corner] = (int32_t)now->value;
        return;
    }
    if (seat >= out->card.judges || now->round < 1 || now->round > ROUND_MAX) {
        return;
    }
    if (now->code == CODE_NAMED) {
        out->card.named[seat] = (uint8_t)(1u << now->strike.corner);
        return;
    }
    out->card.given[seat][now->round - 1] = true;
    out->card.half[seat][now->round - 1][CORNER_RED] = (uint8_t)(now->value >> 8 & 0xff);
    out->card.half[seat][now->round - 1][CORNER_BLUE] = (uint8_t)(now->value & 0xff);
}

static void read_result(struct officials *out, const struct subject *subject)
{
    struct result_text text;
    if (!result_read(&text, subject->now.text)) {
        return;
    }
    if (subject->now.code == CODE_ENDED) {
        int how = name_index(ending_ids, END_COUNT, text.kind);
        if (how >= 0) {
            out->end = (struct bout_end){.how = (uint8_t)how,
                                         .corner = text.corner,
                                         .round = text.round,
                                         .elapsed_ms = text.elapsed_ms,
                                         .no_action = text.no_action};
        }
        return;
    }
    int kind = name_index(decision_ids, DECISION_KIND_COUNT, text.kind);
    if (kind >= 0) {
        out->announced = true;
        out->overridden = text.overridden;
        out->as_implied = text.implied;
        out->announcement = subject->now.name;
        out->official = (struct official){.kind = (uint8_t)kind,
                                          .winner = text.corner,
                                          .round = text.round,
                                          .elapsed_ms = text.elapsed_ms,
                                          .voted = text.voted,
                                          .vote = text.vote};
        snprintf(out->referee, sizeof out->referee, "%s", text.referee);
    }
}

/* What an announced stoppage says of how the bout ended, where nobody said it in so many words. */
static void end_by_announcement(struct officials *out)
{
    static const struct {
        enum decision_kind kind;
        enum ending how;
    } ends[] = {
        {DECISION_KNOCKOUT, END_KNOCKOUT},     {DECISION_TKO_REFEREE, END_REFEREE},
        {DECISION_TKO_DOCTOR, END_DOCTOR},     {DECISION_TKO_CORNER, END_CORNER},
        {DECISION_TKO_LIMIT, END_LIMIT},       {DECISION_RETIREMENT, END_RETIREMENT},
        {DECISION_WALKOVER, END_WALKOVER},     {DECISION_DISQUALIFICATION, END_DISQUALIFICATION},
        {DECISION_NO_CONTEST, END_NO_CONTEST}, {DECISION_NO_DECISION, END_NO_DECISION},
    };
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        if (out->announced && out->end.how == END_NOT_YET && out->official.kind == ends[i].kind) {
            out->end.how = (uint8_t)ends[i].how;
            out->end.corner = out->official.winner;
            out->end.round = out->official.round ? out->official.round : out->boxed;
            out->end.elapsed_ms = out->official.elapsed_ms;
            out->end.announced = true;
        }
    }
}

void officials_read(struct officials *out, const struct fold *fold, const struct rules *rules,
                    const struct bout *bout, int64_t now_ms)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(fold, &subjects);
    struct clock_face face = clock_read(fold_clock(fold), now_ms);
    const struct tally *tally = fold_tally(fold);
    memset(out, 0, sizeof *out);
    out->card.judges = bout->judges ? bout->judges : rules->judges;
    out->boxed = fold_clock(fold)->round;
    out->announcement = ENTRY_NONE;
    out->end.corner = CORNER_NONE;
    for (int round = 1; round <= ROUND_MAX; round++) {
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            const struct corner_tally *of = &tally->round[round].corner[corner];
            out->card.deducted[round - 1][corner] = (uint8_t)(2 * of->deducted);
            out->facts.warnings[round - 1][corner] = (uint8_t)of->incidents[CODE_WARNING];
            out->facts.admonitions[round - 1][corner] = (uint8_t)of->incidents[CODE_ADMONITION];
        }
    }
    for (size_t i = 0; i < count; i++) {
        if (subjects[i].live && subjects[i].now.kind == ENTRY_SCORE) {
            read_score(out, &subjects[i].now);
        } else if (subjects[i].live && subjects[i].now.kind == ENTRY_RESULT) {
            read_result(out, &subjects[i]);
        }
    }
    end_by_announcement(out);
    if (out->end.how == END_NOT_YET) {
        bool over = face.state == CLOCK_OVER;
        out->end.how = over ? END_DISTANCE : END_NOT_YET;
        out->end.round = over || face.state == CLOCK_REST ? face.round : out->boxed - 1;
        out->end.round = out->end.round < 0 ? 0 : out->end.round;
        out->end.elapsed_ms = over ? face.elapsed_ms : 0;
    }
    decision_make(&out->implied, rules, fold_clock(fold)->plan.rounds, &out->card, &out->end,
                  &out->facts);
}

struct log_facts officials_log(const struct fold *fold, const struct rules *rules,
                               const struct bout *bout, int64_t now_ms)
{
    const struct round_clock *clock = fold_clock(fold);
    struct clock_face face = clock_read(clock, now_ms);
    int32_t length = clock_round_length(&clock->plan, clock->round);
    return (struct log_facts){
        .rounds = clock->plan.rounds,
        .judges = bout->judges ? bout->judges : rules->judges,
        .last_round = clock->round,
        .elapsed_ms = face.elapsed_ms,
        .over = clock->round > 0 && face.elapsed_ms >= length,
    };
}

struct limit_counts officials_limits(const struct fold *fold, enum corner corner, int round)
{
    struct limit_counts counts = {0};
    const struct tally *tally = fold_tally(fold);
    for (int r = 1; r <= round; r++) {
        const struct corner_tally *own = &tally->round[r].corner[corner];
        int down = tally->round[r].corner[corner_other(corner)].knockdowns;
        int counted = own->downs;
        counts.knockdowns_bout += down;
        counts.counts_bout += counted;
        counts.warnings += own->incidents[CODE_WARNING];
        if (r == round) {
            counts.knockdowns_round = down;
            counts.counts_round = counted;
        }
    }
    return counts;
}

int officials_kicks(const struct fold *fold, const struct rules *rules, enum corner corner,
                    int round)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(fold, &subjects);
    int kicks = 0;
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        kicks += subjects[i].counts && now->kind == ENTRY_STRIKE && now->round == round &&
                 now->strike.corner == corner && kick_counts(rules, &now->strike);
    }
    return kicks;
}
