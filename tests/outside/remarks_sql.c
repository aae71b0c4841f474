/* Every remark against the database: its own query, and another one written here in another way,
 * must give its numbers; what a finding says of them is worked out again from them. */
#include "fights.h"

#include <math.h>

/* A condition on `s` for what a pick takes, its stance left out. */
static const char *taken(char out[256], const struct pick *pick)
{
    int length = snprintf(out, 256, "1");
    if (pick->limb >= 0) {
        length += snprintf(out + length, 256 - (size_t)length, " AND limb = '%s'",
                           limb_names[pick->limb]);
    }
    if (pick->group >= 0) {
        length += snprintf(out + length, 256 - (size_t)length, " AND grp = '%s'",
                           group_names[pick->group]);
    }
    if (pick->target >= 0) {
        length += snprintf(out + length, 256 - (size_t)length, " AND target = '%s'",
                           target_names[pick->target]);
    }
    if (pick->technique) {
        snprintf(out + length, 256 - (size_t)length, " AND spinning + 2 * jumping = %d",
                 pick->technique);
    }
    return out;
}

/* The same numbers in another way: sums over the table `s`. */
static void other_query(char *out, size_t size, const struct remark *c)
{
    char what[256];
    char scope[40] = "1";
    const char *own = corner_names[c->corner];
    const char *other = corner_names[corner_other(c->corner)];
    int round = c->round;
    const char *stance = c->pick.stance == STANCE_ORTHODOX   ? "(stance = 'orthodox')"
                         : c->pick.stance == STANCE_SOUTHPAW ? "(stance = 'southpaw')"
                                                             : "(stance = 'square')";
    taken(what, &c->pick);
    if (remark_is_finding(c)) {
        snprintf(scope, sizeof scope, "round >= %d AND round <= %d", c->from, c->through);
    } else if (round > 0) {
        snprintf(scope, sizeof scope, "round = %d", round);
    }
    switch (c->kind) {
    case REMARK_LANDED_MORE:
        snprintf(out, size,
                 "SELECT (SELECT count(*) FROM s WHERE %s AND %s AND hit AND corner = '%s'), "
                 "(SELECT count(*) FROM s WHERE %s AND %s AND hit AND corner = '%s')",
                 scope, what, own, scope, what, other);
        break;
    case REMARK_LEAD:
        if (c->variant == LEAD_STANDING) {
            snprintf(out, size,
                     "SELECT sum(corner = '%s'), sum(corner = '%s') FROM s WHERE %s AND hit", own,
                     other, scope);
        } else {
            snprintf(out, size,
                     "SELECT round, elapsed_ms, own, other FROM (SELECT round, elapsed_ms, corner, "
                     "(SELECT sum(hit) FROM s AS o WHERE o.n <= s.n AND o.corner = '%s') AS own, "
                     "(SELECT sum(hit) FROM s AS o WHERE o.n <= s.n AND o.corner = '%s') AS other "
                     "FROM s WHERE hit) WHERE corner = '%s' AND own = other + 1 AND own = %d",
                     own, other, own, (int)c->number[2]);
        }
        break;
    case REMARK_FEWER_THROWN:
    case REMARK_ACCURACY:
        snprintf(out, size,
                 "SELECT a.hits, a.thrown, b.hits, b.thrown FROM "
                 "(SELECT sum(hit) AS hits, count(*) AS thrown FROM s WHERE %s AND corner = '%s') "
                 "AS a, (SELECT sum(hit) AS hits, count(*) AS thrown FROM s WHERE %s AND corner = "
                 "'%s') AS b",
                 scope, own, scope, other);
        break;
    case REMARK_SHARE:
        snprintf(out, size,
                 "SELECT sum(%s) AS part, count(*) AS whole FROM s WHERE %s AND hit AND corner = "
                 "'%s'",
                 what, scope, own);
        break;
    case REMARK_MILESTONE:
        snprintf(out, size,
                 "SELECT (SELECT count(*) FROM s AS o WHERE o.n <= s.n AND o.corner = s.corner AND "
                 "o.hit >= %d) AS nth, round, elapsed_ms FROM s WHERE corner = '%s' AND hit >= %d "
                 "AND nth = %d",
                 c->variant == MILESTONE_LANDED, own, c->variant == MILESTONE_LANDED,
                 (int)c->number[0]);
        break;
    case REMARK_FIRST:
        snprintf(out, size,
                 "SELECT round, elapsed_ms, corner = '%s' FROM s WHERE n = "
                 "(SELECT min(n) FROM s WHERE hit AND %s)",
                 own, what);
        break;
    case REMARK_RUN: /* walked strike by strike */
        snprintf(out, size,
                 "WITH RECURSIVE t AS (SELECT row_number() OVER (ORDER BY n) AS i, hit, round FROM "
                 "s WHERE corner = '%s' AND %s), walk(i, length, first) AS (SELECT 0, 0, 0 UNION "
                 "ALL SELECT t.i, CASE t.hit WHEN 1 THEN length + 1 ELSE 0 END, CASE WHEN t.hit "
                 "AND length > 0 THEN first ELSE t.round END FROM walk JOIN t ON t.i = walk.i + 1) "
                 "SELECT length, (SELECT max(i) FROM t) - walk.i, first, t.round FROM walk JOIN t "
                 "ON t.i = walk.i ORDER BY length DESC, walk.i DESC LIMIT 1",
                 own, what);
        break;
    case REMARK_SWING:
        snprintf(out, size,
                 "SELECT a.part, a.whole, b.part, b.whole FROM "
                 "(SELECT sum(%s) AS part, count(*) AS whole FROM s WHERE round = %d AND corner = "
                 "'%s') AS a, (SELECT sum(%s) AS part, count(*) AS whole FROM s WHERE round "
                 "BETWEEN %d AND %d AND corner = '%s') AS b",
                 c->variant == SWING_ACCURACY ? "hit" : what, round, own,
                 c->variant == SWING_ACCURACY ? "hit" : what, c->from, round - 1, own);
        break;
    case REMARK_PACE:
        if (c->variant == PACE_CORNERS) {
            snprintf(out, size, "SELECT sum(corner = '%s'), sum(corner = '%s') FROM s WHERE %s",
                     own, other, scope);
        } else {
            snprintf(out, size,
                     "SELECT sum(round = %d), sum(round < %d) FROM s WHERE %s AND corner = '%s'",
                     round, round, scope, own);
        }
        break;
    case REMARK_STANCE:
        snprintf(out, size,
                 "SELECT sum(hit AND %s), sum(%s), sum(hit AND NOT %s), sum(NOT %s) FROM s WHERE "
                 "%s AND corner = '%s'",
                 stance, stance, stance, stance, scope, own);
        break;
    case REMARK_ORIGIN:
        snprintf(out, size,
                 "SELECT sum((%s) AND %s), sum(%s), sum(NOT (%s) AND %s), sum(NOT (%s)) FROM s "
                 "WHERE corner = '%s'",
                 what, stance, what, what, stance, what, own);
        break;
    case REMARK_SETUP: /* by the newest A before each B */
        snprintf(out, size,
                 "WITH b AS (SELECT hit, at_ms - (SELECT at_ms FROM s AS a WHERE a.n < s.n AND "
                 "a.round = s.round AND a.corner = s.corner AND a.code = '%s %s' ORDER BY a.n DESC "
                 "LIMIT 1) AS gap FROM s WHERE corner = '%s' AND code = '%s %s' AND round <= %d) "
                 "SELECT ifnull(sum(hit AND gap <= %d), 0), ifnull(sum(gap <= %d), 0), "
                 "sum(hit) - ifnull(sum(hit AND gap <= %d), 0), "
                 "count(*) - ifnull(sum(gap <= %d), 0) FROM b",
                 limb_names[c->first / TARGET_COUNT], target_names[c->first % TARGET_COUNT], own,
                 limb_names[c->then / TARGET_COUNT], target_names[c->then % TARGET_COUNT],
                 c->through, (int)c->window_ms, (int)c->window_ms, (int)c->window_ms,
                 (int)c->window_ms);
        break;
    case REMARK_KNOCKDOWN:
        snprintf(
            out, size,
            /* d: marks, and "knocked down" (i) with no mark and no earlier one of it (e) near */
            "WITH i AS (SELECT *, row_number() OVER (ORDER BY round, at_ms, utc_ms, desk, seq) "
            "AS n FROM standing WHERE kind = 'incident' AND code = 'knocked_down' AND official), "
            "d AS (SELECT round, at_ms, corner = 'red' AS red FROM s WHERE knockdown UNION ALL "
            "SELECT round, at_ms, corner = 'blue' FROM i WHERE NOT EXISTS (SELECT 1 FROM s AS m "
            "WHERE m.knockdown AND m.corner <> i.corner AND m.round = i.round AND "
            "m.at_ms BETWEEN i.at_ms - 10000 AND i.at_ms + 10000) AND NOT EXISTS (SELECT 1 FROM "
            "i AS e WHERE e.n < i.n AND e.corner = i.corner AND e.round = i.round AND "
            "e.at_ms >= i.at_ms - 10000)) "
            "SELECT s.round, s.elapsed_ms, sum(d.red), sum(1 - d.red) FROM s JOIN d ON "
            "d.round < s.round OR (d.round = s.round AND d.at_ms <= s.at_ms) WHERE "
            "s.knockdown AND s.corner = '%s' AND %s AND s.round = %d AND s.elapsed_ms = %d "
            "GROUP BY s.n",
            own, what, (int)c->number[0], (int)c->number[1]);
        break;
    default:
        fail_msg("kind %d", c->kind);
    }
}

