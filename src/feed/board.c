/* board.c: the thread that reads the log, and who asks it. */
#include "feed/board.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/data/data.h"
#include "ringtally/log/signs.h"
#include "ringtally/base/text.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"

#define LOOK_MS    20    /* between two looks at the database */
#define OPEN_MS    500   /* between two tries to open it */
#define ASK_MS     2500  /* that an asker waits for a bout to be read */
#define IDLE_MS    60000 /* after which a bout that nobody asks for is let go */
#define MISSING_MS 200   /* the same of a name that is none: until who asked has heard it */
#define CARDS_MS   1000  /* between two readings of the cards */
#define CARDS_MOST 50    /* newest ones */

static void say(struct board *board, const char *line)
{
    if (board->say) {
        board->say(board->user, line);
    }
}

/* Notes why the database cannot be read, or (NULL) that it can. True: that is news. */
static bool note_trouble(struct board *board, const struct error *err)
{
    char line[400];
    const char *reason = err ? err->text : "";
    size_t path = strlen(board->path);
    if (strncmp(reason, board->path, path) == 0 && strncmp(reason + path, ": ", 2) == 0) {
        reason += path + 2; /* where it lies is nobody's business on the net */
    }
    pthread_mutex_lock(&board->lock);
    bool news = strcmp(board->trouble, reason) != 0;
    if (news) {
        board->trouble_ms = err ? when_now() : 0;
        snprintf(board->trouble, sizeof board->trouble, "%.*s", (int)sizeof board->trouble - 1,
                 reason);
        pthread_cond_broadcast(&board->for_asker);
    }
    if (!err) {
        board->read_ms = when_now();
    }
    pthread_mutex_unlock(&board->lock);
    if (news) {
        snprintf(line, sizeof line, err ? "the database cannot be read: %s" : "reading%s again",
                 err ? reason : " the database");
        say(board, line);
    }
    return news;
}

/* Lets go of the connection; what was read of a file that is gone must not be told. */
static void close_log(struct board *board)
{
    log_close(board->log);
    board->log = NULL;
    pthread_mutex_lock(&board->lock);
    for (int i = 0; i < board->watches; i++) {
        watch_reset(board->watch[i]);
    }
    doc_drop(board->cards);
    board->cards = NULL;
    pthread_mutex_unlock(&board->lock);
}

static void forget(struct board *board, int index)
{
    watch_free(board->watch[index]);
    board->watch[index] = board->watch[--board->watches];
}

/* Lets go of what nobody asks for, and of the least used where too many are held. One that was
 * asked for and is not read yet stays. */
static void forget_idle(struct board *board, int64_t now_ms)
{
    for (int i = board->watches; i-- > 0;) {
        struct watch *watch = board->watch[i];
        if (watch->listeners == 0 &&
            now_ms - watch->used_ms > (watch->missing ? MISSING_MS : IDLE_MS)) {
            forget(board, i);
        }
    }
    while (board->watches > BOARD_BOUTS) {
        int least = -1;
        for (int i = 0; i < board->watches; i++) {
            const struct watch *watch = board->watch[i];
            if (watch->listeners == 0 && (watch->loaded || watch->missing) &&
                now_ms - watch->used_ms > MISSING_MS &&
                (least < 0 || watch->used_ms < board->watch[least]->used_ms)) {
                least = i;
            }
        }
        if (least < 0) {
            break;
        }
        forget(board, least);
    }
}

/* Whether a bout that was not read yet is in the database by now; where not, it is asked for again
 * at the next look. */
static bool is_brought(struct board *board, const struct watch *watch)
{
    int there = board->bring ? board->bring(board->bringer, watch->card_id, watch->number) : 1;
    if (there == 0) {
        pthread_mutex_lock(&board->lock);
        board->asked = true;
        pthread_mutex_unlock(&board->lock);
    }
    return there != 0;
}

/* Reads what is new of every bout. `all`: the log has changed; else only those not read yet. Only
 * this thread takes watches away, so that reading needs no lock. */
