/* callouts_sheet.c: the call-outs of a bout as text and as JSON. */
#include "ringtally/callouts_sheet.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>

#include "ringtally/text.h"
#include "ringtally/when.h"

#define DIGITS JSON_REAL_PRECISION(15)

#define NOTE_1 "Strikes come in combinations and are not independent:"
#define NOTE_2 "the true intervals are somewhat wider."

static bool speaks_of(const struct callout *callout, int round)
{
    return round == 0 || callout->round == round;
}

static size_t found(const struct callouts_view *view)
{
    size_t count = 0;
    for (size_t i = 0; i < view->callouts->count; i++) {
        count += speaks_of(&view->callouts->item[i], view->round);
    }
    return count;
}

static size_t shown(const struct callouts_view *view)
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

static void add_figure(struct buf *out, enum callout_evidence evidence, double value)
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

static void add_evidence(struct buf *out, const struct callout *callout,
                         const struct callouts *callouts)
{
    static const char *const words[EVIDENCE_KINDS] = {"", "share ", "difference in points ",
                                                      "ratio "};
    enum callout_evidence evidence = callout->evidence;
    const struct estimate *e = &callout->estimate;
    if (evidence == EVIDENCE_NONE) {
        return;
    }
    buf_addf(out, "    %s", words[evidence]);
    if (callout->bounded) {
        add_figure(out, evidence, e->value);
    } else {
        buf_adds(out, "-");
    }
    buf_adds(out, ", interval ");
    add_figure(out, evidence, e->low);
    buf_adds(out, " to ");
    if (callout->bounded) {
        add_figure(out, evidence, e->high);
    } else {
        buf_adds(out, "-");
    }
    if (callout->kind == CALLOUT_SETUP) {
        buf_adds(out, ", p ");
        add_fixed(out, callout->p, 3, false);
        buf_adds(out, ", adjusted ");
        add_fixed(out, callout->adjusted, 3, false);
        buf_addf(out, " for %zu pairs", callouts->pairs);
    }
    buf_adds(out, "\n");
}

static void add_percent(struct buf *out, double share)
{
    buf_addf(out, "%lld%%", llround(share * 100.0));
}

int callouts_text(struct buf *out, const struct callouts_view *view, struct error *err)
{
    char name[80];
    const struct callouts *callouts = view->callouts;
    size_t left = shown(view);
    bout_name(name, view->bout);
    buf_addf(out, "%s, ", name);
    if (view->round > 0) {
        buf_addf(out, "round %d: ", view->round);
    }
    buf_addf(out, "%zu of %zu call-outs\n\n", left, found(view));
    for (size_t i = 0; left > 0; i++) {
        const struct callout *callout = &callouts->item[i];
        if (speaks_of(callout, view->round)) {
            char words[CALLOUT_WORDS];
            callout_words(words, sizeof words, callout);
            buf_addf(out, "%s\n", words);
            add_evidence(out, callout, callouts);
            left--;
        }
    }
    if (found(view) == 0) {
        buf_adds(out, "Nothing that the numbers carry.\n");
    }
    buf_adds(out, "\nIntervals: ");
    add_percent(out, callouts->level);
    buf_addf(out, ". Compared: %d figures; without any difference ", callouts->looked_at);
    add_percent(out, 1.0 - callouts->level);
    buf_addf(out,
             " of them\nwould stand out by chance. Set-ups compared: %zu, false discoveries at ",
             callouts->pairs);
    add_percent(out, callouts->rate);
    buf_adds(out, ".\n" NOTE_1 "\n" NOTE_2 "\n");
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

static json_t *evidence_json(const struct callout *callout, bool *failed)
{
    const struct estimate *e = &callout->estimate;
    if (callout->evidence == EVIDENCE_NONE) {
        return json_null();
    }
    bool setup = callout->kind == CALLOUT_SETUP;
    json_t *object = json_object();
    set(object, "measure", json_string(evidence_names[callout->evidence]), failed);
    set(object, "value", number_or_null(callout->bounded, e->value), failed);
    set(object, "low", json_real(e->low), failed);
    set(object, "high", number_or_null(callout->bounded, e->high), failed);
    set(object, "p", number_or_null(setup, callout->p), failed);
    set(object, "adjusted_p", number_or_null(setup, callout->adjusted), failed);
    return object;
}

static json_t *numbers_json(const struct callout *callout, bool *failed)
{
    const char *const *names = callout_number_names(callout);
    json_t *object = json_object();
    for (int i = 0; i < CALLOUT_NUMBERS && names[i]; i++) {
        set(object, names[i], json_integer(callout->number[i]), failed);
    }
    return object;
}

static json_t *callout_json(const struct callout *callout, const char *bout, bool *failed)
{
    char words[CALLOUT_WORDS];
    struct buf query = BUF_INIT;
    const char *variant = callout_variant_name(callout);
    json_t *object = json_object();
    callout_words(words, sizeof words, callout);
    callout_query(&query, callout, bout);
    set(object, "kind", json_string(callout_kind_names[callout->kind]), failed);
    set(object, "variant", variant[0] ? json_string(variant) : json_null(), failed);
    set(object, "corner", json_string(corner_names[callout->corner]), failed);
    set(object, "round", callout->round ? json_integer(callout->round) : json_null(), failed);
    set(object, "text", json_string(words), failed);
    set(object, "numbers", numbers_json(callout, failed), failed);
    set(object, "running_ms",
        callout->kind == CALLOUT_PACE
            ? json_pack("[I, I]", (json_int_t)callout->ran_ms[0], (json_int_t)callout->ran_ms[1])
            : json_null(),
        failed);
    set(object, "evidence", evidence_json(callout, failed), failed);
    set(object, "query", query.failed ? NULL : json_string(query.text), failed);
    buf_release(&query);
    return object;
}

static json_t *document(const struct callouts_view *view, bool *failed)
{
    char name[80], moment[WHEN_SIZE];
    const struct callouts *callouts = view->callouts;
    size_t left = shown(view);
    json_t *root = json_object();
    json_t *list = json_array();
    bout_name(name, view->bout);
    for (size_t i = 0; left > 0; i++) {
        if (speaks_of(&callouts->item[i], view->round)) {
            json_t *item = callout_json(&callouts->item[i], name, failed);
            *failed = json_array_append_new(list, item) || *failed;
            left--;
        }
    }
    set(root, "bout", json_string(name), failed);
    set(root, "round", view->round ? json_integer(view->round) : json_null(), failed);
    set(root, "as_of", json_string(when_rfc3339(moment, view->now_ms)), failed);
    set(root, "level", json_real(callouts->level), failed);
    set(root, "compared", json_integer(callouts->looked_at), failed);
    set(root, "setups_compared", json_integer((json_int_t)callouts->pairs), failed);
    set(root, "false_discovery_rate", json_real(callouts->rate), failed);
    set(root, "note", json_string(NOTE_1 " " NOTE_2), failed);
    set(root, "found", json_integer((json_int_t)found(view)), failed);
    set(root, "callouts", list, failed);
    return root;
}

int callouts_json(struct buf *out, const struct callouts_view *view, struct error *err)
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
