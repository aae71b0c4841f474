/* recorder.c: keeps the keys of a session as a key script. */
#include "ringtally/console/recorder.h"

#include <errno.h>
#include <pthread.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/buf.h"
#include "ringtally/desk/keyscript.h"

struct recorder {
    pthread_t thread;
    pthread_mutex_t mutex;
    pthread_cond_t news;
    FILE *file;
    struct buf waiting; /* guarded by mutex, as is `end` */
    bool end;
    int failed; /* errno of the first failure; the thread's until it is joined */
    char path[4096];
};

static void *run(void *user)
{
    struct recorder *recorder = user;
    pthread_mutex_lock(&recorder->mutex);
    for (;;) {
        while (recorder->waiting.size == 0 && !recorder->end) {
            pthread_cond_wait(&recorder->news, &recorder->mutex);
        }
        struct buf taken = recorder->waiting;
        bool end = recorder->end;
        recorder->waiting = (struct buf)BUF_INIT;
        pthread_mutex_unlock(&recorder->mutex);
        if (!recorder->failed && taken.size > 0 &&
            (fwrite(taken.text, 1, taken.size, recorder->file) != taken.size ||
             fflush(recorder->file))) {
            recorder->failed = errno ? errno : EIO;
        }
        buf_release(&taken);
        if (end) {
            return NULL;
        }
        pthread_mutex_lock(&recorder->mutex);
    }
}

int recorder_open(struct recorder **out, const char *path, struct error *err)
{
    struct recorder *recorder = calloc(1, sizeof *recorder);
    if (!recorder) {
        return error_memory(err);
    }
    snprintf(recorder->path, sizeof recorder->path, "%s", path);
    recorder->file = fopen(path, "w");
    if (!recorder->file) {
        free(recorder);
        return error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
    }
    pthread_mutex_init(&recorder->mutex, NULL);
    pthread_cond_init(&recorder->news, NULL);
    int failed = pthread_create(&recorder->thread, NULL, run, recorder);
    if (failed) {
        fclose(recorder->file);
        free(recorder);
        return error_set(err, ERROR_FAILED, "no thread for %s: %s", path, strerror(failed));
    }
    *out = recorder;
    return 0;
}

void recorder_key(struct recorder *recorder, int64_t at_ms, int32_t key)
{
    char line[64];
    if (recorder) {
        keyscript_line(line, at_ms, key);
        pthread_mutex_lock(&recorder->mutex);
        buf_adds(&recorder->waiting, line);
        pthread_cond_signal(&recorder->news);
        pthread_mutex_unlock(&recorder->mutex);
    }
}

int recorder_close(struct recorder *recorder, struct error *err)
{
    int code = 0;
    if (!recorder) {
        return 0;
    }
    pthread_mutex_lock(&recorder->mutex);
    recorder->end = true;
    pthread_cond_signal(&recorder->news);
    pthread_mutex_unlock(&recorder->mutex);
    pthread_join(recorder->thread, NULL);
    bool lost = recorder->waiting.failed;
    if (fclose(recorder->file) && !recorder->failed) {
        recorder->failed = errno ? errno : EIO;
    }
    if (recorder->failed || lost) {
        code = error_set(err, ERROR_FAILED, "%s: the key script is incomplete: %s", recorder->path,
                         recorder->failed ? strerror(recorder->failed) : "out of memory");
    }
    buf_release(&recorder->waiting);
    pthread_mutex_destroy(&recorder->mutex);
    pthread_cond_destroy(&recorder->news);
    free(recorder);
    return code;
}
