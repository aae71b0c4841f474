/* player.h: the player that shows a recording: mpv, a process of its own, through its JSON IPC
 * socket. https://mpv.io/manual/ (JSON IPC) has the protocol.
 *
 * Nothing here waits: the caller polls player_fd together with all else that it waits for, and
 * calls player_step when there is something, or when player_wait_ms has passed. A player that is
 * slow, silent, talks nonsense or dies costs nobody any time: what it last said stays known.
 *
 * Moments are milliseconds of the recording, 0 its first frame; "now" is mono_ms's.
 */
#ifndef RINGTALLY_PLAYER_PLAYER_H
#define RINGTALLY_PLAYER_PLAYER_H

#include <stdbool.h>
#include <stdint.h>

#include "ringtally/base/error.h"

#define PLAYER_SILENT_MS 2000 /* without an answer to what was asked: it is said */
#define PLAYER_SLOWEST   0.25
#define PLAYER_FASTEST   2.0

enum player_state {
    PLAYER_STARTING, /* not connected yet, or nothing is loaded */
    PLAYER_READY,
    PLAYER_LOST /* it has ended, or closed its socket */
};

/* What the player last said. */
struct player_seen {
    enum player_state state;
    bool paused, ended; /* ended: it stands on the last frame */
    bool seeking;
    bool repeating; /* player_repeat holds */
    bool picture;   /* the recording has one */
    double speed;
    double fps;          /* of the recording; 0: not known */
    int64_t media_ms;    /* of the frame on screen; -1: not known */
    int64_t frame;       /* its number from 0, as the player estimates it; -1: not known */
    int64_t duration_ms; /* -1: not known */
    bool silent;         /* it was asked, and does not answer */
    char trouble[200];   /* what is wrong, in words; "": nothing */
};

struct player; /* opaque */

/* Starts a player of this recording, paused at `from_ms`. The environment's RINGTALLY_PLAYER says
 * which words begin the command ("mpv" where it is not set). Its socket lies in a folder of its
 * own, for its owner alone, in XDG_RUNTIME_DIR, else in the folder for temporary files. */
int player_start(struct player **out, const char *recording, int64_t from_ms, struct error *err);
/* Talks to a player that runs already and listens there; it stays when this ends. */
int player_attach(struct player **out, const char *socket, struct error *err);
/* Ends the player that player_start started. Takes NULL. */
void player_free(struct player *player);

/* Starts the player again, or connects again, at the place that it last told. */
int player_restart(struct player *player, struct error *err);

/* What to poll; *events as poll's. -1: nothing at present. */
int player_fd(const struct player *player, short *events);
/* After so many milliseconds player_step is due in any case; -1: never. */
int player_wait_ms(const struct player *player, int64_t now_ms);
/* Reads and writes what goes without waiting. True: something that is seen has changed. */
bool player_step(struct player *player, int64_t now_ms);

const struct player_seen *player_seen(const struct player *player);
/* The recording's name without its folders, "" while not known; and its path. */
const char *player_name(const struct player *player);
const char *player_path(const struct player *player);

/* Asks which frame is on screen. The number of the question; 0: nobody is there to ask. */
int64_t player_ask(struct player *player, int64_t now_ms);
enum player_answer {
    PLAYER_ASKED, /* not answered yet */
    PLAYER_TOLD,
    PLAYER_UNKNOWN /* it cannot tell, or nobody remembers the question */
};
enum player_answer player_answer(const struct player *player, int64_t question, int64_t *media_ms);
/* Where the recording stands by what was last heard, time counted on; -1: nothing was ever heard.
 */
int64_t player_guess(const struct player *player, int64_t now_ms);

/* Transport. Each is a wish: what came of it the player tells. */
void player_pause(struct player *player, bool paused);
void player_seek(struct player *player, int64_t media_ms);
void player_seek_by(struct player *player, int64_t by_ms);
void player_step_frame(struct player *player, bool back);
/* Between PLAYER_SLOWEST and PLAYER_FASTEST. */
void player_speed(struct player *player, double speed);
/* Repeats this span until player_repeat_end. */
void player_repeat(struct player *player, int64_t from_ms, int64_t to_ms);
void player_repeat_end(struct player *player);

#endif
