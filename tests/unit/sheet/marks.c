/* Marks as WebVTT, CSV, EDL and JSON: a bout of four moments, written out by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "sample.h"

#include "ringtally/sheet/marks_sheet.h"

/* First bell at SAMPLE_START; then a spinning knockdown after 2 s, a foul after 4 s, a strike of
 * each corner after 6.25 and 6.5 s. */
static void play(struct sample *s)
{
    sample_init(s);
    sample_official(s, 0, CODE_RED);
    sample_official(s, 0, CODE_CLOCK);
    sample_official(s, 1, CODE_BLUE);
    sample_round(s, 1);
    s->now += 1750;
    sample_strikes(s, 1, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED,
                   TECHNIQUE_SPINNING | TECHNIQUE_KNOCKDOWN);
    s->now += 2000;
    sample_incident(s, CORNER_BLUE, CODE_FOUL, 0, "low_blow");
    s->now += 2000;
    sample_strikes(s, 1, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED, 0);
    sample_strikes(s, 1, CORNER_BLUE, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_ATTEMPTED, 0);
}

struct made {
    struct sample sample;
    struct sheet_view sheet;
    struct marks_plan plan;
    struct mark *marks;
    struct marks_view view;
    struct buf out;
};

/* `label` is that of the first bell. */
static void make(struct made *made, const char *rate, const char *label)
{
    struct error err = {0};
    *made = (struct made){.plan = marks_plan_default};
    play(&made->sample);
    made->sheet = sample_view(&made->sample, 0);
    made->view = (struct marks_view){
        .sheet = &made->sheet, .plan = &made->plan, .source = MARKS_FROM_LOG, .first_frame = -1};
    made->view.sync.rate = timecode_rate_find(rate, &err);
    assert_non_null(made->view.sync.rate);
    made->view.sync.utc_ms = SAMPLE_START;
    assert_int_equal(timecode_parse(&made->view.sync.frame, made->view.sync.rate, label, &err), 0);
}

static const char *text_of(struct made *made, enum marks_format format)
{
    struct error err = {0};
    free(made->marks);
    assert_int_equal(
        marks_find(&made->marks, &made->view.count, made->sample.fold, &made->plan, &err), 0);
    made->view.marks = made->marks;
    buf_release(&made->out);
    assert_int_equal(marks_write(&made->out, &made->view, format, &err), 0);
    return made->out.text;
}

static void done(struct made *made)
{
    free(made->marks);
    buf_release(&made->out);
    sample_release(&made->sample);
}

static void marks_webvtt__cues__clamped_and_in_order(void **state)
{
    (void)state;
    struct made made;
    make(&made, "25", "00:00:02:00");
    assert_string_equal(
        text_of(&made, MARKS_WEBVTT),
        "WEBVTT\n\nNOTE\n"
        "Marks of bout quay-1/3. Time code at 25 frames a second; 00:00:00.000 is 00:00:00:00.\n"
        "\nmark-1\n00:00:00.000 --> 00:00:07.000\n"
        "R1 0:02 RED Vekerdøttir: left leg head, landed, knockdown, spinning\n"
        "\nmark-2\n00:00:01.000 --> 00:00:09.000\n"
        "R1 0:04 BLUE 林: foul: low blow\n"
        "\nmark-3\n00:00:03.240 --> 00:00:11.520\n"
        "R1 0:06 exchange, RED landed 1 of 1, BLUE landed 0 of 1 (most landed: 1 of 1)\n");
    done(&made);
}

static void marks_webvtt__first_frame__counts_from_there(void **state)
{
    (void)state;
    struct made made;
    make(&made, "25", "00:00:01:00");
    made.plan.kinds = MARK_INCIDENT; /* in at 00:00:00:00, out at 00:00:08:00 */
    struct error err = {0};
    assert_int_equal(
        timecode_parse(&made.view.first_frame, made.view.sync.rate, "23:59:50:00", &err), 0);
    assert_non_null(strstr(text_of(&made, MARKS_WEBVTT), "\n00:00:10.000 --> 00:00:18.000\n"));
    assert_int_equal(
        timecode_parse(&made.view.first_frame, made.view.sync.rate, "00:00:05:00", &err), 0);
    assert_non_null(strstr(text_of(&made, MARKS_WEBVTT), "\n00:00:00.000 --> 00:00:03.000\n"));
    assert_int_equal(
        timecode_parse(&made.view.first_frame, made.view.sync.rate, "00:00:08:00", &err), 0);
    assert_non_null(strstr(text_of(&made, MARKS_WEBVTT), "NOTE before the recording: 1\n"));
    assert_null(strstr(made.out.text, "-->"));
    done(&made);
}

static void marks_webvtt__no_lead__one_frame_is_shown(void **state)
{
    (void)state;
    struct made made;
    make(&made, "50", "01:00:00:00");
    made.plan = (struct marks_plan){MARK_INCIDENT, 0, 0, 1500, 5};
    assert_non_null(strstr(text_of(&made, MARKS_WEBVTT), "\n01:00:04.000 --> 01:00:04.020\n"));
    done(&made);
}

