/* sha256.c: SHA-256 as hexadecimal digits. */
#include "ringtally/base/sha256.h"

#include <sodium.h>

#include "ringtally/base/digest.h"

_Static_assert(SHA256_TEXT == 2 * crypto_hash_sha256_BYTES + 1, "two digits a byte");

void sha256_text(char out[SHA256_TEXT], const void *bytes, size_t size)
{
    unsigned char digest[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(digest, bytes, size);
    hex_write(out, digest, sizeof digest);
}
