/* keys.c: what each key does. */
#include <stdio.h>
#include <string.h>

#include "desk/session.h"
#include "ringtally/base/text.h"

#define HIT_MS 400

void live(struct desk *desk)
{
    if (walk_is_open(desk)) {
        walk_leave(desk);
    }
    desk->mode = DESK_LIVE;
    desk->mode_until_ms = 0;
}

bool session_allows(struct desk *desk, struct strike strike, int32_t key, int64_t now_ms)
{
    char name[16];
    if (rules_allow(&desk->rules, strike.limb, strike.target)) {
        return true;
    }
    session_notice(desk, now_ms, true, "%s: %s has no %s to the %s", key_word(name, key),
                   desk->rules.title, limb_words[strike.limb], target_names[strike.target]);
    return false;
}

static void strike_key(struct desk *desk, struct strike strike, int32_t key, int64_t now_ms)
{
    if (!session_allows(desk, strike, key, now_ms) || reel_doubles(desk, strike, now_ms)) {
        return;
    }
    count_box_on(desk, now_ms);
    bool hidden = fold_hidden(session_fold(desk), (enum corner)strike.corner);
    if (!write_strike(desk, strike, now_ms)) {
        return;
    }
    if (hidden && !fold_hidden(session_fold(desk), (enum corner)strike.corner)) {
        session_notice(desk, now_ms, false, "%s: the view is free again",
                       corner_names[strike.corner]);
    }
    desk->hit = strike;
    desk->hit_until_ms = now_ms + HIT_MS;
    typo_strike(desk, strike, key, now_ms);
    office_strike(desk, (enum corner)strike.corner, now_ms);
}

const struct subject *newest_strike(const struct desk *desk, enum corner corner, int64_t now_ms)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    int round = desk_clock(desk, now_ms).round;
    while (count-- > 0) {
        const struct subject *subject = &subjects[count];
        bool mine = session_owns(desk, subject->now.name);
        bool inserted = subject->now.value == ENTRY_INSERTED;
        if (subject->now.kind == ENTRY_STRIKE && subject->live && !inserted &&
            subject->now.round == round &&
            (corner == CORNER_NONE
                 ? mine
                 : subject->now.strike.corner == corner && (mine || subject->counts))) {
            return subject;
        }
    }
    return NULL;
}

static void mark_key(struct desk *desk, enum action action, int64_t now_ms)
{
    enum corner corner = mark_corner(action);
    const struct subject *subject = newest_strike(desk, corner, now_ms);
    char words[128];
    if (!subject) {
        session_notice(desk, now_ms, true, "no strike%s%s in this round to mark",
                       corner == CORNER_NONE ? "" : " of ",
                       corner == CORNER_NONE ? "" : corner_names[corner]);
        return;
    }
    struct entry now = subject->now;
    mark_apply(&now.strike, action);
    now.undoes = ENTRY_NONE;
    if (write_change(desk, subject->now.name, now, ACT_REFINE, now_ms)) {
        desk->hit = now.strike;
        desk->hit_until_ms = now_ms + HIT_MS;
        if (action != ACTION_LANDED) {
            strike_words(words, sizeof words, &now.strike);
            subject = fold_subject(session_fold(desk), now.name);
            bool counts = subject && subject->counts;
            session_notice(desk, now_ms, !counts, "%s%s: %s",
                           counts ? "" : "NOT COUNTED: ", corner_names[now.strike.corner], words);
        }
        if (now.strike.technique & TECHNIQUE_KNOCKDOWN) {
            limits_tell(desk, corner_other(now.strike.corner), now_ms);
        }
    }
}

static void stance_key(struct desk *desk, enum corner corner, int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_STANCE, now_ms);
    entry.strike.corner = (uint8_t)corner;
    entry.strike.stance = (uint8_t)stance_switched(session_stance(desk, corner, now_ms));
    if (write_entry(desk, entry, now_ms)) {
        session_notice(desk, now_ms, false, "%s is %s now", corner_names[corner],
                       stance_names[entry.strike.stance]);
    }
}

