/* reel_keys.c: keys beside a player: transport, bells in media time, doubles, second looks. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "desk/session.h"
#include "ringtally/base/when.h"

#define STEP_MS       2000
#define REPEAT_MS     3000
#define AFTER_BELL_MS 10000 /* of a round's end: Enter is that bell */

static const double speeds[] = {0.25, 0.5, 0.75, 1, 1.5, 2};
#define SPEEDS ((int)(sizeof speeds / sizeof *speeds))

/* --- transport --- */

static void play_key(struct desk *desk, int64_t now_ms)
{
    const struct reel_seen *seen = &desk->reel.seen;
    if (seen->lost) {
        reel_wish(desk, (struct reel_wish){.kind = WISH_START});
        session_notice(desk, now_ms, false, "the player is started again, where it was");
        return;
    }
    reel_wish(desk, (struct reel_wish){.kind = seen->paused ? WISH_PLAY : WISH_PAUSE});
}

static void speed_key(struct desk *desk, int step, int64_t now_ms)
{
    int at = 0;
    while (at + 1 < SPEEDS && speeds[at + 1] <= desk->reel.seen.speed + 0.01) {
        at++;
    }
    at += step;
    if (at < 0 || at >= SPEEDS) {
        session_notice(desk, now_ms, false, "%s than that is not played",
                       step < 0 ? "slower" : "faster");
        return;
    }
    reel_wish(desk, (struct reel_wish){.kind = WISH_SPEED, .speed = speeds[at]});
    desk->reel.seen.speed = speeds[at]; /* two presses are two steps, whenever it answers */
    session_notice(desk, now_ms, false, "speed %g", speeds[at]);
}

static void repeat_key(struct desk *desk, int64_t now_ms)
{
    int64_t at = desk->reel.media_ms;
    if (desk->reel.seen.repeating) {
        reel_wish(desk, (struct reel_wish){.kind = WISH_REPEAT_END});
        session_notice(desk, now_ms, false, "it goes on");
        return;
    }
    reel_wish(desk, (struct reel_wish){.kind = WISH_REPEAT,
                                       .ms = at > REPEAT_MS ? at - REPEAT_MS : 0,
                                       .to_ms = at});
    reel_wish(desk, (struct reel_wish){.kind = WISH_PLAY});
    session_notice(desk, now_ms, false, "these 3 s again and again, until the same key");
}

static void go_to(struct desk *desk, int64_t media_ms)
{
    if (desk->reel.seen.repeating) {
        reel_wish(desk, (struct reel_wish){.kind = WISH_REPEAT_END});
    }
    reel_wish(desk, (struct reel_wish){.kind = WISH_SEEK, .ms = media_ms > 0 ? media_ms : 0});
}

static void newest_key(struct desk *desk, int64_t now_ms)
{
    const struct subject *subjects = NULL, *found = walk_is_open(desk) ? walk_subject(desk) : NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    char words[128], place[WHEN_SIZE];
    while (!found && count-- > 0) {
        const struct subject *subject = &subjects[count];
        if (subject->live && session_owns(desk, subject->now.name) &&
            subject->now.kind != ENTRY_NOTE) {
            found = subject;
        }
    }
    if (!found || !session_owns(desk, found->now.name)) {
        session_notice(desk, now_ms, false, "nothing is tagged from this recording yet");
        return;
    }
    entry_words(words, sizeof words, &found->now);
    go_to(desk, found->now.at_ms - desk->reel.zero_ms);
    session_notice(desk, now_ms, false, "to %s%s, at %s of the recording",
                   entry_corner(&found->now), words,
                   when_clock(place, found->now.at_ms - desk->reel.zero_ms));
}

