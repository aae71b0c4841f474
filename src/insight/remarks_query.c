/* remarks_query.c: each remark as SQL over the view `strike`. One row, whose columns are the
 * remark's numbers by their names. Strikes come in the order of stream.h. */
#include "ringtally/insight/remarks.h"

#define IN_ORDER "ORDER BY round, at_ms, desk, seq"
#define LANDED   "outcome = 'landed'"

/* A query in the making. */
struct query {
    struct buf *out;
    const struct remark *remark;
    const char *bout;
    const char *own, *other; /* names of the corners */
};

/* A text of SQL's, without the marks around it. */
static void add_quoted(struct buf *out, const char *text)
{
    for (; *text; text++) {
        buf_add(out, text, 1);
        if (*text == '\'') {
            buf_adds(out, "'");
        }
    }
}

/* FROM the strikes of the bout that count, in these rounds; 0: all. */
static void from_strikes(struct query *q, int first, int last)
{
    buf_adds(q->out, " FROM strike WHERE official AND bout = '");
    add_quoted(q->out, q->bout);
    buf_adds(q->out, "'");
    if (first > 0 && first == last) {
        buf_addf(q->out, " AND round = %d", first);
    } else if (first > 0) {
        buf_addf(q->out, " AND round BETWEEN %d AND %d", first, last);
    }
}

/* Of the round that a fact speaks of, or of the rounds that a finding counted. */
static void from_rounds(struct query *q)
{
    const struct remark *remark = q->remark;
    if (remark_is_finding(remark)) {
        from_strikes(q, remark->from, remark->through);
    } else {
        from_strikes(q, remark->round, remark->round);
    }
}

static void of_own(struct query *q)
{
    buf_addf(q->out, " AND corner = '%s'", q->own);
}

/* " AND ..." for what a pick takes, its stance left out. */
static void and_taken(struct buf *out, const struct pick *pick)
{
    if (pick->limb >= 0) {
        buf_addf(out, " AND limb = '%s'", limb_names[pick->limb]);
    }
    if (pick->group >= 0) {
        const char *comma = "";
        buf_adds(out, " AND limb IN (");
        for (int limb = 0; limb < LIMB_COUNT; limb++) {
            if ((int)limb_group(limb) == pick->group) {
                buf_addf(out, "%s'%s'", comma, limb_names[limb]);
                comma = ", ";
            }
        }
        buf_adds(out, ")");
    }
    if (pick->target >= 0) {
        buf_addf(out, " AND target = '%s'", target_names[pick->target]);
    }
    if (pick->technique & TECHNIQUE_SPINNING) {
        buf_adds(out, " AND spinning");
    }
    if (pick->technique & TECHNIQUE_JUMPING) {
        buf_adds(out, " AND jumping");
    }
}

static void and_code(struct buf *out, int code)
{
    buf_addf(out, " AND limb = '%s' AND target = '%s'", limb_names[code / TARGET_COUNT],
             target_names[code % TARGET_COUNT]);
}

static void landed_more(struct query *q)
{
    buf_addf(q->out,
             "SELECT count(*) FILTER (WHERE corner = '%s') AS landed, "
             "count(*) FILTER (WHERE corner = '%s') AS other_landed",
             q->own, q->other);
    from_rounds(q);
    buf_adds(q->out, " AND " LANDED);
    and_taken(q->out, &q->remark->pick);
}

static void both_counts(struct query *q)
{
    buf_addf(q->out,
             "SELECT count(*) FILTER (WHERE corner = '%s' AND " LANDED ") AS landed, "
             "count(*) FILTER (WHERE corner = '%s') AS thrown, "
             "count(*) FILTER (WHERE corner = '%s' AND " LANDED ") AS other_landed, "
             "count(*) FILTER (WHERE corner = '%s') AS other_thrown",
             q->own, q->own, q->other, q->other);
    from_rounds(q);
}

static void share(struct query *q)
{
    buf_adds(q->out, "SELECT count(*) FILTER (WHERE true");
    and_taken(q->out, &q->remark->pick);
    buf_adds(q->out, ") AS part, count(*) AS whole");
    from_rounds(q);
    of_own(q);
    buf_adds(q->out, " AND " LANDED);
}

static void lead(struct query *q)
{
    if (q->remark->variant == LEAD_STANDING) {
        landed_more(q);
        return;
    }
    buf_addf(q->out,
             "SELECT round, elapsed_ms, landed, other_landed FROM (SELECT round, elapsed_ms, "
             "corner, count(*) FILTER (WHERE corner = '%s') OVER (" IN_ORDER
             " ROWS UNBOUNDED PRECEDING) AS landed, count(*) FILTER (WHERE corner = '%s') OVER "
             "(" IN_ORDER " ROWS UNBOUNDED PRECEDING) AS other_landed",
             q->own, q->other);
    from_strikes(q, 0, 0);
    buf_addf(q->out,
             " AND " LANDED ") AS s WHERE corner = '%s' AND landed = %lld AND other_landed = %lld",
             q->own, (long long)q->remark->number[2], (long long)q->remark->number[3]);
}