static void clinch_key(struct desk *desk, int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_POSITION, now_ms);
    entry.strike.position ^= POSITION_CLINCH;
    if (write_entry(desk, entry, now_ms)) {
        session_notice(desk, now_ms, false, "%s",
                       entry.strike.position == POSITION_CLINCH ? "clinch" : "clinch ends");
    }
}

void review_key(struct desk *desk, enum corner corner, int64_t now_ms)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    char words[128];
    while (count-- > 0) {
        const struct subject *subject = &subjects[count];
        bool spoken = subject->now.kind == ENTRY_STRIKE || subject->now.kind == ENTRY_INCIDENT;
        bool asked = corner == CORNER_NONE || subject->now.strike.corner == corner;
        if (spoken && asked && subject->live && session_owns(desk, subject->now.name)) {
            struct entry now = subject->now;
            now.review = !now.review;
            now.undoes = ENTRY_NONE;
            entry_words(words, sizeof words, &now);
            if (write_change(desk, now.name, now, ACT_REFINE, now_ms)) {
                session_notice(desk, now_ms, false, "%s: %s%s",
                               now.review ? "flagged" : "flag gone", entry_corner(&now), words);
            }
            return;
        }
    }
    session_notice(desk, now_ms, false, "no entry to flag");
}

static unsigned leave_key(struct desk *desk, int64_t now_ms)
{
    int needed = desk->unsaved > 0 ? 2 : 1; /* answers */
    switch (session_ask(desk, ACTION_LEAVE, now_ms)) {
    case ASK_WAIT:
        return 0;
    case ASK_YES:
        if (desk->question.asked >= needed) {
            return DESK_WANTS_LEAVE;
        }
        session_ask(desk, ACTION_LEAVE, now_ms);
        session_notice(desk, now_ms, true,
                       "%lld entries are NOT SAVED: the same key again leaves and writes them to "
                       "a rescue file",
                       (long long)desk->unsaved);
        return 0;
    default:
        session_notice(desk, now_ms, true, "leave the desk? the same key again leaves");
        return 0;
    }
}

static void lookup_key(struct desk *desk, int64_t now_ms)
{
    bool shown = desk->has_asked;
    desk->has_asked = false;
    if (desk_clock(desk, now_ms).state != CLOCK_RUNNING) {
        desk->mode = DESK_LOOKUP;
        desk->mode_until_ms = now_ms + DESK_PROMPT_MS;
        return;
    }
    /* A pad key is a strike now, so what is asked for is the cell of the newest one. */
    const struct subject *subject = newest_strike(desk, CORNER_NONE, now_ms);
    if (subject) { /* the same key again closes it */
        const struct strike *newest = &subject->now.strike;
        desk->has_asked = !shown || desk->asked.corner != newest->corner ||
                          desk->asked.limb != newest->limb || desk->asked.target != newest->target;
        desk->asked = *newest;
    } else {
        session_notice(desk, now_ms, false, "no strike in this round to look up");
    }
}

static void page_key(struct desk *desk, int step)
{
    do {
        desk->page = (enum desk_page)(((int)desk->page + PAGE_COUNT + step) % PAGE_COUNT);
    } while (!desk_has_page(desk, desk->page));
}

