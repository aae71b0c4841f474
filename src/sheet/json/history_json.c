/* history_json.c: a fighter's bouts as one JSON document (schema/history.schema.json). */
#include "ringtally/bout/cautions.h"
#include "ringtally/tally/shares.h"
#include "ringtally/sheet/history_sheet.h"
#include "ringtally/base/tree.h"

#include "sheet/json/leaf.h"
#include <stdlib.h>

/* Unknown where nobody tagged it; what is there all the same is known. */
static json_t *number(int value, bool tagged)
{
    return tagged || value > 0 ? json_integer(value) : json_null();
}

static json_t *side(const struct corner_tally *tally, int64_t covered_ms, bool tagged, bool *failed)
{
    json_t *object = json_object();
    tree_set(object, "tagged", json_boolean(tagged), failed);
    tree_set(object, "covered_ms", json_integer(covered_ms), failed);
    tree_set(object, "attempted", number(tally->all.attempted, tagged), failed);
    tree_set(object, "landed", number(tally->all.landed, tagged), failed);
    tree_set(object, "accuracy", leaf_ratio(tally->all.landed, tally->all.attempted), failed);
    tree_set(object, "output_per_min",
             leaf_ratio(tally->all.attempted * 60000.0,
                        covered_ms < RATE_LEAST_MS ? 0.0 : (double)covered_ms),
             failed);
    tree_set(object, "blocked", number(tally->blocked, tagged), failed);
    tree_set(object, "knockdowns", number(tally->knockdowns, tagged), failed);
    tree_set(object, "by_group",
             leaf_counts(group_names, tagged ? tally->group : NULL, GROUP_COUNT, failed), failed);
    tree_set(object, "by_limb",
             leaf_counts(limb_names, tagged ? tally->limb : NULL, LIMB_COUNT, failed), failed);
    tree_set(object, "by_target",
             leaf_counts(target_names, tagged ? tally->target : NULL, TARGET_COUNT, failed),
             failed);
    tree_set(object, "by_stance",
             leaf_counts(stance_names, tagged ? tally->stance : NULL, STANCE_COUNT, failed),
             failed);
    return object;
}

static void numbers(json_t *object, const struct history_bout *bout, bool *failed)
{
    tree_set(object, "rounds", json_integer(bout->rounds), failed);
    tree_set(object, "running_ms", json_integer(bout->ran_ms), failed);
    tree_set(object, "throws", side(&bout->own, bout->own_ms, bout->own_tagged, failed), failed);
    tree_set(object, "takes", side(&bout->taken, bout->taken_ms, bout->taken_tagged, failed),
             failed);
}

static json_t *bout_json(const struct history_bout *bout, bool *failed)
{
    json_t *object = json_object();
    tree_set(object, "bout", json_string(bout->bout), failed);
    tree_set(object, "card", json_string(bout->title), failed);
    tree_set(object, "date", json_string(bout->date), failed);
    tree_set(object, "corner", json_string(corner_names[bout->corner]), failed);
    tree_set(object, "against", json_string(bout->against), failed);
    tree_set(object, "signed", json_boolean(bout->closed), failed);
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
        tree_add(bouts, bout_json(&history->bout[i], &failed), &failed);
    }
    tree_set(all, "bouts_logged", json_integer((json_int_t)history->logged), &failed);
    tree_set(all, "bouts_untagged", json_integer((json_int_t)history->own_untagged), &failed);
    tree_set(all, "bouts_other_untagged", json_integer((json_int_t)history->taken_untagged),
             &failed);
    numbers(all, &history->all, &failed);
    tree_set(root, "fighter", json_string(history->name), &failed);
    tree_set(root, "all", all, &failed);
    tree_set(root, "bouts", bouts, &failed);
    tree_set(root, "caution", json_string(caution_history), &failed);
    return tree_write(out, root, failed, JSON_COMPACT | LEAF_DIGITS, err);
}
