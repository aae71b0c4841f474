/* hub_follow.c: the loop that makes a local log and the hub one, and keeps them so. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "hub/pair.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"
#include "ringtally/log/log_watch.h"
#include "ringtally/log/signs.h"

#define LOOK_MS   15    /* between two looks at the local log */
#define POLL_MS   5000  /* between two questions to the hub that no notification asked for */
#define NOTE_MS   1000  /* between two notes */
#define LATE_MS   10000 /* by which the next one is promised: a large union may take seconds, */
#define REACH_MS  60000 /* and many hosts that are tried longer */
#define AGAIN_MS  250   /* first wait for a hub that is away; doubles ... */
#define AGAIN_MAX 5000  /* ... up to this */

struct follow {
    struct log *log;
    const struct hub_follow *how;
    struct hub *hub; /* NULL: away */
    struct pairs pairs;
    struct log_watch watch;
    struct log_marks marks;
    struct hub_note note;                                  /* the last one */
    bool meets;                                            /* is at finding out what is where */
    int64_t look_at, poll_at, note_at, again_at, again_ms; /* by mono_ms */
    char said[512];                                        /* why the hub is away */
    bool met;                                              /* the hub, at least once */
};

static void say(const struct follow *follow, const char *line)
{
    follow->how->say(follow->how->user, line);
}

/* The bouts into which something came here, each with its pair. */
static int look_here(struct follow *follow, struct error *err)
{
    struct log_marks marks = follow->marks;
    int64_t *bouts = NULL;
    size_t count = 0;
    int code = log_bouts_since(follow->log, follow->how->card, &marks, &bouts, &count, err);
    for (size_t i = 0; i < count && !code; i++) {
        struct card card;
        struct bout bout;
        struct pair *pair = NULL;
        code = log_bout_of(follow->log, bouts[i], &card, &bout, err);
        code = code ? code : pairs_add(&follow->pairs, bout.card, bout.number, &pair, err);
        if (!code) {
            pair->here = bout.id;
            pair->new_here = true;
        }
    }
    free(bouts);
    follow->marks = code ? follow->marks : marks;
    return code;
}

/* The cards that are followed, as an array's text. */
static int list_cards(struct follow *follow, struct buf *out, struct error *err)
{
    char(*ids)[48] = NULL;
    size_t count = 0;
    int code = 0;
    if (follow->how->card[0]) {
        array_text(out, follow->how->card);
    } else {
        code = log_card_ids(follow->log, &ids, &count, err);
    }
    for (size_t i = 0; i < count; i++) {
        array_text(out, ids[i]);
    }
    free(ids);
    array_end(out);
    return code ? code : out->failed ? error_memory(err) : 0;
}

/* The bouts into which something came at the hub. */
static int look_there(struct follow *follow, struct error *err)
{
    struct buf cards = BUF_INIT;
    int code = list_cards(follow, &cards, err);
    const char *const values[] = {cards.text};
    PGresult *rows = code ? NULL : link_run(follow->hub, HUB_BOUT_LIST, values, err);
    code = code ? code : rows ? 0 : link_failed(err);
    for (int i = 0; rows && i < PQntuples(rows) && !code; i++) {
        char card[48];
        struct pair *pair = NULL;
        link_text(card, sizeof card, rows, i, 0);
        code = pairs_add(&follow->pairs, card, (int)link_number(rows, i, 1), &pair, err);
        if (!code && pair->arrival != link_number(rows, i, 2)) {
            pair->due = true;
        }
    }
    PQclear(rows);
    buf_release(&cards);
    follow->poll_at = mono_ms() + POLL_MS;
    return code;
}

/* A bout of a card that is followed? */
static int notified(struct follow *follow, const char *name, struct error *err)
{
    char card[48];
    int number = 0;
    struct pair *pair = NULL;
    if (bout_ref_parse(card, &number, name, NULL)) {
        return 0;
    }
    pair = pairs_find(&follow->pairs, card, number);
    bool wanted = strcmp(card, follow->how->card) == 0;
    if (!pair && !follow->how->card[0]) { /* new: of a card that is known here? */
        for (size_t i = 0; i < follow->pairs.count && !wanted; i++) {
            wanted = strcmp(follow->pairs.pair[i].card, card) == 0;
        }
    }
    int code = pair || !wanted ? 0 : pairs_add(&follow->pairs, card, number, &pair, err);
    if (pair && !code) {
        pair->due = true;
    }
    return code;
}

