/* agree_json.c: agreement for machines: schema/agree.schema.json. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>

#include "ringtally/sheet/agree_sheet.h"
#include "ringtally/base/tree.h"

#define DIGITS JSON_REAL_PRECISION(15)

/* Every maker returns NULL when out of memory; json_pack then gives up and frees the rest. */

static json_t *real_or_null(bool has, double value)
{
    return has && isfinite(value) ? json_real(value) : json_null();
}

static json_t *agreement_json(const struct agreement *agreement)
{
    return real_or_null(agreement->defined, agreement->value);
}

/* Appends, or drops the list. */
static json_t *appended(json_t *list, json_t *item)
{
    if (!list || json_array_append_new(list, item)) {
        if (!list) {
            json_decref(item);
        }
        json_decref(list);
        return NULL;
    }
    return list;
}

static const char *category_name(enum agree_fields field, int value)
{
    switch (field) {
    case AGREE_CORNER:
        return corner_names[value];
    case AGREE_LIMB:
        return limb_names[value];
    case AGREE_TARGET:
        return target_names[value];
    default:
        return value ? "landed" : "not_landed";
    }
}

static json_t *categories_json(const struct agree_field *field, enum agree_fields which)
{
    json_t *list = json_array();
    for (int i = 0; i < field->categories; i++) {
        list = appended(list, json_string(category_name(which, field->category[i])));
    }
    return list;
}

static json_t *table_json(const struct agree_field *field)
{
    json_t *rows = json_array();
    for (int row = 0; row < field->categories; row++) {
        json_t *cells = json_array();
        for (int column = 0; column < field->categories; column++) {
            cells = appended(cells, json_integer(field->table[row * field->categories + column]));
        }
        rows = appended(rows, cells);
    }
    return rows;
}

/* What is expected over all pairings; null where nothing can be told. */
static json_t *estimated_json(const struct agree *pair, const struct agree_field *field)
{
    const struct kappa *kappa = &field->estimated;
    json_t *table = json_array();
    if (!agree_tells(pair)) {
        json_decref(table);
        return json_null();
    }
    for (int row = 0; row < field->categories; row++) {
        json_t *cells = json_array();
        for (int column = 0; column < field->categories; column++) {
            cells = appended(cells, json_real(field->expected[row * field->categories + column]));
        }
        table = appended(table, cells);
    }
    return json_pack("{s:o, s:o, s:o, s:o}", "table", table, "agreed_share",
                     real_or_null(kappa->agreement.counted, kappa->agreement.observed), "kappa",
                     agreement_json(&kappa->agreement), "kappa_interval",
                     kappa->has_interval ? json_pack("[f, f]", kappa->low, kappa->high)
                                         : json_null());
}

static json_t *field_json(const struct agree *pair, enum agree_fields which)
{
    const struct agree_field *field = &pair->field[which];
    const struct kappa *kappa = &field->kappa;
    json_t *interval =
        kappa->has_interval ? json_pack("[f, f]", kappa->low, kappa->high) : json_null();
    return json_pack(
        "{s:o, s:o, s:I, s:I, s:I, s:I, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "categories",
        categories_json(field, which), "table", table_json(field), "paired",
        (json_int_t)pair->align.paired, "agreed", (json_int_t)field->agreed, "only_a",
        (json_int_t)pair->align.only_a, "only_b", (json_int_t)pair->align.only_b, "agreed_share",
        real_or_null(kappa->agreement.counted, kappa->agreement.observed), "kappa",
        agreement_json(&kappa->agreement), "kappa_se", real_or_null(kappa->has_interval, kappa->se),
        "kappa_interval", interval, "kappa_word",
        kappa->agreement.defined ? json_string(kappa_word(kappa->agreement.value)) : json_null(),
        "alpha", agreement_json(&field->alpha), "ac1", agreement_json(&field->ac1), "yule_q",
        real_or_null(field->has_q, field->q), "estimated", estimated_json(pair, field));
}

static json_t *fields_json(const struct agree *pair)
{
    return json_pack("{s:o, s:o, s:o, s:o}", agree_field_names[AGREE_CORNER],
                     field_json(pair, AGREE_CORNER), agree_field_names[AGREE_LIMB],
                     field_json(pair, AGREE_LIMB), agree_field_names[AGREE_TARGET],
                     field_json(pair, AGREE_TARGET), agree_field_names[AGREE_LANDED],
                     field_json(pair, AGREE_LANDED));
}

