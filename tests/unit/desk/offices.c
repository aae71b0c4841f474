/* Who is official for what, between two desks: told when it changes, taken over by keys, and what
 * is said where nobody is there. And the alarms: what rings, how often, for how long. */
#include "clocked.h"

#define F5  (KEY_OF_F1 + 4)
#define F12 (KEY_OF_F1 + 11)

static const struct desk_sign lives = {.held = true, .seen_ms = START, .age_ms = 100};
static const struct desk_sign hangs = {.held = true, .seen_ms = START, .age_ms = SIGN_STALE_MS};
static const struct desk_sign lost = {.seen_ms = START, .age_ms = 7000};
static const struct desk_sign gone = {.seen_ms = START, .left = true, .age_ms = 7000};

/* ana is official for all and has the clock running; ben came later. */
struct pair {
    struct desk *ana, *ben;
};

static struct pair open_pair(uint8_t claim)
{
    struct pair pair = {.ana = open_as(0, 2, NULL, 7, 0)};
    press(pair.ana, ENTER, 1000);
    press(pair.ana, 'w', 2000);
    struct entries log = taken(pair.ana);
    pair.ben = open_as(1, 2, &log, claim, 3000);
    free(log.entry);
    return pair;
}

static void close_pair(struct pair *pair)
{
    desk_free(pair->ana);
    desk_free(pair->ben);
}

static void hear_sign(struct desk *desk, const struct desk_sign *of_ana, int64_t at)
{
    const struct desk_sign signs[2] = {*of_ana, lives};
    assert_int_equal(desk_hear_signs(desk, signs, 2, START + at), 0);
}

static void silent(const struct desk *desk, int64_t at)
{
    bool urgent = true;
    assert_string_equal(desk_notice(desk, START + at, &urgent), "");
    assert_false(urgent);
}

static void offices__open__beside_another_desk(void **state)
{
    (void)state;
    struct pair pair = open_pair(0);
    assert_int_equal(desk_relief(pair.ana), RELIEF_NONE); /* the first one */
    assert_int_equal(desk_mode(pair.ana), DESK_LIVE);
    assert_int_equal(desk_relief(pair.ben), RELIEF_WATCH);
    assert_int_equal(desk_mode(pair.ben), DESK_RELIEF);
    press(pair.ben, KEY_OF_ESC, 4000);
    assert_int_equal(desk_mode(pair.ben), DESK_LIVE);
    press(pair.ben, F5,
          5000); /* the keys of the offices are offered, and another one closes that */
    assert_int_equal(desk_mode(pair.ben), DESK_OFFICES);
    press(pair.ben, KEY_OF_F1, 5300);
    assert_int_equal(desk_mode(pair.ben), DESK_LIVE);
    assert_true(desk_help(pair.ben));
    press(pair.ben, F5, 9000);
    desk_tick(pair.ben, START + 13999);
    assert_int_equal(desk_mode(pair.ben), DESK_OFFICES);
    desk_tick(pair.ben, START + 14000);
    assert_int_equal(desk_mode(pair.ben), DESK_LIVE);
    press(pair.ben, F5, 20000);
    press(pair.ben, KEY_OF_ESC, 20300);
    assert_int_equal(desk_mode(pair.ben), DESK_LIVE);
    assert_true(desk_is_official(pair.ana, CODE_RED));
    assert_false(desk_is_official(pair.ben, CODE_RED));
    close_pair(&pair);
    pair = open_pair(1); /* opened to take over red while ana tags */
    assert_int_equal(desk_relief(pair.ben), RELIEF_WATCH);
    assert_true(desk_is_official(pair.ben, CODE_RED));
    assert_false(desk_is_official(pair.ben, CODE_BLUE));
    close_pair(&pair);
    for (int begun = 0; begun < 2; begun++) { /* or everything: said once the bout is on */
        struct desk *ana = open_as(0, 2, NULL, 7, 0);
        if (begun) {
            press(ana, ENTER, 1000);
        }
        struct entries log = taken(ana);
        struct desk *ben = open_as(1, 2, &log, 7, 3000);
        free(log.entry);
        assert_int_equal(desk_relief(ben), begun ? RELIEF_TAKEN : RELIEF_NONE);
        desk_free(ana);
        desk_free(ben);
    }
    char was[sizeof rows[1].operator_];
    memcpy(was, rows[1].operator_, sizeof was);
    memcpy(rows[1].operator_, rows[0].operator_, sizeof was);
    pair = open_pair(0);
    assert_int_equal(desk_relief(pair.ben), RELIEF_TWICE);
    close_pair(&pair);
    memcpy(rows[1].operator_, was, sizeof was);
}

