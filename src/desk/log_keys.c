/* log_keys.c: walking the log of entries, and putting them right with the keys of the pad. */
#include <stdlib.h>

#include "ringtally/tally/review.h"
#include "desk/session.h"

#define LOG_IDLE_MS 10000

/* By round, then by the moment spoken of: an inserted strike stands where it happened. */
static bool is_later(const struct subject *a, const struct subject *b)
{
    return a->now.round != b->now.round ? a->now.round > b->now.round : a->now.at_ms > b->now.at_ms;
}

static bool passes(const struct desk *desk, const struct subject *subject, uint8_t reasons)
{
    const struct strike *strike = &subject->now.strike;
    bool is_strike = subject->now.kind == ENTRY_STRIKE;
    /* What another desk keeps apart is no business of the log's: settle_keys.c walks through that.
     */
    if (!subject->official && !session_owns(desk, subject->now.name)) {
        return false;
    }
    switch (desk->filter) {
    case FILTER_LOOK:
        return reasons != 0;
    case FILTER_FLAGGED:
        return subject->now.review;
    case FILTER_RED:
        return strike->corner == CORNER_RED;
    case FILTER_BLUE:
        return strike->corner == CORNER_BLUE;
    case FILTER_LIMB:
        return is_strike && strike->limb == desk->filter_of.limb;
    case FILTER_TARGET:
        return is_strike && strike->target == desk->filter_of.target;
    default:
        return true;
    }
}

/* What needs a look; after every key that wrote. */
static void looks_refresh(struct desk *desk)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    desk->looks = 0;
    if (count > desk->reasons_room) {
        uint8_t *more = realloc(desk->reasons, count * 2);
        if (!more) {
            return;
        }
        desk->reasons = more;
        desk->reasons_room = count * 2;
    }
    if (count > 0) {
        desk->looks = review_reasons(desk->reasons, count, session_fold(desk), &desk->rules);
    }
}

static void order_refresh(struct desk *desk)
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
    /* Without room for the reasons nothing could be told apart. */
    if (count > desk->reasons_room) {
        return;
    }
    /* Nearly in order already, so inserting is cheap. */
    for (size_t i = count; i-- > 0;) {
        if (!passes(desk, &subjects[i], desk->reasons[i])) {
            continue;
        }
        size_t at = desk->order_count++;
        while (at > 0 && is_later(&subjects[i], &subjects[desk->order[at - 1]])) {
            desk->order[at] = desk->order[at - 1];
            at--;
        }
        desk->order[at] = (long)i;
    }
}

void log_refresh(struct desk *desk)
{
    looks_refresh(desk);
    if (desk->mode == DESK_LOG || desk->mode == DESK_INSERT) {
        order_refresh(desk);
    }
}

size_t desk_looks(const struct desk *desk, const uint8_t **reasons)
{
    *reasons = desk->reasons;
    return desk->looks;
}

enum desk_filter desk_filter(const struct desk *desk)
{
    return desk->filter;
}