static int read_bouts(struct board *board, bool all, bool *changed, struct error *err)
{
    pthread_mutex_lock(&board->lock);
    int count = board->watches;
    pthread_mutex_unlock(&board->lock);
    for (int i = 0; i < count; i++) {
        struct watch_news news = {0};
        bool differs = false;
        pthread_mutex_lock(&board->lock); /* the array may move, and grow */
        struct watch *watch = board->watch[i];
        bool fresh = !(watch->loaded || watch->missing);
        pthread_mutex_unlock(&board->lock);
        if (fresh ? !is_brought(board, watch) : !all) {
            continue;
        }
        int code = watch_read(&news, watch, board->log, err);
        if (!code) {
            pthread_mutex_lock(&board->lock);
            code = watch_take(watch, &news, &differs, err);
            pthread_cond_broadcast(&board->for_asker);
            pthread_mutex_unlock(&board->lock);
        }
        watch_news_release(&news);
        if (code) {
            return code;
        }
        *changed = *changed || differs;
    }
    return 0;
}

static int read_cards(struct board *board, struct error *err)
{
    char(*ids)[48] = NULL;
    size_t count = 0;
    struct buf text = BUF_INIT;
    int code = log_card_ids(board->log, &ids, &count, err);
    buf_adds(&text, "{\"cards\":[\n");
    for (size_t i = 0; i < count && i < CARDS_MOST && !code; i++) {
        struct card card = {0};
        code = log_card_get(board->log, ids[i], &card, err);
        buf_adds(&text, i ? ",\n" : "");
        code = code ? code : card_json(&text, &card, NULL, err);
        card_release(&card);
    }
    buf_adds(&text, "]}\n");
    free(ids);
    struct doc *doc = doc_of(&text);
    if (code || !doc) {
        doc_drop(doc);
        return code ? code : error_memory(err);
    }
    pthread_mutex_lock(&board->lock);
    struct doc *old = board->cards;
    board->cards = doc;
    board->cards_asked = false;
    pthread_cond_broadcast(&board->for_asker);
    pthread_mutex_unlock(&board->lock);
    doc_drop(old);
    return 0;
}

/* Signs of life, and what time alone changes. */
static int read_signs(struct board *board, bool *changed, struct error *err)
{
    struct pulse *pulse = NULL;
    int pulses = 0;
    int64_t now = mono_ms();
    int code = pulse_read(&pulse, &pulses, board->log, err);
    if (code) {
        return code;
    }
    pthread_mutex_lock(&board->lock);
    code = late_put(&board->pulsed, now, 0, pulse, pulses, err);
    const struct late_item *told =
        code ? NULL : late_take(&board->pulsed, now - board->air.delay_ms);
    board->pulse = told ? told->data : NULL;
    board->pulses = told ? told->count : 0;
    int count = board->watches;
    pthread_mutex_unlock(&board->lock);
    if (code) {
        return code;
    }
    for (int i = 0; i < count; i++) {
        pthread_mutex_lock(&board->lock);
        struct watch *watch = board->watch[i];
        pthread_mutex_unlock(&board->lock);
        if (!watch->loaded) {
            continue;
        }
        struct desk_sign *signs = calloc((size_t)watch->desk_count + 1, sizeof *signs);
        if (!signs) {
            return error_memory(err);
        }
        signs_read(board->log, watch->desks, watch->desk_count, when_now(), signs);
        pthread_mutex_lock(&board->lock);
        *changed = watch_tick(watch, signs, now) || *changed;
        pthread_mutex_unlock(&board->lock);
        free(signs);
    }
    return 0;
}

/* The former bouts of one bout that has been told without: with many of them it takes a while, so
 * never before the first telling, and one bout at a look. */
