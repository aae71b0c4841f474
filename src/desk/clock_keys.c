/* clock_keys.c: Enter and the arrows: the referee's clock as the desk follows it. */
#include <stdio.h>

#include "ringtally/base/when.h"
#include "desk/session.h"

#define BELL_MS     10000 /* after a round's end an Enter is still the bell's */
#define STOP_MS     5000  /* so near to the end nobody stops the clock but the bell */
#define SETTLE_MS   1000  /* arrows pressed within this of each other are one setting */
#define REST_SHARE  3     /* of a short rest the bell's Enter has but a third */
#define WAITED_MANY 3     /* a stop near the end that lasted two thirds of a rest was the bell */

static int32_t bell_ms_of(const struct clock_plan *plan)
{
    int32_t share = plan->rest_ms / REST_SHARE;
    return share < BELL_MS ? share : BELL_MS;
}

/* The live result that ended the bout, or NULL. */
const struct subject *clock_ended(const struct desk *desk)
{
    const struct fold *fold = session_fold(desk);
    const struct subject *subjects = NULL;
    const size_t *states = NULL;
    size_t count = fold_states(fold, &states);
    fold_subjects(fold, &subjects);
    while (fold_clock(fold)->ended && count-- > 0) {
        const struct subject *subject = &subjects[states[count]];
        if (subject->now.kind == ENTRY_RESULT && subject->live) {
            return subject;
        }
    }
    return NULL;
}

/* Asks for a second press. What it begins began when the first one came. */
static bool asks(struct desk *desk, int64_t now_ms, enum ask *ask)
{
    *ask = session_ask(desk, ACTION_CLOCK, now_ms);
    if (*ask == ASK_FIRST) {
        desk->hand.asked_ms = now_ms;
    }
    return *ask == ASK_YES;
}

bool clock_is_here(struct desk *desk, int64_t now_ms)
{
    const struct desk_row *rows = NULL;
    struct fold *fold = session_fold(desk);
    int holder = fold_official(fold, CODE_CLOCK);
    if (holder == desk->root) {
        return true;
    }
    fold_desks(fold, &rows);
    if (desk->own) {
        session_notice(desk, now_ms, true,
                       "this desk follows the clock of %s: Enter twice gives it one of its own",
                       rows[holder].name);
    } else {
        session_notice(desk, now_ms, true, "the clock is with desk %s",
                       holder >= 0 ? rows[holder].name : "none: F5 twice takes it");
    }
    return false;
}

bool clock_write(struct desk *desk, struct entry entry, int64_t now_ms)
{
    struct entry whole = write_blank(desk, ENTRY_CLOCK, now_ms);
    whole.code = entry.code;
    whole.round = entry.round;
    whole.elapsed_ms = entry.elapsed_ms;
    whole.at_ms = entry.at_ms;
    whole.value = entry.value;
    whole.off_clock = false;
    return write_entry(desk, whole, now_ms);
}

bool clock_begin(struct desk *desk, int round, int64_t at_ms, int64_t now_ms)
{
    return clock_write(
        desk, (struct entry){.code = CODE_START, .round = (uint8_t)round, .at_ms = at_ms}, now_ms);
}

static void begin_round(struct desk *desk, int round, int64_t at_ms, int64_t now_ms)
{
    if (clock_begin(desk, round, at_ms, now_ms)) {
        session_notice(desk, now_ms, false, "round %d begins", round);
    }
}

static void stop_key(struct desk *desk, const struct clock_face *face, int64_t now_ms)
{
    char left[WHEN_SIZE];
    struct entry stop = {
        .code = CODE_STOP, .round = (uint8_t)face->round, .elapsed_ms = face->elapsed_ms};
    when_clock(left, face->remaining_ms + 999);
    if (face->remaining_ms > STOP_MS) {
        if (clock_write(desk, stop, now_ms)) {
            session_notice(desk, now_ms, false, "the clock stands at %s left", left);
        }
        return;
    }
    stop.elapsed_ms += face->remaining_ms;
    if (clock_write(desk, stop, now_ms)) {
        session_notice(desk, now_ms, false, "the bell: round %d is over (%s were left)",
                       face->round, left);
    }
}

/* Near the end of a round a stop that lasted most of a rest was the bell: said, and one key takes
 * it back. */
static bool was_bell(const struct desk *desk, const struct clock_face *face, int64_t now_ms)
{
    const struct round_clock *clock = fold_clock(session_fold(desk));
    int64_t rest_ms = clock->plan.rest_ms;
    return face->remaining_ms <= BELL_MS && face->round < clock->plan.rounds && rest_ms > 0 &&
           (now_ms - clock->since_ms) * WAITED_MANY >= rest_ms * (WAITED_MANY - 1) &&
           desk->hand.guessed_ms != clock->since_ms;
}

