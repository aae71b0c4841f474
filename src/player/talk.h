/* talk.h: the player's JSON, in both directions. */
#ifndef RINGTALLY_PLAYER_TALK_H
#define RINGTALLY_PLAYER_TALK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What is observed, by the number under which it is. */
enum talk_property {
    TALK_TIME = 1,
    TALK_FRAME,
    TALK_FPS,
    TALK_PAUSE,
    TALK_SPEED,
    TALK_END,
    TALK_DURATION,
    TALK_PICTURE,
    TALK_PATH,
    TALK_SEEKING,
    TALK_PROPERTIES
};
extern const char *const talk_names[TALK_PROPERTIES]; /* as mpv calls them */

enum talk_kind {
    TALK_NONSENSE, /* no JSON, or none that means anything here */
    TALK_ANSWER,   /* to request `id` */
    TALK_CHANGE,   /* of property `id` */
    TALK_FAILED    /* the recording cannot be played: text says why */
};

struct talk {
    enum talk_kind kind;
    int64_t id;
    bool has;      /* a number came */
    double number; /* finite; of a boolean 0 or 1 */
    char text[4096];
};

void talk_read(struct talk *out, const char *line, size_t size);

#endif
