/* feed.c: opens the listening socket, starts both sides, keeps house once a second. */
#include "ringtally/feed/feed.h"

#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/log/signs.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"
#include "feed/qr.h"
#include "feed/server.h"

#define CONNECTIONS 1000
#define PER_HOST    300         /* but for this very machine: a proxy brings everybody */
#define LEAVING     256         /* places beyond, for those that are on their way out */
#define MEMORY      (32 * 1024) /* of a connection: its request's head and what is being sent */
#define SEND_BUFFER (64 * 1024) /* the kernel's, for a client that does not read */
#define IDLE_S      15          /* without a byte in or out */
#define FIRST_MS    5000        /* from the connection to its first whole request */
#define ASKING_MS   20000       /* and between two of one that was let in */
#define UNHEARD_MS  15000       /* what was sent and not acknowledged: the line is dead */
#define BACKLOG     128
#define REFUSED_MS  10000 /* between two lines about tokens that were refused */

/* Anything but a dead line, browsers and their certificate's authors agree on (RFC 8996: no TLS
 * below 1.2); no CBC, whose padding told too much too often. */
#define TLS_PRIORITIES                                                                             \
    "NORMAL:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2:-RSA:-AES-256-CBC:-AES-128-CBC:%SERVER_PRECEDENCE"

struct peer *server_peer(struct MHD_Connection *connection)
{
    return MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT)->socket_context;
}

static void dismiss(struct peer *peer)
{
    peer->gone = true;
    shutdown(peer->fd, SHUT_RDWR);
}

/* Makes room for a newcomer where the house, or what one host may have of it, is full: the longest
 * wait without a request that may read goes first, then the longest idle one, then the newcomer. So
 * silent connections take no place from anybody. The lock is held. */
static void make_room(struct feed *feed, struct peer *newcomer)
{
    const struct sockaddr *host = (const struct sockaddr *)&newcomer->address;
    int all = 0, near = 0;
    for (const struct peer *peer = feed->peers; peer; peer = peer->next) {
        all += !peer->gone;
        near += !peer->gone && guard_same_host(host, (const struct sockaddr *)&peer->address);
    }
    bool full = near > PER_HOST && !guard_is_loopback(host);
    if (all <= CONNECTIONS && !full) {
        return;
    }
    struct peer *leaves = NULL;
    for (struct peer *peer = feed->peers; peer; peer = peer->next) {
        if (peer == newcomer || peer->gone || !peer->asking ||
            (full && !guard_same_host(host, (const struct sockaddr *)&peer->address))) {
            continue;
        }
        if (!leaves || peer->admitted < leaves->admitted ||
            (peer->admitted == leaves->admitted && peer->since_ms <= leaves->since_ms)) {
            leaves = peer;
        }
    }
    dismiss(leaves ? leaves : newcomer);
}

static void *keep_peer(struct feed *feed, struct MHD_Connection *connection)
{
    struct peer *peer = calloc(1, sizeof *peer);
    if (!peer) {
        return NULL;
    }
    const struct sockaddr *address =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS)->client_addr;
    memcpy(&peer->address, address,
           address->sa_family == AF_INET6 ? sizeof(struct sockaddr_in6)
                                          : sizeof(struct sockaddr_in));
    peer->fd = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD)->connect_fd;
    peer->since_ms = mono_ms();
    peer->asking = true;
    int room = SEND_BUFFER;
    unsigned unheard = UNHEARD_MS; /* readers behind a cut line are not told of for long */
    setsockopt(peer->fd, SOL_SOCKET, SO_SNDBUF, &room, sizeof room);
    setsockopt(peer->fd, IPPROTO_TCP, TCP_USER_TIMEOUT, &unheard, sizeof unheard);
    pthread_mutex_lock(&feed->lock);
    peer->next = feed->peers;
    peer->link = &feed->peers;
    if (peer->next) {
        peer->next->link = &peer->next;
    }
    feed->peers = peer;
    make_room(feed, peer);
    pthread_mutex_unlock(&feed->lock);
    return peer;
}

