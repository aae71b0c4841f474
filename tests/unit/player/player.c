/* player.c: a player that talks nonsense, is slow, says nothing or goes away costs nobody any time.
 * The other side is a socket of the test's own, and time is what the test says. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "ringtally/base/mono.h"
#include "ringtally/player/player.h"

struct stage {
    char folder[64], path[100];
    int listener, other; /* other: the player's end of the talk */
    struct player *player;
    int64_t now_ms;
};

static void stage_listen(struct stage *stage)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    snprintf(address.sun_path, sizeof address.sun_path, "%s", stage->path);
    unlink(stage->path);
    stage->listener = socket(AF_UNIX, SOCK_STREAM, 0);
    assert_int_equal(bind(stage->listener, (struct sockaddr *)&address, sizeof address), 0);
    assert_int_equal(listen(stage->listener, 4), 0);
}

static void stage_open(struct stage *stage)
{
    struct error err = {0};
    strcpy(stage->folder, "/tmp/unit-player-XXXXXX");
    assert_non_null(mkdtemp(stage->folder));
    snprintf(stage->path, sizeof stage->path, "%s/s", stage->folder);
    stage_listen(stage);
    assert_int_equal(player_attach(&stage->player, stage->path, &err), 0);
    stage->other = accept(stage->listener, NULL, NULL);
    assert_true(stage->other >= 0);
    assert_int_equal(fcntl(stage->other, F_SETFL, O_NONBLOCK), 0);
    stage->now_ms = mono_ms();
}

static void stage_close(struct stage *stage)
{
    player_free(stage->player);
    if (stage->other >= 0) {
        close(stage->other);
    }
    close(stage->listener);
    unlink(stage->path);
    rmdir(stage->folder);
}

static void says_bytes(struct stage *stage, const char *bytes, size_t size)
{
    while (size > 0) {
        ssize_t sent = send(stage->other, bytes, size, MSG_NOSIGNAL);
        if (sent < 0) {
            assert_int_equal(errno, EAGAIN);
            player_step(stage->player, stage->now_ms);
            continue;
        }
        bytes += sent;
        size -= (size_t)sent;
    }
    for (int i = 0; i < 20; i++) { /* all that is there to read */
        player_step(stage->player, stage->now_ms);
    }
}

static void says(struct stage *stage, const char *line)
{
    says_bytes(stage, line, strlen(line));
}

static void says_time(struct stage *stage, double seconds)
{
    char line[128];
    snprintf(line, sizeof line,
             "{\"event\":\"property-change\",\"id\":1,\"name\":\"time-pos\",\"data\":%.3f}\n",
             seconds);
    says(stage, line);
}

static void answers(struct stage *stage, int64_t id, double seconds)
{
    char line[128];
    snprintf(line, sizeof line, "{\"request_id\":%lld,\"error\":\"success\",\"data\":%.6f}\n",
             (long long)id, seconds);
    says(stage, line);
}

static void player__attach__hears_what_is_observed(void **state)
{
    struct stage stage = {0};
    (void)state;
    stage_open(&stage);
    const struct player_seen *seen = player_seen(stage.player);
    assert_int_equal(seen->state, PLAYER_STARTING);
    assert_int_equal(player_ask(stage.player, stage.now_ms), 0);
    says_time(&stage, 61.24);
    says(&stage, "{\"event\":\"property-change\",\"id\":3,\"data\":29.97003}\n"
                 "{\"event\":\"property-change\",\"id\":4,\"data\":false}\n"
                 "{\"event\":\"property-change\",\"id\":5,\"data\":0.5}\n"
                 "{\"event\":\"property-change\",\"id\":7,\"data\":180.5}\n"
                 "{\"event\":\"property-change\",\"id\":8,\"data\":\"h264\"}\n"
                 "{\"event\":\"property-change\",\"id\":9,\"data\":\"/a/b/bout 7.mkv\"}\n");
    assert_int_equal(seen->state, PLAYER_READY);
    assert_int_equal(seen->media_ms, 61240);
    assert_int_equal(seen->duration_ms, 180500);
    assert_false(seen->paused);
    assert_true(seen->picture);
    assert_string_equal(player_name(stage.player), "bout 7.mkv");
    /* Half speed: a second of ours is half of the recording's. */
    assert_int_equal(player_guess(stage.player, stage.now_ms + 1000), 61740);
    /* And never past its end. */
    assert_int_equal(player_guess(stage.player, stage.now_ms + 1000000), 180500);
    stage_close(&stage);
}

