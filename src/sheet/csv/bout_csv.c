/* bout_csv.c: sheet and counts as one tidy table, a figure a row, so that a spreadsheet filters it
 * and a program reads it by its column names. Columns that a row has no use for are empty; `round`
 * is empty for the whole bout; `value` holds what is no count. RFC 4180: CRLF, the same number of
 * columns in every row. */
#include "ringtally/tally/shares.h"
#include "sheet/officials_sheet.h"
#include "ringtally/bout/cautions.h"

#include <stdio.h>
#include <string.h>

#include "ringtally/base/when.h"

static void put_cell(struct buf *out, const char *text, bool guarded)
{
    /* What a spreadsheet takes for a formula, blanks before it or not, half width or full width. */
    static const char *const starts[] = {"=",
                                         "+",
                                         "-",
                                         "@",
                                         "\t",
                                         "\r",
                                         "\n",
                                         "\xef\xbc\x9d",
                                         "\xef\xbc\x8b",
                                         "\xef\xbc\x8d",
                                         "\xef\xbc\xa0"};
    const char *first = text + strspn(text, " ");
    bool quoted = strpbrk(text, ",\"\r\n") || *text == ' ';
    bool formula = false;
    for (size_t i = 0; i < sizeof starts / sizeof *starts; i++) {
        formula = formula || strncmp(first, starts[i], strlen(starts[i])) == 0;
    }
    buf_adds(out, quoted ? "\"" : "");
    buf_adds(out, formula && guarded ? "'" : "");
    for (; *text; text++) {
        buf_adds(out, *text == '"' ? "\"" : "");
        buf_add(out, text, 1);
    }
    buf_adds(out, quoted ? "\"" : "");
}

void csv_cell(struct buf *out, const char *text)
{
    put_cell(out, text, true);
}

/* The table in the making. */
struct table {
    struct buf *text;
    bool guarded;
};

/* One row. NULL is an empty cell. */
struct row {
    const char *section;
    int round; /* 0: empty */
    const char *clock, *corner, *item, *target;
    const struct count *count;
    const char *value;
};

static void cell(struct table *out, const char *text)
{
    buf_adds(out->text, ",");
    put_cell(out->text, text ? text : "", out->guarded);
}

static void put(struct table *out, const struct row *row)
{
    put_cell(out->text, row->section, out->guarded);
    if (row->round) {
        buf_addf(out->text, ",%d", row->round);
    } else {
        buf_adds(out->text, ",");
    }
    cell(out, row->clock);
    cell(out, row->corner);
    cell(out, row->item);
    cell(out, row->target);
    if (row->count) {
        buf_addf(out->text, ",%d,%d", row->count->attempted, row->count->landed);
    } else {
        buf_adds(out->text, ",,");
    }
    cell(out, row->value);
    buf_adds(out->text, "\r\n");
}

static void head_row(struct table *out, const char *corner, const char *item, const char *value)
{
    put(out, &(struct row){.section = "bout", .corner = corner, .item = item, .value = value});
}

static void number_row(struct table *out, const char *section, int round, const char *corner,
                       const char *item, long long number)
{
    char text[CELL_SIZE];
    snprintf(text, sizeof text, "%lld", number);
    put(out, &(struct row){section, round, NULL, corner, item, NULL, NULL, text});
}

static void head(struct table *out, const struct figures *figures)
{
    char as_of[WHEN_SIZE];
    buf_adds(out->text, "section,round,clock,corner,item,target,attempted,landed,value\r\n");
    head_row(out, NULL, "bout", figures->bout);
    head_row(out, NULL, "card", figures->title);
    head_row(out, NULL, "date", figures->date);
    head_row(out, NULL, "venue", figures->venue);
    head_row(out, NULL, "weight", figures->weight);
    head_row(out, NULL, "rules", figures->rules);
    head_row(out, NULL, "status", figures->status);
    head_row(out, NULL, "as_of", when_rfc3339(as_of, figures->view->now_ms));
    if (figures->windowed) {
        head_row(out, NULL, "window", figures->view->window->text);
    }
    number_row(out, "bout", 0, NULL, "entries", (long long)figures->entries);
    head_row(out, NULL, "clock_state", clock_state_names[figures->face.state]);
    number_row(out, "bout", 0, NULL, "clock_round", figures->face.round);
    number_row(out, "bout", 0, NULL, "clock_remaining_ms", figures->face.remaining_ms);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct fighter *fighter = &figures->fighter[corner];
        const char *name = corner_names[corner];
        head_row(out, name, "fighter", fighter->name);
        head_row(out, name, "short_name", fighter->short_name);
        head_row(out, name, "stance", stance_names[fighter->stance]);
        head_row(out, name, "from", fighter->from);
        head_row(out, name, "record", fighter->record);
    }
}

