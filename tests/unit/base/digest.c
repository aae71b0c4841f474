/* BLAKE2b against the example of RFC 7693, appendix A ("abc", excerpt), and against digests made by
 * Python's hashlib (own arithmetic); the typed form against its description in digest.h, byte by
 * byte. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "ringtally/base/digest.h"

static void blake2b__abc__is_as_published(void **state)
{
    (void)state;
    unsigned char digest[64];
    char text[129];
    blake2b(digest, sizeof digest, "abc", 3);
    hex_write(text, digest, sizeof digest);
    assert_string_equal(text, "ba80a53f981c4d0d6a2797b69f12f6e94c212f14685ac4b74b12bb6fdbffa2d1"
                              "7d87c5392aab792dc252d5de4533cc9518d38aa8dbf1925ab92386edd4009923");
}

static void blake2b__32_bytes__are_those_of_hashlib(void **state)
{
    (void)state;
    unsigned char digest[DIGEST_BYTES];
    char text[DIGEST_TEXT];
    blake2b(digest, sizeof digest, "abc", 3);
    hex_write(text, digest, sizeof digest);
    assert_string_equal(text, "bddd813c634239723171ef3fee98579b94964e3bb1cb3e427262c8c068d52319");
    blake2b(digest, sizeof digest, "", 0);
    hex_write(text, digest, sizeof digest);
    assert_string_equal(text, "0e5751c026e543b2e8ab2eb06099daa1d1e5df47778f7787faab45cdf12fe3a8");
}

static void digest__typed_values__are_fed_as_described(void **state)
{
    (void)state;
    static const unsigned char bytes[] = "t\0\0\0\004ring"
                                         "i\377\377\377\377\377\377\377\376"
                                         "t\0\0\0\002\303\251"
                                         "t\0\0\0\0"
                                         "n"
                                         "b\0\0\0\003\0\001\002"
                                         "n"
                                         "i\0\0\001\234\0\0\0\001";
    unsigned char wanted[DIGEST_BYTES], found[DIGEST_BYTES];
    struct digest digest;
    blake2b(wanted, sizeof wanted, bytes, sizeof bytes - 1);
    digest_begin(&digest, "ring");
    digest_number(&digest, -2);
    digest_text(&digest, "\303\251", 2);
    digest_text(&digest, "", 0);
    digest_text(&digest, NULL, 0);
    digest_bytes(&digest, "\0\001\002", 3);
    digest_none(&digest);
    digest_number(&digest, (INT64_C(0x19c) << 32) + 1);
    digest_end(&digest, found);
    assert_memory_equal(found, wanted, sizeof wanted);
}

static void hex_read__anything_but_so_many_digits__is_refused(void **state)
{
    (void)state;
    unsigned char bytes[2];
    assert_true(hex_read(bytes, 2, "09af"));
    assert_int_equal(bytes[0], 0x09);
    assert_int_equal(bytes[1], 0xaf);
    assert_false(hex_read(bytes, 2, "09a"));
    assert_false(hex_read(bytes, 2, "09af0"));
    assert_false(hex_read(bytes, 2, "09aF"));
    assert_false(hex_read(bytes, 2, "09 f"));
    assert_false(hex_read(bytes, 2, ""));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(blake2b__abc__is_as_published),
        cmocka_unit_test(blake2b__32_bytes__are_those_of_hashlib),
        cmocka_unit_test(digest__typed_values__are_fed_as_described),
        cmocka_unit_test(hex_read__anything_but_so_many_digits__is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
