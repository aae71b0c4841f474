/* officials_sheet.c: the officials' part of every sheet: cards, what they imply, what was
 * announced. Nothing is decided here. */
#include "sheet/officials_sheet.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/base/when.h"
#include "ringtally/bout/cautions.h"

#define LABEL 22
#define PAGE  80

const char officials_closed[] =
    "The scoring is closed: the cards show once a result is announced, or when asked for.";

static int last_round(const struct officials *officials)
{
    int last = 0;
    for (int seat = 0; seat < officials->card.judges; seat++) {
        for (int round = 0; round < ROUND_MAX; round++) {
            last = officials->card.given[seat][round] && round >= last ? round + 1 : last;
        }
    }
    return last;
}

static void judge_name(char *out, size_t size, const struct bout *bout, int seat)
{
    if (seat >= bout->judges || !text_clean(out, size, bout->judge[seat]) || !out[0]) {
        snprintf(out, size, "Judge %d", seat + 1);
    }
}

static void pair(char out[24], int red_half, int blue_half)
{
    char red[SCORE_BYTES], blue[SCORE_BYTES];
    snprintf(out, 24, "%s-%s", score_words(red, red_half), score_words(blue, blue_half));
}

static void make_card(struct officials_card *out, const struct figures *figures, int seat, int last)
{
    const struct scorecard *card = &figures->officials.card;
    const struct rules *rules = figures->view->rules;
    struct card_total total = scorecard_total(card, rules, seat + 1, 1, last, true);
    judge_name(out->judge, sizeof out->judge, figures->view->bout, seat);
    for (int round = 0; round < last; round++) {
        if (card->given[seat][round]) {
            pair(out->score[round], card->half[seat][round][CORNER_RED],
                 card->half[seat][round][CORNER_BLUE]);
        } else {
            snprintf(out->score[round], sizeof out->score[round], "-");
        }
    }
    if (rules->scoring.system == SYSTEM_ROUNDS) {
        snprintf(out->total, sizeof out->total, "%d-%d", total.rounds[CORNER_RED],
                 total.rounds[CORNER_BLUE]);
    } else {
        pair(out->total, total.half[CORNER_RED], total.half[CORNER_BLUE]);
    }
}

static void lead_text(char *out, size_t size, const struct figures *figures, int last)
{
    struct vote lead = scorecard_lead(&figures->officials.card, figures->view->rules, last);
    snprintf(out, size, "after round %d red leads on %d, blue on %d, even on %d%s", last, lead.red,
             lead.blue, lead.even, lead.missing ? "; not all are in" : "");
}

static void implied_text(char *out, size_t size, const struct decision *implied)
{
    char vote[16] = "";
    if (implied->voted) {
        vote_words(vote, &implied->vote);
    }
    bool won = implied->winner < CORNER_COUNT;
    snprintf(out, size, "%s%s%s%s%s%s", implied->name, won ? ", " : "",
             won ? corner_names[implied->winner] : "", vote[0] ? " (" : "", vote,
             vote[0] ? " red-blue-even)" : "");
}

static void add(char *out, size_t size, const char *format, ...) PRINTF_LIKE(3, 4);

static void add(char *out, size_t size, const char *format, ...)
{
    size_t used = strlen(out);
    va_list args;
    va_start(args, format);
    vsnprintf(out + used, size - used, format, args);
    va_end(args);
}

/* What was announced; where a desk entered what was implied, it says that instead. */
static void announced_text(char *out, size_t size, const struct figures *figures)
{
    const struct officials *officials = &figures->officials;
    const struct official *official = &officials->official;
    char time[WHEN_SIZE], referee[64];
    out[0] = '\0';
    add(out, size, "%s", decision_name(figures->view->rules, official->kind));
    if (official->winner < CORNER_COUNT) {
        add(out, size, ", %s", corner_names[official->winner]);
    }
    if (official->round) {
        add(out, size, ", round %d", official->round);
    }
    if (official->round && official->elapsed_ms >= 0) {
        add(out, size, " at %s", when_clock(time, official->elapsed_ms));
    }
    if (officials->referee[0] && text_clean(referee, sizeof referee, officials->referee)) {
        add(out, size, ", referee %s", referee);
    }
    if (officials->as_implied) {
        add(out, size, "; entered as implied, not as heard");
    }
    if (officials->overridden) {
        add(out, size, "; overridden: the log says otherwise");
    }
}

static struct officials_line *next(struct officials_part *out, const char *label)
{
    struct officials_line *line = &out->line[out->lines++];
    line->label = label;
    return line;
}

