/* reply.c: responses and their headers. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "feed/server.h"

#define BLOCK (16 * 1024) /* of a stream, handed over at once */

/* Nothing but our own files; no form, no other site; in no frame. */
#define POLICY                                                                                     \
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "                    \
    "connect-src 'self'; frame-src 'self'; base-uri 'none'; form-action 'none'; "                  \
    "frame-ancestors 'none'"
/* A sheet is one file with its style in it, and nothing else; our own page frames it. */
#define POLICY_SHEET                                                                               \
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; "         \
    "frame-ancestors 'self'"

static bool add(struct MHD_Response *response, const char *name, const char *value)
{
    return MHD_add_response_header(response, name, value) == MHD_YES;
}

static bool add_common(struct MHD_Response *response, const struct feed *feed, const char *cache,
                       bool sheet)
{
    bool added = add(response, "X-Content-Type-Options", "nosniff") &&
                 add(response, "Content-Security-Policy", sheet ? POLICY_SHEET : POLICY) &&
                 add(response, "Referrer-Policy", "no-referrer") &&
                 add(response, MHD_HTTP_HEADER_CACHE_CONTROL, cache);
    if (added && feed->cors) {
        added = add(response, MHD_HTTP_HEADER_ACCESS_CONTROL_ALLOW_ORIGIN, feed->cors) &&
                add(response, "Access-Control-Expose-Headers",
                    "ETag, Retry-After, Ringtally-Entry-Age, Ringtally-Desks") &&
                add(response, MHD_HTTP_HEADER_VARY, "Origin");
    } else if (added) {
        added = add(response, "Cross-Origin-Resource-Policy", "same-origin");
    }
    return added;
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

static struct MHD_Response *response_of(struct doc *doc)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer_with_free_callback_cls(doc->size, doc->text, drop, doc);
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
                          const char *type, struct doc *doc, bool cached,
                          const struct freshness *fresh)
{
    const char *known =
        MHD_lookup_connection_value(connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_IF_NONE_MATCH);
    char tag[sizeof doc->etag];
    memcpy(tag, doc->etag, sizeof tag);
    bool same = cached && status == MHD_HTTP_OK && has_tag(known, tag);
    struct MHD_Response *response = NULL;
    if (same) {
        doc_drop(doc);
        status = MHD_HTTP_NOT_MODIFIED;
        response = MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    } else {
        response = response_of(doc);
    }
    const char *cache = !cached                    ? "no-store"
                        : guard_token(feed->guard) ? "private, no-cache"
                                                   : "no-cache";
    bool ready =
        response && add_common(response, feed, cache, fresh && strncmp(type, "text/html", 9) == 0);
    ready = ready && (same || add(response, MHD_HTTP_HEADER_CONTENT_TYPE, type));
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
    return doc ? reply_doc(feed, connection, status, "application/json", doc, false, NULL) : MHD_NO;
}

enum MHD_Result reply_redirect(struct feed *feed, struct MHD_Connection *connection,
                               const char *where, const char *cookie)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    bool ready = response && add_common(response, feed, "no-store", false) &&
                 add(response, MHD_HTTP_HEADER_LOCATION, where);
    if (ready && cookie) {
        struct buf value = BUF_INIT;
        buf_addf(&value, "ringtally=%s; Path=/; Max-Age=86400; HttpOnly; SameSite=Strict%s", cookie,
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
    bool ready = response && add_common(response, feed, "no-store", false) &&
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
    long got = feed->closing ? -1 : stream_read(line->stream, out, size);
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
                             struct stream *stream)
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
    bool ready = response && add_common(response, feed, "no-store", false) &&
                 add(response, MHD_HTTP_HEADER_CONTENT_TYPE, "text/event-stream");
    return finish(connection, MHD_HTTP_OK, response, ready);
}
