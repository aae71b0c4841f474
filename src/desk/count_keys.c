/* count_keys.c: the referee's count, which always leaves the number that it reached. */
#include "desk/session.h"
#include "ringtally/bout/cautions.h"

#define COUNT_MS     INT64_C(1000) /* as the referee counts: one a second */
#define COUNT_MAX    10
#define UNDOING_MS   10000
#define COUNT_BOX_ON 8 /* who is up again is counted to eight: common practice */

void count_begin(struct desk *desk, struct entry_name incident, enum corner corner, int64_t now_ms)
{
    count_end(desk, now_ms); /* a count begun anew ends the one before */
    desk->count_of = incident;
    desk->count_corner = corner;
    desk->count_since_ms = now_ms;
    session_notice(desk, now_ms, false, "%s is counted: %s", corner_names[corner], caution_count);
    desk->notice_until_ms = now_ms + COUNT_MAX * COUNT_MS;
}

int desk_count(const struct desk *desk, int64_t now_ms, enum corner *corner)
{
    int64_t passed = now_ms - desk->count_since_ms;
    *corner = desk->count_corner;
    if (desk->count_since_ms == 0 || passed < 0) {
        return 0;
    }
    int64_t count = passed / COUNT_MS + 1;
    return count > COUNT_MAX ? COUNT_MAX : (int)count;
}

/* Writes the number into the incident. False where no count ran. */
static bool write_count(struct desk *desk, int count, int64_t now_ms)
{
    const struct subject *subject = fold_subject(session_fold(desk), desk->count_of);
    enum corner corner = desk->count_corner;
    desk->count_since_ms = 0;
    if (count == 0 || !subject || !subject->live) {
        return false;
    }
    struct entry now = subject->now;
    now.undoes = ENTRY_NONE;
    now.value = count;
    if (write_change(desk, now.name, now, ACT_REFINE, now_ms)) {
        session_notice(desk, now_ms, count == COUNT_MAX, "%s: %d, %s%s", corner_names[corner],
                       count, caution_count,
                       count == COUNT_MAX ? " (F4 enters how the bout ended)" : "");
    }
    return true;
}

bool count_end(struct desk *desk, int64_t now_ms)
{
    enum corner corner = CORNER_NONE;
    return write_count(desk, desk_count(desk, now_ms, &corner), now_ms);
}

void count_box_on(struct desk *desk, int64_t now_ms)
{
    enum corner corner = CORNER_NONE;
    int count = desk_count(desk, now_ms, &corner);
    if (count > 0) {
        session_stroke(desk);
        write_count(desk, count < COUNT_BOX_ON ? count : COUNT_BOX_ON, now_ms);
        session_stroke(desk);
    }
}

void count_tick(struct desk *desk, int64_t now_ms)
{
    /* Written in the middle of a run of undo it would end what can be brought back. */
    int64_t wait = desk->undone.count > 0 ? UNDOING_MS : 0;
    if (desk->count_since_ms > 0 && now_ms - desk->count_since_ms >= COUNT_MAX * COUNT_MS + wait) {
        session_stroke(desk);
        write_count(desk, COUNT_MAX, now_ms);
        session_stroke(desk);
    }
}

int64_t count_next_ms(const struct desk *desk, int64_t now_ms)
{
    return desk->count_since_ms == 0
               ? INT64_MAX
               : now_ms + COUNT_MS - (now_ms - desk->count_since_ms) % COUNT_MS;
}