/* The ids of the former bouts. */
static void in_former(struct buf *out, const struct records *records)
{
    buf_adds(out, "id IN (");
    for (size_t i = 0; i < records->bouts; i++) {
        buf_addf(out, "%s%lld", i ? ", " : "", (long long)records->bout[i]);
    }
    buf_adds(out, ")");
}

/* Here, against the most that one corner of a former bout had, in a round where it is of one. */
static void record(struct query *q)
{
    const struct remark *remark = q->remark;
    const bool downs = remark->sort == RECORD_KNOCKDOWNS;
    const char *view = downs ? "knockdown" : "strike";
    const char *counts = downs                           ? "1"
                         : remark->sort == RECORD_THROWN ? "official"
                                                         : "official AND " LANDED;
    buf_addf(q->out, "SELECT (SELECT count(*) FROM %s WHERE %s AND bout = '", view, counts);
    add_quoted(q->out, q->bout);
    buf_addf(q->out, "' AND corner = '%s'", q->own);
    if (remark->round) {
        buf_addf(q->out, " AND round = %d", remark->round);
    }
    and_taken(q->out, &remark->pick);
    buf_adds(q->out, ") AS number, ifnull(max(n), 0) AS former, (SELECT count(*) FROM bout WHERE ");
    in_former(q->out, remark->records);
    buf_addf(q->out, ") AS bouts FROM (SELECT count(*) AS n FROM %s WHERE %s AND ", view, counts);
    if (remark->variant == RECORD_OWN) {
        buf_adds(q->out, "(bout, corner) IN (SELECT bout.name, corner.corner FROM bout JOIN corner "
                         "ON corner.bout = bout.id WHERE corner.name = (SELECT corner.name FROM "
                         "corner JOIN bout ON bout.id = corner.bout WHERE bout.name = '");
        add_quoted(q->out, q->bout);
        buf_addf(q->out, "' AND corner.corner = '%s') AND ", q->own);
    } else {
        buf_adds(q->out, "bout IN (SELECT name FROM bout WHERE ");
    }
    in_former(q->out, remark->records);
    buf_adds(q->out, ")");
    and_taken(q->out, &remark->pick);
    buf_addf(q->out, " GROUP BY bout, corner%s)", remark->round ? ", round" : "");
}

static void milestone(struct query *q)
{
    buf_adds(q->out, "SELECT nth, round, elapsed_ms FROM (SELECT row_number() OVER (" IN_ORDER
                     ") AS nth, round, elapsed_ms");
    from_strikes(q, 0, 0);
    of_own(q);
    if (q->remark->variant == MILESTONE_LANDED) {
        buf_adds(q->out, " AND " LANDED);
    }
    buf_addf(q->out, ") AS s WHERE nth = %lld", (long long)q->remark->number[0]);
}

static void first(struct query *q)
{
    buf_addf(q->out, "SELECT round, elapsed_ms, corner = '%s' AS own", q->own);
    from_strikes(q, 0, 0);
    buf_adds(q->out, " AND " LANDED);
    and_taken(q->out, &q->remark->pick);
    buf_adds(q->out, " " IN_ORDER " LIMIT 1");
}

/* Rows that landed in a row share the difference between their place among all and their place
 * among the landed. */
static void run(struct query *q)
{
    buf_adds(q->out, "WITH own AS MATERIALIZED (SELECT *");
    from_strikes(q, 0, 0);
    of_own(q);
    buf_adds(q->out, "), thrown AS (SELECT round, " LANDED
                     " AS landed, row_number() OVER (" IN_ORDER ") AS n FROM own WHERE true");
    and_taken(q->out, &q->remark->pick);
    buf_adds(q->out,
             "), island AS (SELECT count(*) AS length, max(n) AS last, min(round) AS from_round, "
             "max(round) AS to_round FROM (SELECT n, round, n - row_number() OVER (ORDER BY n) AS "
             "place FROM thrown WHERE landed) AS s GROUP BY place) "
             "SELECT length, (SELECT count(*) FROM thrown) - last AS since, from_round, to_round "
             "FROM island ORDER BY length DESC, last DESC LIMIT 1");
}

/* The round against those before, back to the first that was tagged. */
static void swing(struct query *q)
{
    static const char *const names[2][2] = {{"part", "whole"}, {"former_part", "former_whole"}};
    for (int i = 0; i < 2; i++) {
        const char *when = i ? "<" : "=";
        int round = q->remark->round;
        buf_addf(q->out, "%s count(*) FILTER (WHERE round %s %d", i ? "," : "SELECT", when, round);
        if (q->remark->variant == SWING_OUTPUT) {
            and_taken(q->out, &q->remark->pick);
        } else {
            buf_adds(q->out, " AND " LANDED);
        }
        buf_addf(q->out, ") AS %s, count(*) FILTER (WHERE round %s %d) AS %s", names[i][0], when,
                 round, names[i][1]);
    }
    from_rounds(q);
    of_own(q);
}

