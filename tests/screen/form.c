/* form.c: the card form under a pseudo-terminal: the replacement announced ten minutes before the
 * walk-out. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "rig.h"
#include "run.h"

static void card_edit__replacement__labels_fields_and_saves(void **state)
{
    (void)state;
    char folder[256], db[300], row[256];
    static struct run done;
    scratch_new(folder, sizeof folder);
    snprintf(db, sizeof db, "%s/t.db", folder);
    run(&done, folder, (const char *[]){PROGRAM, "--db", db, "card", "load", CARD, NULL});
    assert_int_equal(done.status, 0);

    struct vt *vt = vt_open(&(struct vt_setup){
        .argv = (const char *[]){PROGRAM, "--db", db, "card", "edit", "2", NULL}, .home = folder});
    assert_true(vt_wait_text(vt, "red.name", 5000));
    assert_true(vt_wait_text(vt, "judges", 5000));
    int line = 0;
    assert_true(vt_find(vt, "blue.name", &line, NULL));
    for (int i = 0; i < 9; i++) { /* weight rules rounds terms, red's five, then blue's name */
        vt_press(vt, "Tab");
    }
    for (int i = 0; i < 40; i++) {
        vt_press(vt, "Backspace");
    }
    vt_type(vt, "Ersatz \xc3\x9cn\xc3\xafque");
    assert_true(vt_wait_text(vt, "Ersatz \xc3\x9cn\xc3\xafque", 5000));
    assert_non_null(strstr(vt_row(vt, line, 0, 0, row, sizeof row), "blue.name"));
    vt_press(vt, "Tab");
    vt_press(vt, "Tab");
    for (int i = 0; i < 12; i++) {
        vt_press(vt, "Backspace");
    }
    vt_type(vt, "sideways");
    vt_press(vt, "Enter");
    assert_true(vt_wait_text(vt, "orthodox, southpaw or square is needed", 5000));
    for (int i = 0; i < 12; i++) {
        vt_press(vt, "Backspace");
    }
    vt_type(vt, "orthodox");
    vt_press(vt, "Enter");
    assert_int_equal(vt_wait_exit(vt, 5000), 0);
    vt_close(vt);

    run(&done, folder, (const char *[]){PROGRAM, "--db", db, "card", "show", NULL});
    assert_int_equal(done.status, 0);
    assert_non_null(strstr(done.out, "Ersatz \xc3\x9cn\xc3\xafque"));
    assert_null(strstr(done.out, "\xc3\x96zbilge\xc3\xa7o\xc4\x9flu"));
    scratch_remove(folder);
}

/* A new bout, its rules mistyped at first, its Thai name pasted: nothing that was typed is lost. */
static void card_edit__new_bout__keeps_all_until_it_can_be_saved(void **state)
{
    (void)state;
    static const char thai[] = "\u0e09\u0e31\u0e15\u0e23\u0e0a\u0e31\u0e22 "
                               "\u0e25\u0e39\u0e01\u0e17\u0e38\u0e48\u0e07";
    char folder[256], db[300], typed[160];
    static struct run done;
    scratch_new(folder, sizeof folder);
    snprintf(db, sizeof db, "%s/t.db", folder);
    run(&done, folder, (const char *[]){PROGRAM, "--db", db, "card", "load", CARD, NULL});
    struct vt *vt = vt_open(&(struct vt_setup){
        .argv = (const char *[]){PROGRAM, "--db", db, "card", "edit", "40", NULL}, .home = folder});
    assert_true(vt_wait_text(vt, "bout 40 of saltglass-4, new", 5000));
    vt_press(vt, "Tab");
    vt_type(vt, "\x15muay thai"); /* a blank chooses: "boxing" is the first that is offered */
    assert_true(vt_wait_text(vt, "Space: boxing", 5000));
    vt_type(vt, "\x15kickbox");
    for (int i = 0; i < 3; i++) {
        vt_press(vt, "Tab"); /* rounds, terms, red.name */
    }
    snprintf(typed, sizeof typed, "\033[200~%s\033[201~", thai);
    vt_type(vt, typed);
    for (int i = 0; i < 5; i++) {
        vt_press(vt, "Tab");
    }
    vt_type(vt, "Bo Holm");
    vt_press(vt, "Enter");
    assert_true(vt_wait_text(vt, "no rule set of that name: kickbox", 5000));
    assert_true(vt_find(vt, "Bo Holm", NULL, NULL));
    for (int i = 0; i < 8; i++) {
        vt_press(vt, "Up");
    }
    vt_type(vt, "ing");
    vt_press(vt, "Enter");
    assert_int_equal(vt_wait_exit(vt, 5000), 0);
    vt_close(vt);
    run(&done, folder,
        (const char *[]){PROGRAM, "--db", db, "card", "show", "--format", "json", NULL});
    assert_non_null(strstr(done.out, "\"number\": 40"));
    assert_non_null(strstr(done.out, thai));
    scratch_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(card_edit__replacement__labels_fields_and_saves),
        cmocka_unit_test(card_edit__new_bout__keeps_all_until_it_can_be_saved),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
