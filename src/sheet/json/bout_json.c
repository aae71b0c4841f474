/* bout_json.c: counts and sheet as JSON documents. Keys come in the order in which they are set
 * here; schema/counts.schema.json and schema/sheet.schema.json describe them. */
#include "ringtally/tally/shares.h"
#include "sheet/checked.h"
#include "sheet/gate_json.h"
#include "sheet/officials_sheet.h"
#include "ringtally/bout/cautions.h"

#include "sheet/json/leaf.h"
#include <stdlib.h>

#include "ringtally/base/tree.h"
#include "ringtally/base/when.h"

static json_t *limb_targets(const struct corner_tally *tally, bool tagged, bool *failed)
{
    json_t *object = json_object();
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        tree_set(object, limb_names[limb],
                 leaf_counts(target_names, tagged ? tally->limb_target[limb] : NULL, TARGET_COUNT,
                             failed),
                 failed);
    }
    return object;
}

static json_t *incidents(const struct corner_tally *tally, bool *failed)
{
    json_t *object = json_object();
    for (int code = CODE_WARNING; code <= CODE_FOUL; code++) {
        tree_set(object, entry_code_names[code], json_integer(tally->incidents[code]), failed);
    }
    return object;
}

/* Unknown where nobody tagged the corner; what is there all the same is known. */
static json_t *number(int value, bool tagged)
{
    return tagged || value > 0 ? json_integer(value) : json_null();
}

/* When the corner was not covered. */
static json_t *gaps(const struct figures *figures, const struct scope *scope, int which,
                    bool *failed)
{
    static const char *const whys[COVERAGE_WHYS] = {"nobody_official", "desk_away"};
    json_t *array = json_array();
    for (size_t i = 0; i < figures->coverage.gaps; i++) {
        const struct coverage_gap *gap = &figures->coverage.gap[i];
        if (gap->corners >> which & 1 && gap_asked(figures, scope, gap)) {
            tree_add(array,
                     json_pack("{s:i, s:i, s:i, s:s}", "round", gap->round, "from_ms",
                               (int)gap->from_ms, "to_ms", (int)gap->to_ms, "why", whys[gap->why]),
                     failed);
        }
    }
    return array;
}

static void set_totals(json_t *object, const struct figures *figures, const struct scope *scope,
                       int which, bool *failed)
{
    const struct corner_tally *tally = &scope->tally->corner[which];
    const struct coverage_part *seen = &scope->seen[which];
    tree_set(object, "tagged", json_boolean(seen->tagged), failed);
    tree_set(object, "covered_ms",
             seen->covered_ms < 0 ? json_null() : json_integer(seen->covered_ms), failed);
    tree_set(object, "gaps", gaps(figures, scope, which, failed), failed);
    tree_set(object, "unseen_ms", json_integer(scope->unseen_ms[which]), failed);
    tree_set(object, "unsure", number(tally->unsure, seen->tagged), failed);
    tree_set(object, "attempted", number(tally->all.attempted, seen->tagged), failed);
    tree_set(object, "landed", number(tally->all.landed, seen->tagged), failed);
    tree_set(object, "blocked", number(tally->blocked, seen->tagged), failed);
    tree_set(object, "accuracy", leaf_ratio(tally->all.landed, tally->all.attempted), failed);
    tree_set(object, "output_per_min",
             leaf_ratio(tally->all.attempted * 60000.0,
                        seen->covered_ms < RATE_LEAST_MS ? 0.0 : (double)seen->covered_ms),
             failed);
    int64_t in_view = seen->covered_ms - scope->unseen_ms[which];
    tree_set(
        object, "output_seen_per_min",
        leaf_ratio(tally->all.attempted * 60000.0, in_view < RATE_LEAST_MS ? 0.0 : (double)in_view),
        failed);
}

