/* checked.c: the live count against the recording, in cells and lines that every form prints. */
#include "sheet/checked.h"

#include <math.h>
#include <stdio.h>

const char *const checked_heads[CHECKED_CELLS] = {"strikes",   "had (95 %)", "right first",
                                                  "put right", "wrong",      "added"};

const char checked_key[] =
    "Strikes: tagged from the recording; had: of them, by the live count; right first: with the "
    "same "
    "corner, limb, target and outcome when typed; put right: the same, later; wrong: had, and one "
    "of "
    "these is another; added: live alone. Expected over all pairings, rounded.";

void checked_cells(char cell[CHECKED_CELLS][CELL_SIZE], const struct reference_row *row)
{
    char share[32];
    const double counts[CHECKED_CELLS] = {[CHECKED_FIRST] = row->first,
                                          [CHECKED_FIXED] = row->right - row->first,
                                          [CHECKED_WRONG] = row->had - row->right,
                                          [CHECKED_ADDED] = row->added};
    for (int i = CHECKED_FIRST; i < CHECKED_CELLS; i++) {
        snprintf(cell[i], CELL_SIZE, "%ld", labs(lround(counts[i])));
    }
    snprintf(cell[CHECKED_OF], CELL_SIZE, "%d", row->of);
    snprintf(cell[CHECKED_HAD], CELL_SIZE, "%.20s", reference_share(share, &row->recall));
}

bool checked_listed(const struct reference_row *row)
{
    return row->by != BY_MINUTE;
}

static void minutes_line(char text[CHECKED_LINE], const struct reference *reference)
{
    size_t count = 0;
    const struct reference_row *row = reference_rows(reference, BY_MINUTE, &count);
    int used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < count && used < CHECKED_LINE - 16; i++) {
        if (row[i].recall.defined) {
            used += snprintf(text + used, CHECKED_LINE - (size_t)used, "%s%d %ld%%",
                             used ? ", " : "", row[i].value, lround(row[i].recall.value * 100));
        }
    }
}

bool checked_line(size_t at, const char **head, char text[CHECKED_LINE],
                  const struct reference *reference)
{
    static const char *const heads[] = {"Had, by minute", "Wrong, of those had",
                                        "Landed, of those had", "Lag of the live key"};
    text[0] = '\0';
    if (at >= sizeof heads / sizeof *heads) {
        return false;
    }
    *head = heads[at];
    switch (at) {
    case 0:
        minutes_line(text, reference);
        break;
    case 1:
        reference_wrong_words(text, CHECKED_LINE, reference);
        break;
    case 2:
        reference_landed_words(text, CHECKED_LINE, reference, "positive predictive value");
        break;
    default:
        reference_lag_words(text, CHECKED_LINE, reference);
        break;
    }
    return true;
}

void checked_figure(char text[CHECKED_LINE], const struct reference_figure *figure)
{
    char bias[16], one[16], other[16];
    int used = 0;
    for (int which = 0; which < REFERENCE_COUNTS; which++) {
        used +=
            snprintf(text + used, CHECKED_LINE - (size_t)used, "%s %d for %d (%s); ",
                     reference_count_names[which], figure->live[which], figure->reference[which],
                     reference_bias(bias, figure, (enum reference_count)which));
    }
    snprintf(text + used, CHECKED_LINE - (size_t)used, "accuracy %s for %s",
             reference_accuracy(one, figure->live), reference_accuracy(other, figure->reference));
}
