/* marks.c: moments worth showing again. */
#include "ringtally/tally/marks.h"

#include <stdlib.h>
#include <string.h>

const char *const mark_kind_names[MARK_KINDS] = {
    "knockdown", "spinning", "jumping", "incident", "flag", "exchange", "flurry", "landed", "bell"};
const struct marks_plan marks_plan_default = {MARK_USUAL, 5000, 3000, 1500, 5};

/* Why the subject is a mark; 0: it is none. */
static unsigned kinds_of(const struct subject *subject)
{
    const struct entry *now = &subject->now;
    unsigned kinds = now->review ? MARK_FLAG : 0;
    switch (now->kind) {
    case ENTRY_STRIKE:
        kinds |= now->strike.technique & TECHNIQUE_KNOCKDOWN ? MARK_KNOCKDOWN : 0;
        kinds |= now->strike.technique & TECHNIQUE_SPINNING ? MARK_SPINNING : 0;
        kinds |= now->strike.technique & TECHNIQUE_JUMPING ? MARK_JUMPING : 0;
        kinds |= now->strike.outcome == OUTCOME_LANDED ? MARK_LANDED : 0;
        return subject->counts ? kinds : 0;
    case ENTRY_INCIDENT:
        return subject->counts ? kinds | MARK_INCIDENT : 0;
    case ENTRY_NOTE: /* belongs to no corner: any official desk's */
        return subject->live && subject->official ? kinds : 0;
    case ENTRY_CLOCK:
        return subject->counts && now->code == CODE_START && now->elapsed_ms == 0 ? MARK_BELL : 0;
    default:
        return 0;
    }
}

static struct mark mark_of(const struct subject *subject, unsigned kinds)
{
    const struct entry *now = &subject->now;
    bool cornered = now->kind == ENTRY_STRIKE || now->kind == ENTRY_INCIDENT;
    return (struct mark){
        .kinds = kinds,
        .at_ms = now->at_ms,
        .end_ms = now->at_ms,
        .round = now->round,
        .elapsed_ms = now->elapsed_ms,
        .corner = cornered ? (enum corner)now->strike.corner : CORNER_NONE,
        .entry = now->name,
    };
}

/* An inserted strike stands behind those of its moment in the log; by time it is among them. */
static int by_moment(const void *left, const void *right)
{
    const struct subject *a = *(const struct subject *const *)left;
    const struct subject *b = *(const struct subject *const *)right;
    if (a->now.at_ms != b->now.at_ms) {
        return a->now.at_ms < b->now.at_ms ? -1 : 1;
    }
    return a < b ? -1 : a > b; /* one array, in the order of the log */
}

static int landed(const struct mark *mark)
{
    return mark->count[CORNER_RED].landed + mark->count[CORNER_BLUE].landed;
}

static int attempted(const struct mark *mark)
{
    return mark->count[CORNER_RED].attempted + mark->count[CORNER_BLUE].attempted;
}

static int by_rank(const void *left, const void *right)
{
    const struct mark *a = left;
    const struct mark *b = right;
    if (landed(a) != landed(b)) {
        return landed(a) > landed(b) ? -1 : 1;
    }
    if (attempted(a) != attempted(b)) {
        return attempted(a) > attempted(b) ? -1 : 1;
    }
    return a->at_ms < b->at_ms ? -1 : a->at_ms > b->at_ms; /* no two begin at once */
}

/* What a run of strikes is: an exchange of both corners, a flurry of one, or nothing (0). */
static unsigned run_kind(const struct mark *run)
{
    const struct count *red = &run->count[CORNER_RED];
    const struct count *blue = &run->count[CORNER_BLUE];
    if (red->attempted && blue->attempted) {
        return landed(run) ? MARK_EXCHANGE : 0;
    }
    return attempted(run) >= MARK_FLURRY_ATTEMPTED && landed(run) >= MARK_FLURRY_LANDED
               ? MARK_FLURRY
               : 0;
}

/* Cuts the strikes, in the order of their moments, into runs, and keeps those of that kind. `out`
 * has room for one a strike. */
