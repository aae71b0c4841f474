/* coach_text.c: the coach's sheet as a page of 80 columns. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/bout/cautions.h"
#include "ringtally/base/when.h"
#include "sheet/coach_page.h"

#define PAGE 80

static void end_line(struct buf *out)
{
    while (!out->failed && out->size > 0 && out->text[out->size - 1] == ' ') {
        out->text[--out->size] = '\0';
    }
    buf_adds(out, "\n");
}

static void rule(struct buf *out)
{
    char line[PAGE + 1];
    memset(line, '-', PAGE);
    line[PAGE] = '\0';
    buf_addf(out, "%s\n", line);
}

static void head(struct buf *out, const struct figures *figures, const struct coach *coach)
{
    const char *corner = coach->corner[SIDE_WE] == CORNER_RED ? "RED" : "BLUE";
    char scope[24] = "whole bout", clock[64];
    if (figures->asked.round) {
        snprintf(scope, sizeof scope, "round %d", figures->asked.round);
    }
    buf_addf(out, "%-4s  ", corner);
    buf_add_fit(out, figures->fighter[coach->corner[SIDE_WE]].name, 52);
    buf_adds(out, "  ");
    buf_add_fit(out, scope, -20);
    buf_adds(out, "\n");
    clock_words(clock, sizeof clock, &figures->face);
    buf_adds(out, "      against ");
    int width = text_width(clock); /* the name gives way, the clock is whole */
    buf_add_fit(out, figures->fighter[coach->corner[SIDE_THEY]].name, PAGE - 14 - 2 - width);
    buf_addf(out, "  %s", clock);
    end_line(out);
    rule(out);
}

static void sentences(struct buf *out, const struct coach *coach)
{
    for (int i = 0; i < LINE_COUNT; i++) {
        const struct coach_line *line = &coach->line[i];
        char label[16];
        snprintf(label, sizeof label, "%s", line->label);
        for (char *c = label; *c; c++) {
            *c = *c >= 'a' && *c <= 'z' ? (char)(*c - 'a' + 'A') : *c;
        }
        buf_addf(out, "%-12s", label);
        buf_add_wrapped(out, line->words, 12, PAGE);
        if (line->proof[0]) {
            buf_addf(out, "%12s", "");
            buf_add_wrapped(out, line->proof, 12, PAGE);
        }
    }
    rule(out);
}

#define CELL_WIDTH 9

/* "12/30 *": the mark says how many landed, beside the most of any cell. */
static void cell(struct buf *out, const struct pad_cell *cell_of, int most, int width)
{
    static const char marks[] = " .:*#";
    char text[CELL_SIZE];
    count_cell(text, &cell_of->count);
    if (!cell_of->exists) {
        text[0] = '\0';
    }
    add_count(out, text, width - 1, false);
    buf_addf(out, "%c", cell_of->knockdowns ? 'K' : marks[pad_heat(cell_of->count.landed, most)]);
}

