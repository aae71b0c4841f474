/* sample.h: small invented bouts, built entry by entry, for the tests of the sheets. */
#ifndef SAMPLE_H
#define SAMPLE_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/embedded.h"
#include "ringtally/bout/recording.h"
#include "ringtally/sheet/sheet.h"

#define SAMPLE_START INT64_C(1796501730250) /* 2026-12-05T20:15:30.250Z */

struct sample {
    struct rules rules;
    struct card card;
    struct bout bout;
    struct fold *fold;
    int64_t now;         /* moment of the next entry */
    int64_t round_start; /* moment at which the clock last started, less what had run */
    int round;
    bool running;
    int64_t seq[3]; /* of the two desks, and of one on a recording */
    struct entry_name last;
};

static inline void sample_text(char *out, size_t size, const char *text)
{
    snprintf(out, size, "%s", text);
}

static inline void sample_init(struct sample *out)
{
    const struct embedded *file = embedded_find("rules/kickboxing.ini");
    struct error err = {0};
    memset(out, 0, sizeof *out);
    if (!file || rules_parse(&out->rules, file->data, file->size, file->name, &err)) {
        fprintf(stderr, "%s\n", err.text);
        abort();
    }
    sample_text(out->card.id, sizeof out->card.id, "quay-1");
    sample_text(out->card.title, sizeof out->card.title, "Night on the Quay");
    sample_text(out->card.date, sizeof out->card.date, "2026-12-05");
    sample_text(out->card.venue, sizeof out->card.venue, "Lantern Hall, Port Serrano");
    struct bout *bout = &out->bout;
    sample_text(bout->card, sizeof bout->card, "quay-1");
    bout->number = 3;
    sample_text(bout->weight, sizeof bout->weight, "women -65 kg");
    sample_text(bout->rules, sizeof bout->rules, "kickboxing");
    static const struct fighter fighters[CORNER_COUNT] = {
        {"Ána Vekerdøttir", "Vekerdøttir", STANCE_ORTHODOX, "Vardø, Norway", "14-2-0"},
        {"林 小嵐", "林", STANCE_SOUTHPAW, "臺南, Taiwan", "9-1-1"}};
    memcpy(bout->fighter, fighters, sizeof fighters);
    struct clock_plan plan = clock_plan(&out->rules, 0);
    out->fold = fold_new(&plan, bout, FOLD_OFFICIAL);
    static const struct desk_row desks[2] = {{.uid = "00000000000000000000000000000001",
                                              .operator_ = "Iris Palm",
                                              .name = "Iris Palm",
                                              .root = 0,
                                              .corners = 1},
                                             {.uid = "00000000000000000000000000000002",
                                              .operator_ = "Odd Kvam",
                                              .name = "Odd Kvam",
                                              .root = 1,
                                              .corners = 2}};
    if (!out->fold || fold_desk(out->fold, &desks[0]) || fold_desk(out->fold, &desks[1])) {
        abort();
    }
    out->now = SAMPLE_START;
    out->round = 1;
}

/* Names as no card file lets them in, but another program might write them into a database. */
static inline void sample_hostile(struct sample *out)
{
    static const struct fighter fighters[CORNER_COUNT] = {
        {"=HYPERLINK(\"x\"),|a *b* <i>", "@sum", STANCE_SQUARE, "-2+3, \x1b[31mred\nland", "=1+1"},
        {"An exceedingly long name, one that is wider than any page has room for", "\xff\xfe",
         STANCE_SQUARE, "林林林林林林林林林林林林林林林林林林林林", ""}};
    memcpy(out->bout.fighter, fighters, sizeof fighters);
    sample_text(
        out->card.title, sizeof out->card.title,
        "+ A title that is long enough to run into whatever stands at the right of it, yes");
    sample_text(out->card.venue, sizeof out->card.venue, "a\r\nb \"quoted\", c");
    sample_text(out->bout.weight, sizeof out->bout.weight,
                "super-heavyweight, of the longest description");
}

static inline void sample_release(struct sample *sample)
{
    fold_free(sample->fold);
}

static inline struct sheet_view sample_view(const struct sample *sample, int round)
{
    return (struct sheet_view){&sample->card, &sample->bout, &sample->rules,
                               sample->fold,  round,         sample->now};
}