static json_t *corner_object(const struct figures *figures, const struct scope *scope, int which,
                             bool *failed)
{
    const struct corner_tally *tally = &scope->tally->corner[which];
    const struct fighter *fighter = &figures->fighter[which];
    bool tagged = scope->seen[which].tagged;
    json_t *object = json_object();
    tree_set(object, "fighter", json_string(fighter->name), failed);
    tree_set(object, "short_name", json_string(fighter->short_name), failed);
    set_totals(object, figures, scope, which, failed);
    tree_set(object, "knockdowns", number(tally->knockdowns, tagged), failed);
    tree_set(object, "spinning", number(tally->spinning, tagged), failed);
    tree_set(object, "jumping", number(tally->jumping, tagged), failed);
    tree_set(object, "by_limb",
             leaf_counts(limb_names, tagged ? tally->limb : NULL, LIMB_COUNT, failed), failed);
    tree_set(object, "by_target",
             leaf_counts(target_names, tagged ? tally->target : NULL, TARGET_COUNT, failed),
             failed);
    tree_set(object, "by_limb_target", limb_targets(tally, tagged, failed), failed);
    tree_set(object, "by_stance",
             leaf_counts(stance_names, tagged ? tally->stance : NULL, STANCE_COUNT, failed),
             failed);
    tree_set(object, "by_position",
             leaf_counts(position_names, tagged ? tally->position : NULL, POSITION_COUNT, failed),
             failed);
    tree_set(object, "by_group",
             leaf_counts(group_names, tagged ? tally->group : NULL, GROUP_COUNT, failed), failed);
    tree_set(object, "incidents", incidents(tally, failed), failed);
    tree_set(object, "points_deducted", json_integer(tally->deducted), failed);
    return object;
}

/* What a scope has, both corners included. */
static void set_scope(json_t *object, const struct figures *figures, const struct scope *scope,
                      bool *failed)
{
    tree_set(object, "running_ms", scope->ran_ms < 0 ? json_null() : json_integer(scope->ran_ms),
             failed);
    tree_set(object, "clock_stops", json_integer(scope->stops), failed);
    tree_set(object, "off_clock", json_integer(scope->tally->off_clock), failed);
    tree_set(object, "review", json_integer(scope->tally->review), failed);
    tree_set(object, "corrections", json_integer(scope->tally->corrections), failed);
    tree_set(object, "red", corner_object(figures, scope, CORNER_RED, failed), failed);
    tree_set(object, "blue", corner_object(figures, scope, CORNER_BLUE, failed), failed);
}

static json_t *moment(int64_t utc_ms)
{
    char text[WHEN_SIZE];
    return utc_ms > 0 ? json_string(when_rfc3339(text, utc_ms)) : json_null();
}

static json_t *corners_of(uint8_t mask, bool *failed)
{
    json_t *array = json_array();
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        if (mask >> corner & 1) {
            tree_add(array, json_string(corner_names[corner]), failed);
        }
    }
    return array;
}

/* Who signs, scores or notes a time code has a row for it, and no desk. */
static bool is_clerk(const struct desk_row *row)
{
    return row->shadow && row->corners == 0;
}

/* Who counts, and when each gave the last sign of life: a quiet desk is no dead one. */
static json_t *desks(const struct figures *figures, bool *failed)
{
    static const enum entry_code codes[OFFICE_COUNT] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    const struct desk_row *rows = NULL;
    const struct sheet_view *view = figures->view;
    int count = fold_desks(view->fold, &rows);
    json_t *array = json_array();
    for (int i = 0; i < count; i++) {
        struct desk_sign sign = view->signs ? view->signs[i] : (struct desk_sign){0};
        if (rows[i].root != i || is_clerk(&rows[i])) { /* of a chain the first stands for all */
            continue;
        }
        json_t *offices = json_array();
        for (int office = 0; office < OFFICE_COUNT; office++) {
            if (fold_official(view->fold, codes[office]) == i) {
                tree_add(offices, json_string(office_names[office]), failed);
            }
        }
        json_t *object = json_object();
        tree_set(object, "desk", json_string(rows[i].uid), failed);
        tree_set(object, "name", json_string(figures->desk[i]), failed);
        tree_set(object, "corners", corners_of(rows[i].corners, failed), failed);
        tree_set(object, "shadow", json_boolean(rows[i].shadow), failed);
        tree_set(object, "official_for", offices, failed);
        tree_set(object, "state", json_string(sign_state_names[sign_state(&sign)]), failed);
        tree_set(object, "seen_at", moment(sign.seen_ms), failed);
        tree_set(object, "seen_age_ms", sign.seen_ms ? json_integer(sign.age_ms) : json_null(),
                 failed);
        tree_add(array, object, failed);
    }
    return array;
}

static int64_t wall_ms(const struct sheet_view *view)
{
    return view->wall_ms ? view->wall_ms : view->now_ms;
}

/* How old the newest entry is, and who is alive. */
static void set_signs(json_t *object, const struct figures *figures, bool *failed)
{
    const struct sheet_view *view = figures->view;
    int64_t newest_ms = fold_heard(view->fold, view->now_ms);
    int64_t age_ms = wall_ms(view) - newest_ms; /* negative: some machine's clock is ahead */
    tree_set(object, "newest_entry_at", moment(newest_ms), failed);
    tree_set(object, "newest_entry_age_ms", newest_ms ? json_integer(age_ms) : json_null(), failed);
    tree_set(object, "desks", desks(figures, failed), failed);
}

