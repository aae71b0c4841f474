/* walk_keys.c: walking the log of entries, with keys that are no strikes. */
#include <stdlib.h>

#include "ringtally/base/grow.h"
#include "ringtally/tally/review.h"
#include "desk/session.h"

#define LOG_IDLE_MS 10000
#define LOG_PAGE    10

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
        return entry_corner(&subject->now)[0] && strike->corner == CORNER_RED;
    case FILTER_BLUE:
        return entry_corner(&subject->now)[0] && strike->corner == CORNER_BLUE;
    case FILTER_LIMB:
        return is_strike && strike->limb == desk->filter_of.limb;
    case FILTER_TARGET:
        return is_strike && strike->target == desk->filter_of.target;
    default:
        return true;
    }
}

/* Room for the reasons of all subjects; false: they are not known then. */
static bool reasons_room(struct desk *desk, size_t count)
{
    if (count <= desk->reasons_room) {
        return true;
    }
    return grow_array(&desk->reasons, sizeof *desk->reasons, desk->reasons_count,
                      count - desk->reasons_count, &desk->reasons_room);
}

/* What needs a look, from the start. */
static void looks_refresh(struct desk *desk)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    desk->looks = 0;
    desk->reasons_count = 0;
    if (count > 0 && reasons_room(desk, count)) {
        desk->looks = review_reasons(desk->reasons, count, session_fold(desk), &desk->rules);
        desk->reasons_count = count;
    }
}

/* What needs a look after these entries, which are the newest. */
static void looks_update(struct desk *desk, const struct entry *entries, size_t count)
{
    const struct subject *subjects = NULL;
    const struct fold *fold = session_fold(desk);
    size_t known = fold_subjects(fold, &subjects);
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = fold_subject(fold, entries[i].subject);
        size_t at = subject ? (size_t)(subject - subjects) : known;
        if (!subject) {
            continue;
        }
        if (at == desk->reasons_count && reasons_room(desk, at + 1)) {
            desk->reasons[desk->reasons_count++] = 0;
        }
        if (at >= desk->reasons_count) {
            looks_refresh(desk); /* something moved */
            return;
        }
    }
    if (desk->reasons_count != known) {
        looks_refresh(desk);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = fold_subject(fold, entries[i].subject);
        if (subject) {
            desk->looks = (size_t)((long)desk->looks + review_update(desk->reasons,
                                                                     (size_t)(subject - subjects),
                                                                     fold, &desk->rules));
        }
    }
}

