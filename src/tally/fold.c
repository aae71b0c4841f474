/* fold.c: entries in, state and counts out. */
#include "ringtally/tally/fold.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/bout/recording.h"
#include "tally/fold_inside.h"
#include "tally/order.h"

#define FEW 64 /* entries that find their places one by one */

const char *const fold_effect_words[EFFECT_COUNT] = {
    [EFFECT_UNKNOWN] = "",
    [EFFECT_TAKEN] = "",
    [EFFECT_APART] = "counted apart",
    [EFFECT_NO_OFFICE] = "refused: another desk's entry",
    [EFFECT_NO_SUBJECT] = "refused: what it corrects is not there",
};

void round_tally_add(struct round_tally *tally, const struct subject *subject, int sign)
{
    const struct entry *now = &subject->now;
    tally->corrections += subject->corrections * sign;
    if (!subject->counts) {
        return;
    }
    tally->review += now->review ? sign : 0;
    struct corner_tally *corner = &tally->corner[now->strike.corner];
    if (now->kind == ENTRY_STRIKE) {
        corner_tally_strike(corner, &now->strike, sign);
        corner->unsure += now->unsure ? sign : 0;
        tally->off_clock += now->off_clock ? sign : 0;
    } else if (now->kind == ENTRY_INCIDENT) {
        corner->incidents[now->code] += sign;
        corner->deducted += now->code == CODE_DEDUCTION ? (int)now->value * sign : 0;
    }
}

static void tally_add(struct fold *fold, const struct subject *subject, int sign)
{
    if (!subject->official) {
        return; /* never in the tally, whatever is corrected */
    }
    round_tally_add(&fold->tally.all, subject, sign);
    round_tally_add(&fold->tally.round[subject->now.round], subject, sign);
    if (subject->counts && subject->now.kind != ENTRY_STANCE &&
        subject->now.kind != ENTRY_POSITION && subject->now.kind != ENTRY_CLOCK) {
        fold->live_in_round[subject->now.round] += sign;
    }
}

/* In a desk's own view the official clock holds until the first clock entry of its own; a recording
 * has bells of its own alone. */
static bool follows_clock(const struct fold *fold, const struct entry *entry)
{
    return !fold->keeps_clock && !fold->bells.on &&
           (fold->own_clock.code == CODE_NONE ||
            entry_compare(entry, &fold->own_clock, fold->desks) < 0);
}

static uint8_t held_by(const struct fold *fold, int root, const struct entry *entry)
{
    if (fold->whose == root) {
        return OFFICE_ALL;
    }
    uint8_t held = offices_held(&fold->offices, root, entry, fold->desks);
    if (fold->whose == FOLD_OFFICIAL) {
        return held;
    }
    return entry->kind == ENTRY_CLOCK && follows_clock(fold, entry) ? held & OFFICE_CLOCK : 0;
}

/* Whether those offices are for what the subject says now. */
static bool office_covers(uint8_t offices, enum entry_kind kind, enum corner corner)
{
    switch (kind) {
    case ENTRY_CLOCK:
        return offices & OFFICE_CLOCK;
    case ENTRY_POSITION:
        return offices & 3;
    default:
        return offices >> corner & 1;
    }
}

static void subject_judge(struct subject *subject)
{
    subject->counts =
        subject->live && office_covers(subject->official, (enum entry_kind)subject->now.kind,
                                       (enum corner)subject->now.strike.corner);
}

static void last_round_anew(struct fold *fold)
{
    int last = fold->states.clock.round;
    for (int round = last + 1; round <= ROUND_MAX; round++) {
        last = fold->live_in_round[round] > 0 ? round : last;
    }
    fold->tally.last_round = last;
}

static void index_put(size_t *list, size_t *count, size_t index)
{
    size_t at = (*count)++;
    for (; at > 0 && list[at - 1] > index; at--) {
        list[at] = list[at - 1];
    }
    list[at] = index;
}

/* Everything that names subjects by their place follows them up by one. */
static void make_place(struct fold *fold, size_t place)
{
    for (size_t i = fold->subject_count; i-- > place;) {
        fold->subjects[i + 1] = fold->subjects[i];
        slots_find(&fold->slots, fold->subjects[i].now.name)->subject++;
    }
    states_shift(&fold->states, place);
    for (size_t i = fold->down_count; i-- > 0 && fold->downs[i] >= place;) {
        fold->downs[i]++;
    }
    fold->subject_count++;
}

static bool is_own(const struct fold *fold, const struct entry *entry)
{
    return fold->desks[entry->name.desk].root == fold->whose;
}

static bool is_in_media(const struct fold *fold, const struct entry *entry)
{
    return fold->bells.on && fold->desks[entry->name.desk].root == fold->bells.root;
}