/* Adds an entry of the desk, now; what is not set in `entry` is filled in. */
static inline void sample_add(struct sample *sample, int desk, struct entry entry)
{
    entry.name = (struct entry_name){desk, ++sample->seq[desk]};
    if (entry.act == ACT_ADD) {
        entry.subject = entry.name;
    }
    entry.undoes = ENTRY_NONE;
    entry.utc_ms = entry.at_ms = sample->now;
    entry.round = (uint8_t)sample->round;
    int64_t elapsed = sample->running ? sample->now - sample->round_start : sample->round_start;
    entry.elapsed_ms =
        (int32_t)(elapsed > sample->rules.round_ms ? sample->rules.round_ms : elapsed);
    entry.off_clock =
        entry.kind == ENTRY_STRIKE && (!sample->running || elapsed >= sample->rules.round_ms);
    if (entry.act != ACT_ADD) { /* a correction speaks of its subject's moment */
        const struct subject *subject = fold_subject(sample->fold, entry.subject);
        entry.at_ms = subject->now.at_ms;
        entry.round = subject->now.round;
        entry.elapsed_ms = subject->now.elapsed_ms;
        entry.off_clock = subject->now.off_clock;
    }
    const char *fault = entry_fault(&entry, 2);
    if (fault || fold_add(sample->fold, &entry)) {
        fprintf(stderr, "sample: %s\n", fault ? fault : "out of memory");
        abort();
    }
    sample->last = entry.name;
}

static inline void sample_official(struct sample *sample, int desk, enum entry_code code)
{
    sample_add(sample, desk, (struct entry){.kind = ENTRY_OFFICIAL, .code = (uint8_t)code});
}

/* While the clock stands, round_start is the running time that has passed. */
static inline void sample_clock(struct sample *sample, enum entry_code code)
{
    sample_add(sample, 0, (struct entry){.kind = ENTRY_CLOCK, .code = (uint8_t)code});
    sample->running = code == CODE_START;
    sample->round_start = sample->now - sample->round_start;
}

static inline void sample_round(struct sample *sample, int round)
{
    sample->round = round;
    sample->running = false;
    sample->round_start = 0;
    sample_clock(sample, CODE_START);
}

/* `count` equal strikes, 250 ms apart, by the corner's desk. */
static inline void sample_strikes(struct sample *sample, int count, enum corner corner,
                                  enum limb limb, enum target target, enum outcome outcome,
                                  unsigned technique)
{
    for (int i = 0; i < count; i++) {
        sample->now += 250;
        struct entry entry = {.kind = ENTRY_STRIKE,
                              .strike = {.corner = (uint8_t)corner,
                                         .limb = (uint8_t)limb,
                                         .target = (uint8_t)target,
                                         .stance = sample->bout.fighter[corner].stance,
                                         .outcome = (uint8_t)outcome,
                                         .technique = (uint8_t)technique}};
        sample_add(sample, corner == CORNER_RED ? 0 : 1, entry);
    }
}

static inline void sample_incident(struct sample *sample, enum corner corner, enum entry_code code,
                                   int value, const char *text)
{
    struct entry entry = {.kind = ENTRY_INCIDENT, .code = (uint8_t)code, .value = value};
    entry.strike.corner = (uint8_t)corner;
    sample_text(entry.text, sizeof entry.text, text);
    sample_add(sample, corner == CORNER_RED ? 0 : 1, entry);
}

/* Two rounds and the beginning of the third: a knockdown, incidents, a stop, strikes off the clock,
 * a correction, a flag for review, a change of desk. Counted by hand in sheet.c. */
static inline void sample_play(struct sample *s)
{
    sample_official(s, 0, CODE_RED);
    sample_official(s, 0, CODE_CLOCK);
    sample_official(s, 1, CODE_BLUE);

    sample_round(s, 1);
    sample_strikes(s, 20, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_ATTEMPTED, 0);
    sample_strikes(s, 9, CORNER_RED, LIMB_RIGHT_HAND, TARGET_HEAD, OUTCOME_LANDED, 0);
    sample_strikes(s, 4, CORNER_RED, LIMB_LEFT_LEG, TARGET_BODY, OUTCOME_BLOCKED, 0);
    sample_strikes(s, 6, CORNER_RED, LIMB_RIGHT_LEG, TARGET_LEG, OUTCOME_LANDED, 0);
    sample_strikes(s, 15, CORNER_BLUE, LIMB_RIGHT_HAND, TARGET_HEAD, OUTCOME_ATTEMPTED, 0);
    sample_strikes(s, 7, CORNER_BLUE, LIMB_LEFT_HAND, TARGET_BODY, OUTCOME_LANDED, 0);
    s->now += 30000;
    sample_incident(s, CORNER_BLUE, CODE_FOUL, 0, "low_blow");
    sample_clock(s, CODE_STOP);
    s->now += 20000;
    sample_incident(s, CORNER_BLUE, CODE_WARNING, 0, "");
    sample_strikes(s, 1, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_ATTEMPTED, 0);
    sample_clock(s, CODE_START);
    s->now += 200000; /* the round ends by itself */
    sample_strikes(s, 1, CORNER_BLUE, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED, 0);

    s->now += 40000;
    sample_round(s, 2);
    sample_strikes(s, 12, CORNER_RED, LIMB_LEFT_HAND, TARGET_BODY, OUTCOME_LANDED, 0);
    sample_strikes(s, 2, CORNER_RED, LIMB_RIGHT_LEG, TARGET_HEAD, OUTCOME_ATTEMPTED,
                   TECHNIQUE_SPINNING | TECHNIQUE_JUMPING);
    sample_strikes(s, 1, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED,
                   TECHNIQUE_KNOCKDOWN);
    sample_incident(s, CORNER_BLUE, CODE_COUNT, 0, "");
    sample_strikes(s, 10, CORNER_BLUE, LIMB_KNEE, TARGET_BODY, OUTCOME_ATTEMPTED, 0);
    s->now += 1000;
    struct entry fix = {.kind = ENTRY_STRIKE, /* the last knee landed after all, and is flagged */
                        .act = ACT_AMEND,
                        .subject = s->last,
                        .review = true,
                        .strike = {.corner = CORNER_BLUE,
                                   .limb = LIMB_LEFT_KNEE,
                                   .target = TARGET_BODY,
                                   .stance = STANCE_SOUTHPAW,
                                   .position = POSITION_CLINCH,
                                   .outcome = OUTCOME_LANDED}};
    sample_add(s, 1, fix);
    s->now += 60000;
    sample_official(s, 0, CODE_BLUE);
    sample_incident(s, CORNER_RED, CODE_DEDUCTION, 2, "");
    s->now += 200000;
    sample_round(s, 3);
    s->now += 30000;
}

