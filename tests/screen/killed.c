/* killed.c: kill -9 at random moments in a burst of strikes. What the screen had shown as saved is
 * in the database, in order, without a ghost; and the desk opened again shows its totals. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "with_rig.h"

#define KILLS     200
#define BURST_MAX 20 /* fewer than the console takes for no hand's */

/* Of kickboxing, where every key of a burst is a strike; taken in turn, so that none grows long. */
static const int bouts[] = {1, 2, 7};

#define BOUTS   ((int)(sizeof bouts / sizeof *bouts))
#define LOG_MAX ((KILLS / BOUTS + 1) * BURST_MAX)

static uint64_t seed = 0x2545f4914f6cdd1d;

/* A number below `limit`: xorshift64, so that each run strikes alike. */
static int draw(int limit)
{
    seed ^= seed << 13;
    seed ^= seed >> 7;
    seed ^= seed << 17;
    return (int)(seed % (uint64_t)limit);
}

/* Strikes in which no key follows itself. */
static void draw_burst(char *out, int count)
{
    static const char keys[] = "qwertasdfgzvbQWERTASDFGZVByuiophjklnmYUIOPHJKLNM";
    for (int i = 0; i < count; i++) {
        do {
            out[i] = keys[draw((int)sizeof keys - 1)];
        } while (i > 0 && out[i] == out[i - 1]);
    }
    out[count] = '\0';
}

static long count_of(const struct rig *rig, const char *bout, char corner, const char *more)
{
    char sql[512];
    snprintf(sql, sizeof sql, "SELECT count(*) FROM strike WHERE bout = '%s' AND corner = '%s' %s",
             bout, corner == 'r' ? "red" : "blue", more);
    return rig_number(rig, sql);
}

static long entries_of(const struct rig *rig, const char *bout)
{
    char sql[512];
    snprintf(sql, sizeof sql,
             "SELECT count(*) FROM entry JOIN desk ON desk.id = entry.desk "
             "JOIN bout ON bout.id = desk.bout WHERE bout.name = '%s'",
             bout);
    return rig_number(rig, sql);
}

static void totals_are_those_logged(const struct rig *rig, struct vt *vt, const char *bout)
{
    static const char corners[] = "rb";
    for (int i = 0; i < 2; i++) {
        long attempted = count_of(rig, bout, corners[i], "");
        long landed = count_of(rig, bout, corners[i], "AND outcome = 'landed'");
        assert_true(rig_wait_total(vt, corners[i], landed, attempted));
    }
}

static void desk__killed_200_times__what_was_shown_as_saved_is_there(void **state)
{
    static char logged[BOUTS][LOG_MAX + 1];
    struct rig *rig = *state;
    int midway = 0;
    for (int i = 0; i < KILLS; i++) {
        char bout[64], burst[BURST_MAX + 1];
        char *log = logged[i % BOUTS];
        size_t before = strlen(log);
        snprintf(bout, sizeof bout, "saltglass-4/%d", bouts[i % BOUTS]);
        draw_burst(burst, 10 + draw(BURST_MAX - 9));

        struct vt *vt = rig_desk(rig, bout, NULL, NULL, RIG_READY);
        assert_non_null(vt);
        assert_true(rig_settled(vt) >= 0);
        totals_are_those_logged(rig, vt, bout);

        size_t typed = 0, deadly = (size_t)draw((int)strlen(burst)) + 1;
        while (typed < deadly) {
            size_t part = (size_t)draw(8) + 1;
            part = part < deadly - typed ? part : deadly - typed;
            vt_type_bytes(vt, burst + typed, part);
            typed += part;
            vt_pump(vt, draw(3));
        }
        int64_t moment = vt_now() + (int64_t)draw(4000) * 1000;
        while (vt_now() < moment) {
            vt_pump(vt, 0);
        }
        vt_kill(vt);

        long saved = 0, waiting = 0;
        assert_true(rig_saved(vt, &saved, &waiting));
        long kept = entries_of(rig, bout); /* of the bout, as the screen says it */
        if (kept < saved) {
            vt_print(vt, "shown as saved, and not in the database");
        }
        assert_true(kept >= saved);
        vt_close(vt);

        /* What is there is a beginning of what was typed. */
        strncat(log, burst, typed);
        char sql[256];
        snprintf(sql, sizeof sql,
                 "SELECT count(*) FROM entry JOIN desk ON desk.id = entry.desk JOIN bout ON "
                 "bout.id = desk.bout WHERE bout.name = '%s' AND kind = 'strike'",
                 bout);
        size_t strikes = (size_t)rig_number(rig, sql);
        assert_true(strikes >= before && strikes <= before + typed);
        log[strikes] = '\0';
        assert_true(rig_logged(rig, bout, log, strikes));
        midway += strikes < before + typed;
    }
    /* Most moments are of no use when all was saved, or none was, each time. */
    print_message("killed before all was saved: %d of %d\n", midway, KILLS);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM pragma_integrity_check "
                                     "WHERE integrity_check <> 'ok'"),
                     0);
    assert_true(midway > 0 && midway < KILLS);
}

static void desk__killed_with_the_clock_running__it_has_kept_running(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = rig_desk(rig, "7", NULL, NULL, RIG_READY);
    assert_non_null(vt);
    long own = rig_settled(vt);
    vt_press(vt, "Enter");
    vt_type(vt, "qW");
    assert_true(rig_wait_saved(vt, own + 3));
    vt_kill(vt);
    vt_close(vt);
    vt = rig_desk(rig, "7", NULL, NULL, RIG_READY);
    assert_non_null(vt);
    assert_true(vt_wait_text(vt, "kept running", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 1, 2));
    vt_type(vt, "e"); /* on the clock: it runs */
    assert_true(rig_wait_total(vt, 'r', 1, 3));
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM strike WHERE off_clock"), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(desk__killed_200_times__what_was_shown_as_saved_is_there,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(desk__killed_with_the_clock_running__it_has_kept_running,
                                        set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
