/* player.c: what the player says, and what it is told. */
#include "ringtally/player/player.h"

#include <errno.h>
#include <math.h>
#include <poll.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "player/link.h"
#include "player/process.h"
#include "player/talk.h"
#include "ringtally/base/mono.h"

#define ASKS       512
#define ASK_FIRST  1000  /* numbers below are observed properties' */
#define CONNECT_MS 20    /* between two tries */
#define START_MS   15000 /* that a player may take to open its socket */
#define LINES_MAX  400   /* of one step: who talks without end keeps nobody */
#define LOOK_MS    500   /* how often to see whether the process lives */
#define EXIT_MS    1000  /* that it may take to end once its socket is closed */
#define MEDIA_MOST 360000000.0

struct ask {
    int64_t id;
    int64_t asked_ms;
    int64_t media_ms; /* -1: it could not tell */
    bool answered;
};

struct player {
    struct process process;
    bool own; /* it was started here */
    char *recording;
    char socket[108];
    char path[4096];
    struct link link;
    struct player_seen seen;
    int64_t heard_ms; /* when seen.media_ms was told */
    int64_t next_id;
    struct ask ask[ASKS];
    int64_t open_ms;    /* when the oldest open question was asked; 0: none is */
    int64_t connect_ms; /* when to try again to connect, or to see whether it has ended */
    int64_t closed_ms;  /* when it closed its socket; 0: it has not */
    int64_t since_ms;   /* of the start */
    double speed;       /* to be set once it plays; 0: as it is */
    bool more;          /* whole lines are left unread */
};

static void tell(struct player *player, const char *format, ...) PRINTF_LIKE(2, 3);
static void tell(struct player *player, const char *format, ...)
{
    char line[512];
    va_list args;
    va_start(args, format);
    int size = vsnprintf(line, sizeof line, format, args);
    va_end(args);
    if (size > 0 && (size_t)size < sizeof line) {
        link_send(&player->link, line, (size_t)size);
        link_flush(&player->link);
    }
}

static void lose(struct player *player, const char *why)
{
    player->seen.media_ms = player_guess(player, mono_ms());
    player->heard_ms = mono_ms();
    player->seen.state = PLAYER_LOST;
    player->seen.silent = player->seen.seeking = false;
    if (!player->seen.trouble[0]) {
        snprintf(player->seen.trouble, sizeof player->seen.trouble, "%s", why);
    }
    player->open_ms = 0;
    link_close(&player->link);
    if (player->own) {
        process_end(&player->process);
    }
}

static void observe(struct player *player)
{
    for (int id = 1; id < TALK_PROPERTIES; id++) {
        tell(player, "{\"command\":[\"observe_property\",%d,\"%s\"]}\n", id, talk_names[id]);
    }
}

static bool connect_to(struct player *player, int64_t now_ms)
{
    if (!link_open(&player->link, player->socket)) {
        player->connect_ms = now_ms + CONNECT_MS;
        return false;
    }
    observe(player);
    return true;
}

static void begin(struct player *player)
{
    player->seen = (struct player_seen){.state = PLAYER_STARTING,
                                        .paused = true,
                                        .speed = 1,
                                        .media_ms = player->seen.media_ms,
                                        .frame = -1,
                                        .duration_ms = player->seen.duration_ms};
    player->since_ms = player->connect_ms = player->heard_ms = mono_ms();
    player->open_ms = player->closed_ms = 0;
    player->more = false;
    memset(player->ask, 0, sizeof player->ask);
}

static struct player *make(void)
{
    struct player *player = calloc(1, sizeof *player);
    if (player) {
        player->link.fd = player->process.lifeline = -1;
        player->seen.media_ms = player->seen.duration_ms = -1;
        player->next_id = ASK_FIRST;
        begin(player);
    }
    return player;
}

static int start_process(struct player *player, int64_t from_ms, struct error *err)
{
    int code = process_start(&player->process, player->recording, from_ms, err);
    if (!code) {
        snprintf(player->socket, sizeof player->socket, "%s", player->process.socket);
        begin(player);
    }
    return code;
}

