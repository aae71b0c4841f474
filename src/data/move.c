/* move.c: a move from one bout to another: opened, told, written. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"
#include "ringtally/log/signs.h"
#include "data/move_plan.h"

int move_add_desk(struct move_side *side, const struct desk_row *like, int root)
{
    size_t count = (size_t)side->desk_count;
    struct desk_row *desks = realloc(side->desks, (count + 1) * sizeof *desks);
    side->desks = desks ? desks : side->desks;
    int64_t *seq = realloc(side->seq, (count + 1) * sizeof *seq);
    side->seq = seq ? seq : side->seq;
    if (!desks || !seq) {
        return -1;
    }
    struct desk_row *desk = &desks[count];
    *desk = *like;
    desk->id = 0;
    desk->uid[0] = desk->name[0] = '\0';
    desk->root = root < 0 ? (int32_t)count : root;
    seq[count] = 0;
    return side->desk_count++;
}

bool move_add_entry(struct move_side *side, int desk, struct entry entry)
{
    if (!grow_array(&side->entries, sizeof *side->entries, side->entry_count, 1,
                    &side->entry_room)) {
        return false;
    }
    entry.name = (struct entry_name){desk, ++side->seq[desk]};
    entry.subject = entry.act == ACT_ADD ? entry.name : entry.subject;
    side->entries[side->entry_count++] = entry;
    return true;
}

int move_open_mover(struct move *move, struct move_side *side, struct error *err)
{
    static const enum entry_code codes[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    struct desk_row row = {.shadow = true, .opened_ms = move->now_ms};
    int root = -1;
    if (!text_clean(row.operator_, sizeof row.operator_, move->operator_) || !row.operator_[0]) {
        return error_set(err, ERROR_USAGE, "--operator: a name of at most %zu bytes is needed",
                         sizeof row.operator_ - 1);
    }
    for (int i = 0; i < side->desk_count && root < 0; i++) {
        const struct desk_row *desk = &side->desks[i];
        bool same = desk->root == i && desk->id && desk->corners == 0 && desk->shadow &&
                    strcmp(desk->operator_, row.operator_) == 0;
        root = same && !log_desk_is_live(move->log, desk->id) ? i : -1;
    }
    side->mover = move_add_desk(side, &row, root);
    bool done = side->mover >= 0;
    for (int i = 0; i < 3 && done; i++) {
        struct entry claim = {.kind = ENTRY_OFFICIAL,
                              .code = (uint8_t)codes[i],
                              .undoes = ENTRY_NONE,
                              .utc_ms = move->utc_ms,
                              .at_ms = move->now_ms,
                              .round = 1};
        done = move_add_entry(side, side->mover, claim);
    }
    return done ? 0 : error_memory(err);
}

bool move_correct(struct move *move, struct move_side *side, const struct subject *subject,
                  struct entry now, enum entry_act act)
{
    now.act = (uint8_t)act;
    now.subject = subject->now.name;
    now.undoes = ENTRY_NONE;
    now.utc_ms = move->utc_ms;
    return move_add_entry(side, side->mover, now);
}

bool move_note(struct move *move, struct move_side *side, int desk, struct entry note)
{
    note.utc_ms = move->utc_ms;
    note.at_ms = move->now_ms;
    note.round = 1;
    return move_add_entry(side, desk, note);
}

static int open_side(struct move *move, struct move_side *side, const char *ref, struct error *err)
{
    const struct desk_row *desks = NULL;
    int code = log_bout_find(move->log, ref, &side->bout, err);
    code = code ? code : data_bout_rules(&side->rules, &side->bout, err);
    if (code) {
        return code;
    }
    side->mover = -1;
    side->plan = clock_plan(&side->rules, side->bout.rounds);
    code = log_fold(move->log, &side->bout, &side->plan, FOLD_OFFICIAL, &side->fold, err);
    if (code) {
        return code;
    }
    size_t count = (size_t)fold_desks(side->fold, &desks);
    side->desks = malloc((count + 1) * sizeof *side->desks);
    side->seq = calloc(count + 1, sizeof *side->seq);
    if (!side->desks || !side->seq) {
        return error_memory(err);
    }
    if (count > 0) {
        memcpy(side->desks, desks, count * sizeof *desks);
    }
    side->desk_count = (int)count;
    int64_t newest_ms = fold_newest_ms(side->fold);
    move->utc_ms = newest_ms >= move->utc_ms ? newest_ms + 1 : move->utc_ms;
    const struct entry *signature = fold_signed(side->fold);
    return signature ? error_set(err, ERROR_FAILED, "bout %s/%d is signed, by %s: reopen it first",
                                 side->bout.card, side->bout.number, signature->text)
                     : 0;
}

/* What a desk still writes would be left behind. */
static int nobody_is_at(struct move *move, const struct move_side *side, struct error *err)
{
    for (int i = 0; i < side->desk_count; i++) {
        const struct desk_row *desk = &side->desks[i];
        if (desk->root == i && desk->id && log_desk_is_live(move->log, desk->id)) {
            return error_set(err, ERROR_FAILED,
                             "%s's desk is open on %s/%d: leave it first, then move", desk->name,
                             side->bout.card, side->bout.number);
        }
    }
    return 0;
}