static json_t *clock_object(const struct clock_face *face)
{
    return json_pack("{s:s, s:i, s:i}", "state", clock_state_names[face->state], "round",
                     face->round, "remaining_ms", (int)face->remaining_ms);
}

static json_t *vote_object(bool voted, const struct vote *vote)
{
    return voted ? json_pack("{s:i, s:i, s:i}", "red", vote->red, "blue", vote->blue, "even",
                             vote->even)
                 : json_null();
}

static json_t *winner(uint8_t corner)
{
    return corner < CORNER_COUNT ? json_string(corner_names[corner]) : json_null();
}

static json_t *announced_object(const struct officials *officials)
{
    const struct official *official = &officials->official;
    if (!officials->announced) {
        return json_null();
    }
    return json_pack(
        "{s:s, s:o, s:o, s:o, s:o, s:o, s:b, s:b}", "kind", decision_ids[official->kind], "winner",
        winner(official->winner), "vote", vote_object(official->voted, &official->vote), "round",
        official->round ? json_integer(official->round) : json_null(), "elapsed_ms",
        official->elapsed_ms >= 0 ? json_integer(official->elapsed_ms) : json_null(), "referee",
        officials->referee[0] ? json_string(officials->referee) : json_null(), "overridden",
        officials->overridden ? 1 : 0, "as_implied", officials->as_implied ? 1 : 0);
}

/* The counts of the scope asked for: the whole of one document, the beginning of the other. */
/* null: not signed, or not looked at. */
static json_t *seal_object(const struct figures *figures)
{
    static const char *const kinds[] = {
        [SEAL_NONE] = "none", [SEAL_UNKEYED] = "unkeyed", [SEAL_KEYED] = "keyed"};
    const struct seal_state *seal = figures->view->seal;
    if (!figures->closed || !seal) {
        return json_null();
    }
    return json_pack("{s:s, s:o, s:b}", "kind", kinds[seal->kind], "key",
                     seal->key[0] ? json_string(seal->key) : json_null(), "holds", !seal->broken);
}

static json_t *counts(const struct figures *figures, bool *failed)
{
    char as_of[WHEN_SIZE];
    int round = figures->asked.round;
    json_t *object = json_object();
    tree_set(object, "bout", json_string(figures->bout), failed);
    tree_set(object, "round", round ? json_integer(round) : json_null(), failed);
    tree_set(object, "as_of", json_string(when_rfc3339(as_of, figures->view->now_ms)), failed);
    tree_set(object, "entries", json_integer((json_int_t)figures->entries), failed);
    set_signs(object, figures, failed);
    tree_set(object, "notice", json_string(counts_notice(figures->closed)), failed);
    tree_set(object, "signed", json_boolean(figures->closed), failed);
    tree_set(object, "signed_by", figures->closed ? json_string(figures->signer) : json_null(),
             failed);
    tree_set(object, "signed_at", moment(figures->signed_ms), failed);
    tree_set(object, "seal", seal_object(figures), failed);
    tree_set(object, "announced", announced_object(&figures->officials), failed);
    tree_set(object, "gate", gate_object(figures->view->gate), failed);
    tree_set(object, "clock", clock_object(&figures->face), failed);
    set_scope(object, figures, &figures->asked, failed);
    return object;
}

const char *counts_notice(bool is_signed)
{
    return is_signed ? caution_signed : caution_live;
}

/* From where on the counts are; null: they are of the round, or of all. */
static json_t *window_object(const struct figures *figures)
{
    const struct window *window = &figures->window;
    if (!figures->windowed) {
        return json_null();
    }
    return json_pack("{s:s, s:o, s:o, s:o}", "asked", figures->view->window->text, "round",
                     window->by_moment ? json_null() : json_integer(window->round), "elapsed_ms",
                     window->by_moment ? json_null() : json_integer(window->elapsed_ms), "from",
                     moment(window->at_ms));
}

