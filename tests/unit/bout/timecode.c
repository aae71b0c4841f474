/* Time code against labels known elsewhere.
 *
 * Labels, frames and media seconds: SMPTE ST 12-1 counting. The text of the standard is from
 * memory; the anchors (1799/1800/17982/107892 and 3599/3600/35964/215784, 2589408 and 5178816 a
 * day) are secondary (public test suites, names not kept), the others own arithmetic from the rule.
 * ffmpeg 5.1 writes the same numbers into the time-code sample of a MOV file for every label here.
 * Successors: read back from ffmpeg's MPEG-2 GOP codes.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/bout/timecode.h"

static const struct timecode_rate *rate_named(const char *name)
{
    struct error err = {0};
    const struct timecode_rate *rate = timecode_rate_find(name, &err);
    assert_non_null(rate);
    return rate;
}

static const struct {
    const char *rate, *label;
    int64_t frame;
    double media_seconds;
} labels[] = {
    {"29.97df", "00:00:00;00", 0, 0.0},
    {"29.97df", "00:00:59;29", 1799, 60.026633},
    {"29.97df", "00:01:00;02", 1800, 60.06},
    {"29.97df", "00:01:59;29", 3597, 120.0199},
    {"29.97df", "00:02:00;02", 3598, 120.053267},
    {"29.97df", "00:09:59;29", 17981, 599.966033},
    {"29.97df", "00:10:00;00", 17982, 599.9994},
    {"29.97df", "00:10:59;29", 19781, 660.026033},
    {"29.97df", "00:11:00;02", 19782, 660.0594},
    {"29.97df", "00:59:59;29", 107891, 3599.963033},
    {"29.97df", "01:00:00;00", 107892, 3599.9964},
    {"29.97df", "01:01:00;02", 109692, 3660.0564},
    {"29.97df", "10:00:00;00", 1078920, 35999.964},
    {"29.97df", "12:34:56;12", 1357534, 45296.384467},
    {"29.97df", "23:59:59;29", 2589407, 86399.880233},
    {"59.94df", "00:00:00;00", 0, 0.0},
    {"59.94df", "00:00:59;59", 3599, 60.043317},
    {"59.94df", "00:01:00;04", 3600, 60.06},
    {"59.94df", "00:02:00;04", 7196, 120.053267},
    {"59.94df", "00:09:59;59", 35963, 599.982717},
    {"59.94df", "00:10:00;00", 35964, 599.9994},
    {"59.94df", "00:11:00;04", 39564, 660.0594},
    {"59.94df", "01:00:00;00", 215784, 3599.9964},
    {"59.94df", "10:00:00;00", 2157840, 35999.964},
    {"59.94df", "23:59:59;59", 5178815, 86399.896917},
    {"29.97ndf", "00:01:00:00", 1800, 60.06},
    {"29.97ndf", "01:00:00:00", 108000, 3603.6},
    {"29.97ndf", "23:59:59:29", 2591999, 86486.366633},
    {"59.94ndf", "01:00:00:00", 216000, 3603.6},
    {"23.976", "00:01:00:00", 1440, 60.06},
    {"23.976", "01:00:00:00", 86400, 3603.6},
    {"23.976", "23:59:59:23", 2073599, 86486.358292},
    {"24", "00:01:00:00", 1440, 60.0},
    {"24", "01:00:00:00", 86400, 3600.0},
    {"24", "23:59:59:23", 2073599, 86399.958333},
    {"25", "00:01:00:00", 1500, 60.0},
    {"25", "01:00:00:00", 90000, 3600.0},
    {"25", "23:59:59:24", 2159999, 86399.96},
    {"30", "01:00:00:00", 108000, 3600.0},
    {"50", "00:01:00:00", 3000, 60.0},
    {"50", "01:00:00:00", 180000, 3600.0},
    {"50", "23:59:59:49", 4319999, 86399.98},
    {"60", "01:00:00:00", 216000, 3600.0},
};

static void timecode__parse_and_print__known_labels(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof labels / sizeof *labels; i++) {
        const struct timecode_rate *rate = rate_named(labels[i].rate);
        char label[TIMECODE_SIZE];
        struct error err = {0};
        int64_t frame = -1;
        assert_int_equal(timecode_parse(&frame, rate, labels[i].label, &err), 0);
        assert_int_equal(frame, labels[i].frame);
        assert_string_equal(timecode_print(label, rate, frame), labels[i].label);
        /* Media seconds stand here with six digits. */
        double seconds = (double)frame * rate->seconds / rate->frames;
        assert_true(fabs(seconds - labels[i].media_seconds) <= 0.5000001e-6);
        assert_int_equal(timecode_ms(rate, frame), llround(labels[i].media_seconds * 1000));
    }
}

