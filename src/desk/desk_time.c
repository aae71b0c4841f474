/* desk_time.c: what becomes of a desk's moments when the machine's wall clock is set. */
#include <stdio.h>
#include <stdlib.h>

#include "ringtally/base/when.h"
#include "desk/session.h"

#define UNHEARD_MS 3000 /* in which the desk with the clock says that it was set */
#define STEPPED_MS 15000

/* Everything that waits for a moment waits for the same one by the new setting. */
static void shift(struct desk *desk, int64_t by_ms)
{
    int64_t *const moments[] = {
        &desk->mode_until_ms,         &desk->announce_until_ms,
        &desk->count_since_ms,        &desk->sync.at_ms,
        &desk->question.until_ms,     &desk->question.answer_ms,
        &desk->notice_until_ms,       &desk->hit_until_ms,
        &desk->repeat.last_ms,        &desk->hand.asked_ms,
        &desk->hand.guessed_ms,       &desk->hand.nudge_until_ms,
        &desk->burst.at_ms,           &desk->end_form.at_ms,
        &desk->end_form.odd_ms,       &desk->office.heard_ms,
        &desk->office.blind_until_ms, &desk->office.told_ms,
        &desk->alarms.flash_until_ms, &desk->alarms.unsaved_told_ms,
        &desk->reel.look_ms,
    };
    for (size_t i = 0; i < sizeof moments / sizeof *moments; i++) {
        if (*moments[i] > 0) { /* 0: it waits for nothing */
            *moments[i] += by_ms;
        }
    }
    for (size_t i = 0; i < TYPOS; i++) {
        desk->typo.at_ms[i] += by_ms;
    }
    for (size_t i = 0; i < OFF_CLOCK; i++) {
        desk->alarms.off_clock_ms[i] += desk->alarms.off_clock_ms[i] ? by_ms : 0;
    }
}

static bool holds_clock(const struct desk *desk)
{
    return !desk->watch && !desk->reel.on &&
           fold_official(session_fold(desk), CODE_CLOCK) == desk->root;
}

static bool write_jump(struct desk *desk, int64_t by_ms, int64_t now_ms)
{
    /* The face is read by the setting that the clock still goes by. */
    struct clock_face face = desk_clock(desk, now_ms - by_ms);
    session_stroke(desk);
    bool wrote = clock_write(desk,
                             (struct entry){.code = CODE_JUMP,
                                            .round = (uint8_t)face.round,
                                            .elapsed_ms = face.elapsed_ms,
                                            .value = by_ms},
                             now_ms);
    session_stroke(desk);
    return wrote;
}

static const char *distance_words(char out[32], int64_t ms)
{
    int64_t seconds = (llabs((long long)ms) + 500) / 1000;
    if (seconds < 60) {
        snprintf(out, 32, "%.1f s", (double)llabs((long long)ms) / 1000);
    } else if (seconds < 172800) {
        snprintf(out, 32, "%lld:%02d:%02d h", (long long)(seconds / 3600), (int)(seconds / 60 % 60),
                 (int)(seconds % 60));
    } else {
        snprintf(out, 32, "%lld days", (long long)(seconds / 86400));
    }
    return out;
}

void desk_stepped(struct desk *desk, int64_t by_ms, int64_t now_ms)
{
    char distance[32];
    shift(desk, by_ms);
    desk->office.blind_until_ms = now_ms + UNHEARD_MS;
    if (desk_is_read_only(desk) || desk->reel.on) {
        return;
    }
    if (holds_clock(desk)) {
        write_jump(desk, by_ms, now_ms);
    } else {
        desk->hand.unheard_ms += by_ms;
        desk->hand.unheard_until_ms = now_ms + UNHEARD_MS;
    }
    session_notice(
        desk, now_ms, true,
        "this machine's clock was set %s by %s: noted, the round clock goes on as it was",
        by_ms > 0 ? "forward" : "back", distance_words(distance, by_ms));
    desk->notice_until_ms = now_ms + STEPPED_MS;
}

void time_hear(struct desk *desk, const struct entry *entry)
{
    if (entry->kind == ENTRY_CLOCK && entry->code == CODE_JUMP &&
        fold_effect(session_fold(desk), entry->name) == EFFECT_TAKEN) {
        desk->hand.unheard_ms = 0;
    }
}

void time_resume(struct desk *desk, int64_t known_ms, int64_t now_ms)
{
    char distance[32];
    if (known_ms <= now_ms || !holds_clock(desk) || desk_is_read_only(desk) ||
        !write_jump(desk, now_ms - known_ms, now_ms)) {
        return;
    }
    session_notice(desk, now_ms, true,
                   "the log is %s ahead of this machine's clock: the round clock goes on from its "
                   "last entry; F9 sets it",
                   distance_words(distance, known_ms - now_ms));
    desk->notice_until_ms = now_ms + STEPPED_MS;
}
