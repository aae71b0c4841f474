/* hub_mirror.c: the thread that keeps a local log as the hub is. */
#include "ringtally/hub/hub_mirror.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "hub/pair.h"
#include "ringtally/base/grow.h"
#include "ringtally/base/mono.h"

#define LOOK_MS    20    /* between two looks at what is wanted */
#define POLL_MS    5000  /* between two questions that no notification asked for */
#define STANDBY_MS 250   /* the same of a standby */
#define AGAIN_MS   1000  /* between two tries to connect */
#define FORGET_MS  60000 /* that something wanted and not found is remembered as missing */
#define CARDS      "50"  /* newest ones, whose bouts are known before anybody asks */

struct wish {
    char card[48];
    int number;
    enum hub_wanted state;
    int64_t told_ms; /* by mono_ms, when it was found missing */
};

struct hub_mirror {
    char *uri;
    hub_say *say;
    void *user;
    struct log *log;
    struct hub *hub; /* NULL: away */
    struct pairs pairs;
    int64_t poll_at, poll_ms;
    char said[512];
    pthread_t thread;
    bool runs;
    pthread_mutex_t lock; /* over what follows */
    struct wish *wishes;
    size_t wish_count, wish_room;
    bool stop;
};

static struct wish *find_wish(struct hub_mirror *mirror, const char *card, int number)
{
    for (size_t i = 0; i < mirror->wish_count; i++) {
        struct wish *wish = &mirror->wishes[i];
        if (wish->number == number && strcmp(wish->card, card) == 0) {
            return wish;
        }
    }
    return NULL;
}

enum hub_wanted hub_mirror_want(struct hub_mirror *mirror, const char *card, int number)
{
    pthread_mutex_lock(&mirror->lock);
    struct wish *wish = find_wish(mirror, card, number);
    if (!wish &&
        grow_array(&mirror->wishes, sizeof *wish, mirror->wish_count, 1, &mirror->wish_room)) {
        wish = &mirror->wishes[mirror->wish_count++];
        *wish = (struct wish){.number = number};
        snprintf(wish->card, sizeof wish->card, "%s", card);
    }
    enum hub_wanted state = wish ? wish->state : HUB_WAIT;
    pthread_mutex_unlock(&mirror->lock);
    return state;
}

static void grant(struct hub_mirror *mirror, const char *card, int number, enum hub_wanted state)
{
    pthread_mutex_lock(&mirror->lock);
    struct wish *wish = find_wish(mirror, card, number);
    if (wish) {
        wish->state = state;
        wish->told_ms = mono_ms();
    }
    pthread_mutex_unlock(&mirror->lock);
}

/* The next one that waits. Forgets on the way what was missing a while ago: it may be there now. */
static bool next_wish(struct hub_mirror *mirror, struct wish *out)
{
    bool found = false;
    pthread_mutex_lock(&mirror->lock);
    for (size_t i = mirror->wish_count; i-- > 0;) {
        struct wish *wish = &mirror->wishes[i];
        if (wish->state == HUB_MISSING && mono_ms() - wish->told_ms > FORGET_MS) {
            *wish = mirror->wishes[--mirror->wish_count];
        } else if (wish->state == HUB_WAIT) {
            *out = *wish;
            found = true;
        }
    }
    pthread_mutex_unlock(&mirror->lock);
    return found;
}