/* What concerns one bout only leaves that one alone; it is tried again at each poll. */
static int settle(struct follow *follow, struct pair *pair, int code, const struct error *why,
                  struct error *err)
{
    if (!code) {
        pair->fault[0] = '\0';
        return 0;
    }
    if ((code != ERROR_FAILED && code != ERROR_MISSING) || follow->hub->refuses) {
        return error_set(err, code, "%s", why->text);
    }
    if (strcmp(pair->fault, why->text) != 0) {
        char line[600];
        snprintf(line, sizeof line, "bout %s/%d is left alone: %s", pair->card, pair->number,
                 why->text);
        say(follow, line);
    }
    snprintf(pair->fault, sizeof pair->fault, "%s", why->text);
    return 0;
}

static int work_on(struct follow *follow, struct pair *pair, struct error *err)
{
    struct error why = {0};
    int code = 0;
    if (pair->id == 0 || pair->fault[0]) {
        code = pair_meet(pair, follow->hub, &why);
        code = code ? code : pair_unite(pair, follow->hub, follow->log, &why);
        return settle(follow, pair, code, &why, err);
    }
    if (pair->new_here) {
        code = pair_send(pair, follow->hub, follow->log, &why);
    }
    if (!code && pair->due) {
        code = pair_fetch(pair, follow->hub, follow->log, &why);
    }
    return settle(follow, pair, code, &why, err);
}

static int work(struct follow *follow, bool all, struct error *err)
{
    int code = 0;
    for (size_t i = 0; i < follow->pairs.count && !code; i++) {
        struct pair *pair = &follow->pairs.pair[i];
        if ((pair->due || pair->new_here) && (all || !pair->fault[0])) {
            code = work_on(follow, pair, err);
        }
    }
    return code;
}

/* Entries here that the hub is not known to have. */
static int count_waiting(const struct follow *follow, struct hub_note *note, struct error *err)
{
    int code = 0;
    for (size_t i = 0; i < follow->pairs.count && !code; i++) {
        struct hub_gap gap = {0};
        const struct pair *pair = &follow->pairs.pair[i];
        if (pair->new_here) {
            code = pair_waiting(pair, follow->log, &gap, err);
        }
        note->waiting += gap.here;
        if (gap.here_ms && (!note->oldest_ms || gap.here_ms < note->oldest_ms)) {
            note->oldest_ms = gap.here_ms;
        }
    }
    return code;
}

/* `promise_ms`: by when the next one follows. A sign that cannot be left stops nothing. */
static void put_note(struct follow *follow, int64_t promise_ms)
{
    follow->note.until_ms = when_now() + promise_ms;
    hub_note_write(log_path(follow->log), &follow->note, NULL);
}

/* A file replaced each second is work for the disk that the desk's own commits wait for. */
static bool is_worth_writing(const struct follow *follow, const struct hub_note *note)
{
    const struct hub_note *last = &follow->note;
    return note->away != last->away || note->waiting != last->waiting ||
           note->oldest_ms != last->oldest_ms || last->until_ms - when_now() < LATE_MS / 2 ||
           last->until_ms - when_now() > LATE_MS;
}

static int leave_note(struct follow *follow, struct error *err)
{
    if (mono_ms() < follow->note_at) {
        return 0;
    }
    follow->note_at = mono_ms() + NOTE_MS;
    struct hub_note note = {.away = follow->hub == NULL};
    int code = look_here(follow, err);
    code = code ? code : count_waiting(follow, &note, err);
    if (code) { /* as before: a database that is locked */
        note = follow->note;
    } else if (note.oldest_ms > when_now() - NOTE_MS) { /* is under way */
        note.waiting = note.oldest_ms = 0;
    }
    if (is_worth_writing(follow, &note)) {
        follow->note = note;
        put_note(follow, LATE_MS);
    }
    return code;
}

static bool told_to_end(const struct follow *follow)
{
    return follow->how->stop && *follow->how->stop;
}

/* The hub lets us wait. What is under way stays as it is: no pair is added here; and while the two
 * meet, nobody knows yet what waits. */
static bool while_waiting(void *user)
{
    struct follow *follow = user;
    struct hub_note note = {.away = false};
    struct error ignored = {0};
    if (!follow->meets && !count_waiting(follow, &note, &ignored)) {
        follow->note = note;
    }
    put_note(follow, LATE_MS);
    return !told_to_end(follow);
}

static int compare_all(struct follow *follow, struct error *err)
{
    int code = link_script(follow->hub, "LISTEN ringtally", err);
    code = code ? code : look_here(follow, err);
    code = code ? code : look_there(follow, err);
    return code ? code : work(follow, true, err);
}

static void drop_pairs(struct pairs *pairs)
{
    pairs_forget(pairs);
    free(pairs->pair);
    *pairs = (struct pairs){NULL, 0, 0};
}

/* Begins with nothing: what is where is told by both sides. What was known until then says what
 * waits here while the hub is away, also where it goes away again before all was compared. */