static void count_row(struct table *out, const char *section, int round, int corner,
                      const char *item, const char *target, const struct count *count)
{
    put(out, &(struct row){section, round, NULL, corner_names[corner], item, target, count, NULL});
}

static void corner_rows(struct table *out, const struct scope *scope, int corner)
{
    const struct corner_tally *tally = &scope->tally->corner[corner];
    const struct coverage_part *seen = &scope->seen[corner];
    const char *name = corner_names[corner];
    char text[CELL_SIZE];
    int round = scope->round;
    put(out, &(struct row){"total", round, NULL, name, "tagged", NULL, NULL,
                           seen->tagged ? "yes" : "no"});
    number_row(out, "total", round, name, "covered_ms", seen->covered_ms);
    number_row(out, "total", round, name, "unseen_ms", scope->unseen_ms[corner]);
    if (!seen->tagged) {
        return; /* nothing is known of it */
    }
    number_row(out, "total", round, name, "unsure", tally->unsure);
    count_row(out, "total", round, corner, "strikes", NULL, &tally->all);
    ratio_cell(text, tally->all.landed, tally->all.attempted, 4, "");
    put(out, &(struct row){"total", round, NULL, name, "accuracy", NULL, NULL, text});
    ratio_cell(text, (int64_t)tally->all.attempted * 60000,
               seen->covered_ms < RATE_LEAST_MS ? 0 : seen->covered_ms, 2, "");
    put(out, &(struct row){"total", round, NULL, name, "output_per_min", NULL, NULL, text});
    int64_t in_view = seen->covered_ms - scope->unseen_ms[corner];
    ratio_cell(text, (int64_t)tally->all.attempted * 60000, in_view < RATE_LEAST_MS ? 0 : in_view,
               2, "");
    put(out, &(struct row){"total", round, NULL, name, "output_seen_per_min", NULL, NULL, text});
    number_row(out, "total", round, name, "blocked", tally->blocked);
    number_row(out, "total", round, name, "knockdowns", tally->knockdowns);
    number_row(out, "total", round, name, "spinning", tally->spinning);
    number_row(out, "total", round, name, "jumping", tally->jumping);
    for (int i = 0; i < TARGET_COUNT; i++) {
        count_row(out, "target", round, corner, NULL, target_names[i], &tally->target[i]);
    }
    for (int i = 0; i < LIMB_COUNT; i++) {
        count_row(out, "limb", round, corner, limb_names[i], NULL, &tally->limb[i]);
    }
    for (int i = 0; i < LIMB_COUNT; i++) {
        for (int target = 0; target < TARGET_COUNT; target++) {
            count_row(out, "limb_target", round, corner, limb_names[i], target_names[target],
                      &tally->limb_target[i][target]);
        }
    }
    for (int i = 0; i < STANCE_COUNT; i++) {
        count_row(out, "stance", round, corner, stance_names[i], NULL, &tally->stance[i]);
    }
    for (int i = 0; i < POSITION_COUNT; i++) {
        count_row(out, "position", round, corner, position_names[i], NULL, &tally->position[i]);
    }
    for (int i = 0; i < GROUP_COUNT; i++) {
        count_row(out, "group", round, corner, group_names[i], NULL, &tally->group[i]);
    }
    for (int code = CODE_WARNING; code <= CODE_FOUL; code++) {
        number_row(out, "incidents", round, name, entry_code_names[code], tally->incidents[code]);
    }
    number_row(out, "incidents", round, name, "points_deducted", tally->deducted);
}

