/* practice_pad.c: which key was hit for which, on the pad. */
#include "sheet/practice_pad.h"

#include <stdio.h>

const uint8_t practice_columns[CORNER_COUNT][PRACTICE_COLUMNS] = {
    {LIMB_LEFT_LEG, LIMB_LEFT_HAND, LIMB_RIGHT_HAND, LIMB_RIGHT_LEG, LIMB_KNEE},
    {LIMB_KNEE, LIMB_LEFT_LEG, LIMB_LEFT_HAND, LIMB_RIGHT_HAND, LIMB_RIGHT_LEG},
};

void practice_pad_read(struct practice_pad_cell *out, const struct practice_view *view, int corner,
                       int limb, int target)
{
    *out = (struct practice_pad_cell){0};
    for (size_t i = 0; i < view->cell_count; i++) {
        const struct practice_cell *cell = &view->cells[i];
        if (cell->corner != corner || cell->limb != limb || cell->target != target) {
            continue;
        }
        out->called += cell->count;
        if (!cell->hit) {
            out->missed += cell->count;
        } else if (cell->hit_corner == corner && cell->hit_limb == limb &&
                   cell->hit_target == target) {
            out->right += cell->count;
        } else if (cell->count > out->other_count) {
            out->other = view->key(view->user, cell->hit_corner, cell->hit_limb, cell->hit_target);
            out->other_count = cell->count;
        }
    }
}

/* "w 12/14 e2": right of called, and twice e instead. */
static void cell_text(char out[32], const struct practice_view *view, int corner, int limb,
                      int target)
{
    struct practice_pad_cell cell;
    const char *key = view->key(view->user, corner, limb, target);
    out[0] = '\0';
    if (!key || !rules_allow(view->rules, (enum limb)limb, (enum target)target)) {
        return;
    }
    practice_pad_read(&cell, view, corner, limb, target);
    int used = snprintf(out, 32, "%s", key);
    if (cell.called > 0) {
        used += snprintf(out + used, 32 - (size_t)used, "%d/%d", cell.right, cell.called);
    }
    if (cell.other && cell.other_count > 0) {
        snprintf(out + used, 32 - (size_t)used, "%s%d", cell.other, cell.other_count);
    }
}

void practice_pad_text(struct buf *out, const struct practice_view *view)
{
    buf_adds(out, "THE PAD  key, right/called, and the key that was hit for it most\n");
    for (int target = 0; target < TARGET_COUNT; target++) {
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            for (int column = 0; column < PRACTICE_COLUMNS; column++) {
                char text[32];
                cell_text(text, view, corner, practice_columns[corner][column], target);
                buf_addf(out, "%-8s", text);
            }
        }
        while (out->size > 0 && !out->failed && out->text[out->size - 1] == ' ') {
            out->text[--out->size] = '\0';
        }
        buf_adds(out, "\n");
    }
}
