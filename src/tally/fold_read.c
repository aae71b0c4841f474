/* fold_read.c: what a fold tells. */
#include "tally/fold_inside.h"

const struct tally *fold_tally(const struct fold *fold)
{
    return &fold->tally;
}

const struct round_clock *fold_clock(const struct fold *fold)
{
    return &fold->states.clock;
}

bool fold_on_recording(const struct fold *fold)
{
    return fold->bells.on && fold_official(fold, CODE_CLOCK) == fold->bells.root;
}

struct round_clock fold_clock_at(const struct fold *fold, int64_t at_ms)
{
    return fold_on_recording(fold) ? bells_clock(&fold->bells, &fold->states.plan, at_ms)
                                   : fold->states.clock;
}

size_t fold_bells(const struct fold *fold, const struct entry **out)
{
    *out = fold->bells.bell;
    return fold->bells.count;
}

enum stance fold_stance(const struct fold *fold, enum corner corner)
{
    return fold->states.stance[corner];
}

enum position fold_position(const struct fold *fold)
{
    return fold->states.position;
}

int fold_whose(const struct fold *fold)
{
    return fold->whose;
}

int fold_official(const struct fold *fold, enum entry_code what)
{
    bool follows = what == CODE_CLOCK && !fold->keeps_clock && !fold->bells.on &&
                   fold->own_clock.code == CODE_NONE;
    int holder = offices_now(&fold->offices, what);
    return fold->whose == FOLD_OFFICIAL || (follows && holder >= 0) ? holder : fold->whose;
}

size_t fold_entries(const struct fold *fold, const struct entry **out)
{
    *out = fold->entries;
    return fold->entry_count;
}

size_t fold_subjects(const struct fold *fold, const struct subject **out)
{
    *out = fold->subjects;
    return fold->subject_count;
}

const struct subject *fold_subject(const struct fold *fold, struct entry_name name)
{
    const struct slot *slot = slots_find(&fold->slots, name);
    return slot && slot->subject >= 0 ? &fold->subjects[slot->subject] : NULL;
}

const struct entry *fold_entry(const struct fold *fold, struct entry_name name)
{
    const struct slot *slot = slots_find(&fold->slots, name);
    size_t low = 0, high = fold->entry_count;
    if (!slot) {
        return NULL;
    }
    struct entry key = {.utc_ms = slot->utc_ms, .name = name};
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (entry_compare(&fold->entries[middle], &key, fold->desks) < 0) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return &fold->entries[low];
}

enum fold_effect fold_effect(const struct fold *fold, struct entry_name name)
{
    const struct slot *slot = slots_find(&fold->slots, name);
    return slot ? slot->effect : EFFECT_UNKNOWN;
}

const struct entry *fold_before(const struct fold *fold, struct entry_name name)
{
    const struct slot *slot = slots_find(&fold->slots, name);
    return slot ? fold_entry(fold, slot->prev) : NULL;
}

size_t fold_downs(const struct fold *fold, const size_t **out)
{
    *out = fold->downs;
    return fold->down_count;
}

size_t fold_states(const struct fold *fold, const size_t **out)
{
    *out = fold->states.index;
    return fold->states.count;
}

int fold_desks(const struct fold *fold, const struct desk_row **out)
{
    *out = fold->desks;
    return (int)fold->desk_count;
}

const struct entry *fold_signed(const struct fold *fold)
{
    return fold->signature.code == CODE_SIGN ? &fold->signature : NULL;
}

int64_t fold_newest_ms(const struct fold *fold)
{
    return fold->entry_count ? fold->entries[fold->entry_count - 1].utc_ms : 0;
}
