/* sha256.h: the SHA-256 of a text (NIST FIPS 180-4), so that one that was edited or damaged on its
 * way is known for it; `sha256sum` says the same. */
#ifndef RINGTALLY_SHA256_H
#define RINGTALLY_SHA256_H

#include <stddef.h>

#define SHA256_TEXT 65 /* 64 hexadecimal digits, small letters, and NUL */

void sha256_text(char out[SHA256_TEXT], const void *bytes, size_t size);

#endif
