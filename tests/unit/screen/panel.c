/* The panel as text: whole frames held against expected/, and what styles carry besides. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "ringtally/desk/reel.h"
#include "stage.h"

static void play(struct stage *stage)
{
    stage_open(stage, &stage_bout);
    stage_round(stage, 1);
    stage_round(stage, 7);
    stage_key(stage, KEY_OF_ENTER, 1000);
    stage_type(stage, "wWeSfVvIoO/?uK", 2100);
    stage_key(stage, '4', 300);
    stage_key(stage, '`', 500);
    stage_type(stage, "G", 400);
    stage->now_ms += 150;
}

static void panel_compose__sizes__as_expected(void **state)
{
    (void)state;
    static const struct {
        int rows, columns;
        const char *name;
    } sizes[] = {{24, 80, "bout-80x24"},   {30, 100, "bout-100x30"}, {32, 120, "bout-120x32"},
                 {40, 140, "bout-140x40"}, {60, 200, "bout-200x60"}, {60, 80, "bout-80x60"}};
    struct stage stage;
    play(&stage);
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        stage_expect(&stage, sizes[i].rows, sizes[i].columns, false, sizes[i].name);
    }
    stage_expect(&stage, 24, 80, true, "bout-ascii-80x24");
    stage_expect(&stage, 40, 140, true, "bout-ascii-140x40");
    stage_key(&stage, KEY_OF_TAB, 3000);
    stage_expect(&stage, 24, 80, false, "rounds-80x24");
    stage_expect(&stage, 40, 140, false, "rounds-140x40");
    stage_key(&stage, KEY_OF_TAB, 3000);
    stage_expect(&stage, 24, 80, false, "windows-80x24");
    stage_close(&stage);
}

/* What nobody sees and what was not seen well stands at the corner it is of. */
static void panel_compose__blocked_view_and_unsure__stand_in_their_corner(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    int column = 0;
    play(&stage);
    stage_type(&stage, "W\"", 400); /* red's strike, not seen well */
    stage_type(&stage, "--", 300);  /* both corners blocked, then red alone */
    stage.now_ms += 12000;
    stage_compose(&stage, &frame, 24, 80, false);
    int row = stage_find(&frame, "VIEW BLOCKED, unseen 0:12", &column);
    assert_int_equal(row, 6);
    assert_int_equal(column, 2);
    assert_int_equal(stage_style(&frame, row, column), STYLE_URGENT);
    assert_int_equal(stage_style(&frame, row, 60), STYLE_PLAIN);
    frame_release(&frame);
    stage_expect(&stage, 24, 80, false, "unseen-80x24");
    stage_expect(&stage, 40, 140, true, "unseen-ascii-140x40");
    stage_type(&stage, "W", 400); /* its next strike ends that */
    stage_compose(&stage, &frame, 24, 80, false);
    assert_int_equal(stage_find(&frame, "VIEW BLOCKED", &column), -1);
    assert_int_equal(stage_find(&frame, "?1 unseen 0:12", &column), 2);
    frame_release(&frame);
    stage_close(&stage);
}

static void panel_compose__too_small__says_so_and_counts_on(void **state)
{
    (void)state;
    struct stage stage;
    play(&stage);
    stage_expect(&stage, 8, 50, false, "small-50x8");
    stage_expect(&stage, 23, 80, false, "small-80x23");
    stage_expect(&stage, 2, 20, false, "small-20x2");
    stage_key(&stage, '[', 900);
    stage_expect(&stage, 14, 60, false, "small-incident-60x14");
    for (int rows = 1; rows < 26; rows++) {
        for (int columns = 1; columns < 84; columns++) { /* under the sanitizer: no write outside */
            struct frame frame;
            stage_compose(&stage, &frame, rows, columns, false);
            frame_release(&frame);
        }
    }
    stage_close(&stage);
}

static void panel_compose__every_larger_size__stays_inside(void **state)
{
    (void)state;
    struct stage stage;
    play(&stage);
    for (int rows = 24; rows < 70; rows += 3) {
        for (int columns = 80; columns < 420; columns += 13) {
            struct frame frame;
            stage_compose(&stage, &frame, rows, columns, false);
            frame_release(&frame);
        }
    }
    stage_close(&stage);
}

