/* history_sheet.c: a fighter's history as text. */
#include "ringtally/sheet/history_sheet.h"
#include "ringtally/base/grow.h"
#include "ringtally/bout/cautions.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/insight/slices.h"
#include "ringtally/tally/shares.h"
#include "sheet/coach_page.h"

static void clean(char *out, size_t size, const char *text)
{
    if (!text_clean(out, size, text)) {
        snprintf(out, size, "?");
    }
}

static void add_slices(struct piece_sums sums[HISTORY_SPLITS], const struct slices *slices,
                       enum corner corner)
{
    static const struct {
        enum measure measure;
        int count;
    } splits[] = {{MEASURE_ACCURACY, 1},
                  {MEASURE_GROUP, GROUP_COUNT},
                  {MEASURE_AT, TARGET_COUNT},
                  {MEASURE_STANCE, STANCE_COUNT}};
    for (size_t i = 0; i < sizeof splits / sizeof *splits; i++) {
        for (int which = 0; which < splits[i].count; which++) {
            slices_sum(sums++, slices,
                       (struct span){corner, 1, slices->last, splits[i].measure, which});
        }
    }
}

int history_add(struct history *history, const struct sheet_view *view, enum corner corner,
                const char *title, const char *date, struct error *err)
{
    const struct tally *tally = fold_tally(view->fold);
    struct stream stream = {NULL, 0};
    struct slices slices = {.room = NULL};
    if (!grow_array(&history->bout, sizeof *history->bout, history->count, 1, &history->room)) {
        return error_memory(err);
    }
    int code = stream_init(&stream, view->fold, err);
    code = code ? code : slices_init(&slices, view->fold, &stream, view->signs, view->now_ms, err);
    stream_release(&stream);
    if (code) {
        return code;
    }
    const struct coverage_part own = *coverage_of(&slices.coverage, 0, corner);
    const struct coverage_part taken = *coverage_of(&slices.coverage, 0, corner_other(corner));
    add_slices(history->own, &slices, corner);
    add_slices(history->taken, &slices, corner_other(corner));
    slices_release(&slices);
    struct history_bout *bout = &history->bout[history->count++];
    char id[sizeof view->bout->card];
    memset(bout, 0, sizeof *bout);
    clean(id, sizeof id, view->bout->card);
    snprintf(bout->bout, sizeof bout->bout, "%s/%d", id, view->bout->number);
    clean(bout->title, sizeof bout->title, title);
    clean(bout->date, sizeof bout->date, date);
    clean(bout->against, sizeof bout->against, view->bout->fighter[corner_other(corner)].name);
    bout->corner = (uint8_t)corner;
    bout->rounds = tally->last_round;
    bout->ran_ms = own.ran_ms;
    bout->own_ms = own.covered_ms;
    bout->taken_ms = taken.covered_ms;
    bout->own_tagged = own.tagged;
    bout->taken_tagged = taken.tagged;
    bout->closed = fold_signed(view->fold) != NULL;
    bout->own = tally->all.corner[corner];
    bout->taken = tally->all.corner[corner_other(corner)];

    bool logged = bout->rounds > 0;
    history->logged += logged;
    history->own_untagged += logged && !own.tagged;
    history->taken_untagged += logged && !taken.tagged;
    history->all.rounds += bout->rounds;
    history->all.ran_ms += bout->ran_ms;
    history->all.own_ms += own.tagged ? own.covered_ms : 0;
    history->all.taken_ms += taken.tagged ? taken.covered_ms : 0;
    history->all.own_tagged = history->all.own_tagged || own.tagged;
    history->all.taken_tagged = history->all.taken_tagged || taken.tagged;
    corner_tally_add(&history->all.own, &bout->own);
    corner_tally_add(&history->all.taken, &bout->taken);
    return 0;
}

void history_release(struct history *history)
{
    free(history->bout);
    history->bout = NULL;
    history->count = history->room = 0;
}

static void end_line(struct buf *out)
{
    while (!out->failed && out->size > 0 && out->text[out->size - 1] == ' ') {
        out->text[--out->size] = '\0';
    }
    buf_adds(out, "\n");
}

static void right(struct buf *out, const char *text, int width)
{
    buf_add_fit(out, text, -width);
}

