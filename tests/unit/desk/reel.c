/* reel.c: a desk beside a player: on a recording its moments are media time. */
#include "clocked.h"

#include "ringtally/desk/reel.h"

#define ZERO    (START - 7200000) /* of the first frame */
#define SECONDS *1000
#define INSERT  KEY_OF_INSERT
#define F5      (KEY_OF_F1 + 4)

static int64_t wall;  /* of the keys: it has nothing to do with the recording */
static bool counting; /* there is no live count: the recording's desk is the count */

static struct desk *open_setup(const struct entries *log, bool recording, int64_t at)
{
    bool apart = recording && !counting;
    struct desk_setup setup = {
        .desks = rows, .desk_count = 1, .recording = recording, .claim = apart ? 0 : 7};
    struct error err = {0};
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    rows[0].shadow = apart;
    if (log) {
        setup.entries = log->entry;
        setup.entry_count = log->count;
    }
    assert_int_equal(rules_parse(&setup.rules, rules->data, rules->size, "rules", &err), 0);
    assert_int_equal(keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err), 0);
    setup.rules.rounds = 3;
    setup.rules.round_ms = 180 SECONDS;
    setup.rules.rest_ms = 60 SECONDS;
    setup.bout.fighter[CORNER_RED].stance = STANCE_ORTHODOX;
    struct desk *desk = desk_new(&setup, START + at);
    assert_non_null(desk);
    return desk;
}

static void open_recording(struct desk *desk, const char *name, int64_t zero_ms)
{
    struct recording recording = {.rate_mhz = 25000};
    snprintf(recording.name, sizeof recording.name, "%s", name);
    desk_reel_open(desk, &recording, zero_ms, START + wall);
}

static struct desk *open_reel(void)
{
    struct desk *desk = open_setup(NULL, true, 0);
    struct reel_seen seen = {.ready = true, .paused = true, .speed = 1, .picture = true};
    wall = 0;
    desk_reel_see(desk, &seen, START);
    open_recording(desk, "bout.mkv", ZERO);
    return desk;
}

/* A key at that place of the recording, a second of the wall behind the one before. */
static void at(struct desk *desk, int64_t media_ms, int32_t key)
{
    wall += 1000;
    desk_reel_at(desk, media_ms, true);
    desk_key(desk, key, START + wall, 0);
}

static void expect_strike(const struct desk *desk, size_t n, int64_t media_ms, int round,
                          int32_t elapsed, bool off)
{
    check_strike(desk, n, round, elapsed, off);
    assert_int_equal(strike(desk, n)->at_ms, ZERO + media_ms);
}

static void reel__key__gets_the_moment_of_its_frame(void **state)
{
    struct desk *desk = open_reel();
    (void)state;
    at(desk, 10 SECONDS, ENTER);
    says(desk, wall, "round 1 begins here");
    at(desk, 10480, 'w');
    expect_strike(desk, 0, 10480, 1, 480, false);
    at(desk, 12040, 'I');
    expect_strike(desk, 1, 12040, 1, 2040, false);
    /* Back, and another strike before both. */
    at(desk, 10040, 's');
    expect_strike(desk, 2, 10040, 1, 40, false);
    /* Before the first bell, in the rest, and in the second round. */
    at(desk, 9 SECONDS, 'd');
    expect_strike(desk, 3, 9 SECONDS, 1, 0, true);
    at(desk, 200 SECONDS, 'd');
    expect_strike(desk, 4, 200 SECONDS, 1, 180 SECONDS, true);
    at(desk, 251 SECONDS, ENTER);
    says(desk, wall, "round 2 begins here");
    at(desk, 261 SECONDS, 'd');
    expect_strike(desk, 5, 261 SECONDS, 2, 10 SECONDS, false);
    desk_free(desk);
}

