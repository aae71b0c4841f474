/* route.c: what can be asked, and who answers. Nothing here touches a file: a path is compared
 * with what there is, and leads nowhere else. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "feed/server.h"
#include "ringtally/base/mono.h"

#define PARTS 8
#define HEAD  ((size_t)16 * 1024) /* bytes of a request's head; the answer's must fit in beside it \
                                   */
#define JSON "application/json"
#define HTML "text/html; charset=utf-8"

struct request {
    struct feed *feed;
    struct MHD_Connection *connection;
    bool head;
    const char *part[PARTS]; /* of the path */
    int parts;
    char who[GUARD_NAME_SIZE]; /* the name of the token that it brought */
    bool current;              /* asked for as the bout that is on */
    char bout[PULSE_BOUT];     /* that one; the parts point into it */
};

struct wanted {
    const char *name, *value;
};

static enum MHD_Result match(void *user, enum MHD_ValueKind kind, const char *name,
                             const char *value)
{
    struct wanted *wanted = user;
    (void)kind;
    if (strcmp(name, wanted->name) != 0) { /* the library's own look-up takes ?ROUND as well */
        return MHD_YES;
    }
    wanted->value = value ? value : ""; /* a word by itself */
    return MHD_NO;
}

static const char *query(const struct request *request, const char *name)
{
    struct wanted wanted = {name, NULL};
    MHD_get_connection_values(request->connection, MHD_GET_ARGUMENT_KIND, match, &wanted);
    return wanted.value;
}

static const char *header(const struct request *request, const char *name)
{
    return MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND, name);
}

static enum MHD_Result fail(const struct request *request, unsigned status, const char *text)
{
    return reply_error(request->feed, request->connection, status, text);
}

static enum MHD_Result missing(const struct request *request)
{
    return fail(request, MHD_HTTP_NOT_FOUND, "there is nothing at this address");
}

/* A built-in file by its name. NULL: there is none. */
static struct doc *file_of(const struct feed *feed, const char *name)
{
    for (int i = 0; feed_files[i].name; i++) {
        if (strcmp(feed_files[i].name, name) == 0) {
            return doc_hold(feed->file[i]);
        }
    }
    return NULL;
}

static const char *type_of(const char *name)
{
    static const char *const types[][2] = {{".html", HTML},
                                           {".css", "text/css; charset=utf-8"},
                                           {".js", "text/javascript; charset=utf-8"},
                                           {".svg", "image/svg+xml"},
                                           {".webmanifest", "application/manifest+json"},
                                           {".json", JSON}};
    const char *end = strrchr(name, '.');
    for (size_t i = 0; end && i < sizeof types / sizeof types[0]; i++) {
        if (strcmp(end, types[i][0]) == 0) {
            return types[i][1];
        }
    }
    return "application/octet-stream";
}

static enum MHD_Result file(const struct request *request, unsigned status, const char *name)
{
    struct doc *doc = file_of(request->feed, name);
    return doc ? reply_doc(request->feed, request->connection, status, type_of(name), doc,
                           status == MHD_HTTP_OK ? KEEP_FILE : KEEP_NOT, NULL)
               : missing(request);
}

static enum MHD_Result document(const struct request *request, enum answer answer, const char *type,
                                struct doc *doc, const struct freshness *fresh,
                                const struct error *err)
{
    bool good = answer == ANSWER_OK;
    enum keep keep = !good ? KEEP_NOT : fresh && fresh->settled ? KEEP_SIGNED : KEEP_LIVE;
    return doc ? reply_doc(request->feed, request->connection, answer, type, doc, keep,
                           good ? fresh : NULL)
               : fail(request, answer, err->text);
}

/* A whole number from 1 to 999; 0: it is none. */
static int number_of(const char *text)
{
    size_t digits = strspn(text, "0123456789");
    return digits > 0 && digits <= 3 && !text[digits] && text[0] != '0' ? atoi(text) : 0;
}

static enum MHD_Result events(const struct request *request, const char *card, int number)
{
    struct stream *stream = NULL;
    struct error err = {0};
    const char *position = header(request, "Last-Event-ID");
    position = position ? position : query(request, "after");
    enum answer answer =
        stream_open(&stream, request->feed->board, card, number, position, request->current, &err);
    return answer == ANSWER_OK ? reply_stream(request->feed, request->connection, request->head,
                                              stream, request->who)
                               : fail(request, answer, err.text);
}

