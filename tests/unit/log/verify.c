/* Records that are whole say so; what is gone, late or out of order is named as just that. What is
 * changed: tests/fault/fault_tamper.c. */
#include "sealed.h"

#include "ringtally/log/chain.h"
#include "ringtally/log/portable.h"

static void verify__signed_bout__is_whole_and_says_with_what_it_is_sealed(void **state)
{
    struct verified found;
    struct keypair keys = test_keys();
    struct sealed sealed = make_sealed(*state, &keys);
    assert_whole(*state, &found);
    assert_int_equal(found.entries, COUNT + 1);
    assert_int_equal(found.desks, RANDOM_DESKS + 1);
    assert_int_equal(found.unchained, 0);
    assert_int_equal(found.since, 0);
    assert_int_equal(found.seal.kind, SEAL_KEYED);
    assert_false(found.seal.broken || found.made_later || found.views_differ);
    free(sealed.desks);
}

static void verify__no_key__is_sealed_all_the_same(void **state)
{
    struct verified found;
    struct sealed sealed = make_sealed(*state, NULL);
    assert_whole(*state, &found);
    assert_int_equal(found.seal.kind, SEAL_UNKEYED);
    assert_string_equal(found.seal.key, "");
    free(sealed.desks);
}

/* What is taken out or put in, by a program that minds no triggers. */
static void verify__rows_gone_or_new__are_named(void **state)
{
    static const struct {
        const char *change, *words;
    } cases[] = {
        {"DELETE FROM entry WHERE desk = 2 AND seq = 3", "entry 3 of tagger-2"},
        {"DELETE FROM entry WHERE desk = 2 AND seq BETWEEN 3 AND 5", "entries 3-5 of tagger-2"},
        {"DELETE FROM entry WHERE desk = 2 AND seq >= (SELECT max(seq) FROM entry WHERE desk = 2)",
         "1 of "},
        {"DELETE FROM seal", "the seal of its signature is gone"},
        {"UPDATE seal SET signature = NULL", "a seal's signature is gone"},
        {"DELETE FROM judge WHERE seat = 2", "a judge or a corner that was sealed is gone"},
        {"INSERT INTO judge VALUES (1, 4, 'Fourth')", "judge.4 is \"Fourth\""},
        {"DELETE FROM desk WHERE id = 5", "sealed"},
        {"DELETE FROM entry WHERE kind = 'sign'", "sealed entries"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        void *made = NULL;
        char why[4000];
        struct verified found;
        sqlite3 *db = NULL;
        int off = 0;
        struct keypair keys = test_keys();
        assert_int_equal(place_set_up(&made), 0);
        struct sealed sealed = make_sealed(made, &keys);
        assert_int_equal(sqlite3_open(sealed.place->db, &db), SQLITE_OK);
        sqlite3_db_config(db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, &off);
        assert_int_equal(sqlite3_exec(db, cases[i].change, NULL, NULL, NULL), SQLITE_OK);
        assert_true(sqlite3_changes(db) > 0);
        sqlite3_close(db);
        assert_false(place_is_whole(made, why, sizeof why, &found));
        if (!strstr(why, cases[i].words)) {
            fail_msg("%s: %s", cases[i].change, why);
        }
        free(sealed.desks);
        assert_int_equal(place_tear_down(&made), 0);
    }
}

static void verify__entries_out_of_order__are_missing_and_then_whole(void **state)
{
    struct place *place = *state;
    struct error err = {0};
    struct buf parts[2] = {BUF_INIT, BUF_INIT};
    static struct entry entries[COUNT];
    struct card card = card_of(TEST_CARD);
    struct desk_row desk = {.uid = "00112233445566778899aabbccddeeff",
                            .operator_ = "tagger",
                            .name = "tagger",
                            .corners = 3,
                            .opened_ms = 1000};
    struct verified found;
    char why[2000];
    size_t added = 0;
    struct bout bout = card.bout[0];
    for (int i = 0; i < COUNT; i++) {
        entries[i] = entry_of(0, i + 1, 1700000000000 + i, ENTRY_NOTE);
        snprintf(entries[i].text, sizeof entries[i].text, "note %d", i);
    }
    /* As a rescue file has them: with the digests of all that went before. */
    assert_ok(chain_fill(&bout, &desk, 1, entries, COUNT, &err), err);
    for (int i = 0; i < 2; i++) {
        struct portable portable = {
            &card, &bout, &desk, 1, i ? entries : entries + 20, i ? 20 : COUNT - 20, NULL, 0};
        assert_ok(portable_write(&parts[i], &portable, &err), err);
    }
    struct log *log = open_log(place, LOG_CREATE);
    assert_ok(portable_load(log, parts[0].text, parts[0].size, "newest", &added, &err), err);
    assert_false(place_is_whole(place, why, sizeof why, &found));
    assert_non_null(strstr(why, "entries 1-20 of tagger (desk 00112233) are not here"));
    assert_null(strstr(why, "is not what"));
    assert_ok(portable_load(log, parts[1].text, parts[1].size, "older", &added, &err), err);
    assert_whole(place, &found);
    assert_int_equal(found.entries, COUNT);
    assert_int_equal(found.unchained, 0);
    log_close(log);
    card_release(&card);
    buf_release(&parts[0]);
    buf_release(&parts[1]);
}

static void verify__late_entries_and_a_reopening__are_no_fault(void **state)
{
    struct keypair keys = test_keys();
    struct sealed sealed = make_sealed(*state, &keys);
    struct error err = {0};
    struct verified found;
    struct log *log = open_log(*state, LOG_WRITE);
    struct entry reopen = entry_of(RANDOM_DESKS, 2, 1800000000000, ENTRY_SIGN);
    reopen.code = CODE_REOPEN;
    assert_ok(log_append(log, sealed.desks, &reopen, 1, &err), err);
    assert_int_equal(sql_try(sealed.place->db, "UPDATE bout SET referee = 'Other Ref'"), SQLITE_OK);
    assert_whole(*state, &found); /* what is not signed may be put right */
    sign(log, &sealed.bout, COUNT + 2, 1800000001000, NULL);
    assert_whole(*state, &found);
    assert_int_equal(found.seal.kind, SEAL_UNKEYED);
    assert_int_equal(sql_try(sealed.place->db, "UPDATE bout SET referee = 'Third Ref'"), SQLITE_OK);
    char why[2000];
    assert_false(place_is_whole(*state, why, sizeof why, &found));
    assert_non_null(strstr(why, "referee is \"Third Ref\" and was sealed as \"Other Ref\""));
    log_close(log);
    free(sealed.desks);
}

#define with_place(test) cmocka_unit_test_setup_teardown(test, place_set_up, place_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_place(verify__signed_bout__is_whole_and_says_with_what_it_is_sealed),
        with_place(verify__no_key__is_sealed_all_the_same),
        cmocka_unit_test(verify__rows_gone_or_new__are_named),
        with_place(verify__entries_out_of_order__are_missing_and_then_whole),
        with_place(verify__late_entries_and_a_reopening__are_no_fault),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