static int meet(struct follow *follow, struct error *err)
{
    struct pairs known = follow->pairs;
    struct log_marks marks = follow->marks;
    int code = hub_open(&follow->hub, follow->how->uri, HUB_WRITE, err);
    if (code) {
        return code;
    }
    follow->hub->idle = while_waiting;
    follow->hub->idle_user = follow;
    follow->pairs = (struct pairs){NULL, 0, 0};
    follow->marks = (struct log_marks){0};
    follow->watch = (struct log_watch){0};
    code = compare_all(follow, err);
    if (code) {
        drop_pairs(&follow->pairs);
        follow->pairs = known;
        follow->marks = marks;
    } else {
        drop_pairs(&known);
    }
    return code;
}

/* The bouts into which something came here, if anything did since the last look. */
static int watch_here(struct follow *follow, struct error *err)
{
    bool changed = false;
    follow->look_at = mono_ms() + LOOK_MS;
    int code = log_watch_look(&follow->watch, follow->log, &changed, err);
    code = code || !changed ? code : look_here(follow, err);
    if (!code && changed) {
        log_watch_seen(&follow->watch);
    }
    return code;
}

/* Every hall is woken for every other's bout: what does not concern it costs no look. */
static int step(struct follow *follow, struct error *err)
{
    char name[80];
    bool polled = false;
    int64_t left_ms = follow->look_at - mono_ms();
    int code = link_wait(follow->hub, left_ms > 0 ? (int)left_ms : 0, name, sizeof name, err);
    while (code > 0) {
        code = notified(follow, name, err);
        code = code ? code : link_wait(follow->hub, 0, name, sizeof name, err);
    }
    if (!code && mono_ms() >= follow->look_at) {
        code = watch_here(follow, err);
    }
    if (!code && mono_ms() >= follow->poll_at) {
        code = look_there(follow, err);
        polled = true;
    }
    return code ? code : work(follow, polled, err);
}

static void go_away(struct follow *follow, const struct error *why)
{
    hub_close(follow->hub);
    follow->hub = NULL;
    if (strcmp(follow->said, why->text) != 0) {
        char line[600];
        snprintf(line, sizeof line, "%s: entries wait here until it is back", why->text);
        say(follow, line);
        snprintf(follow->said, sizeof follow->said, "%s", why->text);
    }
    int64_t wait_ms = follow->again_ms ? follow->again_ms * 2 : AGAIN_MS;
    follow->again_ms = wait_ms < AGAIN_MAX ? wait_ms : AGAIN_MAX;
    follow->again_at = mono_ms() + follow->again_ms;
}

static void came_back(struct follow *follow)
{
    char line[400];
    snprintf(line, sizeof line, "hub %s: both sides have the same", hub_name(follow->hub));
    if (!follow->met || follow->said[0]) {
        say(follow, line);
    }
    follow->met = true;
    follow->said[0] = '\0';
    follow->again_ms = 0;
}

static void nap(int ms)
{
    struct timespec pause = {.tv_nsec = (long)ms * 1000000};
    nanosleep(&pause, NULL);
}

static int turn(struct follow *follow, struct error *err)
{
    if (follow->hub) {
        return step(follow, err);
    }
    if (mono_ms() < follow->again_at) {
        nap(LOOK_MS * 4);
        return 0;
    }
    put_note(follow, REACH_MS);
    follow->meets = true;
    int code = meet(follow, err);
    follow->meets = false;
    if (code) {
        hub_close(follow->hub);
        follow->hub = NULL;
    } else {
        came_back(follow);
    }
    return code;
}

static bool all_equal(const struct follow *follow, struct error *err)
{
    for (size_t i = 0; i < follow->pairs.count; i++) {
        if (follow->pairs.pair[i].fault[0]) {
            error_set(err, ERROR_FAILED, "%s", follow->pairs.pair[i].fault);
            return false;
        }
    }
    return true;
}

int hub_follow(struct log *log, const struct hub_follow *how, struct error *err)
{
    struct follow follow = {.log = log, .how = how};
    int code = 0;
    while (!told_to_end(&follow)) {
        struct error why = {0};
        code = turn(&follow, &why);
        code = code ? code : leave_note(&follow, &why);
        if (told_to_end(&follow)) {
            code = 0;
        } else if (!code && how->once && follow.hub) {
            code = all_equal(&follow, err) ? 0 : ERROR_FAILED;
            break;
        } else if (code == ERROR_AWAY && (follow.met || how->wait)) {
            go_away(&follow, &why);
        } else if (code == ERROR_BUSY) {
            nap(LOOK_MS); /* a desk or a merge writes */
        } else if (code) {
            error_set(err, code, "%s", why.text);
            break;
        }
    }
    if (!code || !follow.met || how->once) { /* else the note tells that nobody follows any more */
        hub_note_clear(log_path(log));
    }
    hub_close(follow.hub);
    drop_pairs(&follow.pairs);
    return code;
}
