#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "expected.h"
#include "sample.h"

typedef int printer(struct buf *out, const struct sheet_view *view, struct error *err);

static void check_printed(printer *print, const char *name)
{
    struct sample sample;
    struct buf out = BUF_INIT;
    struct error err = {0};
    sample_init(&sample);
    sample_play(&sample);
    struct sheet_view view = sample_view(&sample, 0);
    assert_int_equal(print(&out, &view, &err), 0);
    check_golden(&out, name);
    buf_release(&out);
    sample_release(&sample);
}

static void counts_json__played__as_expected(void **state)
{
    (void)state;
    check_printed(counts_json, "counts.json");
}

static void counts_csv__played__as_expected(void **state)
{
    (void)state;
    check_printed(counts_csv, "counts.csv");
}

static void counts_table__played__as_expected(void **state)
{
    (void)state;
    check_printed(counts_table, "counts.txt");
}

static json_t *load_counts(const struct sample *sample, int round)
{
    struct sheet_view view = sample_view(sample, round);
    struct buf out = BUF_INIT;
    struct error err = {0};
    assert_int_equal(counts_json(&out, &view, &err), 0);
    json_t *document = json_loads(out.text, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(document);
    buf_release(&out);
    return document;
}

static int number(json_t *from, const char *key, const char *then)
{
    json_t *value = json_object_get(json_object_get(from, key), then);
    assert_true(json_is_integer(value));
    return (int)json_integer_value(value);
}

/* The bout of sample.h, counted by hand from its text. */
static void counts_json__played__counted_by_hand(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    sample_play(&sample);
    json_t *whole = load_counts(&sample, 0);
    assert_true(json_is_null(json_object_get(whole, "round")));
    assert_int_equal(number(whole, "red", "attempted"), 20 + 9 + 4 + 6 + 1 + 12 + 2 + 1);
    assert_int_equal(number(whole, "red", "landed"), 9 + 6 + 12 + 1);
    assert_int_equal(number(whole, "red", "blocked"), 4);
    assert_int_equal(number(whole, "red", "knockdowns"), 1);
    assert_int_equal(number(whole, "red", "spinning"), 2);
    assert_int_equal(number(whole, "red", "points_deducted"), 2);
    assert_int_equal(number(whole, "blue", "attempted"), 15 + 7 + 1 + 10);
    assert_int_equal(number(whole, "blue", "landed"), 7 + 1 + 1);
    assert_int_equal(number(whole, "clock", "round"), 3);
    assert_int_equal(number(whole, "clock", "remaining_ms"), 150000);
    assert_int_equal(json_integer_value(json_object_get(whole, "corrections")), 1);
    assert_int_equal(json_integer_value(json_object_get(whole, "off_clock")), 2);
    json_t *second = load_counts(&sample, 2);
    assert_int_equal(json_integer_value(json_object_get(second, "round")), 2);
    assert_int_equal(number(second, "red", "attempted"), 15);
    assert_int_equal(number(second, "blue", "attempted"), 10);
    assert_int_equal(json_integer_value(json_object_get(second, "running_ms")), 180000);
    assert_true(
        json_real_value(json_object_get(json_object_get(second, "red"), "output_per_min")) == 5.0);
    json_decref(whole);
    json_decref(second);
    sample_release(&sample);
}

/* Half of a minute of red was behind somebody's back: JSON has both outputs, who asks gets the one
 * over what was seen. */
static void counts_json__view_blocked__output_over_what_was_seen(void **state)
{
    (void)state;
    struct sample sample;
    struct error err = {0};
    sample_init(&sample);
    sample_official(&sample, 0, CODE_CLOCK);
    sample_official(&sample, 0, CODE_RED);
    sample_official(&sample, 1, CODE_BLUE);
    sample_round(&sample, 1);
    sample_strikes(&sample, 29, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_ATTEMPTED, 0);
    sample.now += 10000 - 29 * 250;
    struct entry blocked = {.kind = ENTRY_VIEW, .code = CODE_HIDDEN};
    blocked.strike.corner = CORNER_RED;
    sample_add(&sample, 0, blocked);
    sample.now += 29750;
    sample_strikes(&sample, 1, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_ATTEMPTED, 0);
    sample.now += 20000;
    json_t *counts = load_counts(&sample, 0);
    json_t *red = json_object_get(counts, "red"), *blue = json_object_get(counts, "blue");
    assert_int_equal(json_integer_value(json_object_get(red, "unseen_ms")), 30000);
    assert_true(json_real_value(json_object_get(red, "output_per_min")) == 30.0);
    assert_true(json_real_value(json_object_get(red, "output_seen_per_min")) == 60.0);
    assert_true(json_real_value(json_object_get(blue, "output_seen_per_min")) == 0.0);
    json_decref(counts);
    struct sheet_view view = sample_view(&sample, 0);
    for (int seen = 0; seen < 2; seen++) {
        struct buf out = BUF_INIT;
        view.seen = seen;
        assert_int_equal(counts_table(&out, &view, &err), 0);
        assert_int_equal(strstr(out.text, " 60.0 ") != NULL, seen);
        assert_int_equal(strstr(out.text, " 30.0 ") != NULL, !seen);
        assert_non_null(strstr(out.text, seen ? "leaves out" : "counts as time"));
        buf_release(&out);
    }
    sample_release(&sample);
}

/* What is counted from somewhere on was unseen from there on. */
static void counts_json__window__what_was_unseen_in_it(void **state)
{
    (void)state;
    struct sample sample;
    struct error err = {0};
    struct window_ask ask;
    struct buf out = BUF_INIT;
    sample_init(&sample);
    sample_official(&sample, 0, CODE_CLOCK);
    sample_official(&sample, 0, CODE_RED);
    sample_round(&sample, 1);
    struct entry blocked = {.kind = ENTRY_VIEW, .code = CODE_HIDDEN};
    blocked.strike.corner = CORNER_RED;
    sample.now += 10000;
    sample_add(&sample, 0, blocked);
    sample.now += 50000; /* until now */
    struct sheet_view view = sample_view(&sample, 0);
    assert_int_equal(window_parse(&ask, NULL, "20", &err), 0);
    view.window = &ask;
    assert_int_equal(counts_json(&out, &view, &err), 0);
    json_t *counts = json_loads(out.text, 0, NULL);
    assert_int_equal(number(counts, "red", "unseen_ms"), 20000);
    json_decref(counts);
    buf_release(&out);
    sample_release(&sample);
}

static void counts_json__nothing_thrown__null_and_zero(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    json_t *before = load_counts(&sample, 0);
    json_t *red = json_object_get(before, "red");
    assert_true(json_is_null(json_object_get(red, "accuracy")));
    assert_true(json_is_null(json_object_get(red, "output_per_min")));
    assert_string_equal(
        json_string_value(json_object_get(json_object_get(before, "clock"), "state")), "ready");
    sample_official(&sample, 0, CODE_CLOCK);
    sample_official(&sample, 0, CODE_RED);
    sample_round(&sample, 1);
    sample.now += 60000;
    json_t *after = load_counts(&sample, 0);
    red = json_object_get(after, "red");
    assert_true(json_is_null(json_object_get(red, "accuracy")));
    assert_true(
        json_is_real(json_object_get(red, "output_per_min"))); /* it ran, and nobody threw */
    assert_true(json_real_value(json_object_get(red, "output_per_min")) == 0.0);
    json_t *blue = json_object_get(after, "blue"); /* nobody looked: no zero is known */
    assert_true(json_is_false(json_object_get(blue, "tagged")));
    assert_true(json_is_null(json_object_get(blue, "attempted")));
    assert_true(json_is_null(json_object_get(blue, "output_per_min")));
    assert_true(json_is_null(
        json_object_get(json_object_get(json_object_get(blue, "by_limb"), "left_hand"), "landed")));
    assert_int_equal(json_array_size(json_object_get(blue, "gaps")), 1);
    json_decref(before);
    json_decref(after);
    sample_release(&sample);
}

static void csv_cell__texts__quoted_and_defused(void **state)
{
    (void)state;
    static const struct {
        const char *text, *cell;
    } cases[] = {
        {"", ""},
        {"Ana Ferro", "Ana Ferro"},
        {"Ferro, Ana", "\"Ferro, Ana\""},
        {"the \"Kid\"", "\"the \"\"Kid\"\"\""},
        {"two\nlines", "\"two\nlines\""},
        {"two\r\nlines", "\"two\r\nlines\""},
        {"=1+1", "'=1+1"},
        {"+1", "'+1"},
        {"-57 kg", "'-57 kg"},
        {"@SUM(A1)", "'@SUM(A1)"},
        {"\tx", "'\tx"},
        {"\r=x", "\"'\r=x\""},
        {"=A1,\"x\"", "\"'=A1,\"\"x\"\"\""},
        {"  =1+1", "\"'  =1+1\""},
        {"\xef\xbc\x9d"
         "1",
         "'\xef\xbc\x9d"
         "1"}, /* full-width equals sign */
        {"14-2-0", "14-2-0"},
        {"'quoted", "'quoted"},
        {" lead", "\" lead\""},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct buf out = BUF_INIT;
        csv_cell(&out, cases[i].text);
        assert_string_equal(out.text ? out.text : "", cases[i].cell);
        buf_release(&out);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counts_json__played__as_expected),
        cmocka_unit_test(counts_csv__played__as_expected),
        cmocka_unit_test(counts_table__played__as_expected),
        cmocka_unit_test(counts_json__played__counted_by_hand),
        cmocka_unit_test(counts_json__view_blocked__output_over_what_was_seen),
        cmocka_unit_test(counts_json__window__what_was_unseen_in_it),
        cmocka_unit_test(counts_json__nothing_thrown__null_and_zero),
        cmocka_unit_test(csv_cell__texts__quoted_and_defused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
