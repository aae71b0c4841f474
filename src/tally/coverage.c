/* coverage.c: over which time somebody was there to tag. */
#include "ringtally/tally/coverage.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/base/when.h"
#include "tally/states.h"

const char *const coverage_why_words[COVERAGE_WHYS] = {"nobody official", "nobody at the desk"};

/* A stretch in which the round clock ran: it showed `to_ms` at `end_ms`, and less before. */
struct run {
    int round;
    int32_t from_ms, to_ms;
    int64_t end_ms; /* UTC */
};

/* Somebody was at a desk, UTC. */
struct session {
    int64_t from_ms, to_ms; /* to: INT64_MAX where it goes on */
    int64_t last_ms;        /* its last entry */
    bool wrote;
};

/* A desk chain took office. */
struct term {
    int64_t from_ms;
    int root;
};

struct work {
    const struct fold *fold;
    const struct desk_row *desks;
    int desk_count;
    struct session *session; /* by desk */
    struct term *term[CORNER_COUNT];
    size_t terms[CORNER_COUNT];
    struct run *run; /* in order */
    size_t runs;
    size_t gap_room;
};

/* The clock ran up to a moment; then it is known to show `elapsed`. */
static void run_until(struct work *work, const struct round_clock *clock, int64_t now_ms)
{
    int32_t length = clock_round_length(&clock->plan, clock->round);
    int32_t from = clock->elapsed_ms < length ? clock->elapsed_ms : length;
    int32_t to = clock_read(clock, now_ms).elapsed_ms;
    if (clock->round > 0 && clock->running && to > from) {
        work->run[work->runs++] =
            (struct run){clock->round, from, to, clock->since_ms + (to - from)};
    }
}

/* The clock was put right: what it shows now is what has run. More of it ran before the newest
 * start, less of it after that. */
static void put_right(struct work *work, int round, int32_t elapsed_ms, int64_t at_ms,
                      bool was_running)
{
    size_t last = work->runs;
    while (last > 0 && work->run[last - 1].round != round) {
        last--;
    }
    int32_t shown = last ? work->run[last - 1].to_ms : 0;
    if (shown == elapsed_ms) {
        return;
    }
    if (last == 0) {
        work->run[work->runs++] = (struct run){round, 0, elapsed_ms, at_ms};
        return;
    }
    work->run[last - 1].to_ms = elapsed_ms;
    work->run[last - 1].end_ms = was_running ? at_ms : work->run[last - 1].end_ms;
    for (size_t i = 0; i < last; i++) {
        struct run *run = &work->run[i];
        if (run->round == round && run->to_ms > elapsed_ms) {
            run->end_ms -= run->to_ms - elapsed_ms;
            run->to_ms = elapsed_ms;
        }
        run->from_ms = run->from_ms < run->to_ms ? run->from_ms : run->to_ms;
    }
}

/* A round began anew: what ran of it and of later ones is void. */
static void forget(struct work *work, const struct round_clock *clock)
{
    size_t kept = 0;
    for (size_t i = 0; i < work->runs; i++) {
        int round = work->run[i].round;
        if (round == clock->round || (round < clock->round && clock->ran_ms[round] > 0)) {
            work->run[kept++] = work->run[i];
        }
    }
    work->runs = kept;
}

/* When the round clock ran: the live starts, stops and corrections, one after the other. */
static void find_runs(struct work *work, int64_t now_ms)
{
    const struct subject *subjects = NULL;
    const size_t *index = NULL;
    size_t count = fold_states(work->fold, &index);
    struct states states = {.plan = fold_clock(work->fold)->plan};
    struct round_clock *clock = &states.clock;
    fold_subjects(work->fold, &subjects);
    states_reset(&states);
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = &subjects[index[i]];
        const struct entry *now = &subject->now;
        bool clocks =
            now->kind == ENTRY_CLOCK ? subject->counts : now->kind == ENTRY_RESULT && subject->live;
        if (!clocks || clock->ended) {
            continue;
        }
        bool jumps = now->kind == ENTRY_CLOCK && now->code == CODE_JUMP;
        bool was_running = clock->running && clock->round > 0;
        int round = clock->round;
        int64_t ran = now->at_ms - clock->since_ms;
        run_until(work, clock, jumps ? now->at_ms - now->value : now->at_ms);
        states_apply(&states, subject);
        if (jumps) { /* what was before it, in the time after it */
            ran -= now->value;
            clock->elapsed_ms += clock->running && ran > 0 && ran < 3600000 ? (int32_t)ran : 0;
            clock->since_ms = now->at_ms;
            for (size_t r = 0; r < work->runs; r++) {
                work->run[r].end_ms += now->value;
            }
        } else if (clock->round > 0) {
            forget(work, clock);
            put_right(work, clock->round, clock_read(clock, now->at_ms).elapsed_ms, now->at_ms,
                      was_running && round == clock->round);
        }
    }
    run_until(work, clock, now_ms);
}

