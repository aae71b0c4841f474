/* clock_keys.c: Enter and the arrows: the referee's clock as the desk follows it. */
#include "ringtally/base/when.h"
#include "desk/session.h"

static bool holds_clock(struct desk *desk, int64_t now_ms)
{
    const struct desk_row *rows = NULL;
    struct fold *fold = session_fold(desk);
    int holder = fold_official(fold, CODE_CLOCK);
    if (holder == desk->root) {
        return true;
    }
    fold_desks(fold, &rows);
    session_notice(desk, now_ms, true, "the clock is with desk %s",
                   holder >= 0 ? rows[holder].name : "none: F5 twice takes it");
    return false;
}

static void write_clock(struct desk *desk, enum entry_code code, int round, int32_t elapsed_ms,
                        int64_t value, int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_CLOCK, now_ms);
    entry.code = (uint8_t)code;
    entry.round = (uint8_t)round;
    entry.elapsed_ms = elapsed_ms;
    entry.off_clock = false;
    entry.value = value;
    write_entry(desk, entry, now_ms);
}

static void begin_round(struct desk *desk, int round, int64_t now_ms)
{
    write_clock(desk, CODE_START, round, 0, 0, now_ms);
    session_notice(desk, now_ms, false, "round %d begins", round);
}

void clock_key(struct desk *desk, int64_t now_ms)
{
    char left[WHEN_SIZE];
    if (!holds_clock(desk, now_ms)) {
        return;
    }
    struct clock_face face = desk_clock(desk, now_ms);
    const struct clock_plan *plan = &fold_clock(session_fold(desk))->plan;
    switch (face.state) {
    case CLOCK_READY:
        begin_round(desk, 1, now_ms);
        break;
    case CLOCK_RUNNING:
        write_clock(desk, CODE_STOP, face.round, face.elapsed_ms, 0, now_ms);
        session_notice(desk, now_ms, false, "the clock stands at %s left",
                       when_clock(left, face.remaining_ms + 999));
        break;
    case CLOCK_STOPPED:
        write_clock(desk, CODE_START, face.round, face.elapsed_ms, 0, now_ms);
        session_notice(desk, now_ms, false, "the clock runs");
        break;
    case CLOCK_REST:
        begin_round(desk, face.round + 1, now_ms);
        break;
    default:
        if (face.round >= plan->rounds + plan->extension_rounds || face.round >= ROUND_MAX) {
            session_notice(desk, now_ms, true, "all rounds are over");
        } else {
            enum ask ask = session_ask(desk, ACTION_CLOCK, now_ms);
            if (ask == ASK_YES) {
                begin_round(desk, face.round + 1, now_ms);
            } else if (ask == ASK_FIRST) {
                session_notice(desk, now_ms, true,
                               "all rounds are over: the same key again begins an extension round");
            }
        }
        break;
    }
}

void clock_nudge(struct desk *desk, int32_t by_ms, int64_t now_ms)
{
    char left[WHEN_SIZE];
    if (!holds_clock(desk, now_ms)) {
        return;
    }
    struct clock_face face = desk_clock(desk, now_ms);
    if (face.state == CLOCK_READY) {
        session_notice(desk, now_ms, false, "no round has begun");
        return;
    }
    bool between = face.state == CLOCK_REST || face.state == CLOCK_OVER;
    if ((by_ms > 0 && between) || (by_ms < 0 && face.elapsed_ms == 0)) {
        session_notice(desk, now_ms, false, "the round clock cannot go further");
        return;
    }
    write_clock(desk, CODE_NUDGE, face.round, face.elapsed_ms, by_ms, now_ms);
    face = desk_clock(desk, now_ms);
    session_notice(desk, now_ms, false, "one second %s: %s left in round %d",
                   by_ms > 0 ? "more" : "less", when_clock(left, face.remaining_ms + 999),
                   face.round);
}