bool reel_takes(const struct desk *desk, int32_t key)
{
    enum transport transport = keymap_transport(&desk->keymap, key);
    if (!desk->reel.on || transport == TRANSPORT_COUNT) {
        return false;
    }
    /* What is open keeps the keys that walk in it. */
    bool walks = key == KEY_OF_HOME || key == KEY_OF_END || key == KEY_OF_PAGE_UP ||
                 key == KEY_OF_PAGE_DOWN || key == KEY_OF_INSERT;
    return desk->mode == DESK_LIVE || !walks ||
           (transport == TRANSPORT_KEEP && desk->reel.has_double);
}

bool reel_passes_repeats(const struct desk *desk, int32_t key)
{
    switch (keymap_transport(&desk->keymap, key)) {
    case TRANSPORT_BACK:
    case TRANSPORT_ON:
    case TRANSPORT_FRAME_BACK:
    case TRANSPORT_FRAME_ON:
        return true;
    default:
        return false;
    }
}

static void keep_key(struct desk *desk, int64_t now_ms)
{
    struct reel *reel = &desk->reel;
    if (!reel->has_double) {
        session_notice(desk, now_ms, false, "no double is waiting to be kept");
        return;
    }
    int64_t media_ms = reel->media_ms;
    reel->has_double = false;
    reel->media_ms = reel->double_ms; /* its own moment, not that of this key */
    if (write_strike(desk, reel->doubled, now_ms)) {
        session_notice(desk, now_ms, false, "kept as a second strike");
    }
    reel->media_ms = media_ms;
}

void reel_key(struct desk *desk, int32_t key, int64_t now_ms)
{
    static const struct reel_wish wishes[TRANSPORT_COUNT] = {
        [TRANSPORT_BACK] = {.kind = WISH_SEEK_BY, .ms = -STEP_MS},
        [TRANSPORT_ON] = {.kind = WISH_SEEK_BY, .ms = STEP_MS},
        [TRANSPORT_FRAME_BACK] = {.kind = WISH_FRAME_BACK},
        [TRANSPORT_FRAME_ON] = {.kind = WISH_FRAME_ON},
    };
    enum transport transport = keymap_transport(&desk->keymap, key);
    if (desk->reel.seen.lost && transport != TRANSPORT_PLAY && transport != TRANSPORT_KEEP) {
        char word[16];
        session_notice(desk, now_ms, true, "%s: %s starts it again", desk->reel.seen.trouble,
                       key_word(word, desk->keymap.transport[TRANSPORT_PLAY]));
        return;
    }
    switch (transport) {
    case TRANSPORT_PLAY:
        play_key(desk, now_ms);
        break;
    case TRANSPORT_SLOWER:
        speed_key(desk, -1, now_ms);
        break;
    case TRANSPORT_FASTER:
        speed_key(desk, 1, now_ms);
        break;
    case TRANSPORT_REPEAT:
        repeat_key(desk, now_ms);
        break;
    case TRANSPORT_NEWEST:
        newest_key(desk, now_ms);
        break;
    case TRANSPORT_DIFFERENCE:
        reel_difference(desk, now_ms);
        break;
    case TRANSPORT_KEEP:
        keep_key(desk, now_ms);
        break;
    default:
        reel_wish(desk, wishes[transport]);
        break;
    }
}

/* --- what is tagged --- */

bool reel_refuses(struct desk *desk, enum action action, int64_t now_ms)
{
    const struct reel *reel = &desk->reel;
    if (!reel->on || reel->open || action_needs(action) != NEEDS_OPEN) {
        return false;
    }
    alarm_raise(desk, ALARM_UNCOUNTED, now_ms);
    session_notice(desk, now_ms, true, "the recording is not open yet: the key was not logged%s%s",
                   reel->seen.trouble[0] ? ". " : "", reel->seen.trouble);
    return true;
}

