/* blows.h: folds built strike by strike, for the tests of what is read out of their order. */
#ifndef TALLY_BLOWS_H
#define TALLY_BLOWS_H

#include "support.h"

#include "ringtally/tally/stream.h"

/* A fight in the making: one desk, official for both corners and the clock. */
struct fight {
    struct fold *fold;
    int64_t seq;
    int64_t start; /* of the round, UTC */
    int round;
    enum stance stance[CORNER_COUNT];
};

static inline void fight_add(struct fight *fight, struct entry entry)
{
    const char *fault = entry_fault(&entry, 1);
    if (fault) {
        fail_msg("%s", fault);
    }
    assert_int_equal(fold_add(fight->fold, &entry), 0);
}

static inline struct fight fight_new(void)
{
    struct bout bout = test_bout();
    struct desk_row desk = test_desk("aaaa", 0);
    struct fight fight = {.fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL), .start = 1000};
    assert_non_null(fight.fold);
    assert_int_equal(fold_desk(fight.fold, &desk), 0);
    for (int code = CODE_RED; code <= CODE_CLOCK; code++) {
        fight_add(&fight, test_official(0, ++fight.seq, 1, (enum entry_code)code));
    }
    return fight;
}

static inline void fight_clock(struct fight *fight, int32_t elapsed_ms, enum entry_code code)
{
    struct entry entry = test_entry(0, ++fight->seq, fight->start + elapsed_ms, ENTRY_CLOCK);
    entry.code = (uint8_t)code;
    entry.round = (uint8_t)fight->round;
    entry.elapsed_ms = elapsed_ms;
    fight_add(fight, entry);
}

/* Begins the next round; its clock runs from 0. */
static inline void fight_round(struct fight *fight)
{
    fight->round++;
    fight->start = 1000000 * fight->round;
    fight_clock(fight, 0, CODE_START);
}

/* A strike so many milliseconds into the round. */
static inline void fight_throw(struct fight *fight, int32_t at_ms, enum corner corner,
                               enum limb limb, enum target target, enum outcome outcome)
{
    struct entry entry =
        test_strike(0, ++fight->seq, fight->start + at_ms, corner, limb, target, outcome);
    entry.round = (uint8_t)fight->round;
    entry.elapsed_ms = at_ms;
    entry.strike.stance = (uint8_t)fight->stance[corner];
    fight_add(fight, entry);
}

/* The same with technique flags. */
static inline void fight_throw_as(struct fight *fight, int32_t at_ms, enum corner corner,
                                  enum limb limb, enum target target, uint8_t technique)
{
    struct entry entry =
        test_strike(0, ++fight->seq, fight->start + at_ms, corner, limb, target, OUTCOME_LANDED);
    entry.round = (uint8_t)fight->round;
    entry.elapsed_ms = at_ms;
    entry.strike.stance = (uint8_t)fight->stance[corner];
    entry.strike.technique = technique;
    fight_add(fight, entry);
}

static inline void fight_end(struct fight *fight)
{
    fold_free(fight->fold);
    fight->fold = NULL;
}

static inline struct stream fight_stream(const struct fight *fight)
{
    struct stream stream = {NULL, 0};
    struct error err = {0};
    assert_int_equal(stream_init(&stream, fight->fold, &err), 0);
    return stream;
}

#define JAB    LIMB_LEFT_HAND, TARGET_HEAD
#define CROSS  LIMB_RIGHT_HAND, TARGET_HEAD
#define LOW    LIMB_RIGHT_LEG, TARGET_LEG
#define BODY   LIMB_LEFT_LEG, TARGET_BODY
#define LANDED OUTCOME_LANDED
#define MISSED OUTCOME_ATTEMPTED

static inline int code_of(enum limb limb, enum target target)
{
    return limb * TARGET_COUNT + target;
}

#endif
