/* signs.c: signs of life of desks and of the feed, beside the database. */
#include "ringtally/log/signs.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "log/sql.h"

#define RECORD 16

/* "PATHEND", where links have led; NULL: out of memory. */
static char *beside(const char *path, const char *end)
{
    char *real = realpath(path, NULL);
    size_t size = strlen(real ? real : path) + strlen(end) + 1;
    char *out = malloc(size);
    if (out) {
        snprintf(out, size, "%s%s", real ? real : path, end);
    }
    free(real);
    return out;
}

static bool open_signs(struct log *log, int flags)
{
    if (log->sign_fd < 0) {
        log->sign_fd = log_open_beside(log, ".signs", flags);
    }
    return log->sign_fd >= 0;
}

int signs_leave(struct log *log, int64_t desk, int64_t now_ms, bool left, struct error *err)
{
    char record[RECORD + 1] = "";
    if (!open_signs(log, O_RDWR | O_CREAT)) {
        return error_set(err, ERROR_FAILED, "%s.signs: %s", log->path, strerror(errno));
    }
    int size = snprintf(record, sizeof record, "%014lld%c\n", (long long)now_ms, left ? 'x' : '+');
    if (size != RECORD || desk < 0) {
        return error_set(err, ERROR_FAILED, "%s.signs: no such moment or desk", log->path);
    }
    ssize_t wrote = pwrite(log->sign_fd, record, RECORD, (off_t)desk * RECORD);
    return wrote == RECORD ? 0
                           : error_set(err, ERROR_FAILED, "%s.signs: %s", log->path,
                                       wrote < 0 ? strerror(errno) : "no room");
}

/* The session's own record; all zero where it has none. */
static struct desk_sign read_sign(struct log *log, int64_t desk, int64_t now_ms)
{
    char record[RECORD + 1] = "";
    char *end = NULL;
    struct desk_sign sign = {.held = false};
    if (!open_signs(log, O_RDONLY) ||
        pread(log->sign_fd, record, RECORD, (off_t)desk * RECORD) != RECORD) {
        return sign;
    }
    long long seen_ms = strtoll(record, &end, 10);
    if (seen_ms > 0 && end == record + 14 && (*end == '+' || *end == 'x')) {
        sign.seen_ms = sign.session_ms = seen_ms;
        sign.left = *end == 'x';
        sign.age_ms = now_ms > seen_ms ? now_ms - seen_ms : 0;
    }
    return sign;
}

/* The thread that leaves the signs begins a moment after the desk was opened, which is a sign too.
 */
static void count_opening(struct desk_sign *sign, int64_t opened_ms, int64_t now_ms)
{
    if (sign->held && opened_ms > sign->seen_ms && opened_ms <= now_ms) {
        sign->seen_ms = opened_ms;
        sign->left = false;
        sign->age_ms = now_ms - opened_ms;
    }
}

static void say_same(struct desk_sign *to, const struct desk_sign *from)
{
    to->seen_ms = from->seen_ms;
    to->left = from->left;
    to->age_ms = from->age_ms;
}

void signs_read(struct log *log, const struct desk_row *desks, int count, int64_t now_ms,
                struct desk_sign *out)
{
    for (int i = 0; i < count; i++) {
        out[i] = read_sign(log, desks[i].id, now_ms);
        out[i].held = desks[i].root == i && log_desk_is_live(log, desks[i].id);
    }
    for (int i = 0; i < count; i++) {
        struct desk_sign *chain = &out[desks[i].root];
        if (out[i].seen_ms) {
            say_same(chain, &out[i]);
        }
        count_opening(chain, desks[i].opened_ms, now_ms);
    }
    for (int i = 0; i < count; i++) {
        say_same(&out[i], &out[desks[i].root]);
        out[i].held = out[desks[i].root].held;
    }
}

/* Replaces the file "PATHEND" as a whole, without waiting for the disk. */
static int write_note(const char *path, const char *end, const char *line, struct error *err)
{
    char end_new[16];
    snprintf(end_new, sizeof end_new, "%s-new", end);
    char *name = beside(path, end);
    char *next = beside(path, end_new);
    int code = name && next ? 0 : error_memory(err);
    int fd = -1;
    if (!code) { /* what one that was killed left, or a link that somebody laid, goes */
        unlink(next);
        fd = open(next, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0644);
    }
    if (!code) {
        size_t size = strlen(line);
        bool done = fd >= 0 && write(fd, line, size) == (ssize_t)size;
        done = fd >= 0 && close(fd) == 0 && done;
        if (!done || rename(next, name)) {
            code = error_set(err, ERROR_FAILED, "%s: %s", name, strerror(errno));
        }
    }
    free(name);
    free(next);
    return code;
}

static void clear_note(const char *path, const char *end)
{
    char *name = beside(path, end);
    if (name) {
        unlink(name);
    }
    free(name);
}

static bool read_note(const char *path, const char *end, char *line, size_t size)
{
    char *name = beside(path, end);
    int fd = name ? open(name, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOFOLLOW) : -1;
    ssize_t got = fd < 0 ? -1 : read(fd, line, size - 1);
    if (fd >= 0) {
        close(fd);
    }
    free(name);
    line[got > 0 ? got : 0] = '\0';
    return got > 0;
}

int feed_note_write(const char *path, const struct feed_note *note, struct error *err)
{
    char line[80];
    snprintf(line, sizeof line, "%d %lld %lld\n", (int)note->clients, (long long)note->read_ms,
             (long long)note->written_ms);
    return write_note(path, ".feed", line, err);
}

void feed_note_clear(const char *path)
{
    clear_note(path, ".feed");
}

bool feed_note_read(const char *path, struct feed_note *out)
{
    char line[80];
    long long read_ms = 0, written_ms = 0;
    int clients = 0;
    if (!read_note(path, ".feed", line, sizeof line) ||
        sscanf(line, "%d %lld %lld", &clients, &read_ms, &written_ms) != 3 || clients < 0) {
        return false;
    }
    *out = (struct feed_note){clients, read_ms, written_ms};
    return true;
}

int hub_note_write(const char *path, const struct hub_note *note, struct error *err)
{
    char line[96];
    snprintf(line, sizeof line, "%lld %lld %d %lld\n", (long long)note->waiting,
             (long long)note->oldest_ms, (int)note->away, (long long)note->until_ms);
    return write_note(path, ".hub", line, err);
}

void hub_note_clear(const char *path)
{
    clear_note(path, ".hub");
}

bool hub_note_read(const char *path, struct hub_note *out)
{
    char line[96];
    long long waiting = 0, oldest_ms = 0, until_ms = 0;
    int away = 0;
    if (!read_note(path, ".hub", line, sizeof line) ||
        sscanf(line, "%lld %lld %d %lld", &waiting, &oldest_ms, &away, &until_ms) != 4 ||
        waiting < 0) {
        return false;
    }
    *out = (struct hub_note){waiting, oldest_ms, away != 0, until_ms};
    return true;
}
