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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(card_edit__replacement__labels_fields_and_saves),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