static void assert_close(double got, double want)
{
    if (!(fabs(got - want) <= 1e-9)) {
        fail_msg("%.12f is not %.12f", got, want);
    }
}

/* The difference again, from the numbers; its interval around it, and on one side of 0. */
static void check_evidence(const struct remark *c)
{
    const struct estimate *e = &c->estimate;
    double n[4];
    for (int i = 0; i < 4; i++) {
        n[i] = (double)c->number[i];
    }
    if (c->evidence == EVIDENCE_DIFFERENCE) {
        assert_close(e->value, n[0] / n[1] - n[2] / n[3]);
        assert_true(e->low >= -1.0 && e->high <= 1.0);
    } else if (c->evidence == EVIDENCE_PER_MINUTE) {
        assert_close(e->value,
                     60000.0 * (n[0] / (double)c->ran_ms[0] - n[1] / (double)c->ran_ms[1]));
    }
    assert_int_equal(remark_is_finding(c), c->evidence != EVIDENCE_NONE);
    if (remark_is_finding(c)) {
        assert_true(e->low > 0.0 || e->high < 0.0);
        assert_true(e->low <= e->value && e->value <= e->high);
        assert_true(c->p <= c->adjusted && c->adjusted <= 0.9);
        assert_true(c->through >= 1 && c->from >= 1 && c->from <= c->through);
    }
}