static unsigned act(struct desk *desk, enum action action, int64_t now_ms)
{
    switch (action) {
    case ACTION_RED_SWITCH:
        stance_key(desk, CORNER_RED, now_ms);
        break;
    case ACTION_BLUE_SWITCH:
        stance_key(desk, CORNER_BLUE, now_ms);
        break;
    case ACTION_CLINCH:
        clinch_key(desk, now_ms);
        break;
    case ACTION_REVIEW:
        review_key(desk, CORNER_NONE, now_ms);
        break;
    case ACTION_UNSURE:
        unsure_key(desk, now_ms);
        break;
    case ACTION_HIDE:
        view_key(desk, now_ms);
        break;
    case ACTION_RED_INCIDENT:
        incident_enter(desk, CORNER_RED, now_ms);
        break;
    case ACTION_BLUE_INCIDENT:
        incident_enter(desk, CORNER_BLUE, now_ms);
        break;
    case ACTION_UNDO:
        write_undo(desk, now_ms);
        break;
    case ACTION_REDO:
        write_redo(desk, now_ms);
        break;
    case ACTION_CLOCK:
        clock_key(desk, now_ms);
        break;
    case ACTION_CLOCK_LESS:
        clock_nudge(desk, -1000, now_ms);
        break;
    case ACTION_CLOCK_MORE:
        clock_nudge(desk, 1000, now_ms);
        break;
    case ACTION_CLOCK_LESS_TEN:
        clock_nudge(desk, -10000, now_ms);
        break;
    case ACTION_CLOCK_MORE_TEN:
        clock_nudge(desk, 10000, now_ms);
        break;
    case ACTION_CLOCK_SET:
        clock_form_enter(desk, now_ms);
        break;
    case ACTION_END:
        end_enter(desk, now_ms);
        break;
    case ACTION_LOG_NEWER:
    case ACTION_LOG_OLDER:
    case ACTION_FILTER:
        walk_enter(desk, now_ms);
        break;
    case ACTION_AMEND:
    case ACTION_RANGE:
        session_notice(desk, now_ms, false, "this key works in the log: Up opens it");
        break;
    case ACTION_TURN:
        typo_turn(desk, now_ms);
        break;
    case ACTION_PAGE:
        page_key(desk, 1);
        break;
    case ACTION_PAGE_BACK:
        page_key(desk, -1);
        break;
    case ACTION_HELP:
        desk->help = !desk->help;
        break;
    case ACTION_SCORECARDS:
        cards_enter(desk, now_ms);
        break;
    case ACTION_LOOKUP:
        lookup_key(desk, now_ms);
        break;
    case ACTION_SYNC:
        sync_enter(desk, now_ms);
        break;
    case ACTION_SETTLE:
        settle_enter(desk, now_ms);
        break;
    case ACTION_TAKEOVER:
        office_enter(desk, now_ms);
        break;
    case ACTION_LOOK:
        reel_look(desk, now_ms);
        break;
    case ACTION_LEAVE:
        return leave_key(desk, now_ms);
    default:
        mark_key(desk, action, now_ms);
        break;
    }
    return 0;
}

/* Strokes that turn out to have been repeats: what they wrote is taken back, and nothing else. */
static void take_back_repeats(struct desk *desk, int back, int64_t now_ms)
{
    for (int i = 0; i < back && i < STROKES; i++) {
        const struct stroke *stroke = &desk->stroke[i];
        if (!stroke->wrote) {
            continue;
        }
        session_stroke(desk);
        if (stroke->action == ACTION_UNDO) {
            write_redo(desk, now_ms);
        } else {
            write_undo(desk, now_ms);
        }
    }
    memset(desk->stroke, 0, sizeof desk->stroke);
}

/* True where the key is a held key's repeat and was dealt with. */
static bool drop_repeat(struct desk *desk, int32_t key, enum key_press press,
                        struct meaning meaning, int64_t now_ms)
{
    char name[16];
    int back = 0;
    if (action_repeats(meaning.action) == REPEATS_PASS) {
        return false;
    }
    if (desk->repeat.key != key || press == PRESS_SURE) {
        memset(desk->stroke, 0, sizeof desk->stroke);
    }
    if (press == PRESS_SURE) { /* whatever the timing */
        repeat_begin(&desk->repeat, key, now_ms);
        return false;
    }
    if (press == PRESS_UNKNOWN && repeat_feed(&desk->repeat, key, now_ms, &back) == REPEAT_TAKE) {
        return false;
    }
    if (back > 0) {
        take_back_repeats(desk, back, now_ms);
    }
    desk->question = (struct question){.action = ACTION_NONE}; /* a held key answers nothing */
    session_notice(desk, now_ms, true, "%s is held down: its repeats are dropped",
                   key_word(name, key));
    return true;
}