/* Whoever comes back is told what is so: the clock is ana's, and a mark on what does not count does
 * not count either. A view that a strike shows to be free is no longer said to be blocked. */
static void notices__what_is_over_or_not_ones_own__is_not_said(void **state)
{
    (void)state;
    struct pair pair = {.ana = open_as(0, 2, NULL, 7, 0)};
    press(pair.ana, ENTER, 1000);
    press(pair.ana, 'w', 2000);
    struct entries log = taken(pair.ana);
    pair.ben = open_as(1, 2, &log, 0, 4000);
    press(pair.ben, KEY_OF_ESC, 4500);
    press(pair.ben, 'w', 5000);
    press(pair.ben, '1', 6000);
    says(pair.ben, 6000, "NOT COUNTED: red: left hand head, spinning");
    struct entries both = taken(pair.ben);
    struct entry all[32];
    assert_in_range(log.count + both.count, 2, 32);
    memcpy(all, log.entry, log.count * sizeof *all);
    memcpy(all + log.count, both.entry, both.count * sizeof *all);
    desk_free(pair.ben);
    pair.ben = open_as(1, 2, &(struct entries){all, log.count + both.count}, 0, 7000);
    says(pair.ben, 7000, "kept running in round 1; it is not with this desk");
    free(log.entry);
    free(both.entry);
    press(pair.ana, '-', 8000);
    says(pair.ana, 8000, "view blocked");
    press(pair.ana, 'w', 9000);
    says(pair.ana, 9000, "red: the view is free again");
    press(pair.ana, 'e', 14000);
    silent(pair.ana, 14000);
    close_pair(&pair);
}

static void offices__take__one_by_its_key(void **state)
{
    (void)state;
    static const struct {
        int32_t key;
        enum entry_code code;
        const char *words;
    } cases[] = {
        {'[', CODE_RED, "red"}, {']', CODE_BLUE, "blue"}, {ENTER, CODE_CLOCK, "the clock"}};
    for (int i = 0; i < 3; i++) {
        struct pair pair = open_pair(0);
        char words[96];
        press(pair.ben, KEY_OF_ESC, 4000);
        press(pair.ben, F5, 5000);
        press(pair.ben, cases[i].key, 5500);
        assert_int_equal(desk_mode(pair.ben), DESK_LIVE);
        snprintf(words, sizeof words, "this desk is official now: %s", cases[i].words);
        says(pair.ben, 5500, words);
        assert_int_equal(desk_alarms(pair.ben), 0); /* its own doing */
        assert_int_equal(desk_alarms(pair.ana), 0);
        hear(pair.ana, pair.ben, 6000);
        desk_tick(pair.ana, START + 6000);
        snprintf(words, sizeof words,
                 "ben TOOK OVER %s: your keys for it count no more. F5 takes it back",
                 cases[i].words);
        says(pair.ana, 6000, words);
        assert_int_equal(desk_alarms(pair.ana), ALARM_OFFICE);
        assert_int_equal(desk_alarms(pair.ana), 0); /* told once */
        for (int j = 0; j < 3; j++) {
            assert_int_equal(desk_is_official(pair.ben, cases[j].code), i == j);
            assert_int_equal(desk_is_official(pair.ana, cases[j].code), i != j);
        }
        desk_tick(pair.ben, START + 7000);
        says(pair.ben, 7000, "this desk is official now"); /* still that, and nothing else */
        close_pair(&pair);
    }
}