/* Its own query, column by column, and the other one. */
static void check_remark(struct fight *fight, const struct remark *c)
{
    char words[REMARK_WORDS];
    char other[2048];
    struct buf query = BUF_INIT;
    sqlite3_stmt *row = NULL;
    const char *const *names = remark_number_names(c);
    remark_words(words, sizeof words, c, NULL);
    remark_query(&query, c, FIGHT_BOUT);
    assert_false(query.failed);
    if (sqlite3_prepare_v2(fight->db, query.text, -1, &row, NULL) != SQLITE_OK) {
        fail_msg("%s: %s", sqlite3_errmsg(fight->db), query.text);
    }
    if (sqlite3_step(row) != SQLITE_ROW) {
        fail_msg("no row for \"%s\": %s", words, query.text);
    }
    int64_t numbers[REMARK_NUMBERS] = {0};
    int known = 0;
    while (known < REMARK_NUMBERS && names[known]) {
        known++;
    }
    assert_int_equal(sqlite3_column_count(row), known);
    other_query(other, sizeof other, c);
    assert_true(fight_row(fight, other, numbers, REMARK_NUMBERS) >= known);
    for (int i = 0; i < known; i++) {
        assert_string_equal(sqlite3_column_name(row, i), names[i]);
        if (sqlite3_column_int64(row, i) != c->number[i] || numbers[i] != c->number[i]) {
            fail_msg("\"%s\": %s is %lld, its query says %lld, the other %lld\n%s\n%s", words,
                     names[i], (long long)c->number[i], (long long)sqlite3_column_int64(row, i),
                     (long long)numbers[i], query.text, other);
        }
    }
    assert_int_equal(sqlite3_step(row), SQLITE_DONE);
    sqlite3_finalize(row);
    buf_release(&query);
    check_evidence(c);
}

