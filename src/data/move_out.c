/* move_out.c: what goes over to another bout, and how it stands there. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/bout/moved.h"
#include "data/move_plan.h"

enum { GOES = 1, ENDS = 2 }; /* over there; here */

/* A move under way. */
struct outward {
    struct move *move;
    const struct move_ask *ask;
    struct window since, until;
    bool whole, clock_goes;
    uint8_t *pick;           /* by subject: GOES, ENDS */
    bool *chain;             /* by desk: of its chain something goes */
    int *desk;               /* by desk: its index over there; -1: not yet */
    struct entry_name *name; /* by entry: its name over there; desk -1: none */
};

static bool in_range(const struct outward *out, const struct entry *now)
{
    const struct move_ask *ask = out->ask;
    return (ask->round == 0 || now->round == ask->round) &&
           (!ask->since || window_has(&out->since, now->round, now->elapsed_ms, now->at_ms)) &&
           (!ask->until || !window_has(&out->until, now->round, now->elapsed_ms, now->at_ms));
}

/* Another desk said last how it stands. */
static bool is_foreign(const struct outward *out, const struct subject *subject)
{
    const struct desk_row *desks = out->move->side[MOVE_FROM].desks;
    return desks[subject->last.desk].root != desks[subject->now.name.desk].root;
}

static uint8_t pick(const struct outward *out, const struct subject *subject)
{
    const struct entry *now = &subject->now;
    if (!subject->live && is_foreign(out, subject)) {
        return 0; /* voided here for good, or moved before */
    }
    bool cornered =
        out->ask->corner == CORNER_NONE || now->strike.corner == (uint8_t)out->ask->corner;
    uint8_t ends = subject->live ? ENDS : 0;
    switch (now->kind) {
    case ENTRY_STRIKE:
    case ENTRY_INCIDENT:
    case ENTRY_VIEW:
    case ENTRY_STANCE:
        return cornered && in_range(out, now) ? GOES | ends : 0;
    case ENTRY_POSITION:
        return out->ask->corner == CORNER_NONE && in_range(out, now) ? GOES | ends : 0;
    case ENTRY_CLOCK:
        if (!out->whole) {
            return 0;
        }
        if (now->code == CODE_JUMP) { /* what happened to the machine's clock stays true here */
            return out->clock_goes ? GOES : 0;
        }
        return (out->clock_goes ? GOES : 0) | ends;
    default:
        return 0;
    }
}

/* The other bout knows such a strike and round. */
static int fits(const struct move_side *to, const struct entry *now, struct error *err)
{
    int rounds = to->plan.rounds + to->plan.extension_rounds;
    if (now->round > rounds) {
        return error_set(err, ERROR_FAILED, "bout %s/%d has no round %d: %d are planned",
                         to->bout.card, to->bout.number, now->round, rounds);
    }
    if (now->kind == ENTRY_STRIKE &&
        !rules_allow(&to->rules, (enum limb)now->strike.limb, (enum target)now->strike.target)) {
        return error_set(err, ERROR_FAILED, "bout %s/%d: %s has no %s to the %s", to->bout.card,
                         to->bout.number, to->rules.title, limb_words[now->strike.limb],
                         target_names[now->strike.target]);
    }
    return 0;
}

static int choose(struct outward *out, struct error *err)
{
    struct move *move = out->move;
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    size_t count = fold_subjects(move->side[MOVE_FROM].fold, &subjects);
    int code = 0;
    fold_desks(move->side[MOVE_FROM].fold, &desks);
    for (size_t i = 0; i < count && !code; i++) {
        const struct subject *subject = &subjects[i];
        const struct entry *now = &subject->now;
        out->pick[i] = pick(out, subject);
        if (out->pick[i] & GOES) {
            out->chain[desks[now->name.desk].root] = true;
        }
        if (!(out->pick[i] & ENDS)) {
            continue;
        }
        move->told.entries++;
        move->told.strikes += now->kind == ENTRY_STRIKE && subject->counts;
        move->told.incidents += now->kind == ENTRY_INCIDENT && subject->counts;
        move->told.clock |= now->kind == ENTRY_CLOCK && out->clock_goes;
        move->told.clock_ends |= now->kind == ENTRY_CLOCK && !out->clock_goes;
        code = out->pick[i] & GOES ? fits(&move->side[MOVE_TO], now, err) : 0;
    }
    if (!code && move->told.entries == 0) {
        code = error_set(err, ERROR_MISSING, "bout %s/%d: nothing there to move",
                         move->side[MOVE_FROM].bout.card, move->side[MOVE_FROM].bout.number);
    }
    return code;
}

