/* The pages on Tab, the scorecards, the count, what wants a look, and the look-up, as text held
 * against expected/. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "ringtally/bout/recording.h"
#include "stage.h"

static struct bout five_judges(const char *rules, int rounds)
{
    static const char *const names[] = {"Aurelia Quintwell", "Baptiste Corvellec",
                                        "Ingunn Steinhaug", "Rasmus Ekenäs",
                                        "Domonkos Szepesvölgyi-Tarr"};
    struct bout bout = stage_bout;
    snprintf(bout.rules, sizeof bout.rules, "%s", rules);
    bout.rounds = rounds;
    bout.judges = 5;
    for (int i = 0; i < 5; i++) {
        snprintf(bout.judge[i], sizeof bout.judge[i], "%s", names[i]);
    }
    return bout;
}

/* Two rounds over, a third under way with a knockdown, a warning and a stop. */
static void play(struct stage *stage, const struct bout *bout)
{
    stage_open(stage, bout);
    stage_round(stage, 1);
    stage_round(stage, 7);
    stage_key(stage, KEY_OF_ENTER, 1000);
    stage_type(stage, "wWeSfVvIoO/?uK", 2100);
    stage_key(stage, '4', 300);
    stage_type(stage, "]w", 1500);
    stage_key(stage, KEY_OF_ENTER, 2500);
    stage_key(stage, KEY_OF_ENTER, 9000);
    stage_type(stage, "VVU", 1700);
    stage->now_ms += 6000;
}

static bool shows(struct stage *stage, int rows, int columns, const char *text)
{
    struct frame frame;
    int column = 0;
    stage_compose(stage, &frame, rows, columns, false);
    int row = stage_find(&frame, text, &column);
    frame_release(&frame);
    return row >= 0;
}

static void panel_compose__pages__as_expected(void **state)
{
    (void)state;
    static const char *const names[PAGE_COUNT] = {
        [PAGE_READOUT] = "readout",   [PAGE_STANCE] = "by-stance", [PAGE_TAKEN] = "taken",
        [PAGE_TIMELINE] = "timeline", [PAGE_REMARKS] = "remarks",
    };
    struct stage stage;
    char name[64];
    play(&stage, &stage_bout);
    for (int page = 0; page < PAGE_CHECK; page++) {
        assert_int_equal(desk_page(stage.desk), page);
        if (names[page]) {
            snprintf(name, sizeof name, "%s-80x24", names[page]);
            stage_expect(&stage, 24, 80, false, name);
            snprintf(name, sizeof name, "%s-140x40", names[page]);
            stage_expect(&stage, 40, 140, false, name);
            snprintf(name, sizeof name, "%s-ascii-80x24", names[page]);
            stage_expect(&stage, 24, 80, true, name);
        }
        stage_key(&stage, KEY_OF_TAB, 500);
    }
    assert_int_equal(desk_page(stage.desk), PAGE_BOUT);
    stage_close(&stage);
}

/* Desk 1 tags the bout again from its recording, 300 ms and a little before each key; it has one
 * strike in nine more. */
static void tag_again(struct stage *stage)
{
    const struct subject *subjects = NULL;
    struct recording recording = {.rate_mhz = 25000, .name = "bout.mkv"};
    size_t count = fold_subjects(desk_fold(stage->desk), &subjects), made = 0;
    struct entry *entries = calloc(2 * count + 1, sizeof *entries);
    assert_non_null(entries);
    entries[made] = (struct entry){.kind = ENTRY_NOTE, .round = 1, .at_ms = STAGE_START};
    recording_print(entries[made++].text, &recording);
    for (size_t i = 0; i < count; i++) {
        bool strike = subjects[i].now.kind == ENTRY_STRIKE;
        if (!strike && subjects[i].now.kind != ENTRY_CLOCK) {
            continue;
        }
        entries[made] = subjects[i].now;
        entries[made++].at_ms -= strike ? 300 + (int64_t)(i * 7 % 60) : 0;
        if (strike && i % 9 == 0) {
            entries[made] = entries[made - 1];
            entries[made].strike.limb = LIMB_KNEE;
            entries[made++].at_ms += 500;
        }
    }
    for (size_t i = 0; i < made; i++) {
        entries[i].name = entries[i].subject = (struct entry_name){1, (int64_t)i + 1};
        entries[i].act = ACT_ADD;
        entries[i].undoes = ENTRY_NONE;
        entries[i].utc_ms = stage->now_ms + (int64_t)i;
    }
    assert_int_equal(desk_learn(stage->desk, NULL, 0, entries, made, stage->now_ms), 0);
    free(entries);
}

