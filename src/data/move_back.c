/* move_back.c: what was moved last comes back: voided there, counted here again. */
#include "ringtally/bout/moved.h"
#include "data/move_plan.h"

/* The newest move that still stands: its note here. */
static const struct subject *newest_note(const struct move *move)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(move->side[MOVE_FROM].fold, &subjects);
    while (count-- > 0) {
        if (subjects[count].live && moved_is_to(&subjects[count].now, &move->side[MOVE_TO].bout)) {
            return &subjects[count];
        }
    }
    return NULL;
}

/* Over there: all that the sessions brought, and their notes. */
static bool void_there(struct move *move, int64_t utc_ms)
{
    struct move_side *to = &move->side[MOVE_TO];
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(to->fold, &subjects);
    bool done = true;
    for (size_t n = 0; n < count && done; n++) {
        const struct entry *note = &subjects[n].now;
        if (!subjects[n].live || note->utc_ms != utc_ms ||
            !moved_is_from(note, &move->side[MOVE_FROM].bout)) {
            continue;
        }
        for (size_t i = 0; i < count && done; i++) {
            const struct subject *subject = &subjects[i];
            bool brought = subject->now.name.desk == note->name.desk &&
                           subject->now.name.seq <= note->name.seq;
            if (brought && subject->live) {
                done = move_correct(move, to, subject, subject->now, ACT_VOID);
            }
        }
    }
    return done;
}

/* Here: what the move voided counts again, as it was; what was changed since stays. */
static bool restore_here(struct move *move, const struct subject *note)
{
    struct move_side *from = &move->side[MOVE_FROM];
    const struct entry *entries = NULL;
    size_t count = fold_entries(from->fold, &entries);
    bool done = true;
    for (size_t i = 0; i < count && done; i++) {
        const struct entry *entry = &entries[i];
        if (entry->act != ACT_VOID || entry->name.desk != note->now.name.desk ||
            entry->utc_ms != note->now.utc_ms) {
            continue;
        }
        const struct subject *subject = fold_subject(from->fold, entry->subject);
        const struct entry *before = fold_before(from->fold, entry->name);
        if (!subject || !before || !entry_same(subject->last, entry->name)) {
            move->told.changed++;
            continue;
        }
        move->told.entries++;
        move->told.strikes += before->kind == ENTRY_STRIKE;
        move->told.incidents += before->kind == ENTRY_INCIDENT;
        move->told.clock |= before->kind == ENTRY_CLOCK;
        done = move_correct(move, from, subject, *before, ACT_RESTORE);
    }
    return done && move_correct(move, from, note, note->now, ACT_VOID);
}

int move_plan_back(struct move *move, struct error *err)
{
    struct move_side *from = &move->side[MOVE_FROM], *to = &move->side[MOVE_TO];
    const struct subject *note = newest_note(move);
    if (!note) {
        return error_set(err, ERROR_MISSING, "nothing was moved from %s/%d to %s/%d",
                         from->bout.card, from->bout.number, to->bout.card, to->bout.number);
    }
    int code = move_open_mover(move, from, err);
    code = code ? code : move_open_mover(move, to, err);
    if (!code && !(void_there(move, note->now.utc_ms) && restore_here(move, note))) {
        code = error_memory(err);
    }
    return code;
}
