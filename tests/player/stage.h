/* stage.h: a real player on a clip, without window or sound, and a second way to ask it. */
#ifndef PLAYER_STAGE_H
#define PLAYER_STAGE_H

#include <stddef.h>
#include <stdint.h>

#include "ringtally/player/player.h"

#define STAGE_WAIT_MS 20000 /* a deadline, not a measure */

struct stage {
    char folder[64]; /* its socket's folder lies in it */
    char socket[160];
    struct player *player;
    int control; /* connected to the same player */
};

/* Starts a player of that clip of the suite's ("25.mkv"); the environment is set for it. */
void stage_open(struct stage *stage, const char *clip);
void stage_close(struct stage *stage);
/* A folder for the player's socket, and the environment; no player. */
void stage_prepare(struct stage *stage);
/* The socket of the player that runs, once it is there. */
void stage_connect(struct stage *stage);
/* The same, of a player that is just being started. */
void stage_wait_connect(struct stage *stage);

/* Steps the player until the condition holds; fails the test at the deadline. */
typedef int stage_condition(const struct player_seen *seen);
void stage_wait(struct stage *stage, stage_condition *condition, const char *what);
int stage_is_ready(const struct player_seen *seen);
int stage_is_lost(const struct player_seen *seen);

/* The media time of the frame on screen, as the console asks for it. */
int64_t stage_ask(struct stage *stage);
/* Asks until the frame on screen lies within, and says which it is; fails the test at the deadline.
 * A seek that was wished need not have begun when the player is first asked. */
int64_t stage_wait_media(struct stage *stage, int64_t low_ms, int64_t high_ms);
/* Waits until no seek is under way, as far as the player has begun with it. */
void stage_settle(struct stage *stage);
/* Seeks, and waits until that frame is on screen. */
void stage_seek(struct stage *stage, int64_t media_ms);
/* The control connection: sends a command ("[\"get_property\",\"pid\"]"), waits for its answer: a
 * number or boolean, else 0. */
double stage_command(struct stage *stage, const char *command);
/* Has the player write what it shows now to FOLDER/NUMBER.png. */
void stage_shoot(struct stage *stage, int number);
/* The frame numbers on the pictures 0 .. count-1. */
void stage_read_frames(struct stage *stage, int *frames, int count);

#endif
