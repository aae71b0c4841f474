#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/sheet/history_sheet.h"
#include "ringtally/base/text.h"
#include "expected.h"
#include "sample.h"

static void add(struct history *history, const struct sample *sample, enum corner corner)
{
    struct error err = {0};
    struct sheet_view view = sample_view(sample, 0);
    assert_int_equal(
        history_add(history, &view, corner, sample->card.title, sample->card.date, &err), 0);
}

/* A bout in either corner, and one with nothing logged. */
static void fill(struct history *history, struct sample *played, struct sample *empty)
{
    memset(history, 0, sizeof *history);
    sample_text(history->name, sizeof history->name, "Ána Vekerdøttir");
    sample_init(played);
    sample_play(played);
    sample_init(empty);
    add(history, played, CORNER_RED);
    add(history, played, CORNER_BLUE);
    add(history, empty, CORNER_RED);
}

static void history_table__three_bouts__as_expected(void **state)
{
    (void)state;
    struct history history;
    struct sample played, empty;
    struct buf out = BUF_INIT;
    struct error err = {0};
    fill(&history, &played, &empty);
    assert_int_equal(history.count, 3);
    assert_int_equal(history.logged, 2);
    /* in both corners of one bout: throws and takes are the same, 28 + 9 of 55 + 33 */
    assert_int_equal(history.all.own.all.landed, 37);
    assert_int_equal(history.all.taken.all.attempted, 88);
    assert_memory_equal(&history.all.own, &history.all.taken, sizeof history.all.own);
    assert_int_equal(history_table(&out, &history, &err), 0);
    check_golden(&out, "history.txt");
    assert_null(strstr(out.text, "nan"));
    buf_release(&out);
    history_release(&history);
    sample_release(&played);
    sample_release(&empty);
}

static void history_pair__nothing_on_one_side__dashes(void **state)
{
    (void)state;
    struct history none = {.count = 0}, some = {.count = 0};
    struct sample played, empty;
    struct buf out = BUF_INIT;
    struct error err = {0};
    fill(&some, &played, &empty);
    add(&none, &empty, CORNER_BLUE);
    assert_int_equal(history_pair(&out, &none, &some, &err), 0);
    check_golden(&out, "history-pair.txt");
    buf_release(&out);
    assert_int_equal(history_pair(&out, &none, &none, &err), 0);
    assert_int_equal(out.size, 0); /* nothing to say of either */
    buf_release(&out);
    history_release(&none);
    history_release(&some);
    sample_release(&played);
    sample_release(&empty);
}

static void history_json__no_bouts__nulls(void **state)
{
    (void)state;
    struct history history = {.name = "A \"B\""};
    struct buf out = BUF_INIT;
    struct error err = {0};
    assert_int_equal(history_json(&out, &history, &err), 0);
    assert_non_null(strstr(out.text, "\"fighter\":\"A \\\"B\\\"\""));
    assert_non_null(strstr(out.text, "\"accuracy\":null,\"output_per_min\":null"));
    assert_non_null(strstr(out.text, "\"bouts\":[]"));
    buf_release(&out);
    history_release(&history);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(history_table__three_bouts__as_expected),
        cmocka_unit_test(history_pair__nothing_on_one_side__dashes),
        cmocka_unit_test(history_json__no_bouts__nulls),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