/* In drop-frame the lead-in of 5 s is 150 frames: 00:01:00;02 is frame 1800, 3 s before it
 * 1800 + 60 - 150 = 1710, 00:00:57;00. */
static void marks_csv__rows__in_drop_frame(void **state)
{
    (void)state;
    struct made made;
    make(&made, "29.97df", "00:01:00;02");
    assert_string_equal(
        text_of(&made, MARKS_CSV),
        "number,kinds,round,clock,corner,fighter,what,in,at,out,rate,utc,length_ms\r\n"
        "1,knockdown spinning,1,0:02,red,Vekerdøttir,\"left leg head, landed, knockdown, "
        "spinning\",00:00:57;00,00:01:02;02,00:01:05;02,29.97df,2026-12-05T20:15:32.250Z,8008\r\n"
        "2,incident,1,0:04,blue,林,foul: low blow,"
        "00:00:59;00,00:01:04;02,00:01:07;02,29.97df,2026-12-05T20:15:34.250Z,8008\r\n"
        "3,exchange,1,0:06,,,\"exchange, RED landed 1 of 1, BLUE landed 0 of 1 (most landed: 1 of "
        "1)\","
        "00:01:01;09,00:01:06;09,00:01:09;17,29.97df,2026-12-05T20:15:36.500Z,8275\r\n");
    done(&made);
}

static void marks_edl__events__cut_one_behind_the_other(void **state)
{
    (void)state;
    struct made made;
    make(&made, "29.97df", "00:01:00;02");
    made.plan.kinds = MARK_KNOCKDOWN | MARK_INCIDENT;
    assert_string_equal(text_of(&made, MARKS_EDL),
                        "TITLE: quay-1/3\r\nFCM: DROP FRAME\r\n"
                        "\r\n001  AX       V     C        "
                        "00:00:57;00 00:01:05;02 01:00:00;00 01:00:08;00\r\n"
                        "* FROM CLIP NAME: R1 0:02 RED Vekerd?ttir: left leg head, landed, "
                        "knockdown, spinning\r\n"
                        "* LOC: 01:00:05;00 RED     R1 0:02 RED Vekerd?ttir: left leg head, "
                        "landed, knockdown, spinning\r\n"
                        "* knockdown spinning AT 00:01:02;02\r\n"
                        "\r\n002  AX       V     C        "
                        "00:00:59;00 00:01:07;02 01:00:08;00 01:00:16;00\r\n"
                        "* FROM CLIP NAME: R1 0:04 BLUE ?: foul: low blow\r\n"
                        "* LOC: 01:00:13;00 BLUE    R1 0:04 BLUE ?: foul: low blow\r\n"
                        "* incident AT 00:01:04;02\r\n");
    done(&made);
    make(&made, "25", "23:59:57:00"); /* labels start again at midnight */
    made.plan.kinds = MARK_INCIDENT;
    assert_non_null(strstr(text_of(&made, MARKS_EDL), "FCM: NON-DROP FRAME"));
    assert_non_null(strstr(made.out.text, " 23:59:56:00 00:00:04:00 01:00:00:00 01:00:08:00\r\n"));
    done(&made);
}

static void marks_edl__more_than_it_numbers__refused(void **state)
{
    (void)state;
    struct made made;
    struct error err = {0};
    make(&made, "25", "10:00:00:00");
    text_of(&made, MARKS_CSV);
    made.view.count = MARKS_EDL_MAX + 1;
    assert_int_equal(marks_write(&made.out, &made.view, MARKS_EDL, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "999"));
    done(&made);
}

static void marks_write__none__each_format_is_whole(void **state)
{
    (void)state;
    struct made made;
    make(&made, "25", "10:00:00:00");
    made.plan.kinds = MARK_JUMPING;
    assert_null(strstr(text_of(&made, MARKS_WEBVTT), "-->"));
    assert_string_equal(
        text_of(&made, MARKS_CSV),
        "number,kinds,round,clock,corner,fighter,what,in,at,out,rate,utc,length_ms\r\n");
    assert_string_equal(text_of(&made, MARKS_EDL), "TITLE: quay-1/3\r\nFCM: NON-DROP FRAME\r\n");
    assert_non_null(strstr(text_of(&made, MARKS_JSON), "\"marks\": []"));
    done(&made);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(marks_webvtt__cues__clamped_and_in_order),
        cmocka_unit_test(marks_webvtt__first_frame__counts_from_there),
        cmocka_unit_test(marks_webvtt__no_lead__one_frame_is_shown),
        cmocka_unit_test(marks_csv__rows__in_drop_frame),
        cmocka_unit_test(marks_edl__events__cut_one_behind_the_other),
        cmocka_unit_test(marks_edl__more_than_it_numbers__refused),
        cmocka_unit_test(marks_write__none__each_format_is_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
