/* SHA-256 against the examples that NIST publishes beside FIPS 180-4 ("SHA256.pdf", one and two
 * blocks; from memory, and the same as what coreutils' sha256sum says), and every length around a
 * block against digests by Python's hashlib. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "ringtally/base/sha256.h"

static void sha256_text__examples_of_nist__digests(void **state)
{
    (void)state;
    static const struct {
        const char *text, *digest;
    } cases[] = {
        {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
        {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
        {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
         "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char digest[SHA256_TEXT];
        sha256_text(digest, cases[i].text, strlen(cases[i].text));
        assert_string_equal(digest, cases[i].digest);
    }
    char *many = test_malloc(1000000);
    char digest[SHA256_TEXT];
    memset(many, 'a', 1000000);
    sha256_text(digest, many, 1000000);
    assert_string_equal(digest, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
    test_free(many);
}

/* RFC 4231, 4.3 (from memory, and the same as Python's hmac). */
static void sha256_hmac_text__example_of_rfc_4231__digest(void **state)
{
    (void)state;
    static const char data[] = "what do ya want for nothing?";
    char digest[SHA256_TEXT];
    sha256_hmac_text(digest, "Jefe", data, sizeof data - 1);
    assert_string_equal(digest, "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
}

/* The digest of the digests of 0 to 130 times 'x'. */
static void sha256_text__lengths_around_a_block__digests(void **state)
{
    (void)state;
    char text[131], all[131 * 64 + 1];
    char digest[SHA256_TEXT];
    memset(text, 'x', sizeof text);
    for (size_t size = 0; size <= 130; size++) {
        sha256_text(digest, text, size);
        memcpy(all + 64 * size, digest, 64);
    }
    sha256_text(digest, all, 131 * 64);
    assert_string_equal(digest, "87aca1c44bc7ba8897768170211f0a02063de70801131ff86c7edb9ce32c6a50");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sha256_text__examples_of_nist__digests),
        cmocka_unit_test(sha256_hmac_text__example_of_rfc_4231__digest),
        cmocka_unit_test(sha256_text__lengths_around_a_block__digests),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
