/* cards.c: the judges' scorecards while they are typed: judges in rows, rounds in columns, and what
 * follows from them. */
#include <stdio.h>
#include <string.h>

#include "ringtally/tally/officials.h"
#include "ringtally/base/text.h"
#include "screen/scene.h"

#define NAME_COLUMNS 18
#define NAME_LEAST   12
#define TEXT_COLUMNS 22 /* least width of what follows from the cards, beside them */
#define TEXT_ROWS    4  /* rows below the cards that are worth it being there */
#define WIDE         112

/* Where the table's columns stand. */
struct grid {
    int left, cell, total; /* column of the first round; widths */
    int name;              /* columns of a judge's */
    int first, rounds;     /* the rounds shown */
    int last;              /* of all that there are */
    int end;               /* column behind the totals */
};

static const char *pair_text(char out[24], int red_half, int blue_half)
{
    char red[SCORE_BYTES], blue[SCORE_BYTES];
    snprintf(out, 24, "%s-%s", score_words(red, red_half), score_words(blue, blue_half));
    return out;
}

static bool ties_are_named(const struct rules *rules)
{
    return rules->scoring.tie == TIE_JUDGES || rules->scoring.tie_after == TIE_JUDGES;
}

static bool any_named(const struct scorecard *card)
{
    for (int seat = 0; seat < card->judges; seat++) {
        if (card->named[seat]) {
            return true;
        }
    }
    return false;
}

static struct grid grid_of(const struct scene *scene, const struct scorecard *card,
                           const struct card_cursor *at, const struct area *area, bool beside)
{
    int last = fold_clock(scene->fold)->plan.rounds;
    int halves = scene->rules->scoring.half_points;
    struct grid grid = {.cell = halves ? 8 : 6, .name = NAME_COLUMNS};
    grid.total = (halves ? 11 : 8) + (any_named(card) ? 5 : 0);
    last = last < fold_clock(scene->fold)->round ? fold_clock(scene->fold)->round : last;
    int room = area->columns - 2 - grid.total - (beside ? TEXT_COLUMNS + 1 : 0);
    if (last * grid.cell > room - grid.name) { /* names give way to rounds */
        grid.name = NAME_LEAST;
    }
    grid.left = area->column + 2 + grid.name;
    room = (room - grid.name) / grid.cell;
    grid.rounds = last < room ? last : room;
    grid.last = last;
    grid.first = at->round - grid.rounds / 2; /* those around the cursor, where not all fit */
    if (grid.first > last - grid.rounds + 1) {
        grid.first = last - grid.rounds + 1;
    }
    grid.first = grid.first < 1 ? 1 : grid.first;
    grid.end = grid.left + grid.rounds * grid.cell + grid.total;
    return grid;
}

/* The keys, as many as there is room for words; those that the rules give no use are left out. */
static void hint_draw(const struct scene *scene, const struct area *area)
{
    const struct scoring_rules *scoring = &scene->rules->scoring;
    char key[16], red[16], blue[16], half[24], adds_half[32], names[48], ties[64];
    key_word(key, scene->keymap->action[ACTION_AMEND]);
    snprintf(half, sizeof half, "%s half", key);
    snprintf(adds_half, sizeof adds_half, "%s adds a half", key);
    key_word(red, scene->keymap->action[ACTION_RED_INCIDENT]);
    key_word(blue, scene->keymap->action[ACTION_BLUE_INCIDENT]);
    snprintf(names, sizeof names, "%s %s names", red, blue);
    snprintf(ties, sizeof ties, "%s %s a tied judge names", red, blue);
    const struct {
        const char *brief, *full;
        bool has;
    } hints[] = {
        {"digits: red blue", "two digits a judge: red blue", true},
        {"0 ten", "0 is ten", scoring->system == SYSTEM_POINTS},
        {half, adds_half, scoring->half_points},
        {"\u2191\u2193\u2190\u2192 move", "\u2191\u2193 judge  \u2190\u2192 round", true},
        {names, ties, ties_are_named(scene->rules)},
        {"+ + enters", "+ twice enters what is implied", true},
        {"Esc", "Esc leaves", true},
    };
    char text[256] = "";
    size_t used = 0;
    for (size_t i = 0; i < sizeof hints / sizeof *hints; i++) {
        if (hints[i].has && used < sizeof text) {
            const char *words = area->columns >= WIDE ? hints[i].full : hints[i].brief;
            used +=
                (size_t)snprintf(text + used, sizeof text - used, "%s%s", used ? "  " : "", words);
        }
    }
    mode_line(scene, area, "CARDS", text);
}