int player_start(struct player **out, const char *recording, int64_t from_ms, struct error *err)
{
    struct player *player = make();
    *out = NULL;
    if (!player || !(player->recording = strdup(recording))) {
        free(player);
        return error_memory(err);
    }
    player->own = true;
    int code = start_process(player, from_ms, err);
    if (code) {
        player_free(player);
        return code;
    }
    *out = player;
    return 0;
}

int player_attach(struct player **out, const char *socket, struct error *err)
{
    struct player *player = make();
    *out = NULL;
    if (!player) {
        return error_memory(err);
    }
    size_t size = strlen(socket) + 1;
    if (size > sizeof player->socket) {
        free(player);
        return error_set(err, ERROR_FAILED, "%s: too long for a socket's path", socket);
    }
    memcpy(player->socket, socket, size);
    if (!connect_to(player, mono_ms())) {
        int why = errno;
        free(player);
        return error_set(err, ERROR_FAILED, "%s: no player listens there: %s", socket,
                         strerror(why));
    }
    *out = player;
    return 0;
}

void player_free(struct player *player)
{
    if (player) {
        link_close(&player->link);
        if (player->own) {
            process_end(&player->process);
        }
        free(player->recording);
        free(player);
    }
}

int player_restart(struct player *player, struct error *err)
{
    int64_t from_ms = player_guess(player, mono_ms());
    player->speed = player->seen.speed;
    link_close(&player->link);
    if (player->own) {
        process_end(&player->process);
        return start_process(player, from_ms > 0 ? from_ms : 0, err);
    }
    begin(player);
    return connect_to(player, mono_ms())
               ? 0
               : error_set(err, ERROR_FAILED, "%s: no player listens there", player->socket);
}

int player_fd(const struct player *player, short *events)
{
    *events = (short)(POLLIN | (player->link.out_size > 0 ? POLLOUT : 0));
    return player->link.fd;
}

int player_wait_ms(const struct player *player, int64_t now_ms)
{
    int64_t wait = player->own ? LOOK_MS : -1;
    if (player->seen.state == PLAYER_LOST) {
        return -1;
    }
    if (player->more) {
        wait = 0;
    } else if (player->link.fd < 0) {
        wait = player->connect_ms - now_ms;
        wait = wait < 0 ? 0 : wait;
    } else if (player->open_ms > 0 && !player->seen.silent) {
        int64_t left = player->open_ms + PLAYER_SILENT_MS - now_ms;
        left = left < 0 ? 0 : left;
        wait = wait < 0 || left < wait ? left : wait;
    }
    return (int)wait;
}

/* --- what it says --- */

static void hear_media(struct player *player, const struct talk *talk, int64_t now_ms)
{
    struct player_seen *seen = &player->seen;
    if (!talk->has || talk->number < 0 || talk->number * 1000 > MEDIA_MOST) {
        return;
    }
    seen->media_ms = llround(talk->number * 1000);
    player->heard_ms = now_ms;
    if (seen->state == PLAYER_STARTING) {
        seen->state = PLAYER_READY;
        if (player->speed > 0) {
            player_speed(player, player->speed);
            player->speed = 0;
        }
    }
}

static void hear_change(struct player *player, const struct talk *talk, int64_t now_ms)
{
    struct player_seen *seen = &player->seen;
    double number = talk->has ? talk->number : 0;
    switch (talk->id) {
    case TALK_TIME:
        hear_media(player, talk, now_ms);
        break;
    case TALK_FRAME:
        seen->frame = talk->has && number >= 0 ? llround(number) : -1;
        break;
    case TALK_FPS:
        seen->fps = number > 0 && number <= 1000 ? number : 0;
        break;
    case TALK_PAUSE:
        seen->media_ms = player_guess(player, now_ms);
        player->heard_ms = now_ms;
        seen->paused = number != 0;
        break;
    case TALK_SPEED:
        seen->speed = number > 0 && number <= 100 ? number : seen->speed;
        break;
    case TALK_END:
        seen->ended = number != 0;
        break;
    case TALK_DURATION:
        seen->duration_ms =
            talk->has && number >= 0 && number * 1000 <= MEDIA_MOST ? llround(number * 1000) : -1;
        break;
    case TALK_PICTURE:
        seen->picture = talk->text[0] != '\0';
        break;
    case TALK_PATH:
        if (talk->text[0]) {
            memcpy(player->path, talk->text, sizeof player->path);
        }
        break;
    case TALK_SEEKING:
        seen->seeking = number != 0;
        break;
    default:
        break;
    }
}

