/* link.h: the line-wise talk with a socket that is never waited for. */
#ifndef RINGTALLY_PLAYER_LINK_H
#define RINGTALLY_PLAYER_LINK_H

#include <stdbool.h>
#include <stddef.h>

#define LINK_LINE 65536 /* a longer line is passed over */
#define LINK_OUT  65536 /* what may wait to be sent */

struct link {
    int fd; /* -1: not connected */
    char in[LINK_LINE];
    size_t in_size;
    bool skipping; /* the rest of a line that was too long */
    char out[LINK_OUT];
    size_t out_size;
};

/* Connects to the path without waiting. False: nobody listens there (yet). */
bool link_open(struct link *link, const char *path);
void link_close(struct link *link);
/* Puts a line in line; false: too much waits already, and it is dropped. */
bool link_send(struct link *link, const char *line, size_t size);
/* Sends what goes. False: the other side is gone. */
bool link_flush(struct link *link);
/* Reads what is there, at most so much that the caller stays alive. False: the other side is gone.
 */
bool link_fill(struct link *link);
/* The next whole line, `size` bytes with its newline; NULL: none. Valid until link_drop. */
const char *link_line(struct link *link, size_t *size);
/* Done with that line. */
void link_drop(struct link *link, size_t size);

#endif
