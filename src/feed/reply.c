/* reply.c: responses and their headers. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include <jansson.h>

#include "feed/server.h"

#define BLOCK ((size_t)16 * 1024) /* of a stream, handed over at once */

/* Nothing but our own files; no form, no other site; in no frame. */
#define POLICY                                                                                     \
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "                    \
    "connect-src 'self'; manifest-src 'self'; frame-src 'self'; base-uri 'none'; form-action "     \
    "'none'; "                                                                                     \
    "frame-ancestors 'none'"
/* A sheet is one file with its style in it, and nothing else; our own page frames it. */
#define POLICY_SHEET                                                                               \
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; "         \
    "frame-ancestors 'self'"

static bool add(struct MHD_Response *response, const char *name, const char *value)
{
    return MHD_add_response_header(response, name, value) == MHD_YES;
}

/* The origin that is told it may read: of several the one that asks, where it is among them. */
static bool add_origin(struct MHD_Response *response, const struct feed *feed,
                       struct MHD_Connection *connection)
{
    const char *asks =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_ORIGIN);
    const char *origin = strchr(feed->cors, ',') ? NULL : feed->cors;
    size_t size = asks ? strlen(asks) : 0;
    for (const char *at = feed->cors; !origin && size > 0 && *at; at += *at == ',') {
        size_t length = strcspn(at, ",");
        origin = length == size && memcmp(at, asks, size) == 0 ? asks : NULL;
        at += length;
    }
    if (!origin) {
        return true;
    }
    return add(response, MHD_HTTP_HEADER_ACCESS_CONTROL_ALLOW_ORIGIN, origin) &&
           (*origin == '*' || add(response, "Access-Control-Allow-Credentials", "true")) &&
           add(response, "Access-Control-Expose-Headers",
               "ETag, Retry-After, Ringtally-Entry-Age, Ringtally-Desks");
}

static bool add_common(struct MHD_Response *response, const struct feed *feed,
                       struct MHD_Connection *connection, const char *cache, bool sheet)
{
    return add(response, "X-Content-Type-Options", "nosniff") &&
           add(response, "Content-Security-Policy", sheet ? POLICY_SHEET : POLICY) &&
           add(response, "Referrer-Policy", "no-referrer") &&
           add(response, MHD_HTTP_HEADER_CACHE_CONTROL, cache) &&
           add(response, MHD_HTTP_HEADER_VARY,
               feed->cors ? "Accept-Encoding, Origin" : "Accept-Encoding") &&
           (feed->cors ? add_origin(response, feed, connection)
                       : add(response, "Cross-Origin-Resource-Policy", "same-origin"));
}

/* What caches may do with it (RFC 9111, RFC 5861, RFC 8246). Behind a token none but the client's
 * own keeps anything, and that one asks each time. */
static void cache_words(char *out, size_t size, const struct feed *feed, enum keep keep)
{
    int live = feed->max_age;
    if (keep == KEEP_NOT) {
        snprintf(out, size, "no-store");
    } else if (guard_token(feed->guard)) {
        snprintf(out, size, "private, no-cache");
    } else if (keep == KEEP_ASK || live == 0) {
        snprintf(out, size, "no-cache");
    } else if (keep == KEEP_LIVE) {
        snprintf(out, size,
                 "public, max-age=%d, s-maxage=%d, stale-while-revalidate=%d, stale-if-error=10",
                 live, live, live);
    } else { /* a signed bout is opened again now and then: a minute, not a year */
        snprintf(out, size,
                 "public, max-age=60, s-maxage=60, stale-while-revalidate=60, "
                 "stale-if-error=86400%s",
                 keep == KEEP_SIGNED ? ", immutable" : "");
    }
}

/* Whether the client takes gzip: named, and not with a weight of nothing (RFC 9110, 12.5.3). */
static bool takes_gzip(struct MHD_Connection *connection)
{
    const char *list =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_ACCEPT_ENCODING);
    for (const char *at = list; at && *at; at += *at == ',') {
        at += strspn(at, " \t");
        size_t size = strcspn(at, ",");
        if (strncasecmp(at, "gzip", 4) == 0 && strchr(" \t;,", at[4])) {
            const char *weight = memchr(at, '=', size);
            return !weight || strspn(weight + 1, "0.") < strcspn(weight + 1, " \t,");
        }
        at += size;
    }
    return false;
}