/* Brings one bout up to date. What concerns it alone is told once, and leaves it as it is. */
static int bring(struct hub_mirror *mirror, struct pair *pair, struct error *err)
{
    struct error why = {0};
    bool first = pair->id == 0 || pair->fault[0];
    int code = first ? pair_meet(pair, mirror->hub, &why) : 0;
    pair->due = false;
    if (!code && pair->id) {
        code = first ? pair_bring(pair, mirror->hub, mirror->log, &why)
                     : pair_fetch(pair, mirror->hub, mirror->log, &why);
    }
    if (!code) {
        pair->fault[0] = '\0';
        grant(mirror, pair->card, pair->number, pair->id ? HUB_HERE : HUB_MISSING);
        return 0;
    }
    if ((code != ERROR_FAILED && code != ERROR_MISSING) || mirror->hub->refuses) {
        pair->due = true;
        return error_set(err, code, "%s", why.text);
    }
    if (strcmp(pair->fault, why.text) != 0) {
        mirror->say(mirror->user, why.text);
        snprintf(pair->fault, sizeof pair->fault, "%s", why.text);
    }
    grant(mirror, pair->card, pair->number, HUB_MISSING);
    return 0;
}

/* The newest cards, as an array's text. */
static int list_cards(struct hub_mirror *mirror, struct buf *out, struct error *err)
{
    const char *const values[] = {CARDS};
    PGresult *rows = link_run(mirror->hub, HUB_CARD_NEWEST, values, err);
    if (!rows) {
        return link_failed(err);
    }
    for (int i = 0; i < PQntuples(rows); i++) {
        array_text(out, PQgetvalue(rows, i, 0));
    }
    for (size_t i = 0; i < mirror->pairs.count; i++) { /* and what somebody wanted of older ones */
        if (mirror->pairs.pair[i].id) {
            array_text(out, mirror->pairs.pair[i].card);
        }
    }
    array_end(out);
    PQclear(rows);
    return out->failed ? error_memory(err) : 0;
}

/* Asks what came: `first`: what is there already is brought once somebody wants it. */
static int poll_hub(struct hub_mirror *mirror, bool first, struct error *err)
{
    struct buf cards = BUF_INIT;
    int code = list_cards(mirror, &cards, err);
    const char *const values[] = {cards.text};
    PGresult *rows = code ? NULL : link_run(mirror->hub, HUB_BOUT_LIST, values, err);
    code = code ? code : rows ? 0 : link_failed(err);
    for (int i = 0; rows && i < PQntuples(rows) && !code; i++) {
        char card[48];
        struct pair *pair = NULL;
        int number = (int)link_number(rows, i, 1);
        int64_t arrivals = link_number(rows, i, 2);
        link_text(card, sizeof card, rows, i, 0);
        bool known = pairs_find(&mirror->pairs, card, number) != NULL;
        code = pairs_add(&mirror->pairs, card, number, &pair, err);
        if (!code && !known && first) {
            pair->arrival = arrivals;
            code = pair_head(pair, mirror->hub, mirror->log, err);
        } else if (!code && (!known || pair->arrival != arrivals)) {
            pair->due = true;
        }
    }
    PQclear(rows);
    buf_release(&cards);
    mirror->poll_at = mono_ms() + mirror->poll_ms;
    return code;
}

static int connect_hub(struct hub_mirror *mirror, struct error *err)
{
    struct pairs known = mirror->pairs;
    int code = hub_open(&mirror->hub, mirror->uri, HUB_READ, err);
    PGresult *row = code ? NULL : link_run(mirror->hub, HUB_STANDBY, NULL, err);
    code = code ? code : row ? 0 : link_failed(err);
    if (!code) {
        bool standby = link_flag(row, 0, 0);
        mirror->poll_ms = standby ? STANDBY_MS : POLL_MS;
        code = standby ? 0 : link_script(mirror->hub, "LISTEN ringtally", err);
    }
    PQclear(row);
    /* What was followed is followed on, and compared anew. */
    for (size_t i = 0; i < known.count; i++) {
        struct pair *pair = &known.pair[i];
        pair->due = pair->due || pair->id != 0;
        pair->id = 0;
    }
    return code ? code : poll_hub(mirror, known.count == 0, err);
}

