/* hash.c: the hash by its published vectors. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "ringtally/base/hash.h"

/* FNV-1a of "", "a" and "foobar", 64 bits: the published test vectors (from memory). */
static void hash_bytes__published_vectors__as_published(void **state)
{
    (void)state;
    assert_true(hash_bytes(HASH_BEGIN, "", 0) == UINT64_C(0xcbf29ce484222325));
    assert_true(hash_bytes(HASH_BEGIN, "a", 1) == UINT64_C(0xaf63dc4c8601ec8c));
    assert_true(hash_bytes(HASH_BEGIN, "foobar", 6) == UINT64_C(0x85944171f73967e8));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hash_bytes__published_vectors__as_published),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
