#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "ringtally/bout/entry.h"

/* Two entries that say the same, whatever lies between their members and behind their text. */
static void fill(struct entry *entry, int between)
{
    memset(entry, between, sizeof *entry);
    entry->name.desk = 1;
    entry->name.seq = 7;
    entry->subject.desk = 1;
    entry->subject.seq = 3;
    entry->undoes.desk = -1;
    entry->undoes.seq = 0;
    entry->utc_ms = 1000;
    entry->at_ms = 999;
    entry->kind = ENTRY_STRIKE;
    entry->act = ACT_AMEND;
    entry->code = CODE_NONE;
    entry->off_clock = entry->review = entry->accepted = entry->unsure = false;
    entry->round = 2;
    entry->elapsed_ms = 1500;
    entry->strike = (struct strike){.corner = CORNER_BLUE, .limb = LIMB_LEFT_LEG};
    entry->value = 0;
    strcpy(entry->text, "seen");
    memset(entry->prior, 9, sizeof entry->prior);
}

static void entry_equal__bytes_between_members__do_not_count(void **state)
{
    (void)state;
    struct entry a, b;
    fill(&a, 0);
    fill(&b, 0xa5);
    assert_true(entry_equal(&a, &b));
}

static void entry_equal__any_member_changed__is_another(void **state)
{
    (void)state;
    struct entry entry;
    fill(&entry, 0);
#define OTHER(change)                                                                              \
    do {                                                                                           \
        struct entry other = entry;                                                                \
        (change);                                                                                  \
        assert_false(entry_equal(&entry, &other));                                                 \
    } while (0)
    OTHER(other.name.desk = 0);
    OTHER(other.name.seq = 8);
    OTHER(other.subject.desk = 0);
    OTHER(other.subject.seq = 4);
    OTHER(other.undoes.desk = 1);
    OTHER(other.undoes.seq = 1);
    OTHER(other.utc_ms++);
    OTHER(other.at_ms++);
    OTHER(other.kind = ENTRY_NOTE);
    OTHER(other.act = ACT_VOID);
    OTHER(other.code = CODE_SIGN);
    OTHER(other.off_clock = true);
    OTHER(other.review = true);
    OTHER(other.accepted = true);
    OTHER(other.unsure = true);
    OTHER(other.round++);
    OTHER(other.elapsed_ms++);
    OTHER(other.strike.corner = CORNER_RED);
    OTHER(other.strike.limb = LIMB_RIGHT_LEG);
    OTHER(other.strike.target = TARGET_BODY);
    OTHER(other.strike.stance = STANCE_SOUTHPAW);
    OTHER(other.strike.position++);
    OTHER(other.strike.outcome++);
    OTHER(other.strike.technique = TECHNIQUE_KNOCKDOWN);
    OTHER(other.value = 1);
    OTHER(other.text[3] = 'm');
    OTHER(other.prior[31] = 8);
#undef OTHER
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(entry_equal__bytes_between_members__do_not_count),
        cmocka_unit_test(entry_equal__any_member_changed__is_another),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
