/* Records that are whole say so, and whatever is changed in one that is sealed is found and named:
 * each byte of each value of each row, and bytes of the file itself. RINGTALLY_BYTES=all tries
 * every byte of the file. */
#include "support.h"

#include <inttypes.h>

#include "ringtally/log/chain.h"
#include "ringtally/log/portable.h"
#include "ringtally/log/verify.h"
#include "ringtally/tally/fold.h"

enum { COUNT = 24 };

static const struct clock_plan plan = {.rounds = 3, .round_ms = 180000, .rest_ms = 60000};

/* A database with a signed bout. */
struct sealed {
    struct place *place;
    struct bout bout;
    struct desk_row *desks;
    int desk_count;
};

static struct keypair test_keys(void)
{
    static const unsigned char seed[KEY_BYTES] = {7};
    struct keypair keys;
    keypair_of_seed(&keys, seed);
    return keys;
}

static void sign(struct log *log, const struct bout *bout, int64_t value, int64_t utc_ms,
                 const struct keypair *keys)
{
    struct error err = {0};
    struct desk_row *desks = NULL;
    int count = 0;
    struct desk_row visor = new_desk(log, bout->id, 0);
    assert_ok(log_desks(log, bout->id, &desks, &count, &err), err);
    struct entry entry = entry_of(count - 1, 1, utc_ms, ENTRY_SIGN);
    assert_int_equal(desks[count - 1].id, visor.id);
    entry.code = CODE_SIGN;
    entry.value = value;
    strcpy(entry.text, "Ute Visor");
    struct log_sign how = {bout->id, keys};
    assert_ok(log_append_surely(log, desks, count, &entry, 1, &how, &err), err);
    free(desks);
}

static struct sealed make_sealed(struct place *place, const struct keypair *keys)
{
    static struct entry entries[COUNT];
    struct sealed out = {.place = place};
    struct error err = {0};
    uint64_t seed = 5;
    int64_t ids[RANDOM_DESKS];
    struct log *log = log_with_card(place);
    out.bout = find_bout(log, "night-1/1");
    for (int i = 0; i < RANDOM_DESKS; i++) {
        ids[i] = new_desk(log, out.bout.id, i == 3 ? ids[1] : i == 4 ? ids[3] : 0).id;
    }
    assert_ok(log_desks(log, out.bout.id, &out.desks, &out.desk_count, &err), err);
    random_log(entries, COUNT, &seed);
    strcpy(entries[7].text, "späte Note");
    assert_ok(log_append(log, out.desks, entries, COUNT, &err), err);
    sign(log, &out.bout, COUNT, entries[COUNT - 1].utc_ms + 1000, keys);
    free(out.desks);
    assert_ok(log_desks(log, out.bout.id, &out.desks, &out.desk_count, &err), err);
    log_close(log);
    return out;
}

/* What `ringtally verify` says of the bout: false, and why. A record that cannot be read is not
 * whole. */
static bool is_whole(struct log *log, const char *ref, char *why, size_t size,
                     struct verified *found)
{
    struct buf faults = BUF_INIT;
    struct error err = {0};
    struct fold *fold = NULL;
    struct bout bout;
    int code = log_bout_find(log, ref, &bout, &err);
    code = code ? code : log_fold(log, &bout, &plan, FOLD_OFFICIAL, &fold, &err);
    code = code ? code : verify_bout(log, &bout, fold, found, &faults, &err);
    if (!code && faults.size == 0) { /* it costs the most */
        code = verify_file(log, &faults, &err);
    }
    assert_false(faults.failed);
    bool whole = !code && faults.size == 0 && found->entries > 0;
    snprintf(why, size, "%s | %s", faults.size ? faults.text : "", err.text);
    fold_free(fold);
    buf_release(&faults);
    return whole;
}

static bool place_is_whole(const struct place *place, char *why, size_t size,
                           struct verified *found)
{
    struct log *log = NULL;
    struct error err = {0};
    if (log_open(&log, place->db, LOG_READ, NULL, &err)) {
        snprintf(why, size, "%s", err.text);
        return false;
    }
    bool whole = is_whole(log, "night-1/1", why, size, found);
    log_close(log);
    return whole;
}

static void assert_whole(const struct place *place, struct verified *found)
{
    char why[2000];
    if (!place_is_whole(place, why, sizeof why, found)) {
        fail_msg("%s", why);
    }
}

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

