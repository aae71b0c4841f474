/* lookup.c: the numbers of the pad cell that was asked for, to be read out loud. */
#include <stdio.h>

#include "ringtally/base/text.h"
#include "screen/scene.h"

#define LABEL 10 /* columns before the digits */

/* A knee without a side stands for both, as on the pad. */
static bool is_asked(const struct strike *asked, int limb)
{
    return limb == asked->limb || (!limb_is_refined(asked->limb) &&
                                   limb_column((enum limb)limb) == limb_column(asked->limb));
}

static struct count asked_count(const struct scene *scene, const struct strike *asked, int round)
{
    struct count sum = {0};
    const struct corner_tally *tally = &scene_round(scene, round)->corner[asked->corner];
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        if (is_asked(asked, limb)) {
            sum.attempted += tally->limb_target[limb][asked->target].attempted;
            sum.landed += tally->limb_target[limb][asked->target].landed;
        }
    }
    return sum;
}

/* The newest one that landed, in the round or (0) in the bout; NULL: none. */
static const struct entry *last_landed(const struct scene *scene, const struct strike *asked,
                                       int round)
{
    const struct entry *last = NULL;
    for (size_t i = 0; i < scene->subject_count; i++) {
        const struct entry *now = &scene->subjects[i].now;
        if (scene->subjects[i].counts && now->kind == ENTRY_STRIKE &&
            now->strike.corner == asked->corner && now->strike.target == asked->target &&
            is_asked(asked, now->strike.limb) && now->strike.outcome == OUTCOME_LANDED &&
            (round == 0 || now->round == round) &&
            (!last || now->round > last->round ||
             (now->round == last->round && now->elapsed_ms >= last->elapsed_ms))) {
            last = now;
        }
    }
    return last;
}

/* Thrown a minute of running clock, as of its last whole second. */
static void rate_words(char out[32], const struct scene *scene, const struct count *count,
                       int round)
{
    int64_t ran = desk_ran(scene->desk, round, scene->view->now_ms);
    if (scene->face.state == CLOCK_RUNNING) {
        ran -= scene->face.elapsed_ms % 1000;
    }
    char rate[SHARE_SIZE];
    rate_text(rate, count->attempted, ran);
    snprintf(out, 32, "%s/min", ran < RATE_LEAST_MS ? "\u2013" : rate);
}

static void scope_draw(const struct scene *scene, const struct strike *asked, int round, int row,
                       int column, int columns)
{
    char text[64];
    char moment[48];
    char accuracy[SHARE_SIZE];
    struct frame *frame = scene->frame;
    struct count count = asked_count(scene, asked, round);
    const struct entry *last = last_landed(scene, asked, round);
    enum style style = corner_style((enum corner)asked->corner, true);
    snprintf(text, sizeof text, round ? "round %d" : "bout", round);
    frame_put(frame, row, column, LABEL, STYLE_STRONG, text);
    frame_put(frame, row + 1, column, LABEL, STYLE_DIM, "landed");
    snprintf(text, sizeof text, "%d/%d", count.landed, count.attempted);
    bool whole = LABEL + digits_width(text) + 9 <= columns;
    if (!whole) { /* only what landed is large */
        snprintf(text, sizeof text, "%d", count.landed);
    }
    frame_put(frame, row + 2, column, LABEL, STYLE_DIM, whole ? "attempted" : "");
    digits_draw(frame, row, column + LABEL, style, text);
    int at = column + LABEL + digits_width(text) + 2;
    int room = column + columns - at;
    if (room < 4) {
        return;
    }
    accuracy_text(accuracy, &count);
    if (whole) {
        frame_put(frame, row, at, room, STYLE_STRONG, accuracy);
    } else {
        frame_putf(frame, row, at, room, STYLE_STRONG, "%s of %d", accuracy, count.attempted);
    }
    rate_words(text, scene, &count, round);
    frame_put(frame, row + 1, at, room, STYLE_PLAIN, text);
    snprintf(text, sizeof text, "last %s", last ? moment_text(moment, scene, last) : "\u2013");
    frame_put(frame, row + 2, at, room, STYLE_PLAIN, text_width(text) > room ? text + 5 : text);
}

int lookup_draw(const struct scene *scene, const struct area *area, const struct strike *asked)
{
    char mode[64];
    char hint[96];
    char key[16];
    int half = area->columns / 2;
    snprintf(mode, sizeof mode, "%s %s to the %s", asked->corner == CORNER_RED ? "RED" : "BLUE",
             limb_words[asked->limb], target_names[asked->target]);
    snprintf(hint, sizeof hint, "%s asks again  Esc closes; the pad logs on",
             key_word(key, scene->keymap->action[ACTION_LOOKUP]));
    mode_line(scene, area, mode, hint);
    for (int i = 0; i < 3 && area->row + 1 + i < area->row + area->rows; i++) {
        frame_fill(scene->frame, area->row + 1 + i, area->column, area->columns, STYLE_PLAIN, " ");
    }
    scope_draw(scene, asked, scene->face.round, area->row + 1, area->column + 1, half - 2);
    scope_draw(scene, asked, 0, area->row + 1, area->column + half + 1, half - 2);
    return 4;
}