/* Whether somebody had that office over there at that moment. */
static bool is_taken(const struct move_side *to, const struct entry *claim)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(to->fold, &entries);
    bool taken = false;
    for (size_t i = 0; i < count && entries[i].utc_ms <= claim->utc_ms; i++) {
        taken = taken || (entries[i].kind == ENTRY_OFFICIAL && entries[i].code == claim->code);
    }
    return taken;
}

/* What another desk put right stands as the desk's own: over there the other one has no office. Of
 * several such the last one holds, and the others stay in the log that is left. */
static bool goes(const struct outward *out, const struct entry *entry)
{
    const struct move_side *from = &out->move->side[MOVE_FROM];
    const struct subject *subjects = NULL;
    const struct subject *subject = fold_subject(from->fold, entry->subject);
    enum fold_effect effect = fold_effect(from->fold, entry->name);
    int root = from->desks[entry->name.desk].root;
    if (entry->kind == ENTRY_OFFICIAL) {
        return out->chain[root] && (entry->code != CODE_CLOCK || out->clock_goes) &&
               !is_taken(&out->move->side[MOVE_TO], entry);
    }
    fold_subjects(from->fold, &subjects);
    return subject && (out->pick[subject - subjects] & GOES) &&
           (effect == EFFECT_TAKEN || effect == EFFECT_APART) &&
           (root == from->desks[subject->now.name.desk].root ||
            entry_same(subject->last, entry->name));
}

/* The chain that the operator has over there already. */
static int chain_there(const struct move_side *to, const struct desk_row *like)
{
    for (int i = 0; i < to->desk_count; i++) {
        const struct desk_row *desk = &to->desks[i];
        if (desk->root == i && strcmp(desk->operator_, like->operator_) == 0 &&
            desk->corners == like->corners && desk->shadow == like->shadow) {
            return i;
        }
    }
    return -1;
}

/* The session over there, and before it the first of its chain. */
static int desk_there(struct outward *out, int desk)
{
    const struct move_side *from = &out->move->side[MOVE_FROM];
    struct move_side *to = &out->move->side[MOVE_TO];
    int root = from->desks[desk].root;
    if (out->desk[desk] >= 0) {
        return out->desk[desk];
    }
    int first = root == desk ? chain_there(to, &from->desks[desk]) : desk_there(out, root);
    if (root == desk || first >= 0) {
        int chain = first < 0 ? -1 : to->desks[first].root;
        out->desk[desk] = move_add_desk(to, &from->desks[desk], chain);
    }
    return out->desk[desk];
}

/* A key had changed the corner's stance before that. */
static bool has_switched(const struct fold *fold, const struct entry *entry)
{
    const struct subject *subjects = NULL;
    const size_t *states = NULL;
    size_t count = fold_states(fold, &states);
    fold_subjects(fold, &subjects);
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = &subjects[states[i]];
        if (subject->now.kind == ENTRY_STANCE && subject->live &&
            subject->now.strike.corner == entry->strike.corner &&
            subject->now.utc_ms <= entry->utc_ms) {
            return true;
        }
    }
    return false;
}

static struct entry_name name_there(const struct outward *out, struct entry_name name)
{
    const struct entry *entries = NULL;
    const struct entry *entry =
        name.desk < 0 ? NULL : fold_entry(out->move->side[MOVE_FROM].fold, name);
    fold_entries(out->move->side[MOVE_FROM].fold, &entries);
    return entry ? out->name[entry - entries] : ENTRY_NONE;
}

static bool copy(struct outward *out, size_t index, const struct entry *entry)
{
    const struct move_side *from = &out->move->side[MOVE_FROM];
    struct move_side *to = &out->move->side[MOVE_TO];
    struct entry there = *entry;
    const struct subject *subject = fold_subject(from->fold, entry->subject);
    int32_t own = subject ? subject->now.name.desk : entry->name.desk;
    bool foreign = from->desks[own].root != from->desks[entry->name.desk].root;
    int desk = desk_there(out, foreign ? own : entry->name.desk);
    there.subject = name_there(out, entry->subject);
    there.undoes = name_there(out, entry->undoes);
    if (entry->kind == ENTRY_STRIKE && !has_switched(from->fold, entry) &&
        entry->strike.stance == from->bout.fighter[entry->strike.corner].stance) {
        there.strike.stance = (uint8_t)to->bout.fighter[entry->strike.corner].stance;
    }
    if (desk < 0 || !move_add_entry(to, desk, there)) {
        return false;
    }
    out->name[index] = to->entries[to->entry_count - 1].name;
    return true;
}

