/* settle_keys.c: a supervisor walks through what two desks say differently and settles each with
 * one key. A settlement is an amendment, a void or an insertion like any other; `accepted` on a
 * strike says that it was settled. */
#include <stdlib.h>

#include "ringtally/insight/agree.h"
#include "desk/session.h"

int settle_busiest(const struct desk *desk, bool official, int but)
{
    const struct desk_row *rows = NULL;
    const struct subject *subjects = NULL;
    int desks = fold_desks(desk->fold, &rows);
    size_t count = fold_subjects(desk->fold, &subjects);
    int best = -1;
    size_t most = 0;
    for (int root = 0; root < desks; root++) {
        size_t strikes = 0;
        for (size_t i = 0; i < count && rows[root].root == root && root != but; i++) {
            strikes += subjects[i].now.kind == ENTRY_STRIKE && subjects[i].live &&
                       rows[subjects[i].now.name.desk].root == root &&
                       (!official || subjects[i].counts);
        }
        if (strikes > most) {
            best = root;
            most = strikes;
        }
    }
    return best;
}

static const struct subject *strike_of(const struct desk *desk, const struct align_strike *strikes,
                                       int32_t index)
{
    return index < 0 ? NULL : fold_subject(desk->fold, strikes[index].name);
}

static bool is_settled(const struct desk *desk, const struct agree_difference *difference)
{
    const struct agree *agree = desk->agree;
    const struct subject *a = strike_of(desk, agree->a, difference->link.a);
    const struct subject *b = strike_of(desk, agree->b, difference->link.b);
    return a ? a->now.accepted || !a->live : b && (b->now.accepted || !b->live);
}

/* Compares the desks anew; keeps what is open. False: out of memory. */
static bool compare(struct desk *desk)
{
    const struct align_options options = ALIGN_DEFAULTS;
    uint8_t corners =
        agree_corners(desk->fold, desk->settle_a) & agree_corners(desk->fold, desk->settle_b);
    agree_release(desk->agree);
    if (agree_desks(desk->agree, desk->fold, &desk->bout, desk->settle_a, desk->settle_b, corners,
                    &options, &desk->rules)) {
        return false;
    }
    size_t open = 0;
    for (size_t i = 0; i < desk->agree->differences; i++) {
        if (!is_settled(desk, &desk->agree->difference[i])) {
            desk->agree->difference[open++] = desk->agree->difference[i];
        }
    }
    desk->agree->differences = open;
    if (desk->settle_at >= open) {
        desk->settle_at = open ? open - 1 : 0;
    }
    return true;
}

void settle_enter(struct desk *desk, int64_t now_ms)
{
    desk->settle_a = settle_busiest(desk, true, -1);
    desk->settle_b = settle_busiest(desk, false, desk->settle_a);
    if (desk->settle_a < 0 || desk->settle_b < 0) {
        session_notice(desk, now_ms, false, "a second desk's strikes are needed to compare with");
        return;
    }
    if (!desk->agree) {
        desk->agree = calloc(1, sizeof *desk->agree);
    }
    if (!desk->agree || !compare(desk)) {
        session_notice(desk, now_ms, true, "OUT OF MEMORY: the desks were not compared");
        return;
    }
    desk->mode = DESK_SETTLE;
    desk->mode_until_ms = 0;
    desk->settle_at = 0;
}

/* The settled strike as it is from now on. */
static bool settle_strike(struct desk *desk, struct entry now, const struct strike *strike,
                          bool live, int64_t now_ms)
{
    now.undoes = ENTRY_NONE;
    now.accepted = true;
    now.review = false;
    if (strike) {
        now.strike = *strike;
    }
    return write_change(desk, now.name, now, live ? ACT_AMEND : ACT_VOID, now_ms);
}

/* A strike that only the other desk has, put into the count at its moment. */
static bool settle_insert(struct desk *desk, struct entry of_other, int64_t now_ms)
{
    struct entry entry = of_other;
    entry.act = ACT_ADD;
    entry.undoes = ENTRY_NONE;
    entry.accepted = true;
    entry.review = false;
    entry.value = ENTRY_INSERTED;
    return write_entry(desk, entry, now_ms) && settle_strike(desk, of_other, NULL, true, now_ms);
}

static void settle(struct desk *desk, bool for_a, int64_t now_ms)
{
    struct agree *agree = desk->agree;
    const struct desk_row *rows = NULL;
    const struct agree_difference *difference = &agree->difference[desk->settle_at];
    const struct subject *of_a = strike_of(desk, agree->a, difference->link.a);
    const struct subject *of_b = strike_of(desk, agree->b, difference->link.b);
    /* Copies: writing moves what the fold holds. */
    struct entry a = of_a ? of_a->now : (struct entry){0};
    struct entry b = of_b ? of_b->now : (struct entry){0};
    bool wrote = false;
    if (of_a) {
        struct strike strike = of_b ? b.strike : a.strike;
        wrote = settle_strike(desk, a, for_a ? NULL : &strike, for_a || of_b, now_ms);
    } else if (of_b && for_a) {
        wrote = settle_strike(desk, b, NULL, true, now_ms);
    } else if (of_b) {
        wrote = settle_insert(desk, b, now_ms);
    }
    if (wrote) {
        fold_desks(desk->fold, &rows);
        session_notice(desk, now_ms, false, "settled as desk %s says",
                       rows[for_a ? desk->settle_a : desk->settle_b].name);
    }
    compare(desk);
}

