/* Key maps: the default keys are fixed; a bad file gets one line with its place. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/embedded.h"
#include "ringtally/desk/keymap.h"
#include "ringtally/desk/keyscript.h"

static struct keymap shipped(const char *id)
{
    char name[64];
    struct keymap map;
    struct error err = {0};
    snprintf(name, sizeof name, "keymaps/%s.ini", id);
    const struct embedded *file = embedded_find(name);
    assert_non_null(file);
    assert_int_equal(keymap_parse(&map, file->data, file->size, name, &err), 0);
    return map;
}

/* Rows head, body, leg; columns as the hands lie; '-' has no key. Shift gives the landed key. */
static void keymap__shipped__us_qwerty_is_the_fixed_pad(void **state)
{
    (void)state;
    static const enum limb limbs[10] = {
        LIMB_LEFT_LEG, LIMB_LEFT_HAND, LIMB_RIGHT_HAND, LIMB_RIGHT_LEG,  LIMB_KNEE,
        LIMB_KNEE,     LIMB_LEFT_LEG,  LIMB_LEFT_HAND,  LIMB_RIGHT_HAND, LIMB_RIGHT_LEG};
    static const char *const attempted[3] = {"qwertyuiop", "asdfghjkl;", "z--vbnm--/"};
    static const char *const landed[3] = {"QWERTYUIOP", "ASDFGHJKL:", "Z--VBNM--?"};
    struct keymap map = shipped("us-qwerty");
    for (int target = 0; target < 3; target++) {
        for (int column = 0; column < 10; column++) {
            enum corner corner = column < 5 ? CORNER_RED : CORNER_BLUE;
            const struct pad_key *pad = &map.pad[corner][limbs[column]][target];
            char key = attempted[target][column];
            assert_int_equal(pad->attempted, key == '-' ? KEY_OF_NONE : key);
            assert_int_equal(pad->landed, key == '-' ? KEY_OF_NONE : landed[target][column]);
            if (key != '-') {
                struct meaning meaning = keymap_find(&map, landed[target][column]);
                assert_int_equal(meaning.action, ACTION_STRIKE);
                assert_int_equal(meaning.strike.corner, corner);
                assert_int_equal(meaning.strike.outcome, OUTCOME_LANDED);
            }
        }
    }
    static const struct {
        int32_t key;
        enum action action;
    } keys[] = {
        {' ', ACTION_LANDED},
        {'1', ACTION_RED_SPINNING},
        {'2', ACTION_RED_JUMPING},
        {'3', ACTION_RED_BLOCKED},
        {'4', ACTION_RED_KNOCKDOWN},
        {'5', ACTION_RED_SWITCH},
        {'0', ACTION_BLUE_SPINNING},
        {'9', ACTION_BLUE_JUMPING},
        {'8', ACTION_BLUE_BLOCKED},
        {'7', ACTION_BLUE_KNOCKDOWN},
        {'6', ACTION_BLUE_SWITCH},
        {'`', ACTION_CLINCH},
        {'\'', ACTION_REVIEW},
        {'[', ACTION_RED_INCIDENT},
        {']', ACTION_BLUE_INCIDENT},
        {KEY_OF_BACKSPACE, ACTION_UNDO},
        {'\\', ACTION_REDO},
        {KEY_OF_ENTER, ACTION_CLOCK},
        {KEY_OF_LEFT, ACTION_CLOCK_LESS},
        {KEY_OF_RIGHT, ACTION_CLOCK_MORE},
        {KEY_OF_UP, ACTION_LOG_NEWER},
        {KEY_OF_DOWN, ACTION_LOG_OLDER},
        {KEY_OF_TAB, ACTION_PAGE},
        {KEY_OF_F1, ACTION_HELP},
        {KEY_OF_F1 + 1, ACTION_SCORECARDS},
        {KEY_OF_F1 + 2, ACTION_LOOKUP},
        {KEY_OF_F1 + 9, ACTION_LEAVE},
    };
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        assert_int_equal(keymap_find(&map, keys[i].key).action, keys[i].action);
    }
}

