/* beside.c: a player and a desk, joined. */
#include "console/beside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "ringtally/base/mono.h"
#include "ringtally/base/text.h"
#include "ringtally/player/player.h"

#define KEYS    512  /* that can wait: a second of a held key is thirty */
#define OPEN_MS 2000 /* that a player may take to say what it plays */

struct waiting {
    int32_t key;
    enum key_press press;
    int64_t question; /* 0: it could not be asked */
    int64_t read_ms;
};

struct beside {
    struct player *player;
    bool on_recording;
    bool opened;
    int64_t ready_ms; /* when it first was; 0: not yet */
    struct error trouble;
    struct waiting key[KEYS];
    size_t keys;
};

int beside_open(struct beside **out, const struct seat_player *how, struct error *err)
{
    struct beside *beside = calloc(1, sizeof *beside);
    *out = NULL;
    if (!beside) {
        return error_memory(err);
    }
    beside->on_recording = how->tags;
    int code = how->recording ? player_start(&beside->player, how->recording, 0, err)
                              : player_attach(&beside->player, how->socket, err);
    if (code) {
        free(beside);
        return code;
    }
    *out = beside;
    return 0;
}

void beside_close(struct beside *beside)
{
    if (beside) {
        player_free(beside->player);
        free(beside);
    }
}

int beside_fd(const struct beside *beside, short *events)
{
    return player_fd(beside->player, events);
}

int beside_wait_ms(const struct beside *beside)
{
    int wait = player_wait_ms(beside->player, mono_ms());
    if (beside->keys > 0) {
        int64_t left = beside->key[0].read_ms + BESIDE_KEY_MS - mono_ms();
        left = left < 0 ? 0 : left;
        wait = wait < 0 || left < wait ? (int)left : wait;
    }
    return wait;
}

/* When the first frame was taken, as far as the file tells: it was written last at its end. */
static int64_t zero_of(const struct beside *beside, int64_t now_ms)
{
    struct stat about;
    int64_t duration_ms = player_seen(beside->player)->duration_ms;
    int64_t end_ms = now_ms;
    if (stat(player_path(beside->player), &about) == 0) {
        end_ms = (int64_t)about.st_mtim.tv_sec * 1000 + about.st_mtim.tv_nsec / 1000000;
        end_ms = end_ms > now_ms ? now_ms : end_ms;
    }
    int64_t zero_ms = end_ms - (duration_ms > 0 ? duration_ms : 0);
    return zero_ms > 0 ? zero_ms : 0;
}

static void open_recording(struct beside *beside, struct desk *desk, int64_t now_ms)
{
    const struct player_seen *seen = player_seen(beside->player);
    struct recording recording = {.rate_mhz = (int32_t)(seen->fps * 1000 + 0.5)};
    bool known = seen->picture && seen->fps > 0 && seen->duration_ms > 0;
    if (beside->opened || seen->state != PLAYER_READY) {
        return;
    }
    beside->ready_ms = beside->ready_ms ? beside->ready_ms : mono_ms();
    if (!known && mono_ms() - beside->ready_ms < OPEN_MS) {
        return;
    }
    beside->opened = true;
    if (!seen->picture) {
        error_set(&beside->trouble, ERROR_FAILED, "this recording has no picture");
        return;
    }
    if (!text_clean(recording.name, sizeof recording.name, player_name(beside->player))) {
        snprintf(recording.name, sizeof recording.name, "a recording");
    }
    desk_reel_open(desk, &recording, zero_of(beside, now_ms), now_ms);
}

static void wish(struct beside *beside, const struct reel_wish *wish)
{
    struct player *player = beside->player;
    switch (wish->kind) {
    case WISH_PLAY:
        player_pause(player, false);
        break;
    case WISH_PAUSE:
        player_pause(player, true);
        break;
    case WISH_SEEK:
        player_seek(player, wish->ms);
        break;
    case WISH_SEEK_BY:
        player_seek_by(player, wish->ms);
        break;
    case WISH_FRAME_ON:
    case WISH_FRAME_BACK:
        player_step_frame(player, wish->kind == WISH_FRAME_BACK);
        break;
    case WISH_SPEED:
        player_speed(player, wish->speed);
        break;
    case WISH_REPEAT:
        player_repeat(player, wish->ms, wish->to_ms);
        break;
    case WISH_REPEAT_END:
        player_repeat_end(player);
        break;
    case WISH_START:
        beside->trouble = (struct error){0};
        player_restart(player, &beside->trouble);
        break;
    }
}

static void tell_desk(struct beside *beside, struct desk *desk, int64_t now_ms)
{
    const struct player_seen *seen = player_seen(beside->player);
    struct reel_seen told = {.ready = seen->state == PLAYER_READY,
                             .lost = seen->state == PLAYER_LOST,
                             .silent = seen->silent,
                             .paused = seen->paused || seen->ended,
                             .ended = seen->ended,
                             .repeating = seen->repeating,
                             .picture = seen->picture,
                             .speed = seen->speed,
                             .media_ms = seen->media_ms,
                             .duration_ms = seen->duration_ms};
    snprintf(told.trouble, sizeof told.trouble, "%.190s",
             beside->trouble.text[0] ? beside->trouble.text : seen->trouble);
    desk_reel_see(desk, &told, now_ms);
    if (beside->keys == 0) {
        desk_reel_at(
            desk, beside->on_recording ? seen->media_ms : player_guess(beside->player, mono_ms()),
            true);
    }
}

void beside_play(struct beside *beside)
{
    player_pause(beside->player, false);
}

void beside_look(struct beside *beside, struct desk *desk, int64_t now_ms)
{
    struct reel_wish wanted;
    while (desk_reel_wish(desk, &wanted)) {
        wish(beside, &wanted);
    }
    player_step(beside->player, mono_ms());
    open_recording(beside, desk, now_ms);
    tell_desk(beside, desk, now_ms);
}

void beside_key(struct beside *beside, int32_t key, enum key_press press)
{
    if (beside->keys < KEYS) {
        int64_t question = beside->on_recording ? player_ask(beside->player, mono_ms()) : 0;
        beside->key[beside->keys++] = (struct waiting){key, press, question, mono_ms()};
    }
}

bool beside_take(struct beside *beside, struct desk *desk, int32_t *key, enum key_press *press)
{
    const struct waiting first = beside->key[0];
    int64_t media_ms = -1;
    if (beside->keys == 0) {
        return false;
    }
    enum player_answer answer = player_answer(beside->player, first.question, &media_ms);
    if (answer == PLAYER_ASKED && mono_ms() - first.read_ms < BESIDE_KEY_MS) {
        return false;
    }
    if (answer != PLAYER_TOLD) {
        media_ms = player_guess(beside->player, first.read_ms);
    }
    desk_reel_at(desk, media_ms, answer == PLAYER_TOLD);
    *key = first.key;
    *press = first.press;
    memmove(beside->key, beside->key + 1, --beside->keys * sizeof *beside->key);
    return true;
}