const char *desk_filter_words(const struct desk *desk)
{
    static const char *const words[FILTER_COUNT] = {"all",  "to look at", "flagged", "red",
                                                    "blue", "",           ""};
    if (desk->filter == FILTER_LIMB) {
        return limb_words[desk->filter_of.limb];
    }
    if (desk->filter == FILTER_TARGET) {
        return target_names[desk->filter_of.target];
    }
    return words[desk->filter];
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

static void place_cursor(struct desk *desk, long place)
{
    const struct subject *subjects = NULL;
    fold_subjects(session_fold(desk), &subjects);
    if (desk->order_count == 0) {
        desk->cursor = ENTRY_NONE;
        return;
    }
    long last = (long)desk->order_count - 1;
    place = place < 0 ? 0 : place > last ? last : place;
    desk->cursor = subjects[desk->order[place]].now.name;
}

void log_next_filter(struct desk *desk)
{
    const struct subject *subject = fold_subject(session_fold(desk), desk->cursor);
    if (desk->filter < FILTER_LIMB && subject) {
        desk->filter_of = subject->now.strike;
    }
    desk->filter = (enum desk_filter)((desk->filter + 1) % FILTER_COUNT);
    order_refresh(desk);
    long place = cursor_place(desk);
    place_cursor(desk, place);
}

/* Under a running clock the log closes by itself, so that live keys are not taken for amendments.
 */
static void stay(struct desk *desk, int64_t now_ms)
{
    bool runs = desk_clock(desk, now_ms).state == CLOCK_RUNNING;
    desk->mode_until_ms = runs ? now_ms + LOG_IDLE_MS : 0;
}

void log_enter(struct desk *desk, int64_t now_ms)
{
    enum clock_state state = desk_clock(desk, now_ms).state;
    looks_refresh(desk);
    /* In a rest it opens on what needs a look. */
    desk->filter = state != CLOCK_RUNNING && desk->looks > 0 ? FILTER_LOOK : FILTER_ALL;
    order_refresh(desk);
    if (desk->order_count == 0) {
        session_notice(desk, now_ms, false, "the log has no entries yet");
        return;
    }
    desk->mode = DESK_LOG;
    stay(desk, now_ms);
    place_cursor(desk, 0);
}

static void amend(struct desk *desk, const struct subject *subject, struct entry now,
                  int64_t now_ms)
{
    char words[128];
    bool turned = now.kind == ENTRY_STRIKE && now.strike.stance != subject->now.strike.stance;
    entry_words(words, sizeof words, &now);
    session_notice(desk, now_ms, false, "amended: %s %s%s%s", corner_names[now.strike.corner],
                   words, turned ? ", " : "", turned ? stance_names[now.strike.stance] : "");
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
    session_notice(desk, now_ms, false, "%s: %s%s", subject->live ? "voided" : "counts again",
                   entry_corner(&now), words);
    write_change(desk, subject, now, subject->live ? ACT_VOID : ACT_RESTORE, now_ms);
}

/* The amendments that an action makes to a strike; false where it makes none. */
static bool amend_by_action(struct desk *desk, const struct subject *subject, enum action action,
                            int64_t now_ms)
{
    struct entry now = subject->now;
    const struct subject *subjects = NULL;
    fold_subjects(session_fold(desk), &subjects);
    if (action == ACTION_REVIEW) {
        /* What wanted a look is accepted; anything else is flagged. */
        now.accepted = desk->reasons[subject - subjects] != 0;
        now.review = !now.accepted;
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
    stay(desk, now_ms);
    const struct subject *subject = fold_subject(session_fold(desk), desk->cursor);
    if (key == KEY_OF_ESC) {
        desk->mode = desk->mode == DESK_INSERT ? DESK_LOG : DESK_LIVE;
        desk->mode_until_ms = desk->mode == DESK_LIVE ? 0 : desk->mode_until_ms;
        return true;
    }
    if (meaning.action == ACTION_LOG_NEWER || meaning.action == ACTION_LOG_OLDER) {
        desk->mode = DESK_LOG;
        place_cursor(desk, cursor_place(desk) + (meaning.action == ACTION_LOG_NEWER ? -1 : 1));
        return true;
    }
    if (meaning.action == ACTION_FILTER) {
        log_next_filter(desk);
        return true;
    }
    if (!subject) {
        return false;
    }
    long place = cursor_place(desk);
    bool done = true;
    if (key == KEY_OF_DELETE) {
        toggle_void(desk, subject, now_ms);
    } else if (key == KEY_OF_INSERT || key == '+') {
        desk->mode = DESK_INSERT;
        return true;
    } else if (meaning.action == ACTION_STRIKE) {
        if (!session_allows(desk, meaning.strike, key, now_ms)) {
            return true;
        }
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
    if (cursor_place(desk) < 0) { /* it no longer passes the filter: on to the next */
        place_cursor(desk, place);
    }
    return done;
}