static void offices__take__all_by_a_second_press(void **state)
{
    (void)state;
    struct pair pair = open_pair(0);
    press_twice(pair.ben, F5, 4000);
    says(pair.ben, 5500, "this desk is official now: red, blue and the clock");
    hear(pair.ana, pair.ben, 6000);
    desk_tick(pair.ana, START + 6000);
    says(pair.ana, 6000, "ben TOOK OVER red, blue and the clock");
    desk_alarms(pair.ana);
    /* Each strike there says that it does not count, and rings. */
    press(pair.ana, 'w', 7000);
    says(pair.ana, 7000, "NOT COUNTED: ben is official for red. F5 [ takes it over");
    assert_int_equal(desk_alarms(pair.ana), ALARM_UNCOUNTED);
    press(pair.ana, 'i', 8000);
    says(pair.ana, 8000, "NOT COUNTED: ben is official for blue. F5 ] takes it over");
    press(pair.ben, 'i', 8500);
    assert_int_equal(desk_alarms(pair.ben), 0);
    assert_int_equal(fold_tally(desk_fold(pair.ben))->all.corner[CORNER_BLUE].all.attempted, 1);
    /* And back: both corners in one sentence. */
    hear(pair.ben, pair.ana, 8900);
    press(pair.ana, F5, 9000);
    press(pair.ana, '[', 9300);
    press(pair.ana, F5, 9600);
    press(pair.ana, ']', 9900);
    hear(pair.ben, pair.ana, 10000);
    desk_tick(pair.ben, START + 10000);
    says(pair.ben, 10000, "ana TOOK OVER red and blue: your keys");
    close_pair(&pair);
}

/* Whoever only watches is told too, in other words and without a bell. */
static void offices__change__is_told_to_who_watches(void **state)
{
    (void)state;
    struct pair pair = open_pair(0);
    struct entries log = {NULL, 0};
    const struct entry *all = NULL;
    log.count = fold_entries(desk_fold(pair.ana), &all);
    log.entry = (struct entry *)all;
    struct desk *watch = open_as(-1, 2, &log, 0, 3000);
    press_twice(pair.ben, F5, 4000);
    hear(watch, pair.ben, 6000);
    desk_tick(watch, START + 6000);
    says(watch, 6000, "ben is official for red, blue and the clock now");
    assert_int_equal(desk_alarms(watch), 0);
    desk_free(watch);
    close_pair(&pair);
}

static void offices__standing__is_said_while_nobody_is_there(void **state)
{
    (void)state;
    static const struct {
        const struct desk_sign *sign;
        enum sign_state state;
        const char *words;
    } cases[] = {{&lost, SIGN_LOST, "ana is LOST: nobody tags red, blue and the clock. "},
                 {&hangs, SIGN_SILENT, "ana is SILENT: nobody tags red, blue and the clock. "},
                 {&gone, SIGN_LEFT, "ana LEFT: nobody tags red, blue and the clock. "}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct pair pair = open_pair(0);
        struct desk_office office;
        bool urgent = false;
        char words[240];
        press(pair.ben, KEY_OF_ESC, 4000);
        hear_sign(pair.ben, &lives, 30000);
        silent(pair.ben, 30000);
        hear_sign(pair.ben, cases[i].sign, 40000);
        snprintf(words, sizeof words, "%sTake it over: F5, then [ red, ] blue, Enter clock, F5 all",
                 cases[i].words);
        assert_string_equal(desk_notice(pair.ben, START + 40000, &urgent), words);
        assert_true(urgent);
        assert_int_equal(desk_alarms(pair.ben), ALARM_OFFICE);
        hear_sign(pair.ben, cases[i].sign, 54999); /* again, but not all the time */
        assert_int_equal(desk_alarms(pair.ben), 0);
        hear_sign(pair.ben, cases[i].sign, 55000);
        assert_int_equal(desk_alarms(pair.ben), ALARM_OFFICE);
        desk_office(pair.ben, CODE_BLUE, START + 56000, &office);
        assert_string_equal(office.holder, "ana");
        assert_false(office.own);
        assert_int_equal(office.state, cases[i].state);
        assert_int_equal(office.seen_age_ms, cases[i].sign->age_ms + 1000);
        assert_int_equal(office.wrote_age_ms, 54000); /* the strike */
        hear_sign(pair.ben, &lives, 60000);
        says(pair.ben, 60000, "ana is back");
        hear_sign(pair.ben, cases[i].sign, 80000); /* new again, so at once */
        assert_int_equal(desk_alarms(pair.ben), ALARM_OFFICE);
        press_twice(pair.ben, F5, 81000);
        says(pair.ben, 82500, "official now: red, blue and the clock");
        silent(pair.ben, 120000);
        hear_sign(pair.ben, &lives, 120000);
        silent(pair.ben, 120000); /* whose office it was no more */
        desk_office(pair.ben, CODE_CLOCK, START + 120000, &office);
        assert_true(office.own);
        assert_int_equal(office.state, SIGN_UNKNOWN); /* it reads no sign of its own */
        close_pair(&pair);
    }
}

