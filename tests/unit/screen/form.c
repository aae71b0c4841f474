/* The card form, typed at on a pseudo-terminal. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "pty.h"
#include "ringtally/bout/card.h"
#include "ringtally/screen/screen.h"

static const struct bout start = {
    .card = "lantern-quay-2",
    .number = 3,
    .weight = "women -65 kg",
    .rules = "kickboxing",
    .judges = 2,
    .judge = {"Ana", "Bo"},
    .fighter = {{.name = "Ilse Ad\u00e3o Brandvold", .short_name = "Ilse B.", .record = "3-0-0"},
                {.name = "Mirjam Quist", .short_name = "Mirjam Quist", .stance = STANCE_SOUTHPAW}},
};

/* Refuses a referee of the name Nobody, unless Enter is pressed again. */
static int save(void *user, const struct bout *bout, bool again, struct error *err)
{
    (void)user;
    if (strcmp(bout->referee, "Nobody") == 0 && !again) {
        return error_set(err, ERROR_FAILED, "there is no such referee");
    }
    return 0;
}

/* Reports every field that the form left different. */
static int edit_bout(FILE *report)
{
    const struct form_setup setup = {.rules = "boxing kickboxing low-kick", .save = save};
    struct error err = {0};
    struct bout bout = start;
    if (screen_open(&err)) {
        return 1;
    }
    fprintf(report, "open\n");
    int code = screen_bout_form(&bout, &setup, &err);
    screen_close();
    fprintf(report, "code %d%s%s\n", code, err.text[0] ? ": " : "", err.text);
    for (int i = 0; bout_fields[i]; i++) {
        char was[512] = "";
        char is[512] = "";
        bout_get(&start, bout_fields[i], was, sizeof was);
        bout_get(&bout, bout_fields[i], is, sizeof is);
        if (strcmp(was, is) != 0) {
            fprintf(report, "%s = %s\n", bout_fields[i], is);
        }
    }
    fprintf(report, "end\n");
    return 0;
}

/* Goes to a field from the first one. */
static void go_to(struct pty *pty, const char *field)
{
    for (int i = 0; strcmp(bout_fields[i], field) != 0; i++) {
        pty_type(pty, i % 2 ? "\t" : "\033OB");
    }
}

static void erase(struct pty *pty, int count)
{
    while (count-- > 0) {
        pty_type(pty, "\x7f");
    }
}

static void check(const char *field, int erased, const char *typed, const char *const *lines)
{
    struct pty pty;
    pty_open(&pty, "xterm-256color", edit_bout);
    pty_expect(&pty, "open");
    pty_wait_seen(&pty, "Brandvold");
    go_to(&pty, field);
    erase(&pty, erased);
    pty_type(&pty, typed);
    for (; *lines; lines++) {
        pty_expect(&pty, *lines);
    }
    assert_int_equal(pty_close(&pty), 0);
}

static void screen_bout_form__enter__saves_what_changed(void **state)
{
    (void)state;
    check("weight", 5, "63 kg\r",
          (const char *const[]){"code 1", "weight = women -63 kg", "end", NULL});
    check("blue.record", 0, "12-1-1\r",
          (const char *const[]){"code 1", "blue.record = 12-1-1", "end", NULL});
    check("judges", 0, ", Cy\r",
          (const char *const[]){"code 1", "judges = Ana, Bo, Cy", "end", NULL});
    check("weight", 0, "\r", (const char *const[]){"code 1", "end", NULL});
}

static void screen_bout_form__wide_and_accented__kept(void **state)
{
    (void)state;
    check("red.from", 0,
          "\xe5\x87\xbd\xe9\xa4\xa8, Ibarg\xc3\xbc"
          "en\r",
          (const char *const[]){"code 1", "red.from = \u51fd\u9928, Ibarg\u00fcen", "end", NULL});
    /* Left over a wide character, then Backspace over one. */
    check("red.from", 0, "\xe5\x87\xbd\xe9\xa4\xa8x\033OD\033OD\x7f\r",
          (const char *const[]){"code 1", "red.from = \u9928x", "end", NULL});
}

/* A new fighter does not go out under the former one's short name. */
static void screen_bout_form__new_name__new_short_name(void **state)
{
    (void)state;
    check("red.name", 19, "Ada Ruiz\r",
          (const char *const[]){"code 1", "red.name = Ada Ruiz", "red.short = Ada Ruiz", "end",
                                NULL});
}

static void screen_bout_form__bad_value__says_why_and_stays(void **state)
{
    (void)state;
    struct pty pty;
    pty_open(&pty, "xterm-256color", edit_bout);
    pty_expect(&pty, "open");
    pty_wait_seen(&pty, "Brandvold");
    go_to(&pty, "red.stance");
    erase(&pty, 8);
    pty_forget(&pty);
    pty_type(&pty, "sideways\r");
    pty_wait_seen(&pty, "orthodox, southpaw or square is needed");
    erase(&pty, 8);
    pty_type(&pty, "square\x01\x1b[1;9Zx\x7f\r"); /* what is no character does not get in */
    pty_expect(&pty, "code 1");
    pty_expect(&pty, "red.stance = square");
    pty_expect(&pty, "end");
    assert_int_equal(pty_close(&pty), 0);
}

static void screen_bout_form__esc__asks_before_typed_text_is_lost(void **state)
{
    (void)state;
    struct pty pty;
    check("red.name", 0, "\033", (const char *const[]){"code 0", "end", NULL});
    pty_open(&pty, "xterm-256color", edit_bout);
    pty_expect(&pty, "open");
    pty_wait_seen(&pty, "Brandvold");
    pty_type(&pty, "xyz");
    pty_wait_seen(&pty, "z");
    pty_type(&pty, "\033");
    pty_wait_seen(&pty, "the same key again leaves it behind");
    pty_type(&pty, "\033");
    pty_expect(&pty, "code 0");
    pty_expect(&pty, "end");
    assert_int_equal(pty_close(&pty), 0);
}