static int read_former(struct board *board, bool *changed, struct error *err)
{
    struct watch *lacks = NULL;
    struct former former;
    pthread_mutex_lock(&board->lock);
    for (int i = 0; i < board->watches && !lacks; i++) {
        struct watch *watch = board->watch[i];
        lacks = watch->loaded && !watch->has_former ? watch : NULL;
    }
    pthread_mutex_unlock(&board->lock);
    int code = lacks ? data_former(&former, board->log, &lacks->bout, err) : 0;
    if (lacks && !code) {
        pthread_mutex_lock(&board->lock);
        *changed = watch_former(lacks, &former) || *changed;
        pthread_mutex_unlock(&board->lock);
    }
    return code;
}

/* One look: at the file, the log, the signs of life. */
static int look(struct board *board, bool *changed, struct error *err)
{
    int64_t now = mono_ms();
    bool written = false;
    int code = 0;
    if (!board->log) {
        code = log_open(&board->log, board->path, LOG_READ, NULL, err);
        if (code) {
            return code;
        }
        board->seen = (struct log_watch){0};
        air_forget(&board->air);
        board->second_at_ms = 0;
    }
    code = log_watch_look(&board->seen, board->log, &written, err);
    code = code ? code : air_look(&board->air, board->log, written, &written, err);
    if (code) {
        return code;
    }
    pthread_mutex_lock(&board->lock);
    bool asked = board->asked;
    bool cards = board->cards_asked && (!board->cards || now >= board->cards_at_ms);
    board->asked = false;
    forget_idle(board, now);
    pthread_mutex_unlock(&board->lock);
    if (written || asked) {
        code = read_bouts(board, written, changed, err);
    }
    if (!code && cards) {
        board->cards_at_ms = now + CARDS_MS;
        code = read_cards(board, err);
    }
    if (!code && now >= board->second_at_ms) {
        board->second_at_ms = now + 1000;
        code = read_signs(board, changed, err);
        code = code ? code : read_former(board, changed, err);
    }
    if (!code) {
        log_watch_seen(&board->seen);
    }
    return code;
}

/* True: the streams are to hear that all is still well, or not. */
static bool beat_is_due(struct board *board)
{
    int64_t now = mono_ms();
    pthread_mutex_lock(&board->lock);
    bool due = now >= board->beat_at_ms;
    if (due) {
        board->beat++;
        board->beat_at_ms = now + BOARD_BEAT_MS;
    }
    pthread_mutex_unlock(&board->lock);
    return due;
}

static void *run(void *user)
{
    struct board *board = user;
    int64_t second_at_ms = 0;
    pthread_mutex_lock(&board->lock);
    while (!board->stop) {
        pthread_mutex_unlock(&board->lock);
        struct error err = {0};
        bool changed = false;
        int64_t now = mono_ms();
        if (board->log || now >= board->open_at_ms) {
            int code = look(board, &changed, &err);
            changed = note_trouble(board, code ? &err : NULL) || changed;
            if (code) {
                board->open_at_ms = mono_ms() + OPEN_MS;
                if (code != ERROR_BUSY) { /* a new connection is the cure for all else */
                    close_log(board);
                }
            }
        }
        changed = beat_is_due(board) || changed;
        if (changed) {
            board->changed(board->user);
        }
        if (now >= second_at_ms) {
            second_at_ms = now + 1000;
            board->second(board->user);
        }
        pthread_mutex_lock(&board->lock);
        if (!board->stop && !board->asked) {
            mono_wait(&board->for_reader, &board->lock, mono_ms() + LOOK_MS);
        }
    }
    pthread_mutex_unlock(&board->lock);
    return NULL;
}

static void drop_pulse(void *pulse, int count)
{
    pulse_free(pulse, count);
}

static bool init_locks(struct board *board)
{
    if (pthread_mutex_init(&board->lock, NULL)) {
        return false;
    }
    if (!mono_cond_init(&board->for_reader)) {
        pthread_mutex_destroy(&board->lock);
        return false;
    }
    if (!mono_cond_init(&board->for_asker)) {
        pthread_cond_destroy(&board->for_reader);
        pthread_mutex_destroy(&board->lock);
        return false;
    }
    return true;
}