/* The desk itself lives; part of the offices are with one that does not. */
static void offices__standing__names_only_what_is_untended(void **state)
{
    (void)state;
    struct pair pair = open_pair(0);
    press(pair.ben, KEY_OF_ESC, 4000);
    press(pair.ben, F5, 5000);
    press(pair.ben, ']', 5300);
    hear_sign(pair.ben, &lost, 30000);
    says(pair.ben, 30000,
         "ana is LOST: nobody tags red and the clock. Take it over: F5, then [ red, Enter clock, "
         "F5 all");
    /* Over is over: nobody needs to be there. */
    press(pair.ben, F5, 31000);
    press(pair.ben, ENTER, 31300);
    press(pair.ben, F4, 40000);
    type(pair.ben, "1]", 40300);
    press(pair.ben, ENTER, 41000);
    silent(pair.ben, 60000);
    hear_sign(pair.ben, &lost, 61000);
    assert_int_equal(desk_alarms(pair.ben) & ALARM_OFFICE, ALARM_OFFICE); /* what was before */
    hear_sign(pair.ben, &lost, 81000);
    assert_int_equal(desk_alarms(pair.ben), 0);
    close_pair(&pair);
}

/* A shadow follows the clock of a bout that is on; half an hour after its last word it is a
 * recording that is tagged, with a clock of its own. */
static void shadow__clock__of_a_bout_that_is_on(void **state)
{
    (void)state;
    struct desk *ana = open_as(0, 2, NULL, 7, 0);
    press(ana, ENTER, 1000);
    struct entries log = taken(ana);
    rows[1].shadow = true;
    for (int late = 0; late < 2; late++) {
        int64_t at = 1000 + 1800000 - 1 + late;
        struct desk *ben = open_as(1, 2, &log, 0, at);
        assert_int_equal(desk_clock(ben, START + at).state, late ? CLOCK_READY : CLOCK_REST);
        desk_free(ben);
    }
    rows[1].shadow = false;
    free(log.entry);
    desk_free(ana);
}

/* Two seconds, a quarter on and a quarter off: no more than three flashes in any second. */
static void alarm__flash__two_seconds_twice_a_second(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    struct saved_state saved = {.failing = true};
    int changes = 0;
    bool was = false;
    assert_false(desk_flash(desk, START + 900));
    desk_hear_saved(desk, &saved, START + 1000);
    for (int64_t at = 1000; at < 1250; at += 50) {
        assert_true(desk_flash(desk, START + at));
    }
    assert_false(desk_flash(desk, START + 1250));
    for (int64_t at = 1000; at < 5000; at++) {
        bool is = desk_flash(desk, START + at);
        if (is != was) {
            changes++;
            assert_true(at == 1000 || desk_next_change(desk, START + at - 1) <= START + at);
        }
        was = is;
    }
    assert_int_equal(changes, 8);
    assert_false(desk_flash(desk, START + 2999));
    assert_false(desk_flash(desk, START + 500)); /* a clock that was set back */
    desk_free(desk);
}

static void alarm__unsaved__rings_while_it_lasts(void **state)
{
    (void)state;
    static const struct {
        int64_t at, oldest_ms;
        bool failing;
        unsigned rings;
    } steps[] = {
        {1000, 0, false, 0},    {2000, 1999, false, 0},   {3000, 2000, false, 8},
        {4000, 3000, false, 0}, {17999, 17000, false, 0}, {18000, 18000, false, 8},
        {19000, 0, false, 0}, /* saved: the next one is new */
        {20000, 100, true, 8},  {34999, 100, true, 0},    {35000, 100, true, 8},
    };
    struct desk *desk = open_desk();
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        struct saved_state saved = {.oldest_ms = steps[i].oldest_ms, .failing = steps[i].failing};
        desk_hear_saved(desk, &saved, START + steps[i].at);
        assert_int_equal(desk_alarms(desk), steps[i].rings);
    }
    desk_free(desk);
}