/* --- one value after the other --------------------------------------------------------------- */

/* What of a row is this database's own and says nothing of the record. */
static bool is_local(const char *table, const char *column)
{
    return (strcmp(table, "entry") == 0 && strcmp(column, "arrival") == 0) ||
           (strcmp(table, "card") == 0 && strcmp(column, "loaded") == 0) ||
           (strcmp(table, "seal") == 0 && strcmp(column, "id") == 0);
}

struct changer {
    sqlite3 *db;
    struct log *log;
    const char *table, *column, *keys; /* keys: "a = 1 AND b = 'x'" */
    const char *wanted;                /* what the words are to name; NULL: anything */
    int tried;
};

static void put(struct changer *changer, int type, const void *value, int64_t number, int size)
{
    char text[400];
    sqlite3_stmt *update = NULL;
    snprintf(text, sizeof text, "UPDATE %s SET %s = ?1 WHERE %s", changer->table, changer->column,
             changer->keys);
    assert_int_equal(sqlite3_prepare_v2(changer->db, text, -1, &update, NULL), SQLITE_OK);
    if (type == SQLITE_INTEGER) {
        sqlite3_bind_int64(update, 1, number);
    } else if (type == SQLITE_TEXT) {
        sqlite3_bind_text(update, 1, value, size, SQLITE_STATIC);
    } else if (type == SQLITE_BLOB) {
        sqlite3_bind_blob(update, 1, value, size, SQLITE_STATIC);
    }
    int result = sqlite3_step(update);
    sqlite3_finalize(update);
    if (result != SQLITE_DONE && result != SQLITE_CONSTRAINT) {
        fail_msg("%s: %s", text, sqlite3_errmsg(changer->db));
    }
}

/* It is found, and named. */
static void expect_found(struct changer *changer)
{
    char why[4000];
    struct verified found = {0};
    if (sqlite3_total_changes(changer->db) == changer->tried) {
        return; /* the tables themselves refused it */
    }
    changer->tried = sqlite3_total_changes(changer->db);
    if (is_whole(changer->log, "night-1/1", why, sizeof why, &found)) {
        fail_msg("%s.%s where %s: changed, and nobody noticed", changer->table, changer->column,
                 changer->keys);
    }
    if (changer->wanted && !strstr(why, changer->wanted)) {
        fail_msg("%s.%s where %s: \"%s\" is not named in: %s", changer->table, changer->column,
                 changer->keys, changer->wanted, why);
    }
}

static void change_value(struct changer *changer, sqlite3_stmt *row, int column)
{
    int type = sqlite3_column_type(row, column), size = sqlite3_column_bytes(row, column);
    int64_t number = sqlite3_column_int64(row, column);
    const void *held = type == SQLITE_INTEGER ? NULL : sqlite3_column_blob(row, column);
    unsigned char *bytes = malloc((size_t)size + 1);
    assert_non_null(bytes);
    memcpy(bytes, held ? held : "", held ? (size_t)size : 0);
    bytes[size] = '\0';
    if (type == SQLITE_INTEGER) {
        for (int bit = 0; bit < 64; bit += bit < 3 ? 1 : 20) {
            put(changer, type, NULL, (int64_t)((uint64_t)number ^ UINT64_C(1) << bit), 0);
            expect_found(changer);
        }
    }
    for (int i = 0; i < size && type != SQLITE_INTEGER; i++) {
        bytes[i] ^= i % 2 ? 0x20 : 0x01;
        put(changer, type, bytes, 0, size);
        expect_found(changer);
        bytes[i] ^= i % 2 ? 0x20 : 0x01;
    }
    if (type == SQLITE_TEXT && size > 0) { /* an end cut off, and one put to it */
        put(changer, type, bytes, 0, size - 1);
        expect_found(changer);
    }
    if (type == SQLITE_TEXT) {
        char *longer = sqlite3_mprintf("%s ", bytes);
        put(changer, type, longer, 0, size + 1);
        expect_found(changer);
        sqlite3_free(longer);
    }
    put(changer, type == SQLITE_NULL ? SQLITE_TEXT : SQLITE_NULL, "red", 0, 3);
    expect_found(changer);
    put(changer, type, bytes, number, size);
    changer->tried = sqlite3_total_changes(changer->db);
    free(bytes);
}