static void make_lines(struct officials_part *out, const struct figures *figures)
{
    const struct officials *officials = &figures->officials;
    struct officials_line *line = NULL;
    if (out->rounds > 0) {
        line = next(out, "leads");
        lead_text(line->text, sizeof line->text, figures, out->rounds);
    }
    line = next(out, "implied");
    implied_text(line->text, sizeof line->text, &officials->implied);
    line = next(out, "because");
    snprintf(line->text, sizeof line->text, "%s", officials->implied.reason);
    if (officials->announced) {
        char text[512];
        line = next(out, officials->as_implied ? "entered" : "announced");
        announced_text(line->text, sizeof line->text, figures);
        enum official_compared compared =
            official_compare(text, sizeof text, figures->view->rules, &officials->official,
                             &officials->end, &officials->implied);
        if (compared != OFFICIAL_AGREES) {
            line = next(out, compared == OFFICIAL_DIFFERS ? "differs" : "compared");
            snprintf(line->text, sizeof line->text, "%s", text);
        }
    }
}

void officials_part(struct officials_part *out, const struct figures *figures)
{
    const struct officials *officials = &figures->officials;
    memset(out, 0, sizeof *out);
    int last = last_round(officials);
    out->shown = last > 0 || officials->announced || officials->end.how > END_DISTANCE;
    out->open = figures->view->cards || figures->view->rules->scoring.open || officials->announced;
    if (!out->shown || !out->open) {
        return;
    }
    out->rounds = last;
    out->cards = officials->card.judges;
    for (int seat = 0; seat < out->cards; seat++) {
        make_card(&out->card[seat], figures, seat, last);
    }
    make_lines(out, figures);
}

const char *officials_said(const struct officials_part *part, const char *label)
{
    for (int i = 0; i < part->lines; i++) {
        if (strcmp(part->line[i].label, label) == 0) {
            return part->line[i].text;
        }
    }
    return NULL;
}

/* --- text --- */

void officials_text(struct buf *out, const struct figures *figures)
{
    struct officials_part part;
    char cell[24];
    officials_part(&part, figures);
    if (!part.shown) {
        return;
    }
    buf_adds(out, "OFFICIALS\n  ");
    buf_add_wrapped(out, caution_cards, 2, PAGE);
    if (!part.open) {
        buf_adds(out, "  ");
        buf_add_wrapped(out, officials_closed, 2, PAGE);
        return;
    }
    int wide = part.rounds > 6 ? 6 : 9;
    if (part.rounds > 0) {
        buf_add_fit(out, "  RED-BLUE by round", LABEL + 2);
        for (int round = 1; round <= part.rounds; round++) {
            snprintf(cell, sizeof cell, "%d", round);
            buf_add_fit(out, cell, -wide);
        }
        buf_adds(out, part.rounds > 6 ? "\n" : "    total\n");
    }
    for (int seat = 0; part.rounds > 0 && seat < part.cards; seat++) {
        buf_adds(out, "  ");
        buf_add_fit(out, part.card[seat].judge, LABEL);
        for (int round = 1; round <= part.rounds; round++) {
            buf_add_fit(out, part.card[seat].score[round - 1], -wide);
            if (part.rounds > 6 && round % 9 == 0 && round < part.rounds) {
                buf_adds(out, "\n");
                buf_add_fit(out, "", LABEL + 2);
            }
        }
        buf_add_fit(out, part.card[seat].total, -9);
        buf_adds(out, "\n");
    }
    for (int i = 0; i < part.lines; i++) {
        buf_addf(out, "  %-10s ", part.line[i].label);
        buf_add_wrapped(out, part.line[i].text, 13, PAGE);
    }
}

/* --- Markdown --- */

void officials_markdown(struct buf *out, const struct figures *figures,
                        void (*plain)(struct buf *, const char *))
{
    struct officials_part part;
    officials_part(&part, figures);
    if (!part.shown) {
        return;
    }
    buf_addf(out, "\n## Officials\n\n%s\n", caution_cards);
    if (!part.open) {
        buf_addf(out, "%s\n", officials_closed);
        return;
    }
    if (part.rounds > 0) {
        buf_adds(out, "\n| judge (red-blue) |");
        for (int round = 1; round <= part.rounds; round++) {
            buf_addf(out, " %d |", round);
        }
        buf_adds(out, " total |\n|---|");
        for (int round = 0; round <= part.rounds; round++) {
            buf_adds(out, "---|");
        }
        buf_adds(out, "\n");
    }
    for (int seat = 0; part.rounds > 0 && seat < part.cards; seat++) {
        buf_adds(out, "| ");
        plain(out, part.card[seat].judge);
        buf_adds(out, " |");
        for (int round = 0; round < part.rounds; round++) {
            buf_addf(out, " %s |", part.card[seat].score[round]);
        }
        buf_addf(out, " %s |\n", part.card[seat].total);
    }
    buf_adds(out, "\n");
    for (int i = 0; i < part.lines; i++) {
        buf_addf(out, "- %s: ", part.line[i].label);
        plain(out, part.line[i].text);
        buf_adds(out, "\n");
    }
}
