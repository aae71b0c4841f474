/* osc.c: messages of the Open Sound Control 1.0 specification (2002): strings end with at least one
 * NUL and fill up to four bytes, numbers are 32 bits, the most significant byte first. */
#include "cli/osc.h"

#include <ctype.h>
#include <netdb.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* Adds a string with its NULs; 0: no room. */
static size_t add(unsigned char *out, size_t used, const char *text)
{
    size_t length = strlen(text);
    size_t size = (length / 4 + 1) * 4;
    if (used + size > OSC_MAX) {
        return 0;
    }
    memcpy(out + used, text, length);
    memset(out + used + length, 0, size - length);
    return used + size;
}

size_t osc_message(unsigned char out[OSC_MAX], const char *name, const char *text)
{
    char address[96];
    size_t digits = strspn(text, "0123456789");
    bool number = digits > 0 && digits < 10 && !text[digits];
    snprintf(address, sizeof address, "/ringtally/%s", name);
    size_t used = add(out, 0, address);
    used = used ? add(out, used, number ? ",i" : ",s") : 0;
    if (used && !number) {
        return add(out, used, text);
    }
    if (!used || used + 4 > OSC_MAX) {
        return 0;
    }
    uint32_t value = (uint32_t)atol(text);
    for (int i = 0; i < 4; i++) {
        out[used + (size_t)i] = (unsigned char)(value >> (24 - 8 * i));
    }
    return used + 4;
}

int osc_open(int *fd, const char *where, struct error *err)
{
    char host[256];
    const char *colon = strrchr(where, ':');
    struct addrinfo wanted = {.ai_socktype = SOCK_DGRAM};
    struct addrinfo *found = NULL;
    size_t size = colon ? (size_t)(colon - where) : 0;
    const char *start = where;
    if (size > 2 && where[0] == '[' && colon[-1] == ']') {
        start++;
        size -= 2;
    }
    snprintf(host, sizeof host, "%.*s", (int)size, start);
    if (size == 0 || size >= sizeof host || !isdigit((unsigned char)colon[1]) ||
        getaddrinfo(host, colon + 1, &wanted, &found)) {
        return error_set(err, ERROR_USAGE, "--osc %s: HOST:PORT is needed", where);
    }
    *fd = socket(found->ai_family, SOCK_DGRAM, 0);
    bool open = *fd >= 0 && connect(*fd, found->ai_addr, found->ai_addrlen) == 0;
    freeaddrinfo(found);
    if (!open) {
        if (*fd >= 0) {
            close(*fd);
        }
        *fd = -1;
        return error_set(err, ERROR_FAILED, "--osc %s: cannot be reached", where);
    }
    return 0;
}

void osc_send(int fd, const char *name, const char *text)
{
    unsigned char message[OSC_MAX];
    size_t size = osc_message(message, name, text);
    if (size) {
        ssize_t sent = send(fd, message, size, 0); /* nobody there: told by nothing, by design */
        (void)sent;
    }
}
