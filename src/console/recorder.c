/* recorder.c: keeps the keys of a session as a key script. */
#include "ringtally/console/recorder.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

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
    bool renamed; /* the name that was asked for had something in it */
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

/* "NAME-2.keys" of "NAME.keys". */
static void name_again(char *out, size_t size, const char *path, int number)
{
    const char *slash = strrchr(path, '/');
    const char *dot = strrchr(slash ? slash : path, '.');
    size_t stem = dot && dot != path && dot[-1] != '/' ? (size_t)(dot - path) : strlen(path);
    snprintf(out, size, "%.*s-%d%s", (int)stem, path, number, path + stem);
}

/* Opens it for writing: a file that is new, or has nothing in it, or no file at all but a device or
 * a pipe. */
static int open_empty(const char *path)
{
    struct stat info = {0};
    int fd = open(path, O_WRONLY | O_CREAT | O_NONBLOCK | O_NOCTTY | O_CLOEXEC, 0600);
    bool known = fd >= 0 && fstat(fd, &info) == 0;
    if (fd >= 0 && (!known || (S_ISREG(info.st_mode) && info.st_size > 0))) {
        int cause = known ? EEXIST : errno;
        close(fd);
        errno = cause;
        fd = -1;
    }
    return fd;
}

static int open_file(struct recorder *recorder, const char *path, struct error *err)
{
    int fd = -1;
    snprintf(recorder->path, sizeof recorder->path, "%s", path);
    for (int number = 2; number < 1000; number++) {
        fd = open_empty(recorder->path);
        if (fd >= 0 || errno != EEXIST) {
            break;
        }
        name_again(recorder->path, sizeof recorder->path, path, number);
    }
    recorder->file = fd < 0 ? NULL : fdopen(fd, "w");
    if (!recorder->file) {
        error_set(err, ERROR_FAILED, "%s: %s", recorder->path, strerror(errno));
        if (fd >= 0) {
            close(fd);
        }
        return ERROR_FAILED;
    }
    return 0;
}

int recorder_open(struct recorder **out, const char *path, struct error *err)
{
    struct recorder *recorder = calloc(1, sizeof *recorder);
    if (!recorder) {
        return error_memory(err);
    }
    if (open_file(recorder, path, err)) {
        free(recorder);
        return ERROR_FAILED;
    }
    recorder->renamed = strcmp(recorder->path, path) != 0;
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

void recorder_key(struct recorder *recorder, int64_t at_ms, int32_t key, enum key_press press)
{
    char line[64];
    if (recorder) {
        keyscript_line(line, at_ms, key, press);
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
    if (recorder->renamed) {
        fprintf(stderr, "ringtally: the name was taken: the keys are in %s\n", recorder->path);
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