/* Where somebody tagged the recording too there is a page more. It is worked out anew once strikes
 * do not come. */
static void panel_compose__the_check__as_expected(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    play(&stage, &stage_bout);
    stage_key(&stage, KEY_OF_BACKTAB, 500);
    assert_int_equal(desk_page(stage.desk), PAGE_REMARKS);
    stage_key(&stage, KEY_OF_TAB, 500);
    tag_again(&stage);
    stage_key(&stage, KEY_OF_BACKTAB, 500);
    assert_int_equal(desk_page(stage.desk), PAGE_CHECK);
    stage_expect(&stage, 24, 80, false, "check-80x24");
    stage_expect(&stage, 40, 140, false, "check-140x40");
    stage_expect(&stage, 24, 80, true, "check-ascii-80x24");
    stage_type(&stage, "wi", 800);
    assert_true(shows(&stage, 24, 80, "; 2 entries ago"));
    stage_key(&stage, KEY_OF_ENTER, 5000); /* the clock stands */
    assert_false(shows(&stage, 24, 80, "entries ago"));
    for (int rows = 24; rows < 64; rows += 3) { /* under the sanitizer: no write outside */
        for (int columns = 80; columns < 300; columns += 17) {
            stage_compose(&stage, &frame, rows, columns, rows % 2);
            frame_release(&frame);
        }
    }
    stage_key(&stage, KEY_OF_TAB, 500);
    assert_int_equal(desk_page(stage.desk), PAGE_BOUT);
    stage_close(&stage);
}

/* Nothing thrown, one strike, one corner only: figures or dashes, nothing else. */
static void panel_compose__pages_of_hardly_anything__hold(void **state)
{
    (void)state;
    struct stage stage;
    char name[64];
    stage_open(&stage, &stage_bout);
    for (int strikes = 0; strikes < 2; strikes++) {
        for (int page = 0; page < PAGE_CHECK; page++) {
            if (page == PAGE_READOUT || page >= PAGE_STANCE) {
                snprintf(name, sizeof name, "page-%d-%d-strikes-80x24", page, strikes);
                stage_expect(&stage, 24, 80, false, name);
            }
            assert_false(shows(&stage, 24, 80, "nan"));
            assert_false(shows(&stage, 24, 80, "inf "));
            stage_key(&stage, KEY_OF_TAB, 500);
        }
        stage_key(&stage, 'V', 500);
    }
    stage_close(&stage);
}

static void panel_compose__pages_of_any_size__stay_inside(void **state)
{
    (void)state;
    struct stage stage;
    struct bout bout = five_judges("boxing", 12);
    play(&stage, &bout);
    for (int page = 0; page < PAGE_CHECK; page++) {
        for (int mode = 0; mode < 2; mode++) {
            for (int rows = 24; rows < 64; rows += 5) {
                for (int columns = 80; columns < 700; columns += 77) {
                    struct frame frame; /* under the sanitizer: no write outside */
                    stage_compose(&stage, &frame, rows, columns, false);
                    frame_release(&frame);
                }
            }
            stage_key(&stage, KEY_OF_F1 + 1, 500); /* scorecards, and out of them */
        }
        stage_key(&stage, KEY_OF_TAB, 500);
    }
    stage_close(&stage);
}

/* The row of the round's axis, in an ASCII frame. */
static int axis_row(const struct frame *frame)
{
    int column = 0;
    int row = stage_find(frame, "round 3: landed", &column);
    assert_true(row > 0);
    return row + 4;
}

static int last_mark(const struct frame *frame, int row, char mark)
{
    int found = -1;
    for (int column = 6; column < frame->columns; column++) {
        found = frame->cell[row * frame->columns + column].point[0] == mark ? column : found;
    }
    return found;
}