/* Three strikes within eight seconds on a clock that stands are no chance. */
static void alarm__clock__stands_while_strikes_come(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, 'w', 1000);
    press(desk, 'e', 5001);
    says(desk, 5001, "off the clock: logged in round 1");
    press(desk, 'w', 9001); /* just too far from the first */
    assert_int_equal(desk_alarms(desk), 0);
    press(desk, 'e', 13001);
    assert_int_equal(desk_alarms(desk), ALARM_CLOCK);
    says(desk, 13001, "THE CLOCK STANDS while strikes come: Enter starts round 1");
    press(desk, ENTER, 20000);
    press(desk, 'w', 21000); /* it runs: what was before is forgotten */
    press(desk, ENTER, 30000);
    press(desk, 'w', 30500);
    press(desk, 'e', 31000);
    assert_int_equal(desk_alarms(desk), 0);
    press(desk, 'w', 31500);
    assert_int_equal(desk_alarms(desk), ALARM_CLOCK);
    says(desk, 31500, "while strikes come: Enter starts it");
    press(desk, ENTER, 40000);
    press(desk, 'w', 230000); /* in the rest */
    press(desk, 'e', 231000);
    press(desk, 'w', 232000);
    says(desk, 232000, "while strikes come: Enter starts round 2");
    press(desk, F4, 233000);
    type(desk, "1[", 233300);
    press(desk, ENTER, 235000);
    press(desk, 'w', 236000);
    press(desk, 'e', 237000);
    press(desk, 'w', 238000);
    says(desk, 238000, "THE BOUT IS OVER: strikes are logged off the clock");
    desk_free(desk);
    struct pair pair = open_pair(3); /* ben tags, ana has the clock */
    hear(pair.ana, pair.ben, 3500);
    press(pair.ana, ENTER, 4000);
    hear(pair.ben, pair.ana, 4500);
    press(pair.ben, KEY_OF_ESC, 5000);
    press(pair.ben, 'w', 6000);
    press(pair.ben, 'e', 7000);
    press(pair.ben, 'w', 8000);
    says(pair.ben, 8000, "THE CLOCK STANDS while strikes come: it is with ana");
    close_pair(&pair);
}

/* What no hand types is held back; the turn key logs its strikes and their marks, nothing else. */
static void burst__held__until_it_is_answered(void **state)
{
    (void)state;
    int32_t keys[] = {'w', 'e', ' ', BACK, 'i', ENTER, 'w', KEY_OF_F1 + 9};
    size_t count = sizeof keys / sizeof *keys;
    for (int logs = 0; logs < 2; logs++) {
        struct desk *desk = open_desk();
        bool urgent = false;
        press(desk, ENTER, 0);
        assert_int_equal(desk_hold(desk, keys, count, START + 5000), 0);
        says(desk, 5000, "8 keys came at once, which no hand types: held back. F12 logs them");
        assert_int_equal(desk_hold(desk, keys, 1, START + 5100), 0);
        says(desk, 60000, "9 keys came at once"); /* as long as it takes */
        desk_notice(desk, START + 60000, &urgent);
        assert_true(urgent);
        assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 0);
        press(desk, 'z', 9000); /* a strike meanwhile answers nothing */
        assert_int_equal(entries_of(desk, ENTRY_STRIKE, ACT_ADD), 1);
        press(desk, logs ? F12 : KEY_OF_ESC, 10000);
        says(desk, 10000, logs ? "9 keys that came at once were logged" : "were dropped");
        const struct corner_tally *red = &fold_tally(desk_fold(desk))->all.corner[CORNER_RED];
        const struct corner_tally *blue = &fold_tally(desk_fold(desk))->all.corner[CORNER_BLUE];
        assert_int_equal(red->all.attempted, logs ? 5 : 1);
        assert_int_equal(red->all.landed, logs ? 1 : 0);
        assert_int_equal(blue->all.attempted, logs ? 1 : 0);
        expect(desk, 11000, CLOCK_RUNNING, 1, 169000);
        if (logs) { /* at their moment */
            assert_int_equal(strike(desk, 1)->at_ms, START + 5100);
        }
        press(desk, F12, 12000); /* answered is answered */
        assert_int_equal(red->all.attempted, logs ? 5 : 1);
        desk_free(desk);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(offices__open__beside_another_desk),
        cmocka_unit_test(notices__what_is_over_or_not_ones_own__is_not_said),
        cmocka_unit_test(offices__take__one_by_its_key),
        cmocka_unit_test(offices__take__all_by_a_second_press),
        cmocka_unit_test(offices__change__is_told_to_who_watches),
        cmocka_unit_test(offices__standing__is_said_while_nobody_is_there),
        cmocka_unit_test(offices__standing__names_only_what_is_untended),
        cmocka_unit_test(shadow__clock__of_a_bout_that_is_on),
        cmocka_unit_test(alarm__flash__two_seconds_twice_a_second),
        cmocka_unit_test(alarm__unsaved__rings_while_it_lasts),
        cmocka_unit_test(alarm__clock__stands_while_strikes_come),
        cmocka_unit_test(burst__held__until_it_is_answered),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