/* On a recording round and clock are the moment's. */
static void place_in_media(const struct fold *fold, struct entry *now)
{
    if (is_in_media(fold, now)) {
        bells_place(&fold->bells, &fold->states.plan, now);
    }
}

/* The clock is that of the bells, while their desk has it. */
static void clock_in_media(struct fold *fold)
{
    if (fold_on_recording(fold)) {
        fold->states.clock = bells_clock(&fold->bells, &fold->states.plan, INT64_MAX);
        states_end(&fold->states, fold->subjects);
    }
}

/* Once all bells are known: everything is placed by them, and counted anew. */
static void media_anew(struct fold *fold)
{
    bells_anew(&fold->bells, &fold->states.plan, fold->subjects, fold->states.index,
               fold->states.count, fold->desks);
    for (size_t i = 0; i < fold->subject_count; i++) {
        tally_add(fold, &fold->subjects[i], -1);
        place_in_media(fold, &fold->subjects[i].now);
        tally_add(fold, &fold->subjects[i], 1);
    }
    clock_in_media(fold);
    downs_count(&fold->tally, fold->subjects, fold->downs, fold->down_count);
    last_round_anew(fold);
}

static enum fold_effect apply_new(struct fold *fold, const struct entry *entry, int root,
                                  size_t *place)
{
    size_t at = fold->subject_count;
    while (at > 0) {
        const struct entry *before = &fold->subjects[at - 1].now;
        struct entry key = {.utc_ms = before->utc_ms, .name = before->name};
        if (entry_compare(entry, &key, fold->desks) > 0) {
            break;
        }
        at--;
    }
    bool last = at == fold->subject_count;
    make_place(fold, at);
    struct subject *subject = &fold->subjects[at];
    *subject = (struct subject){.now = *entry,
                                .live = true,
                                .official = held_by(fold, root, entry),
                                .entered_corner = entry->strike.corner,
                                .last = entry->name,
                                .changed_ms = entry->utc_ms};
    place_in_media(fold, &subject->now);
    subject_judge(subject);
    tally_add(fold, subject, 1);
    if (state_is(entry)) {
        states_put(&fold->states, at);
        if (last) {
            states_apply(&fold->states, subject);
        } else {
            states_anew(&fold->states, fold->subjects);
        }
    }
    if (down_speaks(entry)) {
        index_put(fold->downs, &fold->down_count, at);
        downs_count(&fold->tally, fold->subjects, fold->downs, fold->down_count);
    }
    *place = at;
    return office_covers(subject->official, (enum entry_kind)entry->kind,
                         (enum corner)entry->strike.corner)
               ? EFFECT_TAKEN
               : EFFECT_APART;
}

/* Whether a correction may take effect. */
static enum fold_effect correction_effect(const struct fold *fold, const struct entry *entry,
                                          int root, const struct subject *subject)
{
    struct entry own = {.utc_ms = subject->now.utc_ms, .name = subject->now.name};
    if (subject->now.kind != entry->kind || entry_compare(entry, &own, fold->desks) < 0) {
        return EFFECT_NO_SUBJECT;
    }
    if (fold->desks[own.name.desk].root == root) {
        return EFFECT_TAKEN;
    }
    uint8_t offices = held_by(fold, root, entry);
    enum entry_kind kind = (enum entry_kind)entry->kind;
    return office_covers(offices, kind, (enum corner)subject->entered_corner) &&
                   office_covers(offices, kind, (enum corner)entry->strike.corner)
               ? EFFECT_TAKEN
               : EFFECT_NO_OFFICE;
}

/* Links an effective correction into the chain of contents. True where it is the newest. */
static bool chain_put(struct fold *fold, struct slot *own, struct subject *subject,
                      const struct entry *entry)
{
    struct slot *newer = NULL;
    struct slot *at = slots_find(&fold->slots, subject->last);
    struct entry key = {.utc_ms = at->utc_ms, .name = at->name};
    while (entry_compare(entry, &key, fold->desks) < 0) {
        newer = at;
        at = slots_find(&fold->slots, at->prev);
        key = (struct entry){.utc_ms = at->utc_ms, .name = at->name};
    }
    own->prev = at->name;
    if (newer) {
        newer->prev = own->name;
    }
    return !newer;
}

