/* practice_score.c: what came of a practice, and what follows from it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/base/ini.h"
#include "ringtally/insight/practice.h"
#include "ringtally/insight/reference.h"

#define TRAINEE 0
#define CALLER  1
#define TOWARDS 4.0 /* calls of the mean that a cell is drawn towards it by */

/* The calls as entries of a desk of their own, so that they are held against as a reference is.
 * What was thrown while the clock stood is asked of nobody. */
static int add_calls(struct fold *fold, const struct align_strike *called, size_t count, int *asked)
{
    *asked = 0;
    for (size_t i = 0; i < count; i++) {
        if (called[i].off_clock) {
            continue;
        }
        ++*asked;
        struct entry entry = {.name = {CALLER, (int64_t)i + 1},
                              .undoes = ENTRY_NONE,
                              .utc_ms = called[i].at_ms,
                              .at_ms = called[i].at_ms,
                              .kind = ENTRY_STRIKE,
                              .act = ACT_ADD,
                              .round = called[i].round,
                              .elapsed_ms = called[i].elapsed_ms,
                              .strike = called[i].strike};
        entry.subject = entry.name;
        if (fold_add(fold, &entry)) {
            return ERROR_MEMORY;
        }
    }
    return 0;
}

static int add_answers(struct fold *fold, const struct entry *entries, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (!(entries[i].kind == ENTRY_STRIKE && entries[i].off_clock) &&
            fold_add(fold, &entries[i])) {
            return ERROR_MEMORY;
        }
    }
    return 0;
}

static int count_cell(struct practice_cell **cells, size_t *count, size_t *room,
                      const struct strike *called, const struct strike *hit)
{
    struct practice_cell cell = {.corner = called->corner,
                                 .limb = called->limb,
                                 .target = called->target,
                                 .hit = hit != NULL};
    if (hit) {
        cell.hit_corner = hit->corner;
        cell.hit_limb = hit->limb;
        cell.hit_target = hit->target;
    }
    for (size_t i = 0; i < *count; i++) {
        struct practice_cell *known = &(*cells)[i];
        if (known->corner == cell.corner && known->limb == cell.limb &&
            known->target == cell.target && known->hit == cell.hit &&
            known->hit_corner == cell.hit_corner && known->hit_limb == cell.hit_limb &&
            known->hit_target == cell.hit_target) {
            known->count++;
            return 0;
        }
    }
    if (!grow_array(cells, sizeof **cells, *count, 1, room)) {
        return ERROR_MEMORY;
    }
    cell.count = 1;
    (*cells)[(*count)++] = cell;
    return 0;
}

static void take_figures(struct practice_session *session, const struct reference *reference)
{
    const struct reference_row *all = reference->row;
    session->reaction_ms = session->reaction_p90_ms = -1;
    if (reference->rows == 0) {
        return;
    }
    session->had = all->had;
    session->first = all->first;
    session->corrected = all->right - all->first;
    session->added = all->added;
    for (int field = 0; field < AGREE_FIELDS; field++) {
        session->wrong[field] = all->wrong[field];
    }
    if (reference->lag.of > 0) {
        session->reaction_ms = reference->lag.median_ms;
        session->reaction_p90_ms = reference->lag.p90_ms;
    }
}

int practice_score(struct practice_session *session, struct practice_cell **cells,
                   size_t *cell_count, const struct rules *rules, const struct bout *bout,
                   const struct align_strike *called, size_t called_count,
                   const struct entry *entries, size_t entry_count)
{
    static const struct desk_row desks[] = {
        {.uid = "trainee", .name = "trainee", .operator_ = "trainee", .corners = 3, .root = 0},
        {.uid = "caller",
         .name = "caller",
         .operator_ = "caller",
         .corners = 3,
         .root = 1,
         .shadow = true}};
    struct clock_plan plan = clock_plan(rules, bout->rounds);
    struct reference reference = {0};
    struct fold *fold = fold_new(&plan, bout, FOLD_OFFICIAL);
    size_t room = 0;
    *cells = NULL;
    *cell_count = 0;
    int code = fold && !fold_desk(fold, &desks[TRAINEE]) && !fold_desk(fold, &desks[CALLER]) &&
                       !add_answers(fold, entries, entry_count)
                   ? 0
                   : ERROR_MEMORY;
    code = code ? code : add_calls(fold, called, called_count, &session->called);
    code =
        code ? code : reference_make(&reference, fold, bout, rules, CALLER, REFERENCE_OFFICIAL, 3);
    const struct agree *agree = &reference.agree;
    for (size_t i = 0; !code && i < agree->align.count; i++) {
        struct align_link link = agree->align.links[i];
        if (link.a >= 0) {
            code = count_cell(cells, cell_count, &room, &agree->a[link.a].strike,
                              link.b >= 0 ? &agree->b[link.b].strike : NULL);
        }
    }
    if (!code) {
        take_figures(session, &reference);
    }
    reference_release(&reference);
    fold_free(fold);
    return code;
}

/* --- what a level asks --- */

