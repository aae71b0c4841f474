/* moment.c: what time it is in a bout, for whoever reads its entries. */
#include "ringtally/tally/fold.h"

/* The newest moment spoken of by the desk chain `root` (-1: by any), by its wall clock as it was
 * last set; 0: none. */
static int64_t newest_moment(const struct fold *fold, int root)
{
    const struct entry *entries = NULL;
    const struct desk_row *desks = NULL;
    size_t count = fold_entries(fold, &entries);
    int64_t newest = 0;
    fold_desks(fold, &desks);
    while (count-- > 0) {
        const struct entry *entry = &entries[count];
        bool inserted = entry->kind == ENTRY_STRIKE && entry->value == ENTRY_INSERTED;
        if (entry->act != ACT_ADD || inserted ||
            (root >= 0 && desks[entry->name.desk].root != root)) {
            continue;
        }
        newest = entry->at_ms > newest ? entry->at_ms : newest;
        if (entry->kind == ENTRY_CLOCK && entry->code == CODE_JUMP) {
            break; /* what stands before it is told by another setting of the wall clock */
        }
    }
    return newest;
}

int64_t fold_now(const struct fold *fold, int64_t wall_ms)
{
    int64_t newest = newest_moment(fold, fold_official(fold, CODE_CLOCK));
    return newest > wall_ms ? newest : wall_ms;
}

int64_t fold_heard(const struct fold *fold, int64_t now_ms)
{
    /* A place in the order that is yet to come says nothing about when it was written. */
    int64_t newest = fold_newest_ms(fold);
    return newest <= now_ms ? newest : newest_moment(fold, -1);
}

bool fold_over(const struct fold *fold, int64_t now_ms)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(fold, &subjects);
    bool over = clock_read(fold_clock(fold), now_ms).state == CLOCK_OVER || fold_signed(fold);
    for (size_t i = 0; i < count && !over; i++) {
        over = subjects[i].live && subjects[i].now.kind == ENTRY_RESULT;
    }
    return over;
}
