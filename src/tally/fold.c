/* fold.c: entries in, state and counts out. */
#include "ringtally/tally/fold.h"

#include <stdlib.h>
#include <string.h>

/* Where a name leads: open addressing, `index` into the subjects, or -1 for an entry that is no
 * subject. */
struct slot {
    struct entry_name name; /* desk -1: free */
    long index;
};

struct fold {
    struct clock_plan plan;
    uint8_t first_stance[CORNER_COUNT];
    int whose;

    struct desk_row *desks;
    int desk_count, desk_room;
    struct entry *entries; /* in entry_compare order */
    size_t entry_count, entry_room;

    /* Everything below is made from the above by refold(). */
    struct subject *subjects;
    size_t subject_count, subject_room;
    struct slot *slots;
    size_t slot_count, slot_room;
    struct tally tally;
    struct round_clock clock;
    uint8_t stance[CORNER_COUNT];
    uint8_t position;
    struct entry signature; /* code CODE_SIGN while the record is signed */
    int official[CODE_ALL]; /* root desk for CODE_RED, CODE_BLUE, CODE_CLOCK; -1: none */
};

/* Makes room for one more element; false: out of memory. */
static bool grow(void **array, size_t size, size_t count, size_t *room)
{
    if (count < *room) {
        return true;
    }
    size_t more = *room ? *room * 2 : 64;
    void *bigger = realloc(*array, more * size);
    if (!bigger) {
        return false;
    }
    *array = bigger;
    *room = more;
    return true;
}

static size_t slot_start(struct entry_name name, size_t room)
{
    uint64_t hash = (uint64_t)name.seq * 0x9e3779b97f4a7c15u ^ (uint64_t)name.desk << 40;
    return (size_t)(hash ^ hash >> 29) & (room - 1);
}

static struct slot *slot_find(const struct fold *fold, struct entry_name name)
{
    if (fold->slot_room == 0) {
        return NULL;
    }
    size_t at = slot_start(name, fold->slot_room);
    for (; fold->slots[at].name.desk >= 0; at = (at + 1) & (fold->slot_room - 1)) {
        if (entry_same(fold->slots[at].name, name)) {
            return &fold->slots[at];
        }
    }
    return NULL;
}

static void slot_place(struct slot *slots, size_t room, struct slot slot)
{
    size_t at = slot_start(slot.name, room);
    while (slots[at].name.desk >= 0) {
        at = (at + 1) & (room - 1);
    }
    slots[at] = slot;
}

static bool slot_reserve(struct fold *fold)
{
    if ((fold->slot_count + 1) * 2 <= fold->slot_room) {
        return true;
    }
    size_t room = fold->slot_room ? fold->slot_room * 2 : 256;
    struct slot *slots = malloc(room * sizeof *slots);
    if (!slots) {
        return false;
    }
    for (size_t i = 0; i < room; i++) {
        slots[i].name = ENTRY_NONE;
    }
    for (size_t i = 0; i < fold->slot_room; i++) {
        if (fold->slots[i].name.desk >= 0) {
            slot_place(slots, room, fold->slots[i]);
        }
    }
    free(fold->slots);
    fold->slots = slots;
    fold->slot_room = room;
    return true;
}

static void count_add(struct count *count, const struct strike *strike, int sign)
{
    count->attempted += sign;
    count->landed += strike->outcome == OUTCOME_LANDED ? sign : 0;
}

static void corner_add(struct corner_tally *tally, const struct strike *strike, int sign)
{
    count_add(&tally->all, strike, sign);
    count_add(&tally->limb[strike->limb], strike, sign);
    count_add(&tally->target[strike->target], strike, sign);
    count_add(&tally->limb_target[strike->limb][strike->target], strike, sign);
    count_add(&tally->stance[strike->stance], strike, sign);
    count_add(&tally->position[strike->position], strike, sign);
    count_add(&tally->group[limb_group(strike->limb)], strike, sign);
    tally->blocked += strike->outcome == OUTCOME_BLOCKED ? sign : 0;
    tally->knockdowns += strike->technique & TECHNIQUE_KNOCKDOWN ? sign : 0;
    tally->spinning += strike->technique & TECHNIQUE_SPINNING ? sign : 0;
    tally->jumping += strike->technique & TECHNIQUE_JUMPING ? sign : 0;
}

