/* The agreement of desks on paper: no line wider than 80 columns whatever the desks say. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/base/text.h"
#include "ringtally/sheet/agree_sheet.h"

#define STRIKES 180

/* Every limb, in one round; `late` by the second desk. */
static size_t make(struct align_strike *out, int desk, int32_t late, int step, int turn)
{
    size_t count = 0;
    for (int i = 0; i < STRIKES; i += step) {
        int seen = i + (i % 7 == 3 ? turn : 0); /* some otherwise than the first desk */
        out[count++] = (struct align_strike){.name = {desk, 90000 + i},
                                             .strike = {.corner = (uint8_t)(i / 3 % 2),
                                                        .limb = (uint8_t)(seen % LIMB_COUNT),
                                                        .target = (uint8_t)(seen % TARGET_COUNT),
                                                        .outcome = (uint8_t)(seen % 2)},
                                             .round = 12,
                                             .elapsed_ms = 100000 + 900 * i + late,
                                             .at_ms = INT64_C(1800000000000) + 900 * i};
    }
    return count;
}

static void check_width(const char *text)
{
    char line[512];
    while (*text) {
        size_t length = strcspn(text, "\n");
        assert_true(length < sizeof line);
        memcpy(line, text, length);
        line[length] = '\0';
        if (text_width(line) > 80) {
            fail_msg("%d columns: %s", text_width(line), line);
        }
        text += length + (text[length] == '\n');
    }
}

/* Three desks with names as long as they may be, and every warning that there is. */
static void agree_sheet__all_limbs_and_warnings__in_80_columns(void **state)
{
    (void)state;
    static struct align_strike a[STRIKES], b[STRIKES], c[STRIKES];
    struct align_options options = ALIGN_DEFAULTS;
    struct rules rules = {.rounds = 12};
    struct bout bout = {.number = 10, .card = "a-card-with-a-long-name"};
    struct desk_row desks[3] = {
        {.corners = 3}, {.corners = 3, .root = 1, .shadow = true}, {.corners = 3, .root = 2}};
    const struct desk_row *rows[3] = {&desks[0], &desks[1], &desks[2]};
    struct agree pairs[2];
    struct agree_many many;
    struct buf out = BUF_INIT;
    struct error err = {0};
    memset(rules.targets, 7, sizeof rules.targets);
    for (int i = 0; i < CORNER_COUNT; i++) {
        snprintf(bout.fighter[i].name, sizeof bout.fighter[i].name, "%s",
                 "Wolfeschlegelsteinhausenbergerdorff the Younger");
    }
    for (int i = 0; i < 3; i++) {
        snprintf(desks[i].uid, sizeof desks[i].uid, "%032d", i);
        snprintf(desks[i].name, sizeof desks[i].name, "Bartholomäus Featherstonehaugh-%d", i);
    }
    size_t n = make(a, 0, 0, 1, 0), m = make(b, 1, -900, 1, 1), k = make(c, 2, 300, 3, 2);
    assert_int_equal(agree_make(&pairs[0], a, n, b, m, &options, &rules), 0);
    assert_int_equal(agree_make(&pairs[1], a, n, c, k, &options, &rules), 0);
    assert_int_equal(agree_many_make(&many, pairs, 2), 0);
    struct agree_sheet_view view = {.bout = &bout,
                                    .options = &options,
                                    .desk = rows,
                                    .all_desks = desks,
                                    .desks = 3,
                                    .pair = pairs,
                                    .many = &many};
    assert_int_equal(agree_sheet_table(&out, &view, &err), 0);
    check_width(out.text);
    assert_non_null(strstr(out.text, "R elbow")); /* all nine columns of limbs */
    assert_non_null(strstr(out.text, "ESTIMATED OVER ALL PAIRINGS (about"));
    assert_non_null(strstr(out.text, "WARNING: many strikes are one desk's alone"));
    assert_null(strstr(out.text, "nan"));

    /* Whatever is found, told as beyond telling; with figures as wide as they come. */
    pairs[0].warnings = (1 << AGREE_WARNINGS) - 1;
    pairs[0].align.expected = pairs[0].align.chance = pairs[0].align.wrong = 123456.7;
    pairs[0].align.jitter_ms = 12345.6;
    pairs[0].align.round[0].base = ALIGN_UTC;
    pairs[0].align.round[0].lateness_ms = -86400000;
    pairs[0].align.round[0].drift = -12345.6;
    out.size = 0;
    assert_int_equal(agree_sheet_table(&out, &view, &err), 0);
    check_width(out.text);
    assert_non_null(strstr(out.text, "may not show the same bout"));
    assert_non_null(strstr(out.text, "it cannot be told which strike is which"));
    assert_non_null(strstr(out.text, "at the limit of where it was looked for"));
    assert_non_null(strstr(out.text, "ESTIMATED OVER ALL PAIRINGS: nothing"));
    assert_non_null(strstr(out.text, "-86400.0 s"));
    buf_release(&out);
    agree_release(&pairs[0]);
    agree_release(&pairs[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(agree_sheet__all_limbs_and_warnings__in_80_columns),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
