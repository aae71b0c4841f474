/* remarks_sheet.c: the remarks of a bout as text and as JSON. */
#include "ringtally/sheet/remarks_sheet.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>

#include "ringtally/base/text.h"
#include "ringtally/bout/cautions.h"
#include "ringtally/base/tree.h"
#include "ringtally/base/when.h"

#define DIGITS JSON_REAL_PRECISION(15)

#define NOTE                                                                                       \
    "A fact tells counts. A finding was held against chance at the bell of its round: intervals "  \
    "know that strikes come in combinations."

static bool speaks_of(const struct remark *remark, int round)
{
    return round == 0 || remark->round == round;
}

static size_t found(const struct remarks_view *view)
{
    size_t count = 0;
    for (size_t i = 0; i < view->remarks->count; i++) {
        count += speaks_of(&view->remarks->item[i], view->round);
    }
    return count;
}

static size_t shown(const struct remarks_view *view)
{
    size_t count = found(view);
    return view->top > 0 && (size_t)view->top < count ? (size_t)view->top : count;
}

static void bout_name(char out[80], const struct bout *bout)
{
    char id[sizeof bout->card];
    if (!text_clean(id, sizeof id, bout->card)) {
        snprintf(id, sizeof id, "-");
    }
    snprintf(out, 80, "%s/%d", id, bout->number);
}

/* `value` with so many digits and a point in every locale; `sign`: also a plus. */
static void add_fixed(struct buf *out, double value, int digits, bool sign)
{
    long long unit = digits == 1 ? 10 : digits == 2 ? 100 : 10000;
    long long scaled = llround(value * (double)unit);
    buf_addf(out, "%s%lld.%0*lld",
             scaled < 0 ? "-"
             : sign     ? "+"
                        : "",
             llabs(scaled) / unit, digits, llabs(scaled) % unit);
}

/* Points of a share, strikes a minute of a rate. */
static void add_figure(struct buf *out, enum remark_evidence evidence, double value)
{
    add_fixed(out, evidence == EVIDENCE_DIFFERENCE ? value * 100.0 : value, 1, true);
}

static void add_evidence(struct buf *out, const struct remark *remark)
{
    enum remark_evidence evidence = remark->evidence;
    const struct estimate *e = &remark->estimate;
    if (!remark_is_finding(remark)) {
        return;
    }
    buf_adds(out, "    difference ");
    add_figure(out, evidence, e->value);
    buf_adds(out, evidence == EVIDENCE_DIFFERENCE ? " points, interval " : " a minute, interval ");
    add_figure(out, evidence, e->low);
    buf_adds(out, " to ");
    add_figure(out, evidence, e->high);
    buf_adds(out, ", p ");
    add_fixed(out, remark->p, 4, false);
    buf_adds(out, ", adjusted ");
    add_fixed(out, remark->adjusted, 4, false);
    buf_adds(out, "\n");
}

static void add_percent(struct buf *out, double share, int digits)
{
    if (digits) {
        add_fixed(out, share * 100.0, digits, false);
    } else {
        buf_addf(out, "%lld", llround(share * 100.0));
    }
    buf_adds(out, "%");
}

/* What was looked at, how sure it is, and what could not have been seen. */
static void add_foot(struct buf *out, const struct remarks *remarks)
{
    bool setup = false;
    if (remarks->bell == 0) {
        buf_adds(out, "Facts only: findings are formed when a round is over.\n");
        return;
    }
    for (size_t i = 0; i < remarks->count; i++) {
        setup = setup || remarks->item[i].kind == REMARK_SETUP;
    }
    buf_addf(out, "At the bell of round %d: %d comparison%s and %zu set-up%s looked at, ",
             remarks->bell, remarks->looked_at, remarks->looked_at == 1 ? "" : "s", remarks->pairs,
             remarks->pairs == 1 ? "" : "s");
    add_percent(out, remarks->spent, 2);
    buf_adds(out, " of error spent.\nWhere nothing differs, no more than ");
    add_percent(out, remarks->error, 0);
    buf_adds(out, " of bouts have any finding. Intervals: ");
    add_percent(out, remarks->level, 0);
    buf_adds(out, ".\n");
    if (!setup) {
        buf_adds(
            out,
            "No set-up found (within two seconds); one of +30 points would have been found in ");
        add_percent(out, remarks->setup_chance, 0);
        buf_adds(out, " of such bouts.\n");
    }
}

int remarks_text(struct buf *out, const struct remarks_view *view, struct error *err)
{
    char name[80];
    const struct remarks *remarks = view->remarks;
    size_t left = shown(view);
    bout_name(name, view->bout);
    buf_addf(out, "%s, ", name);
    if (view->round > 0) {
        buf_addf(out, "round %d: ", view->round);
    }
    buf_addf(out, "%zu of %zu remark%s\n\n", left, found(view), found(view) == 1 ? "" : "s");
    for (size_t i = 0; left > 0; i++) {
        const struct remark *remark = &remarks->item[i];
        if (speaks_of(remark, view->round)) {
            char words[REMARK_WORDS];
            remark_words(words, sizeof words, remark, view->bout);
            buf_addf(out, "%s\n", words);
            add_evidence(out, remark);
            left--;
        }
    }
    if (found(view) == 0) {
        buf_adds(out, "Nothing that the numbers carry.\n");
    }
    buf_adds(out, "\n");
    add_foot(out, remarks);
    buf_add_wrapped(out, caution_remarks, 0, 80);
    return out->failed ? error_memory(err) : 0;
}