static enum fold_effect apply_correction(struct fold *fold, const struct entry *entry, int root,
                                         struct slot *own)
{
    const struct slot *slot = slots_find(&fold->slots, entry->subject);
    if (!slot || slot->subject < 0) {
        fold->orphans += !slot;
        return EFFECT_NO_SUBJECT;
    }
    size_t place = (size_t)slot->subject;
    struct subject *subject = &fold->subjects[place];
    enum fold_effect effect = correction_effect(fold, entry, root, subject);
    if (effect != EFFECT_TAKEN) {
        return effect;
    }
    bool spoke = down_speaks(&subject->now);
    bool newest = chain_put(fold, own, subject, entry);
    tally_add(fold, subject, -1);
    if (newest) {
        struct entry now = *entry;
        now.name = subject->now.name;
        now.utc_ms = subject->now.utc_ms;
        place_in_media(fold, &now);
        subject->now = now;
        subject->live = entry->act != ACT_VOID;
        subject->last = entry->name;
        subject->changed_ms = entry->utc_ms;
    }
    subject->corrections += entry->act != ACT_REFINE;
    subject_judge(subject);
    tally_add(fold, subject, 1);
    if (newest && state_is(entry)) {
        states_anew(&fold->states, fold->subjects);
    }
    if (newest && down_speaks(&subject->now) && !spoke) {
        bool listed = false;
        for (size_t i = 0; i < fold->down_count; i++) {
            listed = listed || fold->downs[i] == place;
        }
        if (!listed) {
            index_put(fold->downs, &fold->down_count, place);
        }
    }
    if (newest && (spoke || down_speaks(&subject->now))) {
        downs_count(&fold->tally, fold->subjects, fold->downs, fold->down_count);
    }
    return EFFECT_TAKEN;
}

/* One step of the fold, wherever in the order the entry stands. Room was made before, so it cannot
 * fail. An office comes here only as the newest entry. */
static void apply(struct fold *fold, const struct entry *entry)
{
    int root = fold->desks[entry->name.desk].root;
    struct slot *slot = slots_place(&fold->slots, (struct slot){.name = entry->name,
                                                                .prev = ENTRY_NONE,
                                                                .utc_ms = entry->utc_ms,
                                                                .subject = -1,
                                                                .effect = EFFECT_TAKEN});
    if (entry->kind == ENTRY_OFFICIAL) {
        offices_take(&fold->offices, entry, root);
    } else if (entry->kind == ENTRY_SIGN) {
        if (fold->signature.code == CODE_NONE ||
            entry_compare(entry, &fold->signature, fold->desks) > 0) {
            fold->signature = *entry;
        }
    } else if (entry->act == ACT_ADD) {
        size_t place = 0;
        slot->effect = apply_new(fold, entry, root, &place);
        slot->subject = (long)place;
    } else {
        slot->effect = apply_correction(fold, entry, root, slot);
    }
    clock_in_media(fold);
    last_round_anew(fold);
}

static void reset(struct fold *fold)
{
    fold->subject_count = fold->states.count = fold->down_count = fold->orphans = 0;
    slots_clear(&fold->slots);
    offices_clear(&fold->offices);
    memset(fold->live_in_round, 0, sizeof fold->live_in_round);
    memset(&fold->tally, 0, sizeof fold->tally);
    fold->signature.code = CODE_NONE;
    states_reset(&fold->states);
}

/* The first clock entry of the view's own desk that was not taken back since. */
static struct entry own_clock_now(const struct fold *fold)
{
    for (size_t i = 0; fold->whose != FOLD_OFFICIAL && i < fold->entry_count; i++) {
        const struct entry *first = &fold->entries[i];
        bool own = first->kind == ENTRY_CLOCK && first->act == ACT_ADD &&
                   fold->desks[first->name.desk].root == fold->whose;
        if (!own) {
            continue;
        }
        bool live = true;
        for (size_t later = i + 1; later < fold->entry_count; later++) {
            const struct entry *about = &fold->entries[later];
            if (entry_same(about->subject, first->name)) {
                live = about->act != ACT_VOID;
            }
        }
        if (live) {
            return *first;
        }
    }
    return (struct entry){.code = CODE_NONE};
}

/* The note of the desk whose recording this view counts. A shadow's is in no official count. */
static bool is_recording(const struct fold *fold, const struct entry *entry)
{
    struct recording recording;
    bool counts =
        fold->whose == FOLD_OFFICIAL ? !fold->desks[entry->name.desk].shadow : is_own(fold, entry);
    return counts && recording_read(&recording, entry);
}

static void refold(struct fold *fold)
{
    fold->own_clock = own_clock_now(fold);
    reset(fold);
    fold->bells.on = false;
    for (size_t i = 0; i < fold->entry_count && !fold->bells.on; i++) {
        fold->bells.on = is_recording(fold, &fold->entries[i]);
        fold->bells.root = fold->desks[fold->entries[i].name.desk].root;
    }
    fold->bells.count = 0;
    for (size_t i = 0; i < fold->entry_count; i++) {
        apply(fold, &fold->entries[i]);
    }
    if (fold->bells.on) {
        media_anew(fold);
    }
}

