/* events.c: server-sent events of one bout (WHATWG HTML, section 9.2).
 *
 * Events: `entry` (one entry of the log, with an id), `counts` (the counts as they stand, with the
 * id of the newest entry), `beat` (who is alive), `trouble` (why the database cannot be read). A
 * stream holds a place in the bout's log and no text of its own but the event it is at: a client
 * that does not read costs nothing, and of counts it gets the newest when it reads again.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "feed/board.h"
#include "ringtally/base/when.h"

struct stream {
    struct board *board;
    struct watch *watch;
    int64_t epoch, retold;
    int64_t *marks; /* while catching up: highest number sent of each desk; else NULL */
    int mark_count;
    int64_t *told;  /* of the desks known when it came: highest number the client has; or NULL */
    int told_count; /* desks in it */
    size_t sought;  /* how many had arrived then: all later ones are news, whatever their number */
    size_t next;    /* index in `arrived` */
    int64_t generation; /* of the counts sent last; -1: none */
    int64_t beat;
    bool current; /* ends when another bout is on */
    bool anew;    /* the position was void: say so, then all from the start */
    struct doc *chunk;
    size_t done; /* of the chunk */
};

/* "event: NAME\ndata: TEXT\n\n", with the position as id where `marks` are given. The text is one
 * line. */
static struct doc *event(const char *name, const struct watch *watch, const int64_t *marks,
                         const char *data, size_t size)
{
    struct buf text = BUF_INIT;
    while (size > 0 && (data[size - 1] == '\n' || data[size - 1] == '\r')) {
        size--;
    }
    if (marks) {
        buf_adds(&text, "id: ");
        watch_position(&text, watch, watch->arrived_count, marks);
        buf_adds(&text, "\n");
    }
    buf_addf(&text, "event: %s\ndata: ", name);
    buf_add(&text, data, size);
    buf_adds(&text, "\n\n");
    return doc_of(&text);
}

static struct doc *counts_event(struct watch *watch)
{
    struct slot *slot = &watch->counts_event;
    struct doc *counts = NULL;
    if (!slot->doc || slot->generation != watch->generation) {
        if (watch_doc(watch, WATCH_COUNTS, 0, &counts, NULL)) {
            return NULL;
        }
        struct doc *doc = event("counts", watch, watch->marks, counts->text, counts->size);
        doc_drop(counts);
        if (!doc) {
            return NULL;
        }
        doc_drop(slot->doc);
        *slot = (struct slot){doc, watch->generation};
    }
    return doc_hold(slot->doc);
}

static struct doc *beat_event(struct watch *watch, int64_t beat)
{
    struct slot *slot = &watch->beat_event;
    if (!slot->doc || slot->generation != beat) {
        struct buf text = BUF_INIT;
        struct sheet_view view = watch_view(watch, 0);
        struct doc *doc = NULL;
        if (heartbeat_json(&text, &view, NULL) == 0) {
            doc = event("beat", watch, NULL, text.text, text.size);
        }
        buf_release(&text);
        if (!doc) {
            return NULL;
        }
        doc_drop(slot->doc);
        *slot = (struct slot){doc, beat};
    }
    return doc_hold(slot->doc);
}

static struct doc *trouble_event(const struct board *board)
{
    char moment[WHEN_SIZE];
    struct buf text = BUF_INIT;
    buf_addf(&text, "{\"trouble\":\"");
    for (const char *at = board->trouble; *at; at++) {
        buf_addf(&text, *at == '"' || *at == '\\' ? "\\%c" : "%c", *at);
    }
    buf_addf(&text, "\",\"since\":\"%s\"}", when_rfc3339(moment, board->trouble_ms));
    struct doc *doc = text.failed ? NULL : event("trouble", NULL, NULL, text.text, text.size);
    buf_release(&text);
    return doc;
}

/* The next entry of a stream that is behind: one above its marks. */
static struct doc *catch_up(struct stream *stream)
{
    struct watch *watch = stream->watch;
    while (stream->next < watch->arrived_count) {
        size_t index = stream->next++;
        struct entry_name name = watch->arrived[index];
        if (name.desk >= stream->mark_count) { /* a desk that came meanwhile */
            int64_t *more =
                realloc(stream->marks, (size_t)watch->desk_count * sizeof *stream->marks);
            if (!more) {
                return NULL;
            }
            memset(more + stream->mark_count, 0,
                   (size_t)(watch->desk_count - stream->mark_count) * sizeof *more);
            stream->marks = more;
            stream->mark_count = watch->desk_count;
        }
        int64_t *mark = &stream->marks[name.desk];
        if (index >= stream->sought || name.desk >= stream->told_count ||
            name.seq > stream->told[name.desk]) {
            *mark = name.seq > *mark ? name.seq : *mark;
            return watch_event(watch, index, stream->marks);
        }
    }
    free(stream->marks); /* it knows all that arrived: from here on it goes with the others */
    stream->marks = NULL;
    return NULL;
}

/* The marks behind arrived[0..count), for a stream whose next events are kept as text no more. */
static bool fall_behind(struct stream *stream)
{
    const struct watch *watch = stream->watch;
    stream->marks = calloc((size_t)watch->desk_count + 1, sizeof *stream->marks);
    if (!stream->marks) {
        return false;
    }
    stream->mark_count = watch->desk_count;
    for (size_t i = 0; i < stream->next; i++) {
        struct entry_name name = watch->arrived[i];
        int64_t *mark = &stream->marks[name.desk];
        *mark = name.seq > *mark ? name.seq : *mark;
    }
    stream->sought = stream->next;
    return true;
}

