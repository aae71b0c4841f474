/* post.c: sends what a stream gives, an event at a time. */
#include "feed/post.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "feed/sender.h"
#include "ringtally/base/file.h"
#include "ringtally/base/grow.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/sha256.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

#define PIECE      ((size_t)16 * 1024) /* of a stream, read at once */
#define AGAIN_MS   500                 /* to the second try; then twice as long each time */
#define AGAIN_MOST 60000
#define LOOK_MS    1000 /* for a bout that is new, where nothing wakes */
#define POSITION   2048
#define FIRST      "0" /* the position before a bout's first entry */

/* A bout's log as the endpoint has it. */
struct place {
    char bout[PULSE_BOUT];
    char position[POSITION]; /* of the last event that was answered */
    int64_t newest_ms;       /* of the bout's newest entry when all was told; -1: not yet */
    struct stream *stream;   /* NULL: not open */
    struct buf text;         /* read of the stream, and not sent */
    bool told;               /* an entry was, since the stream was opened */
};

struct post {
    struct board *board;
    struct sender *sender;
    char *secret;
    char *state_path;
    void (*say)(void *user, const char *line);
    void *user;
    pthread_t thread;
    bool running;
    bool begun;   /* it was known somewhere what had been told before */
    bool unsaved; /* and said so */

    /* The thread's own. */
    struct place *place;
    size_t places, room;

    pthread_mutex_t lock; /* guards all below */
    pthread_cond_t wake;
    bool news;
    bool stop;
    struct post_state state;
};

static void tell(const struct post *post, const char *line)
{
    if (post->say) {
        post->say(post->user, line);
    }
}

static bool stops(void *user)
{
    struct post *post = user;
    pthread_mutex_lock(&post->lock);
    bool stop = post->stop;
    pthread_mutex_unlock(&post->lock);
    return stop;
}

/* Waits until that moment, or until woken where `news` may do so. */
static void wait_until(struct post *post, int64_t until_ms, bool news)
{
    pthread_mutex_lock(&post->lock);
    while (!post->stop && mono_ms() < until_ms && !(news && post->news)) {
        mono_wait(&post->wake, &post->lock, until_ms);
    }
    post->news = post->news && !news;
    pthread_mutex_unlock(&post->lock);
}

static struct place *find_place(struct post *post, const char *bout)
{
    for (size_t i = 0; i < post->places; i++) {
        if (strcmp(post->place[i].bout, bout) == 0) {
            return &post->place[i];
        }
    }
    if (!grow_array(&post->place, sizeof *post->place, post->places, 1, &post->room)) {
        return NULL;
    }
    struct place *place = &post->place[post->places++];
    *place = (struct place){.position = FIRST, .newest_ms = -1};
    snprintf(place->bout, sizeof place->bout, "%s", bout);
    return place;
}

/* "BOUT POSITION" a line. */
static void read_state(struct post *post)
{
    char *text = NULL, *rest = NULL;
    size_t size = 0;
    struct error err = {0};
    if (file_read(&text, &size, post->state_path, &err)) {
        return; /* there is none as a rule */
    }
    for (char *line = strtok_r(text, "\n", &rest); line; line = strtok_r(NULL, "\n", &rest)) {
        char *blank = strchr(line, ' ');
        if (!blank || blank - line >= PULSE_BOUT || strlen(blank + 1) >= POSITION) {
            continue;
        }
        *blank = '\0';
        struct place *place = find_place(post, line);
        if (place) {
            snprintf(place->position, sizeof place->position, "%s", blank + 1);
        }
    }
    post->begun = post->places > 0;
    free(text);
}

