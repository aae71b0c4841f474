/* reel.c: a desk beside a player: what it is told, what it wishes, and what moment it is. */
#include <stdio.h>
#include <string.h>

#include "desk/session.h"

int64_t session_moment(const struct desk *desk, int64_t now_ms)
{
    const struct reel *reel = &desk->reel;
    return reel->on ? reel->zero_ms + (reel->media_ms > 0 ? reel->media_ms : 0) : now_ms;
}

/* The newest live state of that kind at the moment; NULL: none. */
static const struct subject *state_at(const struct desk *desk, enum entry_kind kind,
                                      enum corner corner, int64_t at_ms)
{
    const struct fold *fold = session_fold(desk);
    const struct subject *subjects = NULL, *found = NULL;
    const size_t *states = NULL;
    size_t count = fold_states(fold, &states);
    fold_subjects(fold, &subjects);
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = &subjects[states[i]];
        if (subject->counts && subject->now.kind == kind && subject->now.at_ms <= at_ms &&
            (corner == CORNER_NONE || subject->now.strike.corner == corner) &&
            (!found || subject->now.at_ms >= found->now.at_ms)) {
            found = subject;
        }
    }
    return found;
}

enum stance session_stance(const struct desk *desk, enum corner corner, int64_t now_ms)
{
    if (!desk->reel.on) {
        return fold_stance(session_fold(desk), corner);
    }
    const struct subject *subject =
        state_at(desk, ENTRY_STANCE, corner, session_moment(desk, now_ms));
    return subject ? (enum stance)subject->now.strike.stance
                   : (enum stance)desk->bout.fighter[corner].stance;
}

enum position session_position(const struct desk *desk, int64_t now_ms)
{
    if (!desk->reel.on) {
        return fold_position(session_fold(desk));
    }
    const struct subject *subject =
        state_at(desk, ENTRY_POSITION, CORNER_NONE, session_moment(desk, now_ms));
    return subject ? (enum position)subject->now.strike.position : POSITION_OPEN;
}

int64_t desk_ran(const struct desk *desk, int round, int64_t now_ms)
{
    const struct fold *fold = session_fold(desk);
    const struct subject *subjects = NULL;
    if (!desk->reel.on) {
        return clock_ran(fold_clock(fold), round, now_ms);
    }
    int64_t last_ms = session_moment(desk, now_ms);
    size_t count = fold_subjects(fold, &subjects);
    for (size_t i = 0; i < count; i++) {
        if (subjects[i].now.kind == ENTRY_STRIKE && subjects[i].counts &&
            subjects[i].now.at_ms > last_ms) {
            last_ms = subjects[i].now.at_ms;
        }
    }
    struct round_clock clock = fold_clock_at(fold, last_ms);
    return clock_ran(&clock, round, last_ms);
}

/* The newest note of a recording in this desk's chain that bears the name, or any where it is NULL.
 */
static const struct entry *noted(const struct desk *desk, const char *name,
                                 struct recording *recording)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    while (count-- > 0) {
        const struct entry *now = &subjects[count].now;
        if (subjects[count].live && session_owns(desk, now->name) &&
            recording_read(recording, now) && (!name || strcmp(recording->name, name) == 0)) {
            return now;
        }
    }
    return NULL;
}

void desk_reel_open(struct desk *desk, const struct recording *recording, int64_t zero_ms,
                    int64_t now_ms)
{
    struct reel *reel = &desk->reel;
    struct recording known;
    reel->recording = *recording;
    if (!reel->on || reel->open || desk_is_read_only(desk)) {
        return;
    }
    struct entry note = {.kind = ENTRY_NOTE,
                         .act = ACT_ADD,
                         .subject = ENTRY_NONE,
                         .undoes = ENTRY_NONE,
                         .round = 1,
                         .at_ms = zero_ms};
    recording_print(note.text, &reel->recording);
    const struct entry *former = noted(desk, reel->recording.name, &known);
    session_stroke(desk);
    if (former) {
        reel->zero_ms = former->at_ms;
        reel->open = true;
        session_notice(desk, now_ms, false, "tagging goes on from %s", known.name);
        return;
    }
    reel->zero_ms = zero_ms;
    reel->open = write_entry(desk, note, now_ms);
    session_stroke(desk);
    if (reel->open) {
        walk_refresh(desk);
        session_notice(desk, now_ms, false, "tagging from %.60s, %s: Enter at the first bell",
                       reel->recording.name,
                       desk->own ? "counted apart" : "which is the count of this bout");
    }
}