static void pad_table(struct buf *out, const struct figures *figures, const struct coach *coach,
                      enum side side)
{
    const struct pad *pad = &coach->pad[side];
    buf_add_fit(out, side == SIDE_WE ? "WE LAND" : "WE TAKE", 10);
    if (!coach_part(figures, coach, side)->tagged) {
        buf_addf(out, "  not tagged: unknown\n");
        return;
    }
    int columns = 0;
    for (int column = 0; column < PAD_COLUMNS; column++) {
        columns += pad->column_shown[column];
    }
    int all_width = columns < PAD_COLUMNS ? CELL_WIDTH + 1 : CELL_WIDTH - 1; /* of a page of 80 */
    for (int column = 0; column < PAD_COLUMNS; column++) {
        if (pad->column_shown[column]) {
            buf_add_fit(out, limb_briefs[pad_limb((enum pad_column)column)], 1 - CELL_WIDTH);
            buf_adds(out, " ");
        }
    }
    buf_add_fit(out, "all", 2 - all_width);
    buf_adds(out, "\n");
    for (int target = 0; target < TARGET_COUNT; target++) {
        if (!pad->target[target].exists) {
            continue;
        }
        buf_addf(out, "%-10s", target_names[target]);
        for (int column = 0; column < PAD_COLUMNS; column++) {
            if (pad->column_shown[column]) {
                cell(out, &pad->cell[target][column], coach->most, CELL_WIDTH);
            }
        }
        cell(out, &pad->target[target], coach->most_target, all_width);
        end_line(out);
    }
    buf_add_fit(out, "all", 10);
    for (int column = 0; column < PAD_COLUMNS; column++) {
        if (pad->column_shown[column]) {
            char text[CELL_SIZE];
            count_cell(text, &pad->column[column]);
            add_count(out, text, CELL_WIDTH - 1, true);
            buf_adds(out, " ");
        }
    }
    char text[CELL_SIZE];
    count_cell(text, &pad->all);
    add_count(out, text, all_width - 1, false);
    end_line(out);
}

static void round_line(struct buf *out, const struct coach_round *round)
{
    char name[8] = "bout";
    if (round->round) {
        snprintf(name, sizeof name, "R%d", round->round);
    }
    buf_add_fit(out, name, 4);
    for (int side = 0; side < SIDE_COUNT; side++) {
        char strikes[CELL_SIZE], share[CELL_SIZE], rate[CELL_SIZE];
        coach_count(strikes, round, (enum side)side);
        coach_share(share, &round->count[side], round->accuracy[side]);
        coach_rate(rate, round->thrown[side]);
        add_count(out, strikes, 8, true);
        buf_add_fit(out, share, -12);
        buf_add_fit(out, rate, -17);
    }
    end_line(out);
}

void coach_text(struct buf *out, const struct figures *figures, const struct coach *coach)
{
    char as_of[WHEN_SIZE];
    head(out, figures, coach);
    sentences(out, coach);
    if (coach_hurt(figures)) {
        buf_adds(out, "HEALTH      ");
        buf_add_wrapped(out, caution_health, 12, PAGE);
        rule(out);
    }
    struct buf words = BUF_INIT;
    coverage_text(&words, figures);
    if (words.size > 0) {
        buf_adds(out, "NOT COVERED ");
        buf_add_wrapped(out, words.text, 12, PAGE);
        rule(out);
    }
    out->failed = out->failed || words.failed;
    buf_release(&words);
    for (int side = 0; side < SIDE_COUNT; side++) {
        pad_table(out, figures, coach, (enum side)side);
    }
    buf_adds(out, "landed/attempted; . : * # more and more landed; K a knockdown\n");
    rule(out);
    coach_stances(out, coach, SIDE_WE, &(struct stances_form){"we    ", " ", ", ", "\n"});
    coach_stances(out, coach, SIDE_THEY, &(struct stances_form){"they  ", " ", ", ", "\n"});
    buf_adds(out, "      we  accuracy, 95%  output/min, 95%"
                  "    they  accuracy, 95%  output/min, 95%\n");
    for (int i = coach->first; i < coach->listed; i++) {
        round_line(out, &coach->round[i]);
    }
    rule(out);
    buf_addf(out, "%s, %s; as of %s\n", figures->bout, figures->standing,
             when_rfc3339(as_of, figures->view->now_ms));
    struct buf note = BUF_INIT;
    buf_adds(&note, "95% intervals know that strikes come in combinations. ");
    coach_note(&note, coach);
    buf_add_wrapped(out, note.failed ? "" : note.text, 0, PAGE);
    out->failed = out->failed || note.failed;
    buf_release(&note);
    buf_addf(out, "%s\n%s\n", caution_landing, figures->closed ? caution_signed : caution_live);
    buf_add_wrapped(out, caution_health, 0, PAGE);
}
