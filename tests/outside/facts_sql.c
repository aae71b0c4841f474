/* Facts and set-ups of random bouts against SQL written here over the table `s`. */
#include "fights.h"

#include "ringtally/insight/facts.h"

struct scope {
    struct fight *fight;
    const struct facts *facts;
    int round; /* 0: the bout */
    enum corner corner;
};

/* Runs the query with ?1 = round, ?2 = corner, ?3 = the number given; its first row must be
 * `wanted`. */
static void check(const struct scope *scope, const char *text, int64_t given, int count,
                  const int64_t *wanted)
{
    sqlite3_stmt *row = NULL;
    if (sqlite3_prepare_v2(scope->fight->db, text, -1, &row, NULL) != SQLITE_OK) {
        fail_msg("%s: %s", sqlite3_errmsg(scope->fight->db), text);
    }
    int bound = sqlite3_bind_parameter_count(row);
    sqlite3_bind_int(row, 1, scope->round);
    if (bound >= 2) {
        sqlite3_bind_text(row, 2, corner_names[scope->corner], -1, SQLITE_STATIC);
    }
    if (bound >= 3) {
        sqlite3_bind_int64(row, 3, given);
    }
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    for (int i = 0; i < count; i++) {
        if (sqlite3_column_int64(row, i) != wanted[i]) {
            fail_msg("round %d %s (%lld), column %d: %lld by SQL, %lld here: %s", scope->round,
                     corner_names[scope->corner], (long long)given, i,
                     (long long)sqlite3_column_int64(row, i), (long long)wanted[i], text);
        }
    }
    sqlite3_finalize(row);
}

static void check_count(const struct scope *scope, const char *text, int64_t given,
                        struct count wanted)
{
    check(scope, text, given, 2, (const int64_t[]){wanted.attempted, wanted.landed});
}

#define OWN "s WHERE ?1 IN (0, round) AND corner = ?2"

static void check_stances(const struct scope *scope)
{
    const struct corner_facts *own = &scope->facts->corner[scope->corner];
    check_count(scope, "SELECT count(*), ifnull(sum(hit), 0) FROM " OWN, 0, own->all);
    static const char *const lead =
        "CASE stance || substr(limb, 1, 4) WHEN 'orthodoxleft' THEN 1 WHEN 'southpawrigh' THEN 1 "
        "WHEN 'orthodoxrigh' THEN 2 WHEN 'southpawleft' THEN 2 ELSE 0 END";
    char text[1024];
    for (int role = 0; role < ROLE_COUNT; role++) {
        snprintf(text, sizeof text, "SELECT count(*), ifnull(sum(hit), 0) FROM " OWN " AND %s = ?3",
                 lead);
        check_count(scope, text, role, own->role[role]);
        /* the right kick meets the left leg; which leg leads the other's newest strike says */
        snprintf(text, sizeof text,
                 "SELECT count(*), ifnull(sum(hit), 0) FROM (SELECT hit, CASE WHEN spinning OR "
                 "stance = 'square' THEN 0 ELSE CASE limb || (SELECT o.stance FROM s AS o WHERE "
                 "o.n < s.n AND o.corner <> s.corner ORDER BY o.n DESC LIMIT 1) "
                 "WHEN 'right_legorthodox' THEN 1 WHEN 'left_legsouthpaw' THEN 1 "
                 "WHEN 'right_legsouthpaw' THEN 2 WHEN 'left_legorthodox' THEN 2 ELSE 0 END END "
                 "AS met FROM " OWN " AND grp = 'legs' AND target = 'leg') WHERE met = ?3");
        check_count(scope, text, role, own->met[role]);
    }
    for (int stance = 0; stance < STANCE_COUNT; stance++) {
        const struct stance_facts *from = &own->stance[stance];
        snprintf(text, sizeof text,
                 "SELECT count(*), ifnull(sum(hit), 0) FROM " OWN " AND stance = '%s'",
                 stance_names[stance]);
        check_count(scope, text, 0, from->all);
        for (int i = 0; i < from->favourites; i++) {
            snprintf(text, sizeof text,
                     "SELECT count(*) AS thrown, sum(hit) AS hits FROM " OWN
                     " AND stance = '%s' GROUP BY code ORDER BY thrown DESC, hits DESC LIMIT 1 "
                     "OFFSET ?3",
                     stance_names[stance]);
            check_count(scope, text, i, from->favourite[i].count);
        }
    }
}

