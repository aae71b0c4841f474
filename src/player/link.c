/* link.c: bytes in and out of the player's socket. */
#include "player/link.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

bool link_open(struct link *link, const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    link->fd = -1;
    link->in_size = link->out_size = 0;
    link->skipping = false;
    size_t size = strlen(path) + 1;
    if (size > sizeof address.sun_path) {
        return false;
    }
    memcpy(address.sun_path, path, size);
    int fd = socket(AF_UNIX, SOCK_STREAM, 0);
    if (fd < 0) {
        return false;
    }
    if (fcntl(fd, F_SETFD, FD_CLOEXEC) || fcntl(fd, F_SETFL, O_NONBLOCK) ||
        connect(fd, (struct sockaddr *)&address, sizeof address)) {
        close(fd);
        return false;
    }
    link->fd = fd;
    return true;
}

void link_close(struct link *link)
{
    if (link->fd >= 0) {
        close(link->fd);
    }
    link->fd = -1;
}

bool link_send(struct link *link, const char *line, size_t size)
{
    if (link->fd < 0 || size > sizeof link->out - link->out_size) {
        return false;
    }
    memcpy(link->out + link->out_size, line, size);
    link->out_size += size;
    return true;
}

bool link_flush(struct link *link)
{
    while (link->fd >= 0 && link->out_size > 0) {
        ssize_t sent = send(link->fd, link->out, link->out_size, MSG_NOSIGNAL);
        if (sent < 0) {
            return errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR;
        }
        link->out_size -= (size_t)sent;
        memmove(link->out, link->out + sent, link->out_size);
    }
    return true;
}

bool link_fill(struct link *link)
{
    if (link->in_size == sizeof link->in - 1) { /* a line without an end */
        link->in_size = 0;
        link->skipping = true;
    }
    ssize_t got = recv(link->fd, link->in + link->in_size, sizeof link->in - 1 - link->in_size, 0);
    if (got < 0) {
        return errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR;
    }
    link->in_size += (size_t)got;
    return got > 0;
}

const char *link_line(struct link *link, size_t *size)
{
    for (;;) {
        const char *end = memchr(link->in, '\n', link->in_size);
        if (!end) {
            return NULL;
        }
        *size = (size_t)(end - link->in) + 1;
        if (!link->skipping) {
            return link->in;
        }
        link->skipping = false;
        link_drop(link, *size);
    }
}

void link_drop(struct link *link, size_t size)
{
    link->in_size -= size;
    memmove(link->in, link->in + size, link->in_size);
}