bool reel_doubles(struct desk *desk, struct strike strike, int64_t now_ms)
{
    struct reel *reel = &desk->reel;
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    int64_t at_ms = session_moment(desk, now_ms);
    char key[16], words[96];
    reel->has_double = false;
    for (size_t i = 0; reel->on && i < count; i++) {
        const struct entry *now = &subjects[i].now;
        int64_t apart = now->at_ms > at_ms ? now->at_ms - at_ms : at_ms - now->at_ms;
        if (!subjects[i].live || now->kind != ENTRY_STRIKE || !session_owns(desk, now->name) ||
            apart > REEL_DOUBLE_MS || now->strike.corner != strike.corner ||
            now->strike.limb != strike.limb || now->strike.target != strike.target) {
            continue;
        }
        reel->has_double = true;
        reel->doubled = strike;
        reel->double_ms = reel->media_ms;
        strike_words(words, sizeof words, &now->strike);
        session_notice(desk, now_ms, true,
                       "%s %s is there already, %.2f s %s: %s keeps this as a second one",
                       corner_names[strike.corner], words, (double)apart / 1000,
                       now->at_ms > at_ms ? "later" : "before",
                       key_word(key, desk->keymap.transport[TRANSPORT_KEEP]));
        return true;
    }
    return false;
}

/* --- bells --- */

/* The own bell nearest to the moment, within REEL_BELL_MS; NULL: none. */
static const struct entry *bell_near(const struct desk *desk, int64_t at_ms)
{
    const struct entry *bells = NULL, *found = NULL;
    size_t count = fold_bells(session_fold(desk), &bells);
    for (size_t i = 0; i < count; i++) {
        int64_t apart = llabs((long long)(bells[i].at_ms - at_ms));
        if (apart <= REEL_BELL_MS && (!found || apart < llabs((long long)(found->at_ms - at_ms)))) {
            found = &bells[i];
        }
    }
    return found;
}

static bool move_bell(struct desk *desk, struct entry bell, int64_t at_ms, int64_t now_ms)
{
    int64_t by_ms = at_ms - bell.at_ms;
    bell.at_ms = at_ms;
    bell.undoes = ENTRY_NONE;
    if (!write_change(desk, bell.name, bell, ACT_AMEND, now_ms)) {
        return false;
    }
    session_notice(desk, now_ms, false, "round %d %s %.2f s %s: every clock of this desk follows",
                   bell.round, bell.code == CODE_START ? "begins" : "stops",
                   (double)llabs((long long)by_ms) / 1000, by_ms < 0 ? "earlier" : "later");
    return true;
}

void reel_bell(struct desk *desk, int64_t now_ms)
{
    int64_t at_ms = session_moment(desk, now_ms);
    const struct entry *near = bell_near(desk, at_ms);
    struct clock_face face = desk_clock(desk, now_ms);
    bool stands = face.state == CLOCK_STOPPED;
    bool over = face.state == CLOCK_REST || face.state == CLOCK_OVER;
    /* The bell in the picture may be later than the round is long. */
    bool runs = face.state == CLOCK_RUNNING || (over && at_ms - face.ended_ms <= AFTER_BELL_MS);
    if (near) {
        if (near->at_ms == at_ms) {
            session_notice(desk, now_ms, false, "this bell stands here already");
        } else {
            move_bell(desk, *near, at_ms, now_ms);
        }
        return;
    }
    struct entry bell = {.code = runs ? CODE_STOP : CODE_START,
                         .round = (uint8_t)face.round,
                         .elapsed_ms = runs || stands ? face.elapsed_ms : 0};
    if (over && !runs) {
        bell.round = (uint8_t)(face.round < ROUND_MAX ? face.round + 1 : ROUND_MAX);
    }
    if (stands && bell.elapsed_ms == 0) {
        bell.elapsed_ms = 1; /* from nothing it would be a new round's */
    }
    if (!clock_write(desk, bell, now_ms)) {
        return;
    }
    face = desk_clock(desk, now_ms);
    if (!runs) {
        session_notice(desk, now_ms, false, "round %d %s", face.round,
                       stands ? "goes on" : "begins here");
    } else if (face.state == CLOCK_STOPPED) {
        session_notice(desk, now_ms, false, "round %d: the clock stands here", face.round);
    } else {
        session_notice(desk, now_ms, false, "the bell: round %d is over here", face.round);
    }
}

