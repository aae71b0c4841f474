/* Whatever is changed in a record that is sealed is found and named: each byte of each value of
 * each row, by a program that minds neither triggers nor constraints. (Bytes of the file itself:
 * tests/outside/check_tamper.py.) */
#include "../unit/log/sealed.h"

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

#define with_place(test) cmocka_unit_test_setup_teardown(test, place_set_up, place_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_place(verify__any_value_changed__is_found_and_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