static void panel_compose__modes__are_unmistakable(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    int column = 0;
    play(&stage);
    stage_key(&stage, '[', 900);
    stage_expect(&stage, 24, 80, false, "incident-80x24");
    stage_compose(&stage, &frame, 24, 80, false);
    int row = stage_find(&frame, "RED INCIDENT", &column);
    assert_true(row > 0);
    for (int i = 0; i < 80; i++) {
        assert_int_equal(stage_style(&frame, row, i), STYLE_URGENT);
    }
    frame_release(&frame);
    stage_key(&stage, 'f', 500);
    stage_expect(&stage, 24, 80, false, "foul-80x24");
    stage_key(&stage, '3', 500);
    stage_expect(&stage, 24, 80, false, "fouled-80x24");
    stage_key(&stage, KEY_OF_ENTER, 500);
    stage_key(&stage, KEY_OF_F1 + 2, 500);
    stage_expect(&stage, 24, 80, false, "lookup-80x24");
    stage_key(&stage, 'v', 500);
    stage_expect(&stage, 24, 80, false, "looked-up-80x24");
    stage_key(&stage, KEY_OF_ESC, 500);
    stage_key(&stage, KEY_OF_UP, 500);
    stage_key(&stage, KEY_OF_DOWN, 500);
    stage_key(&stage, KEY_OF_DOWN, 500);
    stage_key(&stage, KEY_OF_DELETE, 500);
    stage_key(&stage, KEY_OF_DOWN, 500);
    stage_key(&stage, KEY_OF_DOWN, 500);
    stage_key(&stage, KEY_OF_DOWN, 500);
    stage_expect(&stage, 24, 80, false, "log-80x24");
    stage_expect(&stage, 40, 140, false, "log-140x40");
    stage_key(&stage, '+', 500);
    stage_expect(&stage, 24, 80, false, "insert-80x24");
    stage_key(&stage, KEY_OF_ESC, 500);
    stage_key(&stage, KEY_OF_ESC, 500);
    stage_key(&stage, KEY_OF_F1, 500);
    stage_expect(&stage, 24, 80, false, "help-80x24");
    stage_close(&stage);
}

/* Nothing falls off at the smallest size, whatever actions are added. */
static void panel_compose__help__holds_every_action(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    int column = 0;
    stage_open(&stage, &stage_bout);
    stage_key(&stage, KEY_OF_F1, 500);
    stage_compose(&stage, &frame, 24, 80, true);
    for (int action = 0; action < ACTION_COUNT; action++) {
        char wanted[24];
        char word[16];
        int32_t key = desk_keymap(stage.desk)->action[action];
        /* Arrows and Backspace go by marks, the second of a pair stands behind the first. */
        if ((key >= KEY_OF_F1 && key != KEY_OF_NONE) || key == KEY_OF_SPACE ||
            key == KEY_OF_ENTER || key == KEY_OF_TAB) {
            snprintf(wanted, sizeof wanted, " %-5s ", key_word(word, key));
            assert_true(stage_find(&frame, wanted, &column) >= 0);
        }
    }
    static const char *const marks[] = {" Bksp ", " < > ", " ^ v ", " [ ] ", " \\ ", " Esc "};
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++) {
        assert_true(stage_find(&frame, marks[i], &column) >= 0);
    }
    frame_release(&frame);
    stage_close(&stage);
}

static void panel_compose__cell_just_hit__marked_for_a_moment(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    int column = 0;
    stage_open(&stage, &stage_bout);
    stage_key(&stage, KEY_OF_ENTER, 1000);
    stage_key(&stage, 'V', 1000);
    stage_compose(&stage, &frame, 24, 80, true);
    int row = stage_find(&frame, ">   1/1", &column);
    assert_true(row > 0);
    assert_int_equal(stage_style(&frame, row, column), STYLE_RED_HIT);
    assert_int_equal(stage_style(&frame, row, column + 6), STYLE_RED_HIT);
    frame_release(&frame);
    stage_key(&stage, 'o', 600);
    stage_compose(&stage, &frame, 24, 80, true);
    row = stage_find(&frame, ">   0/1", &column);
    assert_true(row > 0);
    assert_int_equal(stage_style(&frame, row, column + 6), STYLE_BLUE_HIT);
    frame_release(&frame);
    stage.now_ms += 2000;
    stage_compose(&stage, &frame, 24, 80, true);
    assert_int_equal(stage_find(&frame, ">   ", &column), -1);
    frame_release(&frame);
    stage_close(&stage);
}