static void on_connection(void *user, struct MHD_Connection *connection, void **context,
                          enum MHD_ConnectionNotificationCode what)
{
    struct feed *feed = user;
    if (what == MHD_CONNECTION_NOTIFY_STARTED) {
        *context = keep_peer(feed, connection);
        return;
    }
    struct peer *peer = *context;
    if (peer) { /* its descriptor is still open: the sweep never shuts another's */
        pthread_mutex_lock(&feed->lock);
        *peer->link = peer->next;
        if (peer->next) {
            peer->next->link = peer->link;
        }
        pthread_mutex_unlock(&feed->lock);
        free(peer);
        *context = NULL;
    }
}

static void on_completed(void *user, struct MHD_Connection *connection, void **context,
                         enum MHD_RequestTerminationCode why)
{
    (void)context;
    (void)why;
    struct feed *feed = user;
    struct peer *peer = server_peer(connection);
    if (peer) {
        pthread_mutex_lock(&feed->lock);
        peer->asking = true; /* the next one */
        peer->since_ms = mono_ms();
        pthread_mutex_unlock(&feed->lock);
    }
}

/* Decodes %XX in place; %00 stays as it is, since it would hide what follows. */
static size_t unescape(void *user, struct MHD_Connection *connection, char *text)
{
    (void)user;
    (void)connection;
    char *to = text;
    for (const char *from = text; *from; to++) {
        unsigned value = 0;
        char digits[3] = "";
        bool coded = *from == '%' && strspn(from + 1, "0123456789abcdefABCDEF") >= 2;
        if (coded) {
            memcpy(digits, from + 1, 2);
            value = (unsigned)strtoul(digits, NULL, 16);
        }
        *to = value ? (char)value : *from;
        from += value ? 3 : 1;
    }
    *to = '\0';
    return (size_t)(to - text);
}

/* News for the streams. */
static void on_changed(void *user)
{
    struct feed *feed = user;
    pthread_mutex_lock(&feed->lock);
    for (struct line *line = feed->lines; line; line = line->next) {
        if (line->suspended) {
            line->suspended = false;
            MHD_resume_connection(line->connection);
        }
    }
    struct post *post = feed->post;
    pthread_mutex_unlock(&feed->lock);
    if (post) {
        post_wake(post);
    }
}

static void on_say(void *user, const char *line)
{
    const struct feed *feed = user;
    if (feed->say) {
        feed->say(feed->user, line);
    }
}

void feed_say_link(struct feed *feed, const char *what)
{
    char line[320];
    char link[GUARD_LINK_SIZE];
    guard_link(feed->guard, link);
    snprintf(line, sizeof line, "%s: %senter/%s", what, feed->link_base, link);
    on_say(feed, line);
    if (feed->qr) {
        qr_draw(strstr(line, feed->link_base), on_say, feed);
    }
}

static void write_note(struct feed *feed)
{
    struct feed_note note = {.written_ms = when_now()};
    struct error err = {0};
    note.clients = guard_clients(feed->guard, &note.read_ms);
    int code = feed_note_write(feed->path, &note, &err);
    if (code && !feed->note_failed) {
        char line[640];
        snprintf(line, sizeof line, "the desks cannot be told of the feed: %s", err.text);
        on_say(feed, line);
    }
    feed->note_failed = code != 0;
}

/* A device whose token was taken out of the file is cut off, its streams too. */
static void look_at_tokens(struct feed *feed)
{
    bool changed = false;
    struct error err = {0};
    int code = guard_reload(feed->guard, &changed, &err);
    if (code && !feed->tokens_failed) {
        char line[700];
        snprintf(line, sizeof line, "%s; those read before stay", err.text);
        on_say(feed, line);
    }
    feed->tokens_failed = code != 0;
    pthread_mutex_lock(&feed->lock);
    for (struct line *line = feed->lines; line; line = line->next) {
        if (!line->ended && !guard_knows(feed->guard, line->who)) {
            line->ended = true;
            if (line->suspended) {
                line->suspended = false;
                MHD_resume_connection(line->connection);
            }
        }
    }
    pthread_mutex_unlock(&feed->lock);
}

/* Once a second: a note to the desks; who takes too long to ask is let go. */
static void on_second(void *user)
{
    struct feed *feed = user;
    int64_t now = mono_ms();
    pthread_mutex_lock(&feed->lock);
    for (struct peer *peer = feed->peers; peer; peer = peer->next) {
        if (peer->asking && now - peer->since_ms > (peer->admitted ? ASKING_MS : FIRST_MS)) {
            dismiss(peer);
        }
    }
    pthread_mutex_unlock(&feed->lock);
    if (now >= feed->refused_ms) {
        char line[160], address[64];
        int count = guard_refusals(feed->guard, address);
        feed->refused_ms = now + (count ? REFUSED_MS : 0);
        if (count) {
            snprintf(line, sizeof line, "%d request%s with a wrong token or link, the last from %s",
                     count, count == 1 ? "" : "s", address);
            on_say(feed, line);
        }
    }
    look_at_tokens(feed);
    write_note(feed);
}