static void write_state(struct post *post)
{
    struct buf text = BUF_INIT;
    struct error err = {0};
    char folder[4096];
    const char *slash = strrchr(post->state_path, '/');
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - post->state_path) : 1,
             slash ? post->state_path : ".");
    for (size_t i = 0; i < post->places; i++) {
        if (strcmp(post->place[i].position, FIRST) != 0) {
            buf_addf(&text, "%s %s\n", post->place[i].bout, post->place[i].position);
        }
    }
    int code = text.failed
                   ? error_memory(&err)
                   : file_replace(slash == post->state_path ? "/" : folder,
                                  slash ? slash + 1 : post->state_path, text.text, text.size, &err);
    if (code && !post->unsaved) {
        char line[640];
        snprintf(line, sizeof line,
                 "what was posted cannot be noted, a new start may post it again: %s", err.text);
        tell(post, line);
    }
    post->unsaved = code != 0;
    buf_release(&text);
}

/* Whether that bout is the one that is on; and where its newest entry is. */
static bool look_at(struct post *post, const char *bout, int64_t *newest_ms)
{
    pthread_mutex_lock(&post->board->lock);
    const struct pulse *current = board_pulse(post->board);
    bool on = current && strcmp(current->bout, bout) == 0;
    for (int i = 0; i < post->board->pulses; i++) {
        if (strcmp(post->board->pulse[i].bout, bout) == 0) {
            *newest_ms = post->board->pulse[i].newest_ms;
        }
    }
    pthread_mutex_unlock(&post->board->lock);
    return on;
}

/* Makes places for bouts that are worked on. What was over when it was never posted before stays
 * untold. */
static void find_bouts(struct post *post)
{
    char(*bouts)[PULSE_BOUT] = NULL;
    int count = 0;
    pthread_mutex_lock(&post->board->lock);
    bouts = calloc((size_t)post->board->pulses + 1, sizeof *bouts);
    for (int i = 0; bouts && i < post->board->pulses; i++) {
        memcpy(bouts[count++], post->board->pulse[i].bout, PULSE_BOUT);
    }
    pthread_mutex_unlock(&post->board->lock);
    for (int i = 0; i < count; i++) {
        size_t before = post->places;
        struct place *place = find_place(post, bouts[i]);
        int64_t newest_ms = 0;
        if (place && post->places > before && !look_at(post, bouts[i], &newest_ms) &&
            !post->begun) {
            place->newest_ms = newest_ms;
        }
    }
    post->begun = post->begun || count > 0;
    free(bouts);
}

static void close_stream(struct place *place)
{
    stream_close(place->stream);
    place->stream = NULL;
    place->told = false;
    buf_release(&place->text);
}

static bool open_stream(struct post *post, struct place *place)
{
    char card[PULSE_BOUT];
    struct error err = {0};
    if (place->stream) {
        return true;
    }
    memcpy(card, place->bout, sizeof card);
    char *slash = strrchr(card, '/');
    if (!slash) {
        return false;
    }
    *slash = '\0';
    return stream_open(&place->stream, post->board, card, atoi(slash + 1), place->position, false,
                       &err) == ANSWER_OK;
}

/* An event as the stream has it; pointers into the text, of `size` bytes without what ends it. */
struct event {
    const char *id, *name, *data;
    int id_size, name_size, data_size;
    size_t size;
};

/* False: no whole event stands there. */
static bool next_event(struct event *out, const struct buf *text)
{
    const char *end = text->size ? strstr(text->text, "\n\n") : NULL;
    *out = (struct event){.size = end ? (size_t)(end - text->text) + 2 : 0};
    for (const char *at = text->text; end && at < end;) {
        const char *line = at;
        int size = (int)strcspn(at, "\n");
        at += size + 1;
        if (strncmp(line, "id: ", 4) == 0) {
            out->id = line + 4;
            out->id_size = size - 4;
        } else if (strncmp(line, "event: ", 7) == 0) {
            out->name = line + 7;
            out->name_size = size - 7;
        } else if (strncmp(line, "data: ", 6) == 0) {
            out->data = line + 6;
            out->data_size = size - 6;
        }
    }
    return end != NULL;
}

static bool is_named(const struct event *event, const char *name)
{
    return event->name && (size_t)event->name_size == strlen(name) &&
           strncmp(event->name, name, strlen(name)) == 0;
}