static void hear_answer(struct player *player, const struct talk *talk, int64_t now_ms)
{
    struct ask *ask = &player->ask[(size_t)((uint64_t)talk->id % ASKS)];
    if (talk->id < ASK_FIRST || ask->id != talk->id || ask->answered) {
        return; /* to a command, or to what nobody asks any more */
    }
    ask->answered = true;
    ask->media_ms = -1;
    player->open_ms = 0; /* it talks */
    player->seen.silent = false;
    if (talk->has && talk->number >= 0 && talk->number * 1000 <= MEDIA_MOST) {
        ask->media_ms = llround(talk->number * 1000);
        hear_media(player, talk, now_ms);
    }
}

static void hear(struct player *player, const char *line, size_t size, int64_t now_ms)
{
    struct talk talk;
    struct player_seen *seen = &player->seen;
    talk_read(&talk, line, size);
    switch (talk.kind) {
    case TALK_CHANGE:
        hear_change(player, &talk, now_ms);
        break;
    case TALK_ANSWER:
        hear_answer(player, &talk, now_ms);
        break;
    case TALK_FAILED:
        snprintf(seen->trouble, sizeof seen->trouble, "the recording cannot be played: %.120s",
                 talk.text[0] ? talk.text : "the player does not say why");
        break;
    default:
        break;
    }
}

static bool read_lines(struct player *player, int64_t now_ms)
{
    bool there = link_fill(&player->link);
    size_t size = 0;
    const char *line = NULL;
    for (int i = 0; i < LINES_MAX && (line = link_line(&player->link, &size)); i++) {
        hear(player, line, size - 1, now_ms);
        link_drop(&player->link, size);
    }
    player->more = link_line(&player->link, &size) != NULL;
    return there;
}

/* (Of what lies between members nothing is known, so bytes tell nothing.) */
static bool is_same(const struct player_seen *a, const struct player_seen *b)
{
    return a->state == b->state && a->paused == b->paused && a->ended == b->ended &&
           a->seeking == b->seeking && a->repeating == b->repeating && a->picture == b->picture &&
           a->speed == b->speed && a->fps == b->fps && a->media_ms == b->media_ms &&
           a->frame == b->frame && a->duration_ms == b->duration_ms && a->silent == b->silent &&
           strcmp(a->trouble, b->trouble) == 0;
}

/* Its socket is closed. One that was started here is about to end, and its exit code says why. */
static void hear_close(struct player *player, int64_t now_ms)
{
    player->closed_ms = player->closed_ms ? player->closed_ms : now_ms;
    if (player->own && now_ms - player->closed_ms < EXIT_MS) {
        link_close(&player->link);
        player->connect_ms = now_ms + CONNECT_MS;
    } else {
        lose(player, "the player has closed its socket");
    }
}

bool player_step(struct player *player, int64_t now_ms)
{
    struct player_seen before = player->seen;
    struct player_seen *seen = &player->seen;
    bool refused = false;
    if (seen->state == PLAYER_LOST) {
        return false;
    }
    if (player->own && process_ended(&player->process, &refused)) {
        if (player->link.fd >= 0) {
            read_lines(player, now_ms); /* its last words */
        }
        lose(player, refused ? "the recording cannot be played" : "the player has ended");
    } else if (player->closed_ms > 0 || (player->link.fd >= 0 && (!link_flush(&player->link) ||
                                                                  !read_lines(player, now_ms)))) {
        hear_close(player, now_ms);
    } else if (player->link.fd < 0) {
        if (now_ms >= player->connect_ms && !connect_to(player, now_ms) &&
            now_ms - player->since_ms > START_MS) {
            lose(player, "the player does not open its socket");
        }
    }
    if (seen->state != PLAYER_LOST && player->open_ms > 0 &&
        now_ms - player->open_ms >= PLAYER_SILENT_MS) {
        seen->silent = true;
    }
    return !is_same(&before, seen);
}