/* The bout so far, tagged again from its recording by a third desk: 300 ms and a little before each
 * live key; it has one strike in twelve more, and says another outcome of one in fifteen. */
static inline void sample_recording(struct sample *s)
{
    static const struct desk_row row = {.uid = "00000000000000000000000000000003",
                                        .operator_ = "Cleo",
                                        .name = "Cleo-rec",
                                        .root = 2,
                                        .corners = 3,
                                        .shadow = true};
    const struct subject *subjects = NULL;
    struct recording recording = {.rate_mhz = 25000, .name = "bout-3.mkv"};
    struct entry note = {.kind = ENTRY_NOTE, .round = 1, .at_ms = SAMPLE_START - 9000};
    size_t count = fold_subjects(s->fold, &subjects);
    struct subject *live = malloc((count + 1) * sizeof *live);
    memcpy(live, subjects, count * sizeof *live);
    recording_print(note.text, &recording);
    bool failed = fold_desk(s->fold, &row) != 0;
    for (size_t i = 0; i <= count; i++) {
        struct entry entry = i == 0 ? note : live[i - 1].now;
        bool strike = entry.kind == ENTRY_STRIKE;
        bool bell = entry.kind == ENTRY_CLOCK;
        for (int k = 0; (i == 0 || bell || strike) && k < (strike && i % 12 == 5 ? 2 : 1); k++) {
            entry.name = entry.subject = (struct entry_name){2, ++s->seq[2]};
            entry.undoes = ENTRY_NONE;
            entry.act = ACT_ADD;
            entry.review = false;
            entry.utc_ms = s->now + (int64_t)i + 1;
            entry.at_ms -= strike ? 290 + (int64_t)(i * 7 % 40) : 0;
            if (strike && i % 15 == 2) {
                entry.strike.outcome =
                    entry.strike.outcome == OUTCOME_LANDED ? OUTCOME_ATTEMPTED : OUTCOME_LANDED;
            }
            if (k > 0) {
                entry.at_ms += 1100;
                entry.strike.limb = LIMB_KNEE;
                entry.strike.target = TARGET_BODY;
            }
            failed = failed || fold_add(s->fold, &entry);
        }
    }
    free(live);
    if (failed) {
        abort();
    }
    s->now += (int64_t)count + 1;
}

/* Three rounds of combinations, and their recording. */
static inline void sample_checked(struct sample *s)
{
    unsigned seed = 5;
    sample_official(s, 0, CODE_RED);
    sample_official(s, 0, CODE_CLOCK);
    sample_official(s, 1, CODE_BLUE);
    for (int round = 1; round <= 3; round++) {
        int64_t bell = s->now;
        sample_round(s, round);
        s->now += 2000;
        while (s->now < bell + 170000) {
            seed = seed * 1103515245u + 12345u;
            unsigned dice = seed >> 12;
            bool leg = dice % 5 == 0;
            s->now += dice % 3 ? 100 + dice % 300 : 2000 + dice % 2500;
            sample_strikes(s, 1, dice & 64 ? CORNER_RED : CORNER_BLUE,
                           leg          ? LIMB_RIGHT_LEG
                           : dice & 128 ? LIMB_LEFT_HAND
                                        : LIMB_RIGHT_HAND,
                           leg           ? TARGET_LEG
                           : dice & 1024 ? TARGET_HEAD
                                         : TARGET_BODY,
                           dice & 2048 ? OUTCOME_LANDED : OUTCOME_ATTEMPTED, 0);
        }
        s->now = bell + 240000;
    }
    sample_recording(s);
}

#endif