/* Each round in short: what a table of rounds shows. */
static json_t *short_rounds(const struct figures *figures, bool *failed)
{
    json_t *array = json_array();
    for (int i = 0; i < figures->rounds; i++) {
        const struct scope *scope = &figures->round[i];
        json_t *round = json_object();
        tree_set(round, "round", json_integer(scope->round), failed);
        tree_set(round, "running_ms", json_integer(scope->ran_ms), failed);
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            const struct corner_tally *tally = &scope->tally->corner[corner];
            json_t *object = json_object();
            set_totals(object, figures, scope, corner, failed);
            tree_set(object, "knockdowns", json_integer(tally->knockdowns), failed);
            tree_set(object, "points_deducted", json_integer(tally->deducted), failed);
            tree_set(object, "by_target",
                     leaf_counts(target_names, tally->target, TARGET_COUNT, failed), failed);
            tree_set(round, corner_names[corner], object, failed);
        }
        tree_add(array, round, failed);
    }
    return array;
}

int counts_json(struct buf *out, const struct sheet_view *view, struct error *err)
{
    struct figures figures;
    bool failed = false;
    int code = figures_init(&figures, view, err);
    if (code) {
        return code;
    }
    json_t *document = counts(&figures, &failed);
    tree_set(document, "window", window_object(&figures), &failed);
    if (!figures.windowed && !figures.asked.round) {
        tree_set(document, "rounds", short_rounds(&figures, &failed), &failed);
    }
    figures_release(&figures);
    return tree_write(out, document, failed, JSON_COMPACT | LEAF_DIGITS, err);
}

int heartbeat_json(struct buf *out, const struct sheet_view *view, struct error *err)
{
    struct figures figures;
    struct sheet_view plain = *view;
    char now[WHEN_SIZE];
    bool failed = false;
    plain.window = NULL; /* who is alive has nothing to do with what is counted */
    int code = figures_init(&figures, &plain, err);
    if (code) {
        return code;
    }
    json_t *object = json_object();
    tree_set(object, "heartbeat", json_string(when_rfc3339(now, wall_ms(view))), &failed);
    tree_set(object, "bout", json_string(figures.bout), &failed);
    tree_set(object, "entries", json_integer((json_int_t)figures.entries), &failed);
    set_signs(object, &figures, &failed);
    tree_set(object, "gate", gate_object(view->gate), &failed);
    tree_set(object, "clock", clock_object(&figures.face), &failed);
    figures_release(&figures);
    return tree_write(out, object, failed, JSON_COMPACT | LEAF_DIGITS, err);
}

static json_t *fighter_object(const struct fighter *fighter)
{
    return json_pack("{s:s, s:s, s:s, s:s, s:s}", "name", fighter->name, "short_name",
                     fighter->short_name, "stance", stance_names[fighter->stance], "from",
                     fighter->from, "record", fighter->record);
}

static json_t *heading(const struct figures *figures, bool *failed)
{
    json_t *object = json_object();
    tree_set(object, "card", json_string(figures->title), failed);
    tree_set(object, "date", json_string(figures->date), failed);
    tree_set(object, "venue", json_string(figures->venue), failed);
    tree_set(object, "weight", json_string(figures->weight), failed);
    tree_set(object, "rules", json_string(figures->rules), failed);
    tree_set(object, "rounds", json_integer(figures->plan.rounds), failed);
    tree_set(object, "round_ms", json_integer(figures->plan.round_ms), failed);
    tree_set(object, "red", fighter_object(&figures->fighter[CORNER_RED]), failed);
    tree_set(object, "blue", fighter_object(&figures->fighter[CORNER_BLUE]), failed);
    tree_set(object, "status", json_string(figures->status), failed);
    json_t *limbs = json_array();
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        if (figures->limb_shown[limb]) {
            tree_add(limbs, json_string(limb_names[limb]), failed);
        }
    }
    tree_set(object, "limbs", limbs, failed);
    return object;
}

static json_t *scope_object(const struct figures *figures, const struct scope *scope, bool *failed)
{
    json_t *object = json_object();
    tree_set(object, "round", scope->round ? json_integer(scope->round) : json_null(), failed);
    set_scope(object, figures, scope, failed);
    return object;
}

static json_t *list(const struct figures *figures, enum list which, bool *failed)
{
    json_t *array = json_array();
    for (size_t i = 0; i < figures->listed[which]; i++) {
        const struct happening *happening = &figures->list[which][i];
        const struct entry *now = &happening->subject->now;
        tree_add(array,
                 json_pack("{s:i, s:i, s:s, s:s, s:s, s:I}", "round", now->round, "elapsed_ms",
                           (int)now->elapsed_ms, "corner", corner_names[now->strike.corner], "what",
                           happening->words, "desk", happening->desk, "seq",
                           (json_int_t)now->name.seq),
                 failed);
    }
    return array;
}

