/* sha256.h: SHA-256 (FIPS 180-4) of text as hexadecimal digits; `sha256sum` says the same. */
#ifndef RINGTALLY_BASE_SHA256_H
#define RINGTALLY_BASE_SHA256_H

#include <stddef.h>

#define SHA256_TEXT 65 /* 64 hexadecimal digits, small letters, and NUL */

void sha256_text(char out[SHA256_TEXT], const void *bytes, size_t size);
/* HMAC-SHA-256 (RFC 2104) under a key of text. */
void sha256_hmac_text(char out[SHA256_TEXT], const char *key, const void *bytes, size_t size);

#endif
