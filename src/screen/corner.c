/* corner.c: a corner's name and sums at its side of the panel, and the clock between them. */
#include <stdio.h>
#include <string.h>

#include "ringtally/bout/cautions.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"
#include "screen/scene.h"

#define LARGE_ROWS 10 /* of a corner, before its counts are large too */
#define BUCKETS    12 /* of the trend: a minute */
#define BUCKET_MS  5000

/* The whole name where it fits, else the short one. */
static const char *fitting_name(const struct fighter *fighter, int columns)
{
    return text_width(fighter->name) <= columns ? fighter->name : fighter->short_name;
}

static void name_draw(const struct scene *scene, enum corner corner, const struct area *area)
{
    const char *word = corner == CORNER_RED ? "RED" : "BLUE";
    int length = (int)strlen(word);
    int room = area->columns - length - 2;
    const char *name = fitting_name(&scene->bout->fighter[corner], room);
    int width = text_width(name) < room ? text_width(name) : room;
    if (corner == CORNER_RED) {
        frame_put(scene->frame, area->row, area->column, 0, STYLE_RED_STRONG, word);
        frame_put(scene->frame, area->row, area->column + length + 2, width, STYLE_RED, name);
    } else {
        int end = area->column + area->columns;
        put_right(scene->frame, area->row, end, STYLE_BLUE_STRONG, word);
        frame_put(scene->frame, area->row, end - length - 2 - width, width, STYLE_BLUE, name);
    }
}

/* Knockdowns, and where there is any: strikes not seen well ("?2"), time in which the view was
 * blocked. */
static void standing_text(char *out, size_t size, const struct scene *scene, enum corner corner,
                          int columns)
{
    char left[32];
    const struct corner_tally *tally = &scene->tally->all.corner[corner];
    int64_t unseen = fold_unseen(scene->fold, 0, corner, scene->view->now_ms);
    bool blind = unseen >= 1000;
    const char *time = blind ? clock_text(left, (int32_t)(unseen - 999)) : "";
    bool wide = columns >= 36;
    snprintf(out, size, "knockdowns %d", tally->knockdowns);
    if (tally->unsure > 0 && blind) {
        snprintf(out, size, wide ? "KD %d  unsure %d  unseen %s" : "KD %d ?%d unseen %s",
                 tally->knockdowns, tally->unsure, time);
    } else if (tally->unsure > 0) {
        snprintf(out, size, "KD %d  unsure %d", tally->knockdowns, tally->unsure);
    } else if (blind) {
        snprintf(out, size, "KD %d  unseen %s", tally->knockdowns, time);
    }
}

static void stance_draw(const struct scene *scene, enum corner corner, const struct area *area)
{
    char text[64];
    int row = area->row + 1;
    int end = area->column + area->columns;
    const char *stance = stance_names[fold_stance(scene->fold, corner)];
    bool down = scene->tally->all.corner[corner].knockdowns > 0;
    enum style style = down ? STYLE_STRONG : STYLE_PLAIN;
    standing_text(text, sizeof text, scene, corner, area->columns);
    if (corner == CORNER_RED) {
        frame_put(scene->frame, row, area->column, 0, STYLE_PLAIN, stance);
        put_right(scene->frame, row, end, style, text);
    } else {
        frame_put(scene->frame, row, area->column, 0, style, text);
        put_right(scene->frame, row, end, STYLE_PLAIN, stance);
    }
}

/* In the place of the trend, which shows nothing then: nobody overlooks that he tags blind. */
static bool hidden_draw(const struct scene *scene, enum corner corner, int row,
                        const struct area *area)
{
    char left[32];
    char text[64];
    int round = scene->face.round;
    if (!fold_hidden(scene->fold, corner)) {
        return false;
    }
    int64_t unseen = fold_unseen(scene->fold, round, corner, scene->view->now_ms);
    snprintf(text, sizeof text, " VIEW BLOCKED, unseen %s ",
             clock_text(left, unseen > 999 ? (int32_t)(unseen - 999) : 0));
    frame_put(scene->frame, row, area->column, 0, STYLE_URGENT, text);
    return true;
}