/* `item` says why, `value` until when on the round clock. */
static void gaps(struct table *out, const struct figures *figures)
{
    for (size_t i = 0; i < figures->coverage.gaps; i++) {
        const struct coverage_gap *gap = &figures->coverage.gap[i];
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            char from[WHEN_SIZE], to[WHEN_SIZE];
            if (gap->corners >> corner & 1) {
                put(out, &(struct row){"gap", gap->round, when_clock(from, gap->from_ms),
                                       corner_names[corner], coverage_why_words[gap->why], NULL,
                                       NULL, when_clock(to, gap->to_ms)});
            }
        }
    }
}

static void scope_rows(struct table *out, const struct scope *scope)
{
    number_row(out, "clock", scope->round, NULL, "running_ms", scope->ran_ms);
    number_row(out, "clock", scope->round, NULL, "clock_stops", scope->stops);
    number_row(out, "record", scope->round, NULL, "off_clock", scope->tally->off_clock);
    number_row(out, "record", scope->round, NULL, "review", scope->tally->review);
    number_row(out, "record", scope->round, NULL, "corrections", scope->tally->corrections);
    corner_rows(out, scope, CORNER_RED);
    corner_rows(out, scope, CORNER_BLUE);
}

/* `value` of a happening is the name of its entry: desk and number there. */
static void list(struct table *out, const struct figures *figures, enum list which)
{
    static const char *const sections[LIST_COUNT] = {"knockdown", "incident", "off_clock_strike",
                                                     "to_review"};
    for (size_t i = 0; i < figures->listed[which]; i++) {
        const struct happening *happening = &figures->list[which][i];
        const struct entry *now = &happening->subject->now;
        char at[WHEN_SIZE], name[DESK_NAME_SIZE + CELL_SIZE];
        snprintf(name, sizeof name, "%s #%lld", happening->desk, (long long)now->name.seq);
        put(out,
            &(struct row){sections[which], now->round, when_clock(at, now->elapsed_ms),
                          corner_names[now->strike.corner], happening->words, NULL, NULL, name});
    }
}

static void officials(struct table *out, const struct figures *figures)
{
    struct officials_part part;
    officials_part(&part, figures);
    for (int seat = 0; seat < part.cards; seat++) {
        const struct officials_card *card = &part.card[seat];
        for (int round = 1; round <= part.rounds; round++) {
            put(out, &(struct row){"card", round, NULL, NULL, card->judge, NULL, NULL,
                                   card->score[round - 1]});
        }
        put(out, &(struct row){"card", 0, NULL, NULL, card->judge, NULL, NULL, card->total});
    }
    for (int i = 0; i < part.lines; i++) {
        put(out,
            &(struct row){part.line[i].label, 0, NULL, NULL, part.line[i].text, NULL, NULL, NULL});
    }
    if (part.lines > 0) {
        put(out, &(struct row){"caution", 0, NULL, NULL, caution_cards, NULL, NULL, NULL});
    }
}

void sheet_csv(struct buf *text, const struct figures *figures)
{
    struct table table = {text, !figures->view->plain};
    struct table *out = &table;
    head(out, figures);
    scope_rows(out, &figures->whole);
    for (int i = 0; i < figures->rounds; i++) {
        scope_rows(out, &figures->round[i]);
    }
    gaps(out, figures);
    number_row(out, "record", figures->asked.round, NULL, "not_looked_at",
               (long long)figures->unlooked);
    for (int which = 0; which < LIST_COUNT; which++) {
        list(out, figures, which);
    }
    officials(out, figures);
    for (size_t i = 0; i < figures->terms; i++) {
        const struct term *term = &figures->term[i];
        char at[WHEN_SIZE];
        put(out, &(struct row){"official", term->round, when_clock(at, term->elapsed_ms), NULL,
                               office_names[term->office], NULL, NULL, term->desk});
    }
}

int counts_csv(struct buf *text, const struct sheet_view *view, struct error *err)
{
    struct table table = {text, !view->plain};
    struct figures figures;
    int code = figures_init(&figures, view, err);
    if (code) {
        return code;
    }
    head(&table, &figures);
    scope_rows(&table, &figures.asked);
    figures_release(&figures);
    return text->failed ? error_memory(err) : 0;
}
