/* keeper.c: the writer thread. Whatever waits goes into one transaction; what failed is kept and
 * tried again. */
#include "ringtally/keeper.h"

#include <errno.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define LOOK_MS      500 /* between two looks for what other desks wrote */
#define RETRY_MS     250 /* after the first failure; doubles up to RETRY_MAX_MS */
#define RETRY_MAX_MS 2000
#define CLOSE_MS     3000 /* how long closing waits for a stalled disk */

struct entries {
    struct entry *entry;
    size_t count, room;
};

struct keeper {
    pthread_t thread;
    pthread_mutex_t mutex; /* guards all below but what is the thread's own */
    pthread_cond_t changed;
    char *path, *vfs;
    int64_t bout;
    int wake_fd;
    bool stop, ended;

    struct entries waiting; /* given, not taken by the thread yet */
    struct entries batch;   /* taken, not durable yet; the thread changes it under the mutex only */
    int64_t given, saved;
    int64_t waiting_since_ms, batch_since_ms; /* monotonic */
    char trouble[200];
    struct desk_row *new_desks; /* news for the caller */
    int new_desk_count;
    struct entries new_entries;

    struct log *log; /* the thread's own from here on */
    struct desk_row *desks;
    int desk_count;
    int64_t *marks;
    int64_t version;
};

