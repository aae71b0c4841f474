/* gate.c: entries in, those that may be told out. */
#include "ringtally/tally/gate.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/base/hash.h"

const char *const gate_kind_names[GATE_KINDS] = {"knockdowns", "incidents", "results", "decisions"};

/* A subject that some entry about it gave a kind of the gate. */
struct guarded {
    struct entry_name name; /* its own */
    unsigned kinds;
    struct entry_name by; /* the newest word on whether it may be told */
    int64_t until_ms;     /* what was written till then is released; -1: nothing is */

    /* As it was told so far. */
    struct entry_name told_as; /* the name of the entry that brought it; ENTRY_NONE: none did */
    struct entry last;         /* its content */
    bool live;
    bool parted; /* something about it was left out, or told as less than it is */
};

struct gate {
    const struct fold *all;
    unsigned holds;
    const struct desk_row *desks;
    int desk_count;
    const struct entry *entries;
    size_t count;
    struct guarded *guarded;
    size_t used, room;
    struct entry *told;
    size_t told_count;
};

int gate_parse(unsigned *out, const char *words, struct error *err)
{
    char word[32];
    *out = 0;
    for (const char *at = words;; at++) {
        size_t size = strcspn(at, ",");
        snprintf(word, sizeof word, "%.*s", (int)size, at);
        int kind = name_index(gate_kind_names, GATE_KINDS, word);
        if (kind < 0 && strcmp(word, "all") != 0) {
            return error_set(err, ERROR_USAGE,
                             "%s: knockdowns, incidents, results, decisions or all are held",
                             words);
        }
        *out |= kind < 0 ? GATE_ALL : 1u << kind;
        at += size;
        if (!*at) {
            return 0;
        }
    }
}

/* -1: the gate has nothing to do with it. */
static int kind_of(const struct entry *entry)
{
    switch (entry->kind) {
    case ENTRY_STRIKE:
        return entry->strike.technique & TECHNIQUE_KNOCKDOWN ? GATE_KNOCKDOWNS : -1;
    case ENTRY_INCIDENT:
        return entry->code == CODE_KNOCKED_DOWN || entry->code == CODE_COUNT ? GATE_KNOCKDOWNS
                                                                             : GATE_INCIDENTS;
    case ENTRY_RESULT:
        return entry->code == CODE_ENDED ? GATE_RESULTS : GATE_DECISIONS;
    case ENTRY_SCORE:
        return entry->code == CODE_WEIGHED ? -1 : GATE_DECISIONS;
    default:
        return -1;
    }
}

static struct guarded *find(const struct gate *gate, struct entry_name name)
{
    for (size_t i = 0; i < gate->used; i++) {
        if (entry_same(gate->guarded[i].name, name)) {
            return &gate->guarded[i];
        }
    }
    return NULL;
}

void gate_text(char out[TEXT_BYTES], const struct desk_row *desks, struct entry_name subject,
               enum gate_kind kind)
{
    snprintf(out, TEXT_BYTES, "%s-%lld %s", desks[subject.desk].uid, (long long)subject.seq,
             gate_kind_names[kind]);
}

/* The subject that a release names; ENTRY_NONE: nothing of this bout. */
static struct entry_name named_by(const struct gate *gate, const struct entry *release)
{
    char uid[33] = "";
    long long seq = 0;
    if (sscanf(release->text, "%32[0-9a-f]-%lld", uid, &seq) == 2) {
        for (int32_t i = 0; i < gate->desk_count; i++) {
            if (strcmp(gate->desks[i].uid, uid) == 0) {
                return (struct entry_name){i, seq};
            }
        }
    }
    return ENTRY_NONE;
}

/* All subjects that a held kind was ever said of, and what was released of them. */
static int find_guarded(struct gate *gate, struct error *err)
{
    for (size_t i = 0; i < gate->count; i++) {
        const struct entry *entry = &gate->entries[i];
        int kind = kind_of(entry);
        if (kind < 0 || !(gate->holds >> kind & 1)) {
            continue;
        }
        struct guarded *known = find(gate, entry->subject);
        if (!known) {
            if (!grow_array(&gate->guarded, sizeof *gate->guarded, gate->used, 1, &gate->room)) {
                return error_memory(err);
            }
            known = &gate->guarded[gate->used++];
            *known = (struct guarded){
                .name = entry->subject, .by = ENTRY_NONE, .told_as = ENTRY_NONE, .until_ms = -1};
        }
        known->kinds |= 1u << kind;
    }
    for (size_t i = 0; i < gate->count; i++) { /* in order: the newest stands */
        const struct entry *entry = &gate->entries[i];
        struct guarded *known =
            entry->kind == ENTRY_RELEASE ? find(gate, named_by(gate, entry)) : NULL;
        if (known) {
            known->by = entry->name;
            known->until_ms = entry->code == CODE_RELEASED ? entry->utc_ms : -1;
        }
    }
    return 0;
}

