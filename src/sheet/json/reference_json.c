/* reference_json.c: the live count against the recording, for machines:
 * schema/reference.schema.json. */
#include <jansson.h>
#include <math.h>

#include "ringtally/base/tree.h"
#include "ringtally/sheet/reference_sheet.h"

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

static json_t *lag_json(const struct reference *reference)
{
    return reference->has_lag
               ? json_pack("{s:f, s:f, s:f}", "median_ms", reference->lag_median_ms, "p90_ms",
                           reference->lag_p90_ms, "drift_ms_a_minute", reference->lag_drift_ms)
               : json_null();
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

static json_t *count_json(const int count[2])
{
    return json_pack("{s:i, s:i, s:o}", "attempted", count[0], "landed", count[1], "accuracy",
                     number(count[0] > 0, count[0] > 0 ? (double)count[1] / count[0] : 0));
}

int reference_sheet_json(struct buf *out, const struct reference_sheet_view *view,
                         struct error *err)
{
    const struct reference *reference = view->reference;
    struct buf name = BUF_INIT;
    bool failed = false;
    json_t *root = json_object(), *rows = json_array(), *figures = json_object();
    json_t *wrong = json_object();
    buf_addf(&name, "%s/%d", view->bout->card, view->bout->number);
    for (size_t i = 0; reference->tells && i < reference->rows; i++) {
        tree_add(rows, row_json(&reference->row[i], &failed), &failed);
    }
    for (int field = 0; field < AGREE_FIELDS; field++) {
        tree_set(wrong, agree_field_names[field], share_json(&reference->wrong[field]), &failed);
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct reference_figure *figure = &reference->figure[corner];
        tree_set(figures, corner_names[corner],
                 json_pack("{s:o, s:o}", "live", count_json(figure->live), "reference",
                           count_json(figure->reference)),
                 &failed);
    }
    tree_set(root, "bout", name.failed ? NULL : json_string(name.text), &failed);
    tree_set(root, "reference", json_string(view->by->name), &failed);
    tree_set(root, "live", view->live ? json_string(view->live->name) : json_null(), &failed);
    tree_set(root, "told_apart", json_boolean(reference->tells), &failed);
    tree_set(root, "strikes",
             json_pack("{s:I, s:I}", "reference", (json_int_t)reference->agree.a_count, "live",
                       (json_int_t)reference->agree.b_count),
             &failed);
    tree_set(root, "rows", rows, &failed);
    tree_set(root, "wrong", reference->tells ? wrong : json_null(), &failed);
    if (!reference->tells) {
        json_decref(wrong);
    }
    tree_set(root, "landed", reference->tells ? landed_json(reference, &failed) : json_null(),
             &failed);
    tree_set(root, "lag", reference->tells ? lag_json(reference) : json_null(), &failed);
    tree_set(root, "figures", figures, &failed);
    buf_release(&name);
    return tree_write(out, root, failed, JSON_COMPACT | DIGITS, err);
}