static size_t find_runs(struct mark *out, const struct subject *const *strikes, size_t count,
                        int32_t gap_ms, unsigned kind)
{
    size_t found = 0;
    for (size_t i = 0, next = 0; i < count; i = next) {
        struct mark mark = mark_of(strikes[i], kind);
        for (next = i; next < count; next++) {
            const struct entry *now = &strikes[next]->now;
            if (now->round != mark.round || now->at_ms - mark.end_ms > gap_ms) {
                break;
            }
            mark.end_ms = now->at_ms;
            mark.count[now->strike.corner].attempted++;
            mark.count[now->strike.corner].landed += now->strike.outcome == OUTCOME_LANDED;
        }
        if (run_kind(&mark) == kind) {
            mark.corner = kind == MARK_EXCHANGE ? CORNER_NONE : mark.corner;
            out[found++] = mark;
        }
    }
    return found;
}

/* Adds the best runs of a kind. How many. */
static size_t add_runs(struct mark *out, struct mark *run, const struct subject *const *strikes,
                       size_t count, const struct marks_plan *plan, unsigned kind)
{
    if (!(plan->kinds & kind)) {
        return 0;
    }
    size_t found = find_runs(run, strikes, count, plan->gap_ms, kind);
    size_t kept = found < (size_t)plan->top ? found : (size_t)plan->top;
    qsort(run, found, sizeof *run, by_rank);
    for (size_t i = 0; i < kept; i++) {
        run[i].rank = (int)i + 1;
        run[i].ranked = (int)kept;
        out[i] = run[i];
    }
    return kept;
}

static int by_beginning(const void *left, const void *right)
{
    const struct mark *a = left;
    const struct mark *b = right;
    if (a->at_ms != b->at_ms) {
        return a->at_ms < b->at_ms ? -1 : 1;
    }
    if (a->rank != b->rank) { /* an exchange before the strike that it begins with */
        return a->rank > b->rank ? -1 : 1;
    }
    if (a->entry.desk != b->entry.desk) {
        return a->entry.desk < b->entry.desk ? -1 : 1;
    }
    return a->entry.seq < b->entry.seq ? -1 : a->entry.seq > b->entry.seq;
}

int marks_find(struct mark **out, size_t *count, const struct fold *fold,
               const struct marks_plan *plan, struct error *err)
{
    const struct subject *subjects = NULL;
    size_t known = fold_subjects(fold, &subjects);
    size_t strikes = 0, made = 0;
    int code = 0;
    const struct subject **strike = calloc(known + 1, sizeof *strike);
    struct mark *run = calloc(known + 1, sizeof *run);
    struct mark *mark = calloc(3 * known + 1, sizeof *mark);
    *out = NULL;
    *count = 0;
    if (!strike || !run || !mark) {
        code = error_memory(err);
        goto cleanup;
    }
    for (size_t i = 0; i < known; i++) {
        if (subjects[i].counts && subjects[i].now.kind == ENTRY_STRIKE) {
            strike[strikes++] = &subjects[i];
        }
    }
    qsort(strike, strikes, sizeof *strike, by_moment);
    for (size_t i = 0; i < known; i++) {
        unsigned kinds = kinds_of(&subjects[i]);
        if (kinds & plan->kinds) { /* that it landed goes without saying, but where it was asked */
            mark[made++] = mark_of(&subjects[i], kinds & (MARK_USUAL | plan->kinds));
        }
    }
    made += add_runs(&mark[made], run, strike, strikes, plan, MARK_EXCHANGE);
    made += add_runs(&mark[made], run, strike, strikes, plan, MARK_FLURRY);
    for (size_t i = 0; i < made; i++) {
        mark[i].in_ms = mark[i].at_ms - plan->lead_in_ms;
        mark[i].out_ms = mark[i].end_ms + plan->lead_out_ms;
    }
    qsort(mark, made, sizeof *mark, by_beginning);
    if (made) {
        *out = mark;
        *count = made;
        mark = NULL;
    }

cleanup:
    free(mark);
    free(run);
    free(strike);
    return code;
}

bool marks_sync(struct sync_point *out, const struct fold *fold)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(fold, &subjects);
    const struct subject *newest = NULL;
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = &subjects[i];
        struct sync_point point = {0};
        if (subject->live && subject->now.kind == ENTRY_NOTE &&
            sync_parse(&point, subject->now.text) &&
            (!newest || subject->changed_ms >= newest->changed_ms)) {
            newest = subject;
            *out = point;
            out->utc_ms = subject->now.at_ms;
        }
    }
    return newest != NULL;
}

bool marks_first_bell(int64_t *utc_ms, const struct fold *fold)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(fold, &subjects);
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        if (subjects[i].counts && now->kind == ENTRY_CLOCK && now->code == CODE_START) {
            *utc_ms = now->at_ms - now->elapsed_ms;
            return true;
        }
    }
    return false;
}