/* What should have been said of who has landed more is said, and nothing else. */
static void check_leads(struct fight *fight, const struct remarks *remarks)
{
    int wanted = 0, said = 0;
    for (int round = remarks->rounds > 1 ? 0 : 1; round <= remarks->rounds; round++) {
        char text[256];
        int64_t n[2] = {0, 0};
        snprintf(text, sizeof text,
                 "SELECT ifnull(sum(corner = 'red'), 0), ifnull(sum(corner = 'blue'), 0) FROM "
                 "s WHERE hit AND %d IN (0, round)",
                 round);
        fight_row(fight, text, n, 2);
        wanted += n[0] + n[1] >= 10 && n[0] != n[1];
    }
    for (size_t i = 0; i < remarks->count; i++) {
        const struct remark *c = &remarks->item[i];
        said += c->kind == REMARK_FEWER_THROWN ||
                (c->kind == REMARK_LEAD && c->variant == LEAD_STANDING);
    }
    assert_int_equal(said, wanted);
}

static void check_fight(struct fight *fight, int seen[REMARK_KINDS][2])
{
    struct remarks remarks;
    struct error err = {0};
    int64_t over_ms = fold_newest_ms(fight->fold) + 180000;
    struct remark_rule rule = remark_rule_default;
    rule.error = 0.9; /* so that many are told */
    assert_ok(remarks_init(&remarks, fight->fold, NULL, NULL, &rule, over_ms, &err), err);
    for (size_t i = 0; i < remarks.count; i++) {
        check_remark(fight, &remarks.item[i]);
        seen[remarks.item[i].kind][remarks.item[i].variant > 0]++;
    }
    check_leads(fight, &remarks);
    remarks_release(&remarks);
}

static void remarks__random_bouts__as_sql_says(void **state)
{
    (void)state;
    static struct entry entries[FIGHT_ENTRIES];
    int seen[REMARK_KINDS][2] = {{0}};
    for (uint64_t seed = 1; seed <= 30; seed++) {
        uint64_t rolling = seed;
        struct fight fight;
        size_t count = fight_random(entries, &rolling);
        fight_open(&fight, FIGHT_DESKS, entries, count);
        check_fight(&fight, seen);
        fight_close(&fight);
    }
    for (int kind = 0; kind < REMARK_KINDS; kind++) {
        bool varies = kind == REMARK_LEAD || kind == REMARK_MILESTONE || kind == REMARK_SWING ||
                      kind == REMARK_PACE;
        print_message("%s: %d + %d\n", remark_kind_names[kind], seen[kind][0], seen[kind][1]);
        if (kind == REMARK_RECORD) { /* check_records.py */
            continue;
        }
        assert_true(seen[kind][0] > 0);
        assert_true(!varies || seen[kind][1] > 0);
    }
}

static void remarks__example_bouts__as_sql_says(void **state)
{
    (void)state;
    static const char *const names[] = {"bout-1.keys", "bout-2.keys"};
    int facts = 0;
    int seen[REMARK_KINDS][2] = {{0}};
    for (int i = 0; i < 2; i++) {
        struct entry *entries = NULL;
        struct fight fight;
        size_t count = fight_script(&entries, names[i]);
        fight_open(&fight, 1, entries, count);
        check_fight(&fight, seen);
        fight_close(&fight);
        free(entries);
    }
    for (int kind = 0; kind < REMARK_KINDS; kind++) {
        facts += kind < REMARK_FINDINGS ? seen[kind][0] + seen[kind][1] : 0;
    }
    assert_true(facts > 10); /* what they hold besides is their own affair */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(remarks__random_bouts__as_sql_says),
        cmocka_unit_test(remarks__example_bouts__as_sql_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
