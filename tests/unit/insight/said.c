/* Where facts begin to be said, to the strike, and the sentences that the other tests leave out. */
#include "../tally/blows.h"

#include <stdlib.h>

#include "ringtally/insight/remarks.h"

/* All sentences, one a line. */
static const char *said(const struct fight *fight)
{
    static char all[16384];
    struct remarks remarks;
    struct error err = {0};
    size_t used = 0;
    assert_int_equal(remarks_init(&remarks, fight->fold, NULL, NULL, &remark_rule_default,
                                  fold_newest_ms(fight->fold), &err),
                     0);
    all[0] = '\0';
    for (size_t i = 0; i < remarks.count && used < sizeof all - REMARK_WORDS; i++) {
        char words[REMARK_WORDS];
        remark_words(words, sizeof words, &remarks.item[i], NULL);
        used += (size_t)snprintf(all + used, sizeof all - used, "%s\n", words);
    }
    remarks_release(&remarks);
    return all;
}

static void check(const struct fight *fight, const char *sentence, bool there)
{
    const char *all = said(fight);
    if ((strstr(all, sentence) != NULL) != there) {
        fail_msg("%s: %s\nof:\n%s", there ? "not said" : "said", sentence, all);
    }
}

static void land(struct fight *fight, int32_t from_ms, enum corner corner, int count)
{
    for (int i = 0; i < count; i++) {
        fight_throw(fight, from_ms + i * 100, corner, JAB, LANDED);
    }
}

/* A lead that changes hands is news from twenty landed by both on. */
static void lead_taken__from_twenty_landed_on(void **state)
{
    (void)state;
    for (int more = 0; more < 2; more++) {
        struct fight fight = fight_new();
        fight_round(&fight);
        land(&fight, 1000, CORNER_RED, 9);
        land(&fight, 10000, CORNER_BLUE, more ? 10 : 9); /* even, or ahead at 19 in all */
        land(&fight, 30000, CORNER_RED, 2);
        check(&fight, "took the lead", more);
        if (more) {
            check(&fight, "Red took the lead in landed strikes, 11 to 10, 30 seconds into round 1.",
                  true);
        }
        fight_end(&fight);
    }
}

/* Red leads from the start and is never behind: nobody took a lead. */
static void lead_taken__not_by_who_had_it(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    land(&fight, 1000, CORNER_RED, 15);
    land(&fight, 10000, CORNER_BLUE, 15);
    land(&fight, 30000, CORNER_RED, 1);
    check(&fight, "took the lead", false);
    land(&fight, 40000, CORNER_BLUE, 2);
    check(&fight, "Blue took the lead in landed strikes, 17 to 16, 40 seconds into round 1.", true);
    fight_end(&fight);
}

/* Hundreds thrown and fifties landed, of each corner by itself, the newest of each. */
static void milestones__to_the_strike(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    for (int i = 0; i < 99; i++) {
        fight_throw(&fight, 1000 + i * 1000, CORNER_RED, JAB, i < 49 ? LANDED : MISSED);
        fight_throw(&fight, 1500 + i * 1000, CORNER_BLUE, JAB, MISSED);
    }
    check(&fight, "strike came", false);
    fight_throw(&fight, 100000, CORNER_BLUE, JAB, MISSED);
    check(&fight, "Blue's 100th strike came 1:40 into round 1.", true);
    check(&fight, "Red's 100th", false);
    fight_throw(&fight, 110000, CORNER_RED, JAB, LANDED);
    check(&fight, "Red's 100th strike came 1:50 into round 1.", true);
    check(&fight, "Red's 50th landed strike came 1:50 into round 1.", true);
    check(&fight, "Blue's 50th", false);
    for (int i = 0; i < 50; i++) {
        fight_throw(&fight, 120000 + i * 100, CORNER_RED, JAB, LANDED);
    }
    check(&fight, "Red's 100th landed strike came 2:04 into round 1.", true);
    check(&fight, "Red's 50th", false); /* news once */
    check(&fight, "Red's 100th strike came 1:50", true);
    fight_end(&fight);
}