static void keymap__shipped__every_map_binds_every_action(void **state)
{
    (void)state;
    static const char *const ids[] = {"us-qwerty", "de-qwertz", "fr-azerty"};
    for (size_t i = 0; i < 3; i++) {
        struct keymap map = shipped(ids[i]);
        for (int action = 0; action < ACTION_COUNT; action++) {
            assert_int_not_equal(map.action[action], KEY_OF_NONE);
        }
    }
}

static void keymap__parse__bad_text_names_file_line_and_reason(void **state)
{
    (void)state;
    static const struct {
        const char *text, *message;
    } cases[] = {
        {"[pad.red]\nleft_leg.head = q Q\nleft_hand.head = q W\n",
         "m.ini:3: the key q is bound twice: to red's left_leg.head and to left_hand.head"},
        {"[pad.red]\nleft_leg.head = q Q\n[keys]\nclock = Q\n",
         "m.ini:4: the key Q is bound twice: to red's left_leg.head and to clock"},
        {"[pad.red]\nleft_leg.head = q\n",
         "m.ini:2: left_leg.head: two keys are needed, for attempted and for landed"},
        {"[pad.red]\ntail.head = q Q\n", "m.ini:2: no such cell: tail.head"},
        {"[keys]\nclock = Entre\n", "m.ini:2: clock: no such key: Entre"},
        {"[keys]\ndance = q\n", "m.ini:2: no such action: dance"},
        {"[keys]\nclock = Enter\n", "m.ini: no key for undo"},
        {"[colours]\nred = 1\n", "m.ini:2: no such section: [colours]"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct keymap map;
        struct error err = {0};
        assert_int_equal(keymap_parse(&map, cases[i].text, strlen(cases[i].text), "m.ini", &err),
                         ERROR_FAILED);
        assert_string_equal(err.text, cases[i].message);
    }
}

static void keyscript__parse__reads_what_it_writes(void **state)
{
    (void)state;
    static const int32_t keys[] = {'q', ';', '#', ' ', KEY_OF_ENTER, KEY_OF_F1 + 11, 0xf6, '`'};
    char text[512] = "# a comment\n\n";
    char line[64];
    struct script_key *read = NULL;
    size_t count = 0;
    struct error err = {0};
    for (size_t i = 0; i < 8; i++) {
        strcat(text, keyscript_line(line, 1234 * (int64_t)i, keys[i], (enum key_press)(i % 3)));
    }
    assert_int_equal(keyscript_parse(&read, &count, text, strlen(text), "k", &err), 0);
    assert_int_equal(count, 8);
    for (size_t i = 0; i < 8; i++) {
        assert_int_equal(read[i].key, keys[i]);
        assert_int_equal(read[i].at_ms, 1234 * (int64_t)i);
        assert_int_equal(read[i].press, i % 3);
    }
    free(read);
}

static void keyscript__parse__bad_text_names_file_line_and_reason(void **state)
{
    (void)state;
    static const struct {
        const char *text, *message;
    } cases[] = {
        {"1.0 q\n0.9 w\n", "k:2: the time falls"},
        {"1.0\n", "k:1: SECONDS KEY is needed"},
        {"1.0 q w\n", "k:1: SECONDS KEY is needed"},
        {"-1 q\n", "k:1: SECONDS is no decimal number of at most a week"},
        {"1e3 q\n", "k:1: SECONDS is no decimal number of at most a week"},
        {"1 F13\n", "k:1: no such key"},
        {"1 \xff\n", "k:1: this line is not valid UTF-8 text"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct script_key *keys = NULL;
        size_t count = 0;
        struct error err = {0};
        assert_int_equal(
            keyscript_parse(&keys, &count, cases[i].text, strlen(cases[i].text), "k", &err),
            ERROR_FAILED);
        assert_string_equal(err.text, cases[i].message);
        assert_null(keys);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keymap__shipped__us_qwerty_is_the_fixed_pad),
        cmocka_unit_test(keymap__shipped__every_map_binds_every_action),
        cmocka_unit_test(keymap__parse__bad_text_names_file_line_and_reason),
        cmocka_unit_test(keyscript__parse__reads_what_it_writes),
        cmocka_unit_test(keyscript__parse__bad_text_names_file_line_and_reason),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
