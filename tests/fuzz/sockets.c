/* sockets.c: what comes in over sockets: requests to the feed, answers of a player. */
#include <arpa/inet.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "ringtally/base/mono.h"
#include "ringtally/feed/feed.h"
#include "ringtally/player/player.h"
#include "targets.h"

#define TOKEN "token-of-the-fuzzed-feed"
#define NAME  "Ana Lume" /* stands in what only readers may see */

static struct feed *feeds[2]; /* one without a token, one with */
static int ports[2];

static void close_feeds(void)
{
    feed_close(feeds[0]);
    feed_close(feeds[1]);
}

static void open_feeds(void)
{
    struct error err = {0};
    fuzz_database();
    for (int i = 0; i < 2; i++) {
        struct feed_setup setup = {.db = fuzz_database(),
                                   .listen = "127.0.0.1:0",
                                   .token = i ? TOKEN : NULL,
                                   .rate = 1000000};
        if (feed_open(&feeds[i], &setup, &err) ||
            sscanf(strrchr(feed_url(feeds[i]), ':'), ":%d", &ports[i]) != 1) {
            fuzz_fail("feed", err.text);
        }
    }
    atexit(close_feeds);
}

/* Every line of the head is a header's, and the answer is one of HTTP. */
static void check_answer(const char *answer, size_t size)
{
    const char *end = strstr(answer, "\r\n\r\n");
    if (size == 0) {
        return;
    }
    if (strncmp(answer, "HTTP/1.", 7) != 0 || !end) {
        fuzz_fail("no answer of HTTP", answer);
    }
    for (const char *line = strstr(answer, "\r\n"); line < end; line = strstr(line + 2, "\r\n")) {
        size_t name = strspn(line + 2, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
                                       "0123456789-");
        if (name == 0 || line[2 + name] != ':') {
            fuzz_fail("no header", line);
        }
    }
}

static void request(int which, const char *text, size_t size)
{
    char answer[8192];
    size_t used = 0;
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons((uint16_t)ports[which])};
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0 || connect(fd, (struct sockaddr *)&to, sizeof to)) {
        fuzz_fail("connect", "");
    }
    if (send(fd, text, size, MSG_NOSIGNAL) < 0) {
        close(fd);
        return;
    }
    shutdown(fd, SHUT_WR);
    struct pollfd wait = {fd, POLLIN, 0};
    while (used < sizeof answer - 1 && poll(&wait, 1, used ? 5 : 300) > 0) {
        ssize_t got = recv(fd, answer + used, sizeof answer - 1 - used, 0);
        if (got <= 0) {
            break;
        }
        used += (size_t)got;
    }
    answer[used] = '\0';
    close(fd);
    if (used == strlen(answer) && strstr(answer, "\r\n\r\n")) {
        check_answer(answer, used);
    }
    bool knows = false; /* the damage may make it, once in a world's age */
    for (size_t i = 0; i + sizeof TOKEN - 1 <= size; i++) {
        knows = knows || memcmp(text + i, TOKEN, sizeof TOKEN - 1) == 0;
    }
    if (which == 1 && !knows && strstr(answer, NAME)) {
        fuzz_fail("served without the token", answer);
    }
}

void fuzz_feed(const char *text, size_t size)
{
    if (!feeds[0]) {
        open_feeds();
    }
    if (size > 0) {
        request(text[0] & 1, text + 1, size - 1);
    }
}

/* Bytes in two parts, so that a line may come in pieces. */
void fuzz_player(const char *text, size_t size)
{
    static int listener = -1;
    static struct sockaddr_un at = {.sun_family = AF_UNIX};
    struct player *player = NULL;
    struct error err = {0};
    if (listener < 0) {
        snprintf(at.sun_path, sizeof at.sun_path, "%s/player", fuzz_folder());
        listener = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
        if (bind(listener, (struct sockaddr *)&at, sizeof at) || listen(listener, 8)) {
            fuzz_fail("listen", at.sun_path);
        }
    }
    if (player_attach(&player, at.sun_path, &err)) {
        fuzz_fail("attach", err.text);
    }
    int fd = accept(listener, NULL, NULL);
    int64_t now = mono_ms();
    int64_t question = player_ask(player, now), media_ms = 0;
    size_t first = size / 2;
    for (int part = 0; part < 2; part++) {
        const char *from = part ? text + first : text;
        size_t count = part ? size - first : first;
        if (count && send(fd, from, count, MSG_NOSIGNAL | MSG_DONTWAIT) < 0) {
            break;
        }
        for (int i = 0; i < 8 && player_step(player, now + part * 100); i++) {
        }
    }
    const struct player_seen *seen = player_seen(player);
    if (memchr(seen->trouble, '\0', sizeof seen->trouble) == NULL || seen->speed != seen->speed ||
        seen->media_ms < -1 || seen->duration_ms < -1) {
        fuzz_fail("the player said", seen->trouble);
    }
    player_answer(player, question, &media_ms);
    player_guess(player, now + 1000);
    close(fd);
    player_step(player, now + 200);
    player_free(player);
}
