/* support.h: builds small logs for the tests of folding. */
#ifndef TALLY_SUPPORT_H
#define TALLY_SUPPORT_H

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdio.h>
#include <string.h>

#include "ringtally/tally/fold.h"

static const struct clock_plan test_plan = {
    .rounds = 3,
    .extension_rounds = 1,
    .round_ms = 180000,
    .extension_ms = 120000,
    .rest_ms = 60000,
};

static inline struct bout test_bout(void)
{
    struct bout bout = {.number = 1, .card = "test"};
    bout.fighter[CORNER_BLUE].stance = STANCE_SOUTHPAW;
    return bout;
}

static inline struct desk_row test_desk(const char *uid, int root)
{
    struct desk_row row = {.root = root, .corners = 3};
    snprintf(row.uid, sizeof row.uid, "%s", uid);
    snprintf(row.name, sizeof row.name, "%s", uid);
    return row;
}

static inline struct entry test_entry(int desk, int64_t seq, int64_t utc_ms, enum entry_kind kind)
{
    return (struct entry){
        .name = {desk, seq},
        .subject = {desk, seq},
        .undoes = ENTRY_NONE,
        .utc_ms = utc_ms,
        .at_ms = utc_ms,
        .kind = (uint8_t)kind,
        .round = 1,
    };
}

static inline struct entry test_official(int desk, int64_t seq, int64_t utc_ms,
                                         enum entry_code code)
{
    struct entry entry = test_entry(desk, seq, utc_ms, ENTRY_OFFICIAL);
    entry.code = (uint8_t)code;
    return entry;
}

static inline struct entry test_strike(int desk, int64_t seq, int64_t utc_ms, enum corner corner,
                                       enum limb limb, enum target target, enum outcome outcome)
{
    struct entry entry = test_entry(desk, seq, utc_ms, ENTRY_STRIKE);
    entry.strike = (struct strike){.corner = (uint8_t)corner,
                                   .limb = (uint8_t)limb,
                                   .target = (uint8_t)target,
                                   .outcome = (uint8_t)outcome};
    return entry;
}

/* A change of `before` by (desk, seq). */
static inline struct entry test_change(struct entry before, int desk, int64_t seq, int64_t utc_ms,
                                       enum entry_act act)
{
    before.name = (struct entry_name){desk, seq};
    before.utc_ms = utc_ms;
    before.act = (uint8_t)act;
    return before;
}

#endif
