/* reference_json.c: the live count against the recording, for machines:
 * schema/reference.schema.json. */
#include <jansson.h>
#include <math.h>

#include "ringtally/base/tree.h"
#include "sheet/checked.h"

#define DIGITS JSON_REAL_PRECISION(15)

static json_t *number(bool has, double value)
{
    return has && isfinite(value) ? json_real(value) : json_null();
}

static json_t *share_json(const struct estimate *share)
{
    return share->defined ? json_pack("{s:f, s:f, s:f}", "value", share->value, "low", share->low,
                                      "high", share->high)
                          : json_null();
}

static json_t *value_json(const struct reference_row *row)
{
    switch (row->by) {
    case BY_ALL:
        return json_null();
    case BY_CORNER:
        return json_string(corner_names[row->value]);
    case BY_LIMB:
        return json_string(limb_names[row->value]);
    case BY_TARGET:
        return json_string(target_names[row->value]);
    case BY_POSITION:
        return json_string(position_names[row->value]);
    default:
        return json_integer(row->value);
    }
}

static json_t *row_json(const struct reference_row *row, bool *failed)
{
    json_t *out = json_object(), *wrong = json_object();
    for (int field = 0; field < AGREE_FIELDS; field++) {
        tree_set(wrong, agree_field_names[field], json_real(row->wrong[field]), failed);
    }
    tree_set(out, "by", json_string(reference_by_names[row->by]), failed);
    tree_set(out, "value", value_json(row), failed);
    tree_set(out, "reference", json_integer(row->of), failed);
    tree_set(out, "had", json_real(row->had), failed);
    tree_set(out, "missed", json_real(row->of - row->had), failed);
    tree_set(out, "recall", share_json(&row->recall), failed);
    tree_set(out, "right", json_real(row->right), failed);
    tree_set(out, "right_first_time", json_real(row->first), failed);
    tree_set(out, "wrong", wrong, failed);
    tree_set(out, "added", json_real(row->added), failed);
    return out;
}

static json_t *lag_json(const struct reference *reference, bool *failed)
{
    json_t *rounds = json_array();
    for (int round = 1; round <= ROUND_MAX; round++) {
        const struct reference_lag *lag = &reference->lag_round[round];
        if (lag->of > 0) {
            tree_add(rounds,
                     json_pack("{s:i, s:i, s:f, s:f}", "round", round, "pairs", lag->of,
                               "median_ms", lag->median_ms, "p90_ms", lag->p90_ms),
                     failed);
        }
    }
    return json_pack("{s:f, s:f, s:f, s:i, s:o, s:s}", "median_ms", reference->lag.median_ms,
                     "p90_ms", reference->lag.p90_ms, "drift_ms_a_minute", reference->lag_drift_ms,
                     "pairs", reference->lag.of, "rounds", rounds, "of", reference_lag_note);
}

static json_t *landed_json(const struct reference *reference, bool *failed)
{
    const struct agree_field *field = &reference->agree.field[AGREE_LANDED];
    json_t *out = json_object();
    tree_set(out, "sensitivity", share_json(&reference->sensitivity), failed);
    tree_set(out, "positive_predictive_value", share_json(&reference->ppv), failed);
    tree_set(out, "kappa", number(field->kappa.agreement.defined, field->kappa.agreement.value),
             failed);
    tree_set(out, "ac1", number(field->ac1.defined, field->ac1.value), failed);
    return out;
}

static double accuracy(const int count[REFERENCE_COUNTS])
{
    int attempted = count[REFERENCE_ATTEMPTED];
    return attempted > 0 ? (double)count[REFERENCE_LANDED] / attempted : NAN;
}

static json_t *count_json(const int count[REFERENCE_COUNTS])
{
    return json_pack("{s:i, s:i, s:i, s:o}", "attempted", count[REFERENCE_ATTEMPTED], "landed",
                     count[REFERENCE_LANDED], "blocked", count[REFERENCE_BLOCKED], "accuracy",
                     number(true, accuracy(count)));
}

/* What the live figure is off by, as a share of what it would have been. */
static json_t *bias_json(const struct reference_figure *figure, enum reference_count which)
{
    double live = figure->live[which], is = figure->reference[which];
    return number(is > 0, is > 0 ? (live - is) / is : 0);
}

static json_t *figure_json(const struct reference_figure *figure)
{
    return json_pack("{s:o, s:o, s:{s:o, s:o, s:o, s:o}}", "live", count_json(figure->live),
                     "reference", count_json(figure->reference), "bias", "attempted",
                     bias_json(figure, REFERENCE_ATTEMPTED), "landed",
                     bias_json(figure, REFERENCE_LANDED), "blocked",
                     bias_json(figure, REFERENCE_BLOCKED), "accuracy",
                     number(true, accuracy(figure->live) - accuracy(figure->reference)));
}

json_t *reference_tree(const struct reference_sheet_view *view, bool *failed)
{
    const struct reference *reference = view->reference;
    struct buf name = BUF_INIT;
    json_t *root = json_object(), *rows = json_array(), *figures = json_object();
    json_t *wrong = json_object();
    buf_addf(&name, "%s/%d", view->bout->card, view->bout->number);
    for (size_t i = 0; reference->tells && i < reference->rows; i++) {
        tree_add(rows, row_json(&reference->row[i], failed), failed);
    }
    for (int field = 0; field < AGREE_FIELDS; field++) {
        tree_set(wrong, agree_field_names[field], share_json(&reference->wrong[field]), failed);
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        tree_set(figures, corner_names[corner], figure_json(&reference->figure[corner]), failed);
    }
    tree_set(root, "bout", name.failed ? NULL : json_string(name.text), failed);
    tree_set(root, "reference", json_string(view->by), failed);
    tree_set(root, "live", view->live ? json_string(view->live) : json_null(), failed);
    tree_set(root, "told_apart", json_boolean(reference->tells), failed);
    tree_set(root, "strikes",
             json_pack("{s:I, s:I}", "reference", (json_int_t)reference->agree.a_count, "live",
                       (json_int_t)reference->agree.b_count),
             failed);
    tree_set(root, "rows", rows, failed);
    tree_set(root, "wrong", reference->tells ? wrong : json_null(), failed);
    if (!reference->tells) {
        json_decref(wrong);
    }
    tree_set(root, "landed", reference->tells ? landed_json(reference, failed) : json_null(),
             failed);
    tree_set(root, "lag",
             reference->tells && reference->lag.of > 0 ? lag_json(reference, failed) : json_null(),
             failed);
    tree_set(root, "figures", figures, failed);
    buf_release(&name);
    return root;
}

int reference_sheet_json(struct buf *out, const struct reference_sheet_view *view,
                         struct error *err)
{
    bool failed = false;
    json_t *root = reference_tree(view, &failed);
    return tree_write(out, root, failed, JSON_COMPACT | DIGITS, err);
}
