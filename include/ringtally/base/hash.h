/* hash.h: contents told apart by a number: FNV-1a, 64 bits (Fowler, Noll, Vo). Nothing
 * hangs on its being hard to forge. */
#ifndef RINGTALLY_BASE_HASH_H
#define RINGTALLY_BASE_HASH_H

#include <stddef.h>
#include <stdint.h>

#define HASH_BEGIN UINT64_C(14695981039346656037)

/* One step, of a byte or, where only this program compares, of a number. */
static inline uint64_t hash_step(uint64_t hash, uint64_t value)
{
    return (hash ^ value) * UINT64_C(1099511628211);
}

static inline uint64_t hash_bytes(uint64_t hash, const char *bytes, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        hash = hash_step(hash, (unsigned char)bytes[i]);
    }
    return hash;
}

#endif
