/* stage.c: a real player on a clip. */
#include "stage.h"

#include <stdarg.h>
#include <setjmp.h>
#include <cmocka.h>

#include <glob.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "ringtally/base/mono.h"

#define PICTURES "%s/%04d.png"

void stage_prepare(struct stage *stage)
{
    *stage = (struct stage){.control = -1};
    strcpy(stage->folder, "/tmp/player-stage-XXXXXX");
    assert_non_null(mkdtemp(stage->folder));
    setenv("XDG_RUNTIME_DIR", stage->folder, 1);
    setenv("RINGTALLY_PLAYER", "mpv --vo=null --ao=null", 1);
}

/* False: no player listens yet. */
static bool connect_now(struct stage *stage)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    char pattern[128];
    glob_t found;
    snprintf(pattern, sizeof pattern, "%s/ringtally-*/player", stage->folder);
    if (glob(pattern, 0, NULL, &found) != 0) {
        return false;
    }
    assert_int_equal(found.gl_pathc, 1);
    snprintf(stage->socket, sizeof stage->socket, "%s", found.gl_pathv[0]);
    globfree(&found);
    snprintf(address.sun_path, sizeof address.sun_path, "%.100s", stage->socket);
    if (stage->control >= 0) {
        close(stage->control);
    }
    stage->control = socket(AF_UNIX, SOCK_STREAM, 0);
    return connect(stage->control, (struct sockaddr *)&address, sizeof address) == 0;
}

void stage_connect(struct stage *stage)
{
    assert_true(connect_now(stage));
}

void stage_wait_connect(struct stage *stage)
{
    int64_t until_ms = mono_ms() + STAGE_WAIT_MS;
    while (!connect_now(stage)) {
        assert_true(mono_ms() < until_ms);
        poll(NULL, 0, 5);
    }
}

void stage_open(struct stage *stage, const char *clip)
{
    struct error err = {0};
    char path[512];
    stage_prepare(stage);
    snprintf(path, sizeof path, "%s/%s", CLIPS, clip);
    if (player_start(&stage->player, path, 0, &err)) {
        fail_msg("%s", err.text);
    }
    stage_wait(stage, stage_is_ready, "the player is ready");
    stage_connect(stage);
}

void stage_close(struct stage *stage)
{
    char command[128];
    player_free(stage->player);
    if (stage->control >= 0) {
        close(stage->control);
    }
    snprintf(command, sizeof command, "rm -rf '%s'", stage->folder);
    assert_int_equal(system(command), 0);
}

/* One look at the player, waiting for it at most so long. */
static void look(struct stage *stage, int ms)
{
    short events = 0;
    struct pollfd wait = {.fd = player_fd(stage->player, &events), .events = events};
    int due_ms = player_wait_ms(stage->player, mono_ms());
    poll(&wait, 1, due_ms >= 0 && due_ms < ms ? due_ms : ms);
    player_step(stage->player, mono_ms());
}

int stage_is_ready(const struct player_seen *seen)
{
    return seen->state == PLAYER_READY && seen->duration_ms > 0;
}

int stage_is_lost(const struct player_seen *seen)
{
    return seen->state == PLAYER_LOST;
}

void stage_wait(struct stage *stage, stage_condition *condition, const char *what)
{
    int64_t until_ms = mono_ms() + STAGE_WAIT_MS;
    while (!condition(player_seen(stage->player))) {
        if (mono_ms() > until_ms) {
            fail_msg("never: %s (%s)", what, player_seen(stage->player)->trouble);
        }
        look(stage, 50);
    }
}

int64_t stage_ask(struct stage *stage)
{
    int64_t until_ms = mono_ms() + STAGE_WAIT_MS, media_ms = -1;
    int64_t question = player_ask(stage->player, mono_ms());
    while (player_answer(stage->player, question, &media_ms) == PLAYER_ASKED) {
        assert_true(mono_ms() < until_ms);
        look(stage, 50);
    }
    assert_true(media_ms >= 0);
    return media_ms;
}

int64_t stage_wait_media(struct stage *stage, int64_t low_ms, int64_t high_ms)
{
    int64_t until_ms = mono_ms() + STAGE_WAIT_MS, media_ms = stage_ask(stage);
    while (media_ms < low_ms || media_ms > high_ms) {
        if (mono_ms() > until_ms) {
            fail_msg("at %lld ms, never from %lld to %lld", (long long)media_ms, (long long)low_ms,
                     (long long)high_ms);
        }
        look(stage, 20);
        media_ms = stage_ask(stage);
    }
    return media_ms;
}

/* The next line of the control connection, without its newline. */
static void hear(struct stage *stage, char *out, size_t most)
{
    size_t size = 0;
    for (;;) {
        char one = 0;
        struct pollfd wait = {.fd = stage->control, .events = POLLIN};
        assert_int_equal(poll(&wait, 1, STAGE_WAIT_MS), 1);
        assert_int_equal(recv(stage->control, &one, 1, 0), 1);
        if (one == '\n') {
            out[size] = '\0';
            return;
        }
        out[size] = one;
        size += size + 1 < most;
    }
}

double stage_command(struct stage *stage, const char *command)
{
    static int number = 0;
    char line[512], mark[64], heard[8192];
    int sent =
        snprintf(line, sizeof line, "{\"command\":%s,\"request_id\":%d}\n", command, ++number);
    assert_int_equal(send(stage->control, line, (size_t)sent, 0), sent);
    snprintf(mark, sizeof mark, "\"request_id\":%d,", number);
    do {
        hear(stage, heard, sizeof heard);
    } while (!strstr(heard, mark) || strstr(heard, "\"event\""));
    const char *data = strstr(heard, "\"data\":");
    return !data ? 0 : strncmp(data + 7, "true", 4) == 0 ? 1 : strtod(data + 7, NULL);
}

void stage_settle(struct stage *stage)
{
    int64_t until_ms = mono_ms() + STAGE_WAIT_MS;
    stage_ask(stage); /* what was wished before has been taken up */
    while (stage_command(stage, "[\"get_property\",\"seeking\"]") != 0) {
        assert_true(mono_ms() < until_ms);
    }
}

void stage_seek(struct stage *stage, int64_t media_ms)
{
    /* A start that ended just now may be told only after an answer: what ends after this seek. */
    static const char *const events[] = {"\"event\":\"seek\"", "\"playback-restart\""};
    char heard[8192];
    stage_settle(stage);
    player_seek(stage->player, media_ms);
    for (size_t i = 0; i < sizeof events / sizeof *events; i++) {
        do {
            hear(stage, heard, sizeof heard);
        } while (!strstr(heard, events[i]));
    }
    stage_settle(stage);
}

void stage_shoot(struct stage *stage, int number)
{
    char command[256];
    snprintf(command, sizeof command, "[\"screenshot-to-file\",\"" PICTURES "\",\"video\"]",
             stage->folder, number);
    stage_command(stage, command);
}

void stage_read_frames(struct stage *stage, int *frames, int count)
{
    char command[400];
    unsigned char bit[16];
    snprintf(command, sizeof command,
             "ffmpeg -v error -i '%s/%%04d.png' -vf "
             "'crop=160:8:0:8,scale=16:1:flags=area,format=gray' -f rawvideo -",
             stage->folder);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    for (int i = 0; i < count; i++) {
        assert_int_equal(fread(bit, 1, sizeof bit, pipe), sizeof bit);
        frames[i] = 0;
        for (int k = 0; k < 16; k++) {
            frames[i] += bit[k] > 127 ? 1 << k : 0;
        }
    }
    assert_int_equal(pclose(pipe), 0);
}