static void stopped_key(struct desk *desk, const struct clock_face *face, int64_t now_ms)
{
    char left[WHEN_SIZE];
    when_clock(left, face->remaining_ms + 999);
    if (was_bell(desk, face, now_ms)) {
        desk->hand.guessed_ms = fold_clock(session_fold(desk))->since_ms;
        if (clock_begin(desk, face->round + 1, 0, now_ms)) {
            session_notice(desk, now_ms, true,
                           "round %d begins, the stop at %s left was the bell? Backspace, then "
                           "Enter: round %d goes on",
                           face->round + 1, left, face->round);
        }
        return;
    }
    if (clock_write(desk,
                    (struct entry){.code = CODE_START,
                                   .round = (uint8_t)face->round,
                                   .elapsed_ms = face->elapsed_ms},
                    now_ms)) {
        session_notice(desk, now_ms, false, "the clock runs, %s left", left);
    }
}

static void rest_key(struct desk *desk, const struct clock_face *face, int64_t now_ms)
{
    char left[WHEN_SIZE];
    const struct clock_plan *plan = &fold_clock(session_fold(desk))->plan;
    int32_t bell_ms = bell_ms_of(plan);
    enum ask ask = ASK_WAIT;
    if (face->remaining_ms <= bell_ms) {
        begin_round(desk, face->round + 1, 0, now_ms);
    } else if (now_ms - face->ended_ms < bell_ms) {
        session_notice(desk, now_ms, false, "the bell: round %d is over already", face->round);
    } else if (asks(desk, now_ms, &ask)) {
        begin_round(desk, face->round + 1, desk->hand.asked_ms, now_ms);
    } else if (ask == ASK_FIRST) {
        session_notice(desk, now_ms, true,
                       "%s of the rest are left: the same key again begins round %d",
                       when_clock(left, face->remaining_ms + 999), face->round + 1);
    }
}

static void over_key(struct desk *desk, const struct clock_face *face, int64_t now_ms)
{
    const struct clock_plan *plan = &fold_clock(session_fold(desk))->plan;
    enum ask ask = ASK_WAIT;
    bool last = face->round >= plan->rounds + plan->extension_rounds || face->round >= ROUND_MAX;
    if (now_ms - face->ended_ms < BELL_MS) {
        session_notice(desk, now_ms, false, "the bell: the last round is over already");
    } else if (last) {
        session_notice(desk, now_ms, true, "all rounds are over: F4 enters how the bout ended");
    } else if (asks(desk, now_ms, &ask)) {
        begin_round(desk, face->round + 1, desk->hand.asked_ms, now_ms);
    } else if (ask == ASK_FIRST) {
        session_notice(desk, now_ms, true,
                       "all rounds are over: the same key again begins an extension round");
    }
}

/* From here on by the shadow's own hand: the clock goes on as it stands, or begins where it would.
 */
static void own_clock(struct desk *desk, const struct clock_face *face, int64_t now_ms)
{
    bool stands = face->state == CLOCK_STOPPED;
    bool within = face->state == CLOCK_RUNNING || stands;
    struct entry entry = {
        .code = stands ? CODE_STOP : CODE_START,
        .round = (uint8_t)(within || face->state == CLOCK_READY ? face->round : face->round + 1),
        .elapsed_ms = within ? face->elapsed_ms : 0,
        .at_ms = within ? 0 : desk->hand.asked_ms};
    if (clock_write(desk, entry, now_ms)) {
        session_notice(desk, now_ms, true, "this desk has a clock of its own now: round %d%s",
                       entry.round, stands ? ", it stands" : ", it runs");
    }
}

/* A shadow that follows the official clock may take it into its own hand. */
static void shadow_key(struct desk *desk, int holder, const struct clock_face *face, int64_t now_ms)
{
    const struct desk_row *rows = NULL;
    enum ask ask = ASK_WAIT;
    fold_desks(desk->fold, &rows);
    if (asks(desk, now_ms, &ask)) {
        own_clock(desk, face, now_ms);
    } else if (ask == ASK_FIRST) {
        session_notice(desk, now_ms, true,
                       "this desk follows the clock of %s: the same key again gives it one of its "
                       "own",
                       rows[holder].name);
    }
}

void clock_key(struct desk *desk, int64_t now_ms)
{
    char words[160];
    if (desk->reel.on) {
        reel_bell(desk, now_ms);
        return;
    }
    struct clock_face face = desk_clock(desk, now_ms);
    int holder = fold_official(session_fold(desk), CODE_CLOCK);
    if (clock_ended(desk)) {
        desk_ended(desk, words, sizeof words);
        session_notice(desk, now_ms, true, "the bout is over, %s: F4 reopens it", words);
        return;
    }
    if (desk->own && holder != desk->root) {
        shadow_key(desk, holder, &face, now_ms);
        return;
    }
    if (!clock_is_here(desk, now_ms)) {
        return;
    }
    switch (face.state) {
    case CLOCK_READY:
        begin_round(desk, 1, 0, now_ms);
        break;
    case CLOCK_RUNNING:
        stop_key(desk, &face, now_ms);
        break;
    case CLOCK_STOPPED:
        stopped_key(desk, &face, now_ms);
        break;
    case CLOCK_REST:
        rest_key(desk, &face, now_ms);
        break;
    default:
        over_key(desk, &face, now_ms);
        break;
    }
}

