/* records.c: the most that former bouts have. */
#include "ringtally/tally/records.h"

#include <stdlib.h>

#include "ringtally/base/grow.h"

int record_count(const struct corner_tally *tally, int sort)
{
    int group = record_group(sort), target = record_target(sort), landed = 0;
    if (sort == RECORD_THROWN) {
        return tally->all.attempted;
    }
    if (sort == RECORD_KNOCKDOWNS) {
        return tally->knockdowns;
    }
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        for (int of = 0; of < TARGET_COUNT; of++) {
            bool counts = (group < 0 || group == (int)limb_group((enum limb)limb)) &&
                          (target < 0 || target == of);
            landed += counts ? tally->limb_target[limb][of].landed : 0;
        }
    }
    return landed;
}

int records_add(struct records *records, int64_t bout, const struct fold *fold, uint8_t corners)
{
    const struct tally *tally = fold_tally(fold);
    if (!grow_array(&records->bout, sizeof *records->bout, records->bouts, 1, &records->room)) {
        return ERROR_MEMORY;
    }
    records->bout[records->bouts++] = bout;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int round = 0; round <= tally->last_round && corners >> corner & 1; round++) {
            const struct round_tally *of = round ? &tally->round[round] : &tally->all;
            int *most = records->most[round ? RECORD_ROUND : RECORD_BOUT];
            for (int sort = 0; sort < RECORD_SORTS; sort++) {
                int count = record_count(&of->corner[corner], sort);
                most[sort] = count > most[sort] ? count : most[sort];
            }
        }
    }
    return 0;
}

void former_release(struct former *former)
{
    free(former->here.bout);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        free(former->own[corner].bout);
    }
    *former = (struct former){.here = {.bout = NULL}};
}
