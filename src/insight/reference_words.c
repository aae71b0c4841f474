/* reference_words.c: the live count against the recording, in words: one wording for all printers.
 */
#include <math.h>
#include <stdio.h>

#include "ringtally/insight/reference.h"

const char reference_lag_note[] =
    "The lag is how late a strike's key is behind its frame, less how late the bell's own key was: "
    "the live round clock begins with that key, and no clock is common to ringside and recording. "
    "The bell's part is one number a round, and it is not known.";

static int percent(double share)
{
    return (int)lround(share * 100);
}

void reference_words(char *out, unsigned size, const struct reference_row *row)
{
    switch (row->by) {
    case BY_CORNER:
        snprintf(out, size, "%s", corner_names[row->value]);
        break;
    case BY_LIMB:
        snprintf(out, size, "%s", limb_words[row->value]);
        break;
    case BY_TARGET:
        snprintf(out, size, "%s", target_names[row->value]);
        break;
    case BY_ROUND:
        snprintf(out, size, "round %d", row->value);
        break;
    case BY_MINUTE:
        snprintf(out, size, "minute %d", row->value);
        break;
    case BY_BURST:
        snprintf(out, size, "%s a second",
                 row->value == 3   ? "3 or 4"
                 : row->value == 5 ? "5 or more"
                 : row->value == 2 ? "2"
                                   : "1");
        break;
    case BY_POSITION:
        snprintf(out, size, "%s", row->value == POSITION_CLINCH ? "clinch" : "open");
        break;
    default:
        snprintf(out, size, "all");
        break;
    }
}

const char *reference_share(char out[32], const struct estimate *share)
{
    if (!share->defined) {
        return "-";
    }
    snprintf(out, 32, "%d%% (%d-%d)", percent(share->value), percent(share->low),
             percent(share->high));
    return out;
}

const char *reference_accuracy(char out[16], const int count[REFERENCE_COUNTS])
{
    if (count[REFERENCE_ATTEMPTED] == 0) {
        return "-";
    }
    snprintf(out, 16, "%d%%",
             percent((double)count[REFERENCE_LANDED] / count[REFERENCE_ATTEMPTED]));
    return out;
}

const char *reference_bias(char out[16], const struct reference_figure *figure,
                           enum reference_count which)
{
    int live = figure->live[which], is = figure->reference[which];
    if (is == 0) {
        return "-";
    }
    snprintf(out, 16, "%+.1f%%", 100.0 * (live - is) / is);
    return out;
}

bool reference_tagged(const struct reference_figure *figure)
{
    return figure->live[REFERENCE_ATTEMPTED] + figure->reference[REFERENCE_ATTEMPTED] > 0;
}

void reference_wrong_words(char *out, unsigned size, const struct reference *reference)
{
    char share[32];
    int used = 0;
    out[0] = '\0';
    for (int field = 0; field < AGREE_FIELDS && used >= 0 && (unsigned)used < size; field++) {
        used +=
            snprintf(out + used, size - (unsigned)used, "%s%s %s", field ? ", " : "",
                     agree_field_names[field], reference_share(share, &reference->wrong[field]));
    }
}

void reference_landed_words(char *out, unsigned size, const struct reference *reference,
                            const char *ppv)
{
    char one[32], other[32];
    const struct agree_field *landed = &reference->agree.field[AGREE_LANDED];
    int used =
        snprintf(out, size, "sensitivity %s, %s %s", reference_share(one, &reference->sensitivity),
                 ppv, reference_share(other, &reference->ppv));
    if (landed->kappa.agreement.defined && used >= 0 && (unsigned)used < size) {
        used += snprintf(out + used, size - (unsigned)used, ", kappa %.2f",
                         landed->kappa.agreement.value);
    }
    if (landed->ac1.defined && used >= 0 && (unsigned)used < size) {
        snprintf(out + used, size - (unsigned)used, ", AC1 %.2f", landed->ac1.value);
    }
}

void reference_lag_words(char *out, unsigned size, const struct reference *reference)
{
    int used = 0, rounds = 0;
    out[0] = '\0';
    if (reference->lag.of == 0 || !reference->tells) {
        return;
    }
    used =
        snprintf(out, size, "median %.0f ms, 90%% within %.0f, %+ld a minute of a round",
                 reference->lag.median_ms, reference->lag.p90_ms, lround(reference->lag_drift_ms));
    for (int round = 1; round <= ROUND_MAX && used > 0 && (unsigned)used < size; round++) {
        if (reference->lag_round[round].of > 0) {
            used += snprintf(out + used, size - (unsigned)used, "%sR%d %.0f",
                             rounds++ ? ", " : "; ", round, reference->lag_round[round].median_ms);
        }
    }
}

const struct reference_row *reference_rows(const struct reference *reference, enum reference_by by,
                                           size_t *count)
{
    const struct reference_row *first = NULL;
    *count = 0;
    for (size_t i = 0; i < reference->rows; i++) {
        if (reference->row[i].by == by) {
            first = first ? first : &reference->row[i];
            ++*count;
        }
    }
    return first;
}

void reference_line(char *out, unsigned size, const struct reference *reference)
{
    static const char head[] = "live count checked against the recording";
    const struct reference_row *all = reference->row;
    if (reference->rows == 0 || all->of == 0 || !reference->tells) {
        snprintf(out, size, "%s: %s", head,
                 reference->rows == 0 || all->of == 0
                     ? "nothing is tagged from it yet"
                     : "which strike is which cannot be told, so no rate is");
        return;
    }
    int used =
        snprintf(out, size, "%s: %.0f of its %d strikes, %d%% (%d to %d)", head, all->had, all->of,
                 percent(all->recall.value), percent(all->recall.low), percent(all->recall.high));
    if (reference->sensitivity.defined && reference->ppv.defined && used > 0 &&
        (unsigned)used < size) {
        snprintf(out + used, size - (unsigned)used,
                 "; landed: seen %d%% (%d to %d), true %d%% (%d to %d)",
                 percent(reference->sensitivity.value), percent(reference->sensitivity.low),
                 percent(reference->sensitivity.high), percent(reference->ppv.value),
                 percent(reference->ppv.low), percent(reference->ppv.high));
    }
}