static int on_bar(void *user, const char *section, const char *key, const char *value,
                  const struct ini_place *place, struct error *err)
{
    struct practice_bar *bars = user;
    int level = name_index(practice_level_names, LEVELS, section);
    char *end = NULL;
    double number = strtod(value, &end);
    if (level < 0) {
        return ini_fail(place, err, "no such level: [%s]; slow, bout, burst", section);
    }
    if (end == value || *end || !(number >= 0 && number <= 100000)) {
        return ini_fail(place, err, "%s: a number is needed", key);
    }
    if (strcmp(key, "had") == 0 && number <= 100) {
        bars[level].had = number;
    } else if (strcmp(key, "first") == 0 && number <= 100) {
        bars[level].first = number;
    } else if (strcmp(key, "reaction_ms") == 0) {
        bars[level].reaction_ms = number;
    } else if (strcmp(key, "sessions") == 0 && number >= 1 && number <= 100) {
        bars[level].sessions = (int)number;
    } else {
        return ini_fail(place, err, "%s = %s: had, first (per cent), reaction_ms or sessions", key,
                        value);
    }
    return 0;
}

int practice_bars(struct practice_bar bars[LEVELS], const char *text, size_t size, const char *file,
                  struct error *err)
{
    memset(bars, 0, LEVELS * sizeof *bars);
    int code = ini_read(text, size, file, on_bar, bars, err);
    for (int level = 0; !code && level < LEVELS; level++) {
        if (bars[level].sessions < 1 || bars[level].had <= 0 || bars[level].reaction_ms <= 0) {
            code = error_set(err, ERROR_FAILED, "%s: [%s] lacks had, reaction_ms or sessions", file,
                             practice_level_names[level]);
        }
    }
    return code;
}

bool practice_holds(const struct practice_session *session, const struct practice_bar *bar)
{
    double called = session->called;
    return called > 0 && session->had * 100 >= bar->had * called &&
           session->first * 100 >= bar->first * called && session->reaction_ms >= 0 &&
           session->reaction_ms <= bar->reaction_ms;
}

int practice_ready(const struct practice_session *sessions, size_t count,
                   const struct practice_bar bars[LEVELS])
{
    for (int level = LEVELS - 1; level >= 0; level--) {
        int looked = 0, held = 0;
        for (size_t i = 0; i < count && looked < bars[level].sessions; i++) {
            if (sessions[i].kind == PRACTICE_FINGERS && sessions[i].level >= level) {
                looked++;
                held += practice_holds(&sessions[i], &bars[level]);
            }
        }
        if (looked == bars[level].sessions && held == looked) {
            return level;
        }
    }
    return -1;
}

/* --- drills --- */

static bool is_right(const struct practice_cell *cell)
{
    return cell->hit && cell->corner == cell->hit_corner && cell->limb == cell->hit_limb &&
           cell->target == cell->hit_target;
}

static double weakness(const struct practice_drill *drill, double mean)
{
    return (drill->called - drill->right + TOWARDS * mean) / (drill->called + TOWARDS);
}

static struct practice_drill drill_of(const struct practice_cell *cells, size_t count,
                                      const struct practice_cell *of)
{
    struct practice_drill drill = {.corner = of->corner, .limb = of->limb, .target = of->target};
    for (size_t i = 0; i < count; i++) {
        const struct practice_cell *cell = &cells[i];
        if (cell->corner != of->corner || cell->limb != of->limb || cell->target != of->target) {
            continue;
        }
        drill.called += cell->count;
        if (is_right(cell)) {
            drill.right += cell->count;
        } else if (cell->hit && cell->count > drill.for_count) {
            drill.mistaken = true;
            drill.for_corner = cell->hit_corner;
            drill.for_limb = cell->hit_limb;
            drill.for_target = cell->hit_target;
            drill.for_count = cell->count;
        }
    }
    return drill;
}

int practice_drills(struct practice_drill out[PRACTICE_DRILLS], const struct practice_cell *cells,
                    size_t count)
{
    int called = 0, right = 0, found = 0;
    for (size_t i = 0; i < count; i++) {
        called += cells[i].count;
        right += is_right(&cells[i]) ? cells[i].count : 0;
    }
    double mean = called ? (double)(called - right) / called : 0;
    for (size_t i = 0; i < count; i++) {
        struct practice_drill drill = drill_of(cells, count, &cells[i]);
        bool known = drill.right == drill.called;
        for (int k = 0; k < found; k++) {
            known = known || (out[k].corner == drill.corner && out[k].limb == drill.limb &&
                              out[k].target == drill.target);
        }
        if (known) {
            continue;
        }
        int at = found < PRACTICE_DRILLS ? found++ : PRACTICE_DRILLS;
        for (; at > 0 && weakness(&drill, mean) > weakness(&out[at - 1], mean); at--) {
            if (at < PRACTICE_DRILLS) {
                out[at] = out[at - 1];
            }
        }
        if (at < PRACTICE_DRILLS) {
            out[at] = drill;
        }
    }
    return found;
}