/* Fixed fields in plain style, so that a strike changes a digit or two and costs few bytes. */
static void sums_draw(const struct scene *scene, enum corner corner, int round, int row,
                      const struct area *area)
{
    char label[16];
    char accuracy[SHARE_SIZE];
    char output[32];
    int end = area->column + area->columns;
    const struct count *all = &scene_round(scene, round)->corner[corner].all;
    snprintf(label, sizeof label, round ? "round %d" : "bout", round);
    if (text_width(label) + count_width(all) + 1 > area->columns - 15) {
        snprintf(label, sizeof label, round ? "R%d" : "bout", round);
    }
    const struct coverage_part *seen = desk_seen(scene->desk, round, corner);
    if (seen && !seen->tagged && all->attempted == 0) {
        frame_put(scene->frame, row, area->column, 0, STYLE_PLAIN, label);
        put_right(scene->frame, row, end, STYLE_URGENT, " not tagged ");
        return;
    }
    int left = frame_put(scene->frame, row, area->column, 0, STYLE_PLAIN, label) + 1;
    put_count(scene->frame, row, left, end - 15, STYLE_PLAIN, all);
    put_right(scene->frame, row, end - 10, STYLE_PLAIN, accuracy_text(accuracy, all));
    put_right(scene->frame, row, end - 4, STYLE_PLAIN, output_text(output, scene, corner, round));
    frame_put(scene->frame, row, end - 4, 0, STYLE_DIM, "/min");
}

/* What was thrown of each group: counts, from which anybody can say a share. */
static void groups_draw(const struct scene *scene, enum corner corner, const struct area *area)
{
    static const enum limb_group order[] = {GROUP_HANDS, GROUP_ELBOWS, GROUP_KNEES, GROUP_LEGS};
    static const char *const tight[] = {"hand", "elb", "kne", "leg"};
    const struct corner_tally *tally = &scene->tally->all.corner[corner];
    const int row = area->row + 4, end = area->column + area->columns;
    int groups = 0;
    for (int i = 0; i < 4; i++) {
        groups += scene->limbs >> order[i] & 1;
    }
    const int field = groups ? area->columns / groups : 0; /* fixed: a strike changes little */
    int at = area->column;
    for (int i = 0; i < 4; i++) {
        const struct count *count = &tally->group[order[i]];
        char thrown[16];
        if (!(scene->limbs >> order[i] & 1)) {
            continue;
        }
        snprintf(thrown, sizeof thrown, "%d", count->attempted);
        const char *name = group_names[order[i]];
        int room = field - 2 - text_width(thrown);
        name = text_width(name) <= room ? name : text_width(tight[i]) <= room ? tight[i] : "";
        int column = frame_put(scene->frame, row, at, 0, STYLE_PLAIN, name) + 1;
        if (column + text_width(thrown) <= end) {
            frame_put(scene->frame, row, column, 0, STYLE_PLAIN, thrown);
        }
        at += field;
    }
}

/* What was thrown in each five seconds of the last minute of the round: a block an eighth high for
 * each strike, eight and more full; in ASCII its number. */
static void trend_draw(const struct scene *scene, enum corner corner, bool landed, int row,
                       const struct area *area)
{
    static const char *const blocks[] = {"\u00b7", "\u2581", "\u2582", "\u2583", "\u2584",
                                         "\u2585", "\u2586", "\u2587", "\u2588"};
    int count[BUCKETS] = {0};
    int newest = scene->face.elapsed_ms / BUCKET_MS;
    for (size_t i = scene->subject_count; i-- > 0;) {
        const struct subject *subject = &scene->subjects[i];
        const struct entry *now = &subject->now;
        if (!subject->counts) { /* a shadow's may all come after the bout's */
            continue;
        }
        int bucket = now->elapsed_ms / BUCKET_MS - newest + BUCKETS - 1;
        /* What lies well before the minute ends the search, but for what was inserted late. */
        if ((now->round < scene->face.round || bucket < -BUCKETS) && now->at_ms == now->utc_ms) {
            break;
        }
        if (now->kind == ENTRY_STRIKE && now->round == scene->face.round &&
            now->strike.corner == corner && bucket >= 0 && bucket < BUCKETS &&
            (!landed || now->strike.outcome == OUTCOME_LANDED)) {
            count[bucket]++;
        }
    }
    int end = frame_put(scene->frame, row, area->column, 0, STYLE_PLAIN,
                        landed ? "landed       " : "last minute  ");
    for (int i = 0; i < BUCKETS; i++) {
        char digit[2] = {(char)(count[i] > 9 ? '+' : '0' + count[i]), '\0'};
        const char *block = blocks[count[i] < 8 ? count[i] : 8];
        bool ascii = scene->frame->ascii && count[i] > 0;
        if (newest - BUCKETS + 1 + i >= 0) { /* the round had begun */
            frame_put(scene->frame, row, end + i, 1, STYLE_PLAIN, ascii ? digit : block);
        }
    }
}

/* The round's count and the bout's, to be read from afar; what landed alone where both do not fit.
 */
