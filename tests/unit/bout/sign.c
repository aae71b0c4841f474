#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "ringtally/bout/sign.h"

static void sign_state__what_is_known__says_which(void **state)
{
    (void)state;
    static const struct {
        struct desk_sign sign;
        enum sign_state expected;
    } cases[] = {
        {{.held = true, .seen_ms = 1000, .age_ms = 0}, SIGN_LIVE},
        {{.held = true, .seen_ms = 1000, .age_ms = SIGN_STALE_MS - 1}, SIGN_LIVE},
        {{.held = true, .seen_ms = 1000, .age_ms = SIGN_STALE_MS}, SIGN_SILENT},
        {{.held = true}, SIGN_SILENT},
        /* Opened again, and hanging before its first sign. */
        {{.held = true, .left = true, .seen_ms = 1000}, SIGN_SILENT},
        {{.seen_ms = 1000, .age_ms = 1}, SIGN_LOST},
        {{.left = true, .seen_ms = 1000, .age_ms = 86400000}, SIGN_LEFT},
        {{0}, SIGN_UNKNOWN},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_int_equal(sign_state(&cases[i].sign), cases[i].expected);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sign_state__what_is_known__says_which),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
