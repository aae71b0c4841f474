/* keeper.c: the writer thread: commits in groups, and reads what others wrote. */
#include "ringtally/log/keeper.h"

#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/base/grow.h"
#include "ringtally/log/log_watch.h"
#include "ringtally/log/signs.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"
#include "log/sql.h"

#define LOOK_MS        500  /* between two looks at what other desks wrote */
#define RETRY_FIRST_MS 250  /* after a failure; then twice as long each time ... */
#define RETRY_LAST_MS  2000 /* ... up to this */
#define CLOSE_MS       2000 /* that closing waits for a stalled disk */

struct batch {
    struct entry *entries;
    size_t count, room;
    int64_t since_ms; /* monotonic: when its first entry was given */
};

struct keeper {
    /* Set at the start, then only read. */
    char *path, *vfs;
    int64_t bout;
    int wake_fd;
    enum log_mode mode;
    pthread_t thread;

    /* The thread's own. */
    struct log *log; /* NULL: to be opened (again) */
    struct desk_row *desks;
    int desk_count;
    int64_t arrival;       /* what was seen of the bout */
    struct entry_name own; /* the newest that was written here */
    struct log_watch watch;
    struct log_file found; /* the files of the first connection; all zero: none yet */
    struct error lost;     /* they are no more where they were: why */
    int64_t look_at_ms;    /* monotonic: when to look next */
    int64_t sign_at_ms;    /* monotonic: when to leave the next sign of life */

    /* Under the lock. `writing` is read by the thread without it, and changed by the thread with
     * it. */
    pthread_mutex_t lock;
    pthread_cond_t for_thread, for_caller;
    struct batch waiting, writing;
    struct saved_state state;
    struct desk_row *news_desks;
    int news_desk_count;
    struct entry *news;
    size_t news_count;
    int64_t sign_desk; /* the desk of the signs; 0: none */
    int64_t asked_ms;  /* monotonic: when the caller last asked for the state */
    bool stop;         /* write what waits, then end */
    bool ended;        /* the thread has */
    bool abandoned;    /* the caller is gone: the thread frees everything */
};

static bool batch_add(struct batch *batch, const struct entry *entries, size_t count)
{
    if (!grow_array(&batch->entries, sizeof *entries, batch->count, count, &batch->room)) {
        return false;
    }
    if (count > 0) {
        memcpy(batch->entries + batch->count, entries, count * sizeof *entries);
        batch->count += count;
    }
    return true;
}

static void keeper_free(struct keeper *keeper)
{
    if (!keeper) {
        return;
    }
    log_close(keeper->log);
    free(keeper->path);
    free(keeper->vfs);
    free(keeper->desks);
    free(keeper->waiting.entries);
    free(keeper->writing.entries);
    free(keeper->news_desks);
    free(keeper->news);
    pthread_cond_destroy(&keeper->for_thread);
    pthread_cond_destroy(&keeper->for_caller);
    pthread_mutex_destroy(&keeper->lock);
    free(keeper);
}

/* The lock is held, so that the caller's pipe is not closed under it. */
static void wake(const struct keeper *keeper)
{
    if (keeper->wake_fd >= 0 && !keeper->abandoned) {
        /* A full pipe wakes as well as one byte more. */
        ssize_t wrote = write(keeper->wake_fd, "", 1);
        (void)wrote;
    }
}

/* Appends `count` elements to a table. */
static bool extend(void **table, size_t size, size_t have, const void *more, size_t count)
{
    if (count == 0) {
        return true;
    }
    void *bigger = realloc(*table, (have + count) * size);
    if (!bigger) {
        return false;
    }
    *table = bigger;
    memcpy((char *)bigger + have * size, more, count * size);
    return true;
}

/* Leaves out what this keeper wrote itself. */
static void drop_own(const struct keeper *keeper, struct log_news *news)
{
    size_t kept = 0;
    for (size_t i = 0; i < news->entry_count; i++) {
        struct entry_name name = news->entries[i].name;
        if (name.desk != keeper->own.desk || name.seq > keeper->own.seq) {
            news->entries[kept++] = news->entries[i];
        }
    }
    news->entry_count = kept;
}

