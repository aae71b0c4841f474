/* desk.c: a session's life, and what the screen reads of it. */
#include "ringtally/desk/desk.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/base/when.h"
#include "desk/session.h"

#define GREETING_MS 20000
#define AWAY_MS     120000 /* a bell longer ago is no surprise */
#define LONG_AGO_MS 1800000

static bool learn(struct desk *desk, const struct desk_row *rows, int row_count,
                  const struct entry *entries, size_t count)
{
    struct fold *folds[] = {desk->fold, desk->own};
    for (int i = 0; i < 2 && folds[i]; i++) {
        for (int row = 0; row < row_count; row++) {
            if (fold_desk(folds[i], &rows[row])) {
                return false;
            }
        }
        if (fold_add_all(folds[i], entries, count)) {
            return false;
        }
    }
    return true;
}

/* What the tagger must know on coming back. */
static void greet(struct desk *desk, bool resumed, int64_t now_ms)
{
    const struct round_clock *clock = fold_clock(session_fold(desk));
    struct clock_face face = desk_clock(desk, now_ms);
    const struct entry *signature = fold_signed(desk->fold);
    if (signature) {
        session_notice(desk, now_ms, true, "signed by %s: this desk only shows the record",
                       signature->text);
        return;
    }
    if (desk->watch) {
        session_notice(desk, now_ms, false, "watching: this desk claims and writes nothing");
        return;
    }
    if (!resumed || desk->reel.on) {
        return;
    }
    bool mine = fold_official(session_fold(desk), CODE_CLOCK) == desk->root;
    if (face.state == CLOCK_RUNNING) {
        session_notice(
            desk, now_ms, true, "resumed: the clock kept running in round %d; %s", face.round,
            mine ? "Left/Right put it right, Enter stops it" : "it is not with this desk");
    } else if (clock->running && now_ms - face.ended_ms < AWAY_MS) {
        session_notice(desk, now_ms, true,
                       "resumed: the clock kept running and round %d has ended%s", face.round,
                       mine ? "; Left brings it back by a second" : "");
    } else {
        session_notice(desk, now_ms, false, "resumed in round %d", face.round);
    }
    bool ends = face.state == CLOCK_RUNNING && face.remaining_ms < GREETING_MS;
    desk->notice_until_ms = now_ms + (ends ? face.remaining_ms : GREETING_MS);
}

/* Whether the bout is on, so that a shadow has a clock to follow: whoever tags it again the next
 * morning has the recording's. */
static bool clock_is_on(const struct fold *fold, int64_t now_ms)
{
    enum clock_state state = clock_read(fold_clock(fold), now_ms).state;
    return state == CLOCK_READY ||
           (state != CLOCK_OVER && now_ms - fold_heard(fold, now_ms) < LONG_AGO_MS);
}

struct desk *desk_new(const struct desk_setup *setup, int64_t now_ms)
{
    struct clock_plan plan = clock_plan(&setup->rules, setup->bout.rounds);
    struct desk *desk = calloc(1, sizeof *desk);
    if (!desk) {
        return NULL;
    }
    desk->bout = setup->bout;
    desk->rules = setup->rules;
    desk->keymap = setup->keymap;
    desk->self = setup->self;
    desk->watch = setup->self < 0;
    desk->watcher = (struct desk_row){.name = "watching", .root = -2};
    desk->root = desk->watch ? desk->watcher.root : setup->desks[setup->self].root;
    desk->next_seq = 1;
    desk->cursor = ENTRY_NONE;
    desk->question.action = ACTION_NONE;
    desk->amending.from = ENTRY_NONE;
    desk->repeat.key = KEY_OF_NONE;
    desk->reel = (struct reel){.on = setup->recording, .media_ms = -1};
    desk->fold = fold_new(&plan, &desk->bout, FOLD_OFFICIAL);
    if (!desk->fold ||
        !learn(desk, setup->desks, setup->desk_count, setup->entries, setup->entry_count)) {
        goto failed;
    }
    if (desk_self(desk)->shadow && setup->claim == 0 && !(office_roles(desk) & 3)) {
        desk->own = fold_new(&plan, &desk->bout, desk->root);
        if (!desk->own) {
            goto failed;
        }
        for (int i = 0; i < setup->desk_count; i++) {
            if (fold_desk(desk->own, &setup->desks[i])) {
                goto failed;
            }
        }
        if (fold_add_all(desk->own, setup->entries, setup->entry_count)) {
            goto failed;
        }
        if (setup->own_clock || setup->recording || !clock_is_on(desk->fold, now_ms)) {
            fold_keep_clock(desk->own);
        }
    }
    const struct entry *entries = NULL;
    size_t count = fold_entries(desk->fold, &entries);
    bool resumed = false;
    for (size_t i = 0; i < count; i++) {
        const struct entry *entry = &entries[i];
        if (session_owns(desk, entry->name)) {
            resumed = true;
            if (!steps_reserve(desk)) {
                goto failed;
            }
            steps_replay(desk, entry);
        }
        if (entry->name.desk == desk->self && entry->name.seq >= desk->next_seq) {
            desk->next_seq = entry->name.seq + 1;
        }
    }
    office_seen(desk);
    int64_t known_ms = fold_now(session_fold(desk), 0);
    if (!desk_is_read_only(desk) && !write_claims(desk, setup->claim, now_ms)) {
        goto failed;
    }
    session_stroke(desk);
    walk_refresh(desk);
    greet(desk, resumed, now_ms);
    office_greet(desk, resumed, now_ms);
    time_resume(desk, known_ms, now_ms);
    return desk;

failed:
    desk_free(desk);
    return NULL;
}