static void cell_draw(const struct scene *scene, const struct scorecard *card, int seat, int round,
                      const struct card_cursor *at, int row, int column, int columns)
{
    char text[24];
    char red[SCORE_BYTES];
    bool cursor = at->seat == seat && at->round == round;
    const uint8_t *half = card->half[seat][round - 1];
    const char *words = "\u00b7";
    if (card->given[seat][round - 1]) {
        words = pair_text(text, half[CORNER_RED], half[CORNER_BLUE]);
    }
    if (cursor && at->typed > 0) {
        snprintf(text, sizeof text, "%s-_", score_words(red, at->half[0]));
        words = text;
    }
    if (cursor) {
        frame_fill(scene->frame, row, column, columns, STYLE_URGENT, " ");
        frame_put(scene->frame, row, column, 1, STYLE_URGENT, "\u25ba");
    }
    put_right(scene->frame, row, column + columns, cursor ? STYLE_URGENT : STYLE_PLAIN, words);
}

static void total_draw(const struct scene *scene, const struct scorecard *card, int seat, int boxed,
                       int row, int end)
{
    char text[24];
    char words[48];
    bool rounds = scene->rules->scoring.system == SYSTEM_ROUNDS;
    struct card_total total = scorecard_total(card, scene->rules, seat + 1, 1, boxed, true);
    if (boxed == 0 || total.missing == 1) {
        return;
    }
    int factor = rounds ? 2 : 1; /* rounds in half points, as the words want them */
    const int *of = rounds ? total.rounds : total.half;
    snprintf(words, sizeof words, "%s%s%s",
             pair_text(text, factor * of[CORNER_RED], factor * of[CORNER_BLUE]),
             total.named ? " " : "", total.named ? corner_names[total.vote] : "");
    put_right(scene->frame, row, end, corner_style((enum corner)total.vote, true), words);
}

static void table_draw(const struct scene *scene, const struct officials *officials,
                       const struct card_cursor *at, const struct grid *grid,
                       const struct area *area)
{
    char head[24];
    struct frame *frame = scene->frame;
    frame_put(frame, area->row, area->column + 2, 0, STYLE_DIM, "judge");
    for (int i = 0; i < grid->rounds; i++) {
        snprintf(head, sizeof head, "R%d", grid->first + i);
        put_right(frame, area->row, grid->left + (i + 1) * grid->cell,
                  grid->first + i == at->round ? STYLE_STRONG : STYLE_DIM, head);
    }
    /* Those that the arrows bring in. */
    if (grid->first > 1) {
        frame_put(frame, area->row, grid->left, 1, STYLE_STRONG, "<");
    }
    if (grid->first + grid->rounds - 1 < grid->last) {
        frame_put(frame, area->row, grid->left + grid->rounds * grid->cell + 1, 1, STYLE_STRONG,
                  ">");
    }
    put_right(frame, area->row, grid->end, STYLE_DIM,
              scene->rules->scoring.system == SYSTEM_ROUNDS ? "rounds" : "total");
    for (int seat = 0; seat < officials->card.judges && seat + 1 < area->rows; seat++) {
        int row = area->row + 1 + seat;
        const char *name = scene->bout->judge[seat];
        bool cursor = seat == at->seat;
        snprintf(head, sizeof head, "judge %d", seat + 1);
        frame_put(frame, row, area->column + 2, grid->name, cursor ? STYLE_STRONG : STYLE_PLAIN,
                  seat < scene->bout->judges && name[0] ? name : head);
        for (int i = 0; i < grid->rounds; i++) {
            cell_draw(scene, &officials->card, seat, grid->first + i, at, row,
                      grid->left + i * grid->cell + 1, grid->cell - 1);
        }
        total_draw(scene, &officials->card, seat, officials->boxed, row, grid->end);
    }
}

/* "after R2: red 1, blue 2, even 0"; false where no card holds all rounds. */
static bool lead_words(char *out, size_t size, const struct officials *officials,
                       const struct rules *rules)
{
    for (int round = officials->boxed; round > 0; round--) {
        struct vote vote = scorecard_lead(&officials->card, rules, round);
        if (vote.missing < officials->card.judges) {
            int used = snprintf(out, size, "after R%d: red %d, blue %d, even %d", round, vote.red,
                                vote.blue, vote.even);
            if (vote.missing > 0 && used > 0 && (size_t)used < size) {
                snprintf(out + used, size - (size_t)used, ", missing %d", vote.missing);
            }
            return true;
        }
    }
    out[0] = '\0';
    return false;
}

