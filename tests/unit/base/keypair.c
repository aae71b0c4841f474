/* Ed25519 against the test vectors of RFC 8032, section 7.1 (secondary: as other programs' tests
 * quote them; TEST 1024 left out for its length), and the file of a key. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "ringtally/base/digest.h"
#include "ringtally/base/file.h"
#include "ringtally/base/keypair.h"

static const struct {
    const char *secret, *public_, *message, *signature;
} vectors[] = {
    {"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
     "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b"
     "46bd25bf5f0595bbe24655141438e7a100b"},
    {"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
     "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11"
     "d8c387b2eaeb4302aeeb00d291612bb0c00"},
    {"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
     "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc"
     "6594a7c15e9716ed28dc027beceea1ec40a"},
    {"833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
     "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
     "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3fee"
     "bbd454d4423643ce80e2a9ac94fa54ca49f",
     "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e"
     "0303dca179c138ac17ad9bef1177331a704"},
};

static void keypair__vectors__sign_and_hold_as_published(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof vectors / sizeof *vectors; i++) {
        unsigned char seed[KEY_BYTES], message[64], signature[SIGNATURE_BYTES];
        char text[2 * SIGNATURE_BYTES + 1];
        struct keypair keys;
        size_t size = strlen(vectors[i].message) / 2;
        assert_true(hex_read(seed, sizeof seed, vectors[i].secret));
        assert_true(hex_read(message, size, vectors[i].message));
        keypair_of_seed(&keys, seed);
        hex_write(text, keys.public_, sizeof keys.public_);
        assert_string_equal(text, vectors[i].public_);
        keypair_sign(signature, &keys, message, size);
        hex_write(text, signature, sizeof signature);
        assert_string_equal(text, vectors[i].signature);
        assert_true(keypair_holds(signature, keys.public_, message, size));
        for (size_t at = 0; at < sizeof signature; at++) { /* nothing else does */
            signature[at] ^= 1;
            assert_false(keypair_holds(signature, keys.public_, message, size));
            signature[at] ^= 1;
        }
        for (size_t at = 0; at < size; at++) {
            message[at] ^= 0x80;
            assert_false(keypair_holds(signature, keys.public_, message, size));
            message[at] ^= 0x80;
        }
    }
}

static void keypair_save__file__is_for_its_owner_and_read_back(void **state)
{
    (void)state;
    char path[] = "keypair-test.XXXXXX";
    char file[64], others[64];
    struct keypair keys, again;
    struct error err = {0};
    struct stat info;
    assert_non_null(mkdtemp(path));
    snprintf(file, sizeof file, "%s/sign.key", path);
    snprintf(others, sizeof others, "%s/other.key", path);
    assert_int_equal(keypair_load(&again, file, &err), ERROR_MISSING);
    assert_true(keypair_new(&keys));
    assert_int_equal(keypair_save(&keys, file, NULL), 0);
    assert_int_equal(stat(file, &info), 0);
    assert_int_equal(info.st_mode & 07777, 0600);
    assert_int_equal(keypair_load(&again, file, NULL), 0);
    assert_memory_equal(&again, &keys, sizeof keys);

    /* A key is never overwritten, nor written through a link. */
    assert_int_not_equal(keypair_save(&keys, file, NULL), 0);
    assert_int_equal(symlink("elsewhere.key", others), 0);
    assert_int_not_equal(keypair_save(&keys, others, NULL), 0);
    assert_int_equal(unlink(others), 0);

    /* One that others may read is none. */
    err = (struct error){0};
    assert_int_equal(chmod(file, 0640), 0);
    assert_int_equal(keypair_load(&again, file, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "others may read this secret key"));

    /* Nor is any other file. */
    static const char *const texts[] = {"", "ringtally secret key: ", "ringtally secret key: 00\n",
                                        "0000"};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        unlink(others);
        assert_int_equal(file_write_new(others, texts[i], strlen(texts[i]), NULL), 0);
        assert_int_equal(keypair_load(&again, others, NULL), ERROR_FAILED);
    }
    assert_int_equal(keypair_load(&again, path, NULL), ERROR_FAILED);
    unlink(others);
    unlink(file);
    assert_int_equal(rmdir(path), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keypair__vectors__sign_and_hold_as_published),
        cmocka_unit_test(keypair_save__file__is_for_its_owner_and_read_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
