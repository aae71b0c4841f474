/* undo.c: the newest keystroke taken back, and brought back again.
 *
 * The entries of one keystroke share their place in the order (utc_ms), and nothing else does: so
 * the stacks are made anew from the log, and one keystroke is one step however much it wrote.
 */
#include <stdio.h>
#include <string.h>

#include "desk/session.h"
#include "ringtally/base/grow.h"
#include "ringtally/bout/moved.h"

/* What the operator cannot take back with this key: offices, signatures, the machine's clock,
 * what came from another bout, which recording it is. */
static bool stays(const struct entry *entry)
{
    struct recording recording;
    return entry->kind == ENTRY_OFFICIAL || entry->kind == ENTRY_SIGN ||
           (entry->kind == ENTRY_CLOCK && entry->code == CODE_JUMP) || moved_is_note(entry) ||
           recording_read(&recording, entry);
}

static bool spans(const struct span *span, struct entry_name name)
{
    return span->desk == name.desk && name.seq >= span->first && name.seq <= span->last;
}

static struct span span_of(const struct entry *entry)
{
    return (struct span){entry->name.desk, entry->name.seq, entry->name.seq, entry->utc_ms};
}

/* Takes the entry into the span where it belongs to the same keystroke. */
static bool extend(struct span *span, const struct entry *entry)
{
    if (span->desk != entry->name.desk || span->utc_ms != entry->utc_ms) {
        return false;
    }
    span->last = entry->name.seq > span->last ? entry->name.seq : span->last;
    return true;
}

static struct step *top(struct steps *steps)
{
    return steps->count ? &steps->step[steps->count - 1] : NULL;
}

bool steps_reserve(struct desk *desk)
{
    struct steps *done = &desk->done, *undone = &desk->undone;
    return grow_array(&done->step, sizeof *done->step, done->count, 1, &done->room) &&
           grow_array(&undone->step, sizeof *undone->step, undone->count, 1, &undone->room);
}

void steps_replay(struct desk *desk, const struct entry *entry)
{
    struct steps *done = &desk->done, *undone = &desk->undone;
    struct step *newest = top(done), *gone = top(undone);
    if (stays(entry) || reel_places(desk, entry)) {
        return;
    }
    if (entry->undoes.desk < 0) {
        if (newest && extend(&newest->wrote, entry)) {
            return;
        }
        undone->count = 0;
        done->step[done->count++] = (struct step){.wrote = span_of(entry), .undo = SPAN_NONE};
    } else if (gone && spans(&gone->wrote, entry->undoes) && extend(&gone->undo, entry)) {
        return;
    } else if (newest && spans(&newest->wrote, entry->undoes)) {
        struct step step = *newest;
        done->count--;
        step.undo = span_of(entry);
        undone->step[undone->count++] = step;
    } else if (gone && spans(&gone->undo, entry->undoes)) {
        done->step[done->count++] = *gone;
        undone->count--;
    }
}

/* What is told: the one entry, or how many. */
static void tell(struct desk *desk, const char *what, const struct entry *entry, int64_t count,
                 int64_t now_ms)
{
    char words[128];
    entry_words(words, sizeof words, entry);
    if (count > 1) {
        session_notice(desk, now_ms, false, "%s: %lld entries, the first: %s%s", what,
                       (long long)count, entry_corner(entry), words);
    } else {
        session_notice(desk, now_ms, false, "%s: %s%s%s", what,
                       entry->act == ACT_VOID ? "void: " : "", entry_corner(entry), words);
    }
}

static const struct entry *entry_at(const struct desk *desk, int32_t of, int64_t seq)
{
    return fold_entry(session_fold(desk), (struct entry_name){of, seq});
}

/* Nobody else has changed what the keystroke wrote. */
static bool untouched(const struct desk *desk, const struct span *span)
{
    for (int64_t seq = span->first; seq <= span->last; seq++) {
        const struct entry *entry = entry_at(desk, span->desk, seq);
        const struct subject *subject =
            entry ? fold_subject(session_fold(desk), entry->subject) : NULL;
        if (subject && !session_owns(desk, subject->last)) {
            return false;
        }
    }
    return true;
}

/* One entry of the keystroke taken back; what was refused had no effect to take back. */
static bool take_back(struct desk *desk, const struct entry *entry, int64_t now_ms)
{
    const struct fold *fold = session_fold(desk);
    enum fold_effect effect = fold_effect(fold, entry->name);
    const struct subject *subject = fold_subject(fold, entry->subject);
    if (!subject || effect == EFFECT_NO_OFFICE || effect == EFFECT_NO_SUBJECT) {
        return true;
    }
    struct entry now = subject->now;
    enum entry_act act = ACT_VOID;
    if (entry->act != ACT_ADD) {
        const struct entry *before = fold_before(fold, entry->name);
        if (!before) {
            return true;
        }
        now = *before;
        act = before->act == ACT_VOID ? ACT_VOID : ACT_AMEND;
    }
    now.undoes = entry->name;
    return write_change(desk, subject->now.name, now, act, now_ms);
}

void write_undo(struct desk *desk, int64_t now_ms)
{
    const struct step *step = top(&desk->done);
    if (!step) {
        session_notice(desk, now_ms, false, "nothing to take back");
        return;
    }
    struct span span = step->wrote;
    const struct entry *first = entry_at(desk, span.desk, span.first);
    if (!first || !untouched(desk, &span)) {
        desk->done.count--;
        session_notice(desk, now_ms, true,
                       "another desk has changed that entry since: it stays as it is");
        return;
    }
    struct entry told = *first;
    size_t depth = desk->done.count;
    bool wrote = true;
    for (int64_t seq = span.last; wrote && seq >= span.first; seq--) {
        const struct entry *entry = entry_at(desk, span.desk, seq);
        struct entry copy = entry ? *entry : (struct entry){0};
        wrote = !entry || stays(entry) || take_back(desk, &copy, now_ms);
    }
    if (!wrote) {
        return; /* it said so */
    }
    if (desk->done.count == depth) { /* nothing of it had an effect */
        desk->done.count--;
    }
    tell(desk, "taken back", &told, span.last - span.first + 1, now_ms);
}

/* One entry of the keystroke brought back: `undo` took it back. */
static bool bring_back(struct desk *desk, const struct entry *undo, int64_t now_ms)
{
    const struct fold *fold = session_fold(desk);
    const struct entry *gone = fold_entry(fold, undo->undoes);
    const struct subject *subject = gone ? fold_subject(fold, gone->subject) : NULL;
    if (!subject) {
        return true;
    }
    struct entry now = gone->act == ACT_ADD ? subject->now : *gone;
    enum entry_act act = gone->act == ACT_VOID ? ACT_VOID : ACT_RESTORE;
    now.undoes = undo->name;
    return write_change(desk, subject->now.name, now, act, now_ms);
}

void write_redo(struct desk *desk, int64_t now_ms)
{
    const struct step *step = top(&desk->undone);
    if (!step) {
        session_notice(desk, now_ms, false, "nothing to bring back");
        return;
    }
    struct span wrote = step->wrote, undo = step->undo;
    const struct entry *first = entry_at(desk, wrote.desk, wrote.first);
    struct entry told = first ? *first : (struct entry){0};
    for (int64_t seq = undo.last; seq >= undo.first; seq--) {
        const struct entry *entry = entry_at(desk, undo.desk, seq);
        struct entry copy = entry ? *entry : (struct entry){0};
        if (entry && !bring_back(desk, &copy, now_ms)) {
            return; /* it said so */
        }
    }
    tell(desk, "back again", &told, wrote.last - wrote.first + 1, now_ms);
}
