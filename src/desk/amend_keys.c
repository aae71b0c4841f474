/* amend_keys.c: one entry put right, by a key that was announced.
 *
 * Nothing that is open turns a strike into a correction: only the amend key (or Insert) does, for
 * the one key that follows.
 */
#include "desk/session.h"

#define AWAIT_MS 8000

bool amend_awaits(const struct desk *desk)
{
    return desk->mode == DESK_INSERT || (desk->mode == DESK_LOG && desk->amending.open);
}

bool desk_amends(const struct desk *desk)
{
    return desk->mode == DESK_LOG && desk->amending.open;
}

void amend_open(struct desk *desk, int64_t now_ms)
{
    const struct subject *subject = walk_subject(desk);
    char words[128];
    if (subject && subject->now.kind == ENTRY_INCIDENT && subject->now.code == CODE_NOTED) {
        note_open(desk, subject->now.name, now_ms);
        return;
    }
    if (!subject || subject->now.kind != ENTRY_STRIKE) {
        session_notice(desk, now_ms, true, "this entry is no strike: Delete voids it");
        return;
    }
    entry_words(words, sizeof words, &subject->now);
    desk->amending.open = true;
    desk->mode_until_ms = now_ms + AWAIT_MS;
    session_notice(desk, now_ms, true, "OPEN: %s%s: the next pad key or mark amends it; Esc: none",
                   entry_corner(&subject->now), words);
}

static void amend(struct desk *desk, struct entry now, bool turned, int64_t now_ms)
{
    char words[128];
    entry_words(words, sizeof words, &now);
    now.undoes = ENTRY_NONE;
    if (write_change(desk, now.name, now, ACT_AMEND, now_ms)) {
        session_notice(desk, now_ms, false, "amended: %s%s%s%s", entry_corner(&now), words,
                       turned ? ", " : "", turned ? stance_names[now.strike.stance] : "");
    }
}

static void insert(struct desk *desk, struct entry at, struct strike strike, int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_STRIKE, now_ms);
    char words[128];
    strike.stance = at.strike.corner == strike.corner && at.kind == ENTRY_STRIKE
                        ? at.strike.stance
                        : (uint8_t)fold_stance(session_fold(desk), strike.corner);
    strike.position = at.strike.position;
    entry.strike = strike;
    entry.round = at.round;
    entry.elapsed_ms = at.elapsed_ms;
    entry.off_clock = at.off_clock;
    entry.at_ms = at.at_ms;
    entry.value = ENTRY_INSERTED;
    strike_words(words, sizeof words, &strike);
    if (write_entry(desk, entry, now_ms)) {
        session_notice(desk, now_ms, false, "inserted: %s %s", corner_names[strike.corner], words);
        desk->cursor = (struct entry_name){desk->self, desk->next_seq - 1};
    }
}

static void replace(struct desk *desk, struct entry now, struct strike strike, int64_t now_ms)
{
    if (now.strike.corner != strike.corner) {
        now.strike.stance = (uint8_t)fold_stance(session_fold(desk), strike.corner);
    }
    now.strike.corner = strike.corner;
    now.strike.limb = strike.limb;
    now.strike.target = strike.target;
    if (strike.outcome == OUTCOME_LANDED) {
        now.strike.outcome = OUTCOME_LANDED;
    }
    amend(desk, now, false, now_ms);
}

static bool mark(struct desk *desk, struct entry now, enum action action, int64_t now_ms)
{
    bool turned = action == ACTION_RED_SWITCH || action == ACTION_BLUE_SWITCH;
    if (turned) {
        now.strike.stance = (uint8_t)stance_switched(now.strike.stance);
    } else if (action == ACTION_CLINCH) {
        now.strike.position ^= POSITION_CLINCH;
    } else if (action == ACTION_UNSURE) {
        now.unsure = !now.unsure;
    } else if (!mark_apply(&now.strike, action)) {
        return false;
    }
    amend(desk, now, turned, now_ms);
    return true;
}

void amend_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    const struct subject *subject = walk_subject(desk);
    bool inserts = desk->mode == DESK_INSERT;
    long place = walk_place(desk);
    desk->mode = DESK_LOG;
    desk->amending.open = false;
    if (!subject) {
        return;
    }
    struct entry now = subject->now;
    if (meaning.action == ACTION_STRIKE && session_allows(desk, meaning.strike, key, now_ms)) {
        if (inserts) {
            insert(desk, now, meaning.strike, now_ms);
        } else {
            replace(desk, now, meaning.strike, now_ms);
        }
    } else if (meaning.action != ACTION_STRIKE && !inserts) {
        mark(desk, now, meaning.action, now_ms);
    }
    walk_refresh(desk);
    if (walk_place(desk) < 0) { /* it no longer passes the filter: on to the next */
        walk_place_cursor(desk, place);
    }
}

void amend_void(struct desk *desk, int64_t now_ms)
{
    const struct subject *subject = walk_subject(desk);
    struct entry now = subject->now;
    bool lives = subject->live;
    char words[128];
    now.undoes = ENTRY_NONE;
    entry_words(words, sizeof words, &now);
    if (write_change(desk, now.name, now, lives ? ACT_VOID : ACT_RESTORE, now_ms)) {
        session_notice(desk, now_ms, false, "%s: %s%s", lives ? "voided" : "counts again",
                       entry_corner(&now), words);
    }
}

/* What wanted a look is accepted; anything else is flagged. */
void amend_review(struct desk *desk, int64_t now_ms)
{
    const struct subject *subjects = NULL;
    const struct subject *subject = walk_subject(desk);
    struct entry now = subject->now;
    fold_subjects(session_fold(desk), &subjects);
    now.accepted = desk->reasons[subject - subjects] != 0;
    now.review = !now.accepted;
    amend(desk, now, false, now_ms);
}