void reel_nudge(struct desk *desk, int32_t by_ms, int64_t now_ms)
{
    const struct entry *bells = NULL;
    size_t count = fold_bells(session_fold(desk), &bells);
    int64_t at_ms = session_moment(desk, now_ms);
    while (count > 0 && bells[count - 1].at_ms > at_ms) {
        count--;
    }
    if (count == 0) {
        session_notice(desk, now_ms, false, "no bell is marked up to here: Enter marks one");
        return;
    }
    struct entry bell = bells[count - 1];
    /* More elapsed is an earlier start, and a later stop. */
    move_bell(desk, bell, bell.at_ms + (bell.code == CODE_START ? -by_ms : by_ms), now_ms);
}

/* --- the live count's differences, and second looks --- */

int64_t reel_media_of(const struct desk *desk, int round, int32_t elapsed_ms)
{
    const struct entry *bells = NULL;
    size_t count = fold_bells(session_fold(desk), &bells);
    int64_t media_ms = -1;
    for (size_t i = 0; i < count; i++) {
        if (bells[i].code == CODE_START && bells[i].round == round &&
            bells[i].elapsed_ms <= elapsed_ms) {
            media_ms = bells[i].at_ms + elapsed_ms - bells[i].elapsed_ms - desk->reel.zero_ms;
        }
    }
    return media_ms;
}

static int64_t media_of(const struct desk *desk, const struct agree *agree, struct align_link link)
{
    if (link.b >= 0) {
        return agree->b[link.b].at_ms - desk->reel.zero_ms;
    }
    const struct align_strike *live = &agree->a[link.a];
    int64_t media_ms = reel_media_of(desk, live->round, live->elapsed_ms);
    return media_ms < 0 ? -1 : media_ms + agree->align.lateness_ms;
}

/* The first difference behind the moment; the first of all where there is none. -1: none. */
static long next_difference(const struct desk *desk, const struct agree *agree, int64_t *media_ms)
{
    long first = -1, next = -1;
    int64_t first_ms = 0;
    int64_t from_ms = desk->reel.media_ms + REEL_LEAD_MS + 1;
    for (size_t i = 0; i < agree->differences; i++) {
        int64_t at = media_of(desk, agree, agree->difference[i].link);
        if (at >= 0 && (first < 0 || at < first_ms)) {
            first = (long)i;
            first_ms = at;
        }
        if (at > from_ms && (next < 0 || at < *media_ms)) {
            next = (long)i;
            *media_ms = at;
        }
    }
    if (next < 0) {
        *media_ms = first_ms;
    }
    return next >= 0 ? next : first;
}

/* Where nobody could see live comes first, each place once, in the order in which it was: true
 * where there was one more. */
static bool go_unseen(struct desk *desk, int64_t now_ms)
{
    struct reel *reel = &desk->reel;
    const struct subject *subjects = NULL;
    char place[WHEN_SIZE];
    size_t count = fold_subjects(desk->fold, &subjects);
    int64_t passed_ms = reel->unseen_ms;
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        int64_t media_ms = now->kind == ENTRY_VIEW && now->code == CODE_HIDDEN && subjects[i].counts
                               ? reel_media_of(desk, now->round, now->elapsed_ms)
                               : -1;
        if (media_ms < 0 || now->utc_ms <= passed_ms) {
            continue;
        }
        reel->unseen_ms = now->utc_ms; /* both corners' are one place */
        go_to(desk, media_ms - REEL_LEAD_MS);
        bool both = i + 1 < count && subjects[i + 1].now.kind == ENTRY_VIEW &&
                    subjects[i + 1].now.utc_ms == now->utc_ms;
        session_notice(desk, now_ms, false, "not seen live from %s on: %s",
                       when_clock(place, media_ms),
                       both ? "both corners" : corner_names[now->strike.corner]);
        return true;
    }
    return false;
}