/* Marks stay where they were typed, in one piece or in two. */
static void screen_bout_form__combining_marks__stay_in_place(void **state)
{
    (void)state;
    static const char thai[] = "\u0e09\u0e31\u0e15\u0e23\u0e0a\u0e31\u0e22 "
                               "\u0e25\u0e39\u0e01\u0e17\u0e38\u0e48\u0e07";
    char typed[128];
    char line[128];
    snprintf(typed, sizeof typed, "\x15%s\r", thai);
    snprintf(line, sizeof line, "red.from = %s", thai);
    check("red.from", 0, typed, (const char *const[]){"code 1", line, "end", NULL});
    check("red.from", 0, "Mu\u0308ller, Die\u0302\u0303m\r",
          (const char *const[]){"code 1", "red.from = M\u00fcller, Di\u1ec5m", "end", NULL});
    /* Back over a letter with two marks is one step; Backspace takes the mark alone. */
    check("red.from", 0, "a\u0e17\u0e38\u0e48b\033OD\033ODx\033OC\x7f\r",
          (const char *const[]){"code 1", "red.from = ax\u0e17\u0e38b", "end", NULL});
}

static void screen_bout_form__line_keys__go_and_clear(void **state)
{
    (void)state;
    check("weight", 0, "\033[H+\033[Fx\r",
          (const char *const[]){"code 1", "weight = +women -65 kgx", "end", NULL});
    check("weight", 0, "\033[1~\033[C\033[C\x15y\r", /* Home in another spelling; Ctrl-U */
          (const char *const[]){"code 1", "weight = ymen -65 kg", "end", NULL});
    check("weight", 0, "\x01\033[C\033[C\x0b\r", /* Ctrl-A, Ctrl-K */
          (const char *const[]){"code 1", "weight = wo", "end", NULL});
    check("weight", 0, "\033[H\033[3~\033[3~\r",
          (const char *const[]){"code 1", "weight = men -65 kg", "end", NULL});
}

static void screen_bout_form__rules_and_stances__are_chosen(void **state)
{
    (void)state;
    check("rules", 0, " \r", (const char *const[]){"code 1", "rules = low-kick", "end", NULL});
    check("rules", 0, "  \r", (const char *const[]){"code 1", "rules = boxing", "end", NULL});
    check("red.stance", 0, "  \r",
          (const char *const[]){"code 1", "red.stance = square", "end", NULL});
    check("red.stance", 0, "\x15 \r", (const char *const[]){"code 1", "end", NULL});
}

/* What cannot be saved stays as it was typed, and a second Enter may do it all the same. */
static void screen_bout_form__refused__stays_open_with_what_was_typed(void **state)
{
    (void)state;
    struct pty pty;
    pty_open(&pty, "xterm-256color", edit_bout);
    pty_expect(&pty, "open");
    pty_wait_seen(&pty, "Brandvold");
    go_to(&pty, "referee");
    pty_type(&pty, "Nobody\r");
    pty_wait_seen(&pty, "there is no such referee");
    pty_type(&pty, "\t\033OA"); /* another key in between: it is asked anew */
    pty_forget(&pty);
    pty_type(&pty, "\r");
    pty_wait_seen(&pty, "there is no such referee");
    pty_type(&pty, "\r");
    pty_expect(&pty, "code 1");
    pty_expect(&pty, "referee = Nobody");
    pty_expect(&pty, "end");
    assert_int_equal(pty_close(&pty), 0);
}

/* Into the field that the cursor is in, whatever the block holds. */
static void screen_bout_form__pasted_block__is_typed(void **state)
{
    (void)state;
    check("red.from", 0, "\033[200~\u0e09\u0e31\u0e15\r\n\tx\x07\x15y\033[201~!\r",
          (const char *const[]){"code 1", "red.from = \u0e09\u0e31\u0e15 xy!", "end", NULL});
    check("rules", 0, "\x15\033[200~ boxing\n\033[201~\r",
          (const char *const[]){"code 1", "rules = boxing", "end", NULL});
}

static void screen_bout_form__resize__goes_on_or_says_why(void **state)
{
    (void)state;
    struct pty pty;
    pty_open(&pty, "xterm-256color", edit_bout);
    pty_expect(&pty, "open");
    pty_wait_seen(&pty, "Brandvold");
    pty_type(&pty, "+");
    pty_forget(&pty);
    pty_resize(&pty, 40, 100);
    pty_wait_seen(&pty, "Brandvold");
    pty_resize(&pty, 5, 20);
    pty_expect(&pty, "code -1: the terminal is too small for the form: 30x8 is needed");
    pty_expect(&pty, "end");
    assert_int_equal(pty_close(&pty), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(screen_bout_form__enter__saves_what_changed),
        cmocka_unit_test(screen_bout_form__wide_and_accented__kept),
        cmocka_unit_test(screen_bout_form__new_name__new_short_name),
        cmocka_unit_test(screen_bout_form__bad_value__says_why_and_stays),
        cmocka_unit_test(screen_bout_form__esc__asks_before_typed_text_is_lost),
        cmocka_unit_test(screen_bout_form__combining_marks__stay_in_place),
        cmocka_unit_test(screen_bout_form__line_keys__go_and_clear),
        cmocka_unit_test(screen_bout_form__rules_and_stances__are_chosen),
        cmocka_unit_test(screen_bout_form__refused__stays_open_with_what_was_typed),
        cmocka_unit_test(screen_bout_form__pasted_block__is_typed),
        cmocka_unit_test(screen_bout_form__resize__goes_on_or_says_why),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