static void knockdowns_cell(char out[CELL_SIZE], const struct history_bout *bout)
{
    if (bout->rounds > 0) {
        char own[CELL_SIZE / 2 - 1] = CELL_UNKNOWN, taken[CELL_SIZE / 2 - 1] = CELL_UNKNOWN;
        if (bout->own_tagged || bout->own.knockdowns) {
            snprintf(own, sizeof own, "%d", bout->own.knockdowns);
        }
        if (bout->taken_tagged || bout->taken.knockdowns) {
            snprintf(taken, sizeof taken, "%d", bout->taken.knockdowns);
        }
        snprintf(out, CELL_SIZE, "%s-%s", own, taken);
    } else {
        snprintf(out, CELL_SIZE, "-");
    }
}

/* Landed/attempted, accuracy, output. */
static void figures_cells(struct buf *out, const struct corner_tally *tally, int64_t ran_ms,
                          bool tagged)
{
    char cell[CELL_SIZE];
    if (!tagged) {
        right(out, "not tagged", 11);
        right(out, CELL_UNKNOWN, 5);
        right(out, CELL_UNKNOWN, 6);
        return;
    }
    count_cell(cell, &tally->all);
    right(out, cell, 11);
    share_text(cell, tally->all.landed, tally->all.attempted);
    right(out, cell, 5);
    rate_text(cell, tally->all.attempted, ran_ms);
    right(out, cell, 6);
}

static void bout_row(struct buf *out, const struct history_bout *bout, const char *against)
{
    char cell[CELL_SIZE];
    buf_add_fit(out, bout->date, 11);
    buf_add_fit(out, against, 20);
    bool none = bout->rounds == 0; /* nothing was logged at all */
    figures_cells(out, &bout->own, bout->own_ms, none || bout->own_tagged);
    figures_cells(out, &bout->taken, bout->taken_ms, none || bout->taken_tagged);
    knockdowns_cell(cell, bout);
    right(out, cell, 5);
    end_line(out);
}

/* One kind of strike: how much of what is thrown, and how it lands; the same of what is taken. */
static void split_row(struct buf *out, const char *name, const struct history *history, int split,
                      const struct count *own, const struct count *taken)
{
    const struct count *counts[] = {own, taken};
    const struct piece_sums *sums[] = {&history->own[split], &history->taken[split]};
    const struct count *wholes[] = {&history->all.own.all, &history->all.taken.all};
    if (own->attempted + taken->attempted == 0) {
        return;
    }
    buf_add_fit(out, name, 12);
    for (int i = 0; i < 2; i++) {
        char cell[CELL_SIZE];
        share_text(cell, counts[i]->attempted, wholes[i]->attempted);
        right(out, cell, 8);
        count_cell(cell, counts[i]);
        right(out, cell, 12);
        coach_share(cell, counts[i], piece_sums_share(sums[i], COACH_LEVEL));
        right(out, cell, 14);
    }
    end_line(out);
}

static void splits(struct buf *out, const struct history *history)
{
    const struct corner_tally *own = &history->all.own, *taken = &history->all.taken;
    buf_adds(out, "               share  landed/att accuracy, 95%"
                  "   share  landed/att accuracy, 95%\n");
    int split = 0;
    split_row(out, "all", history, split++, &own->all, &taken->all);
    for (int i = 0; i < GROUP_COUNT; i++) {
        split_row(out, group_names[i], history, split++, &own->group[i], &taken->group[i]);
    }
    for (int i = 0; i < TARGET_COUNT; i++) {
        split_row(out, target_names[i], history, split++, &own->target[i], &taken->target[i]);
    }
    for (int i = 0; i < STANCE_COUNT; i++) {
        split_row(out, stance_names[i], history, split++, &own->stance[i], &taken->stance[i]);
    }
}

