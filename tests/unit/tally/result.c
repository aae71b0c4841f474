/* The text form of a result: written and read again, every field of it, said or not. */
#include "support.h"

#include "ringtally/tally/officials.h"

static void result__every_field__comes_back(void **state)
{
    (void)state;
    static const struct {
        struct result_text is;
        const char *text;
    } cases[] = {
        {{.kind = "knockout",
          .corner = CORNER_RED,
          .round = 2,
          .elapsed_ms = 107000,
          .referee = "Ref Eree"},
         "knockout red - 2 1:47 - Ref Eree"},
        {{.kind = "unanimous_decision",
          .corner = CORNER_BLUE,
          .voted = true,
          .vote = {0, 3, 0},
          .elapsed_ms = -1,
          .implied = true},
         "unanimous_decision blue 0-3-0 0 - implied -"},
        {{.kind = "no_contest",
          .corner = CORNER_NONE,
          .round = 20,
          .elapsed_ms = 0,
          .overridden = true,
          .no_action = true,
          .referee = "A"},
         "no_contest - - 20 0:00 override,no_action A"},
        {{.kind = "split_draw",
          .corner = CORNER_NONE,
          .voted = true,
          .vote = {1, 1, 1},
          .round = 3,
          .elapsed_ms = 180000},
         "split_draw - 1-1-1 3 3:00 - -"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char text[128];
        struct result_text read;
        const struct result_text *is = &cases[i].is;
        assert_true(result_write(text, sizeof text, is));
        assert_string_equal(text, cases[i].text);
        assert_true(result_read(&read, text));
        assert_string_equal(read.kind, is->kind);
        assert_int_equal(read.corner, is->corner);
        assert_int_equal(read.voted, is->voted);
        assert_int_equal(read.vote.red, is->vote.red);
        assert_int_equal(read.vote.blue, is->vote.blue);
        assert_int_equal(read.vote.even, is->vote.even);
        assert_int_equal(read.round, is->round);
        assert_int_equal(read.elapsed_ms, is->elapsed_ms);
        assert_int_equal(read.overridden, is->overridden);
        assert_int_equal(read.implied, is->implied);
        assert_int_equal(read.no_action, is->no_action);
        assert_string_equal(read.referee, is->referee);
        size_t length = strlen(text); /* it fits, or it is said that it does not */
        assert_true(result_write(text, length + 1, is));
        assert_false(result_write(text, length, is));
    }
    struct result_text read;
    assert_false(result_read(&read, ""));
    assert_false(result_read(&read, "knockout red - two 1:47 - -"));
    assert_false(result_read(&read, "knockout red - 2 1:47 -"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(result__every_field__comes_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
