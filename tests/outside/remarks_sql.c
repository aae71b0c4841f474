/* Every remark against the database: its own query, and another one written here in another way,
 * must give its numbers; its interval is worked out again from them.
 *
 * The intervals: Wilson EB 1927, JASA 22:209-212, solved here as the roots of
 * (p - k/n)^2 = z^2 p (1 - p) / n; Newcombe RG 1998, Statistics in Medicine 17:873-890, method 10.
 */
#include "fights.h"

#include <math.h>

#define Z 1.959963984540054

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
    taken(what, &c->pick);
    if (round > 0) {
        snprintf(scope, sizeof scope, "round = %d", round);
    }
    switch (c->kind) {
    case REMARK_LANDED_MORE:
        snprintf(out, size,
                 "SELECT (SELECT count(*) FROM s WHERE %s AND %s AND hit AND corner = '%s'), "
                 "(SELECT count(*) FROM s WHERE %s AND %s AND hit AND corner = '%s')",
                 scope, what, own, scope, what, other);
        break;
    case REMARK_FEWER_THROWN:
        snprintf(out, size,
                 "SELECT a.hits, a.thrown, b.hits, b.thrown FROM "
                 "(SELECT sum(hit) AS hits, count(*) AS thrown FROM s WHERE %s AND corner = '%s') "
                 "AS a, (SELECT sum(hit) AS hits, count(*) AS thrown FROM s WHERE %s AND corner = "
                 "'%s') AS b",
                 scope, own, scope, other);
        break;
    case REMARK_SHARE:
        snprintf(out, size,
                 "SELECT a.part, a.whole, b.part, b.whole FROM "
                 "(SELECT sum(%s) AS part, count(*) AS whole FROM s WHERE %s AND hit AND corner = "
                 "'%s') AS a, (SELECT sum(%s) AS part, count(*) AS whole FROM s WHERE %s AND hit "
                 "AND corner = '%s') AS b",
                 what, scope, own, what, scope, other);
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
                 "SELECT length, (SELECT max(i) FROM t) - walk.i, first, t.round, "
                 "(SELECT sum(hit) FROM s WHERE corner = '%s') - length, "
                 "(SELECT count(*) FROM s WHERE corner = '%s') - length "
                 "FROM walk JOIN t ON t.i = walk.i ORDER BY length DESC, walk.i DESC LIMIT 1",
                 own, what, own, own);
        break;
    case REMARK_SWING:
        snprintf(out, size,
                 "SELECT a.part, a.whole, b.part, b.whole FROM "
                 "(SELECT sum(%s) AS part, count(*) AS whole FROM s WHERE round = %d AND corner = "
                 "'%s') AS a, (SELECT sum(%s) AS part, count(*) AS whole FROM s WHERE round = %d "
                 "AND corner = '%s') AS b",
                 c->variant == SWING_ACCURACY ? "hit" : what, round, own,
                 c->variant == SWING_ACCURACY ? "hit" : what, round - 1, own);
        break;
    case REMARK_PACE:
        snprintf(out, size,
                 "SELECT (SELECT count(*) FROM s WHERE corner = '%s' AND %s), "
                 "(SELECT count(*) FROM s WHERE corner = '%s' AND round BETWEEN %d AND %d)",
                 own, scope, c->variant == PACE_CORNERS ? other : own,
                 c->variant == PACE_ROUND ? round - 1 : 1,
                 c->variant == PACE_CORNERS ? ROUND_MAX : round - 1);
        break;
    case REMARK_STANCE:
        if (c->variant == STANCE_ACCURACY) {
            snprintf(what, sizeof what, "stance = '%s'", stance_names[c->pick.stance]);
        }
        snprintf(out, size,
                 "SELECT a.part, a.whole, b.part, b.whole FROM "
                 "(SELECT sum(%s) AS part, count(*) AS whole FROM s WHERE corner = '%s' AND (%s)) "
                 "AS a, (SELECT sum(%s) AS part, count(*) AS whole FROM s WHERE corner = '%s' AND "
                 "NOT (%s)) AS b",
                 c->variant == STANCE_ACCURACY       ? "hit"
                 : c->pick.stance == STANCE_ORTHODOX ? "stance = 'orthodox'"
                 : c->pick.stance == STANCE_SOUTHPAW ? "stance = 'southpaw'"
                                                     : "stance = 'square'",
                 own, what,
                 c->variant == STANCE_ACCURACY       ? "hit"
                 : c->pick.stance == STANCE_ORTHODOX ? "stance = 'orthodox'"
                 : c->pick.stance == STANCE_SOUTHPAW ? "stance = 'southpaw'"
                                                     : "stance = 'square'",
                 own, what);
        break;
    case REMARK_SETUP: /* by the newest A before each B */
        snprintf(out, size,
                 "WITH b AS (SELECT hit, at_ms - (SELECT at_ms FROM s AS a WHERE a.n < s.n AND "
                 "a.round = s.round AND a.corner = s.corner AND a.code = '%s %s' ORDER BY a.n DESC "
                 "LIMIT 1) AS gap FROM s WHERE corner = '%s' AND code = '%s %s') "
                 "SELECT ifnull(sum(hit AND gap <= %d), 0), ifnull(sum(gap <= %d), 0), "
                 "sum(hit) - ifnull(sum(hit AND gap <= %d), 0), "
                 "count(*) - ifnull(sum(gap <= %d), 0) FROM b",
                 limb_names[c->first / TARGET_COUNT], target_names[c->first % TARGET_COUNT], own,
                 limb_names[c->then / TARGET_COUNT], target_names[c->then % TARGET_COUNT],
                 (int)c->window_ms, (int)c->window_ms, (int)c->window_ms, (int)c->window_ms);
        break;
    case REMARK_KNOCKDOWN:
        snprintf(out, size,
                 "SELECT round, elapsed_ms, (SELECT sum(o.corner = 'red') FROM s AS o WHERE "
                 "o.knockdown AND o.n <= s.n), (SELECT sum(o.corner = 'blue') FROM s AS o WHERE "
                 "o.knockdown AND o.n <= s.n) FROM s WHERE knockdown AND corner = '%s' AND %s AND "
                 "round = %d AND elapsed_ms = %d",
                 own, what, (int)c->number[0], (int)c->number[1]);
        break;
    default:
        fail_msg("kind %d", c->kind);
    }
}