static void order_refresh(struct desk *desk)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    desk->order_count = 0;
    if (!grow_array(&desk->order, sizeof *desk->order, 0, count, &desk->order_room)) {
        return;
    }
    /* Without room for the reasons nothing could be told apart. */
    if (count > desk->reasons_count) {
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

void walk_refresh(struct desk *desk)
{
    looks_refresh(desk);
    if (walk_is_open(desk)) {
        order_refresh(desk);
    }
}

void walk_update(struct desk *desk, const struct entry *entries, size_t count)
{
    looks_update(desk, entries, count);
    if (walk_is_open(desk)) {
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

long walk_place_of(const struct desk *desk, struct entry_name name)
{
    const struct subject *subjects = NULL;
    fold_subjects(session_fold(desk), &subjects);
    for (size_t i = 0; i < desk->order_count; i++) {
        if (entry_same(subjects[desk->order[i]].now.name, name)) {
            return (long)i;
        }
    }
    return -1;
}

long walk_place(const struct desk *desk)
{
    return walk_place_of(desk, desk->cursor);
}

size_t desk_log(const struct desk *desk, const long **out, long *cursor)
{
    *out = desk->order;
    *cursor = walk_place(desk);
    return desk->order_count;
}

void walk_place_cursor(struct desk *desk, long place)
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

const struct subject *walk_subject(const struct desk *desk)
{
    return fold_subject(session_fold(desk), desk->cursor);
}

static void walk_next_filter(struct desk *desk)
{
    /* In a rest the log opens on what wants a look: all is one key away from there. */
    static const enum desk_filter next[FILTER_COUNT] = {
        [FILTER_LOOK] = FILTER_ALL,    [FILTER_ALL] = FILTER_FLAGGED, [FILTER_FLAGGED] = FILTER_RED,
        [FILTER_RED] = FILTER_BLUE,    [FILTER_BLUE] = FILTER_LIMB,   [FILTER_LIMB] = FILTER_TARGET,
        [FILTER_TARGET] = FILTER_LOOK,
    };
    const struct subject *subject = fold_subject(session_fold(desk), desk->cursor);
    if (desk->filter < FILTER_LIMB && subject) {
        desk->filter_of = subject->now.strike;
    }
    desk->filter = next[desk->filter];
    order_refresh(desk);
    long place = walk_place(desk);
    walk_place_cursor(desk, place);
}

/* Under a running clock the log closes by itself, so that live keys are not taken for amendments.
 */
void walk_stay(struct desk *desk, int64_t now_ms)
{
    /* A recording can be paused: nothing is missed. */
    bool runs = desk_clock(desk, now_ms).state == CLOCK_RUNNING && !desk->reel.on;
    desk->mode_until_ms = runs ? now_ms + LOG_IDLE_MS : 0;
}

/* The place of the newest strike or incident: what is put right most often; state stands between.
 */
static long newest_spoken(const struct desk *desk)
{
    const struct subject *subjects = NULL;
    fold_subjects(session_fold(desk), &subjects);
    for (size_t i = 0; i < desk->order_count; i++) {
        uint8_t kind = subjects[desk->order[i]].now.kind;
        if (kind == ENTRY_STRIKE || kind == ENTRY_INCIDENT) {
            return (long)i;
        }
    }
    return 0;
}

void walk_enter(struct desk *desk, int64_t now_ms)
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
    walk_stay(desk, now_ms);
    walk_place_cursor(desk, newest_spoken(desk));
}

bool walk_is_open(const struct desk *desk)
{
    return desk->mode == DESK_LOG || desk->mode == DESK_INSERT || desk->mode == DESK_JUMP;
}

void walk_leave(struct desk *desk)
{
    desk->amending = (struct amending){.from = ENTRY_NONE};
}

/* To the newest entry of the next round up or down the list. */
static void round_step(struct desk *desk, bool newer)
{
    const struct subject *subjects = NULL;
    long place = walk_place(desk);
    long last = (long)desk->order_count - 1;
    fold_subjects(session_fold(desk), &subjects);
    if (place < 0) {
        return;
    }
    int round = subjects[desk->order[place]].now.round;
    while (newer ? place > 0 : place < last) {
        place += newer ? -1 : 1;
        if (subjects[desk->order[place]].now.round != round) {
            break;
        }
    }
    walk_place_cursor(desk, place);
}

/* Keys that only move. */
static bool cursor_key(struct desk *desk, int32_t key, struct meaning meaning)
{
    long place = walk_place(desk);
    switch (key) {
    case KEY_OF_HOME:
        walk_place_cursor(desk, 0);
        return true;
    case KEY_OF_END:
        walk_place_cursor(desk, (long)desk->order_count - 1);
        return true;
    case KEY_OF_PAGE_UP:
        round_step(desk, true);
        return true;
    case KEY_OF_PAGE_DOWN:
        round_step(desk, false);
        return true;
    default:
        break;
    }
    if (meaning.action == ACTION_LOG_NEWER || meaning.action == ACTION_LOG_OLDER) {
        walk_place_cursor(desk, place + (meaning.action == ACTION_LOG_NEWER ? -1 : 1));
        return true;
    }
    return false;
}

bool walk_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    walk_stay(desk, now_ms);
    if (repair_key(desk, key, meaning, now_ms)) {
        return true;
    }
    if (key == KEY_OF_ESC) {
        if (amend_awaits(desk) || desk->amending.range != RANGE_NONE) {
            desk->mode = DESK_LOG;
            walk_leave(desk);
        } else {
            live(desk);
        }
        return true;
    }
    if (amend_awaits(desk) && (mark_applies(meaning.action) || meaning.action == ACTION_UNSURE)) {
        amend_key(desk, key, meaning, now_ms);
        return true;
    }
    if (key == KEY_OF_SHIFT_UP || key == KEY_OF_SHIFT_DOWN) {
        range_extend(desk, key == KEY_OF_SHIFT_UP, now_ms);
        return true;
    }
    long from = walk_place(desk);
    if (cursor_key(desk, key, meaning)) {
        if (walk_place(desk) == from) {
            session_notice(desk, now_ms, false, "the log goes no further there");
        }
        desk->mode = DESK_LOG;
        desk->amending.open = false;
        return true;
    }
    if (meaning.action == ACTION_FILTER) {
        walk_next_filter(desk);
        return true;
    }
    if (meaning.action == ACTION_LOOKUP) {
        jump_enter(desk, now_ms);
        return true;
    }
    if (meaning.action == ACTION_RANGE) {
        range_next(desk, now_ms);
        return true;
    }
    if (!walk_subject(desk)) {
        return false;
    }
    long place = walk_place(desk);
    if (meaning.action == ACTION_AMEND) {
        amend_open(desk, now_ms);
        return true;
    }
    if (key == KEY_OF_INSERT || key == '+') {
        desk->mode = DESK_INSERT;
        session_notice(desk, now_ms, true, "INSERT: the next pad key, at this moment; Esc: none");
        return true;
    }
    if (key == KEY_OF_DELETE) {
        amend_void(desk, now_ms);
    } else if (meaning.action == ACTION_REVIEW) {
        amend_review(desk, now_ms);
    } else {
        return false;
    }
    walk_refresh(desk);
    if (walk_place(desk) < 0) { /* it no longer passes the filter: on to the next */
        walk_place_cursor(desk, place);
    }
    return true;
}