static void timecode__print__known_successors(void **state)
{
    (void)state;
    static const struct {
        const char *rate, *labels[5];
    } runs[] = {
        {"29.97df", {"00:00:59;28", "00:00:59;29", "00:01:00;02", "00:01:00;03"}},
        {"29.97df", {"00:09:59;28", "00:09:59;29", "00:10:00;00", "00:10:00;01"}},
        {"29.97df", {"00:01:59;29", "00:02:00;02"}},
        {"29.97df", {"23:59:59;29", "00:00:00;00"}},
        {"29.97ndf", {"00:00:59:29", "00:01:00:00"}},
        {"25", {"00:00:59:24", "00:01:00:00"}},
        {"50", {"00:00:59:49", "00:01:00:00"}},
        {"24", {"00:00:59:23", "00:01:00:00"}},
        /* dropframetimecode.org, seen */
        {"29.97df", {"01:04:59;29", "01:05:00;02"}},
    };
    for (size_t i = 0; i < sizeof runs / sizeof *runs; i++) {
        const struct timecode_rate *rate = rate_named(runs[i].rate);
        char label[TIMECODE_SIZE];
        struct error err = {0};
        int64_t first = 0;
        assert_int_equal(timecode_parse(&first, rate, runs[i].labels[0], &err), 0);
        for (int next = 0; runs[i].labels[next]; next++) {
            assert_string_equal(timecode_print(label, rate, first + next), runs[i].labels[next]);
        }
    }
}

/* Labels that are tried: all; in a build without optimisation those around each minute's end, where
 * labels are left out, and one in seven of the others. */
static bool is_tried(int second, int64_t count)
{
#ifdef __OPTIMIZE__
    (void)second, (void)count;
    return true;
#else
    return second == 0 || second == 59 || count % 7 == 0;
#endif
}

/* Counts through the day as a mechanical counter would, dropping labels by the rule's words ("the
 * first of every minute but each tenth"), and holds printing and reading against it. */
static void whole_day(const char *name, int64_t frames_in_day)
{
    const struct timecode_rate *rate = rate_named(name);
    char wanted[TIMECODE_SIZE], label[TIMECODE_SIZE];
    struct error err = {0};
    int64_t count = 0;
    double apart = 0;
    for (int minute = 0; minute < 1440; minute++) {
        for (int second = 0; second < 60; second++) {
            int from = second == 0 && minute % 10 != 0 ? rate->dropped : 0;
            for (int frame = from; frame < rate->nominal; frame++, count++) {
                int64_t read = -1;
                if (frame == 0) {
                    double media = (double)count * rate->seconds / rate->frames;
                    apart = fmax(apart, fabs(minute * 60.0 + second - media));
                }
                if (!is_tried(second, count)) {
                    continue;
                }
                snprintf(wanted, sizeof wanted, "%02u:%02u:%02u%c%02u", (unsigned)minute / 60 % 24,
                         (unsigned)minute % 60, (unsigned)second % 60, rate->dropped ? ';' : ':',
                         (unsigned)frame % 100);
                timecode_print(label, rate, count);
                if (strcmp(label, wanted) != 0 || timecode_parse(&read, rate, wanted, &err) ||
                    read != count || timecode_frames(rate, timecode_ms(rate, count)) != count) {
                    fail_msg("%s frame %lld: %s, wanted %s", name, (long long)count, label, wanted);
                }
            }
        }
    }
    assert_int_equal(count, frames_in_day);
    assert_int_equal(timecode_day(rate), frames_in_day);
    if (rate->dropped) {
        /* The most that label and media are apart within the day: 0.1454 s, own arithmetic from the
         * rule of the left-out labels. It holds at the labels of whole seconds; at 23:59:00;02 it
         * is a millisecond more. */
        assert_true(fabs(apart - 0.1454) <= 0.0001);
    }
}

static void timecode__day__every_label_at_29_97_drop_frame(void **state)
{
    (void)state;
    whole_day("29.97df", 2589408);
}

static void timecode__day__every_label_at_59_94_drop_frame(void **state)
{
    (void)state;
    whole_day("59.94df", 5178816);
}

static void timecode__day__every_label_at_25_and_23_976(void **state)
{
    (void)state;
    whole_day("25", 2160000);
    whole_day("23.976", 2073600);
}

static void timecode__print__wraps_both_ways(void **state)
{
    (void)state;
    char label[TIMECODE_SIZE];
    assert_string_equal(timecode_print(label, rate_named("25"), -1), "23:59:59:24");
    assert_string_equal(timecode_print(label, rate_named("25"), 2160000), "00:00:00:00");
    assert_string_equal(timecode_print(label, rate_named("29.97df"), -1), "23:59:59;29");
    assert_string_equal(timecode_print(label, rate_named("59.94df"), 3 * 5178816 + 3600),
                        "00:01:00;04");
}

static void timecode__parse__refuses_what_is_no_label(void **state)
{
    (void)state;
    static const char *const bad[][2] = {
        /* labels that the rule leaves out, and fields beyond their range */
        {"29.97df", "00:01:00;00"},
        {"29.97df", "00:01:00;01"},
        {"29.97df", "00:59:00;00"},
        {"59.94df", "00:01:00;03"},
        {"25", "00:00:00:25"},
        {"29.97df", "00:00:00;30"},
        {"25", "00:00:60:00"},
        {"25", "24:00:00:00"},
        /* form */
        {"25", "00:60:00:00"},
        {"25", "00:00:00;00"},
        {"29.97df", "00:00:00:00"},
        {"29.97ndf", "00:00:00;00"},
        {"25", "0:00:00:00"},
        {"25", "00:00:00:0"},
        {"25", "00:00:00:000"},
        {"25", "00:00:00.00"},
        {"25", "00;00:00:00"},
        {"25", " 0:00:00:00"},
        {"25", "-1:00:00:00"},
        {"25", ""},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct error err = {0};
        int64_t frame = 0;
        assert_int_equal(timecode_parse(&frame, rate_named(bad[i][0]), bad[i][1], &err),
                         ERROR_USAGE);
        assert_non_null(strstr(err.text, bad[i][1]));
    }
}

