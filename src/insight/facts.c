/* facts.c: what the tally does not keep: roles, legs met, favourites of a stance. */
#include "ringtally/insight/facts.h"

#include <string.h>

static void add(struct count *count, const struct blow *blow)
{
    count->attempted++;
    count->landed += blow_landed(blow);
}

/* Most first; of two as common, the one that landed more; then the lower index. */
static bool commoner(const struct count *a, const struct count *b)
{
    return a->attempted != b->attempted ? a->attempted > b->attempted : a->landed > b->landed;
}

/* The indexes of the `room` commonest counts into *out; returns how many there are. */
static int commonest(int *out, int room, const struct count *counts, int size)
{
    int found = 0;
    for (int i = 0; i < size; i++) {
        if (counts[i].attempted == 0 ||
            (found == room && !commoner(&counts[i], &counts[out[room - 1]]))) {
            continue;
        }
        int at = found < room ? found++ : room - 1;
        for (; at > 0 && commoner(&counts[i], &counts[out[at - 1]]); at--) {
            out[at] = out[at - 1];
        }
        out[at] = i;
    }
    return found;
}

/* The strikes of the round, or all, stand in one piece. */
static struct stream part_of(const struct stream *stream, int round)
{
    struct stream part = *stream;
    if (round > 0) {
        while (part.count > 0 && part.blow[0].round < round) {
            part.blow++;
            part.count--;
        }
        while (part.count > 0 && part.blow[part.count - 1].round > round) {
            part.count--;
        }
    }
    return part;
}

static void read_stances(struct corner_facts *out, const struct stream *part, enum corner corner)
{
    struct count codes[STANCE_COUNT][STRIKE_CODES];
    memset(codes, 0, sizeof codes);
    for (size_t i = 0; i < part->count; i++) {
        const struct blow *blow = &part->blow[i];
        if (blow->strike.corner != corner) {
            continue;
        }
        add(&out->all, blow);
        add(&out->role[blow->role], blow);
        if (blow->strike.target == TARGET_LEG && limb_group(blow->strike.limb) == GROUP_LEGS) {
            add(&out->met[blow->met], blow);
        }
        add(&out->stance[blow->strike.stance].all, blow);
        add(&codes[blow->strike.stance][strike_code(&blow->strike)], blow);
    }
    for (int s = 0; s < STANCE_COUNT; s++) {
        int best[FAVOURITES];
        struct stance_facts *stance = &out->stance[s];
        stance->favourites = commonest(best, FAVOURITES, codes[s], STRIKE_CODES);
        for (int i = 0; i < stance->favourites; i++) {
            stance->favourite[i] = (struct favourite){(uint8_t)best[i], codes[s][best[i]]};
        }
    }
}

void facts_read(struct facts *out, const struct stream *stream, int round)
{
    struct stream part = part_of(stream, round);
    memset(out, 0, sizeof *out);
    out->round = round;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        read_stances(&out->corner[corner], &part, (enum corner)corner);
    }
}