static void be_quiet(void *user, const char *format, va_list args)
{
    (void)user;
    (void)format;
    (void)args; /* each malformed request would be a line */
}

/* Cuts "HOST:PORT" or "[HOST]:PORT". */
static int cut_address(char host[64], char port[8], const char *listen, struct error *err)
{
    const char *colon = strrchr(listen, ':');
    const char *start = listen;
    size_t size = colon ? (size_t)(colon - listen) : 0;
    if (size >= 2 && listen[0] == '[' && colon[-1] == ']') {
        start++;
        size -= 2;
    }
    size_t digits = colon ? strspn(colon + 1, "0123456789") : 0;
    if (size == 0 || size >= 64 || digits == 0 || digits > 5 || colon[1 + digits] ||
        atoi(colon + 1) > 65535) {
        return error_set(err, ERROR_USAGE,
                         "--listen %s: ADDRESS:PORT is needed, as 127.0.0.1:8080 or [::1]:8080",
                         listen);
    }
    snprintf(host, 64, "%.*s", (int)size, start);
    snprintf(port, 8, "%s", colon + 1);
    return 0;
}

static void write_url(char out[128], const struct feed *feed,
                      const struct sockaddr_storage *address, const char *host, const char *port)
{
    bool six = address->ss_family == AF_INET6;
    snprintf(out, 128, "http%s://%s%s%s:%s/", feed->secure ? "s" : "", six ? "[" : "", host,
             six ? "]" : "", port);
}

/* In place of the address that means all of this machine's: the one that the net sees it by, that
 * of the way out. (Connecting a datagram socket sends nothing; 192.0.2.1 and 2001:db8::1 are
 * nobody's, RFC 5737, RFC 3849.) True: it was replaced. */
static bool outward(struct sockaddr_storage *address)
{
    struct sockaddr_storage away = {.ss_family = address->ss_family}, here = {0};
    socklen_t size = sizeof(struct sockaddr_in);
    if (address->ss_family == AF_INET) {
        if (((struct sockaddr_in *)address)->sin_addr.s_addr != htonl(INADDR_ANY)) {
            return false;
        }
        struct sockaddr_in *four = (struct sockaddr_in *)&away;
        four->sin_addr.s_addr = htonl(0xc0000201);
        four->sin_port = htons(9);
    } else {
        struct sockaddr_in6 *six = (struct sockaddr_in6 *)&away;
        if (!IN6_IS_ADDR_UNSPECIFIED(&((struct sockaddr_in6 *)address)->sin6_addr)) {
            return false;
        }
        size = sizeof *six;
        six->sin6_port = htons(9);
        six->sin6_addr.s6_addr[0] = 0x20;
        six->sin6_addr.s6_addr[1] = 0x01;
        six->sin6_addr.s6_addr[2] = 0x0d;
        six->sin6_addr.s6_addr[3] = 0xb8;
        six->sin6_addr.s6_addr[15] = 1;
    }
    int fd = socket(away.ss_family, SOCK_DGRAM, 0);
    bool found = fd >= 0 && connect(fd, (struct sockaddr *)&away, size) == 0 &&
                 getsockname(fd, (struct sockaddr *)&here, &size) == 0;
    if (fd >= 0) {
        close(fd);
    }
    *address = found ? here : *address;
    return found;
}

/* The address as it is now, with the port that was given out. */
static int name_url(struct feed *feed, struct error *err)
{
    struct sockaddr_storage address = {0};
    socklen_t size = sizeof address;
    char host[64], port[8];
    if (getsockname(feed->listen_fd, (struct sockaddr *)&address, &size) ||
        getnameinfo((struct sockaddr *)&address, size, host, sizeof host, port, sizeof port,
                    NI_NUMERICHOST | NI_NUMERICSERV)) {
        return error_set(err, ERROR_FAILED, "the listening address has no name");
    }
    write_url(feed->url, feed, &address, host, port);
    bool any = outward(&address); /* "any address" is none that a tablet can open */
    if (any && getnameinfo((struct sockaddr *)&address, size, host, sizeof host, NULL, 0,
                           NI_NUMERICHOST)) {
        return error_set(err, ERROR_FAILED, "this machine's address has no name");
    }
    write_url(feed->link_base, feed, &address, host, port);
    return 0;
}

