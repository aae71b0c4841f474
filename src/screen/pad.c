/* pad.c: the pad under the fingers: each cell its key and what it has counted. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "screen/scene.h"

#define COLUMNS 5

/* A cell of the pad: limbs and targets that are counted together. */
struct spot {
    uint16_t limbs;   /* bit 1 << limb */
    uint8_t targets;  /* bit 1 << target */
    const char *name; /* of what does not follow from row and column, or NULL */
};

/* As the hands lie on the keys, from left to right. */
static const uint8_t order[CORNER_COUNT][COLUMNS] = {
    {PAD_LEFT_LEG, PAD_LEFT_HAND, PAD_RIGHT_HAND, PAD_RIGHT_LEG, PAD_KNEE},
    {PAD_KNEE, PAD_LEFT_LEG, PAD_LEFT_HAND, PAD_RIGHT_HAND, PAD_RIGHT_LEG},
};

static uint16_t limbs_of(enum pad_column column)
{
    unsigned limbs = 0;
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        limbs |= limb_column((enum limb)limb) == column ? 1u << limb : 0;
    }
    return (uint16_t)limbs;
}

static bool allows(const struct rules *rules, uint16_t limbs, uint8_t targets)
{
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        if ((limbs >> limb & 1) && (rules->targets[limb] & targets)) {
            return true;
        }
    }
    return false;
}

/* Elbows have their keys in the leg row under the hands. */
static struct spot spot_at(const struct rules *rules, enum corner corner, int column,
                           enum target target)
{
    enum pad_column own = (enum pad_column)order[corner][column];
    struct spot spot = {limbs_of(own), (uint8_t)(1u << target), NULL};
    if (target == TARGET_LEG && limb_group(pad_limb(own)) == GROUP_HANDS) {
        uint16_t elbow = limbs_of(own == PAD_LEFT_HAND ? PAD_LEFT_ELBOW : PAD_RIGHT_ELBOW);
        if (allows(rules, elbow, 7)) {
            spot = (struct spot){elbow, 7, "elbow"};
        }
    }
    return spot;
}

static bool spot_has(const struct spot *spot, int limb, int target)
{
    return (spot->limbs >> limb & 1) && (spot->targets >> target & 1);
}

static struct count spot_count(const struct spot *spot, const struct corner_tally *tally)
{
    struct count sum = {0};
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        for (int target = 0; target < TARGET_COUNT; target++) {
            if (spot_has(spot, limb, target)) {
                sum.attempted += tally->limb_target[limb][target].attempted;
                sum.landed += tally->limb_target[limb][target].landed;
            }
        }
    }
    return sum;
}

/* The keys that count there, at most two. */
static void spot_keys(char out[16], const struct spot *spot, const struct scene *scene,
                      enum corner corner)
{
    size_t used = 0;
    out[0] = '\0';
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        for (int target = 0; target < TARGET_COUNT; target++) {
            char word[16];
            int32_t key = scene->keymap->pad[corner][limb][target].attempted;
            if (!spot_has(spot, limb, target) || key == KEY_OF_NONE || key == 0) {
                continue;
            }
            key_word(word, key);
            if (used + strlen(word) + 1 < 8) {
                used += (size_t)snprintf(out + used, 16 - used, "%s", word);
            }
        }
    }
}

/* The count at the right of the cell. What does not fit breaks behind the slash, where the row
 * above is free from `above` on, else it is cut. */
static void count_draw(struct frame *frame, int row, int column, int width, int above,
                       enum style style, const struct count *count)
{
    char text[32];
    int landed = snprintf(text, sizeof text, "%d/", count->landed);
    if (count_width(count) <= width || column + width - landed < above) {
        put_count(frame, row, column, column + width, style, count);
        return;
    }
    snprintf(text, sizeof text, "%d/", count->landed);
    put_right(frame, row - 1, column + width, style, text);
    snprintf(text, sizeof text, "%d", count->attempted);
    put_right(frame, row, column + width, style, text);
}