/* The wall clock was stepped: what was before it, in the time after it. */
static void jump(struct work *work, int64_t by_ms)
{
    for (int i = 0; i < work->desk_count; i++) {
        struct session *session = &work->session[i];
        session->from_ms += session->wrote ? by_ms : 0;
        session->last_ms += session->wrote ? by_ms : 0;
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (size_t i = 0; i < work->terms[corner]; i++) {
            work->term[corner][i].from_ms += by_ms;
        }
    }
}

/* Who took office when, and what each session wrote. */
static void read_entries(struct work *work)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(work->fold, &entries);
    bool jumped = false;
    for (int i = 0; i < work->desk_count; i++) {
        work->session[i] = (struct session){work->desks[i].opened_ms, INT64_MAX, 0, false};
    }
    for (size_t i = 0; i < count; i++) {
        const struct entry *entry = &entries[i];
        struct session *session = &work->session[entry->name.desk];
        const struct subject *subject = NULL;
        if (entry->kind == ENTRY_CLOCK && entry->code == CODE_JUMP && entry->act == ACT_ADD) {
            subject = fold_subject(work->fold, entry->name);
        }
        if (subject && subject->counts) {
            jump(work, subject->now.value);
            jumped = true;
        }
        /* A correction speaks of another moment than its own, which after a jump nothing tells. */
        bool own = entry->act == ACT_ADD &&
                   (entry->kind != ENTRY_STRIKE || entry->value != ENTRY_INSERTED);
        int64_t at_ms = own ? entry->at_ms : jumped ? 0 : entry->utc_ms;
        session->last_ms = at_ms > session->last_ms ? at_ms : session->last_ms;
        session->wrote = true;
        if (entry->kind == ENTRY_OFFICIAL && entry->code != CODE_CLOCK) {
            int corner = entry->code == CODE_RED ? CORNER_RED : CORNER_BLUE;
            work->term[corner][work->terms[corner]++] =
                (struct term){entry->at_ms, work->desks[entry->name.desk].root};
        }
    }
}

/* A desk's view of its own: it is official for what it tags, from the first. */
static void own_terms(struct work *work)
{
    int root = fold_official(work->fold, CODE_CLOCK);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        work->terms[corner] = 0;
        for (int i = 0; i < work->desk_count && !work->terms[corner]; i++) {
            if (work->desks[i].root == root && work->desks[i].corners >> corner & 1) {
                work->term[corner][work->terms[corner]++] = (struct term){INT64_MIN, root};
            }
        }
    }
}

static void end_sessions(struct work *work, const struct desk_sign *signs)
{
    for (int i = 0; i < work->desk_count; i++) {
        struct session *session = &work->session[i];
        struct desk_sign sign = signs ? signs[i] : (struct desk_sign){0};
        bool followed = false;
        int64_t last = session->wrote ? session->last_ms : session->from_ms;
        for (int j = i + 1; j < work->desk_count; j++) {
            followed = followed || work->desks[j].root == work->desks[i].root;
        }
        if (followed) {
            session->to_ms = sign.session_ms > last ? sign.session_ms : last;
            continue;
        }
        switch (sign_state(&sign)) {
        case SIGN_LEFT:
            session->to_ms = sign.seen_ms < last ? INT64_MAX : sign.seen_ms;
            break;
        case SIGN_SILENT:
        case SIGN_LOST:
            session->to_ms = sign.seen_ms > last ? sign.seen_ms : last;
            break;
        default:
            break;
        }
    }
}