static void wilson(double k, double n, double out[2])
{
    /* (1 + z^2/n) p^2 - (2 k/n + z^2/n) p + (k/n)^2 = 0 */
    double a = 1.0 + Z * Z / n, b = -(2.0 * k / n + Z * Z / n), c = k / n * (k / n);
    double root = sqrt(fmax(0.0, b * b - 4.0 * a * c));
    out[0] = (-b - root) / (2.0 * a);
    out[1] = (-b + root) / (2.0 * a);
}

static void assert_close(double got, double want)
{
    if (!(fabs(got - want) <= 1e-9)) {
        fail_msg("%.12f is not %.12f", got, want);
    }
}

/* The interval again, from the numbers. */
static void check_evidence(const struct remark *c)
{
    double a[2], b[2];
    double n[REMARK_NUMBERS];
    for (int i = 0; i < REMARK_NUMBERS; i++) {
        n[i] = (double)c->number[i];
    }
    if (c->evidence == EVIDENCE_SHARE) {
        wilson(n[0], c->kind == REMARK_SHARE ? n[1] : n[0] + n[1], a);
        assert_close(c->estimate.low, a[0]);
        assert_close(c->estimate.high, a[1]);
        assert_true(c->estimate.low > 0.5);
    } else if (c->evidence == EVIDENCE_DIFFERENCE) {
        double k1 = n[0], n1 = n[1], k2 = n[2], n2 = n[3];
        if (c->kind == REMARK_RUN) {
            n1 = n[0];
            k2 = n[4];
            n2 = n[5];
        }
        wilson(k1, n1, a);
        wilson(k2, n2, b);
        double p1 = k1 / n1, p2 = k2 / n2;
        assert_close(c->estimate.value, p1 - p2);
        assert_close(c->estimate.low, p1 - p2 - hypot(p1 - a[0], b[1] - p2));
        assert_close(c->estimate.high, p1 - p2 + hypot(a[1] - p1, p2 - b[0]));
        assert_true(c->estimate.low > 0.0 || c->estimate.high < 0.0);
    } else if (c->evidence == EVIDENCE_RATIO) {
        assert_true(c->estimate.low > 1.0 || c->estimate.high < 1.0);
        if (c->bounded) {
            assert_close(c->estimate.value,
                         n[0] / (double)c->ran_ms[0] / (n[1] / (double)c->ran_ms[1]));
        }
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
    remark_words(words, sizeof words, c);
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

/* What should have been said of who landed more is said, and nothing else. */
static void check_landed_more(struct fight *fight, const struct remarks *remarks)
{
    int wanted = 0, said = 0;
    for (int round = 0; round <= 3; round++) {
        for (int target = -1; target < TARGET_COUNT; target++) {
            char text[256];
            int64_t n[2] = {0, 0};
            double limits[2];
            snprintf(text, sizeof text,
                     "SELECT ifnull(sum(corner = 'red'), 0), ifnull(sum(corner = 'blue'), 0) FROM "
                     "s WHERE hit AND %d IN (0, round) AND '%s' IN ('', target)",
                     round, target < 0 ? "" : target_names[target]);
            fight_row(fight, text, n, 2);
            if (n[0] + n[1] < 10) {
                continue;
            }
            wilson((double)n[0], (double)(n[0] + n[1]), limits);
            wanted += limits[0] > 0.5 || limits[1] < 0.5;
        }
    }
    for (size_t i = 0; i < remarks->count; i++) {
        said += remarks->item[i].kind == REMARK_LANDED_MORE;
    }
    assert_int_equal(said, wanted);
}

static void check_fight(struct fight *fight, int seen[REMARK_KINDS][2])
{
    struct remarks remarks;
    struct error err = {0};
    assert_ok(remarks_init(&remarks, fight->fold, &remark_rule_default, fold_newest_ms(fight->fold),
                           &err),
              err);
    for (size_t i = 0; i < remarks.count; i++) {
        check_remark(fight, &remarks.item[i]);
        seen[remarks.item[i].kind][remarks.item[i].variant > 0]++;
    }
    check_landed_more(fight, &remarks);
    remarks_release(&remarks);
}

static void remarks__random_bouts__as_sql_says(void **state)
{
    (void)state;
    static struct entry entries[FIGHT_ENTRIES];
    int seen[REMARK_KINDS][2] = {{0}};
    for (uint64_t seed = 1; seed <= 24; seed++) {
        uint64_t rolling = seed;
        struct fight fight;
        size_t count = fight_random(entries, &rolling);
        fight_open(&fight, FIGHT_DESKS, entries, count);
        check_fight(&fight, seen);
        fight_close(&fight);
    }
    for (int kind = 0; kind < REMARK_KINDS; kind++) {
        bool varies = kind == REMARK_SHARE || kind == REMARK_MILESTONE || kind == REMARK_SWING ||
                      kind == REMARK_PACE || kind == REMARK_STANCE;
        print_message("%s: %d + %d\n", remark_kind_names[kind], seen[kind][0], seen[kind][1]);
        assert_true(seen[kind][0] > 0);
        assert_true(!varies || seen[kind][1] > 0);
    }
}

static void remarks__example_bouts__as_sql_says(void **state)
{
    (void)state;
    static const char *const names[] = {"bout-1.keys", "bout-2.keys"};
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
        print_message("%s: %d + %d\n", remark_kind_names[kind], seen[kind][0], seen[kind][1]);
        assert_true(seen[kind][0] + seen[kind][1] > 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(remarks__random_bouts__as_sql_says),
        cmocka_unit_test(remarks__example_bouts__as_sql_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
