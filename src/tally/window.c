/* window.c: counts from some point of the bout on. */
#include "ringtally/tally/window.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/when.h"
#include "tally/downs.h"

/* A whole number within low..high; false: it is none. */
static bool read_number(const char **text, int64_t low, int64_t high, int64_t *out)
{
    const char *at = *text;
    *out = 0;
    while (isdigit((unsigned char)*at) && *out <= high) {
        *out = *out * 10 + (*at++ - '0');
    }
    bool sound = at > *text && *out >= low && *out <= high;
    *text = at;
    return sound;
}

/* "R2", "R2 1:30" */
static bool read_place(struct window_ask *out, const char *text)
{
    int64_t round = 0, minutes = 0, seconds = 0;
    if (*text != 'R' && *text != 'r') {
        return false;
    }
    text++;
    if (!read_number(&text, 1, ROUND_MAX, &round)) {
        return false;
    }
    if (*text && strchr(" :,", *text)) {
        text++;
        if (!read_number(&text, 0, 59, &minutes) || *text++ != ':' ||
            !isdigit((unsigned char)text[0]) || !isdigit((unsigned char)text[1]) ||
            !read_number(&text, 0, 59, &seconds)) {
            return false;
        }
    }
    out->from = WINDOW_CLOCK;
    out->round = (int)round;
    out->ms = (minutes * 60 + seconds) * 1000;
    return !*text;
}

/* "DESK.SEQ", of a desk the first digits do. */
static bool read_entry(struct window_ask *out, const char *text)
{
    size_t digits = strspn(text, "0123456789abcdef");
    if (digits < 8 || digits >= sizeof out->desk || text[digits] != '.') {
        return false;
    }
    memcpy(out->desk, text, digits);
    out->desk[digits] = '\0';
    text += digits + 1;
    out->from = WINDOW_ENTRY;
    return read_number(&text, 1, INT32_MAX, &out->seq) && !*text;
}

int window_parse(struct window_ask *out, const char *since, const char *last, struct error *err)
{
    *out = (struct window_ask){.from = WINDOW_NONE};
    if (since && last) {
        return error_set(err, ERROR_USAGE, "since and last: one of them");
    }
    if (last) {
        const char *at = last;
        if (!read_number(&at, 1, WINDOW_LAST_MS / 1000, &out->ms) || *at) {
            return error_set(err, ERROR_USAGE, "last %.40s: seconds from 1 to %d are needed", last,
                             WINDOW_LAST_MS / 1000);
        }
        snprintf(out->text, sizeof out->text, "last %lld s", (long long)out->ms);
        out->ms *= 1000;
        out->from = WINDOW_LAST;
    } else if (since) {
        if (strcmp(since, "bell") == 0) {
            out->from = WINDOW_BELL;
        } else if (strcmp(since, "knockdown") == 0) {
            out->from = WINDOW_KNOCKDOWN;
        } else if ((out->ms = when_parse(since)) >= 0) {
            out->from = WINDOW_MOMENT;
        } else if (!read_place(out, since) && !read_entry(out, since)) {
            return error_set(err, ERROR_USAGE,
                             "since %.40s: bell, knockdown, R2, R2 1:30, a moment like "
                             "2026-12-05T20:15:30Z or an entry's DESK.SEQ is needed",
                             since);
        }
        snprintf(out->text, sizeof out->text, "since %.50s", since);
    }
    return 0;
}

static struct window at_place(int round, int64_t elapsed_ms, bool beyond)
{
    return (struct window){
        .round = (uint8_t)round, .elapsed_ms = (int32_t)elapsed_ms, .beyond = beyond};
}

static int find_knockdown(struct window *out, const struct fold *fold, struct error *err)
{
    bool found = false;
    size_t at = 0;
    for (const struct entry *now; (now = fold_knockdown(fold, &at)) != NULL;) {
        if (!found || window_has(out, now->round, now->elapsed_ms, now->at_ms)) {
            *out = at_place(now->round, now->elapsed_ms, true);
            found = true;
        }
    }
    return found ? 0 : error_set(err, ERROR_MISSING, "there is no knockdown yet");
}

