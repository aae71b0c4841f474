#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "ringtally/base/when.h"

static void when_rfc3339__moments__as_written(void **state)
{
    (void)state;
    static const struct {
        int64_t ms;
        const char *text;
    } cases[] = {
        {0, "1970-01-01T00:00:00.000Z"},
        {1, "1970-01-01T00:00:00.001Z"},
        {-1, "1969-12-31T23:59:59.999Z"},
        {-86400000, "1969-12-31T00:00:00.000Z"},
        {951782400000, "2000-02-29T00:00:00.000Z"}, /* Python: datetime(2000,2,29,tzinfo=utc) */
        {1796501730250, "2026-12-05T20:15:30.250Z"},
        {253402300799999, "9999-12-31T23:59:59.999Z"},
    };
    char out[WHEN_SIZE];
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_string_equal(when_rfc3339(out, cases[i].ms), cases[i].text);
        if (cases[i].ms != -1) { /* -1 is also how when_parse says no */
            assert_int_equal(when_parse(cases[i].text), cases[i].ms);
        }
    }
    assert_string_equal(when_rfc3339(out, INT64_MAX), "0000-00-00T00:00:00.000Z");
    assert_string_equal(when_rfc3339(out, 253402300800000), "0000-00-00T00:00:00.000Z");
}

/* The examples of RFC 3339, section 5.8 [from memory]. */
static void when_parse__rfc_examples__same_moment(void **state)
{
    (void)state;
    assert_int_equal(when_parse("1985-04-12T23:20:50.52Z"), when_parse("1985-04-12T23:20:50.520Z"));
    assert_int_equal(when_parse("1996-12-19T16:39:57-08:00"), when_parse("1996-12-20T00:39:57Z"));
    assert_int_equal(when_parse("1990-12-31T23:59:60Z"), when_parse("1991-01-01T00:00:00Z"));
    assert_int_equal(when_parse("1990-12-31T15:59:60-08:00"), when_parse("1990-12-31T23:59:60Z"));
    assert_int_equal(when_parse("1937-01-01T12:00:27.87+00:20"),
                     when_parse("1937-01-01T11:40:27.870Z"));
    assert_int_equal(when_parse("2026-12-05t20:15:30.2509z"), 1796501730250);
}

static void when_parse__no_moment__refused(void **state)
{
    (void)state;
    static const char *const bad[] = {"",
                                      "2026",
                                      "2026-12-05",
                                      "2026-12-05 20:15:30Z",
                                      "2026-12-05T20:15:30",
                                      "2026-12-05T20:15:30.Z",
                                      "2026-12-05T20:15:30Zx",
                                      "2026-13-05T20:15:30Z",
                                      "2026-00-05T20:15:30Z",
                                      "2026-12-32T20:15:30Z",
                                      "2025-02-29T20:15:30Z",
                                      "1900-02-29T20:15:30Z",
                                      "2026-12-05T24:15:30Z",
                                      "2026-12-05T20:60:30Z",
                                      "2026-12-05T20:15:61Z",
                                      "2026-12-05T20:15:30+24:00",
                                      "2026-12-05T20:15:30+0100",
                                      "+026-12-05T20:15:30Z"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        assert_int_equal(when_parse(bad[i]), -1);
    }
}

/* Outside check: gmtime_r of the C library, a day of every month over 400 years and more. */
static void when_parse__round_trip__every_month(void **state)
{
    (void)state;
    char text[WHEN_SIZE];
    for (int64_t ms = 86399999; ms < INT64_C(13000000000000); ms += INT64_C(2629746123)) {
        when_rfc3339(text, ms);
        assert_int_equal(when_parse(text), ms);
        time_t seconds = (time_t)(ms / 1000);
        struct tm tm = {0};
        char again[WHEN_SIZE];
        assert_non_null(gmtime_r(&seconds, &tm));
        assert_true(strftime(again, sizeof again, "%Y-%m-%dT%H:%M:%S.", &tm) > 0);
        assert_memory_equal(text, again, strlen(again));
    }
}

static void when_clock__spans__minutes_and_seconds(void **state)
{
    (void)state;
    static const struct {
        int64_t ms;
        const char *text;
    } cases[] = {{0, "0:00"},        {999, "0:00"},   {1000, "0:01"},
                 {59999, "0:59"},    {60000, "1:00"}, {151000, "2:31"},
                 {3600000, "60:00"}, {-1, "0:00"},    {-61000, "0:00"}};
    char out[WHEN_SIZE];
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_string_equal(when_clock(out, cases[i].ms), cases[i].text);
    }
}

static void when_now__wall__near_time(void **state)
{
    (void)state;
    int64_t before = (int64_t)time(NULL);
    int64_t now = when_now();
    int64_t after = (int64_t)time(NULL);
    assert_true(now / 1000 >= before - 1 && now / 1000 <= after + 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(when_rfc3339__moments__as_written),
        cmocka_unit_test(when_parse__rfc_examples__same_moment),
        cmocka_unit_test(when_parse__no_moment__refused),
        cmocka_unit_test(when_parse__round_trip__every_month),
        cmocka_unit_test(when_clock__spans__minutes_and_seconds),
        cmocka_unit_test(when_now__wall__near_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