/* All values of the table's rows that belong to the bout. */
static int change_table(struct changer *changer, const char *table, const char *where,
                        const char *keys, const char *wanted)
{
    char text[600];
    sqlite3_stmt *row = NULL;
    int values = 0;
    changer->table = table;
    snprintf(text, sizeof text, "SELECT %s, %s, * FROM %s WHERE %s", keys, wanted, table, where);
    char(*rows)[2][200] = calloc(200, sizeof *rows);
    int count = 0;
    assert_non_null(rows);
    assert_int_equal(sqlite3_prepare_v2(changer->db, text, -1, &row, NULL), SQLITE_OK);
    while (sqlite3_step(row) == SQLITE_ROW && count < 200) {
        for (int i = 0; i < 2; i++) {
            const char *word = (const char *)sqlite3_column_text(row, i);
            snprintf(rows[count][i], sizeof rows[count][i], "%s", word ? word : "");
        }
        count++;
    }
    sqlite3_finalize(row);
    for (int i = 0; i < count; i++) {
        changer->keys = rows[i][0];
        changer->wanted = rows[i][1][0] ? rows[i][1] : NULL;
        snprintf(text, sizeof text, "SELECT * FROM %s WHERE %s", table, changer->keys);
        for (int column = 0;; column++) {
            assert_int_equal(sqlite3_prepare_v2(changer->db, text, -1, &row, NULL), SQLITE_OK);
            assert_int_equal(sqlite3_step(row), SQLITE_ROW);
            if (column >= sqlite3_column_count(row)) {
                break;
            }
            char *name = sqlite3_mprintf("%s", sqlite3_column_name(row, column));
            bool key = strstr(changer->keys, name) != NULL; /* the row would not be found again */
            changer->column = name;
            if (!is_local(table, name) && !key && strcmp(name, "id") != 0 &&
                !(strcmp(table, "bout") == 0 && strcmp(name, "name") == 0)) {
                change_value(changer, row, column);
                values++;
            }
            sqlite3_finalize(row);
            sqlite3_free(name);
        }
        sqlite3_finalize(row);
    }
    free(rows);
    return values;
}

static void verify__any_value_changed__is_found_and_named(void **state)
{
    struct keypair keys = test_keys();
    struct sealed sealed = make_sealed(*state, &keys);
    struct error err = {0};
    struct changer changer = {0};
    int off = 0;
    struct verified found;
    assert_int_equal(sqlite3_open(sealed.place->db, &changer.db), SQLITE_OK);
    /* Whoever changes a database by hand minds neither triggers nor constraints. */
    sqlite3_db_config(changer.db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, &off);
    sqlite3_exec(changer.db,
                 "PRAGMA synchronous = OFF; PRAGMA foreign_keys = OFF; "
                 "PRAGMA ignore_check_constraints = ON",
                 NULL, NULL, NULL);
    assert_ok(log_open(&changer.log, sealed.place->db, LOG_READ, NULL, &err), err);
    /* Rows are found again by these; the words must name the desk (entries and desks). */
    int values = change_table(&changer, "entry", "1", "'arrival = ' || arrival",
                              "(SELECT substr(uid, 1, 8) FROM desk WHERE id = entry.desk)");
    assert_true(values > COUNT * 25);
    assert_true(change_table(&changer, "desk", "bout = 1", "'id = ' || id", "''") >= 6 * 7);
    assert_true(change_table(&changer, "seal", "1", "'id = ' || id", "''") == 4);
    assert_true(change_table(&changer, "bout", "id = 1", "'id = ' || id", "''") == 7);
    assert_true(change_table(&changer, "card", "1", "'id = ''' || id || ''''", "''") == 3);
    assert_true(change_table(&changer, "corner", "bout = 1",
                             "'bout = 1 AND corner = ''' || corner || ''''",
                             "corner || '.'") == 2 * 5);
    assert_true(change_table(&changer, "judge", "bout = 1", "'bout = 1 AND seat = ' || seat",
                             "'judge.' || seat") == 3);
    log_close(changer.log);
    sqlite3_close(changer.db);
    assert_whole(*state, &found); /* all was put back */
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

/* --- bytes of the file ------------------------------------------------------------------------ */

/* All that the database says of the signed bout, as one text; NULL: it cannot be read. */
static char *content_of(const char *path)
{
    static const char *const lists[] = {
        "SELECT id, title, date, venue FROM card ORDER BY id",
        "SELECT id, card, number, weight, rules, rounds, terms, referee FROM bout WHERE id = 1",
        "SELECT * FROM corner WHERE bout = 1 ORDER BY corner",
        "SELECT * FROM judge WHERE bout = 1 ORDER BY seat",
        "SELECT * FROM desk WHERE bout = 1 ORDER BY id",
        "SELECT desk, seq, utc_ms, at_ms, kind, act, code, subject_desk, subject_seq, undoes_desk, "
        "undoes_seq, round, elapsed_ms, off_clock, review, accepted, unsure, corner, limb, target, "
        "stance, position, outcome, spinning, jumping, knockdown, value, text, prior FROM entry "
        "ORDER BY desk, seq",
        "SELECT bout, statement, digest, signature FROM seal ORDER BY statement",
    };
    sqlite3 *db = NULL;
    sqlite3_str *text = sqlite3_str_new(NULL);
    bool read = sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL) == SQLITE_OK;
    for (size_t i = 0; i < sizeof lists / sizeof *lists && read; i++) {
        sqlite3_stmt *row = NULL;
        read = sqlite3_prepare_v2(db, lists[i], -1, &row, NULL) == SQLITE_OK;
        int result = SQLITE_DONE;
        while (read && (result = sqlite3_step(row)) == SQLITE_ROW) {
            for (int column = 0; column < sqlite3_column_count(row); column++) {
                const unsigned char *bytes = sqlite3_column_blob(row, column);
                int size = sqlite3_column_bytes(row, column);
                sqlite3_str_appendf(text, "|%d:", sqlite3_column_type(row, column));
                for (int at = 0; at < size; at++) {
                    sqlite3_str_appendf(text, "%02x", bytes[at]);
                }
            }
        }
        read = read && result == SQLITE_DONE;
        sqlite3_finalize(row);
    }
    sqlite3_close(db);
    char *out = sqlite3_str_finish(text);
    if (!read) {
        sqlite3_free(out);
        out = NULL;
    }
    return out;
}