static void official_words(char *out, size_t size, const struct scene *scene,
                           const struct officials *officials)
{
    char vote[16];
    const struct official *official = &officials->official;
    bool won = official->winner < CORNER_COUNT;
    snprintf(out, size, "%s: %s%s%s%s%s",
             officials->as_implied ? "entered as implied" : "announced",
             decision_name(scene->rules, (enum decision_kind)official->kind), won ? ", " : "",
             won ? corner_names[official->winner] : "", official->voted ? ", " : "",
             official->voted ? vote_words(vote, &official->vote) : "");
}

static void deducted_words(char *out, size_t size, const struct officials *officials)
{
    size_t used = 0;
    out[0] = '\0';
    for (int round = 1; round <= officials->boxed; round++) {
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            int points = officials->card.deducted[round - 1][corner] / 2;
            if (points > 0 && used < size) {
                used +=
                    (size_t)snprintf(out + used, size - used, "%s R%d %s %d",
                                     used ? "," : "deducted:", round, corner_names[corner], points);
            }
        }
    }
}

/* What follows from the cards: who leads, what is implied, what was announced, then why. */
static void implied_draw(const struct scene *scene, const struct officials *officials,
                         const struct area *area)
{
    char text[512];
    char vote[16];
    const struct decision *implied = &officials->implied;
    int row = area->row;
    if (lead_words(text, sizeof text, officials, scene->rules)) {
        row = put_wrapped(scene, area, row, STYLE_STRONG, text);
    }
    deducted_words(text, sizeof text, officials);
    row = put_wrapped(scene, area, row, STYLE_PLAIN, text);
    if (officials->announced) {
        bool differs = official_compare(text, sizeof text, scene->rules, &officials->official,
                                        &officials->end, implied) == OFFICIAL_DIFFERS;
        char announced[160];
        official_words(announced, sizeof announced, scene, officials);
        row = put_wrapped(scene, area, row, differs ? STYLE_URGENT : STYLE_STRONG, announced);
        row = put_wrapped(scene, area, row, differs ? STYLE_URGENT : STYLE_PLAIN, text);
    }
    if (implied->kind > DECISION_OPEN) {
        snprintf(text, sizeof text, "implied%s%s:", implied->voted ? ", " : "",
                 implied->voted ? vote_words(vote, &implied->vote) : "");
        row = put_wrapped(scene, area, row, STYLE_STRONG, text);
    }
    put_wrapped(scene, area, row, STYLE_PLAIN, implied->reason);
}

void cards_draw(const struct scene *scene, const struct area *area)
{
    struct card_cursor at;
    struct officials officials;
    desk_cards(scene->desk, &at);
    officials_read(&officials, scene->fold, scene->rules, scene->bout, scene->view->now_ms);
    hint_draw(scene, area);
    bool beside = area->rows - 2 - officials.card.judges < TEXT_ROWS;
    struct grid grid = grid_of(scene, &officials.card, &at, area, beside);
    struct area table = {area->row + 1, area->column, area->rows - 1, area->columns};
    struct area text = {area->row + 3 + officials.card.judges, area->column + 2,
                        area->rows - 3 - officials.card.judges, area->columns - 4};
    if (beside) {
        text = (struct area){area->row + 1, grid.end + 2, area->rows - 1,
                             area->column + area->columns - grid.end - 3};
    }
    table_draw(scene, &officials, &at, &grid, &table);
    implied_draw(scene, &officials, &text);
}

/* At the right of the rule below the corners, while no round is on: who leads, where scoring is
 * open, and in any case what was announced. */
void result_draw(const struct scene *scene, int row, int end)
{
    struct officials officials;
    char words[200];
    char text[224];
    if ((scene->face.state != CLOCK_REST && scene->face.state != CLOCK_OVER) ||
        desk_mode(scene->desk) == DESK_CARDS) {
        return;
    }
    officials_read(&officials, scene->fold, scene->rules, scene->bout, scene->view->now_ms);
    if (officials.announced) {
        official_words(words, sizeof words, scene, &officials);
        snprintf(text, sizeof text, " %s ", words);
    } else if (desk_ended(scene->desk, words, sizeof words)) {
        snprintf(text, sizeof text, " %s ", words);
    } else if (scene->rules->scoring.open &&
               lead_words(words, sizeof words, &officials, scene->rules)) {
        snprintf(text, sizeof text, " cards %s ", words);
    } else {
        return;
    }
    put_right(scene->frame, row, end, STYLE_STRONG, text);
}