static void panel_compose__timeline__marks_stand_at_their_corner_and_time(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    play(&stage, &stage_bout);
    for (int i = 0; i < PAGE_TIMELINE; i++) {
        stage_key(&stage, KEY_OF_TAB, 500);
    }
    stage_compose(&stage, &frame, 24, 80, true);
    int axis = axis_row(&frame);
    int knockdown = last_mark(&frame, axis - 3, 'K');
    int warning = last_mark(&frame, axis + 3, 'w');
    int stop = last_mark(&frame, axis, '|');
    /* By the keys of play(): red's newest strike is the seventh, 2.1 s apart; the warning is 17
     * keys and the stop 2.5 s later. The axis has 73 columns for three minutes. */
    assert_int_equal(knockdown, 6 + 7 * 2100 * 73 / 180000);
    assert_int_equal(warning, 6 + (14 * 2100 + 300 + 2 * 1500) * 73 / 180000);
    assert_int_equal(stop, 6 + (14 * 2100 + 300 + 2 * 1500 + 2500) * 73 / 180000);
    assert_int_equal(stage_style(&frame, axis - 3, knockdown), STYLE_URGENT);
    frame_release(&frame);
    stage_close(&stage);
}

/* A stop that was taken back never was. */
static void panel_compose__timeline__no_stop_where_it_was_taken_back(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    play(&stage, &stage_bout);
    for (int i = 0; i < PAGE_TIMELINE; i++) {
        stage_key(&stage, KEY_OF_TAB, 500);
    }
    stage_compose(&stage, &frame, 24, 80, true);
    int before = last_mark(&frame, axis_row(&frame), '|');
    frame_release(&frame);
    stage_key(&stage, KEY_OF_ENTER, 20000);
    stage_compose(&stage, &frame, 24, 80, true);
    assert_true(last_mark(&frame, axis_row(&frame), '|') > before);
    frame_release(&frame);
    stage_key(&stage, KEY_OF_BACKSPACE, 1000);
    stage_compose(&stage, &frame, 24, 80, true);
    assert_int_equal(last_mark(&frame, axis_row(&frame), '|'), before);
    frame_release(&frame);
    stage_close(&stage);
}

/* Red, then blue; scores of five judges. */
static void score(struct stage *stage, const char *digits)
{
    stage_key(stage, KEY_OF_F1 + 1, 500);
    stage_type(stage, digits, 200);
}

static void panel_compose__cards__as_expected(void **state)
{
    (void)state;
    struct stage stage;
    struct frame frame;
    struct bout bout = five_judges("kickboxing", 3);
    int column = 0;
    snprintf(bout.terms, sizeof bout.terms, "scoring.open = yes");
    stage_open(&stage, &bout);
    stage_round(&stage, 1);
    score(&stage, "0990090909");
    stage_key(&stage, KEY_OF_ESC, 500);
    stage_round(&stage, 7);
    score(&stage, "0909000990");
    stage_key(&stage, '9', 200); /* half a pair */
    stage_expect(&stage, 24, 80, false, "cards-half-80x24");
    stage_compose(&stage, &frame, 24, 80, false);
    int row = stage_find(&frame, "9-_", &column);
    assert_true(row > 0);
    assert_int_equal(stage_style(&frame, row, 30), STYLE_URGENT);
    frame_release(&frame);
    stage_key(&stage, KEY_OF_ESC, 500);
    stage.now_ms += 6000;
    stage_expect(&stage, 24, 80, false, "cards-open-80x24");
    stage_round(&stage, 9);
    score(&stage, "0990000990");
    stage.now_ms += 6000;
    stage_expect(&stage, 24, 80, false, "cards-80x24");
    stage_expect(&stage, 24, 80, true, "cards-ascii-80x24");
    stage_expect(&stage, 40, 140, false, "cards-140x40");
    stage_type(&stage, "++", 500);
    stage_key(&stage, KEY_OF_ESC, 500);
    stage.now_ms += 6000;
    stage_expect(&stage, 24, 80, false, "cards-announced-80x24");
    stage_close(&stage);
}