static void cell_draw(const struct scene *scene, enum corner corner, const struct spot *spot,
                      const struct area *area, int lines)
{
    char keys[16];
    struct strike hit = {0};
    struct frame *frame = scene->frame;
    int right = area->column + area->columns;
    if (!allows(scene->rules, spot->limbs, spot->targets)) {
        return;
    }
    struct count now = spot_count(spot, &scene_round(scene, scene->face.round)->corner[corner]);
    struct count all = spot_count(spot, &scene->tally->all.corner[corner]);
    spot_keys(keys, spot, scene, corner);
    int end = frame_put(frame, area->row, area->column, 0, corner_style(corner, false), keys);
    if (spot->name) {
        int room = area->column + area->columns - end - 1;
        end = frame_put(frame, area->row, end + 1, room < 5 ? 3 : 5, STYLE_DIM,
                        room < 5 ? "elb" : spot->name);
    } else if (lines == 2 && end + 1 + count_width(&all) <= right && area->columns >= 9) {
        put_count(frame, area->row, end + 1, right, STYLE_DIM, &all);
        end = right;
    }
    count_draw(frame, area->row + 1, area->column, area->columns, end + 1, STYLE_PLAIN, &now);
    if (lines > 2) {
        put_count(frame, area->row + 2, area->column, right, STYLE_DIM, &all);
    }
    if (desk_hit(scene->desk, scene->view->now_ms, &hit) && hit.corner == corner &&
        spot_has(spot, hit.limb, hit.target)) {
        enum style style = corner == CORNER_RED ? STYLE_RED_HIT : STYLE_BLUE_HIT;
        frame_put(frame, area->row + 1, area->column - 1, 1, style, "\u25ba");
        frame_restyle(frame, area->row + 1, area->column, area->columns, style);
    }
}

int pad_rows(int lines, int gap)
{
    return 2 + TARGET_COUNT * lines + (TARGET_COUNT - 1) * gap;
}

static bool row_exists(const struct rules *rules, enum target target)
{
    for (int column = 0; column < COLUMNS; column++) {
        struct spot spot = spot_at(rules, CORNER_RED, column, target);
        if (allows(rules, spot.limbs, spot.targets)) {
            return true;
        }
    }
    return false;
}

/* Between the corners: what the rows are. */
static void labels_draw(const struct scene *scene, const struct area *middle, int lines, int gap)
{
    for (int target = 0; target < TARGET_COUNT; target++) {
        int row = middle->row + target * (lines + gap);
        if (!row_exists(scene->rules, (enum target)target)) {
            continue;
        }
        put_centred(scene->frame, middle, row, STYLE_STRONG, target_headings[target]);
        if (lines > 2) {
            put_centred(scene->frame, middle, row + 1, STYLE_DIM, "round");
            put_centred(scene->frame, middle, row + 2, STYLE_DIM, "bout");
        }
    }
}

void pad_draw(const struct scene *scene, const struct area *area, int lines, int gap)
{
    char title[64];
    int pitch = (area->columns - 10) / (2 * COLUMNS);
    int cells = area->row + 2;
    snprintf(title, sizeof title, "landed/attempted, round %d", scene->face.round);
    put_rule(scene->frame, area->row, area->column, area->columns, title);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        int left = corner == CORNER_RED ? area->column + 1
                                        : area->column + area->columns - COLUMNS * pitch;
        for (int column = 0; column < COLUMNS; column++) {
            struct area cell = {cells, left + column * pitch, lines, pitch - 1};
            enum pad_column own = (enum pad_column)order[corner][column];
            if (allows(scene->rules, limbs_of(own), 7)) {
                put_right(scene->frame, area->row + 1, cell.column + cell.columns,
                          corner_style((enum corner)corner, false), limb_briefs[pad_limb(own)]);
            }
            for (int target = 0; target < TARGET_COUNT; target++, cell.row += lines + gap) {
                struct spot spot =
                    spot_at(scene->rules, (enum corner)corner, column, (enum target)target);
                cell_draw(scene, (enum corner)corner, &spot, &cell, lines);
            }
        }
    }
    int inner = COLUMNS * pitch;
    struct area middle = {cells, area->column + inner, 0, area->columns - 2 * inner};
    labels_draw(scene, &middle, lines, gap);
}