int history_table(struct buf *out, const struct history *history, struct error *err)
{
    buf_addf(out, "%s: %zu bout%s, %zu logged\n\n", history->name, history->count,
             history->count == 1 ? "" : "s", history->logged);
    buf_adds(out, "                                 LANDS                 TAKES\n"
                  "DATE       AGAINST             landed/att  acc  /min landed/att  acc  /min   "
                  "KD\n");
    for (size_t i = 0; i < history->count; i++) {
        bout_row(out, &history->bout[i], history->bout[i].against);
    }
    if (history->logged > 0) {
        bout_row(out, &history->all, "in all");
        buf_adds(out, "\n                  LANDS                               TAKES\n");
        splits(out, history);
        if (history->own_untagged + history->taken_untagged > 0) {
            buf_addf(out,
                     "\nNot tagged: left out, LANDS of %zu bout%s, TAKES of %zu. A minute is one "
                     "that was\ncovered.\n",
                     history->own_untagged, history->own_untagged == 1 ? "" : "s",
                     history->taken_untagged);
        }
        buf_adds(
            out,
            "\nShare: of all attempted; KD: knockdowns, scored-taken. 95% intervals know that\n"
            "strikes come in combinations: by slices of ten seconds, as on a coach's sheet.\n");
    }
    buf_add_wrapped(out, caution_history, 0, 80);
    return out->failed ? error_memory(err) : 0;
}

static void pair_row(struct buf *out, const char *red, const char *name, const char *blue)
{
    int before = (18 - text_width(name)) / 2;
    right(out, red, 31);
    buf_addf(out, "%*s%s", before, "", name);
    buf_add_fit(out, "", 18 - before - text_width(name));
    buf_add_fit(out, blue, 31);
    end_line(out);
}

enum pair_figure {
    PAIR_BOUTS,
    PAIR_LANDED,
    PAIR_PACE,
    PAIR_LIMBS,
    PAIR_STANCES,
    PAIR_TAKEN,
    PAIR_KNOCKDOWNS,
    PAIR_COUNT
};

/* "hands 57, legs 33": what was thrown, in counts: the shares are theirs of the row above. */
static void thrown_cell(char *out, size_t size, const char *const *names,
                        const struct count *counts, int count)
{
    size_t used = 0;
    snprintf(out, size, "-");
    for (int i = 0; i < count; i++) {
        if (counts[i].attempted > 0 && used < size) {
            used += (size_t)snprintf(out + used, size - used, "%s%s %d", used ? ", " : "", names[i],
                                     counts[i].attempted);
        }
    }
}

static void pair_cell(char *out, size_t size, const struct history *history,
                      enum pair_figure figure)
{
    const struct history_bout *all = &history->all;
    const struct corner_tally *tally = figure == PAIR_TAKEN ? &all->taken : &all->own;
    char count[CELL_SIZE], share[CELL_SIZE];
    snprintf(out, size, "-");
    switch (figure) {
    case PAIR_BOUTS:
        snprintf(out, size, "%zu", history->logged);
        break;
    case PAIR_LANDED:
    case PAIR_TAKEN:
        if (tally->all.attempted > 0) {
            count_cell(count, &tally->all);
            const struct piece_sums *sums = figure == PAIR_TAKEN ? history->taken : history->own;
            coach_share(share, &tally->all, piece_sums_share(&sums[0], COACH_LEVEL));
            snprintf(out, size, "%s, %s", count, share);
        }
        break;
    case PAIR_PACE:
        rate_text(count, tally->all.attempted, all->own_ms);
        snprintf(out, size, "%s", count);
        break;
    case PAIR_LIMBS:
        thrown_cell(out, size, group_names, tally->group, GROUP_COUNT);
        break;
    case PAIR_STANCES:
        thrown_cell(out, size, stance_names, tally->stance, STANCE_COUNT);
        break;
    default:
        if (history->logged > 0) {
            knockdowns_cell(count, all);
            snprintf(out, size, "%s", count);
        }
        break;
    }
}

int history_pair(struct buf *out, const struct history *red, const struct history *blue,
                 struct error *err)
{
    static const char *const names[PAIR_COUNT] = {"bouts logged",   "lands, 95%", "output a minute",
                                                  "throws",         "from",       "takes, 95%",
                                                  "KD scored-taken"};
    for (int figure = 0; figure < PAIR_COUNT && red->logged + blue->logged > 0; figure++) {
        char left[80], other[80];
        pair_cell(left, sizeof left, red, (enum pair_figure)figure);
        pair_cell(other, sizeof other, blue, (enum pair_figure)figure);
        pair_row(out, left, names[figure], other);
    }
    return out->failed ? error_memory(err) : 0;
}
