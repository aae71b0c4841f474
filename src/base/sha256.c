/* sha256.c: SHA-256 as hexadecimal digits. */
#include "ringtally/base/sha256.h"

#include <sodium.h>
#include <string.h>

#include "ringtally/base/digest.h"
#include "base/foreign.h"

_Static_assert(SHA256_TEXT == 2 * crypto_hash_sha256_BYTES + 1, "two digits a byte");

void sha256_text(char out[SHA256_TEXT], const void *bytes, size_t size)
{
    unsigned char digest[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(digest, bytes, size);
    foreign_bytes(digest, sizeof digest);
    hex_write(out, digest, sizeof digest);
}

void sha256_hmac_text(char out[SHA256_TEXT], const char *key, const void *bytes, size_t size)
{
    crypto_auth_hmacsha256_state state;
    unsigned char digest[crypto_auth_hmacsha256_BYTES];
    crypto_auth_hmacsha256_init(&state, (const unsigned char *)key, strlen(key));
    crypto_auth_hmacsha256_update(&state, bytes, size);
    crypto_auth_hmacsha256_final(&state, digest);
    foreign_bytes(digest, sizeof digest);
    hex_write(out, digest, sizeof digest);
}