static bool is_corner(const char *text)
{
    return strcmp(text, "red") == 0 || strcmp(text, "blue") == 0;
}

/* The counts from somewhere on. */
static enum MHD_Result window_document(const struct request *request, const char *since,
                                       const char *last)
{
    struct window_ask window;
    struct freshness fresh;
    struct doc *doc = NULL;
    struct error err = {0};
    if (query(request, "round") || window_parse(&window, since, last, &err)) {
        return fail(request, MHD_HTTP_BAD_REQUEST,
                    err.text[0] ? err.text : "round, since, last: one of them");
    }
    enum answer answer = board_window(request->feed->board, request->part[2],
                                      number_of(request->part[3]), &window, &doc, &fresh, &err);
    return document(request, answer, JSON, doc, &fresh, &err);
}

static enum MHD_Result bout_document(const struct request *request, enum watch_what what)
{
    const char *asked = query(request, "round");
    int round = asked ? number_of(asked) : 0;
    struct freshness fresh;
    struct doc *doc = NULL;
    struct error err = {0};
    if (asked && (!round || round > ROUND_MAX)) {
        return fail(request, MHD_HTTP_BAD_REQUEST, "round: a number from 1 to 20");
    }
    enum answer answer = board_doc(request->feed->board, request->part[2],
                                   number_of(request->part[3]), what, round, &doc, &fresh, &err);
    return document(request, answer, what < WATCH_COACH_RED ? JSON : HTML, doc, &fresh, &err);
}

/* /v1/bouts/CARD/NUMBER/WHAT[/CORNER] */
static enum MHD_Result bout(const struct request *request)
{
    static const char *const names[] = {"counts", "headline", "sheet", "remarks"};
    const char *card = request->part[2];
    const char *what = request->part[4];
    int number = number_of(request->part[3]);
    struct board *board = request->feed->board;
    struct freshness fresh;
    struct doc *doc = NULL;
    struct error err = {0};
    if (!number) {
        return missing(request);
    }
    if (request->parts == 6) {
        return strcmp(what, "coach") == 0 && is_corner(request->part[5])
                   ? bout_document(request,
                                   request->part[5][0] == 'r' ? WATCH_COACH_RED : WATCH_COACH_BLUE)
                   : missing(request);
    }
    const char *since = query(request, "since");
    const char *last = query(request, "last");
    if (strcmp(what, "counts") == 0 && (since || last)) {
        return window_document(request, since, last);
    }
    if (strcmp(what, "events") == 0) {
        return events(request, card, number);
    }
    if (strcmp(what, "log") == 0) {
        enum answer answer =
            board_log(board, card, number, query(request, "after"), &doc, &fresh, &err);
        return document(request, answer, JSON, doc, &fresh, &err);
    }
    for (int i = 0; i < WATCH_COACH_RED; i++) {
        if (strcmp(what, names[i]) == 0) {
            return bout_document(request, (enum watch_what)i);
        }
    }
    return missing(request);
}

static enum MHD_Result health(const struct request *request)
{
    struct doc *doc = NULL;
    struct error err = {0};
    int64_t read_ms = 0;
    int clients = guard_clients(request->feed->guard, &read_ms);
    struct post_state post;
    bool posts = request->feed->post != NULL;
    if (posts) {
        post_look(request->feed->post, &post);
    }
    enum answer answer =
        board_health(request->feed->board, clients, read_ms, posts ? &post : NULL, &doc, &err);
    /* A look at the feed, not at what some cache saw of it. */
    return doc ? reply_doc(request->feed, request->connection, answer, JSON, doc,
                           answer == ANSWER_OK ? KEEP_ASK : KEEP_NOT, NULL)
               : fail(request, answer, err.text);
}

/* /bout/CARD/NUMBER[/coach/CORNER]: the page's script reads its own address. */
static enum MHD_Result bout_page(const struct request *request)
{
    if (!number_of(request->part[2])) {
        return missing(request);
    }
    if (request->parts == 3) {
        return file(request, MHD_HTTP_OK, "web/bout.html");
    }
    return request->parts == 5 && strcmp(request->part[3], "coach") == 0 &&
                   is_corner(request->part[4])
               ? file(request, MHD_HTTP_OK, "web/coach.html")
               : missing(request);
}

