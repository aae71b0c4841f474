/* log_keys.c: walking the log of entries, and putting them right with the keys of the pad. */
#include <stdlib.h>

#include "session.h"

/* By round, then by the moment spoken of: an inserted strike stands where it happened. */
static bool is_later(const struct subject *a, const struct subject *b)
{
    return a->now.round != b->now.round ? a->now.round > b->now.round : a->now.at_ms > b->now.at_ms;
}

void log_refresh(struct desk *desk)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    desk->order_count = 0;
    if (count > desk->order_room) {
        long *more = realloc(desk->order, count * 2 * sizeof *more);
        if (!more) {
            return;
        }
        desk->order = more;
        desk->order_room = count * 2;
    }
    /* Nearly in order already, so inserting is cheap. */
    for (size_t i = count; i-- > 0;) {
        size_t at = desk->order_count++;
        while (at > 0 && is_later(&subjects[i], &subjects[desk->order[at - 1]])) {
            desk->order[at] = desk->order[at - 1];
            at--;
        }
        desk->order[at] = (long)i;
    }
}

static long cursor_place(const struct desk *desk)
{
    const struct subject *subjects = NULL;
    fold_subjects(session_fold(desk), &subjects);
    for (size_t i = 0; i < desk->order_count; i++) {
        if (entry_same(subjects[desk->order[i]].now.name, desk->cursor)) {
            return (long)i;
        }
    }
    return -1;
}

size_t desk_log(const struct desk *desk, const long **out, long *cursor)
{
    *out = desk->order;
    *cursor = cursor_place(desk);
    return desk->order_count;
}

static void move(struct desk *desk, long by)
{
    const struct subject *subjects = NULL;
    fold_subjects(session_fold(desk), &subjects);
    long place = cursor_place(desk) + by;
    if (desk->order_count == 0) {
        return;
    }
    if (place < 0) {
        place = 0;
    }
    if (place >= (long)desk->order_count) {
        place = (long)desk->order_count - 1;
    }
    desk->cursor = subjects[desk->order[place]].now.name;
}

void log_enter(struct desk *desk, int64_t now_ms)
{
    log_refresh(desk);
    if (desk->order_count == 0) {
        session_notice(desk, now_ms, false, "the log has no entries yet");
        return;
    }
    desk->mode = DESK_LOG;
    desk->mode_until_ms = 0;
    desk->cursor = ENTRY_NONE;
    move(desk, 1);
}

static void amend(struct desk *desk, const struct subject *subject, struct entry now,
                  int64_t now_ms)
{
    char words[128];
    entry_words(words, sizeof words, &now);
    session_notice(desk, now_ms, false, "amended: %s %s", corner_names[now.strike.corner], words);
    now.undoes = ENTRY_NONE;
    write_change(desk, subject, now, ACT_AMEND, now_ms);
}

static void insert(struct desk *desk, const struct subject *at, struct strike strike,
                   int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_STRIKE, now_ms);
    char words[128];
    strike.stance = at->now.strike.corner == strike.corner && at->now.kind == ENTRY_STRIKE
                        ? at->now.strike.stance
                        : (uint8_t)fold_stance(session_fold(desk), strike.corner);
    strike.position = at->now.strike.position;
    entry.strike = strike;
    entry.round = at->now.round;
    entry.elapsed_ms = at->now.elapsed_ms;
    entry.off_clock = at->now.off_clock;
    entry.at_ms = at->now.at_ms;
    strike_words(words, sizeof words, &strike);
    session_notice(desk, now_ms, false, "inserted: %s %s", corner_names[strike.corner], words);
    if (write_entry(desk, entry, now_ms)) {
        desk->cursor = (struct entry_name){desk->self, desk->next_seq - 1};
    }
}

static void toggle_void(struct desk *desk, const struct subject *subject, int64_t now_ms)
{
    struct entry now = subject->now;
    char words[128];
    now.undoes = ENTRY_NONE;
    entry_words(words, sizeof words, &now);
    session_notice(desk, now_ms, false, "%s: %s %s", subject->live ? "voided" : "counts again",
                   corner_names[now.strike.corner], words);
    write_change(desk, subject, now, subject->live ? ACT_VOID : ACT_RESTORE, now_ms);
}

/* The amendments that an action makes to a strike; false where it makes none. */
static bool amend_by_action(struct desk *desk, const struct subject *subject, enum action action,
                            int64_t now_ms)
{
    struct entry now = subject->now;
    if (action == ACTION_REVIEW) {
        now.review = !now.review;
    } else if (now.kind != ENTRY_STRIKE) {
        return false;
    } else if (action == ACTION_RED_SWITCH || action == ACTION_BLUE_SWITCH) {
        now.strike.stance = (uint8_t)stance_switched(now.strike.stance);
    } else if (action == ACTION_CLINCH) {
        now.strike.position ^= POSITION_CLINCH;
    } else if (!mark_apply(&now.strike, action)) {
        return false;
    }
    amend(desk, subject, now, now_ms);
    return true;
}

static void replace(struct desk *desk, const struct subject *subject, struct strike strike,
                    int64_t now_ms)
{
    struct entry now = subject->now;
    if (now.kind != ENTRY_STRIKE) {
        session_notice(desk, now_ms, true, "this entry is no strike: Delete voids it");
        return;
    }
    if (now.strike.corner != strike.corner) {
        now.strike.stance = (uint8_t)fold_stance(session_fold(desk), strike.corner);
    }
    now.strike.corner = strike.corner;
    now.strike.limb = strike.limb;
    now.strike.target = strike.target;
    if (strike.outcome == OUTCOME_LANDED) {
        now.strike.outcome = OUTCOME_LANDED;
    }
    amend(desk, subject, now, now_ms);
}

bool log_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    const struct subject *subject = fold_subject(session_fold(desk), desk->cursor);
    if (key == KEY_OF_ESC) {
        desk->mode = desk->mode == DESK_INSERT ? DESK_LOG : DESK_LIVE;
        return true;
    }
    if (meaning.action == ACTION_LOG_NEWER || meaning.action == ACTION_LOG_OLDER) {
        desk->mode = DESK_LOG;
        move(desk, meaning.action == ACTION_LOG_NEWER ? -1 : 1);
        return true;
    }
    if (!subject) {
        return false;
    }
    bool done = true;
    if (key == KEY_OF_DELETE) {
        toggle_void(desk, subject, now_ms);
    } else if (key == KEY_OF_INSERT || key == '+') {
        desk->mode = DESK_INSERT;
        return true;
    } else if (meaning.action == ACTION_STRIKE) {
        if (desk->mode == DESK_INSERT) {
            insert(desk, subject, meaning.strike, now_ms);
            desk->mode = DESK_LOG;
        } else {
            replace(desk, subject, meaning.strike, now_ms);
        }
    } else {
        done = amend_by_action(desk, subject, meaning.action, now_ms);
    }
    log_refresh(desk);
    return done;
}