/* Puts the news down for the caller. */
static bool publish_news(struct keeper *keeper, const struct log_news *news)
{
    size_t known = (size_t)keeper->desk_count;
    size_t fresh = (size_t)news->desk_count - known;
    pthread_mutex_lock(&keeper->lock);
    bool done = extend((void **)&keeper->news_desks, sizeof *news->desks,
                       (size_t)keeper->news_desk_count, news->desks + known, fresh);
    if (done) {
        keeper->news_desk_count += (int)fresh;
        done = extend((void **)&keeper->news, sizeof *news->entries, keeper->news_count,
                      news->entries, news->entry_count);
    }
    if (done) {
        keeper->news_count += news->entry_count;
        if (fresh || news->entry_count) {
            wake(keeper);
        }
    }
    pthread_mutex_unlock(&keeper->lock);
    return done;
}

/* Those known are there: else it is another database, or an older state of this one. */
static bool same_desks(const struct keeper *keeper, const struct log_news *news)
{
    for (int i = 0; i < keeper->desk_count; i++) {
        if (i >= news->desk_count || strcmp(keeper->desks[i].uid, news->desks[i].uid) != 0) {
            return false;
        }
    }
    return true;
}

/* Brings what other desks have written since the last look. */
static int look(struct keeper *keeper, struct error *err)
{
    struct log_news news = {0};
    bool changed = false;
    int code = log_watch_look(&keeper->watch, keeper->log, &changed, err);
    if (code || !changed) {
        return code;
    }
    code = log_news(keeper->log, keeper->bout, keeper->arrival, &news, err);
    if (!code && !same_desks(keeper, &news)) {
        code = error_set(err, ERROR_LOST, "%s: desks of this bout are gone", keeper->path);
    }
    if (!code) {
        drop_own(keeper, &news);
        code = publish_news(keeper, &news) ? 0 : error_memory(err);
    }
    if (!code) { /* what was found is what is known from now on */
        struct desk_row *known = keeper->desks;
        keeper->desks = news.desks;
        keeper->desk_count = news.desk_count;
        keeper->arrival = news.arrival;
        news.desks = known;
        log_watch_seen(&keeper->watch);
    }
    log_news_release(&news);
    return code;
}

static int write_batch(struct keeper *keeper, struct error *err)
{
    struct batch *batch = &keeper->writing;
    int code = log_append(keeper->log, keeper->desks, batch->entries, batch->count, err);
    /* What was committed is only saved where it can be found. */
    code = code ? code : log_check(keeper->log, err);
    if (code) {
        return code;
    }
    if (batch->count > 0) {
        keeper->own = batch->entries[batch->count - 1].name;
    }
    pthread_mutex_lock(&keeper->lock);
    keeper->state.saved += (int64_t)batch->count;
    batch->count = 0;
    keeper->state.failing = false;
    keeper->state.trouble[0] = '\0';
    wake(keeper);
    pthread_cond_broadcast(&keeper->for_caller);
    pthread_mutex_unlock(&keeper->lock);
    return 0;
}

/* A sign of life, where the caller is alive too. Failing at it is no trouble: nothing that counts
 * hangs on it, and whoever looks for it says that it is missing. */
static void leave_sign(struct keeper *keeper, bool farewell)
{
    int64_t now = mono_ms();
    pthread_mutex_lock(&keeper->lock);
    int64_t desk = keeper->sign_desk;
    int64_t since_ms = now - keeper->asked_ms;
    bool due = desk && (farewell || now >= keeper->sign_at_ms);
    if (due && since_ms >= SIGN_EVERY_MS * 5 / 4) { /* a running clock asks each second by itself */
        wake(keeper);
    }
    pthread_mutex_unlock(&keeper->lock);
    if (due) {
        keeper->sign_at_ms = now + SIGN_EVERY_MS - LOOK_MS / 2;
        if (farewell || keeper->wake_fd < 0 || since_ms < SIGN_EVERY_MS * 5 / 2) {
            signs_leave(keeper->log, desk, when_now(), farewell, NULL);
        }
    }
}

/* How the feed does, for the screen. */
static void read_feed(struct keeper *keeper)
{
    struct feed_note note = {0};
    bool there = feed_note_read(keeper->path, &note);
    int64_t age_ms = when_now() - note.written_ms;
    there = there && age_ms < FEED_NOTE_STALE_MS && age_ms > -FEED_NOTE_STALE_MS;
    pthread_mutex_lock(&keeper->lock);
    struct saved_state *state = &keeper->state;
    if (there != state->feed || (there && note.clients != state->feed_clients)) {
        wake(keeper);
    }
    state->feed = there;
    state->feed_clients = there ? note.clients : 0;
    state->feed_read_ms = there ? note.read_ms : 0;
    pthread_mutex_unlock(&keeper->lock);
}

