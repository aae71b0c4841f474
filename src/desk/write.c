/* write.c: what a desk writes: entries, corrections, and what takes keystrokes back. */
#include <stdlib.h>
#include <string.h>

#include "desk/session.h"

struct entry write_blank(const struct desk *desk, enum entry_kind kind, int64_t now_ms)
{
    struct clock_face face = desk_clock(desk, now_ms);
    return (struct entry){
        .kind = (uint8_t)kind,
        .act = ACT_ADD,
        .undoes = ENTRY_NONE,
        .subject = ENTRY_NONE,
        .round = (uint8_t)face.round,
        .elapsed_ms = face.elapsed_ms,
        .off_clock = face.state != CLOCK_RUNNING,
        .strike.position = (uint8_t)fold_position(session_fold(desk)),
    };
}

bool write_entry(struct desk *desk, struct entry entry, int64_t now_ms)
{
    if (desk_is_read_only(desk)) {
        session_notice(desk, now_ms, true, "the record is signed: nothing is logged any more");
        return false;
    }
    if (desk->fresh_count == desk->fresh_room) {
        size_t room = desk->fresh_room ? desk->fresh_room * 2 : 64;
        struct entry *more = realloc(desk->fresh, room * sizeof *more);
        if (!more) {
            goto failed;
        }
        desk->fresh = more;
        desk->fresh_room = room;
    }
    if (now_ms > desk->newest_ms) {
        desk->newest_ms = now_ms;
    }
    entry.name = (struct entry_name){desk->self, desk->next_seq};
    entry.utc_ms = desk->newest_ms;
    if (entry.act == ACT_ADD) {
        entry.subject = entry.name;
    }
    if (entry.at_ms == 0) {
        entry.at_ms = entry.utc_ms;
    }
    if (fold_add(desk->fold, &entry) || (desk->own && fold_add(desk->own, &entry)) ||
        !steps_replay(desk, &entry)) {
        goto failed;
    }
    desk->fresh[desk->fresh_count++] = entry;
    desk->next_seq++;
    return true;

failed:
    session_notice(desk, now_ms, true, "OUT OF MEMORY: the last key was not logged");
    return false;
}

bool write_strike(struct desk *desk, struct strike strike, int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_STRIKE, now_ms);
    strike.stance = (uint8_t)fold_stance(session_fold(desk), strike.corner);
    strike.position = entry.strike.position;
    entry.strike = strike;
    return write_entry(desk, entry, now_ms);
}

bool write_change(struct desk *desk, const struct subject *subject, struct entry now,
                  enum entry_act act, int64_t now_ms)
{
    now.subject = subject->now.name;
    now.act = (uint8_t)act;
    /* It must be the newest about its subject, also where another desk's wall clock is ahead. */
    int64_t newer = subject->changed_ms + (session_owns(desk, subject->last) ? 0 : 1);
    return write_entry(desk, now, now_ms > newer ? now_ms : newer);
}

bool write_claims(struct desk *desk, uint8_t roles, int64_t now_ms)
{
    static const enum entry_code codes[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    for (int i = 0; i < 3; i++) {
        if ((roles >> i & 1) && !desk_is_official(desk, codes[i])) {
            struct entry entry = write_blank(desk, ENTRY_OFFICIAL, now_ms);
            entry.code = (uint8_t)codes[i];
            /* Newer than what any other desk has written, else the claim would not hold. */
            int64_t newest = fold_newest_ms(desk->fold) + 1;
            if (!write_entry(desk, entry, now_ms > newest ? now_ms : newest)) {
                return false;
            }
        }
    }
    return true;
}

/* The content that the subject had before the entry `name`: of the newest earlier entry about it.
 */
static const struct entry *content_before(const struct desk *desk, const struct entry *entry)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(session_fold(desk), &entries);
    bool passed = false;
    while (count-- > 0) {
        if (entry_same(entries[count].name, entry->name)) {
            passed = true;
        } else if (passed && entry_same(entries[count].subject, entry->subject)) {
            return &entries[count];
        }
    }
    return NULL;
}

static const struct entry *find_entry(const struct desk *desk, struct entry_name name)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(session_fold(desk), &entries);
    while (count-- > 0) {
        if (entry_same(entries[count].name, name)) {
            return &entries[count];
        }
    }
    return NULL;
}

static bool steps_push(struct steps *steps, struct step step)
{
    if (steps->count == steps->room) {
        size_t room = steps->room ? steps->room * 2 : 64;
        struct step *more = realloc(steps->step, room * sizeof *more);
        if (!more) {
            return false;
        }
        steps->step = more;
        steps->room = room;
    }
    steps->step[steps->count++] = step;
    return true;
}

bool steps_replay(struct desk *desk, const struct entry *entry)
{
    struct steps *done = &desk->done;
    struct steps *undone = &desk->undone;
    if (entry->kind == ENTRY_CLOCK || entry->kind == ENTRY_STANCE ||
        entry->kind == ENTRY_POSITION || entry->kind == ENTRY_OFFICIAL ||
        entry->kind == ENTRY_SIGN) {
        return true;
    }
    if (entry->undoes.desk < 0) {
        undone->count = 0;
        return steps_push(done, (struct step){entry->name, ENTRY_NONE});
    }
    if (done->count > 0 && entry_same(done->step[done->count - 1].entry, entry->undoes)) {
        struct step step = done->step[--done->count];
        step.undo = entry->name;
        return steps_push(undone, step);
    }
    if (undone->count > 0 && entry_same(undone->step[undone->count - 1].undo, entry->undoes)) {
        return steps_push(done, undone->step[--undone->count]);
    }
    return true;
}

bool write_undo(struct desk *desk, int64_t now_ms)
{
    char words[128];
    if (desk->done.count == 0) {
        session_notice(desk, now_ms, false, "nothing to take back");
        return true;
    }
    const struct entry *last = find_entry(desk, desk->done.step[desk->done.count - 1].entry);
    const struct subject *subject = last ? fold_subject(session_fold(desk), last->subject) : NULL;
    if (!subject || !session_owns(desk, subject->last)) {
        desk->done.count--;
        session_notice(desk, now_ms, true,
                       "another desk has changed that entry since: it stays as it is");
        return true;
    }
    struct entry now = subject->now;
    enum entry_act act = ACT_VOID;
    if (last->act != ACT_ADD) {
        const struct entry *before = content_before(desk, last);
        if (!before) {
            return true;
        }
        now = *before;
        act = before->act == ACT_VOID ? ACT_VOID : ACT_AMEND;
    }
    now.undoes = last->name;
    entry_words(words, sizeof words, last);
    session_notice(desk, now_ms, false, "taken back: %s%s", entry_corner(last), words);
    return write_change(desk, subject, now, act, now_ms);
}

bool write_redo(struct desk *desk, int64_t now_ms)
{
    char words[128];
    if (desk->undone.count == 0) {
        session_notice(desk, now_ms, false, "nothing to bring back");
        return true;
    }
    struct step step = desk->undone.step[desk->undone.count - 1];
    const struct entry *gone = find_entry(desk, step.entry);
    const struct subject *subject = gone ? fold_subject(session_fold(desk), gone->subject) : NULL;
    if (!subject) {
        return true;
    }
    struct entry now = gone->act == ACT_ADD ? subject->now : *gone;
    now.undoes = step.undo;
    entry_words(words, sizeof words, &now);
    session_notice(desk, now_ms, false, "back again: %s%s", entry_corner(&now), words);
    return write_change(desk, subject, now, gone->act == ACT_VOID ? ACT_VOID : ACT_RESTORE, now_ms);
}