/* /air/now/KIND, /air/CARD/NUMBER/KIND: overlays; the script reads its own address. */
static enum MHD_Result air(const struct request *request)
{
    static const char *const kinds[] = {"strip", "panel", "bug", "remark"};
    bool now = request->parts == 3 && strcmp(request->part[1], "now") == 0;
    if (!now && (request->parts != 4 || !number_of(request->part[2]))) {
        return missing(request);
    }
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (strcmp(request->part[request->parts - 1], kinds[i]) == 0) {
            return file(request, MHD_HTTP_OK, "web/air.html");
        }
    }
    return missing(request);
}

/* /coach/CORNER: of the bout that is on. */
static enum MHD_Result coach(const struct request *request)
{
    char current[PULSE_BOUT];
    char where[128];
    if (!board_current(request->feed->board, current)) {
        return fail(request, MHD_HTTP_NOT_FOUND, "no bout has begun yet");
    }
    snprintf(where, sizeof where, "/bout/%s/coach/%s", current, request->part[1]);
    return reply_redirect(request->feed, request->connection, where, NULL);
}

/* /enter/CODE: the one-time link of a tablet. It is a page with a link to /enter/CODE?here, which
 * lets in: what a messenger opens to show a preview uses nothing up. */
static enum MHD_Result enter(const struct request *request)
{
    struct feed *feed = request->feed;
    char cookie[GUARD_TOKEN_SIZE];
    struct error err = {0};
    if (!query(request, "here")) {
        return file(request, MHD_HTTP_OK, "web/enter.html");
    }
    if (request->head || !guard_enter(feed->guard, request->part[1], cookie, &err)) {
        if (err.code) { /* its file of tokens cannot be written */
            return fail(request, MHD_HTTP_INTERNAL_SERVER_ERROR, err.text);
        }
        guard_refused(feed->guard,
                      (const struct sockaddr *)&server_peer(request->connection)->address);
        return fail(request, MHD_HTTP_FORBIDDEN,
                    "this link was used already, or is none: the feed's terminal shows the next");
    }
    feed_say_link(feed, "a link was used; the next one");
    return reply_redirect(feed, request->connection, "/", cookie);
}

static bool is(const struct request *request, int part, const char *text)
{
    return part < request->parts && strcmp(request->part[part], text) == 0;
}

/* /v1/now/WHAT is /v1/bouts/CARD/NUMBER/WHAT of the bout that is on. False: none is. */
static bool name_current(struct request *request)
{
    bool on = board_current(request->feed->board, request->bout);
    char *slash = on ? strchr(request->bout, '/') : NULL;
    if (!slash) {
        return false;
    }
    for (int i = request->parts - 1; i >= 2; i--) {
        request->part[i + 2] = request->part[i];
    }
    *slash = '\0';
    request->part[1] = "bouts";
    request->part[2] = request->bout;
    request->part[3] = slash + 1;
    request->parts += 2;
    request->current = true;
    return true;
}

static enum MHD_Result dispatch(struct request *request)
{
    if ((request->parts == 3 || request->parts == 4) && is(request, 0, "v1") &&
        is(request, 1, "now") && !name_current(request)) {
        return fail(request, MHD_HTTP_NOT_FOUND, "no bout has begun yet");
    }
    int parts = request->parts;
    if (parts == 0) {
        return file(request, MHD_HTTP_OK, "web/index.html");
    }
    if (parts == 1 && is(request, 0, "sw.js")) { /* from the root, or it has no say about pages */
        return file(request, MHD_HTTP_OK, "web/sw.js");
    }
    if (parts == 1 && is(request, 0, "now")) {
        return file(request, MHD_HTTP_OK, "web/bout.html");
    }
    if ((parts == 5 || parts == 6) && is(request, 0, "v1") && is(request, 1, "bouts")) {
        return bout(request);
    }
    if (parts == 2 && is(request, 0, "v1") && is(request, 1, "cards")) {
        struct doc *doc = NULL;
        struct error err = {0};
        enum answer answer = board_cards(request->feed->board, &doc, &err);
        return document(request, answer, JSON, doc, NULL, &err);
    }
    if (parts == 2 && is(request, 0, "v1") && strstr(request->part[1], ".json")) {
        char name[80];
        snprintf(name, sizeof name, "schema/%.60s", request->part[1]);
        return file(request, MHD_HTTP_OK, name);
    }
    if (parts == 1 && is(request, 0, "health")) {
        return health(request);
    }
    if (parts >= 3 && is(request, 0, "bout")) {
        return bout_page(request);
    }
    if (parts >= 3 && is(request, 0, "air")) {
        return air(request);
    }
    if (parts == 2 && is(request, 0, "coach") && is_corner(request->part[1])) {
        return coach(request);
    }
    if (parts == 2 && is(request, 0, "web") && !strstr(request->part[1], ".html")) {
        char name[80];
        snprintf(name, sizeof name, "web/%.60s", request->part[1]);
        return file(request, MHD_HTTP_OK, name);
    }
    return missing(request);
}

