/* reel.h: a desk beside a player: on a recording, or live with a recorder for second looks.
 *
 * On a recording the desk's moments are media time: whoever has the player brings the moment of the
 * frame on screen with each key (desk_reel_at), and the round clock follows from the bells. The
 * desk talks to no player: it leaves wishes, and is told what the player says.
 */
#ifndef RINGTALLY_DESK_REEL_H
#define RINGTALLY_DESK_REEL_H

#include "ringtally/bout/recording.h"
#include "ringtally/desk/desk.h"

#define REEL_DOUBLE_MS 250  /* the same strike so near is pointed out */
#define REEL_BELL_MS   1500 /* a bell so near is the one that is meant, and moves */
#define REEL_LEAD_MS   1000 /* that is shown before what was gone to */

/* What the player says, as far as the desk has a use for it. */
struct reel_seen {
    bool ready, lost, silent, paused, ended, repeating, picture;
    double speed;
    int64_t media_ms, duration_ms; /* -1: not known */
    char trouble[200];             /* what is wrong, in words; "": nothing */
};

enum reel_wish_kind {
    WISH_PLAY,
    WISH_PAUSE,
    WISH_SEEK,    /* to ms */
    WISH_SEEK_BY, /* ms */
    WISH_FRAME_ON,
    WISH_FRAME_BACK,
    WISH_SPEED,  /* speed */
    WISH_REPEAT, /* from ms to to_ms */
    WISH_REPEAT_END,
    WISH_START /* the player anew: it was lost */
};
struct reel_wish {
    enum reel_wish_kind kind;
    int64_t ms, to_ms;
    double speed;
};

/* The recording is open, and its first frame stands for `zero_ms` of the desk's clock: noted in the
 * log, unless the desk has noted this recording already; then that stands. Before this the desk on
 * a recording logs nothing. */
void desk_reel_open(struct desk *desk, const struct recording *recording, int64_t zero_ms,
                    int64_t now_ms);
void desk_reel_see(struct desk *desk, const struct reel_seen *seen, int64_t now_ms);
/* The frame that was on screen at the key that comes next, or is now. `told`: the player said so;
 * else it is a guess by its last word, and what is logged by it is flagged. */
void desk_reel_at(struct desk *desk, int64_t media_ms, bool told);
/* The next wish; false: none is left. */
bool desk_reel_wish(struct desk *desk, struct reel_wish *out);

/* For the screen. False: no player is beside this desk. */
struct reel_view {
    bool on_recording; /* else a recorder beside a live desk */
    bool open;
    bool looking; /* a second look is on */
    struct reel_seen seen;
    int64_t media_ms, frame; /* -1: not known */
    struct recording recording;
};
bool desk_reel(const struct desk *desk, struct reel_view *out);

#endif
