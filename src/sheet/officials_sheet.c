/* officials_sheet.c: the officials' part of every sheet: cards, what they imply, what was
 * announced. Nothing is decided here. */
#include "sheet/officials_sheet.h"

#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

#define LABEL 22

bool officials_shown(const struct figures *figures)
{
    const struct officials *officials = &figures->officials;
    bool any = officials->announced || officials->end.how > END_DISTANCE;
    for (int seat = 0; seat < officials->card.judges; seat++) {
        for (int round = 0; round < ROUND_MAX; round++) {
            any = any || officials->card.given[seat][round];
        }
    }
    return any;
}

bool officials_cards_open(const struct figures *figures)
{
    return figures->view->cards || figures->view->rules->scoring.open ||
           figures->officials.announced;
}

int officials_last_round(const struct figures *figures)
{
    int last = 0;
    for (int seat = 0; seat < figures->officials.card.judges; seat++) {
        for (int round = 0; round < ROUND_MAX; round++) {
            last = figures->officials.card.given[seat][round] && round >= last ? round + 1 : last;
        }
    }
    return last;
}

void officials_judge(char *out, size_t size, const struct figures *figures, int seat)
{
    const struct bout *bout = figures->view->bout;
    if (seat >= bout->judges || !text_clean(out, size, bout->judge[seat]) || !out[0]) {
        snprintf(out, size, "Judge %d", seat + 1);
    }
}

void officials_score_text(char out[24], const struct figures *figures, int seat, int round)
{
    const struct scorecard *card = &figures->officials.card;
    char red[SCORE_BYTES], blue[SCORE_BYTES];
    if (!card->given[seat][round - 1]) {
        snprintf(out, 24, "-");
        return;
    }
    snprintf(out, 24, "%s-%s", score_words(red, card->half[seat][round - 1][CORNER_RED]),
             score_words(blue, card->half[seat][round - 1][CORNER_BLUE]));
}

void officials_total_text(char out[24], const struct figures *figures, int seat)
{
    const struct rules *rules = figures->view->rules;
    struct card_total total = scorecard_total(&figures->officials.card, rules, seat + 1, 1,
                                              officials_last_round(figures), true);
    char red[SCORE_BYTES], blue[SCORE_BYTES];
    if (rules->scoring.system == SYSTEM_ROUNDS) {
        snprintf(out, 24, "%d-%d", total.rounds[CORNER_RED], total.rounds[CORNER_BLUE]);
    } else {
        snprintf(out, 24, "%s-%s", score_words(red, total.half[CORNER_RED]),
                 score_words(blue, total.half[CORNER_BLUE]));
    }
}

void officials_lead_text(char *out, size_t size, const struct figures *figures)
{
    struct vote lead = scorecard_lead(&figures->officials.card, figures->view->rules,
                                      officials_last_round(figures));
    snprintf(out, size, "after round %d red leads on %d, blue on %d, even on %d%s",
             officials_last_round(figures), lead.red, lead.blue, lead.even,
             lead.missing ? "; not all are in" : "");
}

void officials_implied_text(char *out, size_t size, const struct figures *figures)
{
    const struct decision *implied = &figures->officials.implied;
    char vote[16] = "";
    if (implied->voted) {
        vote_words(vote, &implied->vote);
    }
    bool won = implied->winner < CORNER_COUNT;
    snprintf(out, size, "%s%s%s%s%s%s", implied->name, won ? ", " : "",
             won ? corner_names[implied->winner] : "", vote[0] ? " (" : "", vote,
             vote[0] ? " red-blue-even)" : "");
}

void officials_announced_text(char *out, size_t size, const struct figures *figures)
{
    const struct officials *officials = &figures->officials;
    const struct official *official = &officials->official;
    char time[WHEN_SIZE] = "";
    bool won = official->winner < CORNER_COUNT;
    if (official->elapsed_ms >= 0) {
        when_clock(time, official->elapsed_ms);
    }
    snprintf(out, size, "%s%s%s", decision_name(figures->view->rules, official->kind),
             won ? ", " : "", won ? corner_names[official->winner] : "");
    size_t used = strlen(out);
    if (official->round) {
        snprintf(out + used, size - used, ", round %d%s%s", official->round, time[0] ? " at " : "",
                 time);
    }
    used = strlen(out);
    if (officials->referee[0]) {
        char referee[64];
        text_clean(referee, sizeof referee, officials->referee);
        snprintf(out + used, size - used, ", referee %s", referee);
    }
    used = strlen(out);
    if (officials->overridden) {
        snprintf(out + used, size - used, "; overridden: the log says otherwise");
    }
}

bool officials_difference(char *out, size_t size, const struct figures *figures)
{
    const struct officials *officials = &figures->officials;
    out[0] = '\0';
    return officials->announced && official_differs(out, size, figures->view->rules,
                                                    &officials->official, &officials->implied);
}

