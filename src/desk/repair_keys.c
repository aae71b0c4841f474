/* repair_keys.c: a whole range of the log put right by one action, which one undo takes back. */
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>

#include "desk/session.h"

enum repair {
    REPAIR_CORNER = 1,
    REPAIR_NEXT_ROUND,
    REPAIR_ROUND_BEFORE,
    REPAIR_SHIFT,
    REPAIR_VOID,
    REPAIR_FLAG,
    REPAIR_BOUT
};

#define CHOICES                                                                                    \
    "1 other corner  2 next round  3 round before  4 shift in time  5 void  6 flag  7 other bout"

enum log_range desk_range(const struct desk *desk)
{
    return desk->mode == DESK_LOG || desk->mode == DESK_JUMP ? desk->amending.range : RANGE_NONE;
}

bool desk_in_range(const struct desk *desk, size_t place)
{
    const struct subject *subjects = NULL;
    long cursor = walk_place(desk), from = 0;
    if (cursor < 0 || place >= desk->order_count) {
        return false;
    }
    fold_subjects(session_fold(desk), &subjects);
    switch (desk_range(desk)) {
    case RANGE_HERE:
        from = walk_place_of(desk, desk->amending.from);
        from = from < 0 ? cursor : from;
        return (long)place >= (from < cursor ? from : cursor) &&
               (long)place <= (from < cursor ? cursor : from);
    case RANGE_ROUND:
        return subjects[desk->order[place]].now.round == subjects[desk->order[cursor]].now.round;
    case RANGE_ALL:
        return true;
    default:
        return false;
    }
}

static size_t range_count(const struct desk *desk)
{
    size_t count = 0;
    for (size_t i = 0; i < desk->order_count; i++) {
        count += desk_in_range(desk, i);
    }
    return count;
}

static void range_tell(struct desk *desk, int64_t now_ms)
{
    static const char *const words[RANGE_COUNT] = {"no range", "from here on, as the cursor moves",
                                                   "this round", "all that is listed"};
    enum log_range range = desk->amending.range;
    if (range == RANGE_NONE) {
        session_notice(desk, now_ms, false, "%s", words[range]);
    } else {
        session_notice(desk, now_ms, false, "range of %zu: %s; the amend key puts it right",
                       range_count(desk), words[range]);
    }
}

void range_next(struct desk *desk, int64_t now_ms)
{
    struct amending *amending = &desk->amending;
    amending->open = false;
    amending->range = (enum log_range)((amending->range + 1) % RANGE_COUNT);
    amending->from = desk->cursor;
    range_tell(desk, now_ms);
}

void range_extend(struct desk *desk, bool newer, int64_t now_ms)
{
    struct amending *amending = &desk->amending;
    amending->open = false;
    if (amending->range != RANGE_HERE) {
        amending->range = RANGE_HERE;
        amending->from = desk->cursor;
    }
    walk_place_cursor(desk, walk_place(desk) + (newer ? -1 : 1));
    range_tell(desk, now_ms);
}

bool desk_repair(const struct desk *desk, char *out, size_t size)
{
    const struct amending *amending = &desk->amending;
    out[0] = '\0';
    if (desk->mode != DESK_LOG || !amending->repair) {
        return false;
    }
    if (amending->moves) {
        snprintf(out, size, "to bout %d: Enter closes this desk and moves it; Esc: none",
                 amending->bout);
    } else if (amending->shift != INT_MIN) {
        snprintf(out, size, "shift by %+d s: Left, Right, with Shift ten; Enter does it; Esc: none",
                 amending->shift);
    } else {
        snprintf(out, size,
                 "1 corner  2 next round  3 round before  4 shift  5 void  6 flag  7 bout");
    }
    return true;
}

/* Where that moment stands on the clock of another round: as its live start says. */
static void enter_round(const struct desk *desk, struct entry *now, int round)
{
    const struct subject *subjects = NULL;
    const size_t *states = NULL;
    const struct fold *fold = session_fold(desk);
    size_t count = fold_states(fold, &states);
    int32_t length = clock_round_length(&fold_clock(fold)->plan, round);
    fold_subjects(fold, &subjects);
    int64_t elapsed = round > now->round ? 0 : length;
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = &subjects[states[i]];
        if (subject->counts && subject->now.kind == ENTRY_CLOCK &&
            subject->now.code == CODE_START && subject->now.round == round &&
            subject->now.at_ms <= now->at_ms) {
            elapsed = subject->now.elapsed_ms + now->at_ms - subject->now.at_ms;
        }
    }
    now->off_clock = elapsed >= length;
    now->elapsed_ms = elapsed < 0 ? 0 : elapsed > length ? length : (int32_t)elapsed;
    now->round = (uint8_t)round;
}