static int listen_at(struct feed *feed, const char *listen_text, struct error *err)
{
    char host[64], port[8];
    struct addrinfo *found = NULL;
    struct addrinfo wanted = {.ai_socktype = SOCK_STREAM,
                              .ai_flags = AI_PASSIVE | AI_NUMERICHOST | AI_NUMERICSERV};
    int on = 1;
    int code = cut_address(host, port, listen_text, err);
    if (code) {
        return code;
    }
    if (getaddrinfo(strcmp(host, "localhost") == 0 ? "127.0.0.1" : host, port, &wanted, &found)) {
        return error_set(err, ERROR_USAGE, "--listen %s: no numeric address", listen_text);
    }
    feed->loopback = guard_is_loopback(found->ai_addr);
    if (!feed->loopback && !guard_token(feed->guard)) {
        code = error_set(err, ERROR_USAGE,
                         "--listen %s: on any address but a loopback one --token-file is needed",
                         listen_text);
        goto cleanup;
    }
    feed->listen_fd = socket(found->ai_family, SOCK_STREAM, 0);
    if (feed->listen_fd < 0 || fcntl(feed->listen_fd, F_SETFD, FD_CLOEXEC) ||
        setsockopt(feed->listen_fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) ||
        bind(feed->listen_fd, found->ai_addr, found->ai_addrlen) ||
        listen(feed->listen_fd, BACKLOG)) {
        code = error_set(err, ERROR_FAILED, "%s: %s", listen_text, strerror(errno));
        goto cleanup;
    }
    code = name_url(feed, err);

cleanup:
    freeaddrinfo(found);
    return code;
}

static int start_daemon(struct feed *feed, const struct feed_setup *setup, struct error *err)
{
    struct MHD_OptionItem tls[] = {
        {MHD_OPTION_HTTPS_MEM_CERT, 0, (void *)(uintptr_t)setup->tls_cert},
        {MHD_OPTION_HTTPS_MEM_KEY, 0, (void *)(uintptr_t)setup->tls_key},
        {MHD_OPTION_HTTPS_PRIORITIES, 0, (void *)(uintptr_t)TLS_PRIORITIES},
        {MHD_OPTION_END, 0, NULL}};
    struct MHD_OptionItem none[] = {{MHD_OPTION_END, 0, NULL}};
    if (feed->secure && MHD_is_feature_supported(MHD_FEATURE_TLS) != MHD_YES) {
        return error_set(err, ERROR_FAILED, "this libmicrohttpd was built without TLS");
    }
    feed->daemon = MHD_start_daemon(
        MHD_USE_AUTO_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ERROR_LOG |
            (feed->secure ? MHD_USE_TLS : 0),
        0, NULL, NULL, server_access, feed, MHD_OPTION_EXTERNAL_LOGGER, be_quiet, NULL,
        MHD_OPTION_LISTEN_SOCKET, feed->listen_fd, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)(CONNECTIONS + LEAVING), MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)IDLE_S,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)MEMORY, MHD_OPTION_NOTIFY_CONNECTION,
        on_connection, feed, MHD_OPTION_NOTIFY_COMPLETED, on_completed, feed,
        MHD_OPTION_UNESCAPE_CALLBACK, unescape, feed, MHD_OPTION_STRICT_FOR_CLIENT, 1,
        MHD_OPTION_SIGPIPE_HANDLED_BY_APP, 1, MHD_OPTION_ARRAY, feed->secure ? tls : none,
        MHD_OPTION_END);
    if (!feed->daemon) {
        return error_set(err, ERROR_FAILED,
                         feed->secure ? "the server does not start: are certificate and key whole, "
                                        "and do they belong together?"
                                      : "the server does not start");
    }
    feed->listen_fd = -1; /* the library's from here on */
    return 0;
}