static int find_entry(struct window *out, const struct window_ask *ask, const struct fold *fold,
                      struct error *err)
{
    const struct desk_row *desks = NULL;
    const struct entry *entries = NULL;
    size_t count = fold_entries(fold, &entries);
    fold_desks(fold, &desks);
    for (size_t i = 0; i < count; i++) {
        const struct entry *entry = &entries[i];
        if (entry->name.seq == ask->seq &&
            strncmp(desks[entry->name.desk].uid, ask->desk, strlen(ask->desk)) == 0) {
            *out = at_place(entry->round, entry->elapsed_ms, true);
            return 0;
        }
    }
    return error_set(err, ERROR_MISSING, "there is no entry %s.%lld", ask->desk,
                     (long long)ask->seq);
}

/* Goes back by running clock, from round to round. */
static struct window find_last(const struct round_clock *clock, int64_t span_ms, int64_t now_ms)
{
    struct clock_face face = clock_read(clock, now_ms);
    int round = face.round;
    int64_t elapsed = face.elapsed_ms;
    while (elapsed < span_ms && round > 1) {
        span_ms -= elapsed;
        elapsed = clock_ran(clock, --round, now_ms);
    }
    return at_place(round, elapsed > span_ms ? elapsed - span_ms : 0, false);
}

int window_find(struct window *out, const struct window_ask *ask, const struct fold *fold,
                int64_t now_ms, struct error *err)
{
    const struct round_clock *clock = fold_clock(fold);
    *out = at_place(1, 0, false);
    switch (ask->from) {
    case WINDOW_BELL:
        out->round = (uint8_t)clock_read(clock, now_ms).round;
        return 0;
    case WINDOW_CLOCK:
        *out = at_place(ask->round, ask->ms, false);
        return 0;
    case WINDOW_MOMENT:
        *out = (struct window){.by_moment = true, .at_ms = ask->ms};
        return 0;
    case WINDOW_LAST:
        *out = find_last(clock, ask->ms, now_ms);
        return 0;
    case WINDOW_KNOCKDOWN:
        return find_knockdown(out, fold, err);
    case WINDOW_ENTRY:
        return find_entry(out, ask, fold, err);
    default:
        return 0;
    }
}

bool window_has(const struct window *window, int round, int32_t elapsed_ms, int64_t at_ms)
{
    if (window->by_moment) {
        return at_ms >= window->at_ms;
    }
    if (round != window->round) {
        return round > window->round;
    }
    return window->beyond ? elapsed_ms > window->elapsed_ms : elapsed_ms >= window->elapsed_ms;
}

void window_count(struct round_tally *out, const struct window *window, const struct fold *fold)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(fold, &subjects);
    *out = (struct round_tally){.off_clock = 0};
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        if (subjects[i].official && window_has(window, now->round, now->elapsed_ms, now->at_ms)) {
            round_tally_add(out, &subjects[i], 1);
        }
    }
    const size_t *list = NULL;
    count = fold_downs(fold, &list);
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[list[i]].now;
        if (window_has(window, now->round, now->elapsed_ms, now->at_ms) &&
            down_stands(subjects, list, count, i)) {
            down_add(out, now);
        }
    }
}

int64_t window_ran(const struct window *window, const struct round_clock *clock, int64_t now_ms)
{
    if (window->by_moment) {
        return -1;
    }
    int64_t ran = clock_ran(clock, window->round, now_ms) - window->elapsed_ms;
    ran = ran > 0 ? ran : 0;
    for (int round = window->round + 1; round <= ROUND_MAX; round++) {
        ran += clock_ran(clock, round, now_ms);
    }
    return ran;
}
