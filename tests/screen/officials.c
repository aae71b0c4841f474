/* officials.c: what the screen says of the judges' cards after round two, where the scoring is
 * open, and where it is closed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "rig.h"
#include "run.h"

/* Two rounds of 3 x 180 s; after each bell the cards: 10-8 10-8 10-9, then 9-10 10-9 10-10. */
static const char keys[] = "1 Enter\n5 Q\n6 4\n185 F2\n"
                           "186 0\n187 8\n188 0\n189 8\n190 0\n191 9\n192 Esc\n"
                           "241 Enter\n245 p\n425 F2\n"
                           "426 9\n427 0\n428 0\n429 9\n430 0\n430.5 0\n431 Esc\n";

static void write_file(const char *path, const char *text)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_int_equal(fwrite(text, 1, strlen(text), file), strlen(text));
    assert_int_equal(fclose(file), 0);
}

/* Loads a card whose bout has these terms, plays two rounds, opens the desk in the rest. */
static struct vt *after_round_two(struct rig *rig, const char *terms)
{
    char card[320], script[320], text[512];
    static struct run done;
    scratch_new(rig->folder, sizeof rig->folder);
    rig->program = PROGRAM;
    snprintf(rig->db, sizeof rig->db, "%s/t.db", rig->folder);
    snprintf(card, sizeof card, "%s/card.ini", rig->folder);
    snprintf(script, sizeof script, "%s/two.keys", rig->folder);
    snprintf(text, sizeof text,
             "[card]\nid = o\ntitle = O\ndate = 2026-12-05\nvenue = V\n[bout 1]\n"
             "weight = 70\nrules = kickboxing\n%sreferee = R\njudges = Ada One, Bo Two, Cy Three\n"
             "red.name = Rufus Ember\nblue.name = Bela Frost\n",
             terms);
    write_file(card, text);
    write_file(script, keys);
    rig_load(rig, card);
    run(&done, rig->folder,
        (const char *[]){PROGRAM, "--db", rig->db, "desk", "1", "--operator", "ana", "--keys",
                         script, "--speed", "max", "--headless", NULL});
    assert_int_equal(done.status, 0);
    struct vt *vt = rig_desk(rig, "1", (const char *[]){"--operator", "ana", NULL}, NULL, "REST");
    assert_non_null(vt);
    return vt;
}

static void open_scoring__after_round_two__says_who_leads(void **state)
{
    (void)state;
    struct rig rig = {0};
    struct vt *vt = after_round_two(&rig, "terms = scoring.open = yes\n");
    /* 19-18 20-17 20-19: three cards for red */
    assert_true(vt_wait_text(vt, "cards after R2: red 3, blue 0, even 0", RIG_WAIT_MS));
    vt_press(vt, "F2");
    assert_true(vt_wait_text(vt, "Ada One", RIG_WAIT_MS));
    assert_true(vt_find(vt, "19-18", NULL, NULL));
    assert_true(vt_find(vt, "20-17", NULL, NULL));
    assert_true(vt_find(vt, "20-19", NULL, NULL));
    vt_press(vt, "Esc");
    assert_int_equal(rig_leave(vt), 0);
    scratch_remove(rig.folder);
}

static void closed_scoring__after_round_two__shows_nothing_until_asked(void **state)
{
    (void)state;
    struct rig rig = {0};
    struct vt *vt = after_round_two(&rig, "");
    assert_false(vt_find(vt, "cards after", NULL, NULL));
    vt_press(vt, "F2");
    assert_true(vt_wait_text(vt, "20-17", RIG_WAIT_MS));
    vt_press(vt, "Esc");
    assert_int_equal(rig_leave(vt), 0);
    scratch_remove(rig.folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(open_scoring__after_round_two__says_who_leads),
        cmocka_unit_test(closed_scoring__after_round_two__shows_nothing_until_asked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
