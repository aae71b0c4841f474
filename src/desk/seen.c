/* seen.c: over which time somebody was there to tag, and what of it all is stored. */
#include "desk/session.h"

#define LOOK_MS 1000

void seen_look(struct desk *desk, int64_t now_ms)
{
    struct coverage coverage;
    const struct fold *fold = session_fold(desk);
    const struct desk_row *rows = NULL;
    bool known = desk->office.signs >= fold_desks(fold, &rows);
    if (desk->seen.look_ms && now_ms < desk->seen.look_ms) {
        return;
    }
    if (coverage_init(&coverage, fold, known ? desk->office.sign : NULL, now_ms, NULL) == 0) {
        coverage_release(&desk->seen.coverage);
        desk->seen.coverage = coverage;
        desk->seen.look_ms = now_ms + LOOK_MS;
    }
}

const struct coverage_part *desk_seen(const struct desk *desk, int round, enum corner corner)
{
    /* Who tags from a recording saw all of it, or goes back. */
    return desk->seen.look_ms && !desk->reel.on ? coverage_of(&desk->seen.coverage, round, corner)
                                                : NULL;
}

void desk_stored(const struct desk *desk, int64_t unsaved, long *strikes, long *entries)
{
    const struct entry *all = NULL;
    const struct round_tally *tally = &fold_tally(session_fold(desk))->all;
    size_t count = fold_entries(session_fold(desk), &all);
    *entries = (long)count - (long)unsaved;
    *strikes = tally->corner[CORNER_RED].all.attempted + tally->corner[CORNER_BLUE].all.attempted;
    for (int64_t found = 0; count-- > 0 && found < unsaved;) {
        const struct entry *entry = &all[count];
        if (entry->name.desk == desk->self && entry->name.seq >= desk->next_seq - unsaved) {
            found++;
            *strikes -= entry->kind == ENTRY_STRIKE && entry->act == ACT_ADD;
        }
    }
    *strikes = *strikes > 0 ? *strikes : 0;
}
