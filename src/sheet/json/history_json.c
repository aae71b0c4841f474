/* history_json.c: a fighter's bouts as one JSON document (schema/history.schema.json). */
#include "ringtally/bout/cautions.h"
#include "ringtally/tally/shares.h"
#include "ringtally/sheet/history_sheet.h"

#include <jansson.h>
#include <stdlib.h>

#define DIGITS JSON_REAL_PRECISION(15)

/* Sets a key; a failed allocation sticks in *failed. */
static void set(json_t *object, const char *key, json_t *value, bool *failed)
{
    *failed = json_object_set_new(object, key, value) || *failed;
}

/* NULL for `count`: nobody tagged it, so that nothing is known. */
static json_t *leaf(const struct count *count)
{
    return !count ? json_pack("{s:n, s:n}", "attempted", "landed")
                  : json_pack("{s:i, s:i}", "attempted", count->attempted, "landed", count->landed);
}

static json_t *leaves(const char *const *names, const struct count *counts, int count, bool *failed)
{
    json_t *object = json_object();
    for (int i = 0; i < count; i++) {
        set(object, names[i], leaf(counts ? &counts[i] : NULL), failed);
    }
    return object;
}

static json_t *ratio(double numerator, double denominator)
{
    return denominator > 0 ? json_real(numerator / denominator) : json_null();
}

/* Unknown where nobody tagged it; what is there all the same is known. */
static json_t *number(int value, bool tagged)
{
    return tagged || value > 0 ? json_integer(value) : json_null();
}

static json_t *side(const struct corner_tally *tally, int64_t covered_ms, bool tagged, bool *failed)
{
    json_t *object = json_object();
    set(object, "tagged", json_boolean(tagged), failed);
    set(object, "covered_ms", json_integer(covered_ms), failed);
    set(object, "attempted", number(tally->all.attempted, tagged), failed);
    set(object, "landed", number(tally->all.landed, tagged), failed);
    set(object, "accuracy", ratio(tally->all.landed, tally->all.attempted), failed);
    set(object, "output_per_min",
        ratio(tally->all.attempted * 60000.0,
              covered_ms < RATE_LEAST_MS ? 0.0 : (double)covered_ms),
        failed);
    set(object, "blocked", number(tally->blocked, tagged), failed);
    set(object, "knockdowns", number(tally->knockdowns, tagged), failed);
    set(object, "by_group", leaves(group_names, tagged ? tally->group : NULL, GROUP_COUNT, failed),
        failed);
    set(object, "by_limb", leaves(limb_names, tagged ? tally->limb : NULL, LIMB_COUNT, failed),
        failed);
    set(object, "by_target",
        leaves(target_names, tagged ? tally->target : NULL, TARGET_COUNT, failed), failed);
    set(object, "by_stance",
        leaves(stance_names, tagged ? tally->stance : NULL, STANCE_COUNT, failed), failed);
    return object;
}

static void numbers(json_t *object, const struct history_bout *bout, bool *failed)
{
    set(object, "rounds", json_integer(bout->rounds), failed);
    set(object, "running_ms", json_integer(bout->ran_ms), failed);
    set(object, "throws", side(&bout->own, bout->own_ms, bout->own_tagged, failed), failed);
    set(object, "takes", side(&bout->taken, bout->taken_ms, bout->taken_tagged, failed), failed);
}

static json_t *bout_json(const struct history_bout *bout, bool *failed)
{
    json_t *object = json_object();
    set(object, "bout", json_string(bout->bout), failed);
    set(object, "card", json_string(bout->title), failed);
    set(object, "date", json_string(bout->date), failed);
    set(object, "corner", json_string(corner_names[bout->corner]), failed);
    set(object, "against", json_string(bout->against), failed);
    set(object, "signed", json_boolean(bout->closed), failed);
    numbers(object, bout, failed);
    return object;
}

int history_json(struct buf *out, const struct history *history, struct error *err)
{
    bool failed = false;
    json_t *root = json_object();
    json_t *bouts = json_array();
    json_t *all = json_object();
    for (size_t i = 0; i < history->count; i++) {
        failed = json_array_append_new(bouts, bout_json(&history->bout[i], &failed)) || failed;
    }
    set(all, "bouts_logged", json_integer((json_int_t)history->logged), &failed);
    set(all, "bouts_untagged", json_integer((json_int_t)history->own_untagged), &failed);
    set(all, "bouts_other_untagged", json_integer((json_int_t)history->taken_untagged), &failed);
    numbers(all, &history->all, &failed);
    set(root, "fighter", json_string(history->name), &failed);
    set(root, "all", all, &failed);
    set(root, "bouts", bouts, &failed);
    set(root, "caution", json_string(caution_history), &failed);
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