/* Queues the response and lets it go; `ready` false: something before failed. */
static enum MHD_Result finish(struct MHD_Connection *connection, unsigned status,
                              struct MHD_Response *response, bool ready)
{
    enum MHD_Result result = MHD_NO; /* the connection is closed */
    if (response) {
        result = ready ? MHD_queue_response(connection, status, response) : MHD_NO;
        MHD_destroy_response(response);
    }
    return result;
}

static void drop(void *doc)
{
    doc_drop(doc);
}

/* `form` is the document itself, or its packed form. */
static struct MHD_Response *response_of(struct doc *doc, struct doc *form)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer_with_free_callback_cls(form->size, form->text, drop, doc);
    if (!response) {
        doc_drop(doc);
    }
    return response;
}

/* Whether the list of tags that the client has names this one (RFC 9110, 13.1.2; weak comparison).
 */
static bool has_tag(const char *list, const char *tag)
{
    size_t size = strlen(tag);
    while (list && *list) {
        list += strspn(list, " \t,");
        if (*list == '*') {
            return true;
        }
        list += strncmp(list, "W/", 2) == 0 ? 2 : 0;
        if (strncmp(list, tag, size) == 0 && strchr(" \t,", list[size])) {
            return true;
        }
        const char *end = *list == '"' ? strchr(list + 1, '"') : NULL;
        list = end ? end + 1 : list + strcspn(list, ",");
    }
    return false;
}

enum MHD_Result reply_doc(struct feed *feed, struct MHD_Connection *connection, unsigned status,
                          const char *type, struct doc *doc, enum keep keep,
                          const struct freshness *fresh)
{
    const char *known =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_IF_NONE_MATCH);
    struct doc *packed = takes_gzip(connection) ? doc_packed(doc) : NULL;
    struct doc *form = packed ? packed : doc;
    bool cached = keep != KEEP_NOT;
    char tag[DOC_ETAG_SIZE];
    char cache[160];
    memcpy(tag, form->etag, sizeof tag);
    cache_words(cache, sizeof cache, feed, keep);
    bool same = cached && status == MHD_HTTP_OK && has_tag(known, tag);
    struct MHD_Response *response = NULL;
    if (same) {
        doc_drop(doc);
        status = MHD_HTTP_NOT_MODIFIED;
        response = MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    } else {
        response = response_of(doc, form);
    }
    bool ready = response && add_common(response, feed, connection, cache,
                                        fresh && strncmp(type, "text/html", 9) == 0);
    ready = ready && (same || add(response, MHD_HTTP_HEADER_CONTENT_TYPE, type));
    ready = ready && (same || !packed || add(response, MHD_HTTP_HEADER_CONTENT_ENCODING, "gzip"));
    ready = ready && (!cached || add(response, MHD_HTTP_HEADER_ETAG, tag));
    if (ready && fresh) {
        ready = (!fresh->entry[0] || add(response, "Ringtally-Entry-Age", fresh->entry)) &&
                add(response, "Ringtally-Desks", fresh->desks);
    }
    if (ready && status == MHD_HTTP_UNAUTHORIZED) {
        ready = add(response, MHD_HTTP_HEADER_WWW_AUTHENTICATE, "Bearer realm=\"ringtally\"");
    }
    if (ready && (status == MHD_HTTP_TOO_MANY_REQUESTS || status == MHD_HTTP_SERVICE_UNAVAILABLE)) {
        ready = add(response, MHD_HTTP_HEADER_RETRY_AFTER, "1");
    }
    if (ready && status == MHD_HTTP_METHOD_NOT_ALLOWED) {
        ready = add(response, MHD_HTTP_HEADER_ALLOW, "GET, HEAD");
    }
    if (ready && status == MHD_HTTP_CONTENT_TOO_LARGE) { /* where it ends nobody can know */
        ready = add(response, MHD_HTTP_HEADER_CONNECTION, "close");
    }
    return finish(connection, status, response, ready);
}

enum MHD_Result reply_error(struct feed *feed, struct MHD_Connection *connection, unsigned status,
                            const char *text)
{
    json_t *object = json_pack("{s:s}", "error", text);
    char *body = object ? json_dumps(object, JSON_COMPACT) : NULL;
    struct buf line = BUF_INIT;
    buf_addf(&line, "%s\n", body ? body : "{\"error\":\"failed\"}");
    free(body);
    json_decref(object);
    struct doc *doc = doc_of(&line);
    return doc ? reply_doc(feed, connection, status, "application/json", doc, KEEP_NOT, NULL)
               : MHD_NO;
}

