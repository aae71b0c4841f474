/* Records: what is more than in any former bout, and of how many that can be said. The whole way,
 * with the queries, is held against SQL in tests/outside/check_records.py. */
#include "../tally/blows.h"

#include "ringtally/insight/remarks.h"

static bool says(const struct remarks *remarks, const char *sentence)
{
    char words[REMARK_WORDS];
    bool said = false;
    for (size_t i = 0; i < remarks->count && !said; i++) {
        remark_words(words, sizeof words, &remarks->item[i], NULL);
        said = strcmp(words, sentence) == 0;
    }
    return said;
}

static size_t records(const struct remarks *remarks)
{
    size_t count = 0;
    for (size_t i = 0; i < remarks->count; i++) {
        count += remarks->item[i].kind == REMARK_RECORD;
    }
    return count;
}

static struct remarks find_against(const struct fight *fight, const struct former *former)
{
    struct remarks remarks;
    struct error err = {0};
    assert_int_equal(remarks_init(&remarks, fight->fold, NULL, former, &remark_rule_default,
                                  fold_newest_ms(fight->fold), &err),
                     0);
    return remarks;
}

/* Two knockdowns, and 14 strikes of blue's, against what is known of former bouts. */
static void remarks__record__more_than_ever(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    struct former former = {.here = {.bouts = 200, .cut = true},
                            .own = {{.bouts = 2}, {.bouts = 9}}};
    former.here.most[RECORD_BOUT][RECORD_KNOCKDOWNS] = 1;
    former.here.most[RECORD_ROUND][RECORD_KNOCKDOWNS] = 2;
    former.here.most[RECORD_BOUT][RECORD_THROWN] = 99;
    former.here.most[RECORD_ROUND][RECORD_THROWN] = 99;
    former.own[CORNER_BLUE].most[RECORD_BOUT][RECORD_THROWN] = 14;
    former.own[CORNER_BLUE].most[RECORD_BOUT][RECORD_KNOCKDOWNS] = 2;
    former.own[CORNER_BLUE].most[RECORD_ROUND][RECORD_KNOCKDOWNS] = 2;
    fight_round(&fight);
    for (int i = 0; i < 12; i++) {
        fight_throw(&fight, 1000 + 10000 * i, CORNER_BLUE, JAB, MISSED);
    }
    fight_throw_as(&fight, 172000, CORNER_BLUE, JAB, TECHNIQUE_KNOCKDOWN);
    fight_throw_as(&fight, 173000, CORNER_BLUE, JAB, TECHNIQUE_KNOCKDOWN);
    struct remarks remarks = find_against(&fight, &former);
    assert_true(says(&remarks,
                     "Blue scored two knockdowns so far, a record here: one was the most in "
                     "the last 200 bouts logged."));
    assert_true(says(&remarks,
                     "Blue threw 14 strikes in round 1 so far, a personal best: there was "
                     "none in a round of nine bouts logged here."));
    assert_int_equal(records(&remarks), 2);
    remarks_release(&remarks);
    former.here.bouts = 9; /* too few, as red's own are */
    former.own[CORNER_BLUE].bouts = 2;
    remarks = find_against(&fight, &former);
    assert_int_equal(records(&remarks), 0);
    remarks_release(&remarks);
    fight_end(&fight);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(remarks__record__more_than_ever),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