static int gate_open(struct gate *gate, const struct fold *all, unsigned holds, struct error *err)
{
    *gate = (struct gate){.all = all, .holds = holds};
    gate->desk_count = fold_desks(all, &gate->desks);
    gate->count = fold_entries(all, &gate->entries);
    return find_guarded(gate, err);
}

/* Whether two entries about a subject say the same of what the gate may hold: whose knockdown, what
 * incident, which result. */
static bool same_claim(const struct entry *a, const struct entry *b)
{
    return kind_of(a) == kind_of(b) && a->strike.corner == b->strike.corner && a->code == b->code &&
           a->round == b->round &&
           (a->kind == ENTRY_STRIKE || (a->value == b->value && strcmp(a->text, b->text) == 0));
}

/* Whether the entry says what is held, and neither was released nor is told already. */
static bool is_held(const struct gate *gate, const struct guarded *guarded,
                    const struct entry *entry)
{
    int kind = kind_of(entry);
    return kind >= 0 && gate->holds >> kind & 1 && entry->utc_ms > guarded->until_ms &&
           !(guarded->live && same_claim(entry, &guarded->last));
}

/* Whether two entries say the same of their subject. */
static bool same_content(const struct entry *a, const struct entry *b)
{
    return a->at_ms == b->at_ms && a->code == b->code && a->off_clock == b->off_clock &&
           a->review == b->review && a->accepted == b->accepted && a->unsure == b->unsure &&
           a->round == b->round && a->elapsed_ms == b->elapsed_ms &&
           memcmp(&a->strike, &b->strike, sizeof a->strike) == 0 && a->value == b->value &&
           strcmp(a->text, b->text) == 0;
}

static void tell(struct gate *gate, const struct entry *entry)
{
    gate->told[gate->told_count++] = *entry;
}

/* An entry about a guarded subject: as it may be told, if at all. */
static void pass(struct gate *gate, struct guarded *guarded, const struct entry *entry)
{
    struct entry told = *entry;
    bool held = is_held(gate, guarded, entry);
    enum fold_effect effect = fold_effect(gate->all, entry->name);
    if (effect != EFFECT_TAKEN && effect != EFFECT_APART) { /* refused: it changes nothing */
        if (kind_of(entry) < 0 && guarded->told_as.desk >= 0) {
            told.subject = guarded->told_as;
            tell(gate, &told);
        }
        return;
    }
    bool known = guarded->told_as.desk >= 0;
    bool live = entry->act != ACT_VOID;
    guarded->parted = guarded->parted || held;
    if (held && entry->kind == ENTRY_STRIKE) {
        told.strike.technique &= (uint8_t)~TECHNIQUE_KNOCKDOWN;
    } else if (held && live) {
        return;
    } else if (held && known) { /* off the air, whatever it had become meanwhile */
        told = guarded->last;
        told.name = entry->name;
        told.undoes = entry->undoes;
        told.utc_ms = entry->utc_ms;
        told.act = entry->act;
    }
    if (!known && !live) {
        return;
    }
    if (known && guarded->parted && live == guarded->live && same_content(&told, &guarded->last)) {
        return; /* what it changes is held */
    }
    if (!known) {
        guarded->told_as = entry->name;
        told.act = ACT_ADD;
    }
    told.subject = guarded->told_as;
    guarded->last = told;
    guarded->live = live;
    tell(gate, &told);
}

/* What takes a keystroke back names an entry that must be there. */
static void mend_undone(struct gate *gate)
{
    for (size_t i = 0; i < gate->told_count; i++) {
        struct entry *entry = &gate->told[i];
        const struct guarded *guarded = NULL;
        const struct entry *undone =
            entry->undoes.desk < 0 ? NULL : fold_entry(gate->all, entry->undoes);
        if (undone && (guarded = find(gate, undone->subject)) && guarded->parted) {
            bool there = false;
            for (size_t at = 0; at < gate->told_count && !there; at++) {
                there = entry_same(gate->told[at].name, entry->undoes);
            }
            entry->undoes = there ? entry->undoes : ENTRY_NONE;
        }
    }
}