static void round_add(struct round_tally *tally, const struct subject *subject, int sign)
{
    const struct entry *now = &subject->now;
    tally->corrections += subject->corrections * sign;
    if (!subject->counts) {
        return;
    }
    tally->review += now->review ? sign : 0;
    struct corner_tally *corner = &tally->corner[now->strike.corner];
    if (now->kind == ENTRY_STRIKE) {
        corner_add(corner, &now->strike, sign);
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
    round_add(&fold->tally.all, subject, sign);
    round_add(&fold->tally.round[subject->now.round], subject, sign);
}

static bool is_subject(enum entry_kind kind)
{
    return kind == ENTRY_STRIKE || kind == ENTRY_INCIDENT || kind == ENTRY_SCORE ||
           kind == ENTRY_RESULT || kind == ENTRY_NOTE;
}

static int official_for_corner(const struct fold *fold, enum corner corner)
{
    return fold->official[corner == CORNER_RED ? CODE_RED : CODE_BLUE];
}

static void subject_judge(struct subject *subject)
{
    subject->counts = subject->live && (subject->official >> subject->now.strike.corner & 1);
}

static void apply_new(struct fold *fold, const struct entry *entry, int root)
{
    struct subject *subject = &fold->subjects[fold->subject_count++];
    *subject = (struct subject){
        .now = *entry, .live = true, .last = entry->name, .changed_ms = entry->utc_ms};
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        if (official_for_corner(fold, corner) == root) {
            subject->official |= (uint8_t)(1u << corner);
        }
    }
    subject_judge(subject);
    tally_add(fold, subject, 1);
}

static void apply_correction(struct fold *fold, const struct entry *entry, int root)
{
    const struct slot *slot = slot_find(fold, entry->subject);
    if (!slot || slot->index < 0) {
        return;
    }
    struct subject *subject = &fold->subjects[slot->index];
    bool own = fold->desks[subject->now.name.desk].root == root;
    if (subject->now.kind != entry->kind ||
        (!own && official_for_corner(fold, entry->strike.corner) != root)) {
        return;
    }
    tally_add(fold, subject, -1);
    struct entry now = *entry;
    now.name = subject->now.name;
    now.utc_ms = subject->now.utc_ms;
    subject->now = now;
    subject->live = entry->act != ACT_VOID;
    subject->last = entry->name;
    subject->changed_ms = entry->utc_ms;
    if (entry->act != ACT_REFINE) {
        subject->corrections++;
    }
    subject_judge(subject);
    tally_add(fold, subject, 1);
}

/* One step of the fold. Room for a subject and a slot was made before, so it cannot fail. */
static void apply(struct fold *fold, const struct entry *entry)
{
    int root = fold->desks[entry->name.desk].root;
    bool subject = is_subject(entry->kind) && entry->act == ACT_ADD;
    slot_place(fold->slots, fold->slot_room,
               (struct slot){entry->name, subject ? (long)fold->subject_count : -1});
    fold->slot_count++;

    switch (entry->kind) {
    case ENTRY_OFFICIAL:
        if (fold->whose == FOLD_OFFICIAL) {
            fold->official[entry->code] = root;
        }
        break;
    case ENTRY_CLOCK:
        if (fold->official[CODE_CLOCK] == root) {
            clock_apply(&fold->clock, entry);
            if (fold->clock.round > fold->tally.last_round) {
                fold->tally.last_round = fold->clock.round;
            }
        }
        break;
    case ENTRY_STANCE:
        if (official_for_corner(fold, entry->strike.corner) == root) {
            fold->stance[entry->strike.corner] = entry->strike.stance;
        }
        break;
    case ENTRY_POSITION:
        if (fold->official[CODE_RED] == root || fold->official[CODE_BLUE] == root) {
            fold->position = entry->strike.position;
        }
        break;
    case ENTRY_SIGN:
        fold->signature = *entry;
        break;
    default:
        if (subject) {
            apply_new(fold, entry, root);
        } else if (is_subject(entry->kind)) {
            apply_correction(fold, entry, root);
        }
        if (is_subject(entry->kind) && entry->round > fold->tally.last_round) {
            fold->tally.last_round = entry->round;
        }
        break;
    }
}

static void reset(struct fold *fold)
{
    fold->subject_count = 0;
    fold->slot_count = 0;
    for (size_t i = 0; i < fold->slot_room; i++) {
        fold->slots[i].name = ENTRY_NONE;
    }
    memset(&fold->tally, 0, sizeof fold->tally);
    clock_init(&fold->clock, &fold->plan);
    memcpy(fold->stance, fold->first_stance, sizeof fold->stance);
    fold->position = POSITION_OPEN;
    fold->signature.code = CODE_NONE;
    for (int i = 0; i < CODE_ALL; i++) {
        fold->official[i] = fold->whose;
    }
}

static bool make_room(struct fold *fold)
{
    return grow((void **)&fold->subjects, sizeof *fold->subjects, fold->subject_count,
                &fold->subject_room) &&
           slot_reserve(fold);
}

static int refold(struct fold *fold)
{
    reset(fold);
    for (size_t i = 0; i < fold->entry_count; i++) {
        if (!make_room(fold)) {
            return ERROR_MEMORY;
        }
        apply(fold, &fold->entries[i]);
    }
    return 0;
}