static void panel_compose__output__as_of_the_last_whole_second(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    int column = 0;
    stage_open(&stage, &stage_bout);
    stage_key(&stage, KEY_OF_ENTER, 1000);
    stage_type(&stage, "qwer", 7500); /* the last at 30.0 s */
    stage_type(&stage, "q", 600);     /* at 30.6 s, not in the last whole second */
    stage_compose(&stage, &frame, 24, 80, false);
    assert_true(stage_find(&frame, "0/5   0%   8.0/min", &column) > 0); /* 4 in 30 s */
    frame_release(&frame);
    stage.now_ms += 800; /* 31.4 s */
    stage_compose(&stage, &frame, 24, 80, false);
    assert_true(stage_find(&frame, "0/5   0%   9.7/min", &column) > 0); /* 5 in 31 s */
    frame_release(&frame);
    stage_key(&stage, KEY_OF_ENTER, 1500); /* stopped at 32.9 s: exact again */
    stage_compose(&stage, &frame, 24, 80, false);
    assert_true(stage_find(&frame, "0/5   0%   9.1/min", &column) > 0);
    frame_release(&frame);
    stage_close(&stage);
}

static void panel_compose__no_strikes__dashes(void **state)
{
    (void)state;
    struct stage stage;
    stage_open(&stage, &stage_bout);
    stage_expect(&stage, 24, 80, false, "ready-80x24");
    stage_key(&stage, KEY_OF_TAB, 100);
    stage_expect(&stage, 24, 80, false, "ready-rounds-80x24");
    stage_close(&stage);
}

static void panel_compose__rules__shape_the_pad(void **state)
{
    (void)state;
    static const char *const rules[] = {"muay-thai", "boxing", "sanda"};
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        struct stage stage;
        struct bout bout = stage_bout;
        char name[64];
        snprintf(bout.rules, sizeof bout.rules, "%s", rules[i]);
        stage_open(&stage, &bout);
        stage_key(&stage, KEY_OF_ENTER, 1000);
        stage_type(&stage, "wWeEsdiIkoO", 1300);
        if (i == 0) {
            stage_type(&stage, "xXc,<.qBz", 700);
        }
        snprintf(name, sizeof name, "%s-80x24", rules[i]);
        stage_expect(&stage, 24, 80, false, name);
        if (i == 0) {
            stage_expect(&stage, 40, 110, false, "muay-thai-110x40");
            stage_key(&stage, KEY_OF_TAB, 500);
            stage_expect(&stage, 24, 80, false, "muay-thai-rounds-80x24");
        }
        stage_close(&stage);
    }
}

static void panel_compose__names_in_many_scripts__keep_their_columns(void **state)
{
    (void)state;
    static const char *const names[][2] = {
        {"\u9d5c\u4e45\u68ee \u6c50\u91cc \u6e21\u8fba\u539f \u9577\u3044\u540d\u524d",
         "\u9d5c\u4e45\u68ee"},
        {"\u0e14\u0e27\u0e07\u0e41\u0e01\u0e49\u0e27 \u0e28\u0e34\u0e29\u0e22\u0e4c",
         "\u0e14\u0e27\u0e07\u0e41\u0e01\u0e49\u0e27"},
        {"\u064a\u0648\u0633\u0641 \u0627\u0644\u0632\u064a\u062a\u0648\u0646\u064a",
         "\u064a\u0648\u0633\u0641"},
        {"Zoe\u0308 N\u0303u\u0301n\u0303ez", "Zoe\u0308"},
    };
    for (size_t i = 0; i < 4; i += 2) {
        struct stage stage;
        struct bout bout = stage_bout;
        char file[64];
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            struct fighter *fighter = &bout.fighter[corner];
            snprintf(fighter->name, sizeof fighter->name, "%s", names[i + (size_t)corner][0]);
            snprintf(fighter->short_name, sizeof fighter->short_name, "%s",
                     names[i + (size_t)corner][1]);
        }
        stage_open(&stage, &bout);
        snprintf(file, sizeof file, "names-%zu-80x24", i / 2 + 1);
        stage_expect(&stage, 24, 80, false, file);
        snprintf(file, sizeof file, "names-%zu-ascii-80x24", i / 2 + 1);
        stage_expect(&stage, 24, 80, true, file);
        stage_close(&stage);
    }
}