static void firsts__of_each_kind(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    fight_throw(&fight, 20000, CORNER_RED, LIMB_KNEE, TARGET_BODY, MISSED);
    fight_throw(&fight, 30000, CORNER_BLUE, LIMB_RIGHT_ELBOW, TARGET_HEAD, LANDED);
    fight_throw(&fight, 40000, CORNER_RED, LIMB_KNEE, TARGET_BODY, LANDED);
    fight_throw(&fight, 50000, CORNER_BLUE, LIMB_KNEE, TARGET_BODY, LANDED);
    check(&fight, "Blue landed the first elbow of the bout, 30 seconds into round 1.", true);
    check(&fight, "Red landed the first knee of the bout, 40 seconds into round 1.", true);
    check(&fight, "Blue landed the first knee", false);
    fight_throw(&fight, 60000, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, LANDED);
    check(&fight, "first head kick of the bout, 1:00 into round 1.", true);
    fight_end(&fight);
}

/* How the knockdowns stand is told with each, in words. */
static void knockdowns__how_they_stand(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    fight_throw_as(&fight, 30000, CORNER_RED, JAB, TECHNIQUE_KNOCKDOWN);
    check(&fight, "First knockdown of the bout: Red with a left hand to the head, 30 seconds",
          true);
    fight_throw_as(&fight, 60000, CORNER_RED, LIMB_RIGHT_ELBOW, TARGET_HEAD, TECHNIQUE_KNOCKDOWN);
    check(&fight,
          "Knockdown by Red with a right elbow to the head, 1:00 into round 1: two to no "
          "now.",
          true);
    fight_throw_as(&fight, 90000, CORNER_BLUE, LOW, TECHNIQUE_KNOCKDOWN);
    check(&fight, "Knockdown by Blue with a right low kick, 1:30 into round 1: one to two now.",
          true);
    fight_throw_as(&fight, 120000, CORNER_BLUE, LOW, TECHNIQUE_KNOCKDOWN);
    check(&fight, "2:00 into round 1: two each now.", true);
    fight_end(&fight);
}

/* Where a corner aims is compared with the rounds before, in both directions. */
static void swing__of_a_target(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    for (int round = 1; round <= 2; round++) {
        fight_round(&fight);
        for (int i = 0; i < 60; i++) {
            bool low = round == 1 ? i % 6 == 0 : i % 6 != 0;
            fight_throw(&fight, 1000 + i * 2900, CORNER_RED, LIMB_RIGHT_LEG,
                        low ? TARGET_LEG : TARGET_BODY, i % 2 ? LANDED : MISSED);
        }
        fight_clock(&fight, 180000, CODE_STOP);
    }
    check(&fight, "Red went to the legs more in round 2: 50 of 60 strikes, 10 of 60 before.", true);
    check(&fight, "Red went to the body less in round 2: 10 of 60 strikes, 50 of 60 before.", true);
    check(&fight, "went to the head", false);
    fight_end(&fight);
}

/* A knockdown of which nobody saw the strike is one all the same: the next is not the first. */
static void said__knockdown__after_one_that_no_strike_tells(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    struct entry down = test_entry(0, ++fight.seq, fight.start + 21000, ENTRY_INCIDENT);
    down.code = CODE_KNOCKED_DOWN;
    down.elapsed_ms = 21000;
    down.strike.corner = CORNER_RED;
    fight_add(&fight, down);
    fight_throw_as(&fight, 127000, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, TECHNIQUE_KNOCKDOWN);
    check(&fight, "Knockdown by Red with a left hand to the head, 2:07 into round 1: one each now.",
          true);
    check(&fight, "First knockdown", false);
    fight_end(&fight);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(said__knockdown__after_one_that_no_strike_tells),
        cmocka_unit_test(lead_taken__from_twenty_landed_on),
        cmocka_unit_test(lead_taken__not_by_who_had_it),
        cmocka_unit_test(milestones__to_the_strike),
        cmocka_unit_test(firsts__of_each_kind),
        cmocka_unit_test(knockdowns__how_they_stand),
        cmocka_unit_test(swing__of_a_target),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