void desk_reel_see(struct desk *desk, const struct reel_seen *seen, int64_t now_ms)
{
    struct reel *reel = &desk->reel;
    char key[16];
    bool was_lost = reel->seen.lost, was_silent = reel->seen.silent;
    bool news = seen->trouble[0] && strcmp(seen->trouble, reel->seen.trouble) != 0;
    reel->attached = true;
    reel->seen = *seen;
    if (seen->lost && !was_lost) {
        session_notice(desk, now_ms, true, "%s: nothing tagged is lost. %s starts it again",
                       seen->trouble, key_word(key, desk->keymap.transport[TRANSPORT_PLAY]));
    } else if (news) {
        session_notice(desk, now_ms, true, "%.150s", seen->trouble);
    } else if (seen->silent && !was_silent) {
        session_notice(desk, now_ms, true,
                       "the player does not answer: moments are counted on from its last word");
    }
}

void desk_reel_at(struct desk *desk, int64_t media_ms, bool told)
{
    desk->reel.media_ms = media_ms;
    desk->reel.guessed = !told;
}

void reel_wish(struct desk *desk, struct reel_wish wish)
{
    struct reel *reel = &desk->reel;
    if (reel->wishes < REEL_WISHES) {
        reel->wish[reel->wishes++] = wish;
    }
}

bool desk_reel_wish(struct desk *desk, struct reel_wish *out)
{
    struct reel *reel = &desk->reel;
    if (reel->wishes == 0) {
        return false;
    }
    *out = reel->wish[0];
    memmove(reel->wish, reel->wish + 1, --reel->wishes * sizeof *reel->wish);
    return true;
}

bool desk_reel(const struct desk *desk, struct reel_view *out)
{
    const struct reel *reel = &desk->reel;
    if (!reel->on && !reel->attached) {
        return false;
    }
    *out = (struct reel_view){.on_recording = reel->on,
                              .open = reel->open,
                              .looking = reel->look_ms > 0,
                              .seen = reel->seen,
                              .media_ms = reel->media_ms,
                              .frame = -1,
                              .recording = reel->recording};
    if (reel->media_ms >= 0) {
        out->frame = recording_frame(&reel->recording, reel->media_ms);
    }
    return true;
}

/* --- where what was tagged stands, for who reads the log and not the fold --- */

static bool same_place(const struct entry *a, const struct entry *b)
{
    return a->round == b->round && a->elapsed_ms == b->elapsed_ms && a->off_clock == b->off_clock;
}

bool reel_places(const struct desk *desk, const struct entry *entry)
{
    const struct entry *before =
        entry->act == ACT_REFINE ? fold_before(desk->fold, entry->name) : NULL;
    return before && !same_place(before, entry) && before->at_ms == entry->at_ms &&
           memcmp(&before->strike, &entry->strike, sizeof entry->strike) == 0 &&
           before->review == entry->review && before->unsure == entry->unsure;
}

void reel_finish(struct desk *desk, int64_t now_ms)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(desk->fold, &subjects);
    if (!desk->reel.on || desk->own || desk_is_read_only(desk)) {
        return;
    }
    session_stroke(desk);
    for (size_t i = 0; i < count; i++) {
        const struct entry *stored = fold_entry(desk->fold, subjects[i].last);
        struct entry now = subjects[i].now;
        now.undoes = ENTRY_NONE;
        if (stored && subjects[i].counts && session_owns(desk, now.name) &&
            !same_place(stored, &now)) {
            write_change(desk, now.name, now, ACT_REFINE, now_ms);
            fold_subjects(desk->fold, &subjects);
        }
    }
}