static void panel_compose__three_digits__stay_readable(void **state)
{
    (void)state;
    struct stage stage;
    stage_open(&stage, &stage_bout);
    stage_key(&stage, KEY_OF_ENTER, 1000);
    for (int i = 0; i < 131; i++) {
        stage_type(&stage, i < 31 ? "ewio" : i % 2 ? "EWIO" : "WEOI", 90);
    }
    stage_type(&stage, "3", 200);
    stage_expect(&stage, 24, 80, false, "three-digits-80x24");
    stage_expect(&stage, 24, 100, false, "three-digits-100x24");
    stage_expect(&stage, 40, 140, false, "three-digits-140x40");
    stage_close(&stage);
}

static void panel_compose__saving_fails__banner(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    int column = 0;
    play(&stage);
    stage.saved.failing = true;
    stage.saved.saved -= 12;
    stage.saved.oldest_ms = 4000;
    snprintf(stage.saved.trouble, sizeof stage.saved.trouble, "the disk is full");
    stage_expect(&stage, 24, 80, false, "disk-full-80x24");
    stage_compose(&stage, &frame, 24, 80, false);
    int row = stage_find(&frame, "NOT SAVED", &column);
    assert_int_equal(row, 0);
    assert_int_equal(stage_style(&frame, 0, 40), STYLE_URGENT);
    assert_true(stage_find(&frame, "not yet 12", &column) >= 0);
    frame_release(&frame);
    /* A disk that stalls without an error: a word on it after two seconds, not before. */
    stage.saved.failing = false;
    stage.saved.trouble[0] = '\0';
    stage.saved.oldest_ms = 1900;
    stage_compose(&stage, &frame, 24, 80, false);
    assert_int_equal(stage_find(&frame, "NOT SAVED", &column), -1);
    frame_release(&frame);
    stage.saved.oldest_ms = 2000;
    stage_compose(&stage, &frame, 24, 80, false);
    assert_int_equal(stage_find(&frame, "the disk does not answer", &column), 0);
    frame_release(&frame);
    stage_close(&stage);
}

static void panel_compose__long_notice__takes_two_rows(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    int column = 0;
    play(&stage);
    stage_key(&stage, KEY_OF_F1 + 9, 500); /* leave? */
    stage.script = "key script playing: any key takes over";
    stage_expect(&stage, 24, 80, false, "leave-80x24");
    desk_key(stage.desk, KEY_OF_F1 + 9, stage.now_ms += 500, 1234567);
    desk_tick(stage.desk, stage.now_ms += 200);
    stage_expect(&stage, 24, 80, false, "leave-unsaved-80x24");
    stage_compose(&stage, &frame, 24, 80, false);
    int row = stage_find(&frame, "rescue file", &column);
    assert_int_equal(row, 22);
    assert_int_equal(stage_style(&frame, 21, 79), STYLE_URGENT);
    frame_release(&frame);
    stage_close(&stage);
}

static void panel_compose__shadow_desk__says_so(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    int column = 0;
    stage_open_as(&stage, &stage_bout, true);
    stage_compose(&stage, &frame, 24, 80, false);
    assert_int_equal(stage_find(&frame, "SHADOW", &column), 23);
    frame_release(&frame);
    stage_close(&stage);
}

/* What a shadow tagged afterwards comes behind the bout's own entries, and is no part of its last
 * minute: it does not end the search for it. */
static void panel_compose__shadow_tagged_later__last_minute_stands(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    stage_open(&stage, &stage_bout);
    stage_key(&stage, KEY_OF_ENTER, 1000);
    stage_key(&stage, 'w', 130000);
    for (int later = 0; later < 2; later++) {
        stage_compose(&stage, &frame, 24, 80, true);
        char *text = frame_text(&frame);
        assert_non_null(text);
        assert_non_null(strstr(text, "last minute  ...........1"));
        free(text);
        frame_release(&frame);
        const struct entry *entries = NULL;
        size_t count = fold_entries(desk_fold(stage.desk), &entries);
        struct entry other = entries[count - 1];
        assert_int_equal(other.kind, ENTRY_STRIKE);
        other.name = (struct entry_name){1, 1};
        other.subject = other.name;
        other.utc_ms = other.at_ms = stage.now_ms + 10;
        other.elapsed_ms = 0; /* of the round's beginning, again */
        stage.now_ms += 20;
        assert_int_equal(desk_learn(stage.desk, NULL, 0, &other, 1, stage.now_ms), 0);
    }
    stage_close(&stage);
}