/* A bell that moves takes every clock along; taken back, all is as before. */
static void reel__bell__moved_later_every_clock_follows(void **state)
{
    struct desk *desk = open_reel();
    (void)state;
    at(desk, 10 SECONDS, ENTER);
    at(desk, 20 SECONDS, 'w');
    at(desk, 189 SECONDS, 'e');
    at(desk, 250 SECONDS, ENTER);
    at(desk, 260 SECONDS, 'r');
    at(desk, 11240, ENTER); /* that near, it is the same bell */
    says(desk, wall, "round 1 begins 1.24 s later");
    expect_strike(desk, 0, 20 SECONDS, 1, 8760, false);
    expect_strike(desk, 1, 189 SECONDS, 1, 177760, false);
    expect_strike(desk, 2, 260 SECONDS, 2, 10 SECONDS, false);
    at(desk, 11240, ENTER);
    says(desk, wall, "stands here already");
    at(desk, 30 SECONDS, BACK);
    expect_strike(desk, 0, 20 SECONDS, 1, 10 SECONDS, false);
    /* The arrows: a second more has passed, so it began a second earlier. */
    at(desk, 30 SECONDS, KEY_OF_RIGHT);
    expect_strike(desk, 0, 20 SECONDS, 1, 11 SECONDS, false);
    expect_strike(desk, 1, 189 SECONDS, 1, 180 SECONDS, true);
    at(desk, 30 SECONDS, KEY_OF_LEFT);
    expect_strike(desk, 1, 189 SECONDS, 1, 179 SECONDS, false);
    desk_free(desk);
}

/* A bell that was forgotten and is put in afterwards renumbers the rounds behind it. */
static void reel__bell__forgotten_is_put_in_between(void **state)
{
    struct desk *desk = open_reel();
    (void)state;
    at(desk, 0, ENTER);
    at(desk, 480 SECONDS, ENTER); /* this is round 3; the second's bell was missed */
    at(desk, 490 SECONDS, 'w');
    expect_strike(desk, 0, 490 SECONDS, 2, 10 SECONDS, false);
    at(desk, 240 SECONDS, ENTER);
    says(desk, wall, "round 2 begins here");
    expect_strike(desk, 0, 490 SECONDS, 3, 10 SECONDS, false);
    /* A stop and a start within a round. */
    at(desk, 100 SECONDS, ENTER);
    says(desk, wall, "the clock stands here");
    at(desk, 130 SECONDS, ENTER);
    says(desk, wall, "round 1 goes on");
    at(desk, 140 SECONDS, 'w');
    expect_strike(desk, 1, 140 SECONDS, 1, 110 SECONDS, false);
    at(desk, 120 SECONDS, 'w');
    expect_strike(desk, 2, 120 SECONDS, 1, 100 SECONDS, true);
    desk_free(desk);
}

/* The bell that ends a round is rung a little later than the round is long: it begins no other. */
static void reel__bell__of_the_end_comes_late(void **state)
{
    struct desk *desk = open_reel();
    (void)state;
    at(desk, 10 SECONDS, ENTER);
    at(desk, 190700, ENTER);
    says(desk, wall, "the bell: round 1 is over here");
    at(desk, 195 SECONDS, 'w');
    expect_strike(desk, 0, 195 SECONDS, 1, 180 SECONDS, true);
    at(desk, 251 SECONDS, ENTER);
    says(desk, wall, "round 2 begins here");
    at(desk, 252 SECONDS, 'w');
    expect_strike(desk, 1, 252 SECONDS, 2, 1000, false);
    desk_free(desk);
}

/* Whatever the order in which a recording was gone through and however often bells were moved:
 * what is there is as if it had been tagged once, from the first frame to the last. */
static void reel__view__does_not_depend_on_the_way(void **state)
{
    enum { STRIKES = 40, BOUTS = 30 };
    static const char pad[] = "qwertasdfgyuiophjkl";
    unsigned seed = 11;
    (void)state;
    for (int bout = 0; bout < BOUTS; bout++) {
        int64_t bell[3], moment[STRIKES];
        struct desk *wild = open_reel();
        for (int i = 0; i < 3; i++) {
            seed = seed * 1103515245u + 12345u;
            bell[i] = i * 245 SECONDS + (int64_t)(seed >> 16) % 3000;
            at(wild, bell[i], ENTER);
        }
        for (int i = 0; i < STRIKES; i++) {
            seed = seed * 1103515245u + 12345u;
            moment[i] = (int64_t)(seed >> 8) % 700000 / 40 * 40;
            at(wild, moment[i], pad[i % (int)(sizeof pad - 1)]);
            at(wild, moment[i], INSERT); /* where it was a double it is kept */
            if (i % 7 == 3) {            /* a bell moves by up to a second */
                int which = (int)(seed >> 20) % 3;
                bell[which] += (int64_t)(seed >> 12) % 2000 - 1000;
                bell[which] = bell[which] < 0 ? 0 : bell[which];
                at(wild, bell[which], ENTER);
            }
        }
        struct desk *once = open_reel();
        for (int i = 0; i < 3; i++) {
            at(once, bell[i], ENTER);
        }
        for (int i = 0; i < STRIKES; i++) {
            at(once, moment[i], pad[i % (int)(sizeof pad - 1)]);
            at(once, moment[i], INSERT);
            const struct entry *one = strike(wild, (size_t)i), *other = strike(once, (size_t)i);
            assert_int_equal(one->at_ms, other->at_ms);
            assert_int_equal(one->round, other->round);
            assert_int_equal(one->elapsed_ms, other->elapsed_ms);
            assert_int_equal(one->off_clock, other->off_clock);
        }
        for (int round = 1; round <= 3; round++) {
            assert_int_equal(
                fold_tally(desk_fold(wild))->round[round].corner[CORNER_RED].all.attempted,
                fold_tally(desk_fold(once))->round[round].corner[CORNER_RED].all.attempted);
        }
        desk_free(once);
        desk_free(wild);
    }
}

