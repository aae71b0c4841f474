/* The totals that stand beside the agreement of two desks, against a plain count of each list. */
#include "../tally/support.h"

#include <stdlib.h>

#include "../stats/near.h"
#include "ringtally/insight/agree.h"

static uint32_t seed = 11;

static int pick(int below)
{
    seed = seed * 1664525u + 1013904223u;
    return (int)((seed >> 8) % (uint32_t)below);
}

static void made_up(struct align_strike *out, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        out[i] = (struct align_strike){.name = {0, (int64_t)i + 1},
                                       .strike = {.corner = (uint8_t)pick(CORNER_COUNT),
                                                  .limb = (uint8_t)(pick(4) * 2),
                                                  .target = (uint8_t)pick(TARGET_COUNT),
                                                  .outcome = (uint8_t)pick(3)},
                                       .round = 1,
                                       .elapsed_ms = 700 * (int32_t)i,
                                       .at_ms = 700 * (int64_t)i};
    }
}

/* Of these strikes: corner, limb and target (-1: any), landed or all. */
static int of(const struct align_strike *strikes, size_t count, int corner, int limb, int target,
              bool landed)
{
    int found = 0;
    for (size_t i = 0; i < count; i++) {
        const struct strike *strike = &strikes[i].strike;
        found += strike->corner == corner && (limb < 0 || strike->limb == limb) &&
                 (target < 0 || strike->target == target) &&
                 (!landed || strike->outcome == OUTCOME_LANDED);
    }
    return found;
}

static void totals__made_up__as_counted(void **state)
{
    (void)state;
    for (int turn = 0; turn < 12; turn++) {
        struct align_strike a[60], b[60];
        size_t n = turn ? (size_t)pick(60) : 0, m = turn > 1 ? (size_t)pick(60) : 0;
        struct align_options options = ALIGN_DEFAULTS;
        struct rules rules = {.rounds = 3};
        struct agree agree;
        int at = 0;
        made_up(a, n);
        made_up(b, m);
        assert_int_equal(agree_make(&agree, a, n, b, m, &options, &rules), 0);
        struct agree_cells cells[2] = {{0, 0, 0}, {0, 0, 0}};
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            for (int limb = -1; limb < LIMB_COUNT; limb++) {
                int has = of(a, n, corner, limb, -1, false) + of(b, m, corner, limb, -1, false);
                for (int landed = 0; landed < 2 && (limb < 0 || has > 0); landed++, at++) {
                    const struct agree_total *total = &agree.total[at];
                    assert_in_range(at, 0, agree.totals - 1);
                    assert_int_equal(total->corner, corner);
                    assert_int_equal(total->limb, limb);
                    assert_int_equal(total->landed, landed);
                    assert_int_equal(total->a, of(a, n, corner, limb, -1, landed));
                    assert_int_equal(total->b, of(b, m, corner, limb, -1, landed));
                    double middle = (total->a + total->b) / 2.0;
                    assert_int_equal(total->has_error, middle > 0);
                    if (middle > 0) { /* Hughes, Cooper, Nevill 2002: over the mean of the two */
                        assert_near(at, total->error, 100 * abs(total->a - total->b) / middle,
                                    1e-9);
                    }
                }
                for (int cell = 0; cell < 2 * TARGET_COUNT && limb >= 0; cell++) {
                    int one = of(a, n, corner, limb, cell / 2, cell % 2);
                    int other = of(b, m, corner, limb, cell / 2, cell % 2);
                    cells[cell % 2].used += one > 0 || other > 0;
                    cells[cell % 2].exact += (one > 0 || other > 0) && one == other;
                    cells[cell % 2].within_one += (one > 0 || other > 0) && abs(one - other) <= 1;
                }
            }
        }
        assert_int_equal(agree.totals, at);
        assert_memory_equal(&agree.attempted, &cells[0], sizeof cells[0]);
        assert_memory_equal(&agree.landed, &cells[1], sizeof cells[1]);
        agree_release(&agree);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(totals__made_up__as_counted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