/* A number for what was released: of its names and moments. */
static uint64_t digest_of(const struct gate *gate)
{
    uint64_t hash = hash_step(HASH_BEGIN, gate->holds);
    for (size_t i = 0; i < gate->used; i++) {
        const struct guarded *guarded = &gate->guarded[i];
        if (guarded->until_ms >= 0) {
            hash = hash_step(hash, (uint64_t)guarded->name.desk);
            hash = hash_step(hash, (uint64_t)guarded->name.seq);
            hash = hash_step(hash, (uint64_t)guarded->until_ms);
        }
    }
    return hash;
}

/* Whether the word on a subject is one that may be told itself: it says that something is out. */
static bool word_is_out(const struct gate *gate, const struct entry *release)
{
    const struct guarded *guarded = find(gate, named_by(gate, release));
    return !guarded || (guarded->until_ms >= 0 && entry_same(guarded->by, release->name));
}

int gate_fold(struct fold **out, struct gate_state *state, const struct fold *all,
              const struct bout *bout, unsigned holds, struct error *err)
{
    struct gate gate;
    struct gate_item *items = NULL;
    size_t item_count = 0;
    struct fold *fold = NULL;
    int code = gate_open(&gate, all, holds, err);
    gate.told = calloc(gate.count + 1, sizeof *gate.told);
    fold = fold_new(&fold_clock(all)->plan, bout, fold_whose(all));
    if (!code && (!gate.told || !fold)) {
        code = error_memory(err);
    }
    for (size_t i = 0; i < gate.count && !code; i++) {
        const struct entry *entry = &gate.entries[i];
        struct guarded *guarded = find(&gate, entry->subject);
        if (guarded) {
            pass(&gate, guarded, entry);
        } else if (entry->kind != ENTRY_RELEASE || word_is_out(&gate, entry)) {
            tell(&gate, entry);
        }
    }
    for (int i = 0; i < gate.desk_count && !code; i++) {
        code = fold_desk(fold, &gate.desks[i]) ? error_memory(err) : 0;
    }
    if (!code) {
        mend_undone(&gate);
        code = fold_add_all(fold, gate.told, gate.told_count) ? error_memory(err) : 0;
    }
    code = code ? code : gate_items(&items, &item_count, all, err);
    if (!code) {
        *state = (struct gate_state){.holds = holds, .released = digest_of(&gate)};
        for (size_t i = 0; i < item_count; i++) {
            const struct gate_item *item = &items[i];
            bool held = holds >> item->kind & 1;
            state->waiting[item->kind] += held && item->live && !item->released;
        }
        *out = fold;
        fold = NULL;
    }
    free(items);
    fold_free(fold);
    free(gate.told);
    free(gate.guarded);
    return code;
}

/* What stands now, and is the official count's or the officials'. */
static bool is_item(const struct subject *subject)
{
    return kind_of(&subject->now) >= 0 &&
           (subject->now.kind == ENTRY_RESULT || subject->now.kind == ENTRY_SCORE ||
            !subject->live || subject->counts);
}

int gate_items(struct gate_item **out, size_t *count, const struct fold *all, struct error *err)
{
    const struct subject *subjects = NULL;
    size_t subject_count = fold_subjects(all, &subjects);
    struct gate gate;
    *out = NULL;
    *count = 0;
    int code = gate_open(&gate, all, GATE_ALL, err);
    struct gate_item *items = malloc((gate.used + 1) * sizeof *items);
    gate.told = calloc(gate.count + 1, sizeof *gate.told);
    if (!code && (!items || !gate.told)) {
        code = error_memory(err);
    }
    for (size_t i = 0; i < gate.count && !code; i++) {
        struct guarded *guarded = find(&gate, gate.entries[i].subject);
        if (guarded) {
            pass(&gate, guarded, &gate.entries[i]);
        }
    }
    for (size_t i = 0; i < subject_count && !code; i++) {
        const struct subject *subject = &subjects[i];
        const struct guarded *guarded = find(&gate, subject->now.name);
        if (guarded && is_item(subject)) {
            items[(*count)++] = (struct gate_item){
                .kind = (enum gate_kind)kind_of(&subject->now),
                .name = subject->now.name,
                .now = subject->now,
                .live = subject->live,
                .released = guarded->live && same_claim(&subject->now, &guarded->last),
                .since_ms = subject->changed_ms,
                .by = guarded->by};
        }
    }
    free(gate.told);
    free(gate.guarded);
    if (code) {
        *count = 0;
        free(items);
        return code;
    }
    *out = items;
    return 0;
}