static json_t *terms(const struct figures *figures, bool *failed)
{
    json_t *array = json_array();
    for (size_t i = 0; i < figures->terms; i++) {
        const struct term *term = &figures->term[i];
        tree_add(array,
                 json_pack("{s:s, s:s, s:i, s:i}", "for", office_names[term->office], "desk",
                           term->desk, "round", term->round, "elapsed_ms", (int)term->elapsed_ms),
                 failed);
    }
    return array;
}

/* Points as JSON numbers: half points are exact. */
static json_t *points(int half)
{
    return half % 2 ? json_real(half / 2.0) : json_integer(half / 2);
}

static json_t *card_object(const struct figures *figures, const struct officials_part *part,
                           int seat, bool *failed)
{
    const struct scorecard *card = &figures->officials.card;
    json_t *scores = json_array();
    for (int round = 1; round <= part->rounds; round++) {
        if (card->given[seat][round - 1]) {
            tree_add(scores,
                     json_pack("{s:i, s:o, s:o}", "round", round, "red",
                               points(card->half[seat][round - 1][CORNER_RED]), "blue",
                               points(card->half[seat][round - 1][CORNER_BLUE])),
                     failed);
        }
    }
    struct card_total total =
        scorecard_total(card, figures->view->rules, seat + 1, 1, part->rounds, true);
    return json_pack("{s:s, s:o, s:{s:o, s:o}}", "judge", part->card[seat].judge, "scores", scores,
                     "total", "red", points(total.half[CORNER_RED]), "blue",
                     points(total.half[CORNER_BLUE]));
}

/* Cards, what they imply and what was announced; null while the scoring is closed. */
static json_t *officials_object(const struct figures *figures, bool *failed)
{
    const struct officials *officials = &figures->officials;
    const struct decision *implied = &officials->implied;
    struct officials_part part;
    officials_part(&part, figures);
    if (!part.shown || !part.open) {
        return json_null();
    }
    json_t *cards = json_array();
    for (int seat = 0; seat < part.cards; seat++) {
        tree_add(cards, card_object(figures, &part, seat, failed), failed);
    }
    const char *differs = officials_said(&part, "differs");
    const char *compared = officials_said(&part, "compared");
    return json_pack("{s:o, s:{s:s, s:s, s:o, s:o, s:s, s:s}, s:o, s:o, s:o, s:s}", "cards", cards,
                     "implied", "kind", decision_ids[implied->kind], "name", implied->name,
                     "winner", winner(implied->winner), "vote",
                     vote_object(implied->voted, &implied->vote), "reason", implied->reason,
                     "clause", implied->clause, "announced", announced_object(officials), "differs",
                     differs ? json_string(differs) : json_null(), "not_compared",
                     compared ? json_string(compared) : json_null(), "caution", caution_cards);
}

void officials_json(struct buf *out, const struct figures *figures)
{
    bool failed = false;
    json_t *document = json_object();
    tree_set(document, "bout", json_string(figures->bout), &failed);
    tree_set(document, "officials", officials_object(figures, &failed), &failed);
    tree_write(out, document, failed, JSON_INDENT(2) | LEAF_DIGITS, NULL);
}

void sheet_json(struct buf *out, const struct figures *figures)
{
    bool failed = false;
    json_t *rounds = json_array();
    json_t *document = counts(figures, &failed);
    tree_set(document, "heading", heading(figures, &failed), &failed);
    for (int i = 0; i < figures->rounds; i++) {
        tree_add(rounds, scope_object(figures, &figures->round[i], &failed), &failed);
    }
    tree_set(document, "rounds", rounds, &failed);
    tree_set(document, "whole", scope_object(figures, &figures->whole, &failed), &failed);
    for (int which = 0; which < LIST_COUNT; which++) {
        /* The plain names are numbers already. */
        static const char *const keys[LIST_COUNT] = {"knockdown_list", "incident_list",
                                                     "off_clock_list", "review_list"};
        tree_set(document, keys[which], list(figures, which, &failed), &failed);
    }
    tree_set(document, "not_looked_at", json_integer((json_int_t)figures->unlooked), &failed);
    tree_set(document, "official", terms(figures, &failed), &failed);
    tree_set(document, "officials", officials_object(figures, &failed), &failed);
    char line[256] = "";
    if (figures->checked) {
        reference_line(line, sizeof line, figures->checked->reference);
    }
    tree_set(document, "checked", line[0] ? json_string(line) : json_null(), &failed);
    tree_set(document, "check",
             figures->checked ? reference_tree(figures->checked, &failed) : json_null(), &failed);
    tree_write(out, document, failed, JSON_INDENT(2) | LEAF_DIGITS, NULL);
}
