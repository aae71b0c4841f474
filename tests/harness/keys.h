/* keys.h: what a terminal of a given description sends for a key. */
#ifndef HARNESS_KEYS_H
#define HARNESS_KEYS_H

#include <stddef.h>

/* The bytes into out[size]; false where the key has no such name or the terminal no such key. */
int keys_sent(char *out, size_t size, const char *term, const char *key);

#endif