static void large_draw(const struct scene *scene, enum corner corner, int row,
                       const struct area *area)
{
    char text[2][32];
    const struct count *count[2] = {&scene_round(scene, scene->face.round)->corner[corner].all,
                                    &scene_round(scene, 0)->corner[corner].all};
    for (int whole = 1; whole >= 0; whole--) {
        for (int i = 0; i < 2; i++) {
            snprintf(text[i], sizeof text[i], whole ? "%d/%d" : "%d", count[i]->landed,
                     count[i]->attempted);
        }
        if (digits_width(text[0]) + digits_width(text[1]) + 3 <= area->columns) {
            break;
        }
    }
    enum style style = corner_style(corner, true);
    frame_put(scene->frame, row - 1, area->column, 0, STYLE_DIM, "landed: round");
    put_right(scene->frame, row - 1, area->column + area->columns, STYLE_DIM, "bout");
    digits_draw(scene->frame, row, area->column, style, text[0]);
    digits_draw(scene->frame, row, area->column + area->columns - digits_width(text[1]), style,
                text[1]);
}

void corner_draw(const struct scene *scene, enum corner corner, const struct area *area)
{
    name_draw(scene, corner, area);
    stance_draw(scene, corner, area);
    sums_draw(scene, corner, scene->face.round, area->row + 2, area);
    sums_draw(scene, corner, 0, area->row + 3, area);
    groups_draw(scene, corner, area);
    if (!hidden_draw(scene, corner, area->row + 5, area)) {
        trend_draw(scene, corner, false, area->row + 5, area);
    }
    if (area->rows > 6) {
        trend_draw(scene, corner, true, area->row + 6, area);
    }
    if (area->rows > LARGE_ROWS) {
        large_draw(scene, corner, area->row + 8, area);
    }
}

/* The count that runs, in the place of the clock's digits; the clock goes into the line above. */
static bool count_draw(const struct scene *scene, const struct area *area)
{
    char text[32];
    char left[32];
    enum corner corner = CORNER_NONE;
    int count = desk_count(scene->desk, scene->view->now_ms, &corner);
    if (count == 0 || corner >= CORNER_COUNT) {
        return false;
    }
    snprintf(text, sizeof text, "R%d %s %s", scene->face.round,
             clock_text(left, scene->face.remaining_ms), clock_state_names[scene->face.state]);
    put_centred(scene->frame, area, area->row, STYLE_STRONG, text);
    snprintf(text, sizeof text, "%d", count);
    digits_draw(scene->frame, area->row + 1,
                area->column + (area->columns - digits_width(text)) / 2, corner_style(corner, true),
                text);
    put_centred(scene->frame, area, area->row + 4, STYLE_URGENT,
                corner == CORNER_RED ? " COUNT RED " : " COUNT BLUE ");
    put_centred(scene->frame, area, area->row + 5, STYLE_STRONG,
                area->columns >= text_width(caution_count) ? caution_count : "own count");
    return true;
}

void clock_draw(const struct scene *scene, const struct area *area)
{
    static const char *const words[CLOCK_STATES] = {" READY ", "RUNNING", " STOPPED ", " REST ",
                                                    " OVER "};
    char text[32], ended_words[160];
    char key[16];
    const struct clock_face *face = &scene->face;
    if (count_draw(scene, area)) {
        return;
    }
    if (face->extension) {
        put_centred(scene->frame, area, area->row, STYLE_STRONG, "EXTENSION");
    } else {
        snprintf(text, sizeof text, "ROUND %d of %d", face->round,
                 fold_clock(scene->fold)->plan.rounds);
        put_centred(scene->frame, area, area->row, STYLE_STRONG, text);
    }
    bool ended = desk_ended(scene->desk, ended_words, sizeof ended_words);
    if (ended) { /* when it ended is what is asked for, not what was left */
        when_clock(text, face->elapsed_ms);
    } else {
        clock_text(text, face->remaining_ms);
    }
    int width = digits_width(text);
    if (width <= area->columns) {
        digits_draw(scene->frame, area->row + 1, area->column + (area->columns - width) / 2,
                    STYLE_STRONG, text);
    } else {
        put_centred(scene->frame, area, area->row + 2, STYLE_STRONG, text);
    }
    put_centred(scene->frame, area, area->row + 4,
                face->state == CLOCK_RUNNING ? STYLE_STRONG : STYLE_URGENT,
                ended ? " ENDED " : words[face->state]);
    if (fold_position(scene->fold) == POSITION_CLINCH) {
        put_centred(scene->frame, area, area->row + 5, STYLE_STRONG, "CLINCH");
    } else if (face->state == CLOCK_READY) {
        snprintf(text, sizeof text, "%s starts",
                 key_word(key, scene->keymap->action[ACTION_CLOCK]));
        put_centred(scene->frame, area, area->row + 5, STYLE_PLAIN, text);
    }
    for (int row = 0; row < 5 && scene->view->flash; row++) {
        frame_restyle(scene->frame, area->row + row, area->column, area->columns, STYLE_URGENT);
    }
}