static int64_t monotonic_ms(void)
{
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static bool entries_add(struct entries *list, const struct entry *entries, size_t count)
{
    if (list->count + count > list->room) {
        size_t room = list->room ? list->room : 64;
        while (room < list->count + count) {
            room *= 2;
        }
        struct entry *more = realloc(list->entry, room * sizeof *more);
        if (!more) {
            return false;
        }
        list->entry = more;
        list->room = room;
    }
    if (count > 0) {
        memcpy(list->entry + list->count, entries, count * sizeof *entries);
    }
    list->count += count;
    return true;
}

static void wake(const struct keeper *keeper)
{
    /* A full pipe wakes the reader just as well. */
    if (keeper->wake_fd >= 0 && write(keeper->wake_fd, "", 1) < 0 && errno != EAGAIN) {
        return;
    }
}

/* Waits for a change, at most `ms`; with the mutex held. */
static void wait_ms(struct keeper *keeper, int64_t ms)
{
    struct timespec until = {0};
    clock_gettime(CLOCK_MONOTONIC, &until);
    until.tv_sec += (time_t)(ms / 1000);
    until.tv_nsec += (long)(ms % 1000) * 1000000;
    if (until.tv_nsec >= 1000000000) {
        until.tv_sec++;
        until.tv_nsec -= 1000000000;
    }
    pthread_cond_timedwait(&keeper->changed, &keeper->mutex, &until);
}

static bool ensure_open(struct keeper *keeper, struct error *err)
{
    return keeper->log || log_open(&keeper->log, keeper->path, LOG_WRITE, keeper->vfs, err) == 0;
}

/* Desk rows that came since. The table is the order of their ids, so new ones stand at its end. */
static bool learn_desks(struct keeper *keeper, struct error *err)
{
    struct desk_row *rows = NULL;
    int count = 0;
    if (log_desks(keeper->log, keeper->bout, &rows, &count, err)) {
        return false;
    }
    if (count <= keeper->desk_count) {
        free(rows);
        return true;
    }
    int fresh = count - keeper->desk_count;
    int64_t *marks = realloc(keeper->marks, (size_t)count * sizeof *marks);
    if (!marks) {
        free(rows);
        return false;
    }
    keeper->marks = marks;
    memset(marks + keeper->desk_count, 0, (size_t)fresh * sizeof *marks);
    pthread_mutex_lock(&keeper->mutex);
    struct desk_row *news =
        realloc(keeper->new_desks, (size_t)(keeper->new_desk_count + fresh) * sizeof *news);
    if (news) {
        memcpy(news + keeper->new_desk_count, rows + keeper->desk_count,
               (size_t)fresh * sizeof *news);
        keeper->new_desks = news;
        keeper->new_desk_count += fresh;
    }
    pthread_mutex_unlock(&keeper->mutex);
    if (!news) {
        free(rows);
        return false;
    }
    free(keeper->desks);
    keeper->desks = rows;
    keeper->desk_count = count;
    return true;
}

/* Looks for what other connections have committed. Failing is no trouble here: the next look is
 * near. */
static void look(struct keeper *keeper)
{
    struct error err = {0};
    struct entry *entries = NULL;
    size_t count = 0;
    int64_t version = 0;
    if (!ensure_open(keeper, &err) || log_data_version(keeper->log, &version, &err) ||
        version == keeper->version) {
        return;
    }
    if (learn_desks(keeper, &err) && !log_entries(keeper->log, keeper->desks, keeper->desk_count,
                                                  keeper->marks, &entries, &count, &err)) {
        keeper->version = version;
        pthread_mutex_lock(&keeper->mutex);
        bool kept = entries_add(&keeper->new_entries, entries, count);
        pthread_mutex_unlock(&keeper->mutex);
        if (kept) {
            wake(keeper);
        }
    }
    free(entries);
}

/* Commits the batch; with the mutex held on entry and exit, but not while the disk works. */
static bool commit(struct keeper *keeper)
{
    struct error err = {0};
    pthread_mutex_unlock(&keeper->mutex);
    bool done =
        ensure_open(keeper, &err) &&
        log_append(keeper->log, keeper->desks, keeper->batch.entry, keeper->batch.count, &err) == 0;
    pthread_mutex_lock(&keeper->mutex);
    if (done) {
        for (size_t i = 0; i < keeper->batch.count; i++) {
            struct entry_name name = keeper->batch.entry[i].name;
            if (name.seq > keeper->marks[name.desk]) {
                keeper->marks[name.desk] = name.seq;
            }
        }
        keeper->saved += (int64_t)keeper->batch.count;
        keeper->batch.count = 0;
        keeper->trouble[0] = '\0';
    } else {
        snprintf(keeper->trouble, sizeof keeper->trouble, "%.199s", err.text);
    }
    pthread_cond_broadcast(&keeper->changed);
    wake(keeper);
    return done;
}

/* Moves what waits into the batch; with the mutex held. */
static void take_waiting(struct keeper *keeper)
{
    if (keeper->batch.count == 0) {
        struct entries empty = keeper->batch;
        keeper->batch = keeper->waiting;
        keeper->waiting = empty;
        keeper->batch_since_ms = keeper->waiting_since_ms;
    } else if (entries_add(&keeper->batch, keeper->waiting.entry, keeper->waiting.count)) {
        keeper->waiting.count = 0;
    }
}

static void *run(void *user)
{
    struct keeper *keeper = user;
    int64_t retry_ms = RETRY_MS;
    look(keeper);
    pthread_mutex_lock(&keeper->mutex);
    for (;;) {
        if (keeper->waiting.count == 0 && keeper->batch.count == 0) {
            if (keeper->stop) {
                break;
            }
            int64_t until = monotonic_ms() + LOOK_MS;
            while (keeper->waiting.count == 0 && !keeper->stop && monotonic_ms() < until) {
                wait_ms(keeper, until - monotonic_ms());
            }
            if (keeper->waiting.count == 0) {
                pthread_mutex_unlock(&keeper->mutex);
                look(keeper);
                pthread_mutex_lock(&keeper->mutex);
                continue;
            }
        }
        take_waiting(keeper);
        if (commit(keeper)) {
            retry_ms = RETRY_MS;
            continue;
        }
        if (keeper->stop) {
            break;
        }
        int64_t until = monotonic_ms() + retry_ms;
        while (!keeper->stop && monotonic_ms() < until) {
            wait_ms(keeper, until - monotonic_ms());
        }
        retry_ms = retry_ms * 2 > RETRY_MAX_MS ? RETRY_MAX_MS : retry_ms * 2;
    }
    pthread_mutex_unlock(&keeper->mutex);
    log_close(keeper->log);
    pthread_mutex_lock(&keeper->mutex);
    keeper->log = NULL;
    keeper->ended = true;
    pthread_cond_broadcast(&keeper->changed);
    pthread_mutex_unlock(&keeper->mutex);
    return NULL;
}

static void keeper_free(struct keeper *keeper)
{
    free(keeper->path);
    free(keeper->vfs);
    free(keeper->desks);
    free(keeper->marks);
    free(keeper->waiting.entry);
    free(keeper->batch.entry);
    free(keeper->new_desks);
    free(keeper->new_entries.entry);
    free(keeper);
}

static bool make_conditions(struct keeper *keeper)
{
    pthread_condattr_t attr;
    if (pthread_condattr_init(&attr)) {
        return false;
    }
    bool made = pthread_condattr_setclock(&attr, CLOCK_MONOTONIC) == 0 &&
                pthread_mutex_init(&keeper->mutex, NULL) == 0;
    if (made && pthread_cond_init(&keeper->changed, &attr)) {
        pthread_mutex_destroy(&keeper->mutex);
        made = false;
    }
    pthread_condattr_destroy(&attr);
    return made;
}

int keeper_open(struct keeper **out, const char *path, const char *vfs, int64_t bout,
                const struct desk_row *desks, int desk_count, const int64_t *marks, int wake_fd,
                struct error *err)
{
    size_t rows = (size_t)desk_count;
    struct keeper *keeper = calloc(1, sizeof *keeper);
    if (!keeper) {
        return error_memory(err);
    }
    keeper->bout = bout;
    keeper->wake_fd = wake_fd;
    keeper->desk_count = desk_count;
    keeper->version = -1;
    keeper->path = strdup(path);
    keeper->vfs = vfs ? strdup(vfs) : NULL;
    keeper->desks = malloc((rows ? rows : 1) * sizeof *keeper->desks);
    keeper->marks = malloc((rows ? rows : 1) * sizeof *keeper->marks);
    if (!keeper->path || (vfs && !keeper->vfs) || !keeper->desks || !keeper->marks) {
        keeper_free(keeper);
        return error_memory(err);
    }
    if (rows > 0) {
        memcpy(keeper->desks, desks, rows * sizeof *desks);
        memcpy(keeper->marks, marks, rows * sizeof *marks);
    }
    if (!make_conditions(keeper)) {
        keeper_free(keeper);
        return error_set(err, ERROR_FAILED, "no mutex for the writer thread");
    }
    int failed = pthread_create(&keeper->thread, NULL, run, keeper);
    if (failed) {
        pthread_cond_destroy(&keeper->changed);
        pthread_mutex_destroy(&keeper->mutex);
        keeper_free(keeper);
        return error_set(err, ERROR_FAILED, "no writer thread: %s", strerror(failed));
    }
    *out = keeper;
    return 0;
}

int keeper_give(struct keeper *keeper, const struct entry *entries, size_t count)
{
    pthread_mutex_lock(&keeper->mutex);
    if (keeper->waiting.count == 0) {
        keeper->waiting_since_ms = monotonic_ms();
    }
    bool taken = entries_add(&keeper->waiting, entries, count);
    if (taken) {
        keeper->given += (int64_t)count;
        pthread_cond_broadcast(&keeper->changed);
    }
    pthread_mutex_unlock(&keeper->mutex);
    return taken ? 0 : ERROR_MEMORY;
}

void keeper_state(struct keeper *keeper, struct keeper_state *out)
{
    memset(out, 0, sizeof *out);
    pthread_mutex_lock(&keeper->mutex);
    out->given = keeper->given;
    out->saved = keeper->saved;
    if (keeper->given > keeper->saved) {
        out->oldest_ms = monotonic_ms() - (keeper->batch.count > 0 ? keeper->batch_since_ms
                                                                   : keeper->waiting_since_ms);
    }
    out->failing = keeper->trouble[0] != '\0';
    memcpy(out->trouble, keeper->trouble, sizeof out->trouble);
    pthread_mutex_unlock(&keeper->mutex);
}

int keeper_news(struct keeper *keeper, struct desk_row **desks, int *desk_count,
                struct entry **entries, size_t *count)
{
    pthread_mutex_lock(&keeper->mutex);
    *desks = keeper->new_desks;
    *desk_count = keeper->new_desk_count;
    *entries = keeper->new_entries.entry;
    *count = keeper->new_entries.count;
    keeper->new_desks = NULL;
    keeper->new_desk_count = 0;
    keeper->new_entries = (struct entries){0};
    pthread_mutex_unlock(&keeper->mutex);
    return 0;
}

bool keeper_flush(struct keeper *keeper, int64_t ms)
{
    int64_t until = monotonic_ms() + ms;
    pthread_mutex_lock(&keeper->mutex);
    while (keeper->saved < keeper->given && monotonic_ms() < until) {
        wait_ms(keeper, until - monotonic_ms());
    }
    bool done = keeper->saved == keeper->given;
    pthread_mutex_unlock(&keeper->mutex);
    return done;
}

void keeper_close(struct keeper *keeper, struct entry **left, size_t *count)
{
    struct entries rest = {0};
    *left = NULL;
    *count = 0;
    if (!keeper) {
        return;
    }
    int64_t until = monotonic_ms() + CLOSE_MS;
    pthread_mutex_lock(&keeper->mutex);
    keeper->stop = true;
    pthread_cond_broadcast(&keeper->changed);
    while (!keeper->ended && monotonic_ms() < until) {
        wait_ms(keeper, until - monotonic_ms());
    }
    bool ended = keeper->ended;
    if (keeper->batch.count + keeper->waiting.count > 0 &&
        entries_add(&rest, keeper->batch.entry, keeper->batch.count) &&
        entries_add(&rest, keeper->waiting.entry, keeper->waiting.count)) {
        *left = rest.entry;
        *count = rest.count;
    }
    pthread_mutex_unlock(&keeper->mutex);
    if (!ended) {
        return; /* stuck in a stalled disk: it keeps its memory until the process ends */
    }
    pthread_join(keeper->thread, NULL);
    pthread_cond_destroy(&keeper->changed);
    pthread_mutex_destroy(&keeper->mutex);
    keeper_free(keeper);
}