/* Both were wrong: neither counts, and nothing is open about it any more. */
static void settle_neither(struct desk *desk, int64_t now_ms)
{
    struct agree *agree = desk->agree;
    const struct agree_difference *difference = &agree->difference[desk->settle_at];
    const struct subject *of_a = strike_of(desk, agree->a, difference->link.a);
    const struct subject *of_b = strike_of(desk, agree->b, difference->link.b);
    struct entry a = of_a ? of_a->now : (struct entry){0};
    struct entry b = of_b ? of_b->now : (struct entry){0};
    bool wrote = !of_a || settle_strike(desk, a, NULL, false, now_ms);
    if (wrote && (!of_b || settle_strike(desk, b, NULL, true, now_ms))) {
        session_notice(desk, now_ms, false, "settled: both were wrong, neither counts");
    }
    compare(desk);
}

/* A correction of another desk's strike takes effect only from the desk official for the corner
 * that it speaks of. */
static bool may_settle(const struct desk *desk)
{
    const struct agree *agree = desk->agree;
    const struct agree_difference *difference = &agree->difference[desk->settle_at];
    const struct subject *sides[] = {strike_of(desk, agree->a, difference->link.a),
                                     strike_of(desk, agree->b, difference->link.b)};
    for (int i = 0; i < 2; i++) {
        if (sides[i] &&
            !desk_is_official(desk,
                              sides[i]->now.strike.corner == CORNER_RED ? CODE_RED : CODE_BLUE)) {
            return false;
        }
    }
    return true;
}

/* To the difference that the newest entry opened again. */
static void go_back(struct desk *desk)
{
    const struct agree *agree = desk->agree;
    const struct entry *newest =
        fold_entry(desk->fold, (struct entry_name){desk->self, desk->next_seq - 1});
    for (size_t i = 0; newest && i < agree->differences; i++) {
        const struct subject *sides[] = {strike_of(desk, agree->a, agree->difference[i].link.a),
                                         strike_of(desk, agree->b, agree->difference[i].link.b)};
        for (int side = 0; side < 2; side++) {
            if (sides[side] && sides[side]->now.name.desk == newest->subject.desk &&
                sides[side]->now.name.seq == newest->subject.seq) {
                desk->settle_at = i;
                return;
            }
        }
    }
}

bool settle_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    size_t count = desk->agree->differences;
    if (key == KEY_OF_ESC || meaning.action == ACTION_SETTLE) {
        desk->mode = DESK_LIVE;
        return true;
    }
    if (meaning.action == ACTION_UNDO || meaning.action == ACTION_REDO) {
        /* It stays open: on the pad the next arrow would be the clock's. */
        (meaning.action == ACTION_UNDO ? write_undo : write_redo)(desk, now_ms);
        if (compare(desk)) {
            go_back(desk);
        }
        return true;
    }
    if (count == 0) {
        desk->mode = DESK_LIVE;
        return false;
    }
    if (meaning.action == ACTION_LOG_NEWER || meaning.action == ACTION_LOG_OLDER) {
        size_t step = meaning.action == ACTION_LOG_NEWER ? count - 1 : 1;
        desk->settle_at = (desk->settle_at + step) % count;
    } else if (meaning.action == ACTION_CLOCK_LESS || meaning.action == ACTION_CLOCK_MORE ||
               key == KEY_OF_DELETE) {
        if (!may_settle(desk)) {
            session_notice(desk, now_ms, true,
                           "only the desk official for that corner settles: the take-over key, "
                           "twice");
        } else if (key == KEY_OF_DELETE) {
            settle_neither(desk, now_ms);
        } else {
            settle(desk, meaning.action == ACTION_CLOCK_LESS, now_ms);
        }
    } else {
        desk->mode = DESK_LIVE;
        return false;
    }
    return true;
}

size_t desk_settle(const struct desk *desk, struct desk_difference *out)
{
    const struct desk_row *rows = NULL;
    const struct agree *agree = desk->agree;
    if (desk->mode != DESK_SETTLE) {
        return 0;
    }
    fold_desks(desk->fold, &rows);
    *out = (struct desk_difference){
        .a = rows[desk->settle_a].name, .b = rows[desk->settle_b].name, .at = desk->settle_at};
    if (agree->differences > 0) {
        const struct agree_difference *difference = &agree->difference[desk->settle_at];
        out->of_a = strike_of(desk, agree->a, difference->link.a);
        out->of_b = strike_of(desk, agree->b, difference->link.b);
    }
    return agree->differences;
}