/* A name of its own for each event: the same one again where the same is sent again. Counts that
 * follow no entry differ by their moment, which the data begins with. */
static void name_delivery(char out[SHA256_TEXT], const struct place *place,
                          const struct event *event)
{
    struct buf text = BUF_INIT;
    buf_addf(&text, "%s\n%.*s\n%.*s\n", place->bout, event->id_size, event->id, event->name_size,
             event->name);
    if (!event->id) {
        buf_adds(&text, place->position);
    } else if (!is_named(event, "entry")) {
        buf_add(&text, event->data, (size_t)event->data_size);
    }
    sha256_text(out, text.failed ? "" : text.text, text.size);
    out[32] = '\0'; /* half of it tells them apart as well */
    buf_release(&text);
}

static void note_answer(struct post *post, const char *trouble)
{
    char line[300] = "";
    pthread_mutex_lock(&post->lock);
    struct post_state *state = &post->state;
    bool news = (trouble != NULL) != (state->failing_ms != 0) ||
                (trouble && strcmp(trouble, state->trouble) != 0);
    if (!trouble) {
        state->answered++;
    }
    state->failing_ms = !trouble ? 0 : state->failing_ms ? state->failing_ms : when_now();
    snprintf(state->trouble, sizeof state->trouble, "%s", trouble ? trouble : "");
    pthread_mutex_unlock(&post->lock);
    if (news) {
        snprintf(line, sizeof line, trouble ? "the endpoint is tried again: %s" : "%s",
                 trouble ? trouble : "the endpoint answers again");
        tell(post, line);
    }
}

/* Sends one event until it is answered. False: the feed ends. */
static bool deliver(struct post *post, struct place *place, const struct event *event)
{
    struct sent sent = {.secret = post->secret};
    struct buf body = BUF_INIT;
    int64_t pause_ms = AGAIN_MS;
    name_delivery(sent.id, place, event);
    buf_addf(&body, "{\"delivery\":\"%s\",\"event\":\"%.*s\",\"bout\":\"%s\",\"id\":", sent.id,
             event->name_size, event->name, place->bout);
    buf_addf(&body, event->id ? "\"%.*s\"" : "null%.*s", event->id_size,
             event->id ? event->id : "");
    buf_addf(&body, ",\"data\":%.*s}\n", event->data_size, event->data);
    sent.body = body.text;
    sent.size = body.size;
    bool done = false;
    while (!done && !stops(post)) {
        done = !body.failed && sender_send(post->sender, &sent);
        note_answer(post, done ? NULL : body.failed ? "out of memory" : sent.trouble);
        if (!done) { /* between half of the pause and all of it, so that many do not come at once */
            int64_t asked_ms = sent.after_s * INT64_C(1000);
            int64_t wait_ms =
                pause_ms / 2 + (int64_t)sender_random(post->sender) % (pause_ms / 2 + 1);
            wait_until(post, mono_ms() + (asked_ms > wait_ms ? asked_ms : wait_ms), false);
            pause_ms = pause_ms * 2 < AGAIN_MOST ? pause_ms * 2 : AGAIN_MOST;
        }
    }
    buf_release(&body);
    return done;
}

/* Sends the events that were read. False: the feed ends. */
static bool send_events(struct post *post, struct place *place, bool on)
{
    struct event event;
    while (next_event(&event, &place->text)) {
        bool entry = is_named(&event, "entry");
        /* Of a bout that is over, counts are told where an entry came; beats are for who waits. */
        bool wanted = entry || is_named(&event, "anew") ||
                      (is_named(&event, "counts") && (on || place->told));
        place->told = place->told || entry;
        if (wanted && !deliver(post, place, &event)) {
            return false;
        }
        if (wanted && event.id && event.id_size < POSITION) {
            snprintf(place->position, sizeof place->position, "%.*s", event.id_size, event.id);
            write_state(post);
        }
        memmove(place->text.text, place->text.text + event.size, place->text.size - event.size + 1);
        place->text.size -= event.size;
    }
    return true;
}

