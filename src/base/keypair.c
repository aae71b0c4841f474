/* keypair.c: signatures by Ed25519, and the file of a secret key. */
#include "ringtally/base/keypair.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <sodium.h>

#include "ringtally/base/digest.h"
#include "ringtally/base/file.h"
#include "base/foreign.h"

/* One line, so that a look at it tells what it is. */
#define FILE_HEAD "ringtally secret key: "

_Static_assert(KEY_BYTES == crypto_sign_PUBLICKEYBYTES, "as the library has it");
_Static_assert(KEY_BYTES == crypto_sign_SEEDBYTES, "as the library has it");
_Static_assert(2 * KEY_BYTES == crypto_sign_SECRETKEYBYTES, "as the library has it");
_Static_assert(SIGNATURE_BYTES == crypto_sign_BYTES, "as the library has it");

void keypair_of_seed(struct keypair *out, const unsigned char seed[KEY_BYTES])
{
    crypto_sign_seed_keypair(out->public_, out->secret, seed);
    foreign_bytes(out, sizeof *out);
}

bool keypair_new(struct keypair *out)
{
    unsigned char seed[KEY_BYTES];
    if (sodium_init() < 0) {
        return false;
    }
    randombytes_buf(seed, sizeof seed);
    foreign_bytes(seed, sizeof seed);
    keypair_of_seed(out, seed);
    sodium_memzero(seed, sizeof seed);
    return true;
}

void keypair_sign(unsigned char signature[SIGNATURE_BYTES], const struct keypair *keys,
                  const void *bytes, size_t size)
{
    crypto_sign_detached(signature, NULL, bytes, size, keys->secret);
    foreign_bytes(signature, SIGNATURE_BYTES);
}

bool keypair_holds(const unsigned char signature[SIGNATURE_BYTES],
                   const unsigned char public_[KEY_BYTES], const void *bytes, size_t size)
{
    return crypto_sign_verify_detached(signature, bytes, size, public_) == 0;
}

void keypair_forget(struct keypair *keys)
{
    sodium_memzero(keys, sizeof *keys);
}

/* Reads at most `size` - 1 bytes of a file of the owner's own. */
static int read_own(char *out, size_t size, const char *path, struct error *err)
{
    struct stat info = {0};
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    if (fd < 0 || fstat(fd, &info)) {
        int cause = errno;
        if (fd >= 0) {
            close(fd);
        }
        return error_set(err, cause == ENOENT ? ERROR_MISSING : ERROR_FAILED, "%s: %s", path,
                         strerror(cause));
    }
    bool file = S_ISREG(info.st_mode);
    bool open_to_others = info.st_mode & 077;
    ssize_t got = file && !open_to_others ? read(fd, out, size - 1) : -1;
    close(fd);
    out[got > 0 ? got : 0] = '\0';
    return got >= 0 ? 0
                    : error_set(err, ERROR_FAILED, "%s: %s", path,
                                !file            ? "this is no file"
                                : open_to_others ? "others may read this secret key: chmod 600, or "
                                                   "better a new one"
                                                 : "it cannot be read");
}

int keypair_load(struct keypair *out, const char *path, struct error *err)
{
    unsigned char seed[KEY_BYTES];
    char text[sizeof FILE_HEAD + KEY_TEXT + 8] = "";
    int code = read_own(text, sizeof text, path, err);
    if (code) {
        return code;
    }
    text[strcspn(text, "\n")] = '\0';
    bool known = strncmp(text, FILE_HEAD, sizeof FILE_HEAD - 1) == 0 &&
                 hex_read(seed, sizeof seed, text + sizeof FILE_HEAD - 1);
    if (known) {
        keypair_of_seed(out, seed);
    }
    sodium_memzero(seed, sizeof seed);
    sodium_memzero(text, sizeof text);
    return known ? 0
                 : error_set(err, ERROR_FAILED, "%s: this is no secret key of ringtally's", path);
}

int keypair_save(const struct keypair *keys, const char *path, struct error *err)
{
    char text[sizeof FILE_HEAD + KEY_TEXT + 1] = FILE_HEAD;
    size_t head = sizeof FILE_HEAD - 1;
    hex_write(text + head, keys->secret, KEY_BYTES);
    text[head + KEY_TEXT - 1] = '\n';
    int code = file_write_new(path, text, head + KEY_TEXT, err);
    sodium_memzero(text, sizeof text);
    return code;
}
