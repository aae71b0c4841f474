/* The example bouts through the desk: the totals must be those that the generator counted from its
 * own plan of the fight, written in the head of each script by a program that shares no code with
 * this one. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/desk/desk.h"
#include "ringtally/base/embedded.h"
#include "ringtally/base/file.h"
#include "ringtally/desk/keyscript.h"

#define START 1700000000000

static struct desk *open_desk(const char *text)
{
    static struct desk_row row = {.uid = "aaaa", .name = "ana", .operator_ = "ana", .corners = 3};
    struct desk_setup setup = {.desks = &row, .desk_count = 1, .claim = 7};
    struct error err = {0};
    char red[16], blue[16];
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    assert_int_equal(rules_parse(&setup.rules, rules->data, rules->size, "rules", &err), 0);
    assert_int_equal(keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err), 0);
    const char *stances = strstr(text, "# stances ");
    assert_non_null(stances);
    assert_int_equal(sscanf(stances, "# stances %15s %15s", red, blue), 2);
    setup.bout.fighter[CORNER_RED].stance = (uint8_t)name_index(stance_names, STANCE_COUNT, red);
    setup.bout.fighter[CORNER_BLUE].stance = (uint8_t)name_index(stance_names, STANCE_COUNT, blue);
    struct desk *desk = desk_new(&setup, START);
    assert_non_null(desk);
    return desk;
}

/* The numbers of one "# expected" line's WHAT in the tally. */
static void tally_of(const struct tally *tally, const char *what, int corner, int out[4])
{
    const struct round_tally *of = &tally->all;
    int stance = name_index(stance_names, STANCE_COUNT, what);
    if (what[0] >= '1' && what[0] <= '9') {
        of = &tally->round[atoi(what)];
    }
    const struct corner_tally *c = &of->corner[corner];
    const struct count *count = stance >= 0 ? &c->stance[stance] : &c->all;
    out[0] = count->attempted;
    out[1] = count->landed;
    out[2] = stance >= 0 ? -1 : c->blocked;
    out[3] = stance >= 0 ? -1 : c->knockdowns;
}

static void play(const char *name)
{
    char path[1024];
    char *text = NULL;
    size_t size = 0, count = 0;
    struct script_key *keys = NULL;
    struct error err = {0};
    int lines = 0;
    snprintf(path, sizeof path, "%s/examples/%s", SOURCE_DIR, name);
    assert_int_equal(file_read(&text, &size, path, &err), 0);
    assert_int_equal(keyscript_parse(&keys, &count, text, size, name, &err), 0);
    struct desk *desk = open_desk(text);
    for (size_t i = 0; i < count; i++) {
        desk_key(desk, keys[i].key, START + keys[i].at_ms, 0);
    }
    const struct tally *tally = fold_tally(desk_fold(desk));
    for (const char *at = text; (at = strstr(at, "# expected ")); at++) {
        char what[16], corner[8];
        int expected[4], seen[4];
        if (sscanf(at, "# expected %15s %7s %d %d %d %d", what, corner, &expected[0], &expected[1],
                   &expected[2], &expected[3]) != 6 ||
            strcmp(what, "off-clock") == 0) {
            continue;
        }
        tally_of(tally, what, name_index(corner_names, 2, corner), seen);
        for (int i = 0; i < 4; i++) {
            if (seen[i] >= 0 && seen[i] != expected[i]) {
                fail_msg("%s: %s %s: figure %d is %d, expected %d", name, what, corner, i, seen[i],
                         expected[i]);
            }
        }
        lines++;
    }
    assert_in_range(lines, 8, 100);
    desk_free(desk);
    free(keys);
    free(text);
}

static void scripts__play__bout_1(void **state)
{
    (void)state;
    play("bout-1.keys");
}

static void scripts__play__bout_2(void **state)
{
    (void)state;
    play("bout-2.keys");
}

static void scripts__play__second_tagger(void **state)
{
    (void)state;
    play("bout-1-second.keys");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(scripts__play__bout_1),
        cmocka_unit_test(scripts__play__bout_2),
        cmocka_unit_test(scripts__play__second_tagger),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
