/* scene.c: looked up once a frame, and the small texts that several parts show. */
#include "screen/scene.h"

#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

const struct round_tally *scene_round(const struct scene *scene, int round)
{
    return round == 0 ? &scene->tally->all : &scene->tally->round[round];
}

/* Output is shown as of the last whole second of the clock: true, and it does not flicker with
 * every strike. */
static void count_late(struct scene *scene)
{
    int64_t second = scene->view->now_ms - scene->face.elapsed_ms % 1000;
    if (scene->face.state != CLOCK_RUNNING || fold_on_recording(scene->fold)) {
        return;
    }
    for (size_t i = scene->subject_count; i-- > 0 && scene->subjects[i].now.utc_ms > second;) {
        const struct subject *subject = &scene->subjects[i];
        if (subject->counts && subject->now.kind == ENTRY_STRIKE &&
            subject->now.round == scene->face.round) {
            scene->late[subject->now.strike.corner]++;
        }
    }
}

void scene_look(struct scene *scene, struct frame *frame, const struct panel_view *view)
{
    *scene = (struct scene){
        .frame = frame,
        .view = view,
        .desk = view->desk,
        .bout = desk_bout(view->desk),
        .rules = desk_rules(view->desk),
        .keymap = desk_keymap(view->desk),
        .fold = desk_fold(view->desk),
        .face = desk_clock(view->desk, view->now_ms),
    };
    scene->tally = fold_tally(scene->fold);
    scene->subject_count = fold_subjects(scene->fold, &scene->subjects);
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        if (scene->rules->targets[limb]) {
            scene->limbs |= (uint8_t)(1u << limb_group((enum limb)limb));
        }
    }
    count_late(scene);
}

enum style corner_style(enum corner corner, bool strong)
{
    if (corner == CORNER_RED) {
        return strong ? STYLE_RED_STRONG : STYLE_RED;
    }
    if (corner == CORNER_BLUE) {
        return strong ? STYLE_BLUE_STRONG : STYLE_BLUE;
    }
    return strong ? STYLE_STRONG : STYLE_PLAIN;
}

const char *count_text(char out[32], const struct count *count)
{
    if (count->attempted == 0) {
        snprintf(out, 32, "\u00b7");
    } else {
        snprintf(out, 32, "%d/%d", count->landed, count->attempted);
    }
    return out;
}

int count_width(const struct count *count)
{
    char text[32];
    return text_width(count_text(text, count));
}

const char *count_fit(char out[32], const struct count *count, int columns)
{
    if (text_width(count_text(out, count)) > columns) {
        int width = snprintf(out, 32, "%d/\u2026", count->landed) - 2;
        if (width > columns) {
            snprintf(out, 32, "%s", columns > 0 ? "\u2026" : "");
        }
    }
    return out;
}

void put_count(struct frame *frame, int row, int left, int end, enum style style,
               const struct count *count)
{
    char text[32];
    put_right(frame, row, end, style, count_fit(text, count, end - left));
}

const char *accuracy_text(char out[SHARE_SIZE], const struct count *count)
{
    if (count->attempted == 0) {
        snprintf(out, SHARE_SIZE, "\u2013");
    } else {
        share_text(out, count->landed, count->attempted);
    }
    return out;
}

const char *output_text(char out[32], const struct scene *scene, enum corner corner, int round)
{
    const struct clock_face *face = &scene->face;
    int64_t ran = desk_ran(scene->desk, round, scene->view->now_ms);
    int attempted = scene_round(scene, round)->corner[corner].all.attempted;
    if (face->state == CLOCK_RUNNING && !fold_on_recording(scene->fold) &&
        (round == 0 || round == face->round)) {
        ran -= face->elapsed_ms % 1000;
        attempted -= scene->late[corner];
    }
    const struct coverage_part *seen = desk_seen(scene->desk, round, corner);
    ran -= seen ? seen->ran_ms - seen->covered_ms : 0; /* a minute is one that was covered */
    if (ran < RATE_LEAST_MS) {
        snprintf(out, 32, "\u2013");
        return out;
    }
    rate_text(out, attempted, ran);
    return out;
}

const char *clock_text(char out[32], int32_t remaining_ms)
{
    return when_clock(out, remaining_ms + 999);
}

const char *moment_text(char out[48], const struct scene *scene, const struct entry *entry)
{
    char left[WHEN_SIZE];
    const struct clock_plan *plan = &fold_clock(scene->fold)->plan;
    int32_t remaining = clock_round_length(plan, entry->round) - entry->elapsed_ms;
    snprintf(out, 48, "R%d %s", entry->round, clock_text(left, remaining < 0 ? 0 : remaining));
    return out;
}

int scene_rounds(const struct scene *scene)
{
    int rounds = fold_clock(scene->fold)->plan.rounds;
    return scene->tally->last_round > rounds ? scene->tally->last_round : rounds;
}

void put_rule(struct frame *frame, int row, int column, int width, const char *title)
{
    frame_fill(frame, row, column, width, STYLE_DIM, "\u2500");
    if (title[0] && text_width(title) + 4 <= width) {
        frame_put(frame, row, column + 1, 1, STYLE_PLAIN, " ");
        int end = frame_put(frame, row, column + 2, 0, STYLE_PLAIN, title);
        frame_put(frame, row, end, 1, STYLE_PLAIN, " ");
    }
}

void put_right(struct frame *frame, int row, int end, enum style style, const char *text)
{
    frame_put(frame, row, end - text_width(text), 0, style, text);
}

void put_centred(struct frame *frame, const struct area *area, int row, enum style style,
                 const char *text)
{
    int width = text_width(text);
    int indent = width < area->columns ? (area->columns - width) / 2 : 0;
    frame_put(frame, row, area->column + indent, width <= area->columns ? 0 : area->columns, style,
              text);
}

void mark_words(char *out, size_t size, const struct entry *now, bool brief)
{
    bool clinch = now->kind == ENTRY_STRIKE && now->strike.position == POSITION_CLINCH;
    const struct {
        bool is;
        const char *brief, *full;
    } words[] = {
        {now->strike.technique & TECHNIQUE_KNOCKDOWN, "KD", "knockdown"},
        {now->strike.technique & TECHNIQUE_SPINNING, "sp", "spinning"},
        {now->strike.technique & TECHNIQUE_JUMPING, "ju", "jumping"},
        {clinch, "cl", "clinch"},
        {now->off_clock, "off", "off the clock"},
        {now->review, "!", "review"},
    };
    size_t used = 0;
    out[0] = '\0';
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        const char *word = brief ? words[i].brief : words[i].full;
        if (words[i].is && used + strlen(word) + 2 <= size) {
            used += (size_t)snprintf(out + used, size - used, " %s", word);
        }
    }
}
