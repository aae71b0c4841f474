/* remarks_sheet.c: the remarks of a bout as text and as JSON. */
#include "ringtally/sheet/remarks_sheet.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>

#include "ringtally/base/text.h"
#include "ringtally/bout/cautions.h"
#include "ringtally/base/when.h"

#define DIGITS JSON_REAL_PRECISION(15)

#define NOTE_1 "Strikes come in combinations and are not independent:"
#define NOTE_2 "the true intervals are somewhat wider."

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
    long long unit = digits == 1 ? 10 : digits == 2 ? 100 : 1000;
    long long scaled = llround(value * (double)unit);
    buf_addf(out, "%s%lld.%0*lld",
             scaled < 0 ? "-"
             : sign     ? "+"
                        : "",
             llabs(scaled) / unit, digits, llabs(scaled) % unit);
}

static void add_figure(struct buf *out, enum remark_evidence evidence, double value)
{
    if (evidence == EVIDENCE_SHARE) {
        add_fixed(out, value * 100.0, 1, false);
        buf_adds(out, "%");
    } else if (evidence == EVIDENCE_DIFFERENCE) {
        add_fixed(out, value * 100.0, 1, true);
    } else {
        add_fixed(out, value, 2, false);
    }
}

static void add_evidence(struct buf *out, const struct remark *remark,
                         const struct remarks *remarks)
{
    static const char *const words[EVIDENCE_KINDS] = {"", "share ", "difference in points ",
                                                      "ratio "};
    enum remark_evidence evidence = remark->evidence;
    const struct estimate *e = &remark->estimate;
    if (evidence == EVIDENCE_NONE) {
        return;
    }
    buf_addf(out, "    %s", words[evidence]);
    if (remark->bounded) {
        add_figure(out, evidence, e->value);
    } else {
        buf_adds(out, "-");
    }
    buf_adds(out, ", interval ");
    add_figure(out, evidence, e->low);
    buf_adds(out, " to ");
    if (remark->bounded) {
        add_figure(out, evidence, e->high);
    } else {
        buf_adds(out, "-");
    }
    if (remark->kind == REMARK_SETUP) {
        buf_adds(out, ", p ");
        add_fixed(out, remark->p, 3, false);
        buf_adds(out, ", adjusted ");
        add_fixed(out, remark->adjusted, 3, false);
        buf_addf(out, " for %zu pairs", remarks->pairs);
    }
    buf_adds(out, "\n");
}

static void add_percent(struct buf *out, double share)
{
    buf_addf(out, "%lld%%", llround(share * 100.0));
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
    buf_addf(out, "%zu of %zu remarks\n\n", left, found(view));
    for (size_t i = 0; left > 0; i++) {
        const struct remark *remark = &remarks->item[i];
        if (speaks_of(remark, view->round)) {
            char words[REMARK_WORDS];
            remark_words(words, sizeof words, remark);
            buf_addf(out, "%s\n", words);
            add_evidence(out, remark, remarks);
            left--;
        }
    }
    if (found(view) == 0) {
        buf_adds(out, "Nothing that the numbers carry.\n");
    }
    buf_adds(out, "\nIntervals: ");
    add_percent(out, remarks->level);
    buf_addf(out, ". Compared: %d figures; without any difference ", remarks->looked_at);
    add_percent(out, 1.0 - remarks->level);
    buf_addf(out,
             " of them\nwould stand out by chance. Set-ups compared: %zu, false discoveries at ",
             remarks->pairs);
    add_percent(out, remarks->rate);
    buf_addf(out, ".\n" NOTE_1 "\n" NOTE_2 "\n%s\n", caution_live);
    return out->failed ? error_memory(err) : 0;
}

/* Sets a key; a failed allocation sticks in *failed. */
static void set(json_t *object, const char *key, json_t *value, bool *failed)
{
    *failed = json_object_set_new(object, key, value) || *failed;
}

static json_t *number_or_null(bool defined, double value)
{
    return defined ? json_real(value) : json_null();
}

static json_t *evidence_json(const struct remark *remark, bool *failed)
{
    const struct estimate *e = &remark->estimate;
    if (remark->evidence == EVIDENCE_NONE) {
        return json_null();
    }
    bool setup = remark->kind == REMARK_SETUP;
    json_t *object = json_object();
    set(object, "measure", json_string(evidence_names[remark->evidence]), failed);
    set(object, "value", number_or_null(remark->bounded, e->value), failed);
    set(object, "low", json_real(e->low), failed);
    set(object, "high", number_or_null(remark->bounded, e->high), failed);
    set(object, "p", number_or_null(setup, remark->p), failed);
    set(object, "adjusted_p", number_or_null(setup, remark->adjusted), failed);
    return object;
}

static json_t *numbers_json(const struct remark *remark, bool *failed)
{
    const char *const *names = remark_number_names(remark);
    json_t *object = json_object();
    for (int i = 0; i < REMARK_NUMBERS && names[i]; i++) {
        set(object, names[i], json_integer(remark->number[i]), failed);
    }
    return object;
}

static json_t *remark_json(const struct remark *remark, const char *bout, bool *failed)
{
    char words[REMARK_WORDS];
    struct buf query = BUF_INIT;
    const char *variant = remark_variant_name(remark);
    json_t *object = json_object();
    remark_words(words, sizeof words, remark);
    remark_query(&query, remark, bout);
    set(object, "kind", json_string(remark_kind_names[remark->kind]), failed);
    set(object, "variant", variant[0] ? json_string(variant) : json_null(), failed);
    set(object, "corner", json_string(corner_names[remark->corner]), failed);
    set(object, "round", remark->round ? json_integer(remark->round) : json_null(), failed);
    set(object, "text", json_string(words), failed);
    set(object, "numbers", numbers_json(remark, failed), failed);
    set(object, "running_ms",
        remark->kind == REMARK_PACE
            ? json_pack("[I, I]", (json_int_t)remark->ran_ms[0], (json_int_t)remark->ran_ms[1])
            : json_null(),
        failed);
    set(object, "evidence", evidence_json(remark, failed), failed);
    set(object, "query", query.failed ? NULL : json_string(query.text), failed);
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
            json_t *item = remark_json(&remarks->item[i], name, failed);
            *failed = json_array_append_new(list, item) || *failed;
            left--;
        }
    }
    set(root, "bout", json_string(name), failed);
    set(root, "round", view->round ? json_integer(view->round) : json_null(), failed);
    set(root, "as_of", json_string(when_rfc3339(moment, view->now_ms)), failed);
    set(root, "level", json_real(remarks->level), failed);
    set(root, "compared", json_integer(remarks->looked_at), failed);
    set(root, "setups_compared", json_integer((json_int_t)remarks->pairs), failed);
    set(root, "false_discovery_rate", json_real(remarks->rate), failed);
    set(root, "note", json_string(NOTE_1 " " NOTE_2), failed);
    set(root, "caution", json_string(caution_live), failed);
    set(root, "found", json_integer((json_int_t)found(view)), failed);
    set(root, "remarks", list, failed);
    return root;
}

int remarks_json(struct buf *out, const struct remarks_view *view, struct error *err)
{
    bool failed = false;
    json_t *root = document(view, &failed);
    char *text = failed ? NULL : json_dumps(root, JSON_COMPACT | DIGITS);
    if (text) {
        buf_adds(out, text);
        buf_adds(out, "\n");
    }
    json_decref(root);
    int code = text && !out->failed ? 0 : error_memory(err);
    free(text);
    return code;
}
