/* late_keys.c: a round that had begun before its clock was started: the start is moved, and with it
 * what was tagged meanwhile. */
#include "ringtally/base/when.h"
#include "desk/session.h"

/* A start that moves: from the one moment to the other, of that round. */
struct move {
    int round;
    int64_t from_ms, to_ms;
    struct entry_name start;
};

/* The entry that began the round on the clock: the first start of it behind any other round's. */
static const struct subject *start_of(const struct fold *fold, int round)
{
    const struct subject *subjects = NULL, *found = NULL;
    const size_t *states = NULL;
    size_t count = fold_states(fold, &states);
    fold_subjects(fold, &subjects);
    while (count-- > 0) {
        const struct subject *subject = &subjects[states[count]];
        if (subject->now.kind != ENTRY_CLOCK || !subject->counts ||
            subject->now.code != CODE_START) {
            continue;
        }
        if (subject->now.round != round) {
            break;
        }
        found = subject;
    }
    return found;
}

/* When the round before that start ended, by what the clock had been told until then; 0: there was
 * none. */
static int64_t end_before(const struct fold *fold, const struct subject *start)
{
    const struct subject *subjects = NULL;
    const size_t *states = NULL;
    size_t count = fold_states(fold, &states);
    struct round_clock clock;
    clock_init(&clock, &fold_clock(fold)->plan);
    fold_subjects(fold, &subjects);
    for (size_t i = 0; i < count && &subjects[states[i]] != start; i++) {
        const struct subject *subject = &subjects[states[i]];
        if (subject->now.kind == ENTRY_CLOCK && subject->counts) {
            clock_apply(&clock, &subject->now);
        }
    }
    struct clock_face face = clock_read(&clock, start->now.at_ms);
    return clock.round == 0                                       ? 0
           : face.state == CLOCK_REST || face.state == CLOCK_OVER ? face.ended_ms
                                                                  : clock.since_ms;
}

/* What `now` says once the start has moved. False: the same as before. */
static bool moved(struct entry *now, const struct move *move, const struct clock_plan *plan)
{
    struct entry was = *now;
    int32_t length = clock_round_length(plan, move->round);
    bool within = now->round == move->round && now->at_ms >= move->from_ms;
    bool before = now->off_clock && now->at_ms < move->from_ms &&
                  (now->round == move->round || now->round == move->round - 1);
    if (now->kind == ENTRY_SCORE || now->kind == ENTRY_RESULT) {
        return false;
    }
    if (now->kind == ENTRY_CLOCK) {
        if (!within || now->code == CODE_NUDGE || now->code == CODE_JUMP ||
            now->elapsed_ms >= length) {
            return false;
        }
        now->elapsed_ms += (int32_t)(move->from_ms - move->to_ms);
    } else if (now->at_ms < move->to_ms) { /* it moves the other way: thrown before it now */
        if (!within) {
            return false;
        }
        now->round = (uint8_t)(move->round > 1 ? move->round - 1 : 1);
        now->elapsed_ms = move->round > 1 ? clock_round_length(plan, now->round) : 0;
        now->off_clock = true;
    } else if (within) {
        now->elapsed_ms += (int32_t)(move->from_ms - move->to_ms);
    } else if (before) {
        now->round = (uint8_t)move->round;
        now->elapsed_ms = (int32_t)(now->at_ms - move->to_ms);
        now->off_clock = false;
    } else {
        return false;
    }
    if (now->elapsed_ms > length) {
        now->off_clock = now->kind != ENTRY_CLOCK;
        now->elapsed_ms = length;
    }
    now->elapsed_ms = now->elapsed_ms < 0 ? 0 : now->elapsed_ms;
    return now->elapsed_ms != was.elapsed_ms || now->round != was.round ||
           now->off_clock != was.off_clock;
}

/* Moves what this desk may move; returns how many strikes and the like, -1 where memory ran out.
 * *others = those that are another desk's to move. */
static int move_entries(struct desk *desk, const struct move *move, bool clock, int *others,
                        int64_t now_ms)
{
    const struct fold *fold = session_fold(desk);
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(fold, &subjects);
    struct clock_plan plan = fold_clock(fold)->plan;
    int done = 0;
    *others = 0;
    for (size_t i = 0; i < count; i++) {
        fold_subjects(fold, &subjects); /* a correction may have moved them */
        struct entry now = subjects[i].now;
        bool is_clock = now.kind == ENTRY_CLOCK;
        if (!subjects[i].live || (is_clock && !clock) || entry_same(now.name, move->start) ||
            !moved(&now, move, &plan)) {
            continue;
        }
        if (!session_owns(desk, now.name)) { /* its own desk moves it, once it hears of this */
            *others += !is_clock && subjects[i].counts;
            continue;
        }
        now.undoes = ENTRY_NONE;
        if (!write_change(desk, now.name, now, ACT_AMEND, now_ms)) {
            return -1;
        }
        done += !is_clock;
    }
    return done;
}