/* Counts as they will be. */
static int foresee(struct tally *out, const struct move_side *side, struct error *err)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(side->fold, &entries);
    struct fold *fold = fold_new(&side->plan, &side->bout, FOLD_OFFICIAL);
    bool done = fold != NULL;
    for (int i = 0; i < side->desk_count && done; i++) {
        done = fold_desk(fold, &side->desks[i]) == 0;
    }
    done = done && fold_add_all(fold, entries, count) == 0 &&
           fold_add_all(fold, side->entries, side->entry_count) == 0;
    if (done) {
        *out = *fold_tally(fold);
    }
    fold_free(fold);
    return done ? 0 : error_memory(err);
}

static int thrown(const struct tally *tally)
{
    return tally->all.corner[CORNER_RED].all.attempted +
           tally->all.corner[CORNER_BLUE].all.attempted;
}

static int plan(struct move *move, const char *db, const struct move_ask *ask, struct error *err)
{
    struct move_side *from = &move->side[MOVE_FROM], *to = &move->side[MOVE_TO];
    struct move_told *told = &move->told;
    int code = data_log_open(&move->log, db, LOG_WRITE, err);
    code = code ? code : open_side(move, from, ask->from, err);
    code = code ? code : open_side(move, to, ask->to, err);
    if (!code && from->bout.id == to->bout.id) {
        code =
            error_set(err, ERROR_USAGE, "both are bout %s/%d", from->bout.card, from->bout.number);
    }
    code = code ? code : nobody_is_at(move, from, err);
    code = code || !ask->back ? code : nobody_is_at(move, to, err);
    if (code) {
        return code;
    }
    told->from = &from->bout;
    told->to = &to->bout;
    code = ask->back ? move_plan_back(move, err) : move_plan_out(move, ask, err);
    for (int i = 0; i < 2 && !code; i++) {
        told->before[i] = *fold_tally(move->side[i].fold);
        code = foresee(&told->after[i], &move->side[i], err);
    }
    if (!code && !ask->back) {
        int arrives = thrown(&told->after[MOVE_TO]) - thrown(&told->before[MOVE_TO]);
        told->apart = told->strikes > (size_t)arrives ? told->strikes - (size_t)arrives : 0;
    }
    return code;
}

int move_plan(struct move **out, const char *db, const struct move_ask *ask, struct error *err)
{
    struct move *move = calloc(1, sizeof *move);
    *out = move;
    if (!move) {
        return error_memory(err);
    }
    move->now_ms = move->utc_ms = when_now();
    move->operator_ = ask->operator_;
    return plan(move, db, ask, err);
}

const struct move_told *move_tell(const struct move *move)
{
    return &move->told;
}

int move_write(struct move *move, struct error *err)
{
    struct log_part parts[2];
    int known[2];
    for (int i = 0; i < 2; i++) {
        struct move_side *side = &move->side[i];
        const struct entry *entries = NULL;
        const struct desk_row *desks = NULL;
        known[i] = fold_desks(side->fold, &desks);
        parts[i] = (struct log_part){.bout = side->bout.id,
                                     .known = (int64_t)fold_entries(side->fold, &entries),
                                     .desks = side->desks,
                                     .desk_count = side->desk_count,
                                     .entries = side->entries,
                                     .entry_count = side->entry_count};
    }
    int code = log_append_parts(move->log, parts, 2, err);
    /* Nobody is at a chain that came over: its time ends with what it wrote. */
    for (int i = 0; i < 2 && !code; i++) {
        const struct move_side *side = &move->side[i];
        for (int desk = known[i]; desk < side->desk_count; desk++) {
            if (side->desks[desk].root >= known[i]) {
                signs_leave(move->log, side->desks[desk].id, move->now_ms, true, NULL);
            }
        }
    }
    return code;
}

void move_free(struct move *move)
{
    for (int i = 0; move && i < 2; i++) {
        struct move_side *side = &move->side[i];
        fold_free(side->fold);
        free(side->desks);
        free(side->seq);
        free(side->entries);
    }
    if (move) {
        log_close(move->log);
    }
    free(move);
}