void clock_pause(struct desk *desk, int64_t now_ms)
{
    char left[WHEN_SIZE];
    struct clock_face face = desk_clock(desk, now_ms);
    size_t said = 0;
    while (said < sizeof desk->notice && desk->notice[said]) {
        said++;
    }
    if (face.state != CLOCK_RUNNING) {
        return;
    }
    if (fold_official(session_fold(desk), CODE_CLOCK) != desk->root) {
        snprintf(desk->notice + said, sizeof desk->notice - said,
                 "; the clock is another desk's and runs on");
        return;
    }
    if (clock_write(desk,
                    (struct entry){.code = CODE_STOP,
                                   .round = (uint8_t)face.round,
                                   .elapsed_ms = face.elapsed_ms},
                    now_ms)) {
        snprintf(desk->notice + said, sizeof desk->notice - said, "; the clock stands at %s left",
                 when_clock(left, face.remaining_ms + 999));
    }
}

/* --- the arrows --- */

/* Says where the clock is now, in the words of the state that it is in. */
static void tell_nudged(struct desk *desk, int32_t by_ms, int64_t now_ms)
{
    char left[WHEN_SIZE];
    struct clock_face face = desk_clock(desk, now_ms);
    int seconds = (by_ms < 0 ? -by_ms : by_ms) / 1000;
    const char *how = by_ms < 0 ? "back" : "on";
    when_clock(left, face.remaining_ms + 999);
    if (face.state == CLOCK_REST) {
        session_notice(desk, now_ms, false, "the rest: %d s %s, %s of it left", seconds, how, left);
    } else if (face.state == CLOCK_OVER) {
        session_notice(desk, now_ms, false, "the clock: %d s %s, round %d is over", seconds, how,
                       face.round);
    } else {
        session_notice(desk, now_ms, false, "round %d: %d s %s, %s left", face.round, seconds, how,
                       left);
    }
}

bool clock_is_nudge(enum action action)
{
    return action == ACTION_CLOCK_LESS || action == ACTION_CLOCK_MORE ||
           action == ACTION_CLOCK_LESS_TEN || action == ACTION_CLOCK_MORE_TEN;
}

void clock_nudge(struct desk *desk, int32_t by_ms, int64_t now_ms)
{
    const struct clock_plan *plan = &fold_clock(session_fold(desk))->plan;
    struct round_clock clock = session_clock(desk, now_ms);
    struct clock_face face = clock_read(&clock, now_ms);
    if (desk->reel.on) {
        reel_nudge(desk, by_ms, now_ms);
        return;
    }
    if (clock_ended(desk)) {
        session_notice(desk, now_ms, true, "the bout is over: its clock stands for good");
        return;
    }
    if (!clock_is_here(desk, now_ms)) {
        return;
    }
    if (face.state == CLOCK_READY) {
        session_notice(desk, now_ms, false, "no round has begun: F9 says that one has");
        return;
    }
    int64_t passed = clock_passed(&clock, now_ms);
    int64_t most =
        clock_round_length(plan, face.round) + (face.state == CLOCK_REST ? plan->rest_ms : 0);
    int64_t to = passed + by_ms;
    to = to < 0 ? 0 : to > most && passed <= most ? most : to;
    if (to == passed || (by_ms > 0 && passed > most)) {
        session_notice(desk, now_ms, false, "the clock cannot go further %s",
                       by_ms < 0 ? "back" : "on");
        return;
    }
    desk->hand.nudge_ms += (int32_t)(to - passed);
    desk->hand.nudge_until_ms = now_ms + SETTLE_MS;
    tell_nudged(desk, desk->hand.nudge_ms, now_ms);
}

struct round_clock session_clock(const struct desk *desk, int64_t now_ms)
{
    struct round_clock clock = *fold_clock(session_fold(desk));
    if (desk->reel.on) {
        return fold_clock_at(session_fold(desk), session_moment(desk, now_ms));
    }
    if (now_ms < desk->hand.unheard_until_ms) {
        clock.since_ms += desk->hand.unheard_ms;
    }
    if (desk->hand.nudge_ms != 0) {
        struct entry nudge = {
            .kind = ENTRY_CLOCK, .code = CODE_NUDGE, .at_ms = now_ms, .value = desk->hand.nudge_ms};
        clock_apply(&clock, &nudge);
    }
    return clock;
}

int desk_pending(const struct desk *desk)
{
    return desk->hand.nudge_ms != 0;
}

void desk_finish(struct desk *desk, int64_t now_ms)
{
    clock_settle(desk, now_ms);
    if (desk->mode == DESK_NOTE) {
        note_finish(desk, now_ms);
    }
    reel_finish(desk, now_ms);
}

void clock_settle(struct desk *desk, int64_t now_ms)
{
    int32_t by_ms = desk->hand.nudge_ms;
    if (by_ms == 0) {
        return;
    }
    desk->hand.nudge_ms = 0;
    struct clock_face face = desk_clock(desk, now_ms);
    session_stroke(desk); /* a keystroke of its own, to be taken back by one */
    clock_write(desk,
                (struct entry){.code = CODE_NUDGE,
                               .round = (uint8_t)face.round,
                               .elapsed_ms = face.elapsed_ms,
                               .value = by_ms},
                now_ms);
    session_stroke(desk);
}