static json_t *totals_json(const struct agree *pair)
{
    json_t *list = json_array();
    for (int i = 0; i < pair->totals; i++) {
        const struct agree_total *total = &pair->total[i];
        list = appended(
            list,
            json_pack("{s:s, s:o, s:s, s:i, s:i, s:o}", "corner", corner_names[total->corner],
                      "limb", total->limb < 0 ? json_null() : json_string(limb_names[total->limb]),
                      "count", total->landed ? "landed" : "attempted", "a", total->a, "b", total->b,
                      "error_percent", real_or_null(total->has_error, total->error)));
    }
    return list;
}

static json_t *cells_json(const struct agree_cells *cells)
{
    return json_pack("{s:i, s:i, s:i}", "used", cells->used, "exact", cells->exact, "within_one",
                     cells->within_one);
}

static json_t *lateness_json(const struct agree *pair)
{
    const struct agree_lateness *lateness = &pair->lateness;
    return json_pack("{s:i, s:o, s:o, s:o}", "taken_out_ms", (int)pair->align.lateness_ms,
                     "median_ms", real_or_null(lateness->defined, lateness->median),
                     "lower_quartile_ms", real_or_null(lateness->defined, lateness->low),
                     "upper_quartile_ms", real_or_null(lateness->defined, lateness->high));
}

static json_t *rounds_json(const struct align *align)
{
    json_t *list = json_array();
    for (int i = 0; i < align->rounds; i++) {
        const struct align_round *round = &align->round[i];
        list = appended(
            list, json_pack("{s:i, s:s, s:I, s:f, s:f, s:f, s:f, s:b}", "round", (int)round->round,
                            "base", round->base == ALIGN_UTC ? "utc" : "clock", "strikes_a",
                            (json_int_t)round->strikes, "paired", round->paired, "chance",
                            round->chance, "lateness_ms", round->lateness_ms, "drift_ms_a_minute",
                            round->drift, "at_limit", (int)round->at_limit));
    }
    return list;
}

static json_t *expected_json(const struct agree *pair)
{
    const struct align *align = &pair->align;
    if (!agree_tells(pair)) {
        return json_null();
    }
    return json_pack("{s:f, s:f, s:f, s:f}", "paired", align->expected, "only_a",
                     fmax((double)pair->a_count - align->expected, 0), "only_b",
                     fmax((double)pair->b_count - align->expected, 0), "wrong_pairs", align->wrong);
}

static json_t *warnings_json(const struct agree *pair)
{
    json_t *list = json_array();
    for (int i = 0; i < AGREE_WARNINGS; i++) {
        if (pair->warnings >> i & 1) {
            list = appended(list, json_string(agree_warning_names[i]));
        }
    }
    return list;
}

static json_t *strike_json(const struct align_strike *strike, const struct desk_row *desk)
{
    if (!strike) {
        return json_null();
    }
    return json_pack("{s:s, s:I, s:i, s:i, s:b, s:i, s:s, s:s, s:s, s:s}", "desk", desk->uid, "seq",
                     (json_int_t)strike->name.seq, "round", (int)strike->round, "elapsed_ms",
                     (int)strike->elapsed_ms, "off_clock", (int)strike->off_clock, "idle_ms",
                     (int)strike->idle_ms, "corner", corner_names[strike->strike.corner], "limb",
                     limb_names[strike->strike.limb], "target", target_names[strike->strike.target],
                     "outcome", outcome_names[strike->strike.outcome]);
}

static json_t *difference_json(const struct agree *pair, const struct agree_difference *difference,
                               const struct desk_row *desks)
{
    struct align_link link = difference->link;
    const struct align_strike *a = link.a >= 0 ? &pair->a[link.a] : NULL;
    const struct align_strike *b = link.b >= 0 ? &pair->b[link.b] : NULL;
    json_t *fields = json_array();
    for (int i = 0; i < AGREE_FIELDS; i++) {
        if (difference->fields >> i & 1) {
            fields = appended(fields, json_string(agree_field_names[i]));
        }
    }
    return json_pack("{s:s, s:f, s:o, s:o, s:o}", "kind",
                     a && b ? "fields"
                     : a    ? "only_a"
                            : "only_b",
                     "likely", link.likely, "fields", fields, "a",
                     strike_json(a, a ? &desks[a->name.desk] : NULL), "b",
                     strike_json(b, b ? &desks[b->name.desk] : NULL));
}