/* How far a hub is behind. */
static void read_hub(struct keeper *keeper)
{
    struct hub_note note = {0};
    bool there = hub_note_read(keeper->path, &note);
    int64_t late_ms = when_now() - note.until_ms;
    there = there && late_ms < HUB_NOTE_KEPT_MS && late_ms > -HUB_NOTE_KEPT_MS;
    bool lost = there && late_ms >= 0;
    if (!there) {
        note = (struct hub_note){0};
    }
    pthread_mutex_lock(&keeper->lock);
    struct saved_state *state = &keeper->state;
    if (there != state->hub || lost != state->hub_lost || note.waiting != state->hub_waiting ||
        note.away != state->hub_away) {
        wake(keeper);
    }
    state->hub = there;
    state->hub_lost = lost;
    state->hub_away = note.away;
    state->hub_waiting = note.waiting;
    state->hub_since_ms = note.oldest_ms;
    pthread_mutex_unlock(&keeper->lock);
}

/* A new connection: to the files of the first one, or to none. */
static int open_log(struct keeper *keeper, struct error *err)
{
    bool again = keeper->found.inode != 0;
    int code = again ? log_same_file(keeper->path, &keeper->found, err) : 0;
    code = code ? code : log_open(&keeper->log, keeper->path, keeper->mode, keeper->vfs, err);
    if (code) {
        return code;
    }
    if (keeper->mode != LOG_READ) {
        log_hold(keeper->log);
    }
    keeper->watch = (struct log_watch){0};
    code = again ? log_same_file(keeper->path, &keeper->found, err) : 0;
    keeper->found = keeper->log->found;
    return code ? code : look(keeper, err); /* before anything is written: is it this bout's? */
}

/* Writes what waits, looks at what others wrote, tidies. */
static int work(struct keeper *keeper, struct error *err)
{
    bool idle = keeper->writing.count == 0;
    int code = 0;
    if (keeper->lost.code) {
        return error_set(err, keeper->lost.code, "%s", keeper->lost.text);
    }
    if (!keeper->log) {
        code = open_log(keeper, err);
    }
    if (!code && !idle) {
        code = write_batch(keeper, err);
    }
    if (!code && mono_ms() >= keeper->look_at_ms) {
        code = look(keeper, err);
        keeper->look_at_ms = mono_ms() + LOOK_MS;
        read_feed(keeper);
        read_hub(keeper);
        if (!code) {
            leave_sign(keeper, false);
        }
    }
    return code || keeper->mode == LOG_READ ? code : log_move(keeper->log, idle, err);
}

/* Nothing more is written, and nothing that was counts as saved any more. */
static void lose(struct keeper *keeper, const struct error *err)
{
    if (!keeper->lost.code && keeper->log) {
        log_let_go(keeper->log);
    }
    keeper->lost = *err;
    pthread_mutex_lock(&keeper->lock);
    keeper->state.lost = true;
    keeper->state.saved = 0;
    pthread_mutex_unlock(&keeper->lock);
}

static void note_result(struct keeper *keeper, int code, const struct error *err)
{
    const char *reason = err->text;
    if (code == ERROR_LOST) {
        lose(keeper, err);
    }
    size_t size = strlen(keeper->path);
    if (strncmp(reason, keeper->path, size) == 0 && strncmp(reason + size, ": ", 2) == 0) {
        reason += size + 2; /* the screen has no room for it */
    }
    pthread_mutex_lock(&keeper->lock);
    if (code || keeper->state.failing) {
        keeper->state.failing = code != 0;
        snprintf(keeper->state.trouble, sizeof keeper->state.trouble, "%.*s",
                 (int)sizeof keeper->state.trouble - 1, code ? reason : "");
        wake(keeper);
    }
    pthread_mutex_unlock(&keeper->lock);
    if (code && code != ERROR_BUSY) {
        log_close(keeper->log); /* a new connection is the cure for many a trouble */
        keeper->log = NULL;
    }
}