const struct player_seen *player_seen(const struct player *player)
{
    return &player->seen;
}

const char *player_path(const struct player *player)
{
    return player->recording ? player->recording : player->path;
}

const char *player_name(const struct player *player)
{
    const char *path = player_path(player);
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* --- what is asked and wished --- */

int64_t player_ask(struct player *player, int64_t now_ms)
{
    if (player->seen.state != PLAYER_READY) {
        return 0;
    }
    int64_t id = player->next_id++;
    player->ask[(size_t)((uint64_t)id % ASKS)] = (struct ask){.id = id, .asked_ms = now_ms};
    player->open_ms = player->open_ms > 0 ? player->open_ms : now_ms;
    tell(player, "{\"command\":[\"get_property\",\"time-pos\"],\"request_id\":%lld}\n",
         (long long)id);
    return id;
}

enum player_answer player_answer(const struct player *player, int64_t question, int64_t *media_ms)
{
    const struct ask *ask = &player->ask[(size_t)((uint64_t)question % ASKS)];
    if (question < ASK_FIRST || ask->id != question || player->seen.state != PLAYER_READY) {
        return PLAYER_UNKNOWN;
    }
    if (!ask->answered) {
        return PLAYER_ASKED;
    }
    *media_ms = ask->media_ms;
    return ask->media_ms >= 0 ? PLAYER_TOLD : PLAYER_UNKNOWN;
}

int64_t player_guess(const struct player *player, int64_t now_ms)
{
    const struct player_seen *seen = &player->seen;
    int64_t media_ms = seen->media_ms;
    bool runs = seen->state == PLAYER_READY && !seen->paused && !seen->ended && !seen->seeking;
    if (media_ms >= 0 && runs && now_ms > player->heard_ms) {
        media_ms += llround((double)(now_ms - player->heard_ms) * seen->speed);
    }
    return seen->duration_ms > 0 && media_ms > seen->duration_ms ? seen->duration_ms : media_ms;
}

void player_pause(struct player *player, bool paused)
{
    tell(player, "{\"command\":[\"set_property\",\"pause\",%s]}\n", paused ? "true" : "false");
}

void player_seek(struct player *player, int64_t media_ms)
{
    media_ms = media_ms < 0 ? 0 : media_ms;
    tell(player, "{\"command\":[\"seek\",%lld.%03d,\"absolute+exact\"]}\n",
         (long long)(media_ms / 1000), (int)(media_ms % 1000));
}

void player_seek_by(struct player *player, int64_t by_ms)
{
    int64_t size = by_ms < 0 ? -by_ms : by_ms;
    tell(player, "{\"command\":[\"seek\",%s%lld.%03d,\"relative+exact\"]}\n", by_ms < 0 ? "-" : "",
         (long long)(size / 1000), (int)(size % 1000));
}

void player_step_frame(struct player *player, bool back)
{
    tell(player, "{\"command\":[\"%s\"]}\n", back ? "frame-back-step" : "frame-step");
}

void player_speed(struct player *player, double speed)
{
    speed = speed < PLAYER_SLOWEST   ? PLAYER_SLOWEST
            : speed > PLAYER_FASTEST ? PLAYER_FASTEST
                                     : speed;
    tell(player, "{\"command\":[\"set_property\",\"speed\",%.2f]}\n", speed);
}

void player_repeat(struct player *player, int64_t from_ms, int64_t to_ms)
{
    from_ms = from_ms < 0 ? 0 : from_ms;
    tell(player, "{\"command\":[\"set_property\",\"ab-loop-a\",%lld.%03d]}\n",
         (long long)(from_ms / 1000), (int)(from_ms % 1000));
    tell(player, "{\"command\":[\"set_property\",\"ab-loop-b\",%lld.%03d]}\n",
         (long long)(to_ms / 1000), (int)(to_ms % 1000));
    player->seen.repeating = true;
    player_seek(player, from_ms);
}

void player_repeat_end(struct player *player)
{
    tell(player, "{\"command\":[\"set_property\",\"ab-loop-a\",\"no\"]}\n");
    tell(player, "{\"command\":[\"set_property\",\"ab-loop-b\",\"no\"]}\n");
    player->seen.repeating = false;
}