static void panel_compose__closed_scoring__shows_nothing_unasked(void **state)
{
    (void)state;
    struct stage stage;
    struct bout bout = five_judges("boxing", 12);
    stage_open(&stage, &bout);
    stage_round(&stage, 1);
    score(&stage, "0990090909");
    assert_true(shows(&stage, 24, 80, "after R1: red 4, blue"));
    stage_expect(&stage, 24, 80, false, "cards-boxing-80x24");
    stage_key(&stage, KEY_OF_ESC, 500);
    stage.now_ms += 6000;
    assert_false(shows(&stage, 24, 80, "red 4"));
    stage_close(&stage);
}

static void panel_compose__a_tied_judge__names_a_corner(void **state)
{
    (void)state;
    struct stage stage;
    struct bout bout = five_judges("low-kick", 3);
    stage_open(&stage, &bout);
    stage_round(&stage, 1);
    score(&stage, "00");
    stage_key(&stage, KEY_OF_UP, 200);
    stage_key(&stage, ']', 200);
    stage.now_ms += 6000;
    stage_expect(&stage, 24, 80, false, "cards-named-80x24");
    stage_close(&stage);
}

static void panel_compose__a_count__large_until_it_ends(void **state)
{
    (void)state;
    struct stage stage;
    play(&stage, &stage_bout);
    stage_type(&stage, "]c", 500);
    stage.now_ms += 6400;
    stage_expect(&stage, 24, 80, false, "count-80x24");
    stage_expect(&stage, 24, 80, true, "count-ascii-80x24");
    stage_key(&stage, KEY_OF_ENTER, 200);
    assert_false(shows(&stage, 24, 80, "COUNT BLUE"));
    assert_true(shows(&stage, 24, 80, "RUNNING"));
    stage_type(&stage, "[k", 500);
    assert_true(shows(&stage, 24, 80, "COUNT RED"));
    stage.now_ms += 12000;
    assert_false(shows(&stage, 24, 80, "COUNT RED"));
    stage_close(&stage);
}

static void panel_compose__a_rest__shows_what_wants_a_look(void **state)
{
    (void)state;
    struct stage stage;
    play(&stage, &stage_bout);
    stage_type(&stage, "i'", 400);
    assert_false(shows(&stage, 24, 80, "to look at: "));
    stage.now_ms += 200000;
    stage_key(&stage, 'f', 0); /* off the clock */
    stage.now_ms += 6000;
    stage_expect(&stage, 24, 80, false, "looks-80x24");
    stage_expect(&stage, 24, 80, true, "looks-ascii-80x24");
    stage_expect(&stage, 40, 140, false, "looks-140x40"); /* what is read out, beside the pad */
    stage_key(&stage, KEY_OF_TAB, 500);
    stage_expect(&stage, 24, 80, false, "readout-rest-80x24");
    for (int i = 1; i < PAGE_CHECK; i++) {
        stage_key(&stage, KEY_OF_TAB, 500);
    }
    stage_key(&stage, KEY_OF_UP, 500);
    stage_key(&stage, KEY_OF_DOWN, 500);
    stage_key(&stage, '=', 500);
    stage_key(&stage, KEY_OF_SPACE, 500);
    stage_expect(&stage, 24, 80, false, "looks-entered-80x24");
    for (int i = 0; i < 4; i++) {
        stage_key(&stage, '\'', 500); /* each is accepted; the next comes under the cursor */
    }
    stage_key(&stage, KEY_OF_ESC, 500);
    assert_false(shows(&stage, 24, 80, "to look at"));
    assert_true(shows(&stage, 24, 80, "newest"));
    stage_close(&stage);
}

static void panel_compose__look_up__counts_a_knee_of_either_side(void **state)
{
    (void)state;
    struct stage stage;
    stage_open(&stage, &stage_bout);
    stage_key(&stage, KEY_OF_ENTER, 1000);
    stage_type(&stage, "GgG", 20000);
    /* while the clock runs: of the newest strike's cell */
    stage_key(&stage, KEY_OF_F1 + 2, 500);
    assert_true(shows(&stage, 24, 80, "67%"));
    stage_key(&stage, KEY_OF_ENTER, 500);
    stage_key(&stage, KEY_OF_F1 + 2, 500);
    stage_key(&stage, 'g', 500);
    stage_expect(&stage, 24, 80, false, "look-up-knee-80x24");
    stage_expect(&stage, 24, 80, true, "look-up-knee-ascii-80x24");
    assert_true(shows(&stage, 24, 80, "67%"));
    assert_true(shows(&stage, 24, 80, "3.0/min")); /* of a minute and a second: 2.95 */
    assert_true(shows(&stage, 24, 80, "last R1 2:00"));
    stage_close(&stage);
}

