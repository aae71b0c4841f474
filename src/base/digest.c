/* digest.c: BLAKE2b, of bytes and of typed values. */
#include "ringtally/base/digest.h"

#include <string.h>

#include <sodium.h>
#include "base/foreign.h"

_Static_assert(sizeof(struct digest) >= sizeof(crypto_generichash_state), "room for its state");
_Static_assert(_Alignof(struct digest) >= _Alignof(crypto_generichash_state), "placed as it wants");

void blake2b(unsigned char *out, size_t out_size, const void *bytes, size_t size)
{
    crypto_generichash(out, out_size, bytes, size, NULL, 0);
    foreign_bytes(out, out_size);
}

static void feed(struct digest *digest, const void *bytes, size_t size)
{
    crypto_generichash_update((crypto_generichash_state *)(void *)digest->state, bytes, size);
}

/* `letter`, and a number of `size` bytes. */
static void feed_head(struct digest *digest, char letter, uint64_t number, size_t size)
{
    unsigned char head[9] = {(unsigned char)letter};
    for (size_t i = 0; i < size; i++) {
        head[1 + i] = (unsigned char)(number >> 8 * (size - 1 - i));
    }
    feed(digest, head, 1 + size);
}

void digest_begin(struct digest *digest, const char *domain)
{
    crypto_generichash_init((crypto_generichash_state *)(void *)digest->state, NULL, 0,
                            DIGEST_BYTES);
    digest_text(digest, domain, strlen(domain));
}

void digest_number(struct digest *digest, int64_t number)
{
    feed_head(digest, 'i', (uint64_t)number, 8);
}

void digest_text(struct digest *digest, const char *text, size_t size)
{
    if (!text) {
        digest_none(digest);
        return;
    }
    feed_head(digest, 't', size, 4);
    feed(digest, text, size);
}

void digest_bytes(struct digest *digest, const void *bytes, size_t size)
{
    feed_head(digest, 'b', size, 4);
    feed(digest, bytes, size);
}

void digest_none(struct digest *digest)
{
    feed_head(digest, 'n', 0, 0);
}

void digest_end(struct digest *digest, unsigned char out[DIGEST_BYTES])
{
    crypto_generichash_final((crypto_generichash_state *)(void *)digest->state, out, DIGEST_BYTES);
    foreign_bytes(out, DIGEST_BYTES);
}

void hex_write(char *out, const unsigned char *bytes, size_t size)
{
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < size; i++) {
        out[2 * i] = digits[bytes[i] >> 4];
        out[2 * i + 1] = digits[bytes[i] & 15];
    }
    out[2 * size] = '\0';
}

bool hex_read(unsigned char *out, size_t size, const char *text)
{
    if (strlen(text) != 2 * size || strspn(text, "0123456789abcdef") != 2 * size) {
        return false;
    }
    for (size_t i = 0; i < size; i++) {
        unsigned value = 0;
        for (int j = 0; j < 2; j++) {
            char digit = text[2 * i + (size_t)j];
            value = value << 4 | (unsigned)(digit <= '9' ? digit - '0' : digit - 'a' + 10);
        }
        out[i] = (unsigned char)value;
    }
    return true;
}
