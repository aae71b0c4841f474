/* keypair.h: signatures by Ed25519 (RFC 8032). */
#ifndef RINGTALLY_BASE_KEYPAIR_H
#define RINGTALLY_BASE_KEYPAIR_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/base/error.h"

#define KEY_BYTES       32 /* of a public key, and of the seed of a secret one */
#define KEY_TEXT        65 /* as hexadecimal digits, and NUL */
#define SIGNATURE_BYTES 64

struct keypair {
    unsigned char public_[KEY_BYTES];
    unsigned char secret[2 * KEY_BYTES]; /* the library's form: the seed and the public key */
};

/* Of a seed, the secret key of RFC 8032. */
void keypair_of_seed(struct keypair *out, const unsigned char seed[KEY_BYTES]);
/* Of a random seed; false: the machine gives no random bytes. */
bool keypair_new(struct keypair *out);
void keypair_sign(unsigned char signature[SIGNATURE_BYTES], const struct keypair *keys,
                  const void *bytes, size_t size);
bool keypair_holds(const unsigned char signature[SIGNATURE_BYTES],
                   const unsigned char public_[KEY_BYTES], const void *bytes, size_t size);
/* Leaves nothing of it in memory. */
void keypair_forget(struct keypair *keys);

/* The secret key in a file that only its owner may read: refused where others may. Writing makes a
 * file of a name that must be free. */
int keypair_load(struct keypair *out, const char *path, struct error *err);
int keypair_save(const struct keypair *keys, const char *path, struct error *err);

#endif