static void board_free(struct board *board)
{
    for (int i = 0; i < board->watches; i++) {
        watch_free(board->watch[i]);
    }
    free(board->watch);
    late_release(&board->pulsed);
    air_forget(&board->air);
    doc_drop(board->cards);
    log_close(board->log);
    pthread_cond_destroy(&board->for_reader);
    pthread_cond_destroy(&board->for_asker);
    pthread_mutex_destroy(&board->lock);
    free(board->path);
    free(board);
}

int board_open(struct board **out, const struct board_setup *setup, struct error *err)
{
    sigset_t all, before;
    struct board *board = calloc(1, sizeof *board);
    if (!board) {
        return error_memory(err);
    }
    if (!init_locks(board)) {
        free(board);
        return error_memory(err);
    }
    board->bring = setup->bring;
    board->bringer = setup->bringer;
    board->air = (struct air){.holds = setup->holds, .delay_ms = setup->delay_ms};
    board->pulsed.drop = drop_pulse;
    board->changed = setup->changed;
    board->second = setup->second;
    board->say = setup->say;
    board->user = setup->user;
    board->path = malloc(strlen(setup->db) + 1);
    int code = board->path ? 0 : error_memory(err);
    if (!code) {
        memcpy(board->path, setup->db, strlen(setup->db) + 1);
        code = log_open(&board->log, board->path, LOG_READ, NULL, err); /* the reader goes on */
    }
    if (!code) { /* signals are the main thread's */
        sigfillset(&all);
        bool masked = pthread_sigmask(SIG_SETMASK, &all, &before) == 0;
        if (pthread_create(&board->thread, NULL, run, board)) {
            code = error_set(err, ERROR_FAILED, "the reading thread cannot be started");
        }
        if (masked) {
            pthread_sigmask(SIG_SETMASK, &before, NULL);
        }
    }
    if (code) {
        board_free(board);
        return code;
    }
    *out = board;
    return 0;
}

void board_stop(struct board *board)
{
    if (!board) {
        return;
    }
    pthread_mutex_lock(&board->lock);
    bool running = !board->stop;
    board->stop = true;
    pthread_cond_broadcast(&board->for_reader);
    pthread_cond_broadcast(&board->for_asker);
    pthread_mutex_unlock(&board->lock);
    if (running) {
        pthread_join(board->thread, NULL);
    }
}

void board_close(struct board *board)
{
    if (board) {
        board_stop(board);
        board_free(board);
    }
}

static struct watch *find_watch(const struct board *board, const char *card, int number)
{
    for (int i = 0; i < board->watches; i++) {
        struct watch *watch = board->watch[i];
        if (watch->number == number && strcmp(watch->card_id, card) == 0) {
            return watch;
        }
    }
    return NULL;
}

static enum answer down(const struct board *board, struct error *err)
{
    error_set(err, ERROR_FAILED, "the database cannot be read: %s", board->trouble);
    return ANSWER_DOWN;
}

/* Adds the bout for the reading thread to read. NULL: no room, or no memory. */
static struct watch *ask_for(struct board *board, const char *card, int number)
{
    if (board->watches == board->watch_room) {
        int room = board->watch_room ? 2 * board->watch_room : BOARD_BOUTS;
        struct watch **more =
            room > BOARD_MOST ? NULL : realloc(board->watch, (size_t)room * sizeof(struct watch *));
        if (!more) {
            return NULL;
        }
        board->watch = more;
        board->watch_room = room;
    }
    struct watch *watch = watch_new(card, number, &board->air);
    if (watch) {
        board->watch[board->watches++] = watch;
    }
    return watch;
}

