/* Whatever is changed in a record that is sealed is found and named: each byte of each value of
 * each row, by a program that minds neither triggers nor constraints; and bytes of the file itself.
 * RINGTALLY_BYTES=all tries every byte of the file. */
#include "../unit/log/sealed.h"

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

#define with_place(test) cmocka_unit_test_setup_teardown(test, place_set_up, place_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_place(verify__any_value_changed__is_found_and_named),
        with_place(verify__any_byte_of_the_file_changed__is_told_or_says_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