/* A strike must not shift lists: at 80x24 few cells change. */
static void panel_compose__a_strike__changes_few_cells(void **state)
{
    (void)state;
    static const char keys[] = "qwWeEsdafFvVzrtgbiIoOkKlLjmM/?uh;np";
    struct stage stage;
    struct frame before;
    int changed_max = 0;
    play(&stage);
    stage_type(&stage, "q", 5000);
    stage_compose(&stage, &before, 24, 80, false);
    for (int i = 0; keys[i]; i++) {
        struct frame after;
        int changed = 0;
        stage_type(&stage, (char[2]){keys[i], '\0'}, 100);
        stage_compose(&stage, &after, 24, 80, false);
        for (int cell = 0; cell < 24 * 80; cell++) {
            changed += after.cell[cell].point[0] != before.cell[cell].point[0] ||
                       after.cell[cell].style != before.cell[cell].style;
        }
        changed_max = changed > changed_max ? changed : changed_max;
        frame_release(&before);
        before = after;
    }
    frame_release(&before);
    assert_in_range(changed_max, 8, 100);
    stage_close(&stage);
}

/* On a recording the wall's second says nothing of the bout's: what was typed within it is in the
 * rate at once. */
static void panel_compose__on_a_recording__the_rate_is_the_recordings(void **state)
{
    static const struct desk_row row = {
        .uid = "aaaa", .name = "ana-rec", .operator_ = "ana", .corners = 3};
    struct desk_setup setup = {
        .bout = stage_bout, .desks = &row, .desk_count = 1, .recording = true, .claim = 7};
    struct recording recording = {.rate_mhz = 25000, .name = "bout.mkv"};
    struct reel_seen seen = {.ready = true, .paused = true, .speed = 1, .picture = true};
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    struct stage stage = {.now_ms = STAGE_START};
    struct frame frame;
    struct error err = {0};
    int column = 0;
    (void)state;
    assert_int_equal(rules_parse(&setup.rules, rules->data, rules->size, "rules", &err), 0);
    assert_int_equal(keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err), 0);
    stage.desk = desk_new(&setup, stage.now_ms);
    assert_non_null(stage.desk);
    desk_reel_see(stage.desk, &seen, stage.now_ms);
    desk_reel_open(stage.desk, &recording, STAGE_START - 86400000, stage.now_ms);
    desk_reel_at(stage.desk, 1000, true);
    stage_key(&stage, KEY_OF_ENTER, 0);
    for (int i = 1; i <= 20; i++) {
        desk_reel_at(stage.desk, 1000 + i * 3000, true);
        stage_key(&stage, i % 2 ? 'w' : 'e', 1);
    }
    stage_compose(&stage, &frame, 24, 80, false);
    assert_true(stage_find(&frame, "20.0/min", &column) >= 0);
    assert_true(stage_find(&frame, "ana-rec counts", &column) == 0);
    frame_release(&frame);
    stage_close(&stage);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(panel_compose__on_a_recording__the_rate_is_the_recordings),
        cmocka_unit_test(panel_compose__sizes__as_expected),
        cmocka_unit_test(panel_compose__blocked_view_and_unsure__stand_in_their_corner),
        cmocka_unit_test(panel_compose__too_small__says_so_and_counts_on),
        cmocka_unit_test(panel_compose__every_larger_size__stays_inside),
        cmocka_unit_test(panel_compose__modes__are_unmistakable),
        cmocka_unit_test(panel_compose__help__holds_every_action),
        cmocka_unit_test(panel_compose__cell_just_hit__marked_for_a_moment),
        cmocka_unit_test(panel_compose__output__as_of_the_last_whole_second),
        cmocka_unit_test(panel_compose__no_strikes__dashes),
        cmocka_unit_test(panel_compose__rules__shape_the_pad),
        cmocka_unit_test(panel_compose__names_in_many_scripts__keep_their_columns),
        cmocka_unit_test(panel_compose__three_digits__stay_readable),
        cmocka_unit_test(panel_compose__saving_fails__banner),
        cmocka_unit_test(panel_compose__long_notice__takes_two_rows),
        cmocka_unit_test(panel_compose__shadow_desk__says_so),
        cmocka_unit_test(panel_compose__shadow_tagged_later__last_minute_stands),
        cmocka_unit_test(panel_compose__a_strike__changes_few_cells),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
