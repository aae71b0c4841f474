/* Shares and rates as people read them. */
#include "support.h"

#include <locale.h>

#include "ringtally/tally/shares.h"

static void share_percent__half_up__but_all_is_all(void **state)
{
    (void)state;
    static const struct {
        int64_t part, whole;
        int percent;
    } cases[] = {{1, 8, 13},   {1, 3, 33},     {2, 3, 67},  {1, 16, 6},    {0, 5, 0},
                 {5, 5, 100},  {199, 200, 99}, {1, 300, 1}, {3, 200, 2},   {0, 0, -1},
                 {13, 40, 33}, {5, 8, 63},     {1, 1, 100}, {499, 500, 99}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_int_equal(share_percent(cases[i].part, cases[i].whole), cases[i].percent);
    }
}

static void share_text__nothing__dash(void **state)
{
    (void)state;
    char text[SHARE_SIZE];
    share_text(text, 0, 0);
    assert_string_equal(text, "-");
    share_text(text, 5, 12);
    assert_string_equal(text, "42%");
}

/* Nothing before half a minute; a point whatever the locale, where one with a comma is there. */
static void rate_text__half_a_minute__a_point(void **state)
{
    (void)state;
    char text[SHARE_SIZE];
    setlocale(LC_NUMERIC, "de_DE.UTF-8");
    rate_text(text, 5, 29999);
    assert_string_equal(text, "-");
    rate_text(text, 5, 30000);
    assert_string_equal(text, "10.0");
    rate_text(text, 47, 121000); /* 23.305 */
    assert_string_equal(text, "23.3");
    rate_text(text, 1, 60000 * 20); /* 0.05 */
    assert_string_equal(text, "0.1");
    rate_text(text, 999950, 60000 * 1000);
    assert_string_equal(text, "1000");
    setlocale(LC_NUMERIC, "C");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(share_percent__half_up__but_all_is_all),
        cmocka_unit_test(share_text__nothing__dash),
        cmocka_unit_test(rate_text__half_a_minute__a_point),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