/* Whether the corner is covered at a moment, and until when that stays so; else why not. */
static bool covered_at(const struct work *work, enum corner corner, int64_t at_ms,
                       int64_t *until_ms, struct coverage_gap *gap)
{
    size_t terms = work->terms[corner];
    *until_ms = INT64_MAX;
    while (terms > 0 && work->term[corner][terms - 1].from_ms > at_ms) {
        *until_ms = work->term[corner][--terms].from_ms;
    }
    gap->desk = terms ? work->term[corner][terms - 1].root : -1;
    gap->why = terms ? COVERAGE_AWAY : COVERAGE_NOBODY;
    for (int i = 0; i < work->desk_count && terms; i++) {
        const struct session *session = &work->session[i];
        if (work->desks[i].root != gap->desk) {
            continue;
        }
        if (session->from_ms > at_ms) {
            *until_ms = session->from_ms < *until_ms ? session->from_ms : *until_ms;
        } else if (session->to_ms > at_ms) {
            *until_ms = session->to_ms < *until_ms ? session->to_ms : *until_ms;
            return true;
        }
    }
    return false;
}

static int add_gap(struct work *work, struct coverage *out, const struct coverage_gap *gap,
                   struct error *err)
{
    struct coverage_gap *last = out->gaps ? &out->gap[out->gaps - 1] : NULL;
    if (last && last->corners == gap->corners && last->round == gap->round &&
        last->desk == gap->desk && last->to_ms == gap->from_ms) {
        last->to_ms = gap->to_ms;
        return 0;
    }
    if (!grow_array(&out->gap, sizeof *out->gap, out->gaps, 1, &work->gap_room)) {
        return error_memory(err);
    }
    out->gap[out->gaps++] = *gap;
    return 0;
}

static int find_gaps(struct work *work, struct coverage *out, enum corner corner, struct error *err)
{
    int code = 0;
    for (size_t i = 0; i < work->runs && !code; i++) {
        const struct run *run = &work->run[i];
        int64_t at = run->end_ms - (run->to_ms - run->from_ms), until = 0;
        for (; at < run->end_ms && !code; at = until) {
            struct coverage_gap gap = {.round = (uint8_t)run->round,
                                       .corners = (uint8_t)(1u << corner)};
            bool covered = covered_at(work, corner, at, &until, &gap);
            until = until < run->end_ms ? until : run->end_ms;
            gap.from_ms = run->to_ms - (int32_t)(run->end_ms - at);
            gap.to_ms = run->to_ms - (int32_t)(run->end_ms - until);
            code = covered ? 0 : add_gap(work, out, &gap, err);
        }
    }
    return code;
}

/* The last moment of a recording that its desk has tagged, on the round clock. */
static struct round_clock tagged_until(const struct work *work, int root, int64_t *at_ms)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(work->fold, &subjects);
    *at_ms = INT64_MIN;
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        if (subjects[i].counts && now->kind != ENTRY_RESULT && now->at_ms > *at_ms &&
            work->desks[now->name.desk].root == root) {
            *at_ms = now->at_ms;
        }
    }
    return fold_clock_at(work->fold, *at_ms);
}

/* On a recording: what its desk does not tag, and what is behind the last that it did. */
static int find_untagged(struct work *work, struct coverage *out, int64_t now_ms, struct error *err)
{
    int root = fold_official(work->fold, CODE_CLOCK), code = 0;
    int64_t at_ms = 0;
    struct round_clock until = tagged_until(work, root, &at_ms);
    own_terms(work);
    for (int round = 1; round <= ROUND_MAX && !code; round++) {
        int32_t ran = (int32_t)clock_ran(fold_clock(work->fold), round, now_ms);
        int32_t tagged = (int32_t)clock_ran(&until, round, at_ms);
        for (int corner = 0; corner < CORNER_COUNT && !code; corner++) {
            bool tags = work->terms[corner] > 0;
            struct coverage_gap gap = {.round = (uint8_t)round,
                                       .corners = (uint8_t)(1u << corner),
                                       .why = tags ? COVERAGE_AWAY : COVERAGE_NOBODY,
                                       .desk = tags ? root : -1,
                                       .from_ms = tags ? tagged : 0,
                                       .to_ms = ran};
            code = gap.to_ms > gap.from_ms ? add_gap(work, out, &gap, err) : 0;
        }
    }
    return code;
}

