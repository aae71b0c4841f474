/* keys.c: what each key does. */
#include <stdio.h>
#include <string.h>

#include "desk/session.h"

#define HIT_MS    400
#define PROMPT_MS 8000
#define ARMED_MS  5000

/* The letters of the incident prompt. */
static const struct {
    char letter;
    enum entry_code code;
} incidents[] = {
    {'w', CODE_WARNING}, {'d', CODE_DEDUCTION}, {'c', CODE_COUNT},      {'k', CODE_KNOCKED_DOWN},
    {'t', CODE_THROW},   {'i', CODE_INJURY},    {'a', CODE_ADMONITION},
};

static void live(struct desk *desk)
{
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
    if (!session_allows(desk, strike, key, now_ms) || !write_strike(desk, strike, now_ms)) {
        return;
    }
    desk->hit = strike;
    desk->hit_until_ms = now_ms + HIT_MS;
    if (!(desk_self(desk)->corners >> strike.corner & 1)) {
        session_notice(desk, now_ms, true,
                       "%s is not this desk's corner: logged, but not in the official count",
                       corner_names[strike.corner]);
    } else if (desk_clock(desk, now_ms).state != CLOCK_RUNNING) {
        session_notice(desk, now_ms, false, "off the clock: logged in round %d",
                       desk_clock(desk, now_ms).round);
    }
}