struct fold *fold_new(const struct clock_plan *plan, const struct bout *bout, int whose)
{
    struct fold *fold = calloc(1, sizeof *fold);
    if (!fold) {
        return NULL;
    }
    fold->states.plan = *plan;
    fold->whose = whose;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        fold->states.first_stance[corner] = bout->fighter[corner].stance;
    }
    reset(fold);
    return fold;
}

void fold_free(struct fold *fold)
{
    if (fold) {
        offices_release(&fold->offices);
        free(fold->desks);
        free(fold->entries);
        free(fold->subjects);
        free(fold->states.index);
        free(fold->bells.bell);
        free(fold->downs);
        free(fold->slots.slot);
        free(fold);
    }
}

void fold_keep_clock(struct fold *fold)
{
    fold->keeps_clock = true;
    refold(fold);
}

int fold_desk(struct fold *fold, const struct desk_row *desk)
{
    if (!grow_array(&fold->desks, sizeof *fold->desks, fold->desk_count, 1, &fold->desk_room)) {
        return ERROR_MEMORY;
    }
    fold->desks[fold->desk_count++] = *desk;
    return 0;
}

int fold_reserve(struct fold *fold, size_t more)
{
    bool done =
        grow_array(&fold->entries, sizeof *fold->entries, fold->entry_count, more,
                   &fold->entry_room) &&
        grow_array(&fold->subjects, sizeof *fold->subjects, fold->subject_count, more,
                   &fold->subject_room) &&
        grow_array(&fold->states.index, sizeof *fold->states.index, fold->states.count, more,
                   &fold->states.room) &&
        grow_array(&fold->bells.bell, sizeof *fold->bells.bell, fold->states.count, more,
                   &fold->bells.room) &&
        grow_array(&fold->downs, sizeof *fold->downs, fold->down_count, more, &fold->down_room) &&
        slots_reserve(&fold->slots, more) && offices_reserve(&fold->offices, more);
    return done ? 0 : ERROR_MEMORY;
}

/* Places the entry in the order; room was made before. True where it is the newest. */
static bool place_entry(struct fold *fold, const struct entry *entry)
{
    struct entry copy = *entry;
    size_t at = fold->entry_count;
    while (at > 0 && entry_compare(&copy, &fold->entries[at - 1], fold->desks) < 0) {
        fold->entries[at] = fold->entries[at - 1];
        at--;
    }
    fold->entries[at] = copy;
    return at == fold->entry_count++;
}

static void add(struct fold *fold, const struct entry *entry)
{
    if (slots_find(&fold->slots, entry->name)) {
        return;
    }
    bool newest = place_entry(fold, entry);
    bool moves_more = entry->kind == ENTRY_OFFICIAL || (entry->act == ACT_ADD && fold->orphans > 0);
    bool clocks = entry->kind == ENTRY_CLOCK && (is_own(fold, entry) || is_in_media(fold, entry));
    if (clocks || is_recording(fold, entry) || (moves_more && !newest)) {
        refold(fold); /* what the official clock says may end here, or go on */
    } else {
        apply(fold, entry);
    }
}

int fold_add(struct fold *fold, const struct entry *entry)
{
    if (fold_reserve(fold, 1)) {
        return ERROR_MEMORY;
    }
    struct entry copy = *entry; /* it may be one of ours, which is moved */
    add(fold, &copy);
    return 0;
}

int fold_add_all(struct fold *fold, const struct entry *entries, size_t count)
{
    if (fold_reserve(fold, count)) {
        return ERROR_MEMORY;
    }
    if (count <= FEW) {
        for (size_t i = 0; i < count; i++) {
            add(fold, &entries[i]);
        }
        return 0;
    }
    struct entry *room = malloc(fold->entry_room * sizeof *room);
    if (!room) {
        return ERROR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        if (!slots_find(&fold->slots, entries[i].name)) {
            fold->entries[fold->entry_count++] = entries[i];
        }
    }
    if (order_sort(fold->entries, room, fold->entry_count, fold->desks)) {
        struct entry *sorted = room;
        room = fold->entries;
        fold->entries = sorted;
    }
    free(room);
    /* The same entry may stand twice in what was given. */
    size_t kept = 0;
    for (size_t i = 0; i < fold->entry_count; i++) {
        if (kept == 0 || !entry_same(fold->entries[kept - 1].name, fold->entries[i].name)) {
            fold->entries[kept++] = fold->entries[i];
        }
    }
    fold->entry_count = kept;
    refold(fold);
    return 0;
}

enum fold_effect fold_would(const struct fold *fold, const struct entry *correction)
{
    const struct subject *subject = fold_subject(fold, correction->subject);
    int root = fold->desks[correction->name.desk].root;
    return subject ? correction_effect(fold, correction, root, subject) : EFFECT_NO_SUBJECT;
}