static void reel__strike__a_double_is_pointed_out(void **state)
{
    struct desk *desk = open_reel();
    (void)state;
    at(desk, 0, ENTER);
    at(desk, 10 SECONDS, 'w');
    at(desk, 10250, 'W');
    says(desk, wall, "red left hand head is there already, 0.25 s before: Insert keeps");
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 1);
    at(desk, 10251, 'w'); /* far enough */
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 2);
    at(desk, 9900, 's'); /* another target */
    at(desk, 9900, 'i'); /* another corner */
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 4);
    at(desk, 9760, 'W');
    says(desk, wall, "0.24 s later");
    at(desk, 12 SECONDS, INSERT); /* its own moment, and how it was */
    says(desk, wall, "kept");
    expect_strike(desk, 4, 9760, 1, 9760, false);
    assert_int_equal(strike(desk, 4)->strike.outcome, OUTCOME_LANDED);
    at(desk, 12 SECONDS, INSERT);
    says(desk, wall, "no double");
    /* What was taken back is no double. */
    at(desk, 30 SECONDS, 'q');
    at(desk, 30 SECONDS, BACK);
    at(desk, 30 SECONDS, 'q');
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 8);
    desk_free(desk);
}

static void reel__state__is_that_of_the_moment(void **state)
{
    struct desk *desk = open_reel();
    (void)state;
    at(desk, 0, ENTER);
    at(desk, 60 SECONDS, '5'); /* red switches stance */
    at(desk, 60 SECONDS, '`'); /* clinch */
    at(desk, 70 SECONDS, 'w');
    at(desk, 30 SECONDS, 'w');
    assert_int_equal(strike(desk, 0)->strike.stance, STANCE_SOUTHPAW);
    assert_int_equal(strike(desk, 0)->strike.position, POSITION_CLINCH);
    assert_int_equal(strike(desk, 1)->strike.stance, STANCE_ORTHODOX);
    assert_int_equal(strike(desk, 1)->strike.position, POSITION_OPEN);
    desk_free(desk);
}

static void reel__open__nothing_is_logged_before(void **state)
{
    struct desk *desk = open_setup(NULL, true, 0);
    struct reel_seen lost = {.lost = true, .trouble = "the player has ended"};
    (void)state;
    wall = 0;
    at(desk, 0, 'w');
    says(desk, wall, "the recording is not open yet: the key was not logged");
    at(desk, 0, ENTER);
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1) + entries_of(desk, ENTRY_CLOCK, -1), 0);
    assert_true(desk_alarms(desk) & ALARM_UNCOUNTED);
    desk_reel_see(desk, &lost, START + wall);
    says(desk, wall, "the player has ended: nothing tagged is lost. F5 starts it again");
    desk_free(desk);
}

static void reel__at__a_guess_is_flagged(void **state)
{
    struct desk *desk = open_reel();
    (void)state;
    at(desk, 0, ENTER);
    desk_reel_at(desk, 5000, false);
    desk_key(desk, 'w', START + (wall += 1000), 0);
    assert_true(strike(desk, 0)->review);
    assert_int_equal(strike(desk, 0)->elapsed_ms, 5000);
    at(desk, 6000, 'e');
    assert_false(strike(desk, 1)->review);
    desk_free(desk);
}

/* Opened again: the same recording goes on from the same first frame, whatever the file's time says
 * now; its note is not to be taken back. */
