/* move_keys.c: a range of the log for another bout: asked for here, done by the caller once the
 * desk is left.
 *
 * A desk knows one bout, and so does the log that Backspace is made of. So it is no keystroke among
 * others: it ends the session, and its undo is the move back.
 */
#include <stdio.h>

#include "desk/session.h"

#define NUMBER_MAX 999

void move_enter(struct desk *desk, int64_t now_ms)
{
    struct amending *amending = &desk->amending;
    bool plain =
        desk->filter == FILTER_ALL || desk->filter == FILTER_RED || desk->filter == FILTER_BLUE;
    if (desk->own || !plain) {
        session_notice(desk, now_ms, true, "%s",
                       desk->own ? "what a shadow counts apart is no other bout's"
                                 : "to another bout goes all, a corner, a round, or from here to "
                                   "there: no other filter");
        return;
    }
    amending->moves = true;
    amending->bout = 0;
    session_notice(desk, now_ms, true,
                   "to which bout? its number, then Enter: this desk closes and it is moved; what "
                   "brings it back is told");
}

/* From the oldest to the newest of the range. */
static void bound(const struct desk *desk, struct desk_move *move)
{
    const struct subject *subjects = NULL;
    fold_subjects(session_fold(desk), &subjects);
    for (size_t i = 0; i < desk->order_count; i++) {
        int64_t at_ms = subjects[desk->order[i]].now.at_ms;
        if (desk_in_range(desk, i)) {
            move->since_ms = move->since_ms < 0 || at_ms < move->since_ms ? at_ms : move->since_ms;
            move->until_ms = at_ms >= move->until_ms ? at_ms + 1 : move->until_ms;
        }
    }
}

static void ask_for(struct desk *desk)
{
    const struct subject *subject = walk_subject(desk);
    struct desk_move move = {
        .number = desk->amending.bout,
        .corner = desk->filter == FILTER_RED    ? CORNER_RED
                  : desk->filter == FILTER_BLUE ? CORNER_BLUE
                                                : CORNER_NONE,
        .since_ms = -1,
        .until_ms = -1,
    };
    if (desk->amending.range == RANGE_ROUND && subject) {
        move.round = subject->now.round;
    } else if (desk->amending.range == RANGE_HERE) {
        bound(desk, &move);
    }
    desk->move = move;
}

bool move_key(struct desk *desk, int32_t key, int64_t now_ms)
{
    struct amending *amending = &desk->amending;
    int digit = keymap_digit(&desk->keymap, key);
    if (digit >= 0 && amending->bout * 10 + digit <= NUMBER_MAX) {
        amending->bout = amending->bout * 10 + digit;
    } else if (digit >= 0) {
        session_notice(desk, now_ms, false, "a bout's number has three digits at most");
    } else if (key == KEY_OF_BACKSPACE && amending->bout > 0) {
        amending->bout /= 10;
    } else if (key == KEY_OF_ENTER && amending->bout == desk->bout.number) {
        session_notice(desk, now_ms, true, "this is bout %d", desk->bout.number);
    } else if (key == KEY_OF_ENTER && amending->bout > 0) {
        ask_for(desk);
    } else {
        return false;
    }
    return true;
}

bool desk_move(const struct desk *desk, struct desk_move *out)
{
    *out = desk->move;
    return desk->move.number > 0;
}

void desk_move_refused(struct desk *desk, const char *why, int64_t now_ms)
{
    desk->move.number = 0;
    session_notice(desk, now_ms, true, "not moved: %s", why);
}