static int load_files(struct feed *feed, const struct feed_setup *setup, struct error *err)
{
    for (size_t i = 0; feed_files[i].name; i++) {
        if (i == sizeof feed->file / sizeof feed->file[0]) {
            return error_set(err, ERROR_FAILED, "too many files are built in");
        }
        bool own = setup->air_css && strcmp(feed_files[i].name, "web/air.css") == 0;
        feed->file[i] = own ? doc_new(setup->air_css, strlen(setup->air_css))
                            : doc_new(feed_files[i].data, feed_files[i].size);
        if (!feed->file[i]) {
            return error_memory(err);
        }
    }
    return 0;
}

static char *copy_of(const char *text)
{
    size_t size = strlen(text) + 1;
    char *copy = malloc(size);
    return copy ? memcpy(copy, text, size) : NULL;
}

/* The board's thread runs already: it finds the pointer whole or not at all. */
static int start_post(struct feed *feed, const struct feed_setup *setup, struct error *err)
{
    struct post_setup how = {.board = feed->board,
                             .url = setup->post,
                             .secret = setup->post_secret,
                             .db = setup->db,
                             .say = on_say,
                             .user = feed};
    struct post *post = NULL;
    int code = post_open(&post, &how, err);
    pthread_mutex_lock(&feed->lock);
    feed->post = post;
    pthread_mutex_unlock(&feed->lock);
    const char *host = setup->post + strlen("http://");
    bool here = strncmp(host, "127.", 4) == 0 || strncmp(host, "localhost", 9) == 0 ||
                strncmp(host, "[::1]", 5) == 0;
    if (!code && strncmp(setup->post, "http://", 7) == 0 && !here) {
        on_say(feed,
               "events are posted as plain text: signed, but for everybody on the way to read");
    }
    return code;
}

int feed_open(struct feed **out, const struct feed_setup *setup, struct error *err)
{
    struct feed *feed = calloc(1, sizeof *feed);
    if (!feed || pthread_mutex_init(&feed->lock, NULL)) {
        free(feed);
        return error_memory(err);
    }
    feed->listen_fd = -1;
    feed->secure = setup->tls_cert != NULL;
    feed->max_age = setup->max_age;
    feed->qr = setup->qr;
    feed->say = setup->say;
    feed->user = setup->user;
    feed->path = copy_of(setup->db);
    feed->cors = setup->cors ? copy_of(setup->cors) : NULL;
    struct board_setup board = {.db = setup->db,
                                .holds = setup->holds,
                                .delay_ms = setup->delay_ms,
                                .changed = on_changed,
                                .second = on_second,
                                .say = on_say,
                                .user = feed,
                                .bring = setup->bring,
                                .bringer = setup->bringer};
    int code = !feed->path || (setup->cors && !feed->cors) ? error_memory(err) : 0;
    code = code ? code : load_files(feed, setup, err);
    code = code ? code : guard_new(&feed->guard, setup->token, setup->tokens, setup->rate, err);
    code = code ? code : listen_at(feed, setup->listen, err);
    code = code ? code : board_open(&feed->board, &board, err);
    code = code || !setup->post ? code : start_post(feed, setup, err);
    code = code ? code : start_daemon(feed, setup, err);
    if (code) {
        feed_close(feed);
        return code;
    }
    if (setup->token) {
        feed_say_link(feed, "for a tablet, once");
    }
    if (setup->token && !feed->secure && !feed->loopback) {
        on_say(feed, "the token goes over the net as plain text: --tls-cert and --tls-key, or a "
                     "proxy with TLS, keep it");
    }
    *out = feed;
    return 0;
}

const char *feed_url(const struct feed *feed)
{
    return feed->url;
}

void feed_close(struct feed *feed)
{
    if (!feed) {
        return;
    }
    board_stop(feed->board); /* from here on nobody resumes a stream but this */
    pthread_mutex_lock(&feed->lock);
    feed->closing = true;
    pthread_mutex_unlock(&feed->lock);
    on_changed(feed);
    if (feed->daemon) {
        MHD_stop_daemon(feed->daemon);
    }
    post_close(feed->post);
    if (feed->listen_fd >= 0) {
        close(feed->listen_fd);
    }
    if (feed->board) {
        feed_note_clear(feed->path);
    }
    board_close(feed->board);
    guard_free(feed->guard);
    for (size_t i = 0; i < sizeof feed->file / sizeof feed->file[0]; i++) {
        doc_drop(feed->file[i]);
    }
    free(feed->cors);
    free(feed->path);
    pthread_mutex_destroy(&feed->lock);
    free(feed);
}
