/* check.c: the live count held against the recording, for the page that shows it. */
#include <stdlib.h>

#include "desk/session.h"

/* Whose recording, and the corners that both tag; -1: there is none. A desk on a recording holds
 * its own against the live count. */
static int find(const struct desk *desk, uint8_t *corners)
{
    if (desk->reel.on && desk->own) {
        *corners = agree_corners(desk->fold, desk->root) &
                   reference_official_corners(desk->fold, desk->root);
        if (*corners && fold_tally(desk->own)->last_round > 0) {
            return desk->root;
        }
    }
    return reference_find(desk->fold, corners);
}

bool desk_has_page(const struct desk *desk, enum desk_page page)
{
    uint8_t corners = 0;
    return page < PAGE_CHECK || (page == PAGE_CHECK && find(desk, &corners) >= 0);
}

bool desk_check(const struct desk *desk, struct desk_check *out)
{
    const struct entry *entries = NULL;
    const struct desk_row *desks = NULL;
    if (!desk->checking.reference) {
        return false;
    }
    fold_desks(desk->fold, &desks);
    *out =
        (struct desk_check){.reference = desk->checking.reference,
                            .by = desks[desk->checking.root].name,
                            .behind = fold_entries(desk->fold, &entries) - desk->checking.entries};
    return true;
}

void check_release(struct desk *desk)
{
    if (desk->checking.reference) {
        reference_release(desk->checking.reference);
        free(desk->checking.reference);
        desk->checking.reference = NULL;
    }
}

/* It takes hundredths of a second: nobody waits for it while strikes come. */
void check_look(struct desk *desk, int64_t now_ms)
{
    const struct entry *entries = NULL;
    struct checking *checking = &desk->checking;
    size_t count = fold_entries(desk->fold, &entries);
    uint8_t corners = 0;
    bool busy =
        desk->reel.on ? !desk->reel.seen.paused : desk_clock(desk, now_ms).state == CLOCK_RUNNING;
    if (desk->page != PAGE_CHECK || (checking->reference && (busy || checking->entries == count))) {
        return;
    }
    check_release(desk);
    int root = find(desk, &corners);
    struct reference *reference = root < 0 ? NULL : calloc(1, sizeof *reference);
    if (!reference) {
        return;
    }
    if (reference_make(reference, desk->fold, &desk->bout, &desk->rules, root, REFERENCE_OFFICIAL,
                       corners)) {
        reference_release(reference);
        free(reference);
        session_notice(desk, now_ms, true, "OUT OF MEMORY: the live count was not checked");
        return;
    }
    *checking = (struct checking){.reference = reference, .entries = count, .root = root};
}