static int by_time(const void *left, const void *right)
{
    const struct coverage_gap *a = left, *b = right;
    if (a->round != b->round) {
        return a->round - b->round;
    }
    if (a->from_ms != b->from_ms) {
        return a->from_ms < b->from_ms ? -1 : 1;
    }
    return a->corners - b->corners;
}

/* Drops what is too short to be known, and makes one of what is the same for both corners. */
static void sort_gaps(struct coverage *out)
{
    size_t kept = 0;
    if (out->gaps) {
        qsort(out->gap, out->gaps, sizeof *out->gap, by_time);
    }
    for (size_t i = 0; i < out->gaps; i++) {
        struct coverage_gap gap = out->gap[i];
        struct coverage_gap *last = kept ? &out->gap[kept - 1] : NULL;
        if (gap.to_ms - gap.from_ms < COVERAGE_LEAST_MS) {
            continue;
        }
        if (last && last->round == gap.round && last->from_ms == gap.from_ms &&
            last->to_ms == gap.to_ms && last->desk == gap.desk) {
            last->corners |= gap.corners;
        } else {
            out->gap[kept++] = gap;
        }
    }
    out->gaps = kept;
}

static void sum_up(const struct work *work, struct coverage *out, int64_t now_ms)
{
    const struct tally *tally = fold_tally(work->fold);
    const struct round_clock *clock = fold_clock(work->fold);
    for (int round = ROUND_MAX; round >= 0; round--) {
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            struct coverage_part *part = &out->part[round][corner];
            const struct round_tally *counts = round ? &tally->round[round] : &tally->all;
            part->ran_ms = part->covered_ms = clock_ran(clock, round, now_ms);
            for (size_t i = 0; i < out->gaps; i++) {
                const struct coverage_gap *gap = &out->gap[i];
                if ((round == 0 || gap->round == round) && gap->corners >> corner & 1) {
                    part->covered_ms -= gap->to_ms - gap->from_ms;
                }
            }
            part->covered_ms = part->covered_ms > 0 ? part->covered_ms : 0;
            bool own = counts->corner[corner].all.attempted > 0;
            bool other = counts->corner[corner_other((enum corner)corner)].all.attempted > 0;
            part->tagged =
                own || (part->ran_ms ? part->covered_ms > 0 : !other || work->terms[corner] > 0);
        }
    }
}

int coverage_init(struct coverage *out, const struct fold *fold, const struct desk_sign *signs,
                  int64_t now_ms, struct error *err)
{
    const struct entry *entries = NULL;
    const struct subject *subjects = NULL;
    const size_t *states = NULL;
    size_t count = fold_entries(fold, &entries);
    size_t state_count = fold_states(fold, &states), runs = 1, terms = 1;
    struct work work = {.fold = fold};
    memset(out, 0, sizeof *out);
    fold_subjects(fold, &subjects);
    work.desk_count = fold_desks(fold, &work.desks);
    for (size_t i = 0; i < count; i++) {
        terms += entries[i].kind == ENTRY_OFFICIAL;
    }
    for (size_t i = 0; i < state_count; i++) {
        runs += state_is(&subjects[states[i]].now) ? 2 : 0;
    }
    work.session = calloc((size_t)work.desk_count + 1, sizeof *work.session);
    work.term[CORNER_RED] = calloc(terms, sizeof *work.term[0]);
    work.term[CORNER_BLUE] = calloc(terms, sizeof *work.term[0]);
    work.run = calloc(runs, sizeof *work.run);
    int code = work.session && work.term[CORNER_RED] && work.term[CORNER_BLUE] && work.run
                   ? 0
                   : error_memory(err);
    if (!code) {
        read_entries(&work);
        if (fold_on_recording(fold)) {
            code = find_untagged(&work, out, now_ms, err);
        } else if (fold_whose(fold) != FOLD_OFFICIAL) {
            own_terms(&work);
        }
        if (!fold_on_recording(fold)) {
            end_sessions(&work, signs);
            find_runs(&work, now_ms);
            code = find_gaps(&work, out, CORNER_RED, err);
            code = code ? code : find_gaps(&work, out, CORNER_BLUE, err);
        }
    }
    if (code) {
        coverage_release(out);
    } else {
        sort_gaps(out);
        sum_up(&work, out, now_ms);
    }
    free(work.session);
    free(work.term[CORNER_RED]);
    free(work.term[CORNER_BLUE]);
    free(work.run);
    return code;
}