static void check_facts(struct fight *fight, const struct stream *stream)
{
    struct facts facts;
    for (int round = 0; round <= 3; round++) {
        facts_read(&facts, stream, round);
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            struct scope scope = {fight, &facts, round, (enum corner)corner};
            check_stances(&scope);
        }
    }
}

/* Every pair that was looked at, and how many there are. */
static void check_setups(struct fight *fight, const struct stream *stream)
{
    static const struct setup_rule rule = SETUP_RULE_DEFAULT;
    struct setups setups;
    struct error err = {0};
    assert_ok(setups_init(&setups, stream, 2, &rule, 1.0, &err), err);
    fight_sql(fight, "CREATE TEMP TABLE IF NOT EXISTS led AS SELECT DISTINCT b.n, b.corner, a.code "
                     "AS first, b.code AS second, b.hit FROM s AS a JOIN s AS b ON a.corner = "
                     "b.corner AND a.round = b.round AND b.round <= 2 AND a.n < b.n AND b.at_ms - "
                     "a.at_ms <= 2000");
    fight_sql(fight,
              "CREATE TEMP TABLE IF NOT EXISTS side AS SELECT corner, first, second, count(*) AS "
              "thrown, sum(hit) AS hits, (SELECT count(*) FROM s WHERE s.corner = led.corner AND "
              "round <= 2 AND code = second) AS every, (SELECT sum(hit) FROM s WHERE s.corner = "
              "led.corner AND "
              "round <= 2 AND code = second) AS every_hit FROM led GROUP BY corner, first, second");
    assert_int_equal(
        fight_number(fight, "SELECT count(*) FROM side WHERE thrown >= 8 AND every - thrown >= 8"),
        setups.enough);
    for (size_t i = 0; i < setups.count; i++) {
        const struct setup *pair = &setups.pair[i];
        int64_t n[4] = {0};
        char text[512];
        snprintf(text, sizeof text,
                 "SELECT hits, thrown, every_hit - hits, every - thrown FROM side WHERE corner = "
                 "'%s' AND first = '%s %s' AND second = '%s %s'",
                 corner_names[pair->corner], limb_names[pair->first / TARGET_COUNT],
                 target_names[pair->first % TARGET_COUNT], limb_names[pair->then / TARGET_COUNT],
                 target_names[pair->then % TARGET_COUNT]);
        assert_int_equal(fight_row(fight, text, n, 4), 4);
        assert_int_equal(pair->after.landed, n[0]);
        assert_int_equal(pair->after.attempted, n[1]);
        assert_int_equal(pair->otherwise.landed, n[2]);
        assert_int_equal(pair->otherwise.attempted, n[3]);
        assert_true(pair->p >= pair->least);
        assert_true(i == 0 || setups.pair[i - 1].p <= pair->p);
    }
    setups_release(&setups);
}

static void facts__random_bouts__as_sql_says(void **state)
{
    (void)state;
    static struct entry entries[FIGHT_ENTRIES];
    size_t strikes = 0;
    for (uint64_t seed = 101; seed <= 108; seed++) {
        uint64_t rolling = seed;
        struct fight fight;
        struct stream stream;
        struct error err = {0};
        size_t count = fight_random(entries, &rolling);
        fight_open(&fight, FIGHT_DESKS, entries, count);
        assert_ok(stream_init(&stream, fight.fold, &err), err);
        assert_int_equal(fight_number(&fight, "SELECT count(*) FROM s"), stream.count);
        strikes += stream.count;
        check_facts(&fight, &stream);
        check_setups(&fight, &stream);
        stream_release(&stream);
        fight_close(&fight);
    }
    assert_true(strikes > 8 * 300);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(facts__random_bouts__as_sql_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
