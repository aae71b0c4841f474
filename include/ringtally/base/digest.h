/* digest.h: BLAKE2b (RFC 7693), of bytes and of a sequence of typed values.
 *
 * The sequence has one form only, so that two that differ never give the same bytes: a domain's
 * name, then each value behind a letter that says what it is. Numbers are 8 bytes, the most
 * significant first, two's complement; lengths are 4 bytes, likewise.
 *
 *   domain  't' length bytes        number  'i' 8 bytes
 *   text    't' length bytes        bytes   'b' length bytes        none  'n'
 */
#ifndef RINGTALLY_BASE_DIGEST_H
#define RINGTALLY_BASE_DIGEST_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define DIGEST_BYTES 32
#define DIGEST_TEXT  65 /* 64 hexadecimal digits, small letters, and NUL */

struct digest {
    _Alignas(64) unsigned char state[384]; /* the library's own */
};

/* Of bytes alone; out_size 16 to 64. */
void blake2b(unsigned char *out, size_t out_size, const void *bytes, size_t size);

void digest_begin(struct digest *digest, const char *domain);
void digest_number(struct digest *digest, int64_t number);
/* NULL: none. */
void digest_text(struct digest *digest, const char *text, size_t size);
void digest_bytes(struct digest *digest, const void *bytes, size_t size);
void digest_none(struct digest *digest);
void digest_end(struct digest *digest, unsigned char out[DIGEST_BYTES]);

/* Bytes as hexadecimal digits in small letters, out[2 * size + 1]; and back. False: not just that
 * many digits. */
void hex_write(char *out, const unsigned char *bytes, size_t size);
bool hex_read(unsigned char *out, size_t size, const char *text);

#endif