void coverage_release(struct coverage *coverage)
{
    free(coverage->gap);
    coverage->gap = NULL;
    coverage->gaps = 0;
}

const struct coverage_part *coverage_of(const struct coverage *coverage, int round,
                                        enum corner corner)
{
    return &coverage->part[round][corner];
}

bool coverage_gap_in(const struct coverage_gap *gap, const struct window *window)
{
    return window->by_moment || gap->round > window->round ||
           (gap->round == window->round && gap->to_ms > window->elapsed_ms);
}

struct coverage_part coverage_in(const struct coverage *coverage, const struct window *window,
                                 const struct round_tally *counts, enum corner corner)
{
    const struct coverage_part *first = coverage_of(coverage, window->round, corner);
    bool thrown = counts->corner[corner].all.attempted > 0;
    if (window->by_moment) {
        return (struct coverage_part){-1, -1, thrown || coverage->part[0][corner].tagged};
    }
    int64_t ran = first->ran_ms - window->elapsed_ms;
    struct coverage_part part = {.ran_ms = ran > 0 ? ran : 0};
    for (int round = window->round + 1; round <= ROUND_MAX; round++) {
        part.ran_ms += coverage->part[round][corner].ran_ms;
    }
    part.covered_ms = part.ran_ms;
    for (size_t i = 0; i < coverage->gaps; i++) {
        const struct coverage_gap *gap = &coverage->gap[i];
        int32_t from = gap->round == window->round && gap->from_ms < window->elapsed_ms
                           ? window->elapsed_ms
                           : gap->from_ms;
        if (gap->corners >> corner & 1 && coverage_gap_in(gap, window)) {
            part.covered_ms -= gap->to_ms - from;
        }
    }
    part.covered_ms = part.covered_ms > 0 ? part.covered_ms : 0;
    part.tagged = thrown || (part.ran_ms ? part.covered_ms > 0 : first->tagged);
    return part;
}

bool coverage_whole(const struct coverage *coverage, int round, enum corner corner)
{
    const struct coverage_part *part = coverage_of(coverage, round, corner);
    return part->tagged && part->covered_ms == part->ran_ms;
}

int32_t coverage_between(const struct coverage *coverage, int round, enum corner corner,
                         int32_t from_ms, int32_t to_ms)
{
    int32_t covered = to_ms - from_ms;
    for (size_t i = 0; i < coverage->gaps; i++) {
        const struct coverage_gap *gap = &coverage->gap[i];
        if (gap->round == round && gap->corners >> corner & 1) {
            int32_t from = gap->from_ms > from_ms ? gap->from_ms : from_ms;
            int32_t to = gap->to_ms < to_ms ? gap->to_ms : to_ms;
            covered -= to > from ? to - from : 0;
        }
    }
    return covered;
}

void coverage_words(char *out, size_t size, const struct coverage_gap *gap)
{
    char from[WHEN_SIZE], to[WHEN_SIZE];
    const char *corner = gap->corners == 3                 ? ""
                         : gap->corners == 1 << CORNER_RED ? "red: "
                                                           : "blue: ";
    snprintf(out, size, "%s%s R%d %s-%s", corner, coverage_why_words[gap->why], gap->round,
             when_clock(from, gap->from_ms), when_clock(to, gap->to_ms));
}
