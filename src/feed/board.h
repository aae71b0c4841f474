/* board.h: what the feed knows, kept by one reading thread, asked by the answering one. Private to
 * the room. */
#ifndef RINGTALLY_FEED_BOARD_H
#define RINGTALLY_FEED_BOARD_H

#include <pthread.h>

#include "feed/watch.h"
#include "ringtally/data/pulse.h"

#define BOARD_BOUTS   64   /* held where nobody listens; beyond, the least used are let go */
#define BOARD_MOST    1024 /* asked for within one look */
#define BOARD_BEAT_MS 2000 /* between two signs of life to a stream */

struct board {
    char *path;
    void (*changed)(void *user); /* something for the streams; called without the lock */
    void (*second)(void *user);  /* about once a second; called without the lock */
    void (*say)(void *user, const char *line);
    void *user;
    int (*bring)(void *bringer, const char *card, int number); /* feed.h; may be NULL */
    void *bringer;
    pthread_t thread;

    /* The reading thread's own. */
    struct log *log;
    struct log_watch seen;
    struct air air;          /* what is kept back; the watches read its rule */
    struct late_line pulsed; /* pulses that are not told yet */
    int64_t open_at_ms, second_at_ms, cards_at_ms;

    pthread_mutex_t lock; /* guards all below */
    pthread_cond_t for_reader, for_asker;
    struct watch **watch; /* only the reading thread takes one away */
    int watches, watch_room;
    bool asked; /* a bout or the cards are wanted: read now */
    bool cards_asked;
    struct doc *cards;         /* NULL: not read yet */
    const struct pulse *pulse; /* of the line */
    int pulses;
    char trouble[300];  /* why the database cannot be read; "": all is well */
    int64_t trouble_ms; /* UTC since when */
    int64_t read_ms;    /* UTC of the last look that went well */
    int64_t beat;       /* number of the last beat */
    int64_t beat_at_ms;
    bool stop;
};

/* Why there is no answer, and what HTTP calls it. */
enum answer { ANSWER_OK = 200, ANSWER_MISSING = 404, ANSWER_DOWN = 503, ANSWER_FAILED = 500 };

struct board_setup {
    const char *db;
    unsigned holds;
    int64_t delay_ms;
    void (*changed)(void *user);
    void (*second)(void *user);
    void (*say)(void *user, const char *line);
    void *user;
    int (*bring)(void *bringer, const char *card, int number); /* feed.h */
    void *bringer;
};

int board_open(struct board **out, const struct board_setup *setup, struct error *err);
/* Ends the reading thread; what was read can still be asked for. */
void board_stop(struct board *board);
void board_close(struct board *board);

/* Each gives a document that the caller drops, or a reason in `err`. */
enum answer board_doc(struct board *board, const char *card, int number, enum watch_what what,
                      int round, struct doc **out, struct freshness *fresh, struct error *err);
enum answer board_window(struct board *board, const char *card, int number,
                         const struct window_ask *window, struct doc **out, struct freshness *fresh,
                         struct error *err);
enum answer board_log(struct board *board, const char *card, int number, const char *after,
                      struct doc **out, struct freshness *fresh, struct error *err);
enum answer board_cards(struct board *board, struct doc **out, struct error *err);
/* The state of everything; ANSWER_DOWN comes with a document too. `post` NULL: nothing is posted.
 */
struct post_state;
enum answer board_health(struct board *board, int clients, int64_t read_ms,
                         const struct post_state *post, struct doc **out, struct error *err);
/* The bout that is on (pulse.h). False: there is none. */
bool board_current(struct board *board, char out[PULSE_BOUT]);
/* The same with the lock held; NULL: there is none. */
const struct pulse *board_pulse(const struct board *board);

/* The bout, loaded, with the lock held where the answer is ANSWER_OK. */
enum answer board_enter(struct board *board, const char *card, int number, struct watch **out,
                        struct error *err);
void board_leave(struct board *board);

/* A stream of events of one bout. `position` as watch_position writes it, or NULL: from now on.
 * `current`: it ends when another bout is on. */
struct stream;
enum answer stream_open(struct stream **out, struct board *board, const char *card, int number,
                        const char *position, bool current, struct error *err);
/* Copies what is due into out[size]. 0: nothing now; -1: the stream has ended. */
long stream_read(struct stream *stream, char *out, size_t size);
void stream_close(struct stream *stream);

#endif