struct fold *fold_new(const struct clock_plan *plan, const struct bout *bout, int whose)
{
    struct fold *fold = calloc(1, sizeof *fold);
    if (!fold) {
        return NULL;
    }
    fold->plan = *plan;
    fold->whose = whose;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        fold->first_stance[corner] = bout->fighter[corner].stance;
    }
    reset(fold);
    return fold;
}

void fold_free(struct fold *fold)
{
    if (fold) {
        free(fold->desks);
        free(fold->entries);
        free(fold->subjects);
        free(fold->slots);
        free(fold);
    }
}

int fold_desk(struct fold *fold, const struct desk_row *desk)
{
    size_t room = (size_t)fold->desk_room;
    if (!grow((void **)&fold->desks, sizeof *fold->desks, (size_t)fold->desk_count, &room)) {
        return ERROR_MEMORY;
    }
    fold->desk_room = (int)room;
    fold->desks[fold->desk_count++] = *desk;
    return 0;
}

static bool push(struct fold *fold, const struct entry *entry)
{
    if (!grow((void **)&fold->entries, sizeof *fold->entries, fold->entry_count,
              &fold->entry_room)) {
        return false;
    }
    fold->entries[fold->entry_count++] = *entry;
    return true;
}

int fold_add(struct fold *fold, const struct entry *entry)
{
    if (slot_find(fold, entry->name)) {
        return 0;
    }
    if (!make_room(fold) || !push(fold, entry)) {
        return ERROR_MEMORY;
    }
    size_t at = fold->entry_count - 1;
    while (at > 0 && entry_compare(entry, &fold->entries[at - 1], fold->desks) < 0) {
        at--;
    }
    if (at == fold->entry_count - 1) {
        apply(fold, entry);
        return 0;
    }
    struct entry late = *entry;
    memmove(&fold->entries[at + 1], &fold->entries[at],
            (fold->entry_count - 1 - at) * sizeof *fold->entries);
    fold->entries[at] = late;
    return refold(fold);
}

/* Bottom-up merge sort: the desks' runs are sorted already, and qsort would need a global for the
 * desks. */
static int sort_entries(struct fold *fold)
{
    size_t count = fold->entry_count;
    struct entry *from = fold->entries;
    struct entry *to = malloc((fold->entry_room ? fold->entry_room : 1) * sizeof *to);
    if (!to) {
        return ERROR_MEMORY;
    }
    for (size_t run = 1; run < count; run *= 2) {
        for (size_t low = 0; low < count; low += 2 * run) {
            size_t mid = low + run < count ? low + run : count;
            size_t high = low + 2 * run < count ? low + 2 * run : count;
            size_t left = low, right = mid;
            for (size_t at = low; at < high; at++) {
                bool take_left =
                    left < mid &&
                    (right >= high || entry_compare(&from[left], &from[right], fold->desks) <= 0);
                to[at] = take_left ? from[left++] : from[right++];
            }
        }
        struct entry *swap = from;
        from = to;
        to = swap;
    }
    fold->entries = from;
    free(to);
    return 0;
}

int fold_add_all(struct fold *fold, const struct entry *entries, size_t count)
{
    size_t known = fold->entry_count;
    for (size_t i = 0; i < count; i++) {
        if (!slot_find(fold, entries[i].name) && !push(fold, &entries[i])) {
            fold->entry_count = known;
            return ERROR_MEMORY;
        }
    }
    if (sort_entries(fold)) {
        return ERROR_MEMORY;
    }
    /* The same entry may stand twice in what was given. */
    size_t kept = 0;
    for (size_t i = 0; i < fold->entry_count; i++) {
        if (kept == 0 || !entry_same(fold->entries[kept - 1].name, fold->entries[i].name)) {
            fold->entries[kept++] = fold->entries[i];
        }
    }
    fold->entry_count = kept;
    return refold(fold);
}

const struct tally *fold_tally(const struct fold *fold)
{
    return &fold->tally;
}

const struct round_clock *fold_clock(const struct fold *fold)
{
    return &fold->clock;
}

enum stance fold_stance(const struct fold *fold, enum corner corner)
{
    return fold->stance[corner];
}

enum position fold_position(const struct fold *fold)
{
    return fold->position;
}

int fold_official(const struct fold *fold, enum entry_code what)
{
    return fold->official[what];
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
    const struct slot *slot = slot_find(fold, name);
    return slot && slot->index >= 0 ? &fold->subjects[slot->index] : NULL;
}

int fold_desks(const struct fold *fold, const struct desk_row **out)
{
    *out = fold->desks;
    return fold->desk_count;
}

const struct entry *fold_signed(const struct fold *fold)
{
    return fold->signature.code == CODE_SIGN ? &fold->signature : NULL;
}

int64_t fold_newest_ms(const struct fold *fold)
{
    return fold->entry_count ? fold->entries[fold->entry_count - 1].utc_ms : 0;
}