static json_t *pair_json(const struct agree_sheet_view *view, int index)
{
    const struct agree *pair = &view->pair[index];
    json_t *differences = json_array();
    for (size_t i = 0; i < pair->differences; i++) {
        differences =
            appended(differences, difference_json(pair, &pair->difference[i], view->all_desks));
    }
    return json_pack(
        "{s:s, s:s, s:I, s:I, s:I, s:o, s:f, s:f, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "a",
        view->desk[0]->uid, "b", view->desk[index + 1]->uid, "paired",
        (json_int_t)pair->align.paired, "only_a", (json_int_t)pair->align.only_a, "only_b",
        (json_int_t)pair->align.only_b, "estimated", expected_json(pair), "chance_pairs",
        pair->align.chance, "jitter_ms", pair->align.jitter_ms, "warnings", warnings_json(pair),
        "rounds", rounds_json(&pair->align), "lateness", lateness_json(pair), "fields",
        fields_json(pair), "totals", totals_json(pair), "cells_attempted",
        cells_json(&pair->attempted), "cells_landed", cells_json(&pair->landed), "differences",
        differences);
}

static json_t *many_json(const struct agree_many *many)
{
    if (!many) {
        return json_null();
    }
    json_t *fields = json_object();
    for (int i = 0; fields && i < AGREE_FIELDS; i++) {
        if (json_object_set_new(fields, agree_field_names[i],
                                json_pack("{s:o, s:o, s:o}", "fleiss_kappa",
                                          agreement_json(&many->field[i].fleiss), "alpha",
                                          agreement_json(&many->field[i].alpha), "ac1",
                                          agreement_json(&many->field[i].ac1)))) {
            json_decref(fields);
            fields = NULL;
        }
    }
    return json_pack("{s:I, s:I, s:o}", "strikes", (json_int_t)many->strikes, "shared",
                     (json_int_t)many->shared, "fields", fields);
}

static json_t *desks_json(const struct agree_sheet_view *view)
{
    json_t *list = json_array();
    for (int i = 0; i < view->desks; i++) {
        const struct desk_row *desk = view->desk[i];
        size_t strikes = i > 0 ? view->pair[i - 1].b_count : view->pair[0].a_count;
        list = appended(list, json_pack("{s:s, s:s, s:s, s:b, s:I}", "desk", desk->uid, "name",
                                        desk->name, "operator", desk->operator_, "shadow",
                                        (int)desk->shadow, "strikes", (json_int_t)strikes));
    }
    return list;
}

static json_t *options_json(const struct align_options *options)
{
    return json_pack("{s:i, s:i, s:i, s:i, s:i, s:i, s:i, s:i}", "window_ms",
                     (int)options->window_ms, "lateness_max_ms", (int)options->lateness_max_ms,
                     "cost_alone", (int)options->alone, "cost_corner", (int)options->corner,
                     "cost_side", (int)options->side, "cost_limb", (int)options->limb,
                     "cost_target", (int)options->target, "cost_outcome", (int)options->outcome);
}

int agree_sheet_json(struct buf *out, const struct agree_sheet_view *view, struct error *err)
{
    struct buf name = BUF_INIT;
    json_t *pairs = json_array();
    for (int i = 0; i + 1 < view->desks; i++) {
        pairs = appended(pairs, pair_json(view, i));
    }
    buf_addf(&name, "%s/%d", view->bout->card, view->bout->number);
    json_t *document =
        json_pack("{s:s, s:o, s:o, s:o, s:o}", "bout", name.failed ? NULL : name.text, "alignment",
                  options_json(view->options), "desks", desks_json(view), "pairs", pairs, "all",
                  many_json(view->many));
    buf_release(&name);
    return tree_write(out, document, false, JSON_COMPACT | DIGITS, err);
}
