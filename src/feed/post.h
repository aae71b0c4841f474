/* post.h: the feed's events to an endpoint, by POST. Private to the room.
 *
 * A thread of its own reads the same streams that clients read, so nothing is kept for an endpoint
 * that does not answer but its place in each bout's log. An event is sent again until it is
 * answered with 2xx, in order, at growing intervals; the place that was answered stands in a file
 * beside the database, so that no event is sent twice because the feed was started anew.
 */
#ifndef RINGTALLY_FEED_POST_H
#define RINGTALLY_FEED_POST_H

#include "feed/board.h"

struct post; /* opaque */

struct post_setup {
    struct board *board;
    const char *url;    /* http or https */
    const char *secret; /* that the signature is made with */
    const char *db;     /* its answered places stand in DB.post */
    void (*say)(void *user, const char *line);
    void *user;
};

int post_open(struct post **out, const struct post_setup *setup, struct error *err);
/* Something may be new. From any thread. */
void post_wake(struct post *post);
/* Takes NULL. */
void post_close(struct post *post);

/* For whoever watches the feed. */
struct post_state {
    int64_t answered;   /* events, since the feed was started */
    int64_t failing_ms; /* UTC since when the endpoint does not answer as it should; 0: it does */
    char trouble[200];  /* how */
};
void post_look(struct post *post, struct post_state *out);

#endif