void desk_free(struct desk *desk)
{
    if (desk) {
        fold_free(desk->fold);
        fold_free(desk->own);
        free(desk->fresh);
        free(desk->done.step);
        free(desk->undone.step);
        free(desk->order);
        free(desk->burst.key);
        free(desk->reasons);
        free(desk->office.sign);
        check_release(desk);
        coverage_release(&desk->seen.coverage);
        if (desk->agree) {
            agree_release(desk->agree);
            free(desk->agree);
        }
        free(desk);
    }
}

int desk_learn(struct desk *desk, const struct desk_row *rows, int row_count,
               const struct entry *entries, size_t count, int64_t now_ms)
{
    bool ran = fold_clock(session_fold(desk))->running;
    if (!learn(desk, rows, row_count, entries, count)) {
        return ERROR_MEMORY;
    }
    bool runs = fold_clock(session_fold(desk))->running;
    bool corrects = walk_is_open(desk) || desk->mode == DESK_SETTLE;
    if (corrects && runs && !ran) { /* another desk started the clock */
        live(desk);
        desk->notice_until_ms = 0; /* it speaks of what is over */
    }
    for (size_t i = 0; i < count; i++) {
        time_hear(desk, &entries[i]);
        late_hear(desk, &entries[i], now_ms);
    }
    walk_refresh(desk);
    return 0;
}

size_t desk_take(struct desk *desk, const struct entry **out)
{
    *out = desk->fresh;
    size_t count = desk->fresh_count;
    desk->fresh_count = 0;
    return count;
}

const struct bout *desk_bout(const struct desk *desk)
{
    return &desk->bout;
}

const struct rules *desk_rules(const struct desk *desk)
{
    return &desk->rules;
}

const struct keymap *desk_keymap(const struct desk *desk)
{
    return &desk->keymap;
}

const struct fold *desk_fold(const struct desk *desk)
{
    return session_fold(desk);
}

enum desk_mode desk_mode(const struct desk *desk)
{
    return desk->mode;
}

enum corner desk_prompt(const struct desk *desk)
{
    return desk->prompt;
}

enum desk_page desk_page(const struct desk *desk)
{
    return desk->page;
}

bool desk_help(const struct desk *desk)
{
    return desk->help;
}

const char *desk_notice(const struct desk *desk, int64_t now_ms, bool *urgent)
{
    bool stands = now_ms < desk->notice_until_ms;
    bool held = !stands && desk->burst.count > 0; /* until it is answered */
    const char *untended = stands || held ? "" : office_standing(desk, now_ms);
    *urgent = held || (stands ? desk->urgent : untended[0] && !desk->own);
    return stands ? desk->notice : held ? desk->burst.words : untended;
}

bool desk_hit(const struct desk *desk, int64_t now_ms, struct strike *out)
{
    *out = desk->hit;
    return now_ms < desk->hit_until_ms;
}

bool desk_lookup(const struct desk *desk, struct strike *out)
{
    *out = desk->asked;
    return desk->has_asked;
}

int64_t desk_next_change(const struct desk *desk, int64_t now_ms)
{
    struct round_clock clock = session_clock(desk, now_ms);
    /* A recording's clock changes by what the player says. */
    int64_t next = desk->reel.on ? INT64_MAX : clock_next_change(&clock, now_ms);
    const int64_t ends[] = {desk->hit_until_ms,
                            desk->notice_until_ms,
                            desk->mode_until_ms,
                            desk->question.answer_ms,
                            desk->hand.nudge_ms ? desk->hand.nudge_until_ms : 0,
                            count_next_ms(desk, now_ms)};
    int64_t flash = alarm_next_change(desk, now_ms);
    next = flash < next ? flash : next;
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        if (ends[i] > now_ms && ends[i] < next) {
            next = ends[i];
        }
    }
    return next;
}