static int copy_all(struct outward *out, struct error *err)
{
    struct move *move = out->move;
    const struct entry *entries = NULL;
    size_t count = fold_entries(move->side[MOVE_FROM].fold, &entries);
    bool done = true;
    for (size_t i = 0; i < count && done; i++) {
        done = !goes(out, &entries[i]) || copy(out, i, &entries[i]);
    }
    const struct move_side *from = &move->side[MOVE_FROM];
    for (int i = 0; i < from->desk_count && done; i++) {
        if (out->desk[i] < 0) {
            continue;
        }
        struct move_side *to = &move->side[MOVE_TO];
        struct entry note = moved_from(&from->bout, to->seq[out->desk[i]]);
        note.strike.corner = from->desks[i].corners == 1 << CORNER_BLUE ? CORNER_BLUE : CORNER_RED;
        done = move_note(move, to, out->desk[i], note);
        size_t used = strlen(move->told.desks);
        if (from->desks[i].root == i && used + 1 < sizeof move->told.desks) {
            snprintf(move->told.desks + used, sizeof move->told.desks - used, "%s%s",
                     used ? ", " : "", from->desks[i].name);
        }
    }
    return done ? 0 : error_memory(err);
}

static int end_all(struct outward *out, struct error *err)
{
    struct move *move = out->move;
    struct move_side *from = &move->side[MOVE_FROM];
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(from->fold, &subjects);
    int code = move_open_mover(move, from, err);
    bool done = !code;
    for (size_t i = 0; i < count && done; i++) {
        done = !(out->pick[i] & ENDS) ||
               move_correct(move, from, &subjects[i], subjects[i].now, ACT_VOID);
    }
    struct entry note = moved_to(&move->side[MOVE_TO].bout, (int64_t)move->told.entries);
    done = done && move_note(move, from, from->mover, note);
    return code ? code : done ? 0 : error_memory(err);
}

static int find_bounds(struct outward *out, struct error *err)
{
    const struct fold *fold = out->move->side[MOVE_FROM].fold;
    int code = 0;
    if (out->ask->since) {
        code = window_find(&out->since, out->ask->since, fold, out->move->now_ms, err);
    }
    if (!code && out->ask->until) {
        code = window_find(&out->until, out->ask->until, fold, out->move->now_ms, err);
    }
    return code;
}

int move_plan_out(struct move *move, const struct move_ask *ask, struct error *err)
{
    const struct move_side *from = &move->side[MOVE_FROM];
    const struct entry *entries = NULL;
    const struct subject *subjects = NULL;
    size_t count = fold_entries(from->fold, &entries);
    size_t desks = (size_t)from->desk_count + 1;
    struct outward out = {
        .move = move,
        .ask = ask,
        .whole = !ask->round && !ask->since && !ask->until && ask->corner == CORNER_NONE,
        .pick = calloc(fold_subjects(from->fold, &subjects) + 1, sizeof *out.pick),
        .chain = calloc(desks, sizeof *out.chain),
        .desk = malloc(desks * sizeof *out.desk),
        .name = malloc((count + 1) * sizeof *out.name),
    };
    out.clock_goes = out.whole && fold_clock(move->side[MOVE_TO].fold)->round == 0;
    int code = out.pick && out.chain && out.desk && out.name ? 0 : error_memory(err);
    for (size_t i = 0; i < desks && !code; i++) {
        out.desk[i] = -1;
    }
    for (size_t i = 0; i < count && !code; i++) {
        out.name[i] = ENTRY_NONE;
    }
    code = code ? code : find_bounds(&out, err);
    code = code ? code : choose(&out, err);
    code = code ? code : copy_all(&out, err);
    code = code ? code : end_all(&out, err);
    free(out.pick);
    free(out.chain);
    free(out.desk);
    free(out.name);
    return code;
}
