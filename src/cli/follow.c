/* follow.c: `ringtally counts --follow`: the counts for a pipe, a line whenever they changed. */
#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cli/cli.h"
#include "ringtally/base/hash.h"
#include "ringtally/base/mono.h"
#include "ringtally/log/log_watch.h"

#define LOOK_MS 200 /* between two looks at the database */

struct follower {
    struct reading *reading;
    struct log_watch watch;
    /* What the last line said. */
    size_t entries;
    int desks;
    struct clock_face face;
    uint64_t states; /* of the desks, folded into one number */
    bool closed;     /* nobody reads any more */
};

static uint64_t states_of(const struct desk_sign *signs, int count)
{
    uint64_t states = HASH_BEGIN;
    for (int i = 0; i < count; i++) {
        states = hash_step(states, sign_state(&signs[i]));
    }
    return states;
}

/* Reads again where the log has changed. *changed: a line is due. */
static int look(struct follower *follower, bool *changed, struct error *err)
{
    struct reading *reading = follower->reading;
    const struct desk_row *desks = NULL;
    const struct entry *entries = NULL;
    bool written = false;
    int code = log_watch_look(&follower->watch, reading->log, &written, err);
    if (!code) {
        code = written ? reading_refresh(reading, err) : reading_look(reading, err);
    }
    if (code) {
        return code == ERROR_BUSY ? 0 : code; /* the next look is near */
    }
    log_watch_seen(&follower->watch);
    size_t count = fold_entries(reading->fold, &entries);
    int desk_count = fold_desks(reading->fold, &desks);
    struct clock_face face = clock_read(fold_clock(reading->fold), reading->view.now_ms);
    uint64_t states = states_of(reading->signs, desk_count);
    *changed = count != follower->entries || desk_count != follower->desks ||
               states != follower->states || face.state != follower->face.state ||
               face.round != follower->face.round;
    follower->entries = count;
    follower->desks = desk_count;
    follower->states = states;
    follower->face = face;
    return 0;
}

static int write_line(struct follower *follower,
                      int (*writer)(struct buf *, const struct sheet_view *, struct error *),
                      struct error *err)
{
    struct buf out = BUF_INIT;
    struct error why = {0};
    int code = writer(&out, &follower->reading->view, &why);
    if (code ==
        ERROR_MISSING) { /* a window that has no beginning yet: until there is a knockdown */
        code = heartbeat_json(&out, &follower->reading->view, &why);
    }
    if (code) {
        error_set(err, code, "%s", why.text);
    }
    if (!code && (fwrite(out.text, 1, out.size, stdout) != out.size || fflush(stdout))) {
        follower->closed = errno == EPIPE;
        code = follower->closed
                   ? 0
                   : error_set(err, ERROR_FAILED, "standard output: %s", strerror(errno));
    }
    buf_release(&out);
    return code;
}

int cli_follow(struct reading *reading, int heartbeat_s, struct error *err)
{
    struct follower follower = {.reading = reading};
    bool changed = true;
    int code = look(&follower, &changed, err);
    changed = true;
    int64_t due_ms = mono_ms();
    while (!code && !follower.closed) {
        if (changed || mono_ms() >= due_ms) {
            code = write_line(&follower, changed ? counts_json : heartbeat_json, err);
            due_ms = mono_ms() + heartbeat_s * INT64_C(1000);
        }
        struct pollfd reader = {.fd = STDOUT_FILENO};
        changed = false;
        if (!code && poll(&reader, 1, LOOK_MS) > 0 &&
            reader.revents & (POLLERR | POLLHUP | POLLNVAL)) {
            break;
        }
        code = code ? code : look(&follower, &changed, err);
    }
    return code;
}