/* Takes what waits into `writing`, once there is something to do. False: end. */
static bool next_task(struct keeper *keeper, int64_t retry_at_ms)
{
    pthread_mutex_lock(&keeper->lock);
    for (;;) {
        bool failing = retry_at_ms > 0;
        bool ready = keeper->waiting.count > 0 || keeper->writing.count > 0;
        int64_t moment = failing ? retry_at_ms : keeper->look_at_ms;
        if (keeper->stop || (ready && !failing) || mono_ms() >= moment) {
            break;
        }
        mono_wait(&keeper->for_thread, &keeper->lock, moment);
    }
    if (keeper->writing.count == 0) {
        struct batch taken = keeper->waiting;
        keeper->waiting = keeper->writing;
        keeper->writing = taken;
    }
    bool more = !keeper->stop || keeper->writing.count > 0;
    pthread_mutex_unlock(&keeper->lock);
    return more;
}

static bool is_stopping(struct keeper *keeper)
{
    pthread_mutex_lock(&keeper->lock);
    bool stop = keeper->stop;
    pthread_mutex_unlock(&keeper->lock);
    return stop;
}

static void *run(void *user)
{
    struct keeper *keeper = user;
    int64_t retry_ms = 0;    /* how long the last failure waits; 0: all is well */
    int64_t retry_at_ms = 0; /* monotonic; 0: all is well */
    while (next_task(keeper, retry_at_ms)) {
        bool last = is_stopping(keeper);
        struct error err = {0};
        int code = work(keeper, &err);
        note_result(keeper, code, &err);
        if (code && last) {
            break; /* the caller gets what is left */
        }
        retry_ms = !code ? 0 : retry_ms ? retry_ms * 2 : RETRY_FIRST_MS;
        retry_ms = retry_ms > RETRY_LAST_MS ? RETRY_LAST_MS : retry_ms;
        retry_at_ms = code ? mono_ms() + retry_ms : 0;
    }
    if (keeper->log) {
        leave_sign(keeper, true);
    }
    log_close(keeper->log);
    keeper->log = NULL;
    pthread_mutex_lock(&keeper->lock);
    keeper->ended = true;
    bool abandoned = keeper->abandoned;
    pthread_cond_broadcast(&keeper->for_caller);
    pthread_mutex_unlock(&keeper->lock);
    if (abandoned) {
        keeper_free(keeper);
    }
    return NULL;
}

static bool init_locks(struct keeper *keeper)
{
    if (pthread_mutex_init(&keeper->lock, NULL)) {
        return false;
    }
    if (!mono_cond_init(&keeper->for_thread)) {
        pthread_mutex_destroy(&keeper->lock);
        return false;
    }
    if (!mono_cond_init(&keeper->for_caller)) {
        pthread_cond_destroy(&keeper->for_thread);
        pthread_mutex_destroy(&keeper->lock);
        return false;
    }
    return true;
}

/* A copy of size bytes; NULL also where there is nothing to copy. */
static void *copy_of(const void *from, size_t size)
{
    void *copy = from && size ? malloc(size) : NULL;
    return copy ? memcpy(copy, from, size) : NULL;
}

/* Signals are the caller's: its thread is the one that they are to interrupt. */
static int start(struct keeper *keeper)
{
    sigset_t all, before;
    sigfillset(&all);
    if (pthread_sigmask(SIG_SETMASK, &all, &before)) {
        return -1;
    }
    int result = pthread_create(&keeper->thread, NULL, run, keeper);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return result;
}

static int keeper_begin(struct keeper **out, enum log_mode mode, const char *path, const char *vfs,
                        int64_t bout, const struct desk_row *desks, int desk_count, int64_t arrival,
                        int wake_fd, struct error *err)
{
    struct keeper *keeper = calloc(1, sizeof *keeper);
    if (!keeper) {
        return error_memory(err);
    }
    if (!init_locks(keeper)) {
        free(keeper);
        return error_memory(err);
    }
    keeper->path = copy_of(path, strlen(path) + 1);
    keeper->vfs = vfs ? copy_of(vfs, strlen(vfs) + 1) : NULL;
    keeper->desks = copy_of(desks, (size_t)desk_count * sizeof *desks);
    keeper->desk_count = desk_count;
    keeper->arrival = arrival;
    keeper->own = ENTRY_NONE;
    keeper->bout = bout;
    keeper->mode = mode;
    keeper->wake_fd = wake_fd;
    if (!keeper->path || (vfs && !keeper->vfs) || (desk_count && !keeper->desks)) {
        keeper_free(keeper);
        return error_memory(err);
    }
    if (start(keeper)) {
        keeper_free(keeper);
        return error_set(err, ERROR_FAILED, "the writer thread cannot be started");
    }
    *out = keeper;
    return 0;
}