/* Cuts the path into its parts. False: it is odd, and leads nowhere. */
static bool split(struct request *request, char *path)
{
    if (*path != '/') {
        return false;
    }
    for (char *at = path + 1; *at;) {
        size_t size = strcspn(at, "/");
        bool last = !at[size];
        if (size == 0 || *at == '.' || request->parts == PARTS || (!last && !at[size + 1])) {
            return false; /* "//", ".", "..", hidden names, too deep, a slash at the end */
        }
        for (size_t i = 0; i < size; i++) {
            if ((unsigned char)at[i] < 0x20 || at[i] == 0x7f || at[i] == '\\') {
                return false;
            }
        }
        at[size] = '\0';
        request->part[request->parts++] = at;
        at += last ? size : size + 1;
    }
    return true;
}

/* Without a token only a name of this very machine may be asked for: another site's page cannot
 * read us by a name of its own that leads here. */
static bool host_is_ours(const struct request *request)
{
    static const char *const names[] = {"localhost", "127.0.0.1", "[::1]"};
    const char *host = header(request, MHD_HTTP_HEADER_HOST);
    if (!host || guard_token(request->feed->guard)) {
        return true;
    }
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        size_t size = strlen(names[i]);
        if (strncasecmp(host, names[i], size) == 0 && (!host[size] || host[size] == ':')) {
            return true;
        }
    }
    return false;
}

struct bringer {
    struct guard *guard;
    char *who;
    bool admitted;
};

/* Several cookies of one name may come, of other paths and older days: one that is right is enough.
 */
static enum MHD_Result try_cookie(void *user, enum MHD_ValueKind kind, const char *name,
                                  const char *value)
{
    struct bringer *bringer = user;
    (void)kind;
    bringer->admitted =
        strcmp(name, "ringtally") == 0 && guard_admits(bringer->guard, NULL, value, bringer->who);
    return bringer->admitted ? MHD_NO : MHD_YES;
}

static bool admitted(struct request *request)
{
    const char *authorization = header(request, MHD_HTTP_HEADER_AUTHORIZATION);
    struct bringer bringer = {request->feed->guard, request->who, false};
    bringer.admitted = guard_admits(bringer.guard, authorization, NULL, request->who);
    if (!bringer.admitted) {
        MHD_get_connection_values(request->connection, MHD_COOKIE_KIND, try_cookie, &bringer);
    }
    return bringer.admitted;
}

/* What holds no count is open to all, so that the page can say what is missing. */
static bool is_open(const struct request *request)
{
    return is(request, 0, "web") && (is(request, 1, "app.css") || is(request, 1, "icon.svg"));
}

static enum MHD_Result refuse(const struct request *request)
{
    const char *accept = header(request, MHD_HTTP_HEADER_ACCEPT);
    if (header(request, MHD_HTTP_HEADER_AUTHORIZATION)) { /* none at all is no guess */
        guard_refused(request->feed->guard,
                      (const struct sockaddr *)&server_peer(request->connection)->address);
    }
    return accept && strstr(accept, "text/html")
               ? file(request, MHD_HTTP_UNAUTHORIZED, "web/locked.html")
               : fail(request, MHD_HTTP_UNAUTHORIZED,
                      "a token is needed: Authorization: Bearer TOKEN, or a one-time link");
}

/* Each Content-Length says nothing: of two that differ, which one a proxy before us took, nobody
 * knows. */