unsigned desk_tick(struct desk *desk, int64_t now_ms)
{
    unsigned wants = 0;
    session_stroke(desk);
    if (desk->mode_until_ms > 0 && now_ms >= desk->mode_until_ms) {
        live(desk);
    }
    if (desk->question.answer_ms > 0 && now_ms >= desk->question.answer_ms) {
        size_t before = desk->fresh_count;
        wants = act(desk, desk->question.action, now_ms);
        if (desk->fresh_count != before) {
            walk_update(desk, desk->fresh + before, desk->fresh_count - before);
        }
    }
    if (desk->hand.nudge_ms != 0 && now_ms >= desk->hand.nudge_until_ms) {
        clock_settle(desk, now_ms);
    }
    count_tick(desk, now_ms);
    kicks_tell(desk, now_ms);
    office_watch(desk, now_ms);
    check_look(desk, now_ms);
    return wants;
}

/* A pad key is a strike, whatever is open; but for what a key of its own has announced, and the
 * letter of an incident. True where it was something else. */
static bool pad_key_is_other(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    bool running = desk_clock(desk, now_ms).state == CLOCK_RUNNING;
    if (amend_awaits(desk)) {
        amend_key(desk, key, meaning, now_ms);
        return true;
    }
    if (desk->mode == DESK_INCIDENT || desk->mode == DESK_FOUL) {
        return incident_key(desk, key, now_ms);
    }
    if (desk->mode == DESK_LOOKUP && !running) {
        live(desk);
        desk->asked = meaning.strike;
        desk->has_asked = true;
        return true;
    }
    if (desk->mode == DESK_NOTE && note_key(desk, key, now_ms)) {
        return true;
    }
    if (jump_asks(desk, now_ms)) {
        jump_pad_key(desk, meaning.strike, now_ms);
        return true;
    }
    live(desk);
    return false;
}

/* What is open takes the key first. True where it was its. */
static bool mode_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    switch (desk->mode) {
    case DESK_INCIDENT:
    case DESK_FOUL:
        return incident_key(desk, key, now_ms);
    case DESK_LOOKUP:
        live(desk);
        return meaning.action == ACTION_LOOKUP || key == KEY_OF_ESC;
    case DESK_OFFICES:
    case DESK_RELIEF:
        return office_key(desk, key, meaning, now_ms);
    case DESK_NOTE:
        return note_key(desk, key, now_ms);
    case DESK_SYNC:
        return sync_key(desk, key, meaning, now_ms);
    case DESK_CLOCK:
        return clock_form_key(desk, key, meaning, now_ms);
    case DESK_END:
        return end_key(desk, key, meaning, now_ms);
    case DESK_SETTLE:
        return settle_key(desk, key, meaning, now_ms);
    case DESK_CARDS:
        return cards_key(desk, key, meaning, now_ms);
    case DESK_JUMP:
    case DESK_LOG:
    case DESK_INSERT:
        if (desk->mode == DESK_JUMP ? jump_key(desk, key, meaning, now_ms)
                                    : walk_key(desk, key, meaning, now_ms)) {
            return true;
        }
        if (meaning.action == ACTION_CLOCK) {
            live(desk);
        }
        return false;
    default:
        return false;
    }
}

/* Another key shows that the one that answered was let go: the answer stands. Without one the
 * question is over. */
static unsigned question_stands(struct desk *desk, enum action action, int64_t now_ms)
{
    struct question *question = &desk->question;
    unsigned wants = 0;
    if (action == question->action) {
        return 0;
    }
    if (question->answer_ms > 0) {
        enum action asked = question->action;
        question->answer_ms = 1; /* long ago */
        wants = act(desk, asked, now_ms);
        session_stroke(desk);
    }
    *question = (struct question){.action = ACTION_NONE};
    return wants;
}