static void player__answer__late_and_in_any_order(void **state)
{
    struct stage stage = {0};
    int64_t media_ms = 0;
    (void)state;
    stage_open(&stage);
    says_time(&stage, 1);
    int64_t first = player_ask(stage.player, stage.now_ms);
    int64_t second = player_ask(stage.player, stage.now_ms);
    assert_true(first > 0 && second > first);
    answers(&stage, second, 2.04);
    assert_int_equal(player_answer(stage.player, first, &media_ms), PLAYER_ASKED);
    assert_int_equal(player_answer(stage.player, second, &media_ms), PLAYER_TOLD);
    assert_int_equal(media_ms, 2040);
    answers(&stage, first, 2.0);
    answers(&stage, first, 99.0); /* a second answer says nothing */
    assert_int_equal(player_answer(stage.player, first, &media_ms), PLAYER_TOLD);
    assert_int_equal(media_ms, 2000);
    int64_t third = player_ask(stage.player, stage.now_ms);
    char line[128];
    snprintf(line, sizeof line, "{\"request_id\":%lld,\"error\":\"property unavailable\"}\n",
             (long long)third);
    says(&stage, line);
    assert_int_equal(player_answer(stage.player, third, &media_ms), PLAYER_UNKNOWN);
    stage_close(&stage);
}

static void player__step__nonsense_is_passed_over(void **state)
{
    static const char *const nonsense[] = {
        "\n",
        "\n\n\n",
        "hello\n",
        "{\n",
        "[]\n",
        "null\n",
        "\"event\"\n",
        "{\"event\":7}\n",
        "{\"event\":\"property-change\"}\n",
        "{\"event\":\"property-change\",\"id\":\"x\"}\n",
        "{\"event\":\"property-change\",\"id\":1,\"data\":\"soon\"}\n",
        "{\"event\":\"property-change\",\"id\":1,\"data\":-4}\n",
        "{\"event\":\"property-change\",\"id\":1,\"data\":1e300}\n",
        "{\"event\":\"property-change\",\"id\":1,\"data\":null}\n",
        "{\"event\":\"property-change\",\"id\":3,\"data\":-25}\n",
        "{\"event\":\"property-change\",\"id\":5,\"data\":0}\n",
        "{\"event\":\"property-change\",\"id\":5,\"data\":1e9}\n",
        "{\"event\":\"property-change\",\"id\":999999999999,\"data\":1}\n",
        "{\"request_id\":-3,\"error\":\"success\",\"data\":1}\n",
        "{\"request_id\":1.5,\"error\":\"success\",\"data\":1}\n",
        "{\"request_id\":9223372036854775807,\"error\":\"success\",\"data\":1}\n",
        "\xff\xfe\x01\x02\n",
        "{\"event\":\"\\u0000\"}\n"};
    struct stage stage = {0};
    int64_t media_ms = 0;
    (void)state;
    stage_open(&stage);
    says_time(&stage, 5);
    for (size_t i = 0; i < sizeof nonsense / sizeof *nonsense; i++) {
        says(&stage, nonsense[i]);
    }
    says_bytes(&stage, "a\0b\n", 4);
    /* A line without an end, and far too long. */
    size_t size = 500000;
    char *line = malloc(size);
    assert_non_null(line);
    memset(line, '[', size);
    line[size - 1] = '\n';
    says_bytes(&stage, line, size);
    /* Many lines at once. */
    memset(line, '\n', size);
    says_bytes(&stage, line, size);
    free(line);
    for (int i = 0; i < 4000; i++) {
        player_step(stage.player, stage.now_ms);
    }
    const struct player_seen *seen = player_seen(stage.player);
    assert_int_equal(seen->state, PLAYER_READY);
    assert_int_equal(seen->media_ms, 5000);
    assert_true(seen->speed == 1);
    int64_t question = player_ask(stage.player, stage.now_ms);
    answers(&stage, question, 6);
    assert_int_equal(player_answer(stage.player, question, &media_ms), PLAYER_TOLD);
    assert_int_equal(media_ms, 6000);
    stage_close(&stage);
}