/* Either it is told, or all that the database says of the bout is what it was. */
static bool byte_is_told(const struct place *place, const char *bytes, size_t size, size_t at,
                         const char *content)
{
    char why[4000];
    struct verified found = {0};
    struct error err = {0};
    assert_ok(file_write(place->db, bytes, size, &err), err);
    if (!place_is_whole(place, why, sizeof why, &found)) {
        assert_true(strlen(why) > 3);
        return true;
    }
    char *now = content_of(place->db);
    if (!now || strcmp(now, content) != 0) {
        fail_msg("byte %zu changed what is said, and nobody noticed", at);
    }
    sqlite3_free(now);
    return false;
}

static void verify__any_byte_of_the_file_changed__is_told_or_says_nothing(void **state)
{
    const char *how = getenv("RINGTALLY_BYTES");
    bool all = how && strcmp(how, "all") == 0;
    struct keypair keys = test_keys();
    struct sealed sealed = make_sealed(*state, &keys);
    char *bytes = NULL;
    size_t size = 0;
    uint64_t seed = 3;
    int told = 0, tried = 0;
    struct error err = {0};
    assert_int_equal(sql_try(sealed.place->db, "PRAGMA journal_mode = DELETE"), SQLITE_OK);
    assert_ok(file_read(&bytes, &size, sealed.place->db, &err), err);
    char *content = content_of(sealed.place->db);
    assert_non_null(content);
    for (size_t at = 0; at < size; at += all ? 1 : 1 + roll(&seed, 240)) {
        char was = bytes[at];
        bytes[at] = (char)(was ^ (1 << roll(&seed, 8)));
        told += byte_is_told(sealed.place, bytes, size, at, content);
        tried++;
        bytes[at] = was;
    }
    /* Much of a file is free, or views and indexes. */
    print_message("%d bytes of %zu changed: %d told, %d say nothing\n", tried, size, told,
                  tried - told);
    assert_true(told > tried / 10);
    sqlite3_free(content);
    free(bytes);
    free(sealed.desks);
}

/* --- chains elsewhere ------------------------------------------------------------------------- */

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
        with_place(verify__any_value_changed__is_found_and_named),
        cmocka_unit_test(verify__rows_gone_or_new__are_named),
        with_place(verify__any_byte_of_the_file_changed__is_told_or_says_nothing),
        with_place(verify__entries_out_of_order__are_missing_and_then_whole),
        with_place(verify__late_entries_and_a_reopening__are_no_fault),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