static void reel__open__again_goes_on(void **state)
{
    struct desk *desk = open_reel();
    (void)state;
    at(desk, 1000, ENTER);
    at(desk, 2000, 'w');
    struct entries log = taken(desk);
    desk_free(desk);
    desk = open_setup(&log, true, 3600 SECONDS);
    wall = 3600 SECONDS;
    open_recording(desk, "bout.mkv", ZERO + 5555);
    at(desk, 3000, 'e');
    expect_strike(desk, 0, 2000, 1, 1000, false);
    expect_strike(desk, 1, 3000, 1, 2000, false);
    assert_int_equal(entries_of(desk, ENTRY_NOTE, -1), 1);
    for (int i = 0; i < 5; i++) {
        at(desk, 3000, BACK);
    }
    says(desk, wall, "nothing to take back");
    const struct entry *entries = NULL;
    size_t count = fold_entries(desk_fold(desk), &entries);
    for (size_t i = 0; i < count; i++) {
        assert_false(entries[i].kind == ENTRY_NOTE && entries[i].act == ACT_VOID);
    }
    desk_free(desk);
    free(log.entry);
}

static void expect_wish(struct desk *desk, enum reel_wish_kind kind, int64_t ms)
{
    struct reel_wish wish = {0};
    assert_true(desk_reel_wish(desk, &wish));
    assert_int_equal(wish.kind, kind);
    assert_int_equal(wish.ms, ms);
}

static void reel__transport__says_what_it_wishes(void **state)
{
    struct desk *desk = open_reel();
    struct reel_seen seen = {.ready = true, .paused = true, .speed = 1};
    struct reel_wish wish = {0};
    (void)state;
    at(desk, 9000, F5);
    expect_wish(desk, WISH_PLAY, 0);
    seen.paused = false;
    desk_reel_see(desk, &seen, START + wall);
    at(desk, 9000, F5);
    expect_wish(desk, WISH_PAUSE, 0);
    at(desk, 9000, KEY_OF_HOME);
    expect_wish(desk, WISH_SEEK_BY, -2000);
    at(desk, 9000, KEY_OF_END);
    expect_wish(desk, WISH_SEEK_BY, 2000);
    at(desk, 9000, KEY_OF_PAGE_UP);
    expect_wish(desk, WISH_FRAME_BACK, 0);
    /* Held, each repeat is a frame. */
    for (int i = 0; i < 5; i++) {
        wall += 33;
        desk_key(desk, KEY_OF_PAGE_DOWN, START + wall, 0);
        expect_wish(desk, WISH_FRAME_ON, 0);
    }
    at(desk, 9000, KEY_OF_F1 + 6);
    assert_true(desk_reel_wish(desk, &wish));
    assert_int_equal(wish.kind, WISH_SPEED);
    assert_true(wish.speed == 0.75);
    at(desk, 9000, KEY_OF_SHIFT_LEFT);
    expect_wish(desk, WISH_REPEAT, 6000);
    expect_wish(desk, WISH_PLAY, 0);
    seen.repeating = true;
    desk_reel_see(desk, &seen, START + wall);
    at(desk, 9000, KEY_OF_SHIFT_LEFT);
    expect_wish(desk, WISH_REPEAT_END, 0);
    seen.repeating = false;
    desk_reel_see(desk, &seen, START + wall);
    at(desk, 9000, KEY_OF_SHIFT_RIGHT);
    says(desk, wall, "nothing is tagged from this recording yet");
    at(desk, 1000, ENTER);
    at(desk, 7040, 'w');
    at(desk, 9000, KEY_OF_SHIFT_RIGHT);
    expect_wish(desk, WISH_SEEK, 7040);
    /* In the log to the entry under the cursor, while Home and End walk there. */
    at(desk, 3000, 'e');
    at(desk, 9000, KEY_OF_UP);
    at(desk, 9000, KEY_OF_HOME);
    assert_false(desk_reel_wish(desk, &wish));
    assert_int_equal(desk_mode(desk), DESK_LOG);
    at(desk, 9000, KEY_OF_SHIFT_RIGHT);
    expect_wish(desk, WISH_SEEK, 7040);
    at(desk, 9000, KEY_OF_ESC);
    /* Lost: one key starts it again, the others say so. */
    seen = (struct reel_seen){.lost = true, .trouble = "the player has ended"};
    desk_reel_see(desk, &seen, START + wall);
    at(desk, 9000, KEY_OF_END);
    says(desk, wall, "F5 starts it again");
    assert_false(desk_reel_wish(desk, &wish));
    at(desk, 9000, F5);
    expect_wish(desk, WISH_START, 0);
    desk_free(desk);
}