static void player__step__a_silent_player_is_said_to_be(void **state)
{
    struct stage stage = {0};
    int64_t media_ms = 0;
    (void)state;
    stage_open(&stage);
    says_time(&stage, 10);
    says(&stage, "{\"event\":\"property-change\",\"id\":4,\"data\":false}\n");
    int64_t question = player_ask(stage.player, stage.now_ms);
    player_step(stage.player, stage.now_ms + PLAYER_SILENT_MS - 1);
    assert_false(player_seen(stage.player)->silent);
    assert_int_equal(player_wait_ms(stage.player, stage.now_ms + PLAYER_SILENT_MS - 1), 1);
    assert_true(player_step(stage.player, stage.now_ms + PLAYER_SILENT_MS));
    assert_true(player_seen(stage.player)->silent);
    /* What it would show is still told, by its last word. */
    assert_int_equal(player_guess(stage.player, stage.now_ms + 3000), 13000);
    answers(&stage, question, 13.5);
    assert_false(player_seen(stage.player)->silent);
    assert_int_equal(player_answer(stage.player, question, &media_ms), PLAYER_TOLD);
    stage_close(&stage);
}

/* Who never reads must not hold up who asks: questions are dropped, nothing waits. */
static void player__ask__nobody_reads(void **state)
{
    struct stage stage = {0};
    int64_t media_ms = 0, slowest_ms = 0;
    (void)state;
    stage_open(&stage);
    says_time(&stage, 1);
    for (int i = 0; i < 100000; i++) {
        int64_t before_ms = mono_ms();
        player_ask(stage.player, stage.now_ms);
        player_seek_by(stage.player, 2000);
        slowest_ms = mono_ms() - before_ms > slowest_ms ? mono_ms() - before_ms : slowest_ms;
    }
    assert_true(slowest_ms < 1000); /* it did not wait for anybody */
    assert_int_equal(player_answer(stage.player, 1000, &media_ms), PLAYER_UNKNOWN);
    assert_int_equal(player_seen(stage.player)->state, PLAYER_READY);
    stage_close(&stage);
}

static void player__restart__connects_again_where_it_was(void **state)
{
    struct stage stage = {0};
    struct error err = {0};
    int64_t media_ms = 0;
    (void)state;
    stage_open(&stage);
    says_time(&stage, 42);
    int64_t question = player_ask(stage.player, stage.now_ms);
    close(stage.other);
    stage.other = -1;
    assert_true(player_step(stage.player, stage.now_ms));
    assert_int_equal(player_seen(stage.player)->state, PLAYER_LOST);
    assert_string_equal(player_seen(stage.player)->trouble, "the player has closed its socket");
    assert_int_equal(player_answer(stage.player, question, &media_ms), PLAYER_UNKNOWN);
    assert_int_equal(player_guess(stage.player, stage.now_ms + 100000), 42000);
    assert_int_equal(player_ask(stage.player, stage.now_ms), 0);
    assert_int_equal(player_restart(stage.player, &err), 0);
    stage.other = accept(stage.listener, NULL, NULL);
    assert_int_equal(fcntl(stage.other, F_SETFL, O_NONBLOCK), 0);
    says_time(&stage, 42.08);
    assert_int_equal(player_seen(stage.player)->state, PLAYER_READY);
    assert_string_equal(player_seen(stage.player)->trouble, "");
    /* Nobody there at all: it is said, and can be tried again. */
    close(stage.other);
    close(stage.listener);
    unlink(stage.path);
    player_step(stage.player, stage.now_ms);
    assert_int_equal(player_restart(stage.player, &err), ERROR_FAILED);
    stage_listen(&stage);
    stage.other = -1;
    assert_int_equal(player_restart(stage.player, &err), 0);
    stage_close(&stage);
}

static void player__attach__nobody_is_there(void **state)
{
    struct player *player = NULL;
    struct error err = {0};
    char path[300];
    (void)state;
    assert_int_equal(player_attach(&player, "/nonexistent/s", &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "/nonexistent/s: no player listens there"));
    assert_null(player);
    memset(path, 'a', sizeof path - 1);
    path[sizeof path - 1] = '\0';
    err = (struct error){0};
    assert_int_equal(player_attach(&player, path, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "too long"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(player__attach__hears_what_is_observed),
        cmocka_unit_test(player__answer__late_and_in_any_order),
        cmocka_unit_test(player__step__nonsense_is_passed_over),
        cmocka_unit_test(player__step__a_silent_player_is_said_to_be),
        cmocka_unit_test(player__ask__nobody_reads),
        cmocka_unit_test(player__restart__connects_again_where_it_was),
        cmocka_unit_test(player__attach__nobody_is_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