enum MHD_Result reply_bare(struct MHD_Connection *connection, unsigned status)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    return finish(connection, status, response,
                  response && add(response, MHD_HTTP_HEADER_CONNECTION, "close"));
}

enum MHD_Result reply_redirect(struct feed *feed, struct MHD_Connection *connection,
                               const char *where, const char *cookie)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    bool ready = response && add_common(response, feed, connection, "no-store", false) &&
                 add(response, MHD_HTTP_HEADER_LOCATION, where);
    if (ready && cookie) {
        struct buf value = BUF_INIT;
        /* A page of another origin that may read brings the cookie along, over TLS only. */
        buf_addf(&value, "ringtally=%s; Path=/; Max-Age=86400; HttpOnly; SameSite=%s%s", cookie,
                 feed->secure && feed->cors && feed->cors[0] != '*' ? "None" : "Strict",
                 feed->secure ? "; Secure" : "");
        ready = !value.failed && add(response, MHD_HTTP_HEADER_SET_COOKIE, value.text);
        buf_release(&value);
    }
    return finish(connection, MHD_HTTP_SEE_OTHER, response, ready);
}

enum MHD_Result reply_preflight(struct feed *feed, struct MHD_Connection *connection)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    /* From a public page to a machine in a private network: asked for by name. */
    const char *private = MHD_lookup_connection_value(connection, MHD_HEADER_KIND,
                                                      "Access-Control-Request-Private-Network");
    bool ready = response && add_common(response, feed, connection, "no-store", false) &&
                 (!private || add(response, "Access-Control-Allow-Private-Network", "true")) &&
                 add(response, "Access-Control-Allow-Methods", "GET, HEAD") &&
                 add(response, "Access-Control-Allow-Headers",
                     "Authorization, If-None-Match, Last-Event-ID") &&
                 add(response, "Access-Control-Max-Age", "600");
    return finish(connection, MHD_HTTP_NO_CONTENT, response, ready);
}

/* The library asks for more of a stream. What is not there yet suspends the connection; the lock
 * is held meanwhile, so that no news falls between the two. */
static ssize_t read_line(void *user, uint64_t position, char *out, size_t size)
{
    (void)position;
    struct line *line = user;
    struct feed *feed = line->feed;
    pthread_mutex_lock(&feed->lock);
    long got = feed->closing || line->ended ? -1 : stream_read(line->stream, out, size);
    if (got == 0) {
        line->suspended = true;
        MHD_suspend_connection(line->connection);
    }
    pthread_mutex_unlock(&feed->lock);
    return got < 0 ? MHD_CONTENT_READER_END_OF_STREAM : got;
}

static void free_line(void *user)
{
    struct line *line = user;
    struct feed *feed = line->feed;
    pthread_mutex_lock(&feed->lock);
    *line->link = line->next;
    if (line->next) {
        line->next->link = line->link;
    }
    pthread_mutex_unlock(&feed->lock);
    guard_stream(feed->guard, (const struct sockaddr *)&line->address, -1);
    stream_close(line->stream);
    free(line);
}

enum MHD_Result reply_stream(struct feed *feed, struct MHD_Connection *connection, bool head,
                             struct stream *stream, const char *who)
{
    struct MHD_Response *response = NULL;
    struct line *line = head ? NULL : calloc(1, sizeof *line);
    if (!line) {
        stream_close(stream);
        response = head ? MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT) : NULL;
    } else {
        line->feed = feed;
        line->address = server_peer(connection)->address;
        line->connection = connection;
        line->stream = stream;
        snprintf(line->who, sizeof line->who, "%s", who);
        pthread_mutex_lock(&feed->lock);
        line->next = feed->lines;
        line->link = &feed->lines;
        if (line->next) {
            line->next->link = &line->next;
        }
        feed->lines = line;
        pthread_mutex_unlock(&feed->lock);
        guard_stream(feed->guard, (const struct sockaddr *)&line->address, 1);
        response =
            MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, BLOCK, read_line, line, free_line);
        if (!response) {
            free_line(line);
        }
    }
    /* A proxy that collects what passes would hold events back. */
    bool ready = response && add_common(response, feed, connection, "no-store", false) &&
                 add(response, "X-Accel-Buffering", "no") &&
                 add(response, MHD_HTTP_HEADER_CONTENT_TYPE, "text/event-stream");
    return finish(connection, MHD_HTTP_OK, response, ready);
}
