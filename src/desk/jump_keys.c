/* jump_keys.c: in the log, to a round, to a time of the round clock, to the next strike of a pad
 * key.
 *
 * The prompt has a key of its own and takes digits and Enter. A pad key is asked for only while the
 * clock stands; while it runs that is a strike, and the look-up key goes on to the next one like
 * the entry under the cursor.
 */
#include <stdio.h>

#include "ringtally/base/when.h"
#include "desk/session.h"

/* What the typed digits say: R, M:SS, or both. */
struct whereto {
    int round;
    int64_t left_ms; /* -1: the whole round */
};

static struct whereto target_of(const struct desk *desk)
{
    const struct jump *jump = &desk->jump;
    const struct subject *subject = walk_subject(desk);
    struct whereto target = {subject ? subject->now.round : 1, -1};
    int number = 0, digits = jump->typed;
    for (int i = 0; i < digits; i++) {
        number = number * 10 + jump->digit[i];
    }
    if (digits <= 2) {
        target.round = number;
        return target;
    }
    if (digits > 3) {
        target.round = number / 1000;
        number %= 1000;
    }
    target.left_ms = (number / 100 * 60 + number % 100) * INT64_C(1000);
    return target;
}

static void target_words(char *out, size_t size, const struct whereto *target)
{
    char left[WHEN_SIZE];
    if (target->left_ms < 0) {
        snprintf(out, size, "round %d", target->round);
    } else {
        snprintf(out, size, "round %d, %s left", target->round, when_clock(left, target->left_ms));
    }
}

/* The newest listed entry of the round at or before that time, else the oldest behind it; -1: the
 * round has none. */
static long place_at(const struct desk *desk, const struct whereto *target)
{
    const struct subject *subjects = NULL;
    int32_t length = clock_round_length(&fold_clock(session_fold(desk))->plan, target->round);
    int64_t elapsed = target->left_ms < 0 ? INT32_MAX : length - target->left_ms;
    long place = -1;
    fold_subjects(session_fold(desk), &subjects);
    for (size_t i = 0; i < desk->order_count; i++) {
        const struct entry *now = &subjects[desk->order[i]].now;
        if (now->round != target->round) {
            continue;
        }
        place = (long)i;
        if (now->elapsed_ms <= elapsed) {
            break;
        }
    }
    return place;
}

static void jump_to(struct desk *desk, int64_t now_ms)
{
    char words[64];
    struct whereto target = target_of(desk);
    target_words(words, sizeof words, &target);
    desk->jump.typed = 0;
    long place = place_at(desk, &target);
    if (place < 0) {
        session_notice(desk, now_ms, true, "round %d has no entry in this list", target.round);
        return;
    }
    desk->mode = DESK_LOG;
    walk_place_cursor(desk, place);
    session_notice(desk, now_ms, false, "%s: entry %ld of %zu", words, place + 1,
                   desk->order_count);
}

static bool is_like(const struct entry *now, const struct strike *strike)
{
    return now->kind == ENTRY_STRIKE && now->strike.corner == strike->corner &&
           now->strike.limb == strike->limb && now->strike.target == strike->target &&
           (strike->outcome != OUTCOME_LANDED || now->strike.outcome == OUTCOME_LANDED);
}

/* Down the list, and from its top again. */
static void jump_like(struct desk *desk, struct strike strike, int64_t now_ms)
{
    char words[128];
    const struct subject *subjects = NULL;
    long count = (long)desk->order_count, from = walk_place(desk);
    strike.technique = 0;
    strike_words(words, sizeof words, &strike);
    fold_subjects(session_fold(desk), &subjects);
    for (long step = 1; step <= count; step++) {
        long place = (from + step) % count;
        if (is_like(&subjects[desk->order[place]].now, &strike)) {
            walk_place_cursor(desk, place);
            session_notice(desk, now_ms, false, "%s %s: entry %ld of %ld%s",
                           corner_names[strike.corner], words, place + 1, count,
                           place == from  ? ", there is no other"
                           : place < from ? ", from the newest again"
                                          : "");
            return;
        }
    }
    session_notice(desk, now_ms, true, "no %s %s in this list", corner_names[strike.corner], words);
}

void jump_enter(struct desk *desk, int64_t now_ms)
{
    char key[16];
    desk->mode = DESK_JUMP;
    desk->amending.open = false;
    desk->jump.typed = 0;
    session_notice(desk, now_ms, false,
                   "jump: 2 Enter is round 2, 130 Enter is 1:30 left, %s the "
                   "next one like this",
                   key_word(key, desk->keymap.action[ACTION_LOOKUP]));
}

bool jump_asks(const struct desk *desk, int64_t now_ms)
{
    return desk->mode == DESK_JUMP &&
           (desk_is_read_only(desk) || desk_clock(desk, now_ms).state != CLOCK_RUNNING);
}

void jump_pad_key(struct desk *desk, struct strike strike, int64_t now_ms)
{
    jump_like(desk, strike, now_ms);
}

/* To the next strike like the one under the cursor. */
static void same_key(struct desk *desk, int64_t now_ms)
{
    const struct subject *subject = walk_subject(desk);
    if (!subject || subject->now.kind != ENTRY_STRIKE) {
        session_notice(desk, now_ms, false, "the entry under the cursor is no strike");
        return;
    }
    struct strike strike = subject->now.strike;
    strike.outcome = OUTCOME_ATTEMPTED;
    jump_like(desk, strike, now_ms);
}

bool jump_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    struct jump *jump = &desk->jump;
    int digit = keymap_digit(&desk->keymap, key);
    walk_stay(desk, now_ms);
    if (digit >= 0 && jump->typed == JUMP_DIGITS) {
        session_notice(desk, now_ms, false, "five digits at most: Backspace takes one back");
    } else if (digit >= 0) {
        jump->digit[jump->typed++] = (uint8_t)digit;
    } else if (key == KEY_OF_BACKSPACE && jump->typed > 0) {
        jump->typed--;
    } else if (key == KEY_OF_ENTER && jump->typed > 0) {
        jump_to(desk, now_ms);
    } else if (meaning.action == ACTION_LOOKUP) {
        same_key(desk, now_ms);
    } else {
        desk->mode = DESK_LOG;
        return key == KEY_OF_ESC || walk_key(desk, key, meaning, now_ms);
    }
    return true;
}

bool desk_jump(const struct desk *desk, char *out, size_t size)
{
    struct whereto target = target_of(desk);
    bool typed = desk->mode == DESK_JUMP && desk->jump.typed > 0;
    out[0] = '\0';
    if (typed) {
        target_words(out, size, &target);
    }
    return typed;
}