static int step(struct hub_mirror *mirror, struct error *err)
{
    char name[80], card[48];
    int number = 0;
    struct wish wish;
    struct pair *pair = NULL;
    int code = link_wait(mirror->hub, LOOK_MS, name, sizeof name, err);
    while (code > 0) {
        code = bout_ref_parse(card, &number, name, NULL)
                   ? 0
                   : pairs_add(&mirror->pairs, card, number, &pair, err);
        if (pair) {
            pair->due = true;
        }
        code = code ? code : link_wait(mirror->hub, 0, name, sizeof name, err);
    }
    if (!code && mono_ms() >= mirror->poll_at) {
        code = poll_hub(mirror, false, err);
    }
    if (!code && next_wish(mirror, &wish)) {
        code = pairs_add(&mirror->pairs, wish.card, wish.number, &pair, err);
        code = code ? code : bring(mirror, pair, err);
    }
    for (size_t i = 0; i < mirror->pairs.count && !code; i++) {
        if (mirror->pairs.pair[i].due) {
            code = bring(mirror, &mirror->pairs.pair[i], err);
        }
    }
    return code;
}

static void nap(struct hub_mirror *mirror, int64_t ms)
{
    struct timespec pause = {.tv_nsec = LOOK_MS * 1000000L};
    for (int64_t until = mono_ms() + ms; mono_ms() < until;) {
        pthread_mutex_lock(&mirror->lock);
        bool stop = mirror->stop;
        pthread_mutex_unlock(&mirror->lock);
        if (stop) {
            return;
        }
        nanosleep(&pause, NULL);
    }
}

static void *run(void *argument)
{
    struct hub_mirror *mirror = argument;
    for (bool stop = false; !stop;) {
        struct error why = {0};
        int code = mirror->hub ? step(mirror, &why) : connect_hub(mirror, &why);
        if (code && code != ERROR_BUSY) {
            hub_close(mirror->hub);
            mirror->hub = NULL;
            if (strcmp(mirror->said, why.text) != 0) {
                mirror->say(mirror->user, why.text);
                snprintf(mirror->said, sizeof mirror->said, "%s", why.text);
            }
            nap(mirror, AGAIN_MS);
        } else if (!code) {
            mirror->said[0] = '\0';
        }
        pthread_mutex_lock(&mirror->lock);
        stop = mirror->stop;
        pthread_mutex_unlock(&mirror->lock);
    }
    return NULL;
}

int hub_mirror_open(struct hub_mirror **out, const char *uri, const char *path, hub_say *say,
                    void *user, struct error *err)
{
    struct hub_mirror *mirror = calloc(1, sizeof *mirror);
    if (!mirror) {
        return error_memory(err);
    }
    mirror->say = say;
    mirror->user = user;
    mirror->uri = strdup(uri);
    int code = mirror->uri && !pthread_mutex_init(&mirror->lock, NULL) ? 0 : error_memory(err);
    if (code) {
        free(mirror->uri);
        free(mirror);
        return code;
    }
    code = log_open(&mirror->log, path, LOG_CREATE, NULL, err);
    code = code ? code : connect_hub(mirror, err);
    if (!code && pthread_create(&mirror->thread, NULL, run, mirror)) {
        code = error_set(err, ERROR_FAILED, "no thread can be started");
    }
    mirror->runs = code == 0;
    if (code) {
        hub_mirror_close(mirror);
        return code;
    }
    *out = mirror;
    return 0;
}

void hub_mirror_close(struct hub_mirror *mirror)
{
    if (!mirror) {
        return;
    }
    if (mirror->runs) {
        pthread_mutex_lock(&mirror->lock);
        mirror->stop = true;
        pthread_mutex_unlock(&mirror->lock);
        pthread_join(mirror->thread, NULL);
    }
    hub_close(mirror->hub);
    pairs_forget(&mirror->pairs);
    free(mirror->pairs.pair);
    log_close(mirror->log);
    pthread_mutex_destroy(&mirror->lock);
    free(mirror->wishes);
    free(mirror->uri);
    free(mirror);
}