/* The newest live strike of the current round: of this desk (CORNER_NONE), or of a corner. */
static const struct subject *newest_strike(const struct desk *desk, enum corner corner,
                                           int64_t now_ms)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    int round = desk_clock(desk, now_ms).round;
    while (count-- > 0) {
        const struct subject *subject = &subjects[count];
        bool mine = session_owns(desk, subject->now.name);
        bool inserted = subject->now.at_ms != subject->now.utc_ms;
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
    if (write_change(desk, subject, now, ACT_REFINE, now_ms)) {
        desk->hit = now.strike;
        desk->hit_until_ms = now_ms + HIT_MS;
        if (action != ACTION_LANDED) {
            strike_words(words, sizeof words, &now.strike);
            session_notice(desk, now_ms, false, "%s: %s", corner_names[now.strike.corner], words);
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
    entry.strike.stance = (uint8_t)stance_switched(fold_stance(session_fold(desk), corner));
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

static void review_key(struct desk *desk, int64_t now_ms)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    char words[128];
    while (count-- > 0) {
        const struct subject *subject = &subjects[count];
        if (subject->live && session_owns(desk, subject->now.name)) {
            struct entry now = subject->now;
            now.review = !now.review;
            now.undoes = ENTRY_NONE;
            entry_words(words, sizeof words, &now);
            session_notice(desk, now_ms, false, "%s: %s", now.review ? "flagged" : "flag gone",
                           words);
            write_change(desk, subject, now, ACT_REFINE, now_ms);
            return;
        }
    }
    session_notice(desk, now_ms, false, "no entry to flag");
}

static void write_incident(struct desk *desk, enum entry_code code, const char *text,
                           int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_INCIDENT, now_ms);
    char words[160];
    entry.code = (uint8_t)code;
    entry.strike.corner = (uint8_t)desk->prompt;
    entry.value = code == CODE_DEDUCTION ? 1 : 0;
    snprintf(entry.text, sizeof entry.text, "%s", text);
    entry_words(words, sizeof words, &entry);
    live(desk);
    if (!write_entry(desk, entry, now_ms)) {
        return;
    }
    enum corner corner = desk->prompt;
    session_notice(desk, now_ms, false, "%s: %s", corner_names[corner], words);
    if (code == CODE_COUNT || code == CODE_KNOCKED_DOWN) {
        struct entry_name name = {desk->self, desk->next_seq - 1};
        count_begin(desk, name, corner, now_ms);
    }
    limits_tell(desk, corner, now_ms);
}

/* True where the key answered the prompt; any other key falls back to live and is taken as it is
 * there. */
static bool prompt_key(struct desk *desk, int32_t key, int64_t now_ms)
{
    if (key == KEY_OF_ESC) {
        live(desk);
        return true;
    }
    if (desk->mode == DESK_FOUL) {
        if (key >= '1' && key < '1' + desk->rules.fouls) {
            write_incident(desk, CODE_FOUL, desk->rules.foul[key - '1'].words, now_ms);
            return true;
        }
        live(desk);
        return false;
    }
    for (size_t i = 0; i < sizeof incidents / sizeof incidents[0]; i++) {
        if (key == incidents[i].letter) {
            write_incident(desk, incidents[i].code, "", now_ms);
            return true;
        }
    }
    if (key == 'f') {
        if (desk->rules.fouls == 0) {
            write_incident(desk, CODE_FOUL, "", now_ms);
        } else {
            desk->mode = DESK_FOUL;
            desk->mode_until_ms = now_ms + PROMPT_MS;
        }
        return true;
    }
    live(desk);
    return false;
}

static void incident_key(struct desk *desk, enum corner corner, int64_t now_ms)
{
    desk->mode = DESK_INCIDENT;
    desk->mode_until_ms = now_ms + PROMPT_MS;
    desk->prompt = corner;
}

static void takeover_key(struct desk *desk, int64_t now_ms)
{
    uint8_t wanted = (uint8_t)(desk_self(desk)->corners | 4);
    if (desk->armed != ACTION_TAKEOVER || now_ms >= desk->armed_until_ms) {
        desk->armed = ACTION_TAKEOVER;
        desk->armed_until_ms = now_ms + ARMED_MS;
        session_notice(desk, now_ms, true,
                       "the same key again makes this desk official for %s%s%s and the clock",
                       wanted & 1 ? "red" : "", (wanted & 3) == 3 ? ", " : "",
                       wanted & 2 ? "blue" : "");
        return;
    }
    desk->armed = ACTION_NONE;
    if (!write_claims(desk, wanted, now_ms)) {
        return; /* it said so */
    }
    fold_free(desk->own);
    desk->own = NULL;
    session_notice(desk, now_ms, true, "this desk is official now");
}

static unsigned leave_key(struct desk *desk, int64_t now_ms, int64_t unsaved)
{
    bool asked = desk->armed == ACTION_LEAVE && now_ms < desk->armed_until_ms;
    desk->leave_asked = asked ? desk->leave_asked + 1 : 1;
    if (desk->leave_asked >= (unsaved > 0 ? 3 : 2)) {
        return DESK_WANTS_LEAVE;
    }
    desk->armed = ACTION_LEAVE;
    desk->armed_until_ms = now_ms + ARMED_MS;
    if (desk->leave_asked == 1) {
        session_notice(desk, now_ms, true, "leave the desk? the same key again leaves");
    } else {
        session_notice(desk, now_ms, true,
                       "%lld entries are NOT SAVED: the same key again leaves and writes them to "
                       "a rescue file",
                       (long long)unsaved);
    }
    return 0;
}

static unsigned act(struct desk *desk, enum action action, int64_t now_ms, int64_t unsaved)
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
        review_key(desk, now_ms);
        break;
    case ACTION_RED_INCIDENT:
        incident_key(desk, CORNER_RED, now_ms);
        break;
    case ACTION_BLUE_INCIDENT:
        incident_key(desk, CORNER_BLUE, now_ms);
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
    case ACTION_LOG_NEWER:
    case ACTION_LOG_OLDER:
        log_enter(desk, now_ms);
        break;
    case ACTION_PAGE:
        desk->page = (enum desk_page)((desk->page + 1) % PAGE_COUNT);
        break;
    case ACTION_HELP:
        desk->help = !desk->help;
        break;
    case ACTION_SCORECARDS:
        cards_enter(desk, now_ms);
        break;
    case ACTION_LOOKUP:
        desk->mode = DESK_LOOKUP;
        desk->mode_until_ms = now_ms + PROMPT_MS;
        desk->has_asked = false;
        break;
    case ACTION_FILTER:
        log_enter(desk, now_ms);
        break;
    case ACTION_SYNC:
        sync_enter(desk, now_ms);
        break;
    case ACTION_SETTLE:
        settle_enter(desk, now_ms);
        break;
    case ACTION_TAKEOVER:
        takeover_key(desk, now_ms);
        break;
    case ACTION_LEAVE:
        return leave_key(desk, now_ms, unsaved);
    default:
        mark_key(desk, action, now_ms);
        break;
    }
    return 0;
}

/* A key that was held: its first repeat had been taken for a stroke. Do what the stroke did back
 * again. */
static void take_back_repeat(struct desk *desk, struct meaning meaning, int64_t now_ms)
{
    switch (meaning.action) {
    case ACTION_STRIKE:
    case ACTION_REVIEW:
        write_undo(desk, now_ms);
        break;
    case ACTION_UNDO:
        write_redo(desk, now_ms);
        break;
    case ACTION_REDO:
        write_undo(desk, now_ms);
        break;
    case ACTION_CLOCK:
    case ACTION_CLINCH:
    case ACTION_RED_SWITCH:
    case ACTION_BLUE_SWITCH:
        act(desk, meaning.action, now_ms, 0);
        break;
    default:
        if (meaning.action <= ACTION_BLUE_KNOCKDOWN) {
            write_undo(desk, now_ms);
        }
        break;
    }
}

