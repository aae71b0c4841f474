/* Numbers as runs, against a plain set. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "hub/runs.h"

#define NUMBERS 64

static void expect_same(const struct runs *runs, const bool *plain)
{
    size_t count = 0;
    for (int i = 1; i < NUMBERS; i++) {
        assert_int_equal(runs_has(runs, i), plain[i]);
        count += plain[i] && !plain[i - 1];
    }
    assert_int_equal(runs->count, count);
    for (size_t i = 1; i < runs->count; i++) {
        assert_true(runs->run[i - 1].high + 1 < runs->run[i].low);
    }
}

static void runs__add__any_order(void **state)
{
    (void)state;
    srand(14);
    for (int trial = 0; trial < 300; trial++) {
        struct runs runs = {.count = 0};
        bool plain[NUMBERS] = {false};
        for (int i = 0; i < 40; i++) {
            int low = 1 + rand() % (NUMBERS - 1);
            int high = rand() % 3 ? low : low + rand() % (NUMBERS - low);
            assert_true(runs_add(&runs, low, high));
            memset(plain + low, true, (size_t)(high - low + 1));
            expect_same(&runs, plain);
        }
        runs_release(&runs);
    }
}

static void runs__has__nothing(void **state)
{
    (void)state;
    struct runs runs = {.count = 0};
    assert_false(runs_has(&runs, 1));
    runs_release(&runs);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(runs__add__any_order),
        cmocka_unit_test(runs__has__nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