/* Tells what there is of a bout. The bout that is on keeps its stream. */
static void tell_bout(struct post *post, struct place *place)
{
    int64_t newest_ms = 0;
    bool on = look_at(post, place->bout, &newest_ms);
    if (!on && newest_ms == place->newest_ms) {
        if (place->stream) {
            close_stream(place);
        }
        return;
    }
    char *piece = open_stream(post, place) ? malloc(PIECE) : NULL;
    while (piece) {
        long got = stream_read(place->stream, piece, PIECE);
        if (got > 0) {
            buf_add(&place->text, piece, (size_t)got);
        }
        if (got < 0 || place->text.failed || (got > 0 && !send_events(post, place, on))) {
            close_stream(place); /* opened again where the endpoint is */
            break;
        }
        if (got == 0) {
            place->newest_ms = newest_ms;
            break;
        }
    }
    free(piece);
}

static void *run(void *user)
{
    struct post *post = user;
    while (!stops(post)) {
        find_bouts(post);
        for (size_t i = 0; i < post->places && !stops(post); i++) {
            tell_bout(post, &post->place[i]);
        }
        wait_until(post, mono_ms() + LOOK_MS, true);
    }
    for (size_t i = 0; i < post->places; i++) {
        if (post->place[i].stream) {
            close_stream(&post->place[i]);
        }
    }
    return NULL;
}

static char *join(const char *text, const char *end)
{
    size_t size = strlen(text) + strlen(end) + 1;
    char *copy = malloc(size);
    if (copy) {
        snprintf(copy, size, "%s%s", text, end);
    }
    return copy;
}

int post_open(struct post **out, const struct post_setup *setup, struct error *err)
{
    sigset_t all, before;
    struct post *post = calloc(1, sizeof *post);
    if (!post) {
        return error_memory(err);
    }
    if (pthread_mutex_init(&post->lock, NULL)) {
        free(post);
        return error_memory(err);
    }
    if (!mono_cond_init(&post->wake)) {
        pthread_mutex_destroy(&post->lock);
        free(post);
        return error_memory(err);
    }
    post->board = setup->board;
    post->say = setup->say;
    post->user = setup->user;
    post->secret = join(setup->secret, "");
    post->state_path = join(setup->db, ".post");
    int code = post->secret && post->state_path ? 0 : error_memory(err);
    code = code ? code : sender_open(&post->sender, setup->url, stops, post, err);
    if (!code) {
        read_state(post);
        sigfillset(&all);
        bool masked = pthread_sigmask(SIG_SETMASK, &all, &before) == 0;
        post->running = pthread_create(&post->thread, NULL, run, post) == 0;
        if (masked) {
            pthread_sigmask(SIG_SETMASK, &before, NULL);
        }
        code = post->running ? 0
                             : error_set(err, ERROR_FAILED, "the posting thread cannot be started");
    }
    if (code) {
        post_close(post);
        return code;
    }
    *out = post;
    return 0;
}

void post_wake(struct post *post)
{
    pthread_mutex_lock(&post->lock);
    post->news = true;
    pthread_cond_signal(&post->wake);
    pthread_mutex_unlock(&post->lock);
}

void post_look(struct post *post, struct post_state *out)
{
    pthread_mutex_lock(&post->lock);
    *out = post->state;
    pthread_mutex_unlock(&post->lock);
}

void post_close(struct post *post)
{
    if (!post) {
        return;
    }
    pthread_mutex_lock(&post->lock);
    post->stop = true;
    pthread_cond_broadcast(&post->wake);
    pthread_mutex_unlock(&post->lock);
    if (post->running) {
        pthread_join(post->thread, NULL);
    }
    sender_close(post->sender);
    free(post->place);
    free(post->secret);
    free(post->state_path);
    pthread_cond_destroy(&post->wake);
    pthread_mutex_destroy(&post->lock);
    free(post);
}
