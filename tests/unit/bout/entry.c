/* entry.c: what is no entry: each field at the ends of its range, and one step beyond. All that
 * comes from elsewhere (merge, import, a hub, another program in the database) is held against
 * this. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/bout/entry.h"

#define DESKS 2

static struct entry sound(void)
{
    return (struct entry){.name = {1, 7},
                          .subject = {1, 7},
                          .undoes = ENTRY_NONE,
                          .utc_ms = 1700000000000,
                          .at_ms = 1700000000000,
                          .kind = ENTRY_STRIKE,
                          .round = 1};
}

static struct entry of_code(enum entry_kind kind, enum entry_code code)
{
    struct entry entry = sound();
    entry.kind = (uint8_t)kind;
    entry.code = (uint8_t)code;
    return entry;
}

/* The entry that `change` makes of a sound one is refused for that reason; NULL: it is sound. */
#define expect(change, reason)                                                                     \
    do {                                                                                           \
        struct entry e = sound();                                                                  \
        change;                                                                                    \
        const char *why = entry_fault(&e, DESKS);                                                  \
        const char *wanted = (reason);                                                             \
        if (!why != !wanted || (why && !strstr(why, wanted))) {                                    \
            fail_msg("%s: %s, expected %s", #change, why ? why : "sound",                          \
                     wanted ? wanted : "sound");                                                   \
        }                                                                                          \
    } while (0)

static void entry_fault__numbers__to_the_end_of_their_range_and_no_further(void **state)
{
    (void)state;
    expect(e.elapsed_ms = 0, NULL);
    expect(e.elapsed_ms = 3600000, NULL);
    expect(e.elapsed_ms = -1, "round clock");
    expect(e.elapsed_ms = 3600001, "round clock");
    expect(e.round = ROUND_MAX, NULL);
    expect(e.round = 0, "round");
    expect(e.round = ROUND_MAX + 1, "round");
    expect(e.utc_ms = 0, NULL);
    expect(e.utc_ms = MOMENT_MAX, NULL);
    expect(e.utc_ms = -1, "moment");
    expect(e.utc_ms = MOMENT_MAX + 1, "moment");
    expect(e.at_ms = 0, NULL);
    expect(e.at_ms = MOMENT_MAX, NULL);
    expect(e.at_ms = -1, "moment");
    expect(e.at_ms = MOMENT_MAX + 1, "moment");
    expect(e.value = INT32_MAX, NULL);
    expect(e.value = INT32_MIN, NULL);
    expect(e.value = INT64_C(1) + INT32_MAX, "value");
    expect(e.value = INT64_C(-1) + INT32_MIN, "value");
    expect((e = of_code(ENTRY_INCIDENT, CODE_DEDUCTION), e.value = 99), NULL);
    expect((e = of_code(ENTRY_INCIDENT, CODE_DEDUCTION), e.value = 0), NULL);
    expect((e = of_code(ENTRY_INCIDENT, CODE_DEDUCTION), e.value = 100), "value");
    expect((e = of_code(ENTRY_INCIDENT, CODE_DEDUCTION), e.value = -1), "value");
    expect((e = of_code(ENTRY_CLOCK, CODE_JUMP), e.value = -MOMENT_MAX), NULL);
    expect((e = of_code(ENTRY_CLOCK, CODE_JUMP), e.value = MOMENT_MAX), NULL);
    expect((e = of_code(ENTRY_CLOCK, CODE_JUMP), e.value = MOMENT_MAX + 1), "value");
    expect((e = of_code(ENTRY_CLOCK, CODE_JUMP), e.value = -MOMENT_MAX - 1), "value");
}

static void entry_fault__names__are_of_desks_that_there_are(void **state)
{
    (void)state;
    expect((e.name.desk = e.subject.desk = 0), NULL);
    expect((e.name.desk = e.subject.desk = -1), "name");
    expect((e.name.desk = e.subject.desk = DESKS), "name");
    expect((e.name.seq = e.subject.seq = 1), NULL);
    expect((e.name.seq = e.subject.seq = 0), "name");
    expect((e.act = ACT_AMEND, e.subject = (struct entry_name){0, 1}), NULL);
    expect((e.act = ACT_AMEND, e.subject = (struct entry_name){DESKS, 1}), "subject");
    expect((e.act = ACT_AMEND, e.subject = (struct entry_name){-1, 1}), "subject");
    expect((e.act = ACT_AMEND, e.subject = (struct entry_name){0, 0}), "subject");
    expect(e.act = ACT_AMEND, "contradict");                       /* about itself */
    expect(e.subject = ((struct entry_name){0, 1}), "contradict"); /* new, and about another */
    expect(e.undoes = ((struct entry_name){1, 3}), NULL);
    expect(e.undoes = ((struct entry_name){DESKS, 3}), "undoes");
}

static void entry_fault__words__are_known_and_fit_each_other(void **state)
{
    (void)state;
    expect(e.kind = ENTRY_KIND_COUNT, "unknown");
    expect(e.act = ACT_COUNT, "unknown");
    expect(e.code = CODE_ALL, "unknown");
    expect(e.code = CODE_DEDUCTION, "does not belong");
    expect(e = of_code(ENTRY_CLOCK, CODE_START), NULL);
    expect(e = of_code(ENTRY_CLOCK, CODE_DEDUCTION), "does not belong");
    expect(e = of_code(ENTRY_CLOCK, CODE_NONE), "does not belong");
    expect(e = of_code(ENTRY_SCORE, CODE_NONE), NULL);
    expect(e = of_code(ENTRY_SCORE, CODE_SIGN), "does not belong");
    expect(e = of_code(ENTRY_SIGN, CODE_SIGN), NULL);
    expect(e.strike.corner = CORNER_COUNT, "no such strike");
    expect(e.strike.limb = LIMB_COUNT, "no such strike");
    expect(e.strike.target = TARGET_COUNT, "no such strike");
    expect(e.strike.stance = STANCE_COUNT, "no such strike");
    expect(e.strike.position = POSITION_COUNT, "no such strike");
    expect(e.strike.outcome = OUTCOME_COUNT, "no such strike");
    expect(e.strike.technique = TECHNIQUE_SPINNING | TECHNIQUE_JUMPING, NULL);
    expect(e.strike.technique = TECHNIQUE_KNOCKDOWN, "no such strike"); /* it did not land */
    expect((e.strike.technique = TECHNIQUE_KNOCKDOWN, e.strike.outcome = OUTCOME_LANDED), NULL);
    expect(memset(e.text, 'x', sizeof e.text), "text too long");
    expect(memset(e.text, 'x', sizeof e.text - 1), NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(entry_fault__numbers__to_the_end_of_their_range_and_no_further),
        cmocka_unit_test(entry_fault__names__are_of_desks_that_there_are),
        cmocka_unit_test(entry_fault__words__are_known_and_fit_each_other),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