enum answer board_enter(struct board *board, const char *card, int number, struct watch **out,
                        struct error *err)
{
    int64_t until = mono_ms() + ASK_MS;
    if (strlen(card) >= sizeof((struct watch *)0)->card_id) {
        error_set(err, ERROR_MISSING, "no bout of that name");
        return ANSWER_MISSING;
    }
    pthread_mutex_lock(&board->lock);
    struct watch *watch = NULL;
    enum answer answer = ANSWER_OK;
    for (;;) {
        watch = find_watch(board, card, number); /* the reader may have let it go meanwhile */
        if (board->trouble[0] || board->stop) {
            answer = down(board, err);
            break;
        }
        if (!watch && !(watch = ask_for(board, card, number))) {
            error_set(err, ERROR_BUSY, "too many bouts are asked for at once");
            answer = ANSWER_DOWN;
            break;
        }
        watch->used_ms = mono_ms();
        if (watch->missing) {
            error_set(err, ERROR_MISSING, "there is no bout %s/%d", card, number);
            answer = ANSWER_MISSING;
            break;
        }
        if (watch->loaded) {
            break;
        }
        if (mono_ms() >= until) {
            error_set(err, ERROR_BUSY, "the database takes too long to read");
            answer = ANSWER_DOWN;
            break;
        }
        board->asked = true;
        pthread_cond_signal(&board->for_reader);
        mono_wait(&board->for_asker, &board->lock, until);
    }
    if (answer != ANSWER_OK) {
        pthread_mutex_unlock(&board->lock);
        return answer;
    }
    *out = watch;
    return ANSWER_OK;
}

void board_leave(struct board *board)
{
    pthread_mutex_unlock(&board->lock);
}

enum answer board_doc(struct board *board, const char *card, int number, enum watch_what what,
                      int round, struct doc **out, struct freshness *fresh, struct error *err)
{
    struct watch *watch = NULL;
    enum answer answer = board_enter(board, card, number, &watch, err);
    if (answer == ANSWER_OK) {
        int code = watch_doc(watch, what, round, out, err);
        *fresh = watch_freshness(watch);
        board_leave(board);
        answer = !code ? ANSWER_OK : code == ERROR_USAGE ? ANSWER_MISSING : ANSWER_FAILED;
    }
    return answer;
}

enum answer board_window(struct board *board, const char *card, int number,
                         const struct window_ask *window, struct doc **out, struct freshness *fresh,
                         struct error *err)
{
    struct watch *watch = NULL;
    enum answer answer = board_enter(board, card, number, &watch, err);
    if (answer == ANSWER_OK) {
        int code = watch_window(watch, window, out, err);
        *fresh = watch_freshness(watch);
        board_leave(board);
        answer = !code ? ANSWER_OK : code == ERROR_MISSING ? ANSWER_MISSING : ANSWER_FAILED;
    }
    return answer;
}

enum answer board_log(struct board *board, const char *card, int number, const char *after,
                      struct doc **out, struct freshness *fresh, struct error *err)
{
    struct watch *watch = NULL;
    enum answer answer = board_enter(board, card, number, &watch, err);
    if (answer == ANSWER_OK) {
        int code = watch_log(watch, after, out, err);
        *fresh = watch_freshness(watch);
        board_leave(board);
        answer = code ? ANSWER_FAILED : ANSWER_OK;
    }
    return answer;
}

enum answer board_cards(struct board *board, struct doc **out, struct error *err)
{
    int64_t until = mono_ms() + ASK_MS;
    enum answer answer = ANSWER_OK;
    pthread_mutex_lock(&board->lock);
    board->cards_asked = true;
    while (!board->trouble[0] && !board->cards && !board->stop && mono_ms() < until) {
        board->asked = true;
        pthread_cond_signal(&board->for_reader);
        mono_wait(&board->for_asker, &board->lock, until);
    }
    if (board->trouble[0] || board->stop) {
        answer = down(board, err);
    } else if (!board->cards) {
        error_set(err, ERROR_BUSY, "the database takes too long to read");
        answer = ANSWER_DOWN;
    } else {
        *out = doc_hold(board->cards);
    }
    pthread_mutex_unlock(&board->lock);
    return answer;
}