void reel_difference(struct desk *desk, int64_t now_ms)
{
    const struct align_options options = ALIGN_DEFAULTS;
    struct agree agree = {0};
    char live[96], here[96], place[WHEN_SIZE];
    int64_t media_ms = 0;
    int other = settle_busiest(desk, true, -1);
    if (go_unseen(desk, now_ms)) {
        return;
    }
    if (other < 0 || other == desk->root) {
        session_notice(desk, now_ms, false, "no live count is there to differ from");
        return;
    }
    uint8_t corners = agree_corners(desk->fold, other) & agree_corners(desk->fold, desk->root);
    if (agree_desks(&agree, desk->fold, &desk->bout, other, desk->root, corners, &options,
                    &desk->rules)) {
        session_notice(desk, now_ms, true, "OUT OF MEMORY: the desks were not compared");
        agree_release(&agree);
        return;
    }
    long at = next_difference(desk, &agree, &media_ms);
    if (at < 0) {
        session_notice(desk, now_ms, false, "the live count says the same");
    } else {
        struct align_link link = agree.difference[at].link;
        agree_words(live, sizeof live, link.a < 0 ? NULL : &agree.a[link.a]);
        agree_words(here, sizeof here, link.b < 0 ? NULL : &agree.b[link.b]);
        go_to(desk, media_ms - REEL_LEAD_MS);
        session_notice(desk, now_ms, false, "at %s, one of %zu: live %s; here %s",
                       when_clock(place, media_ms), agree.differences, live, here);
    }
    agree_release(&agree);
}

/* The newest flagged entry that counts, or is this desk's; NULL: none. */
static const struct subject *newest_flagged(const struct desk *desk)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(session_fold(desk), &subjects);
    while (count-- > 0) {
        const struct subject *subject = &subjects[count];
        if (subject->live && (subject->now.review || subject->now.unsure) &&
            !subject->now.accepted && (subject->counts || session_owns(desk, subject->now.name))) {
            return subject;
        }
    }
    return NULL;
}

void reel_look(struct desk *desk, int64_t now_ms)
{
    struct reel *reel = &desk->reel;
    char words[128];
    if (!reel->attached || reel->on) {
        session_notice(desk, now_ms, false, "no recorder is attached: --player attaches one");
        return;
    }
    if (!reel->seen.ready || reel->media_ms < 0) {
        session_notice(desk, now_ms, true, "the recorder does not say where it is%s%s",
                       reel->seen.trouble[0] ? ": " : "", reel->seen.trouble);
        return;
    }
    if (reel->look_ms > 0) { /* back to where it would be by now */
        reel_wish(desk, (struct reel_wish){.kind = WISH_SEEK,
                                           .ms = reel->look_media_ms + now_ms - reel->look_ms});
        reel_wish(desk, (struct reel_wish){.kind = WISH_PLAY});
        reel->look_ms = 0;
        session_notice(desk, now_ms, false, "the recorder is live again");
        return;
    }
    const struct subject *flagged = newest_flagged(desk);
    if (!flagged) {
        session_notice(desk, now_ms, false, "nothing is flagged");
        return;
    }
    int64_t to_ms = reel->media_ms - (now_ms - flagged->now.at_ms) - REEL_LEAD_MS;
    if (to_ms < -REEL_LEAD_MS) {
        session_notice(desk, now_ms, true, "the recorder does not reach back so far");
        return;
    }
    reel->look_ms = now_ms;
    reel->look_media_ms = reel->media_ms;
    go_to(desk, to_ms);
    entry_words(words, sizeof words, &flagged->now);
    session_notice(desk, now_ms, false, "a second look: %s%s. The same key is back to live",
                   entry_corner(&flagged->now), words);
}