static void line(struct buf *out, const char *label, const char *text)
{
    buf_addf(out, "  %-10s %s\n", label, text);
}

/* Wraps a sentence into the page at its spaces. */
static void wrapped(struct buf *out, const char *label, const char *text, int width)
{
    const char *at = text;
    while (*at) {
        size_t length = strlen(at);
        if (length > (size_t)width) {
            length = (size_t)width;
            while (length > 0 && at[length] != ' ') {
                length--;
            }
            length = length ? length : (size_t)width;
        }
        buf_addf(out, "  %-10s %.*s\n", at == text ? label : "", (int)length, at);
        at += length;
        at += strspn(at, " ");
    }
}

void officials_text(struct buf *out, const struct figures *figures)
{
    char words[512], cell[24];
    int last = officials_last_round(figures);
    if (!officials_shown(figures)) {
        return;
    }
    buf_adds(out, "OFFICIALS (the cards as written; referee, judges and commission decide)\n");
    if (!officials_cards_open(figures)) {
        buf_adds(out, "  the scoring is closed: the cards show with --cards, or once a result is "
                      "announced\n");
        return;
    }
    if (last > 0) {
        buf_add_fit(out, "  RED-BLUE by round", LABEL + 2);
        for (int round = 1; round <= last; round++) {
            snprintf(cell, sizeof cell, "%d", round);
            buf_add_fit(out, cell, last > 6 ? -6 : -9);
        }
        buf_adds(out, last > 6 ? "\n" : "    total\n");
    }
    for (int seat = 0; last > 0 && seat < figures->officials.card.judges; seat++) {
        officials_judge(words, 96, figures, seat);
        buf_adds(out, "  ");
        buf_add_fit(out, words, LABEL);
        for (int round = 1; round <= last; round++) {
            officials_score_text(cell, figures, seat, round);
            buf_add_fit(out, cell, last > 6 ? -6 : -9);
            if (last > 6 && round % 9 == 0 && round < last) {
                buf_adds(out, "\n");
                buf_add_fit(out, "", LABEL + 2);
            }
        }
        officials_total_text(cell, figures, seat);
        buf_add_fit(out, cell, -9);
        buf_adds(out, "\n");
    }
    if (last > 0) {
        officials_lead_text(words, sizeof words, figures);
        line(out, "leads", words);
    }
    officials_implied_text(words, sizeof words, figures);
    if (words[0]) {
        wrapped(out, "implied", words, 66);
    }
    wrapped(out, "because", figures->officials.implied.reason, 66);
    if (figures->officials.announced) {
        officials_announced_text(words, sizeof words, figures);
        wrapped(out, "announced", words, 66);
    }
    if (officials_difference(words, sizeof words, figures)) {
        wrapped(out, "differs", words, 66);
    }
}

void officials_markdown(struct buf *out, const struct figures *figures,
                        void (*plain)(struct buf *, const char *))
{
    char words[512], cell[24];
    int last = officials_last_round(figures);
    if (!officials_shown(figures)) {
        return;
    }
    buf_adds(out,
             "\n## Officials\n\nThe cards as written; referee, judges and commission decide.\n");
    if (!officials_cards_open(figures)) {
        buf_adds(out, "The scoring is closed.\n");
        return;
    }
    if (last > 0) {
        buf_adds(out, "\n| judge (red-blue) |");
        for (int round = 1; round <= last; round++) {
            buf_addf(out, " %d |", round);
        }
        buf_adds(out, " total |\n|---|");
        for (int round = 0; round <= last; round++) {
            buf_adds(out, "---|");
        }
        buf_adds(out, "\n");
    }
    for (int seat = 0; last > 0 && seat < figures->officials.card.judges; seat++) {
        officials_judge(words, 96, figures, seat);
        buf_adds(out, "| ");
        plain(out, words);
        buf_adds(out, " |");
        for (int round = 1; round <= last; round++) {
            officials_score_text(cell, figures, seat, round);
            buf_addf(out, " %s |", cell);
        }
        officials_total_text(cell, figures, seat);
        buf_addf(out, " %s |\n", cell);
    }
    buf_adds(out, "\nImplied: ");
    officials_implied_text(words, sizeof words, figures);
    plain(out, words);
    buf_adds(out, ". ");
    plain(out, figures->officials.implied.reason);
    buf_adds(out, "\n");
    if (figures->officials.announced) {
        officials_announced_text(words, sizeof words, figures);
        buf_adds(out, "\nAnnounced: ");
        plain(out, words);
        buf_adds(out, ".\n");
    }
    if (officials_difference(words, sizeof words, figures)) {
        buf_adds(out, "\nThe two differ: ");
        plain(out, words);
        buf_adds(out, "\n");
    }
}