/* The text of the event arrived[index], made once for all streams. */
static struct doc *recent_event(struct watch *watch, size_t index)
{
    struct doc **text = &watch->recent[index % WATCH_RECENT];
    if (!*text) {
        int64_t *marks = calloc((size_t)watch->desk_count + 1, sizeof *marks);
        for (size_t i = 0; marks && i <= index; i++) {
            struct entry_name name = watch->arrived[i];
            marks[name.desk] = name.seq > marks[name.desk] ? name.seq : marks[name.desk];
        }
        *text = marks ? watch_event(watch, index, marks) : NULL;
        free(marks);
    }
    return *text ? doc_hold(*text) : NULL;
}

/* What it was told is void: all again. */
static void tell_again(struct stream *stream)
{
    free(stream->marks);
    free(stream->told);
    stream->marks = stream->told = NULL;
    stream->told_count = 0;
    stream->next = stream->sought = 0;
    stream->generation = -1;
    stream->retold = stream->watch->retold;
    stream->anew = true;
}

/* What is due next, or NULL. The board is locked. */
static struct doc *next_event(struct stream *stream)
{
    struct board *board = stream->board;
    struct watch *watch = stream->watch;
    struct doc *doc = NULL;
    bool beat = stream->beat != board->beat;
    if (board->trouble[0]) {
        stream->beat = board->beat;
        return beat ? trouble_event(board) : NULL;
    }
    if (stream->retold != watch->retold) {
        tell_again(stream);
    }
    if (stream->anew) {
        stream->anew = false;
        return event("anew", NULL, NULL, "{}", 2);
    }
    if (!stream->marks && watch->arrived_count - stream->next > WATCH_RECENT &&
        !fall_behind(stream)) {
        return NULL;
    }
    if (stream->marks && (doc = catch_up(stream))) {
        return doc;
    }
    if (!stream->marks && stream->next < watch->arrived_count) {
        doc = recent_event(watch, stream->next);
        stream->next += doc != NULL;
        return doc;
    }
    if (stream->generation != watch->generation) {
        doc = counts_event(watch);
        stream->generation = doc ? watch->generation : stream->generation;
        return doc;
    }
    if (beat) {
        stream->beat = board->beat;
        return beat_event(watch, board->beat);
    }
    return NULL;
}

enum answer stream_open(struct stream **out, struct board *board, const char *card, int number,
                        const char *position, bool current, struct error *err)
{
    static const char first[] = "retry: 1000\n\n";
    struct watch *watch = NULL;
    enum answer answer = board_enter(board, card, number, &watch, err);
    if (answer != ANSWER_OK) {
        return answer;
    }
    struct stream *stream = calloc(1, sizeof *stream);
    if (stream) {
        stream->board = board;
        stream->watch = watch;
        stream->epoch = watch->epoch;
        stream->retold = watch->retold;
        stream->current = current;
        stream->generation = -1;
        stream->beat = board->beat;
        stream->next = watch->arrived_count;
        stream->chunk = doc_new(first, sizeof first - 1);
        if (position) {
            stream->mark_count = watch->desk_count;
            stream->told_count = watch->desk_count;
            stream->marks = calloc((size_t)watch->desk_count + 1, sizeof *stream->marks);
            stream->told = calloc((size_t)watch->desk_count + 1, sizeof *stream->told);
            stream->sought = watch->arrived_count;
            stream->next = 0;
        }
        if (stream->marks && stream->told) {
            stream->anew = !watch_seek(watch, position, stream->marks);
            memcpy(stream->told, stream->marks, (size_t)watch->desk_count * sizeof *stream->told);
        }
    }
    if (!stream || !stream->chunk || (position && (!stream->marks || !stream->told))) {
        if (stream) {
            doc_drop(stream->chunk);
            free(stream->marks);
            free(stream->told);
        }
        free(stream);
        error_memory(err);
        answer = ANSWER_FAILED;
    } else {
        watch->listeners++;
        *out = stream;
    }
    board_leave(board);
    return answer;
}

/* Whether its bout is still the one that is on. */
static bool is_current(const struct stream *stream)
{
    char bout[PULSE_BOUT];
    const struct pulse *pulse = board_pulse(stream->board);
    snprintf(bout, sizeof bout, "%s/%d", stream->watch->card_id, stream->watch->number);
    return !pulse || strcmp(pulse->bout, bout) == 0;
}

long stream_read(struct stream *stream, char *out, size_t size)
{
    size_t used = 0;
    pthread_mutex_lock(&stream->board->lock);
    bool ended = stream->epoch != stream->watch->epoch || /* the client comes back with its id */
                 (stream->current && !is_current(stream));
    while (!ended && used < size) {
        if (!stream->chunk) {
            stream->done = 0;
            stream->chunk = next_event(stream);
            if (!stream->chunk) {
                break;
            }
        }
        size_t left = stream->chunk->size - stream->done;
        size_t take = left < size - used ? left : size - used;
        memcpy(out + used, stream->chunk->text + stream->done, take);
        used += take;
        stream->done += take;
        if (stream->done == stream->chunk->size) {
            doc_drop(stream->chunk);
            stream->chunk = NULL;
        }
    }
    pthread_mutex_unlock(&stream->board->lock);
    return ended ? -1 : (long)used;
}

void stream_close(struct stream *stream)
{
    if (stream) {
        pthread_mutex_lock(&stream->board->lock);
        stream->watch->listeners--;
        pthread_mutex_unlock(&stream->board->lock);
        doc_drop(stream->chunk);
        free(stream->marks);
        free(stream->told);
        free(stream);
    }
}
