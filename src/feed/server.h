/* server.h: the answering side: one thread of the HTTP library. Private to the room. */
#ifndef RINGTALLY_FEED_SERVER_H
#define RINGTALLY_FEED_SERVER_H

#include <microhttpd.h>
#include <pthread.h>

#include "feed/board.h"
#include "feed/guard.h"
#include "feed/post.h"
#include "ringtally/base/embedded.h"

extern const struct embedded feed_files[]; /* the page's files and the schemas, built in */

/* A connection, from its start to its end. */
struct peer {
    struct peer *next, **link;
    int fd;
    int64_t since_ms; /* monotonic: of what it does now */
    bool asking;      /* its request is not whole yet */
    bool admitted;    /* brought a whole request that may read */
    bool gone;        /* was shut down, and is on its way out */
    struct sockaddr_storage address;
};

/* A stream to a client. */
struct line {
    struct line *next, **link;
    struct feed *feed;
    struct sockaddr_storage address;
    struct MHD_Connection *connection;
    struct stream *stream;
    char who[GUARD_NAME_SIZE]; /* the name of the token that let it in */
    bool suspended;
    bool ended; /* that token is none any more */
};

struct feed {
    struct board *board;
    struct guard *guard;
    struct post *post; /* NULL: nothing is posted */
    struct MHD_Daemon *daemon;
    int listen_fd;
    bool secure;   /* TLS */
    bool loopback; /* listens on a loopback address */
    char *cors;    /* "*", or origins with a comma between them; NULL: none but our own */
    int max_age;   /* seconds that a live document may be kept */
    char url[128];
    char link_base[128]; /* the same, as a tablet reaches it */
    void (*say)(void *user, const char *line);
    void *user;
    char *path;           /* of the database */
    struct doc *file[64]; /* of feed_files, by index */
    int64_t refused_ms;   /* monotonic: when refused tokens are told of again */
    int64_t note_ms;      /* monotonic: when the note was written last */
    int note_clients;
    bool note_failed;
    bool tokens_failed;
    bool qr; /* the link is drawn as well */

    pthread_mutex_t lock; /* guards the two lists; taken before the board's */
    struct line *lines;
    struct peer *peers;
    bool closing;
};

/* The request's way through the house. */
enum MHD_Result server_access(void *user, struct MHD_Connection *connection, const char *url,
                              const char *method, const char *version, const char *upload,
                              size_t *upload_size, void **request);

/* Tells the current one-time link. */
void feed_say_link(struct feed *feed, const char *what);

struct peer *server_peer(struct MHD_Connection *connection);

/* Answers. Each queues a response and gives its result. */
enum MHD_Result reply_error(struct feed *feed, struct MHD_Connection *connection, unsigned status,
                            const char *text);
/* The same with hardly a head, where the request's own takes nearly all the room. */
enum MHD_Result reply_bare(struct MHD_Connection *connection, unsigned status);
/* How long an answer holds, for those who keep it. */
enum keep {
    KEEP_NOT,
    KEEP_ASK,  /* kept, and asked about each time */
    KEEP_LIVE, /* --max-age */
    KEEP_FILE, /* of ours: changes with the program */
    KEEP_SIGNED
};
/* Takes over one hold of the document. `fresh` may be NULL. */
enum MHD_Result reply_doc(struct feed *feed, struct MHD_Connection *connection, unsigned status,
                          const char *type, struct doc *doc, enum keep keep,
                          const struct freshness *fresh);
enum MHD_Result reply_stream(struct feed *feed, struct MHD_Connection *connection, bool head,
                             struct stream *stream, const char *who);
enum MHD_Result reply_redirect(struct feed *feed, struct MHD_Connection *connection,
                               const char *where, const char *cookie);
enum MHD_Result reply_preflight(struct feed *feed, struct MHD_Connection *connection);

#endif