int keeper_open(struct keeper **out, const char *path, const char *vfs, int64_t bout,
                const struct desk_row *desks, int desk_count, int64_t arrival, int wake_fd,
                struct error *err)
{
    return keeper_begin(out, LOG_WRITE, path, vfs, bout, desks, desk_count, arrival, wake_fd, err);
}

int keeper_follow(struct keeper **out, const char *path, int64_t bout, const struct desk_row *desks,
                  int desk_count, int64_t arrival, int wake_fd, struct error *err)
{
    return keeper_begin(out, LOG_READ, path, NULL, bout, desks, desk_count, arrival, wake_fd, err);
}

void keeper_sign(struct keeper *keeper, int64_t desk)
{
    pthread_mutex_lock(&keeper->lock);
    keeper->sign_desk = desk;
    keeper->asked_ms = mono_ms();
    pthread_mutex_unlock(&keeper->lock);
}

int keeper_give(struct keeper *keeper, const struct entry *entries, size_t count)
{
    pthread_mutex_lock(&keeper->lock);
    if (keeper->waiting.count == 0) {
        keeper->waiting.since_ms = mono_ms();
    }
    bool done = batch_add(&keeper->waiting, entries, count);
    if (done) {
        keeper->state.given += (int64_t)count;
        pthread_cond_signal(&keeper->for_thread);
    }
    pthread_mutex_unlock(&keeper->lock);
    return done ? 0 : ERROR_MEMORY;
}

void keeper_state(struct keeper *keeper, struct saved_state *out)
{
    pthread_mutex_lock(&keeper->lock);
    const struct batch *oldest = keeper->writing.count ? &keeper->writing : &keeper->waiting;
    *out = keeper->state;
    keeper->asked_ms = mono_ms();
    out->oldest_ms = oldest->count ? mono_ms() - oldest->since_ms : 0;
    pthread_mutex_unlock(&keeper->lock);
}

int keeper_news(struct keeper *keeper, struct desk_row **desks, int *desk_count,
                struct entry **entries, size_t *count)
{
    pthread_mutex_lock(&keeper->lock);
    *desks = keeper->news_desks;
    *desk_count = keeper->news_desk_count;
    *entries = keeper->news;
    *count = keeper->news_count;
    keeper->news_desks = NULL;
    keeper->news_desk_count = 0;
    keeper->news = NULL;
    keeper->news_count = 0;
    pthread_mutex_unlock(&keeper->lock);
    return 0;
}

bool keeper_flush(struct keeper *keeper, int64_t ms)
{
    int64_t deadline = mono_ms() + ms;
    pthread_mutex_lock(&keeper->lock);
    while (keeper->state.saved < keeper->state.given && !keeper->state.lost &&
           mono_ms() < deadline) {
        mono_wait(&keeper->for_caller, &keeper->lock, deadline);
    }
    bool saved = keeper->state.saved == keeper->state.given;
    pthread_mutex_unlock(&keeper->lock);
    return saved;
}

bool keeper_close(struct keeper *keeper, int64_t *from, size_t *count)
{
    *from = 0;
    *count = 0;
    if (!keeper) {
        return true;
    }
    int64_t deadline = mono_ms() + CLOSE_MS;
    pthread_mutex_lock(&keeper->lock);
    keeper->stop = true;
    pthread_cond_signal(&keeper->for_thread);
    while (!keeper->ended && mono_ms() < deadline) {
        mono_wait(&keeper->for_caller, &keeper->lock, deadline);
    }
    bool ended = keeper->ended;
    const struct batch *oldest = keeper->writing.count ? &keeper->writing : &keeper->waiting;
    *count = keeper->writing.count + keeper->waiting.count;
    *from = *count ? oldest->entries[0].name.seq : 0;
    pthread_t thread = keeper->thread;
    keeper->abandoned = !ended;
    pthread_mutex_unlock(&keeper->lock);
    if (ended) {
        pthread_join(thread, NULL);
        keeper_free(keeper);
    } else {
        pthread_detach(thread);
    }
    return ended;
}