static void tell(struct desk *desk, const struct move *move, int done, int others, int64_t now_ms)
{
    char left[WHEN_SIZE];
    struct clock_face face = desk_clock(desk, now_ms);
    session_notice(desk, now_ms, false, "round %d began %lld s earlier: %s left, %d %s moved%s",
                   move->round, (long long)((move->from_ms - move->to_ms) / 1000),
                   when_clock(left, face.state == CLOCK_REST ? 0 : face.remaining_ms + 999), done,
                   done == 1 ? "entry" : "entries",
                   others ? ", the other desk's follow by themselves" : "");
}

/* The round has begun, and nobody said so yet. */
static void begin_late(struct desk *desk, int round, int64_t late_ms, int64_t now_ms)
{
    int others = 0;
    struct move move = {.round = round, .from_ms = now_ms, .to_ms = now_ms - late_ms};
    if (!clock_begin(desk, round, move.to_ms, now_ms)) {
        return;
    }
    move.start = (struct entry_name){desk->self, desk->next_seq - 1};
    int done = move_entries(desk, &move, false, &others, now_ms);
    if (done >= 0) {
        tell(desk, &move, done, others, now_ms);
    }
}

void late_set(struct desk *desk, int64_t late_ms, int64_t now_ms)
{
    char most[WHEN_SIZE];
    const struct fold *fold = session_fold(desk);
    struct clock_face face = desk_clock(desk, now_ms);
    bool begun = face.state == CLOCK_RUNNING || face.state == CLOCK_STOPPED;
    int round = face.state == CLOCK_REST ? face.round + 1 : face.round;
    const struct subject *start = begun ? start_of(fold, round) : NULL;
    int64_t ended_ms = start                      ? end_before(fold, start)
                       : face.state == CLOCK_REST ? face.ended_ms
                                                  : 0;
    int64_t from_ms = start ? start->now.at_ms : now_ms;
    if (begun && !start) {
        session_notice(desk, now_ms, true, "no start of round %d is in the log", round);
        return;
    }
    if (ended_ms > 0 && from_ms - late_ms < ended_ms) {
        session_notice(desk, now_ms, true, "the round before it ended only %s earlier",
                       when_clock(most, from_ms - ended_ms));
        return;
    }
    if (!begun) {
        begin_late(desk, round, late_ms, now_ms);
        return;
    }
    int others = 0;
    struct entry now = start->now;
    struct move move = {round, from_ms, from_ms - late_ms, now.name};
    now.at_ms = move.to_ms;
    now.undoes = ENTRY_NONE;
    if (!write_change(desk, now.name, now, ACT_AMEND, now_ms)) {
        return;
    }
    int done = move_entries(desk, &move, true, &others, now_ms);
    if (done >= 0) {
        tell(desk, &move, done, others, now_ms);
    }
}

void late_hear(struct desk *desk, const struct entry *entry, int64_t now_ms)
{
    const struct fold *fold = session_fold(desk);
    if (entry->kind != ENTRY_CLOCK || entry->code != CODE_START ||
        fold_effect(fold, entry->name) != EFFECT_TAKEN || desk_is_read_only(desk) || desk->watch ||
        desk->reel.on) {
        return;
    }
    const struct entry *before = fold_before(fold, entry->name);
    struct move move = {.round = entry->round,
                        .from_ms = before ? before->at_ms : entry->utc_ms,
                        .to_ms = entry->at_ms,
                        .start = entry->subject};
    int others = 0;
    if (entry->act == ACT_VOID || (before && before->act == ACT_VOID) ||
        move.from_ms == move.to_ms) {
        return;
    }
    session_stroke(desk);
    int done = move_entries(desk, &move, false, &others, now_ms);
    session_stroke(desk);
    if (done > 0) {
        session_notice(desk, now_ms, false,
                       "the start of round %d was moved by %lld s: of this desk %d %s along",
                       move.round, (long long)((move.from_ms - move.to_ms) / 1000), done,
                       done == 1 ? "entry comes" : "entries come");
    }
}
