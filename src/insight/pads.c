/* pads.c: a corner's strikes by target and limb. */
#include "ringtally/insight/pads.h"

#include <stdio.h>
#include <string.h>

static void add(struct count *sum, const struct count *count)
{
    sum->attempted += count->attempted;
    sum->landed += count->landed;
}

static void add_knockdowns(struct pad *out, const struct fold *fold, enum corner corner, int first,
                           int last)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(fold, &subjects);
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        if (subjects[i].counts && now->kind == ENTRY_STRIKE && now->strike.corner == corner &&
            (first == 0 || (now->round >= first && now->round <= last)) &&
            now->strike.technique & TECHNIQUE_KNOCKDOWN) {
            out->cell[now->strike.target][limb_column(now->strike.limb)].knockdowns++;
            out->target[now->strike.target].knockdowns++;
        }
    }
}

void pad_read(struct pad *out, const struct fold *fold, const struct rules *rules,
              enum corner corner, int first, int last)
{
    const struct tally *tally = fold_tally(fold);
    struct corner_tally sum = {.blocked = 0};
    for (int round = first; first > 0 && round <= last; round++) {
        corner_tally_add(&sum, &tally->round[round].corner[corner]);
    }
    const struct corner_tally *from = first > 0 ? &sum : &tally->all.corner[corner];
    memset(out, 0, sizeof *out);
    out->all = from->all;
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        enum pad_column column = limb_column((enum limb)limb);
        add(&out->column[column], &from->limb[limb]);
        for (int target = 0; target < TARGET_COUNT; target++) {
            struct pad_cell *cell = &out->cell[target][column];
            const struct count *count = &from->limb_target[limb][target];
            add(&cell->count, count);
            cell->exists = cell->exists || count->attempted || rules->targets[limb] >> target & 1;
            out->target[target].exists = out->target[target].exists || cell->exists;
            out->column_shown[column] = out->column_shown[column] || cell->exists;
        }
    }
    for (int target = 0; target < TARGET_COUNT; target++) {
        out->target[target].count = from->target[target];
        if (from->target[target].landed > out->most_target) {
            out->most_target = from->target[target].landed;
        }
        for (int column = 0; column < PAD_COLUMNS; column++) {
            int landed = out->cell[target][column].count.landed;
            out->most = landed > out->most ? landed : out->most;
        }
    }
    for (int column = 0; column < PAD_COLUMNS; column++) {
        out->columns += out->column_shown[column];
    }
    add_knockdowns(out, fold, corner, first, last);
}

int pad_heat(int landed, int most)
{
    int least = most < HEAT_LEAST ? HEAT_LEAST : most;
    return landed <= 0 ? 0 : (4 * landed + least - 1) / least;
}

void pad_words(char out[48], enum pad_column column, enum target target)
{
    enum limb limb = pad_limb(column);
    if (limb_group(limb) == GROUP_LEGS) {
        snprintf(out, 48, "%s %s", limb_side(limb) == LIMB_SIDE_LEFT ? "left" : "right",
                 target_kicks[target]);
    } else {
        snprintf(out, 48, "%s to the %s", limb_words[limb], target_names[target]);
    }
}