static void pace(struct query *q)
{
    int round = q->remark->round;
    if (q->remark->variant == PACE_CORNERS) {
        buf_addf(q->out,
                 "SELECT count(*) FILTER (WHERE corner = '%s') AS thrown, "
                 "count(*) FILTER (WHERE corner = '%s') AS than_thrown",
                 q->own, q->other);
        from_rounds(q);
        return;
    }
    buf_addf(q->out,
             "SELECT count(*) FILTER (WHERE round = %d) AS thrown, "
             "count(*) FILTER (WHERE round < %d) AS than_thrown",
             round, round);
    from_rounds(q);
    of_own(q);
}

static void stance(struct query *q)
{
    const char *from = stance_names[q->remark->pick.stance];
    buf_addf(q->out,
             "SELECT count(*) FILTER (WHERE stance = '%s' AND " LANDED ") AS part, "
             "count(*) FILTER (WHERE stance = '%s') AS whole, "
             "count(*) FILTER (WHERE stance <> '%s' AND " LANDED ") AS rest_part, "
             "count(*) FILTER (WHERE stance <> '%s') AS rest_whole",
             from, from, from, from);
    from_rounds(q);
    of_own(q);
}

static void origin(struct query *q)
{
    const char *from = stance_names[q->remark->pick.stance];
    buf_addf(q->out,
             "SELECT count(*) FILTER (WHERE taken AND stance = '%s') AS part, "
             "count(*) FILTER (WHERE taken) AS whole, "
             "count(*) FILTER (WHERE NOT taken AND stance = '%s') AS rest_part, "
             "count(*) FILTER (WHERE NOT taken) AS rest_whole FROM (SELECT stance, 1",
             from, from);
    and_taken(q->out, &q->remark->pick);
    buf_adds(q->out, " AS taken");
    from_strikes(q, 0, 0);
    of_own(q);
    buf_adds(q->out, ")");
}

static void setup(struct query *q)
{
    struct buf *out = q->out;
    buf_adds(out, "WITH own AS MATERIALIZED (SELECT *");
    from_rounds(q);
    of_own(q);
    buf_adds(out, "), b AS (SELECT " LANDED " AS hit, EXISTS (SELECT 1 FROM own AS a "
                  "WHERE a.round = own.round");
    buf_addf(out,
             " AND a.limb = '%s' AND a.target = '%s' AND a.at_ms >= own.at_ms - %d AND "
             "(a.at_ms, a.desk, a.seq) < (own.at_ms, own.desk, own.seq)) AS led FROM own WHERE true",
             limb_names[q->remark->first / TARGET_COUNT],
             target_names[q->remark->first % TARGET_COUNT], (int)q->remark->window_ms);
    and_code(out, q->remark->then);
    buf_adds(out, ") SELECT count(*) FILTER (WHERE led AND hit) AS landed, "
                  "count(*) FILTER (WHERE led) AS thrown, "
                  "count(*) FILTER (WHERE NOT led AND hit) AS otherwise_landed, "
                  "count(*) FILTER (WHERE NOT led) AS otherwise_thrown FROM b");
}

/* Knockdowns of a corner up to a strike: also those of which nobody saw the strike. */
#define SCORED_BY(corner)                                                                          \
    "(SELECT count(*) FROM knockdown AS k WHERE k.bout = strike.bout AND k.corner = '" corner      \
    "' AND (k.round, k.at_ms) <= (strike.round, strike.at_ms)) AS " corner

static void knockdown(struct query *q)
{
    buf_adds(q->out,
             "SELECT round, elapsed_ms, red, blue FROM (SELECT *, " SCORED_BY("red")
             ", " SCORED_BY("blue"));
    from_strikes(q, 0, 0);
    buf_addf(q->out, " AND knockdown) AS s WHERE red + blue = %lld",
             (long long)q->remark->number[2] + (long long)q->remark->number[3]);
    of_own(q);
    and_taken(q->out, &q->remark->pick);
}

void remark_query(struct buf *out, const struct remark *remark, const char *bout)
{
    static void (*const writers[REMARK_KINDS])(struct query *) = {
        [REMARK_KNOCKDOWN] = knockdown,
        [REMARK_LEAD] = lead,
        [REMARK_RUN] = run,
        [REMARK_FIRST] = first,
        [REMARK_FEWER_THROWN] = both_counts,
        [REMARK_SHARE] = share,
        [REMARK_ORIGIN] = origin,
        [REMARK_RECORD] = record,
        [REMARK_MILESTONE] = milestone,
        [REMARK_LANDED_MORE] = landed_more,
        [REMARK_ACCURACY] = both_counts,
        [REMARK_PACE] = pace,
        [REMARK_SWING] = swing,
        [REMARK_STANCE] = stance,
        [REMARK_SETUP] = setup,
    };
    struct query query = {
        .out = out,
        .remark = remark,
        .bout = bout,
        .own = corner_names[remark->corner],
        .other = corner_names[corner_other(remark->corner)],
    };
    writers[remark->kind](&query);
}