unsigned take_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    char name[16];
    unsigned wants = question_stands(desk, meaning.action, now_ms);
    if (burst_key(desk, key, meaning.action, now_ms)) {
        return wants;
    }
    if (reel_takes(desk, key)) {
        reel_key(desk, key, now_ms);
        return wants;
    }
    if (reel_refuses(desk, meaning.action, now_ms)) {
        return wants;
    }
    if (desk_is_read_only(desk) && action_needs(meaning.action) == NEEDS_OPEN &&
        desk->mode != DESK_LOOKUP && !jump_asks(desk, now_ms)) {
        session_notice(desk, now_ms, true, "%s", session_closed(desk));
        return wants;
    }
    if (meaning.action == ACTION_STRIKE) {
        if (!pad_key_is_other(desk, key, meaning, now_ms)) {
            strike_key(desk, meaning.strike, key, now_ms);
        }
        return wants;
    }
    if (mode_key(desk, key, meaning, now_ms)) {
        return wants;
    }
    if (meaning.action == ACTION_CLOCK && count_end(desk, now_ms)) {
        return wants;
    }
    if (meaning.action != ACTION_NONE) {
        return wants | act(desk, meaning.action, now_ms);
    }
    if (key == KEY_OF_ESC) {
        if (!desk->help && !desk->has_asked) {
            session_notice(desk, now_ms, false, "nothing is open");
        }
        desk->help = false;
        desk->has_asked = false;
    } else {
        session_notice(desk, now_ms, false, "%s is a free key", key_word(name, key));
        typo_free(desk, key, now_ms);
    }
    return wants;
}

/* What the stroke did, in case it turns out to have been a repeat. */
static void stroke_note(struct desk *desk, enum action action, bool wrote)
{
    if (action_repeats(action) == REPEATS_DROP) {
        memmove(desk->stroke + 1, desk->stroke, (STROKES - 1) * sizeof *desk->stroke);
        desk->stroke[0] = (struct stroke){.action = action, .wrote = wrote};
    }
}

unsigned desk_key(struct desk *desk, int32_t key, int64_t now_ms, int64_t unsaved)
{
    return desk_press(desk, key, PRESS_UNKNOWN, now_ms, unsaved);
}

unsigned desk_press(struct desk *desk, int32_t key, enum key_press press, int64_t now_ms,
                    int64_t unsaved)
{
    struct meaning meaning = keymap_find(&desk->keymap, key);
    bool passes = reel_takes(desk, key);
    if (passes) {
        meaning = (struct meaning){.action = ACTION_NONE};
        passes = reel_passes_repeats(desk, key);
    }
    desk->unsaved = unsaved;
    unsigned wants = desk_tick(desk, now_ms);
    if (key == KEY_OF_NONE) {
        return wants;
    }
    size_t before = desk->fresh_count;
    if (!clock_is_nudge(meaning.action)) {
        clock_settle(desk, now_ms);
    }
    session_stroke(desk);
    if (passes || !drop_repeat(desk, key, press, meaning, now_ms)) {
        wants |= take_key(desk, key, meaning, now_ms);
        stroke_note(desk, meaning.action, desk->fresh_count != before);
    }
    if (desk->fresh_count != before) {
        walk_update(desk, desk->fresh + before, desk->fresh_count - before);
    }
    return wants | (desk->move.number > 0 ? DESK_WANTS_MOVE : 0);
}

void desk_pasted(struct desk *desk, size_t characters, int64_t now_ms)
{
    alarm_raise(desk, ALARM_UNCOUNTED, now_ms);
    session_notice(desk, now_ms, true, "a pasted block of %zu characters was refused: not logged",
                   characters);
}