static void timecode__rate__unknown_and_ambiguous_names(void **state)
{
    (void)state;
    /* 29.97 alone does not say how it counts; there is no drop-frame at the others. */
    static const char *const bad[] = {"29.97", "59.94", "25df", "23.976df", "24df",
                                      "30df",  "50df",  "",     "29.97DF"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct error err = {0};
        assert_null(timecode_rate_find(bad[i], &err));
        assert_int_equal(err.code, ERROR_USAGE);
        for (const struct timecode_rate *rate = timecode_rates; rate->name; rate++) {
            assert_non_null(strstr(err.text, rate->name));
        }
    }
}

static void sync__frame__maps_moments_before_and_after(void **state)
{
    (void)state;
    struct sync_point sync = {rate_named("25"), 1000000, 90000};
    assert_int_equal(sync_frame(&sync, 1000000), 90000);
    assert_int_equal(sync_frame(&sync, 1000000 + 3600000), 180000);
    assert_int_equal(sync_frame(&sync, 1000000 - 40), 89999);
    assert_int_equal(sync_frame(&sync, 1000000 + 19), 90000); /* to the nearest frame */
    assert_int_equal(sync_frame(&sync, 1000000 + 20), 90001);
    sync.rate =
        rate_named("29.97df"); /* an hour of clock: label 0.0036 s behind, less than a frame */
    sync.frame = 0;
    assert_int_equal(sync_frame(&sync, 1000000 + 3600000), 107892);
}

static void sync__text__there_and_back(void **state)
{
    (void)state;
    char text[SYNC_SIZE];
    for (const struct timecode_rate *rate = timecode_rates; rate->name; rate++) {
        struct sync_point sync = {rate, 0, timecode_day(rate) - 1};
        struct sync_point back = {NULL, 0, 0};
        assert_true(sync_parse(&back, sync_print(text, &sync)));
        assert_ptr_equal(back.rate, rate);
        assert_int_equal(back.frame, sync.frame);
    }
    struct sync_point sync = {rate_named("25"), 0, 93079};
    assert_string_equal(sync_print(text, &sync), "sync 01:02:03:04@25");
    static const char *const bad[] = {"",
                                      "sync",
                                      "sync ",
                                      "sync 01:02:03:04",
                                      "sync 01:02:03:04@",
                                      "sync 01:02:03:04@26",
                                      "sync 01:02:03:25@25",
                                      "sync 01:02:03:04@25 ",
                                      "Sync 01:02:03:04@25",
                                      "sync 01:02:03:04@29.97df",
                                      "in sync 01:02:03:04@25"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        assert_false(sync_parse(&sync, bad[i]));
    }
}

static void sync__convert__only_where_labels_keep_step(void **state)
{
    (void)state;
    char label[TIMECODE_SIZE];
    struct error err = {0};
    struct sync_point sync = {rate_named("25"), 0, 93079}; /* 01:02:03:04 */
    assert_int_equal(sync_convert(&sync, rate_named("50"), &err), 0);
    assert_string_equal(timecode_print(label, sync.rate, sync.frame), "01:02:03:08");
    sync = (struct sync_point){rate_named("29.97df"), 0, 1357534}; /* 12:34:56;12 */
    assert_int_equal(sync_convert(&sync, rate_named("59.94df"), &err), 0);
    assert_string_equal(timecode_print(label, sync.rate, sync.frame), "12:34:56;24");
    assert_int_equal(sync_convert(&sync, rate_named("59.94ndf"), &err), ERROR_USAGE);
    assert_int_equal(sync_convert(&sync, rate_named("60"), &err), ERROR_USAGE);
    assert_string_equal(sync.rate->name, "59.94df");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(timecode__parse_and_print__known_labels),
        cmocka_unit_test(timecode__print__known_successors),
        cmocka_unit_test(timecode__day__every_label_at_29_97_drop_frame),
        cmocka_unit_test(timecode__day__every_label_at_59_94_drop_frame),
        cmocka_unit_test(timecode__day__every_label_at_25_and_23_976),
        cmocka_unit_test(timecode__print__wraps_both_ways),
        cmocka_unit_test(timecode__parse__refuses_what_is_no_label),
        cmocka_unit_test(timecode__rate__unknown_and_ambiguous_names),
        cmocka_unit_test(sync__frame__maps_moments_before_and_after),
        cmocka_unit_test(sync__text__there_and_back),
        cmocka_unit_test(sync__convert__only_where_labels_keep_step),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
