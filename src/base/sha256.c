/* sha256.c: SHA-256 as hexadecimal digits. */
#include "ringtally/base/sha256.h"

#include <stdint.h>
#include <sys/types.h>

#include <sha2.h>

_Static_assert(SHA256_TEXT == SHA256_DIGEST_STRING_LENGTH, "as long as the library writes it");

void sha256_text(char out[SHA256_TEXT], const void *bytes, size_t size)
{
    SHA256Data(bytes, size, out);
}