/* True where the key is a held key's repeat and was dealt with. */
static bool drop_repeat(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    char name[16];
    enum action action = meaning.action;
    if (action == ACTION_CLOCK_LESS || action == ACTION_CLOCK_MORE || action == ACTION_LOG_NEWER ||
        action == ACTION_LOG_OLDER) {
        return false;
    }
    enum repeat_verdict verdict = repeat_feed(&desk->repeat, key, now_ms);
    if (verdict == REPEAT_TAKE) {
        return false;
    }
    if (verdict == REPEAT_HELD && desk->mode == DESK_LIVE) {
        take_back_repeat(desk, meaning, now_ms);
    }
    session_notice(desk, now_ms, true, "%s is held down: %d repeats dropped", key_word(name, key),
                   desk->repeat.dropped);
    return true;
}

void desk_tick(struct desk *desk, int64_t now_ms)
{
    if (desk->mode_until_ms > 0 && now_ms >= desk->mode_until_ms) {
        live(desk);
    }
    kicks_tell(desk, now_ms);
}

/* What may be done on a signed record. */
static bool only_shows(enum action action)
{
    return action == ACTION_PAGE || action == ACTION_HELP || action == ACTION_LOOKUP ||
           action == ACTION_LEAVE || action == ACTION_LOG_NEWER || action == ACTION_LOG_OLDER ||
           action == ACTION_FILTER || action == ACTION_NONE;
}

static unsigned take_key(struct desk *desk, int32_t key, int64_t now_ms, int64_t unsaved)
{
    struct meaning meaning = keymap_find(&desk->keymap, key);
    char name[16];
    if (key == KEY_OF_NONE || drop_repeat(desk, key, meaning, now_ms)) {
        return 0;
    }
    desk_tick(desk, now_ms);
    if (meaning.action != desk->armed) {
        desk->armed = ACTION_NONE;
        desk->leave_asked = 0;
    }
    if (desk_is_read_only(desk) && desk->mode != DESK_LOOKUP && !only_shows(meaning.action)) {
        session_notice(desk, now_ms, true, "the record is signed: nothing is logged any more");
        return 0;
    }
    if ((desk->mode == DESK_INCIDENT || desk->mode == DESK_FOUL) && prompt_key(desk, key, now_ms)) {
        return 0;
    }
    if (desk->mode == DESK_LOOKUP) {
        live(desk);
        if (meaning.action == ACTION_STRIKE) {
            desk->asked = meaning.strike;
            desk->has_asked = true;
            return 0;
        }
        if (meaning.action == ACTION_LOOKUP) {
            return 0;
        }
    }
    if (meaning.action == ACTION_CLOCK && count_end(desk, now_ms)) {
        return 0;
    }
    if (desk->mode == DESK_SYNC && sync_key(desk, key, meaning, now_ms)) {
        return 0;
    }
    if (desk->mode == DESK_SETTLE && settle_key(desk, key, meaning, now_ms)) {
        return 0;
    }
    if (desk->mode == DESK_CARDS && cards_key(desk, key, meaning, now_ms)) {
        return 0;
    }
    if (desk->mode == DESK_LOG || desk->mode == DESK_INSERT) {
        if (log_key(desk, key, meaning, now_ms)) {
            return 0;
        }
        if (meaning.action == ACTION_CLOCK) {
            live(desk);
        }
    }
    if (meaning.action == ACTION_STRIKE) {
        strike_key(desk, meaning.strike, key, now_ms);
    } else if (meaning.action != ACTION_NONE) {
        return act(desk, meaning.action, now_ms, unsaved);
    } else if (key == KEY_OF_ESC) {
        desk->help = false;
        desk->has_asked = false;
    } else {
        session_notice(desk, now_ms, false, "%s is a free key", key_word(name, key));
    }
    return 0;
}

unsigned desk_key(struct desk *desk, int32_t key, int64_t now_ms, int64_t unsaved)
{
    size_t before = desk->fresh_count;
    unsigned wants = take_key(desk, key, now_ms, unsaved);
    if (desk->fresh_count != before) {
        log_refresh(desk);
    }
    return wants;
}

void desk_pasted(struct desk *desk, size_t characters, int64_t now_ms)
{
    session_notice(desk, now_ms, true, "a pasted block of %zu characters was refused: not logged",
                   characters);
}