/* What was never thrown is a dash, not what stood in memory before. */
static void panel_compose__look_up_of_nothing__shows_dashes(void **state)
{
    (void)state;
    struct stage stage;
    stage_open(&stage, &stage_bout);
    stage_key(&stage, KEY_OF_F1 + 2, 500);
    stage_key(&stage, 'w', 500);
    stage_expect(&stage, 24, 80, false, "look-up-nothing-80x24");
    stage_close(&stage);
}

static void panel_compose__a_feed__is_seen_and_its_silence_told(void **state)
{
    (void)state;
    struct stage stage;
    stage_open(&stage, &stage_bout);
    assert_false(shows(&stage, 24, 80, "feed"));
    stage.saved.feed = true;
    assert_true(shows(&stage, 24, 80, "feed 0, never read  Tab [pad]"));
    stage.saved.feed_clients = 2;
    stage.saved.feed_read_ms = stage.now_ms - 9000;
    assert_true(shows(&stage, 24, 80, "feed 2  Tab [pad]"));
    stage.saved.feed_read_ms = stage.now_ms - 79000;
    assert_true(shows(&stage, 24, 80, "feed 2, quiet 1:10  Tab [pad]"));
    stage_close(&stage);
}

static void panel_compose__a_hub__is_told_of_once_it_is_behind(void **state)
{
    (void)state;
    struct stage stage;
    stage_open(&stage, &stage_bout);
    stage.saved.hub = true;
    stage.saved.hub_waiting = 3;
    stage.saved.hub_since_ms = stage.now_ms - 4000;
    assert_true(shows(&stage, 24, 80, "strikes "));
    assert_false(shows(&stage, 24, 80, "hub"));
    stage.saved.hub_since_ms = stage.now_ms - 6000;
    assert_true(shows(&stage, 24, 80, "hub behind 3, 0:06  saved "));
    stage.saved.hub_away = true;
    stage.saved.hub_since_ms = stage.now_ms - 79000;
    assert_true(shows(&stage, 24, 80, "hub away 3, 1:10  saved "));
    stage.saved.hub_since_ms = stage.now_ms - 9000000;
    assert_true(shows(&stage, 24, 80, "hub away 3, 99:50  saved "));
    stage.saved.hub_lost = true;
    assert_true(shows(&stage, 24, 80, "hub not followed  saved "));
    stage_close(&stage);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(panel_compose__a_hub__is_told_of_once_it_is_behind),
        cmocka_unit_test(panel_compose__pages__as_expected),
        cmocka_unit_test(panel_compose__the_check__as_expected),
        cmocka_unit_test(panel_compose__pages_of_hardly_anything__hold),
        cmocka_unit_test(panel_compose__pages_of_any_size__stay_inside),
        cmocka_unit_test(panel_compose__timeline__marks_stand_at_their_corner_and_time),
        cmocka_unit_test(panel_compose__timeline__no_stop_where_it_was_taken_back),
        cmocka_unit_test(panel_compose__cards__as_expected),
        cmocka_unit_test(panel_compose__closed_scoring__shows_nothing_unasked),
        cmocka_unit_test(panel_compose__a_tied_judge__names_a_corner),
        cmocka_unit_test(panel_compose__a_count__large_until_it_ends),
        cmocka_unit_test(panel_compose__a_rest__shows_what_wants_a_look),
        cmocka_unit_test(panel_compose__look_up__counts_a_knee_of_either_side),
        cmocka_unit_test(panel_compose__look_up_of_nothing__shows_dashes),
        cmocka_unit_test(panel_compose__a_feed__is_seen_and_its_silence_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