static enum MHD_Result is_nothing(void *user, enum MHD_ValueKind kind, const char *name,
                                  const char *value)
{
    bool *body = user;
    (void)kind;
    *body = *body ||
            (strcasecmp(name, MHD_HTTP_HEADER_CONTENT_LENGTH) == 0 && strcmp(value, "0") != 0) ||
            strcasecmp(name, MHD_HTTP_HEADER_TRANSFER_ENCODING) == 0;
    return MHD_YES;
}

/* What is refused before it is read to its end; the connection is closed then. NULL: nothing. */
static const char *fault_of(const struct request *request, const char *method, unsigned *status)
{
    bool body = false;
    const union MHD_ConnectionInfo *head =
        MHD_get_connection_info(request->connection, MHD_CONNECTION_INFO_REQUEST_HEADER_SIZE);
    if (head && head->header_size > HEAD) {
        *status = 431; /* Request Header Fields Too Large (RFC 6585) */
        return "";
    }
    if (!host_is_ours(request)) {
        *status = 421;
        return "this feed answers to the names of its own machine only";
    }
    if (strcmp(method, MHD_HTTP_METHOD_GET) != 0 && !request->head &&
        !(request->feed->cors && strcmp(method, MHD_HTTP_METHOD_OPTIONS) == 0)) {
        *status = MHD_HTTP_METHOD_NOT_ALLOWED;
        return "only GET and HEAD: the feed is read";
    }
    MHD_get_connection_values(request->connection, MHD_HEADER_KIND, is_nothing, &body);
    if (body) {
        *status = MHD_HTTP_CONTENT_TOO_LARGE;
        return "no body is wanted";
    }
    return NULL;
}

static enum MHD_Result answer(struct request *request, const char *url)
{
    if (strncmp(url, "http://", 7) == 0 || strncmp(url, "https://", 8) == 0) {
        url = strchr(url + 8, '/'); /* the absolute form (RFC 9112, 3.2.2): the path counts */
        url = url ? url : "/";
    }
    char *path = malloc(strlen(url) + 1);
    if (!path) {
        return MHD_NO;
    }
    memcpy(path, url, strlen(url) + 1);
    enum MHD_Result result = MHD_NO;
    if (!split(request, path)) {
        result = missing(request);
    } else if (request->parts == 2 && is(request, 0, "enter")) {
        result = enter(request);
    } else if (!is_open(request) && !admitted(request)) {
        result = refuse(request);
    } else {
        struct peer *peer = server_peer(request->connection);
        pthread_mutex_lock(&request->feed->lock);
        peer->admitted = true;
        pthread_mutex_unlock(&request->feed->lock);
        if (is(request, 0, "v1")) {
            guard_read(request->feed->guard, (const struct sockaddr *)&peer->address);
        }
        result = dispatch(request);
    }
    free(path);
    return result;
}

enum MHD_Result server_access(void *user, struct MHD_Connection *connection, const char *url,
                              const char *method, const char *version, const char *upload,
                              size_t *upload_size, void **context)
{
    static char seen; /* the first call comes with the head, the second when all was read */
    (void)version;
    (void)upload;
    struct feed *feed = user;
    struct request request = {.feed = feed, .connection = connection};
    struct peer *peer = server_peer(connection);
    unsigned status = 0;
    if (!peer || *upload_size > 0) {
        return MHD_NO;
    }
    request.head = strcmp(method, MHD_HTTP_METHOD_HEAD) == 0;
    if (*context) {
        return strcmp(method, MHD_HTTP_METHOD_OPTIONS) == 0 ? reply_preflight(feed, connection)
                                                            : answer(&request, url);
    }
    *context = &seen;
    pthread_mutex_lock(&feed->lock);
    peer->asking = false;
    peer->since_ms = mono_ms();
    pthread_mutex_unlock(&feed->lock);
    if (!guard_allow(feed->guard, (const struct sockaddr *)&peer->address)) {
        return fail(&request, MHD_HTTP_TOO_MANY_REQUESTS, "too many requests from this address");
    }
    const char *fault = fault_of(&request, method, &status);
    return !fault   ? MHD_YES
           : *fault ? fail(&request, status, fault)
                    : reply_bare(connection, status);
}