/* A recorder beside a live desk: to the newest flagged entry, and back to where it would be by
 * then.
 */
static void reel__look__to_the_flagged_entry_and_back(void **state)
{
    struct desk *desk = open_setup(NULL, false, 0);
    struct reel_seen seen = {.ready = true, .speed = 1};
    struct reel_wish wish = {0};
    (void)state;
    press(desk, KEY_OF_HOME, 500);
    says(desk, 500, "no recorder is attached");
    desk_reel_see(desk, &seen, START);
    desk_reel_at(desk, 100 SECONDS, true);
    press(desk, ENTER, 1000);
    press(desk, 'W', 5000);
    press(desk, '\'', 5500);
    press(desk, 'e', 9000);
    desk_reel_at(desk, 120 SECONDS, true);
    press(desk, KEY_OF_HOME, 20000); /* the strike was 15 s ago: at 105 s; a second before it */
    expect_wish(desk, WISH_SEEK, 104 SECONDS);
    assert_int_equal(strike(desk, 1)->at_ms, START + 9000); /* the desk's time is the wall's */
    press(desk, 'r', 24000);
    desk_reel_at(desk, 108 SECONDS, true);
    press(desk, KEY_OF_HOME, 28000);
    expect_wish(desk, WISH_SEEK, 128 SECONDS);
    expect_wish(desk, WISH_PLAY, 0);
    assert_false(desk_reel_wish(desk, &wish));
    desk_free(desk);
}

/* What nobody saw live is the first that is gone to, then what the live count has otherwise. */
static void reel__difference__what_was_not_seen_comes_first(void **state)
{
    struct desk *live = open_setup(NULL, false, 0);
    struct reel_wish wish = {0};
    (void)state;
    press(live, ENTER, 1000);
    press(live, 'w', 5000);
    press(live, '-', 11000); /* both corners */
    press(live, 'e', 21000);
    press(live, 'i', 31000);
    press(live, '-', 41000);
    press(live, '-', 41800); /* red alone */
    struct entries log = taken(live);
    desk_free(live);
    rows[1].shadow = true;
    struct desk_setup setup = {.desks = rows,
                               .desk_count = 2,
                               .self = 1,
                               .recording = true,
                               .entries = log.entry,
                               .entry_count = log.count};
    struct error err = {0};
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    assert_int_equal(rules_parse(&setup.rules, rules->data, rules->size, "rules", &err), 0);
    assert_int_equal(keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err), 0);
    struct desk *desk = desk_new(&setup, START + 100000);
    assert_non_null(desk);
    wall = 100000;
    open_recording(desk, "bout.mkv", ZERO);
    at(desk, 0, F4);
    assert_false(desk_reel_wish(desk, &wish)); /* without a bell there is no place for it */
    at(desk, 50000, ENTER);
    at(desk, 53700, 'w');
    at(desk, 69700, 'r'); /* e, live */
    at(desk, 79700, 'i');
    at(desk, 53700, F4);
    expect_wish(desk, WISH_SEEK, 59000);
    says(desk, wall, "not seen live from 1:00 on: both corners");
    at(desk, 53700, F4);
    expect_wish(desk, WISH_SEEK, 89000);
    at(desk, 53700, F4);
    says(desk, wall, "live red right hand head; here red right leg head");
    assert_true(desk_reel_wish(desk, &wish));
    assert_int_equal(wish.kind, WISH_SEEK);
    desk_free(desk);
    free(log.entry);
}

/* Where nobody counted live the desk on the recording does, in every view; what readers of the log
 * itself find is put right when it is left, and takes no step of the operator's. */