/* True where the repair changes the entry. */
static bool repaired(const struct desk *desk, struct entry *now, enum entry_act *act,
                     enum repair repair)
{
    bool strike = now->kind == ENTRY_STRIKE;
    bool spoken = strike || now->kind == ENTRY_INCIDENT;
    *act = ACT_AMEND;
    switch (repair) {
    case REPAIR_CORNER:
        now->strike.corner = (uint8_t)corner_other((enum corner)now->strike.corner);
        if (strike) {
            now->strike.stance = (uint8_t)fold_stance(session_fold(desk), now->strike.corner);
        }
        return spoken;
    case REPAIR_NEXT_ROUND:
    case REPAIR_ROUND_BEFORE: {
        int round = now->round + (repair == REPAIR_NEXT_ROUND ? 1 : -1);
        if (round < 1 || round > ROUND_MAX) {
            return false;
        }
        enter_round(desk, now, round);
        return spoken;
    }
    case REPAIR_SHIFT: {
        int64_t elapsed = now->elapsed_ms + (int64_t)desk->amending.shift * 1000;
        int32_t length = clock_round_length(&fold_clock(session_fold(desk))->plan, now->round);
        now->at_ms += (int64_t)desk->amending.shift * 1000;
        now->elapsed_ms = elapsed < 0 ? 0 : elapsed > length ? length : (int32_t)elapsed;
        return spoken && desk->amending.shift != 0;
    }
    case REPAIR_VOID:
        *act = ACT_VOID;
        return true;
    default:
        now->review = true;
        now->accepted = false;
        return spoken;
    }
}

static void repair_all(struct desk *desk, enum repair repair, int64_t now_ms)
{
    const struct subject *subjects = NULL;
    size_t count = 0, done = 0;
    struct entry_name *names = malloc((desk->order_count + 1) * sizeof *names);
    if (!names) {
        session_notice(desk, now_ms, true, "OUT OF MEMORY: nothing was put right");
        return;
    }
    fold_subjects(session_fold(desk), &subjects);
    for (size_t i = desk->order_count; i-- > 0;) { /* oldest first */
        if (desk_in_range(desk, i)) {
            names[count++] = subjects[desk->order[i]].now.name;
        }
    }
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = fold_subject(session_fold(desk), names[i]);
        enum entry_act act = ACT_AMEND;
        struct entry now = subject->now;
        now.undoes = ENTRY_NONE;
        if (subject->live && repaired(desk, &now, &act, repair)) {
            done += write_change(desk, names[i], now, act, now_ms);
        }
    }
    free(names);
    walk_leave(desk);
    session_notice(desk, now_ms, done < count, "%zu of %zu entries put right; undo takes all back",
                   done, count);
}

static bool shift_key(struct desk *desk, int32_t key, int64_t now_ms)
{
    struct amending *amending = &desk->amending;
    int step = key == KEY_OF_LEFT          ? -1
               : key == KEY_OF_RIGHT       ? 1
               : key == KEY_OF_SHIFT_LEFT  ? -10
               : key == KEY_OF_SHIFT_RIGHT ? 10
                                           : 0;
    if (key == KEY_OF_ENTER) {
        repair_all(desk, REPAIR_SHIFT, now_ms);
        return true;
    }
    if (step == 0) {
        return false;
    }
    amending->shift += step;
    return true;
}

bool repair_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    struct amending *amending = &desk->amending;
    if (!amending->repair) {
        if (meaning.action != ACTION_AMEND || amending->range == RANGE_NONE) {
            return false;
        }
        amending->repair = true;
        amending->shift = INT_MIN;
        session_notice(desk, now_ms, true, "range of %zu: " CHOICES "; Esc: none",
                       range_count(desk));
        return true;
    }
    if (amending->moves) {
        return move_key(desk, key, now_ms);
    }
    if (amending->shift != INT_MIN) {
        return shift_key(desk, key, now_ms);
    }
    int digit = keymap_digit(&desk->keymap, key);
    if (digit == REPAIR_SHIFT) {
        amending->shift = 0;
        session_notice(desk, now_ms, true, "by how much? Left, Right a second, with Shift ten");
        return true;
    }
    if (digit == REPAIR_BOUT) {
        move_enter(desk, now_ms);
        return true;
    }
    if (digit >= REPAIR_CORNER && digit <= REPAIR_FLAG) {
        repair_all(desk, (enum repair)digit, now_ms);
        walk_refresh(desk);
        if (walk_place(desk) < 0) {
            walk_place_cursor(desk, 0);
        }
        return true;
    }
    return false;
}