static json_t *evidence_json(const struct remark *remark, bool *failed)
{
    const struct estimate *e = &remark->estimate;
    if (!remark_is_finding(remark)) {
        return json_null();
    }
    json_t *object = json_object();
    tree_set(object, "measure", json_string(evidence_names[remark->evidence]), failed);
    tree_set(object, "value", json_real(e->value), failed);
    tree_set(object, "low", json_real(e->low), failed);
    tree_set(object, "high", json_real(e->high), failed);
    tree_set(object, "p", json_real(remark->p), failed);
    tree_set(object, "adjusted_p", json_real(remark->adjusted), failed);
    return object;
}

static json_t *numbers_json(const struct remark *remark, bool *failed)
{
    const char *const *names = remark_number_names(remark);
    json_t *object = json_object();
    for (int i = 0; i < REMARK_NUMBERS && names[i]; i++) {
        tree_set(object, names[i], json_integer(remark->number[i]), failed);
    }
    return object;
}

static json_t *remark_json(const struct remark *remark, const struct bout *bout, const char *name,
                           bool *failed)
{
    char words[REMARK_WORDS];
    struct buf query = BUF_INIT;
    const char *variant = remark_variant_name(remark);
    json_t *object = json_object();
    remark_words(words, sizeof words, remark, bout);
    remark_query(&query, remark, name);
    tree_set(object, "sort", json_string(remark_is_finding(remark) ? "finding" : "fact"), failed);
    tree_set(object, "kind", json_string(remark_kind_names[remark->kind]), failed);
    tree_set(object, "variant", variant[0] ? json_string(variant) : json_null(), failed);
    tree_set(object, "corner", json_string(corner_names[remark->corner]), failed);
    tree_set(object, "round", remark->round ? json_integer(remark->round) : json_null(), failed);
    tree_set(object, "through_round",
             remark_is_finding(remark) ? json_integer(remark->through) : json_null(), failed);
    tree_set(object, "text", json_string(words), failed);
    tree_set(object, "numbers", numbers_json(remark, failed), failed);
    tree_set(object, "running_ms",
             remark->evidence == EVIDENCE_PER_MINUTE
                 ? json_pack("[I, I]", (json_int_t)remark->ran_ms[0], (json_int_t)remark->ran_ms[1])
                 : json_null(),
             failed);
    tree_set(object, "evidence", evidence_json(remark, failed), failed);
    tree_set(object, "query", query.failed ? NULL : json_string(query.text), failed);
    buf_release(&query);
    return object;
}

static json_t *document(const struct remarks_view *view, bool *failed)
{
    char name[80], moment[WHEN_SIZE];
    const struct remarks *remarks = view->remarks;
    size_t left = shown(view);
    json_t *root = json_object();
    json_t *list = json_array();
    bout_name(name, view->bout);
    for (size_t i = 0; left > 0; i++) {
        if (speaks_of(&remarks->item[i], view->round)) {
            json_t *item = remark_json(&remarks->item[i], view->bout, name, failed);
            tree_add(list, item, failed);
            left--;
        }
    }
    tree_set(root, "bout", json_string(name), failed);
    tree_set(root, "round", view->round ? json_integer(view->round) : json_null(), failed);
    tree_set(root, "as_of", json_string(when_rfc3339(moment, view->now_ms)), failed);
    tree_set(root, "level", json_real(remarks->level), failed);
    tree_set(root, "rounds_over", json_integer(remarks->over), failed);
    tree_set(root, "bell", remarks->bell ? json_integer(remarks->bell) : json_null(), failed);
    tree_set(root, "compared", json_integer(remarks->looked_at), failed);
    tree_set(root, "setups_compared", json_integer((json_int_t)remarks->pairs), failed);
    tree_set(root, "setup_chance", json_real(remarks->setup_chance), failed);
    tree_set(root, "false_discovery_rate", json_real(remarks->error), failed);
    tree_set(root, "error_spent", json_real(remarks->spent), failed);
    tree_set(root, "note", json_string(NOTE), failed);
    tree_set(root, "caution", json_string(caution_remarks), failed);
    tree_set(root, "found", json_integer((json_int_t)found(view)), failed);
    tree_set(root, "remarks", list, failed);
    return root;
}

int remarks_json(struct buf *out, const struct remarks_view *view, struct error *err)
{
    bool failed = false;
    json_t *root = document(view, &failed);
    return tree_write(out, root, failed, JSON_COMPACT | DIGITS, err);
}