static void reel__count__is_what_was_tagged_from_the_recording(void **state)
{
    struct desk *desk = open_reel();
    const struct entry *entries = NULL;
    (void)state;
    at(desk, 10 SECONDS, ENTER);
    at(desk, 20 SECONDS, 'w');
    at(desk, 30 SECONDS, 'I');
    at(desk, 250 SECONDS, ENTER);
    at(desk, 260 SECONDS, 'r');
    at(desk, 12 SECONDS, KEY_OF_LEFT); /* round 1 began a second later */
    assert_int_equal(fold_whose(desk_fold(desk)), FOLD_OFFICIAL);
    assert_true(desk_is_official(desk, CODE_RED) && desk_is_official(desk, CODE_CLOCK));
    const struct tally *tally = fold_tally(desk_fold(desk));
    assert_int_equal(tally->round[1].corner[CORNER_RED].all.attempted, 1);
    assert_int_equal(tally->round[1].corner[CORNER_BLUE].all.landed, 1);
    assert_int_equal(tally->round[2].corner[CORNER_RED].all.attempted, 1);
    expect_strike(desk, 0, 20 SECONDS, 1, 9 SECONDS, false);
    desk_take(desk, &entries);
    desk_finish(desk, START + wall);
    size_t count = desk_take(desk, &entries);
    assert_int_equal(count, 2); /* both of round 1 */
    for (size_t i = 0; i < count; i++) {
        assert_int_equal(entries[i].kind, ENTRY_STRIKE);
        assert_int_equal(entries[i].act, ACT_REFINE);
        assert_int_equal(entries[i].elapsed_ms, i == 0 ? 9000 : 19000);
    }
    desk_finish(desk, START + wall);
    assert_int_equal(desk_take(desk, &entries), 0);
    at(desk, 262 SECONDS, BACK); /* the bell's second */
    expect_strike(desk, 0, 20 SECONDS, 1, 10 SECONDS, false);
    at(desk, 262 SECONDS, BACK);
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[CORNER_RED].all.attempted, 1);
    desk_free(desk);
}

/* It covers the recording as far as it was tagged. */
static void reel__count__covers_what_was_tagged(void **state)
{
    struct desk *desk = open_reel();
    struct coverage seen;
    (void)state;
    at(desk, 10 SECONDS, ENTER);
    at(desk, 40 SECONDS, 'w');
    assert_int_equal(coverage_init(&seen, desk_fold(desk), NULL, START, NULL), 0);
    assert_int_equal(coverage_of(&seen, 1, CORNER_RED)->ran_ms, 180 SECONDS);
    assert_int_equal(coverage_of(&seen, 1, CORNER_BLUE)->covered_ms, 30 SECONDS);
    coverage_release(&seen);
    at(desk, 250 SECONDS, ENTER);
    at(desk, 20 SECONDS, 'w'); /* back again */
    at(desk, 430 SECONDS, ENTER);
    assert_int_equal(coverage_init(&seen, desk_fold(desk), NULL, START, NULL), 0);
    assert_true(coverage_whole(&seen, 0, CORNER_RED));
    assert_int_equal(coverage_of(&seen, 0, CORNER_RED)->ran_ms, 360 SECONDS);
    coverage_release(&seen);
    desk_free(desk);
}

/* Beside a live count and as the count. */
#define EITHER                                                                                     \
    cmocka_unit_test(reel__key__gets_the_moment_of_its_frame),                                     \
        cmocka_unit_test(reel__bell__moved_later_every_clock_follows),                             \
        cmocka_unit_test(reel__bell__forgotten_is_put_in_between),                                 \
        cmocka_unit_test(reel__bell__of_the_end_comes_late),                                       \
        cmocka_unit_test(reel__view__does_not_depend_on_the_way),                                  \
        cmocka_unit_test(reel__strike__a_double_is_pointed_out),                                   \
        cmocka_unit_test(reel__state__is_that_of_the_moment),                                      \
        cmocka_unit_test(reel__open__nothing_is_logged_before),                                    \
        cmocka_unit_test(reel__at__a_guess_is_flagged),                                            \
        cmocka_unit_test(reel__open__again_goes_on)

int main(void)
{
    const struct CMUnitTest tests[] = {
        EITHER,
        cmocka_unit_test(reel__transport__says_what_it_wishes),
        cmocka_unit_test(reel__difference__what_was_not_seen_comes_first),
        cmocka_unit_test(reel__look__to_the_flagged_entry_and_back),
    };
    const struct CMUnitTest counts[] = {
        EITHER,
        cmocka_unit_test(reel__count__is_what_was_tagged_from_the_recording),
        cmocka_unit_test(reel__count__covers_what_was_tagged),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    counting = true;
    return failed + cmocka_run_group_tests(counts, NULL, NULL);
}
