/* stream.c: the strikes that count, in order of their moments. */
#include "ringtally/tally/stream.h"

#include <stdlib.h>
#include <string.h>

const char *const role_names[ROLE_COUNT] = {"-", "lead", "rear"};

static enum limb_side lead_side(enum stance stance)
{
    return stance == STANCE_ORTHODOX   ? LIMB_SIDE_LEFT
           : stance == STANCE_SOUTHPAW ? LIMB_SIDE_RIGHT
                                       : LIMB_SIDE_NONE;
}

enum limb_role limb_role(enum limb limb, enum stance stance)
{
    enum limb_side side = limb_side(limb);
    enum limb_side lead = lead_side(stance);
    if (side == LIMB_SIDE_NONE || lead == LIMB_SIDE_NONE) {
        return ROLE_NONE;
    }
    return side == lead ? ROLE_LEAD : ROLE_REAR;
}

enum limb_role leg_met(const struct strike *kick, enum stance other)
{
    enum limb_side lead = lead_side(other);
    if (kick->target != TARGET_LEG || kick->technique & TECHNIQUE_SPINNING ||
        lead_side(kick->stance) == LIMB_SIDE_NONE || lead == LIMB_SIDE_NONE) {
        return ROLE_NONE;
    }
    if (limb_group(kick->limb) != GROUP_LEGS) {
        return ROLE_NONE;
    }
    enum limb_side met = limb_side(kick->limb) == LIMB_SIDE_LEFT ? LIMB_SIDE_RIGHT : LIMB_SIDE_LEFT;
    return met == lead ? ROLE_LEAD : ROLE_REAR;
}

static int by_time(const void *left, const void *right)
{
    const struct blow *a = left, *b = right;
    if (a->round != b->round) {
        return a->round < b->round ? -1 : 1;
    }
    if (a->at_ms != b->at_ms) {
        return a->at_ms < b->at_ms ? -1 : 1;
    }
    if (a->desk_place != b->desk_place) {
        return a->desk_place < b->desk_place ? -1 : 1;
    }
    return (a->name.seq > b->name.seq) - (a->name.seq < b->name.seq);
}

/* How many desks have a lesser uid. */
static int32_t desk_place(const struct desk_row *desks, int count, int desk)
{
    int32_t place = 0;
    for (int i = 0; i < count; i++) {
        place += strcmp(desks[i].uid, desks[desk].uid) < 0;
    }
    return place;
}

/* The other's stance is the one of the other's newest strike before; until then it is not known. */
static void mark_roles(struct stream *stream)
{
    int known[CORNER_COUNT] = {STANCE_COUNT, STANCE_COUNT};
    for (size_t i = 0; i < stream->count; i++) {
        struct blow *blow = &stream->blow[i];
        const struct strike *strike = &blow->strike;
        int other = known[corner_other(strike->corner)];
        blow->role = (uint8_t)limb_role(strike->limb, strike->stance);
        blow->met = other == STANCE_COUNT ? ROLE_NONE : (uint8_t)leg_met(strike, other);
        known[strike->corner] = strike->stance;
    }
}

int stream_init(struct stream *out, const struct fold *fold, struct error *err)
{
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    size_t count = fold_subjects(fold, &subjects);
    int desk_count = fold_desks(fold, &desks);
    int32_t place = 0;
    int placed = -1; /* the desk that `place` is of */
    *out = (struct stream){.blow = malloc((count ? count : 1) * sizeof *out->blow)};
    if (!out->blow) {
        return error_memory(err);
    }
    bool sorted = true;
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        if (now->kind != ENTRY_STRIKE || !subjects[i].counts) {
            continue;
        }
        if (now->name.desk != placed) {
            placed = now->name.desk;
            place = desk_place(desks, desk_count, placed);
        }
        struct blow *blow = &out->blow[out->count];
        *blow = (struct blow){
            .strike = now->strike,
            .name = now->name,
            .at_ms = now->at_ms,
            .elapsed_ms = now->elapsed_ms,
            .desk_place = place,
            .round = now->round,
            .off_clock = now->off_clock,
        };
        sorted = sorted && (out->count == 0 || by_time(blow - 1, blow) < 0);
        out->count++;
    }
    if (!sorted) {
        qsort(out->blow, out->count, sizeof *out->blow, by_time);
    }
    mark_roles(out);
    return 0;
}

void stream_release(struct stream *stream)
{
    free(stream->blow);
    *stream = (struct stream){NULL, 0};
}
